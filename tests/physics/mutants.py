"""Change one number of the physics by 3 % at a time and see whether any test of the room notices.

Run ``python -m tests.physics.mutants`` from the root of the repository; ``--only flues.draft,fans.laws`` takes some modules,
``--operators`` swaps plus with minus and times with divided by instead. It ends with 1 if a change that is not listed
in EQUIVALENT goes unnoticed. Every change is tried in its own process, so nothing on disk is touched.
"""

from __future__ import annotations

import argparse
import ast
import importlib.abc
import importlib.util
import os
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
PHYSICS = HERE.parents[1] / "src" / "airtally" / "physics"
CHANGE = 1.03
TESTS = (
    "test_check_values.py",
    "test_worked_examples.py",
    "test_traps.py",
    "test_second_checks.py",
    "test_laws.py",
    "test_oracles.py",
    "test_stations.py",
    "test_docstrings.py",
)
"""In this order, the quickest to notice first."""
SWAPS = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*"}
_START = "root = np.full(np.broadcast_shapes(re.shape, roughness.shape), 7.0)"
_SLOPE = "slope = 1.0 + 2.0 / np.log(10.0) * 2.51 / turbulent / argument"
_SOONER = "only sets how soon the search settles, and six steps are plenty; the root is the same"
EQUIVALENT: dict[tuple[str, str, str], str] = {
    ("ducts.friction", _START, "7.0"): _SOONER,
    **{("ducts.friction", _SLOPE, found): _SOONER for found in ("1.0", "2.0", "10.0", "2.51")},
    (
        "ducts.friction",
        "factor: Number = np.where(re < LAMINAR_LIMIT, 64.0 / re + 0.0 * roughness, root**-2.0)[()]",
        "+",
    ): "adds nothing: it only lets a roughness that is no number show",
    (
        "particles.index",
        "BINARY_SLACK = 1e-6",
        "1e-6",
    ): "anything from the error of binary fractions to a thousandth of a tenth will do",
}
"""(module, the line it stands on, the number) -> why nothing outside could notice."""


def module_names() -> list[str]:
    """Return the dotted name below ``airtally.physics`` of every module that computes."""
    paths = [path.relative_to(PHYSICS).with_suffix("") for path in PHYSICS.rglob("*.py") if path.stem != "__init__"]
    return sorted(".".join(path.parts) for path in paths if path.stem not in {"guards", "ranges"})


def path_of(module: str) -> Path:
    """Return the file of a module."""
    return PHYSICS.joinpath(*module.split(".")).with_suffix(".py")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One change: where it stands, what stood there, what stands there now."""

    module: str
    line: int
    start: int
    end: int
    found: str
    becomes: str
    text: str

    @property
    def key(self) -> tuple[str, str, str]:
        """What EQUIVALENT knows it by; line numbers move, lines do not."""
        return self.module, self.text.strip(), self.found

    def __str__(self) -> str:
        return f"{self.module}:{self.line}: {self.found} -> {self.becomes}   {self.text.strip()}"

    def source(self) -> str:
        """Return the module's text with the change in it."""
        text = path_of(self.module).read_text(encoding="utf-8")
        lines = text.splitlines(keepends=True)
        line = lines[self.line - 1]
        lines[self.line - 1] = line[: self.start] + self.becomes + line[self.end :]
        return "".join(lines)


def _not_numbers_of_physics(tree: ast.AST) -> set[int]:
    """Return the ids of constants that count, index or name something: changing them is a crash, not a wrong number."""
    skipped = set()
    for node in ast.walk(tree):
        counting: list[ast.AST | None] = []
        if isinstance(node, ast.Subscript):
            counting.append(node.slice)
        elif isinstance(node, ast.Call):
            name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            counting += node.args if name in {"range", "minimum_index"} else []
            counting += [key.value for key in node.keywords if key.arg == "axis"]
        elif isinstance(node, ast.Dict):
            counting += node.keys
        for part in counting:
            if part is not None:
                skipped |= {id(one) for one in ast.walk(part) if isinstance(one, ast.Constant)}
    return skipped


def numbers(module: str) -> Iterator[Mutant]:
    """Yield a change of every number other than zero that a module writes out."""
    text = path_of(module).read_text(encoding="utf-8")
    lines = text.splitlines()
    tree = ast.parse(text)
    skipped = _not_numbers_of_physics(tree)
    for node in ast.walk(tree):
        is_number = isinstance(node, ast.Constant) and type(node.value) in {int, float}
        if not is_number or id(node) in skipped or node.value == 0:
            continue
        found = lines[node.lineno - 1][node.col_offset : node.end_col_offset]
        yield Mutant(
            module=module,
            line=node.lineno,
            start=node.col_offset,
            end=node.end_col_offset or 0,
            found=found,
            becomes=f"({found} * {CHANGE})",
            text=lines[node.lineno - 1],
        )


