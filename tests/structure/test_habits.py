"""Habits: a comparison without assert, a message whose values are never filled in, a test that asserts nothing."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from itertools import chain

from .source import Function, Module, assert_none, checking_modules, module_of, modules, parameters

PREDICATE = re.compile(
    r"^(allclose|isclose|array_equal|array_equiv|equals|equal|all|any|isnan|isfinite|is_\w+|has_\w+)$"
)
ASSERTING = re.compile(r"^(assert\w*|raises|warns|fail|deprecated_call)$")
SLOT = re.compile(r"\{([A-Za-z_]\w*)(?:[.\[][^{}]*)?(?:![rsa])?(?::[^{}]*)?\}")
FORMAT = re.compile(r"%[-+ #0]?\d*(?:\.\d+)?[sdfgrxe]|\{\w*\}")


def called_name(call: ast.Call) -> str:
    """Return the last name of what is called: ``allclose`` of ``np.allclose(...)``."""
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def idle_comparisons(tree: ast.AST) -> Iterator[ast.Expr]:
    """Yield statements that compare and drop the answer."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr):
            value = node.value
            is_comparison = isinstance(value, ast.Compare | ast.BoolOp)
            if is_comparison or (isinstance(value, ast.Call) and PREDICATE.match(called_name(value))):
                yield node


def unfilled_raises(tree: ast.AST) -> Iterator[ast.Raise]:
    """Yield ``raise X("... %s", y)``: exceptions do not fill in what follows, as a logger would."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and len(node.exc.args) > 1:
            first = node.exc.args[0]
            if isinstance(first, ast.Constant) and isinstance(first.value, str) and FORMAT.search(first.value):
                yield node


def unfilled_slots(tree: ast.Module) -> Iterator[tuple[ast.Constant, str]]:
    """Yield plain strings with a ``{name}`` of a variable at hand: an f was forgotten.

    Templates are strings too. They are told apart by what becomes of them: a ``format`` call, slots that are
    no variables of the function, or slots that the same function fills by name (``("flow", flow)``).
    """
    for function in (n for n in ast.walk(tree) if isinstance(n, Function)):
        at_hand = {p.lstrip("*") for p in parameters(function)}
        at_hand |= {n.id for n in ast.walk(function) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
        filled_later = {
            id(piece)
            for call in ast.walk(function)
            if isinstance(call, ast.Call)
            and isinstance(call.func, ast.Attribute)
            and call.func.attr.startswith("format")
            for piece in ast.walk(call.func)
        }
        pieces_of_f = {id(p) for n in ast.walk(function) if isinstance(n, ast.JoinedStr) for p in ast.walk(n)}
        by_name = {n.value for n in ast.walk(function) if isinstance(n, ast.Constant) and isinstance(n.value, str)}
        first = function.body[0]
        documentation = id(first.value) if isinstance(first, ast.Expr) else 0
        for node in ast.walk(function):
            if not (isinstance(node, ast.Constant) and isinstance(node.value, str)):
                continue
            if id(node) in filled_later | pieces_of_f or id(node) == documentation:
                continue
            for name in SLOT.findall(node.value):
                if name in at_hand - by_name:
                    yield node, name


def everything() -> Iterator[Module]:
    """Yield every module of the package, the tests and the benchmarks."""
    return chain(modules(), checking_modules())


def test_the_habit_checks_see_the_habits() -> None:
    tree = ast.parse(
        "def f(x, y):\n"
        "    np.allclose(x, y)\n"
        "    x == y\n"
        '    raise ValueError("%s is wrong", x)\n'
        "def g(x):\n"
        '    return "the value is {x:.1f}"\n'
        "def h(x):\n"
        '    return "the value is {x}".format(x=x)\n'
    )
    assert len(list(idle_comparisons(tree))) == 2
    assert len(list(unfilled_raises(tree))) == 1
    assert [name for _, name in unfilled_slots(tree)] == ["x"]


def test_no_comparison_is_dropped() -> None:
    assert_none([f"{m.at(n)}: {ast.unparse(n)}" for m in everything() for n in idle_comparisons(m.tree)])


def test_no_exception_carries_a_format_that_nobody_fills() -> None:
    assert_none([f"{m.at(n)}: {ast.unparse(n)}" for m in everything() for n in unfilled_raises(m.tree)])


def test_no_text_shows_the_name_of_a_variable_in_braces() -> None:
    assert_none([f"{m.at(n)}: {{{name}}}" for m in modules() for n, name in unfilled_slots(m.tree)])


def asserting_functions(files: list[Module]) -> set[str]:
    """Return the names of the functions in the tests that assert, themselves or through one another."""
    bodies = [f for m in files for f in ast.walk(m.tree) if isinstance(f, Function)]
    known: set[str] = set()
    while True:
        more = {f.name for f in bodies if f.name not in known and asserts(f, known)}
        if not more:
            return known
        known |= more


def asserts(function: Function, helpers: set[str]) -> bool:
    """Return whether a function asserts something, itself or by a helper that does."""
    for node in ast.walk(function):
        if isinstance(node, ast.Assert):
            return True
        if isinstance(node, ast.Call) and (ASSERTING.match(called_name(node)) or called_name(node) in helpers):
            return True
    return False


def test_a_test_that_only_calls_is_found_out() -> None:
    text = "def check(x):\n    assert x\n\ndef test_a():\n    check(1)\n\ndef test_b():\n    print(check)\n"
    module = module_of(text, "tests/test_x.py")
    helpers = asserting_functions([module])
    assert helpers == {"check", "test_a"}
    tree = module.tree.body
    assert [asserts(f, {"check"}) for f in tree if isinstance(f, Function)] == [True, True, False]


def test_every_test_asserts_something() -> None:
    files = [m for m in checking_modules() if m.where.startswith("tests/")]
    helpers = {name for name in asserting_functions(files) if not name.startswith("test_")}
    tests = [
        (m, f)
        for m in files
        if m.where.rpartition("/")[2].startswith("test_")
        for f in ast.walk(m.tree)
        if isinstance(f, Function) and f.name.startswith("test_")
    ]
    assert len(tests) > 50
    assert_none([f"{m.at(f)} {f.name}" for m, f in tests if not asserts(f, helpers)])


def test_names_of_tests_are_sentences() -> None:
    short = [
        f"{m.at(f)} {f.name}"
        for m in checking_modules()
        for f in ast.walk(m.tree)
        if isinstance(f, Function) and f.name.startswith("test_") and f.name.count("_") < 3
    ]
    assert_none(short)


def test_every_expected_exception_is_matched_by_its_words() -> None:
    loose = []
    for module in checking_modules():
        for node in ast.walk(module.tree):
            if isinstance(node, ast.Call) and called_name(node) == "raises" and isinstance(node.func, ast.Attribute):
                words = {k.arg for k in node.keywords}
                expected = ast.unparse(node.args[0]) if node.args else ""
                # A frozen record's own message belongs to Python, not to us.
                if (
                    "match" not in words
                    and "Frozen" not in expected
                    and expected not in ("SystemExit", "AttributeError")
                ):
                    loose.append(f"{module.at(node)}: raises({expected})")
    assert_none(loose)
