"""Docstrings: the contract of a physics function is read by a program; everything else public has at least one."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator

import pytest

from .source import DOCS, Function, Module, assert_none, functions, is_decorated, is_public, modules, parameters

ENTRY = re.compile(r"^(\*{0,2}\w+(?:, \*{0,2}\w+)*)(?: : .+)?$")
UNIT = re.compile(r"\[[^\[\]]+\](?:, shape \([^)]*\))?\.?$")
OPENINGS = ("Valid", "Departs from the source", "Checked against", "NaN")
KEY = re.compile(r"^\.\. \[(\w[\w.-]*)\] docs/references\.md", re.MULTILINE)


def sections(docstring: str) -> dict[str, str]:
    """Return heading -> text of a numpydoc docstring; what stands before the first heading is under ''."""
    lines = inspect.cleandoc(docstring).splitlines()
    found: dict[str, list[str]] = {"": []}
    heading = ""
    for index, line in enumerate(lines):
        under = lines[index + 1] if index + 1 < len(lines) else ""
        if line and set(under) == {"-"} and len(under) == len(line):
            heading = line
            found[heading] = []
        elif not (line and set(line) == {"-"}):
            found[heading].append(line)
    return {name: "\n".join(text).strip("\n") for name, text in found.items()}


def entries(section: str) -> list[tuple[str, str]]:
    """Return (names, text) of each entry of a Parameters, Returns or Attributes section."""
    found: list[tuple[str, list[str]]] = []
    for line in section.splitlines():
        if line and not line.startswith(" "):
            found.append((line, []))
        elif found and line.strip():
            found[-1][1].append(line.strip())
    return [(head, " ".join(text)) for head, text in found]


def kernels() -> Iterator[tuple[Module, str, Function]]:
    """Yield every public function of the physics room; guards refuse values and compute nothing."""
    for module in modules():
        if module.room == "physics" and not module.name.endswith(".guards"):
            for name, function in functions(module):
                if is_public(name) and "." not in name:
                    yield module, name, function


def faults_of(function: Function) -> list[str]:
    """Return what a physics docstring lacks."""
    text = ast.get_docstring(function, clean=False)
    if text is None:
        return ["has no docstring"]
    parts = sections(text)
    faults = []
    documented = entries(parts.get("Parameters", ""))
    named = [n for head, _ in documented for n in (head.split(" : ")[0].split(", ") if ENTRY.match(head) else [head])]
    if named != parameters(function):
        faults.append(f"documents {named}, takes {parameters(function)}")
    if not parts.get("Returns"):
        faults.append("does not say what it returns")
    for head, words in documented + entries(parts.get("Returns", "")):
        if not UNIT.search(words):
            faults.append(f"entry '{head}' does not end in a unit in brackets")
    notes = parts.get("Notes", "")
    faults += [f"Notes lack '{o}'" for o in OPENINGS if not re.search(rf"(?m)^{o}", notes)]
    if not KEY.search(parts.get("References", "")):
        faults.append("names no reference of docs/references.md")
    return faults


def test_the_docstring_check_finds_each_kind_of_fault() -> None:
    source = '''
def speed(diameter, density):
    """Return a speed.

    Parameters
    ----------
    diameter : float
        Diameter.

    Returns
    -------
    speed : float
        Speed. [m/s]

    Notes
    -----
    Valid: always.
    """
'''
    function = ast.parse(source).body[0]
    assert isinstance(function, ast.FunctionDef)
    assert faults_of(function) == [
        "documents ['diameter'], takes ['diameter', 'density']",
        "entry 'diameter : float' does not end in a unit in brackets",
        "Notes lack 'Departs from the source'",
        "Notes lack 'Checked against'",
        "Notes lack 'NaN'",
        "names no reference of docs/references.md",
    ]


def test_every_physics_function_documents_parameters_units_notes_and_source() -> None:
    found = list(kernels())
    assert len(found) > 30
    assert_none([f"{m.at(f)} {name}: {fault}" for m, name, f in found for fault in faults_of(f)])


def test_every_reference_key_stands_in_the_list_of_references() -> None:
    references = DOCS / "references.md"
    if not references.exists():
        pytest.skip("docs/references.md is not written yet")
    listed = set(re.findall(r"(?m)^\| (\w[\w.-]*) \|", references.read_text(encoding="utf-8")))
    used = [
        (module.at(function), key)
        for module in modules()
        for _, function in functions(module)
        for key in re.findall(r"\.\. \[(\w[\w.-]*)\]", ast.get_docstring(function) or "")
    ]
    assert len(used) > 30
    assert_none([f"{where}: [{key}]" for where, key in used if key not in listed])


def test_every_citation_in_a_text_has_its_reference_below() -> None:
    unresolved = [
        f"{module.at(function)} {name}: [{key}]_"
        for module in modules()
        for name, function in functions(module)
        for text in [ast.get_docstring(function) or ""]
        for key in re.findall(r"\[(\w[\w.-]*)\]_", text)
        if f".. [{key}]" not in text
    ]
    assert_none(unresolved)


def test_every_public_function_class_and_module_has_a_docstring() -> None:
    bare = []
    for module in modules():
        if not ast.get_docstring(module.tree) and module.text.strip():
            bare.append(module.where)
        for name, function in functions(module):
            overload = is_decorated(function, "overload")
            if is_public(name) and not overload and not ast.get_docstring(function):
                bare.append(f"{module.at(function)} {name}")
        bare += [
            f"{module.at(node)} class {node.name}"
            for node in module.tree.body
            if isinstance(node, ast.ClassDef) and is_public(node.name) and not ast.get_docstring(node)
        ]
    assert_none(bare)
