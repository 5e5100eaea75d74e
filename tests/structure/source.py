"""The package's source as the structure tests see it: every module parsed once, and where things lie."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "src" / "airtally"
DOCS = ROOT / "docs"

Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True, slots=True, kw_only=True)
class Module:
    """One Python file.

    Attributes
    ----------
    name : str
        Dotted, ``airtally.house.parts``; a test's path for tests.
    where : str
        Path below the root, for messages.
    """

    name: str
    where: str
    text: str
    tree: ast.Module

    @property
    def room(self) -> str:
        """Return the first name below ``airtally``: ``house``, ``units``; empty for the package itself."""
        return [*self.name.split("."), ""][1]

    def at(self, node: ast.AST) -> str:
        """Return ``src/airtally/house/parts.py:12``."""
        return f"{self.where}:{getattr(node, 'lineno', 1)}"


@cache
def modules() -> tuple[Module, ...]:
    """Return every module of the package, in order of path."""
    return tuple(_read(path) for path in sorted(PACKAGE.rglob("*.py")))


@cache
def checking_modules() -> tuple[Module, ...]:
    """Return every Python file under ``tests`` and ``benchmarks``."""
    folders = (ROOT / "tests", ROOT / "benchmarks")
    return tuple(_read(path) for folder in folders for path in sorted(folder.rglob("*.py")))


def _read(path: Path) -> Module:
    return module_of(path.read_text(encoding="utf-8"), path.relative_to(ROOT).as_posix())


def module_of(text: str, where: str) -> Module:
    """Return a text as the module it would be at a path below the root."""
    parts = where.removeprefix("src/").removesuffix(".py").split("/")
    name = ".".join(p for p in parts if p != "__init__")
    return Module(name=name, where=where, text=text, tree=ast.parse(text, filename=where))


def functions(module: Module) -> Iterator[tuple[str, Function]]:
    """Yield the module's functions and methods with their qualified name; functions inside functions are left out."""
    for node in module.tree.body:
        if isinstance(node, Function):
            yield node.name, node
        elif isinstance(node, ast.ClassDef):
            for inner in node.body:
                if isinstance(inner, Function):
                    yield f"{node.name}.{inner.name}", inner


def classes(module: Module) -> Iterator[ast.ClassDef]:
    """Yield every class of a module."""
    return (node for node in ast.walk(module.tree) if isinstance(node, ast.ClassDef))


def is_public(name: str) -> bool:
    """Return whether no part of a qualified name starts with an underscore."""
    return not any(part.startswith("_") for part in name.split("."))


def parameters(function: Function) -> list[str]:
    """Return the names of a function's parameters without ``self`` and ``cls``; stars kept."""
    a = function.args
    names = [p.arg for p in (*a.posonlyargs, *a.args)]
    if names[:1] in (["self"], ["cls"]):
        names = names[1:]
    names += [f"*{a.vararg.arg}"] if a.vararg else []
    names += [p.arg for p in a.kwonlyargs]
    return names + ([f"**{a.kwarg.arg}"] if a.kwarg else [])


def docstrings(tree: ast.Module) -> set[int]:
    """Return the ids of the constants that are documentation: strings standing alone as a statement."""
    return {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
    }


def strings(module: Module) -> Iterator[tuple[ast.Constant, str]]:
    """Yield every string of a module that is not documentation, f-string pieces included."""
    documentation = docstrings(module.tree)
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documentation:
            yield node, node.value


def is_decorated(node: ast.ClassDef | Function, name: str) -> ast.expr | None:
    """Return the decorator of a name (``dataclass``, ``njit``), if the node has it."""
    for decorator in node.decorator_list:
        called = decorator.func if isinstance(decorator, ast.Call) else decorator
        if (isinstance(called, ast.Name) and called.id == name) or (
            isinstance(called, ast.Attribute) and called.attr == name
        ):
            return decorator
    return None


def assert_none(faults: list[str]) -> None:
    """Fail with every fault on a line of its own."""
    assert not faults, f"{len(faults)} found:\n" + "\n".join(faults)
