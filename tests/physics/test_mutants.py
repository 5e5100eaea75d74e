"""The runner that changes one number at a time finds the numbers, changes what it says, and knows no stale excuse."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from types import ModuleType

import mutants
import pytest

ROOT = Path(__file__).parents[2]
MODULES = mutants.module_names()


def run(text):
    """Return a module made from changed text."""
    module = ModuleType("changed")
    exec(compile(text, "changed", "exec"), module.__dict__)  # noqa: S102 - our own source
    return module


def test_the_runner_finds_hundreds_of_numbers_and_signs():
    assert len(mutants.all_mutants(MODULES)) > 400
    assert len(mutants.all_mutants(MODULES, swap=True)) > 300


def test_a_changed_number_gives_another_answer():
    change = next(one for one in mutants.numbers("ducts.sections") if one.found == "1.30")
    plain = run(mutants.path_of("ducts.sections").read_text(encoding="utf-8"))
    assert run(change.source()).equivalent_diameter(0.35, 0.2) == pytest.approx(
        1.03 * plain.equivalent_diameter(0.35, 0.2)
    )


def test_a_swapped_sign_gives_another_answer():
    change = next(
        one for one in mutants.operators("ventilation.dilution") if one.text.strip() == "return volume / flow"
    )
    assert run(change.source()).turnover_time(6.0, 2.0) == 12.0


def test_every_change_can_be_read_by_python():
    for swap in (False, True):
        for one in mutants.all_mutants(MODULES, swap=swap):
            assert compile(one.source(), str(one), "exec").co_code, str(one)


def test_every_excuse_belongs_to_a_change_that_exists():
    keys = {one.key for swap in (False, True) for one in mutants.all_mutants(MODULES, swap=swap)}
    stale = set(mutants.EQUIVALENT) - keys
    assert not stale, stale
    assert all(len(reason) > 20 for reason in mutants.EQUIVALENT.values())


@pytest.mark.slow
def test_the_verb_notices_a_change_in_the_heat_of_air():
    """The whole of one small module, each change in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.physics.mutants", "--only", "ducts.heat"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 unnoticed" in done.stdout