def operators(module: str) -> Iterator[Mutant]:
    """Yield a swap of every plus, minus, times and divided-by between two terms on one line."""
    text = path_of(module).read_text(encoding="utf-8")
    lines = text.splitlines()
    for node in ast.walk(ast.parse(text)):
        if not isinstance(node, ast.BinOp) or type(node.op) not in SWAPS:
            continue
        if node.left.end_lineno != node.right.lineno:
            continue
        line = lines[node.right.lineno - 1]
        between = line[node.left.end_col_offset : node.right.col_offset]
        sign = {"-": "+", "+": "-", "/": "*", "*": "/"}[SWAPS[type(node.op)]]
        place = (node.left.end_col_offset or 0) + between.find(sign)
        if between.count(sign) != 1 or "|" in between:
            continue
        yield Mutant(
            module=module,
            line=node.right.lineno,
            start=place,
            end=place + 1,
            found=sign,
            becomes=SWAPS[type(node.op)],
            text=line,
        )


def all_mutants(modules: Sequence[str], *, swap: bool = False) -> list[Mutant]:
    """Return every change in the modules, in order."""
    make = operators if swap else numbers
    return [mutant for module in modules for mutant in sorted(make(module), key=lambda one: (one.line, one.start))]


class _Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Imports one physics module from changed text."""

    def __init__(self, mutant: Mutant) -> None:
        self.name = f"airtally.physics.{mutant.module}"
        self.path = str(path_of(mutant.module))
        self.text = mutant.source()

    def find_spec(self, name, path, target=None):  # noqa: ARG002 - importlib's own words
        """Return a spec for the changed module only."""
        return importlib.util.spec_from_loader(name, self, origin=self.path) if name == self.name else None

    def exec_module(self, module):
        """Run the changed text."""
        module.__file__ = self.path
        exec(compile(self.text, self.path, "exec"), module.__dict__)  # noqa: S102 - our own source, changed


def _run_tests(mutant: Mutant | None) -> int:
    """Run the room's tests in this process on the changed module; return pytest's exit code."""
    import pytest
    from hypothesis import settings

    settings.register_profile("mutants", derandomize=True, database=None)
    settings.load_profile("mutants")
    if mutant is not None:
        sys.meta_path.insert(0, _Changed(mutant))
    for name in TESTS:  # one after the other: most changes are noticed before the slower files are read at all
        code = int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "--no-header", "-W", "ignore", str(HERE / name)]))
        if code:
            return code
    return 0


def try_one(mutant: Mutant | None) -> bool:
    """Return whether some test noticed a change, tried in a process of its own."""
    child = os.fork()
    if child == 0:
        silence = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silence, 1)
        os.dup2(silence, 2)
        code = 1
        try:
            code = _run_tests(mutant)
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status) != 0


def _load_what_tests_share() -> None:
    """Import the libraries once, before any child, and none of the physics."""
    import fluids  # noqa: F401
    import hypothesis  # noqa: F401
    import psychrolib  # noqa: F401
    import pytest  # noqa: F401
    import scipy.integrate
    import scipy.optimize
    import scipy.stats  # noqa: F401

    from airtally.limits import merv_table  # noqa: F401


def main(arguments: Sequence[str] | None = None) -> int:
    """Try every change and print those that nothing noticed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", help="modules, separated by commas")
    parser.add_argument("--operators", action="store_true", help="swap signs instead of changing numbers")
    asked = parser.parse_args(arguments)
    modules = [name for name in asked.only.split(",") if name] or module_names()
    _load_what_tests_share()
    if any(name.startswith("airtally.physics") for name in sys.modules):
        raise SystemExit("the physics was imported before the changes; the run would prove nothing")
    if try_one(None):
        raise SystemExit("the tests fail without any change; mend them first")
    began = time.monotonic()
    mutants = all_mutants(modules, swap=asked.operators)
    alive = 0
    unexplained = 0
    for mutant in mutants:
        if try_one(mutant):
            continue
        alive += 1
        if mutant.key not in EQUIVALENT:
            unexplained += 1
            print(f"unnoticed: {mutant}", flush=True)  # noqa: T201 - a verb of the command line
    print(  # noqa: T201
        f"{len(mutants)} changes, {len(mutants) - alive} noticed, {alive - unexplained} that cannot "
        f"matter, {unexplained} unnoticed, in {time.monotonic() - began:.0f} s"
    )
    return 1 if unexplained else 0


if __name__ == "__main__":
    raise SystemExit(main())
