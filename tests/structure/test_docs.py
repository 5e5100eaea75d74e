"""Docs: generated pages are current, every problem code has an entry, and what pages name exists."""

from __future__ import annotations

import re
import tomllib
from importlib.util import find_spec
from pathlib import Path

import pytest

from .problem_codes import codes_of, raised_codes, room_meanings
from .source import DOCS, PACKAGE, ROOT, assert_none, classes, functions, is_public, module_of, modules, parameters
from .test_imports import layers
from .write_docs import commands_page, problem_words, problems_page

AGAIN = "run: python -m tests.structure.write_docs"


def test_the_scan_follows_literals_choices_constants_and_helpers_and_says_where_it_is_lost() -> None:
    table = module_of('LATE = "too-late"\n', "src/airtally/a/problems.py")
    user = module_of(
        "from airtally.a import problems as codes\n"
        "def doubt(where, name):\n    return Problem(code=name, where=where)\n"
        "def look(x, y):\n"
        '    Problem(code="one" if x else "two")\n'
        "    doubt(x, codes.LATE)\n"
        '    doubt(x, name="three")\n'
        "    doubt(x, y.name)\n",
        "src/airtally/a/look.py",
    )
    found = codes_of({m.name: m for m in (table, user)})
    assert sorted(found.places) == ["one", "three", "too-late", "two"]
    assert found.lost == ["src/airtally/a/look.py:8: y.name"]


def test_the_scan_follows_every_code() -> None:
    assert len(raised_codes().places) > 100
    assert_none(raised_codes().lost)


def test_every_code_that_can_be_raised_has_an_entry() -> None:
    words = problem_words()
    places = raised_codes().places
    assert_none([f"{code} ({places[code][0]})" for code in sorted(set(places) - set(words))])


def test_no_entry_and_no_meaning_is_stale() -> None:
    places = raised_codes().places
    assert_none([f"docs/problems.toml: {code}" for code in sorted(set(problem_words()) - set(places))])
    assert_none([f"a room's problems.py: {code}" for code in sorted(set(room_meanings()) - set(places))])


def test_every_entry_has_a_cause_a_deed_and_a_remedy() -> None:
    meanings = room_meanings()
    bare = []
    for code, words in problem_words().items():
        cause = meanings.get(code) or words.get("cause", "")
        texts = {"cause": cause, "does": words.get("does", ""), "do": words.get("do", "")}
        bare += [f"{code}: {key} is {text!r}" for key, text in texts.items() if len(text) < 8 or not text.endswith(".")]
    assert_none(bare)


def test_a_cause_is_written_once() -> None:
    assert_none(
        [
            f"{c}: cause stands in a room too"
            for c in problem_words()
            if c in room_meanings() and "cause" in problem_words()[c]
        ]
    )


def test_the_page_of_problems_is_current() -> None:
    assert (DOCS / "problems.md").read_text(encoding="utf-8") == problems_page(), AGAIN


def test_the_page_of_commands_is_current() -> None:
    wanted = commands_page()
    if wanted is None:
        pytest.skip("the command line is not written yet")
    assert (DOCS / "commands.md").read_text(encoding="utf-8") == wanted, AGAIN


def test_the_readme_names_every_command_and_none_that_is_not() -> None:
    if find_spec("airtally.cli") is None:
        pytest.skip("the command line is not written yet")
    from airtally.cli import main

    named = set(
        re.findall(r"(?m)(?:^|`)airtally (\w+) [\w-]+(?= |`)", (ROOT / "README.md").read_text(encoding="utf-8"))
    )
    named -= {"keeps"}  # the first sentence
    assert named == set(main.commands)


def test_architecture_shows_the_rooms_and_floors_of_the_contract() -> None:
    page = (DOCS / "architecture.md").read_text(encoding="utf-8")
    shown = {room: int(floor) for floor, room in re.findall(r"(?m)^\| (\d+) \| `(\w+)` \| \S", page)}
    config = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    floors = config["tool"]["importlinter"]["contracts"][0]["layers"]
    assert shown == {room.strip(): n for n, floor in enumerate(floors, start=1) for room in floor.split("|")}
    rooms = {m.room for m in modules() if m.room}
    later = {"cli"} - rooms
    assert rooms == layers() - later


