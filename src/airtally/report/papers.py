"""The papers of a job: each over the same record and the same texts, with a template of its own, as a tagged PDF."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from airtally.errors import InputError
from airtally.record import JobRecord
from airtally.report.commissioning import commissioning_part
from airtally.report.customer import customer_part
from airtally.report.filter_plan import filter_plan_part
from airtally.report.pages import head_part, report_pages
from airtally.report.pdf import Size, typeset
from airtally.report.plain_words import readable
from airtally.report.plans import Page
from airtally.report.work_order import work_order_part

Part = Callable[[JobRecord, Mapping[str, Any] | None], Page]
"""Makes a paper's own data from a record and, where they are at hand, its texts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """One kind of paper.

    Attributes
    ----------
    name : str
        In addresses and commands.
    title : str
        At its head and on screens.
    file : str
        Name of its file in a job's folder.
    about : str
        What it is for, in a line.
    """

    name: str
    title: str
    file: str
    about: str
    part: Part

    @property
    def template(self) -> str:
        """Return the name of its template."""
        return f"{self.name.replace('-', '_')}.typ"


def _customer(record: JobRecord, texts: Mapping[str, Any] | None) -> Page:
    return customer_part(texts or report_pages(record), record.document)


def _appendix(record: JobRecord, texts: Mapping[str, Any] | None) -> Page:
    return dict(texts or report_pages(record))


PAPERS = (
    Paper(
        name="customer", title="Customer report", file="report.pdf", part=_customer,
        about="Four pages at most, in plain words: safety, what was found and done, did it work, what could come next.",
    ),
    Paper(
        name="appendix", title="Technical appendix", file="appendix.pdf", part=_appendix,
        about="Every number with unit, range, basis and source; limits, tests, method, digests.",
    ),
    Paper(
        name="work-order", title="Work order", file="work-order.pdf",
        part=lambda record, _: work_order_part(record.document),
        about="What to do in the order of the stages, what each work waits for, the hookup, what to measure again.",
    ),
    Paper(
        name="commissioning", title="Commissioning sheet", file="commissioning-sheet.pdf",
        part=lambda record, _: commissioning_part(record),
        about="A numbered blank for every reading to take at test-out, with test-in, state and limit beside it.",
    ),
    Paper(
        name="filter-plan", title="Filter plan", file="filter-plan.pdf",
        part=lambda record, _: filter_plan_part(record.document),
        about="Which filter, where, when and by which reading it is changed, with a log to fill in.",
    ),
)  # fmt: skip
"""In the order in which they are handed over."""
REPORT = ("customer", "appendix")
"""Papers of the report."""


def paper_of(name: str) -> Paper:
    """Return a kind of paper by its name.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    found = next((one for one in PAPERS if one.name == name), None)
    if found is None:
        raise InputError(f"there is no paper {name!r}; there are {', '.join(one.name for one in PAPERS)}")
    return found


def paper_pdf(
    record: JobRecord, name: str, *, paper: Size = "us-letter", texts: Mapping[str, Any] | None = None
) -> bytes:
    """Return one paper of a record as PDF/UA-1, tagged, fonts embedded.

    Parameters
    ----------
    record : JobRecord
        The texts in it reach the template as data only: no text of a user is ever read as markup.
    name : str
        Of :data:`PAPERS`.
    paper : str
        ``a4`` or ``us-letter``.
    texts : mapping, optional
        The record's texts where they are at hand, :func:`airtally.report.pages.report_pages`; else they are made.

    Raises
    ------
    InputError
        If there is no such paper or size.
    """
    kind = paper_of(name)
    head = head_part(record) | {"name": kind.title, "title": f"{kind.title}: {record.document['job']['home']}"}
    data = readable(head | kind.part(record, texts))
    return typeset(kind.template, data, paper, record.document["job"]["period"]["end"])


def write_papers(
    record: JobRecord, folder: Path, *, paper: Size = "us-letter", names: tuple[str, ...] = REPORT
) -> list[Path]:
    """Write papers of a record to a folder under the names of their files; each file is whole or is not there."""
    texts = report_pages(record)

    def write(name: str) -> Path:
        path = folder / paper_of(name).file
        draft = path.with_name(path.name + ".draft")
        draft.write_bytes(paper_pdf(record, name, paper=paper, texts=texts))
        return draft.replace(path)

    with ThreadPoolExecutor() as pool:  # the typesetter leaves the interpreter free while it works
        return list(pool.map(write, names))
