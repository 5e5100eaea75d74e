"""Which problem codes the package can raise, found by following ``code=`` through its syntax trees.

A code may be written as a literal, as a constant of a room's ``problems.py``, as a choice of two, or be
handed through a helper whose parameter ends up in ``code=``. What the scan cannot follow is reported, not
skipped: then either the code is written more plainly or the scan learns the form.
"""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache

from .source import Function, Module, modules, parameters

RECORDS = ("Problem", "SafetyFinding")
"""Records that carry a code."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Forwarder:
    """A function that hands one of its parameters on as the code of a problem."""

    module: str
    name: str
    parameter: str
    position: int
    required: int
    owner: str
    """Class whose method it is; empty for a plain function."""


@dataclass(slots=True, kw_only=True)
class Found:
    """What the scan found: places by code, and the places it could not follow."""

    places: dict[str, list[str]] = field(default_factory=dict)
    lost: list[str] = field(default_factory=list)


@cache
def raised_codes() -> Found:
    """Return every code that the package can raise."""
    return codes_of({m.name: m for m in modules()})


def codes_of(known: dict[str, Module]) -> Found:
    """Return every code that modules, by name, can raise."""
    forwarders: list[Forwarder] = []
    while True:
        found = Found()
        more = [f for m in known.values() for f in _scan(m, known, forwarders, found) if f not in forwarders]
        if not more:
            return found
        forwarders += list(dict.fromkeys(more))


def _scan(module: Module, known: dict[str, Module], forwarders: list[Forwarder], found: Found) -> Iterator[Forwarder]:
    imports = _imports(module)
    for function, owner, call in _calls(module.tree):
        for expression in _code_expressions(call, module, imports, forwarders):
            codes, passed = _resolve(expression, function, module, known, imports)
            for code in codes:
                found.places.setdefault(code, []).append(module.at(call))
            if passed and function is not None:
                yield _forwarder(module, function, passed, owner)
            elif not codes and not passed:
                found.lost.append(f"{module.at(call)}: {ast.unparse(expression)}")


def _calls(tree: ast.Module) -> Iterator[tuple[Function | None, str, ast.Call]]:
    """Yield each call with the function that holds it and the class whose method that one is, if any."""

    def walk(node: ast.AST, function: Function | None, owner: str) -> Iterator[tuple[Function | None, str, ast.Call]]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, Function):
                yield from walk(child, child, node.name if isinstance(node, ast.ClassDef) else "")
                continue
            if isinstance(child, ast.Call):
                yield function, owner, child
            yield from walk(child, function, owner)

    return walk(tree, None, "")


def _imports(module: Module) -> dict[str, tuple[str, str]]:
    """Return local name -> (module, name in it) of every ``from`` import; relative ones do not occur."""
    return {
        (alias.asname or alias.name): (node.module or "", alias.name)
        for node in ast.walk(module.tree)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }


def _code_expressions(
    call: ast.Call, module: Module, imports: dict[str, tuple[str, str]], forwarders: list[Forwarder]
) -> Iterator[ast.expr]:
    called = call.func
    if isinstance(called, ast.Name) and called.id in RECORDS:
        yield from (k.value for k in call.keywords if k.arg == "code")
        return
    for forwarder in forwarders:
        if not forwarder.owner:
            fits = _full_name(called, module, imports) == (forwarder.module, forwarder.name)
        else:
            fits = bool(forwarder.owner) and isinstance(called, ast.Attribute) and called.attr == forwarder.name
            # What a method is called on has no type here: the class must at least be within reach.
            fits = fits and (
                module.name == forwarder.module or imports.get(forwarder.owner) == (forwarder.module, forwarder.owner)
            )
            fits = fits and len(call.args) + len(call.keywords) >= forwarder.required
        if not fits:
            continue
        given = [k.value for k in call.keywords if k.arg == forwarder.parameter]
        if given:
            yield given[0]
        elif forwarder.position < len(call.args):
            yield call.args[forwarder.position]


def _full_name(called: ast.expr, module: Module, imports: dict[str, tuple[str, str]]) -> tuple[str, str]:
    """Return (module, name) of a plain function called by its name or through its module's."""
    if isinstance(called, ast.Name):
        return imports.get(called.id, (module.name, called.id))
    if isinstance(called, ast.Attribute) and isinstance(called.value, ast.Name):
        return ".".join(imports.get(called.value.id, ("", ""))), called.attr
    return "", ""


def _forwarder(module: Module, function: Function, parameter: str, owner: str) -> Forwarder:
    names = parameters(function)
    optional = len(function.args.defaults) + sum(d is not None for d in function.args.kw_defaults)
    return Forwarder(
        module=module.name,
        name=function.name,
        parameter=parameter,
        position=names.index(parameter),
        required=len(names) - optional,
        owner=owner,
    )


def _resolve(
    expression: ast.expr,
    function: Function | None,
    module: Module,
    known: dict[str, Module],
    imports: dict[str, tuple[str, str]],
) -> tuple[set[str], str]:
    """Return the codes an expression can be, and the parameter it is if it only passes one on."""
    if isinstance(expression, ast.Constant) and isinstance(expression.value, str):
        return {expression.value}, ""
    if isinstance(expression, ast.IfExp):
        first, passed = _resolve(expression.body, function, module, known, imports)
        second, also = _resolve(expression.orelse, function, module, known, imports)
        return first | second, passed or also
    if isinstance(expression, ast.Attribute) and isinstance(expression.value, ast.Name):
        home = ".".join(imports.get(expression.value.id, ("", "")))
        return _constant(known.get(home), expression.attr), ""
    if not isinstance(expression, ast.Name):
        return set(), ""
    if function is not None:
        if expression.id in parameters(function):
            return set(), expression.id
        assigned = [
            node.value
            for node in ast.walk(function)
            if isinstance(node, ast.Assign)
            and any(isinstance(t, ast.Name) and t.id == expression.id for t in node.targets)
        ]
        codes: set[str] = set()
        for value in assigned:
            codes |= _resolve(value, function, module, known, imports)[0]
        if codes:
            return codes, ""
    if expression.id in imports:
        home, name = imports[expression.id]
        return _constant(known.get(home), name), ""
    return _constant(module, expression.id), ""


def _constant(module: Module | None, name: str) -> set[str]:
    """Return the text a module's constant holds."""
    if module is None:
        return set()
    return {
        node.value.value
        for node in module.tree.body
        if isinstance(node, ast.Assign)
        and any(isinstance(t, ast.Name) and t.id == name for t in node.targets)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    }


@cache
def room_meanings() -> dict[str, str]:
    """Return code -> meaning over the ``PROBLEMS`` and ``FINDINGS`` tables of all rooms' ``problems.py``."""
    meanings: dict[str, str] = {}
    for module in modules():
        if module.name.endswith(".problems"):
            tables = importlib.import_module(module.name)
            for name in ("FINDINGS", "PROBLEMS"):
                meanings |= getattr(tables, name, {})
    return meanings
