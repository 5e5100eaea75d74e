"""Names and records: SI inside, suffixed units at the edges only; nouns are frozen; files and functions stay short."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

from .source import Function, Module, assert_none, classes, is_decorated, module_of, modules

TRADE = re.compile(r"_(cfm|cfm50|ugm3|degf|degc|inwc|ppm|ppb|per_h|mgh|ft2|in2|pct)$")

EDGES = (
    "airtally.units",
    "airtally.house",
    "airtally.readings.measures",
    "airtally.readings.words",
    "airtally.readings.stamps",
    "airtally.record",
    "airtally.report",
    "airtally.cli",
    "airtally.demo",
)
"""Where a number may stand in another unit than SI: there text is read or written."""

KERNELS = {
    "airtally.inference.likelihood": "works in ug/m3 and hours: numbers near one keep the filter's sums exact",
    "airtally.inference.emissions": "continues the filter's series, ug/m3 and hours",
    "airtally.inference.events": "reads the filter's series, ug/m3 and hours",
    "airtally.inference.search": "searches over the filter's parameters, ug/m3 and hours",
    "airtally.parameters": "names the filter's parameters, ug/m3 and hours",
    "airtally.inference.model": "turns parameters into the filter's rates, ug/m3 and hours",
}
"""Inside the compiled filter and at its door; every noun that leaves the room is SI again."""

LONGEST_FILE = 500
LONGEST_FUNCTION = 90
"""Lines without docstrings. The house style asks for about 400 and 60; past these a file gets a twin and a function parts."""
LONGEST_KERNEL = 150
"""A compiled loop carries its state in local variables; cutting it up costs more than it clears."""


def identifiers(module: Module) -> Iterator[tuple[ast.AST, str]]:
    """Yield every name a module gives or uses."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Name):
            yield node, node.id
        elif isinstance(node, ast.arg):
            yield node, node.arg
        elif isinstance(node, ast.Attribute):
            yield node, node.attr
        elif isinstance(node, ast.keyword) and node.arg:
            yield node.value, node.arg
        elif isinstance(node, Function | ast.ClassDef):
            yield node, node.name


def is_edge(name: str) -> bool:
    """Return whether a module reads or writes other units."""
    return name in KERNELS or any(name == edge or name.startswith(f"{edge}.") for edge in EDGES)


def trade_names(module: Module) -> list[str]:
    """Return the names with a unit of the trade that a module inside holds."""
    if is_edge(module.name):
        return []
    return [f"{module.at(node)}: {name}" for node, name in identifiers(module) if TRADE.search(name)]


def test_units_of_the_trade_appear_in_names_at_the_edges_only() -> None:
    assert_none([name for module in modules() for name in trade_names(module)])


def test_the_name_checks_see_units_and_open_records() -> None:
    text = "@dataclass(frozen=True)\nclass Fan:\n    flow_cfm: float\n\ndef run(level_ugm3):\n    return level_ugm3\n"
    inside = module_of(text, "src/airtally/physics/fan.py")
    edge = module_of(text, "src/airtally/record/fan.py")
    assert [name.rpartition(" ")[2] for name in trade_names(inside)] == ["flow_cfm", "level_ugm3", "level_ugm3"]
    assert trade_names(edge) == []
    assert frozen_faults(inside) == ["src/airtally/physics/fan.py:2 Fan: not slots, kw_only"]


def test_edges_and_kernels_that_are_named_exist() -> None:
    names = {m.name for m in modules()} | {m.name.rpartition(".")[0] for m in modules()}
    later = {"airtally.cli"}  # the shell is the last file to come
    assert_none(sorted((set(EDGES) | set(KERNELS)) - names - later))
    assert TRADE.search("flow_cfm")
    assert not TRADE.search("flow")


def frozen_faults(module: Module) -> list[str]:
    """Return the dataclasses of a module that are not frozen, slotted and keyword-only."""
    faults = []
    for node in classes(module):
        decorator = is_decorated(node, "dataclass")
        if decorator is None:
            continue
        given = {k.arg: ast.unparse(k.value) for k in decorator.keywords} if isinstance(decorator, ast.Call) else {}
        lacking = [key for key in ("frozen", "slots", "kw_only") if given.get(key) != "True"]
        # What is gathered while a file is read grows by nature; it never leaves the reader.
        if lacking == ["frozen"] and (node.name.endswith("Gathering") or node.name.startswith("_")):
            continue
        if lacking:
            faults.append(f"{module.at(node)} {node.name}: not {', '.join(lacking)}")
    return faults


def test_every_record_is_frozen_slotted_and_keyword_only() -> None:
    count = sum(is_decorated(node, "dataclass") is not None for m in modules() for node in classes(m))
    assert count > 50
    assert_none([fault for module in modules() for fault in frozen_faults(module)])


def documentation_lines(tree: ast.AST) -> int:
    """Return how many lines the docstrings of a tree take."""
    return sum(
        node.end_lineno - node.lineno + 1
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
        and node.end_lineno is not None
    )


def test_files_and_functions_stay_short() -> None:
    long = []
    for module in modules():
        lines = module.text.count("\n") - documentation_lines(module.tree)
        if lines > LONGEST_FILE:
            long.append(f"{module.where}: {lines} lines without its docstrings")
        for node in ast.walk(module.tree):
            if isinstance(node, Function) and node.end_lineno is not None:
                size = node.end_lineno - node.lineno + 1 - documentation_lines(node)
                if size > (LONGEST_KERNEL if is_decorated(node, "njit") else LONGEST_FUNCTION):
                    long.append(f"{module.at(node)} {node.name}: {size} lines without its docstring")
    assert_none(long)


def test_there_is_no_drawer_for_everything() -> None:
    drawers = {"utils", "util", "helpers", "common", "misc"}
    assert_none([m.where for m in modules() if drawers & set(m.name.split("."))])