def defined() -> set[str]:
    """Return the full name of every module, function and class of the package."""
    names = set()
    for module in modules():
        names.add(module.name)
        names |= {f"{module.name}.{name}" for name, _ in functions(module)}
        names |= {f"{module.name}.{node.name}" for node in classes(module)}
        names |= {f"{module.name}.{name}" for name in re.findall(r"(?m)^([A-Z_]+)(?::[^=]+)? = ", module.text)}
    return names


@pytest.mark.parametrize("page", sorted(p.name for p in DOCS.glob("*.md")))
def test_every_name_of_the_code_on_a_page_exists(page: str) -> None:
    text = (DOCS / page).read_text(encoding="utf-8")
    known = defined()
    assert_none([name for name in re.findall(r"`(airtally(?:\.\w+)+)", text) if name not in known])


@pytest.mark.parametrize("page", ["README.md", "CHANGELOG.md", *sorted(f"docs/{p.name}" for p in DOCS.glob("*.md"))])
def test_every_link_of_a_page_leads_somewhere(page: str) -> None:
    path = ROOT / page
    targets = re.findall(r"\]\(([^)#\s]+)[^)]*\)", path.read_text(encoding="utf-8"))
    local = [t for t in targets if not t.startswith(("http://", "https://", "mailto:"))]
    assert_none([target for target in local if not (path.parent / target).exists()])


def test_every_parameter_of_a_physics_function_is_in_the_nomenclature() -> None:
    page = (DOCS / "nomenclature.md").read_text(encoding="utf-8")
    listed = set(re.findall(r"(?m)^\| `(\w+)`", page))
    used = {
        (p, module.where)
        for module in modules()
        if module.room == "physics" and not module.name.endswith(".guards")
        for name, function in functions(module)
        if is_public(name) and "." not in name
        for p in parameters(function)
    }
    assert len(used) > 50
    assert_none(sorted(f"{where}: {name}" for name, where in used if name.lstrip("*") not in listed))


def test_every_toml_example_in_the_docs_can_be_read() -> None:
    seen = 0
    for page in DOCS.glob("*.md"):
        for block in re.findall(r"```toml\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL):
            assert isinstance(tomllib.loads(block), dict)
            seen += 1
    assert seen > 2


def test_the_survey_of_the_quickstart_can_be_used(tmp_path: Path) -> None:
    if find_spec("airtally.house.survey") is None:
        pytest.skip("the survey's reader is not written yet")
    from airtally.errors import Severity
    from airtally.house.survey import read_survey

    page = (DOCS / "quickstart.md").read_text(encoding="utf-8")
    block = re.search(r"```toml\n(.*?)```", page, re.DOTALL)
    assert block is not None
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "living.csv").write_text("time,pm25\n", encoding="utf-8")
    (tmp_path / "survey.toml").write_text(block.group(1), encoding="utf-8")
    house = read_survey(tmp_path / "survey.toml")
    assert_none([p.sentence() for p in house.problems if p.severity is not Severity.NOTE])
    assert [z.id for z in house.zones] == ["rooms"]


def test_every_verb_of_the_makefile_is_listed_by_make() -> None:
    text = (ROOT / "Makefile").read_text(encoding="utf-8")
    phony = re.search(r"(?m)^\.PHONY: (.+)$", text)
    assert phony is not None
    verbs = set(phony.group(1).split()) - {"help"}
    assert verbs == set(re.findall(r"make (\w+) {2,}", text))
    assert verbs == {"demo", "test", "bench", "recovery", "look", "check", "fmt"}


def test_every_program_that_make_starts_exists() -> None:
    text = (ROOT / "Makefile").read_text(encoding="utf-8")
    ours = [m for m in re.findall(r"-m ([\w.]+)", text) if m.split(".")[0] in ("tests", "benchmarks")]
    assert len(ours) >= 3
    paths = {m: ROOT / Path(*m.split(".")) for m in ours}
    assert_none([m for m, p in paths.items() if not p.with_suffix(".py").exists() and not (p / "__main__.py").exists()])


def test_the_changelog_begins_with_the_numbers_that_changed() -> None:
    headings = re.findall(r"(?m)^### (.+)$", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"))
    assert headings[0] == "Numbers that changed"
    assert PACKAGE.exists()
