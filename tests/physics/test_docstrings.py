"""Every public kernel says what it takes, in which unit, from which source, and what was checked."""

from __future__ import annotations

import doctest
import importlib
import inspect
import re
from pathlib import Path

import pytest
from mutants import module_names

from airtally.limits import action_levels, alarm_windows, all_limits, filter_classes, make_up_air_factors

ROOT = Path(__file__).parents[2]
OPENINGS = ("Valid:", "Departs from the source:", "Checked against:", "NaN in, NaN out")
MODULES = [
    importlib.import_module(f"airtally.physics.{name}")
    for name in module_names()
    if name != "constants"  # numbers only, no function
]
KERNELS = {
    f"{module.__name__.removeprefix('airtally.physics.')}.{name}": function
    for module in MODULES
    for name, function in inspect.getmembers(module, inspect.isfunction)
    if function.__module__ == module.__name__ and not name.startswith("_")
}


def _table(path, columns):
    """Return the first-column key and the cells of every row of a Markdown page's tables."""
    rows = {}
    for line in (ROOT / path).read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split(" | ")] if line.startswith("|") else []
        if len(cells) == columns and cells[0] not in {"key", "name"}:
            rows[cells[0].strip("` ")] = cells
    return rows


REFERENCES = _table("docs/references.md", 4)
NAMES = _table("docs/nomenclature.md", 5)


def _section(function, title):
    """Return one underlined section of a docstring."""
    text = inspect.getdoc(function) or ""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\S[^\n]*\n-{{3,}}$|\Z)", text, re.M | re.S)
    return found.group(1) if found else ""


def _entries(section):
    """Return name and joined text of every entry of a Parameters or Returns section."""
    return {
        name: " ".join(body.split())
        for name, body in re.findall(r"^(\w+) : [^\n]*\n((?:    [^\n]*\n?)+)", section, re.M)
    }


@pytest.mark.parametrize("name", sorted(KERNELS))
def test_a_kernel_documents_each_parameter_with_its_unit(name):
    function = KERNELS[name]
    entries = _entries(_section(function, "Parameters"))
    assert list(entries) == list(inspect.signature(function).parameters)
    for text in (*entries.values(), *_entries(_section(function, "Returns")).values()):
        assert re.search(r"\[[^\[\]]+\]$", text), f"{name}: no unit at the end of '{text}'"


@pytest.mark.parametrize("name", sorted(KERNELS))
def test_a_kernel_carries_the_four_notes_and_references_that_resolve(name):
    function = KERNELS[name]
    notes = _section(function, "Notes")
    for opening in OPENINGS:
        assert opening in notes, f"{name} lacks '{opening}'"
    keys = re.findall(r"^\.\. \[([^\]]+)\] docs/references\.md", _section(function, "References"), re.M)
    assert keys, f"{name} names no reference"
    assert not set(keys) - set(REFERENCES)


def test_every_parameter_is_in_the_nomenclature_with_the_unit_the_docstrings_give():
    for name, function in KERNELS.items():
        for parameter, text in _entries(_section(function, "Parameters")).items():
            assert parameter in NAMES, f"{name}: {parameter} is not in docs/nomenclature.md"
            unit = text.rsplit("[", 1)[1].rstrip("]")
            assert unit in NAMES[parameter][2].split(" or "), f"{name}: {parameter} in {unit}"


def test_the_nomenclature_lists_no_name_that_nothing_uses():
    used = {parameter for function in KERNELS.values() for parameter in inspect.signature(function).parameters}
    assert not set(NAMES) - used


def test_every_source_of_a_limit_is_in_the_references():
    records = (*all_limits(), *action_levels(), *alarm_windows(), *filter_classes(), *make_up_air_factors())
    assert {record.source for record in records} <= set(REFERENCES)


def test_every_reference_says_how_it_was_seen():
    for key, cells in REFERENCES.items():
        assert re.search(r"read|from memory|no source|run as an oracle", cells[3]), key


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__.removeprefix("airtally.physics."))
def test_the_examples_print_what_they_say(module):
    tried = doctest.testmod(module)
    assert tried.attempted > 0
    assert tried.failed == 0
