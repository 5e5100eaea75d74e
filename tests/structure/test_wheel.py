"""The wheel: it holds every file of the package, and works from where no source lies."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from importlib.util import find_spec
from pathlib import Path

import pytest

from .source import PACKAGE, ROOT, assert_none

LEFT_OUT = {".pyc", ".nbc", ".nbi"}

SMOKE = """
import json, tomllib
from importlib.resources import files
package = files("airtally")
json.loads(package.joinpath("record/schema.json").read_text(encoding="utf-8"))
tables = [p for p in package.joinpath("limits/data").iterdir() if p.name.endswith(".toml")]
for table in tables:
    tomllib.loads(table.read_text(encoding="utf-8"))
fonts = [p for p in package.joinpath("report/fonts").iterdir() if p.name.endswith(".ttf")]
from airtally.record.checks import published_schema
published_schema()
import airtally
print(len(tables), len(fonts), airtally.__file__)
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel; with the build backend at hand no network is needed."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--disable-pip-version-check"]
    command += ["--no-build-isolation"] if find_spec("hatchling") else []
    done = subprocess.run([*command, "--wheel-dir", folder, ROOT], capture_output=True, text=True, check=False)  # noqa: S603
    assert done.returncode == 0, done.stderr[-3000:]
    (built,) = folder.glob("airtally-*.whl")
    return built


@pytest.mark.slow
def test_the_wheel_holds_every_file_of_the_package_and_its_licences(wheel: Path) -> None:
    inside = set(zipfile.ZipFile(wheel).namelist())
    wanted = {
        "airtally/" + path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*")
        if path.is_file() and path.suffix not in LEFT_OUT
    }
    assert {"airtally/record/schema.json", "airtally/report/typst/shared.typ", "airtally/py.typed"} <= wanted
    assert_none(sorted(wanted - inside))
    licences = {name.rpartition("/")[2] for name in inside if ".dist-info/licenses/" in name}
    assert licences == {"LICENSE", "NOTICE"}


@pytest.mark.slow
def test_what_the_wheel_holds_can_be_used_without_the_source(wheel: Path, tmp_path: Path) -> None:
    zipfile.ZipFile(wheel).extractall(tmp_path)
    program = f"import sys; sys.path.insert(0, {str(tmp_path)!r})\n{SMOKE}"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False, cwd=tmp_path)  # noqa: S603
    assert done.returncode == 0, done.stderr[-3000:]
    tables, fonts, home = done.stdout.split()
    assert int(tables) >= 5
    assert int(fonts) >= 4
    assert Path(home).is_relative_to(tmp_path)
