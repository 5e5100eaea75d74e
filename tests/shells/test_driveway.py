"""A survey and gauge readings alone, as from the driveway: no log, and yet an answer."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from airtally.cli import main
from airtally.demo import write_demo


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of the demo house before any logger was read."""
    folder = tmp_path_factory.mktemp("driveway")
    write_demo(folder)
    shutil.rmtree(folder / "logs")
    return folder


def test_pressures_are_answered_without_any_log(house: Path) -> None:
    shown = CliRunner().invoke(main, ["pressures", str(house), "--json"])
    assert shown.exit_code == 0, shown.output
    part = json.loads(shown.output[shown.output.index("{") :])
    for key in ("static_budget", "worst_cases", "rooms", "answers", "draft_courses", "hookup_drawing"):
        assert part[key], key
    words = CliRunner().invoke(main, ["pressures", str(house)])
    assert "not tested with a fire" in words.output
    assert "inH2O" in words.output


def test_proposals_without_any_log_say_what_they_rest_on(house: Path) -> None:
    shown = CliRunner().invoke(main, ["proposals", str(house)])
    assert shown.exit_code == 0, shown.output
    assert "bypass" in shown.output.lower()


def test_without_logs_no_fit_and_no_plotting_is_loaded(house: Path) -> None:
    code = (
        "import sys\nfrom airtally.cli import main\n"
        f"sys.argv = ['airtally', 'pressures', {str(house)!r}]\n"
        "try:\n    main()\nexcept SystemExit as end:\n    assert not end.code\n"
        "heavy = [m for m in sys.modules if m.startswith(('airtally.inference', 'matplotlib', 'scipy.optimize'))]\n"
        "assert not heavy, heavy\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)  # noqa: S603
    assert done.returncode == 0, done.stderr
