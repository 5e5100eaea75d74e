"""Imports: the floors hold, and asking for help loads none of the heavy libraries."""

from __future__ import annotations

import ast
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from .source import PACKAGE, ROOT, assert_none, modules

HEAVY = ("numpy", "scipy", "numba", "pint", "pydantic", "matplotlib", "typst", "rich", "sqlalchemy", "tomlkit")
SHELL = PACKAGE / "cli" / "__init__.py"


def layers() -> set[str]:
    """Return the rooms that the import contract names."""
    config = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    floors = config["tool"]["importlinter"]["contracts"][0]["layers"]
    return {room.strip() for floor in floors for room in floor.split("|")}


def test_every_room_stands_on_a_floor_of_the_contract() -> None:
    rooms = {m.room for m in modules() if m.room}
    assert_none(sorted(rooms - layers()))


def test_the_import_contract_holds() -> None:
    missing = sorted(
        room for room in layers() if not (PACKAGE / room).exists() and not (PACKAGE / f"{room}.py").exists()
    )
    if missing:
        pytest.skip(f"rooms of the contract not written yet: {', '.join(missing)}")
    linter = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([linter, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)  # noqa: S603
    assert done.returncode == 0, done.stdout[-3000:]


def test_no_module_imports_another_by_a_relative_name() -> None:
    relative = [m.at(n) for m in modules() for n in ast.walk(m.tree) if isinstance(n, ast.ImportFrom) and n.level]
    assert_none(relative)


def test_help_loads_no_heavy_library() -> None:
    if not SHELL.exists():
        pytest.skip("the shell is not written yet")
    program = "import sys, airtally.cli; print(*(set(sys.argv[1:]) & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", program, *HEAVY], capture_output=True, text=True, check=True)  # noqa: S603
    assert done.stdout.split() == []


def test_nothing_changes_the_order_of_arithmetic_in_compiled_code() -> None:
    fast = [
        m.at(n)
        for m in modules()
        for n in ast.walk(m.tree)
        if isinstance(n, ast.keyword) and n.arg == "fastmath" and ast.unparse(n.value) == "True"
    ]
    assert_none(fast)
