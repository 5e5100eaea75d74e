"""The page that lists every check value of building airflow stays true, and every kernel has been looked at twice."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from pathlib import Path

from check_values import all_rows

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
MARKS = {"read", "computed", "from memory"}
KERNEL = re.compile(r"^[a-z_]+\.[a-z_]+\.[a-z_0-9]+$")
TEST = re.compile(r"^test_\w+$")
LIMITS = re.compile(r"^limits: (\w+\.toml)$")


def lines_of_the_page():
    """Yield section, value, mark and what holds it, of each line of the page's tables."""
    section = ""
    for line in (ROOT / "docs" / "checks.md").read_text(encoding="utf-8").splitlines():
        if found := re.match(r"^## (\d+)\. ", line):
            section = f"airflow {found.group(1)}"
        elif line.startswith("| ") and not line.startswith("| check value"):
            value, mark, held = (cell.strip() for cell in line.strip("|").split(" | "))
            parts = [held] if held.startswith("not held: ") else [one.strip() for one in held.split(";")]
            yield section, value, mark, parts


PAGE = list(lines_of_the_page())


def names_of_tests():
    """Return the name of every test function of the physics room."""
    return {
        node.name
        for path in HERE.glob("test_*.py")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    }


def test_the_page_goes_through_all_twelve_sections_and_marks_every_value():
    assert {section for section, *_ in PAGE} == {f"airflow {number}" for number in range(1, 13)}
    assert len(PAGE) > 120
    for section, value, mark, held in PAGE:
        assert mark in MARKS, f"{section}: {value}"
        assert held, f"{section}: {value}"


def test_what_is_said_to_hold_a_value_exists():
    rows = {(row.section, f"{row.module}.{row.function}") for row in all_rows()}
    tests = names_of_tests()
    wrong = []
    for section, value, _, held in PAGE:
        if held[0].startswith("not held: "):
            assert len(held[0]) > 25, f"{section}: {value} does not say why"
            continue
        for one in held:
            if KERNEL.match(one):
                wrong += [] if (section, one) in rows else [f"{section}: {one} has no row of that section ({value})"]
            elif TEST.match(one):
                wrong += [] if one in tests else [f"{section}: there is no test {one} ({value})"]
            elif limit := LIMITS.match(one):
                path = ROOT / "src" / "airtally" / "limits" / "data" / limit.group(1)
                wrong += [] if path.exists() else [f"{section}: no table {limit.group(1)} ({value})"]
            else:
                wrong.append(f"{section}: '{one}' names nothing ({value})")
    assert not wrong, "\n".join(wrong)


def test_every_row_of_the_check_values_is_on_the_page():
    listed = {(section, one) for section, _, _, held in PAGE for one in held}
    missing = {
        f"{row.section}: {row.module}.{row.function}"
        for row in all_rows()
        if row.section.startswith("airflow") and (row.section, f"{row.module}.{row.function}") not in listed
    }
    assert not missing, "\n".join(sorted(missing))


def test_what_is_read_or_computed_is_held_unless_the_page_says_why_not():
    counted = [(mark, held[0].startswith("not held")) for _, _, mark, held in PAGE if mark != "from memory"]
    assert sum(not left_out for _, left_out in counted) >= 0.85 * len(counted)


def test_every_value_from_memory_says_so_in_its_own_row():
    silent = [
        str(row) for row in all_rows() if row.mark == "FROM MEMORY" and "memory" not in f"{row.source} {row.note}"
    ]
    assert not silent, "\n".join(silent)


SECOND_LOOKS = {
    "infiltration.weather.weather_factor": "test_a_typical_year_gives_the_published_weather_factor_to_its_last_digit",
}
"""Kernels whose second check from outside is not a row but a test."""


def test_every_kernel_has_two_different_checks_from_outside():
    calls = defaultdict(set)
    for row in all_rows():
        calls[f"{row.module}.{row.function}"].add((repr(sorted(row.inputs.items(), key=str)), row.expected, row.pick))
    once = sorted(name for name, found in calls.items() if len(found) < 2 and name not in SECOND_LOOKS)
    assert not once, once
    assert set(SECOND_LOOKS.values()) <= names_of_tests()
