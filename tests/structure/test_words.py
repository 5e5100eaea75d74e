"""Words: what may not be said to a reader, and what may not stand in a file of the project."""

from __future__ import annotations

import re
import subprocess
from functools import cache

import pytest

from .source import PACKAGE, ROOT, assert_none, modules, strings

PROMISE = re.compile(r"\bsafe(?:ly)?\b", re.IGNORECASE)
"""Nothing shown promises this: it says what was checked, against which limit and edition, and what was not."""

SHOWN_FILES = (".typ", ".toml", ".json", ".md", ".svg")
"""Texts outside Python that reach a reader."""

ORIGINS = re.compile(
    "|".join(
        (
            r"\btrans" r"cripts?\b",
            r"\bseed doc" r"uments?\b",
            r"\b(?:DESIGN|PRACTICE|STYLE|STACK(?:-\w+)?|LOOK)" r"\.md\b",
            r"\bCHECKS" r"(?:/| \w+ sections?\b| sections?\b)",
        )
    )
)
"""Working papers that do not travel with the project: a reader of the repository cannot open them."""

MACHINE = re.compile(r"(?<![\w.~<>*)}\]/-])/(?:work|tmp|home|root|Users|mnt)/\w|[A-Z]:\\\\?Users")
"""Paths of one machine."""

NOT_TEXT = {".ttf", ".png", ".gz", ".zip", ".pdf", ".npz", ".nbc", ".nbi", ".pyc", ".parquet"}


@cache
def project_files() -> dict[str, str]:
    """Return path -> text of every file that git knows or would add."""
    asked = ["git", "ls-files", "--cached", "--others", "--exclude-standard"]
    try:
        names = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, check=True).stdout.splitlines()  # noqa: S603 - our own words
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("not a git checkout")
    found = {}
    for name in names:
        path = ROOT / name
        if path.is_file() and path.suffix not in NOT_TEXT:
            found[name] = path.read_text(encoding="utf-8", errors="replace")
    return found


def lines_with(pattern: re.Pattern[str], files: dict[str, str]) -> list[str]:
    """Return ``file:line: words`` of every match."""
    return [
        f"{name}:{number}: {found.group()}"
        for name, text in files.items()
        for number, line in enumerate(text.splitlines(), start=1)
        for found in pattern.finditer(line)
    ]


def test_the_word_checks_see_the_words() -> None:
    assert lines_with(PROMISE, {"a": "it is safe to burn\nsafety first\nwork safely"}) == ["a:1: safe", "a:3: safely"]
    assert lines_with(MACHINE, {"a": "open /tm" + "p/x\nhttps://example.org/ho" + "me/x\n../shared/data"}) == [
        "a:1: /tm" + "p/x"
    ]
    assert lines_with(ORIGINS, {"a": "see PRACTICE" + ".md\nthe trans" + "cript says\nDESIGN of a duct"}) == [
        "a:1: PRACTICE" + ".md",
        "a:2: trans" + "cript",
    ]


def test_no_string_of_the_program_promises_what_no_tool_can() -> None:
    said = [f"{m.at(node)}: {text!r}" for m in modules() for node, text in strings(m) if PROMISE.search(text)]
    assert_none(said)


def test_no_template_table_or_schema_promises_what_no_tool_can() -> None:
    shown = {
        p.relative_to(ROOT).as_posix(): p.read_text(encoding="utf-8")
        for p in sorted(PACKAGE.rglob("*"))
        if p.suffix in SHOWN_FILES
    }
    assert any(name.endswith(".typ") for name in shown)
    assert_none(lines_with(PROMISE, shown))


def test_no_page_of_the_docs_promises_what_no_tool_can() -> None:
    pages = {n: t for n, t in project_files().items() if n.endswith(".md")}
    assert "README.md" in pages
    assert_none(lines_with(PROMISE, pages))


def test_no_file_points_to_papers_that_do_not_travel_with_it() -> None:
    assert_none(lines_with(ORIGINS, project_files()))


def test_no_file_holds_a_path_of_one_machine() -> None:
    assert_none(lines_with(MACHINE, project_files()))
