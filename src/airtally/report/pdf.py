"""The customer report as a tagged PDF: the pages' data through a template, fonts embedded, nothing else read."""

from __future__ import annotations

import json
from datetime import datetime
from importlib.resources import files
from pathlib import Path
from typing import Literal

import typst

from airtally.errors import InputError
from airtally.record import JobRecord
from airtally.report.drawing import font_folder
from airtally.report.pages import report_pages

Paper = Literal["a4", "us-letter"]


def report_pdf(record: JobRecord, *, paper: Paper = "us-letter") -> bytes:
    """Return the report of a record as PDF/UA-1, tagged, fonts embedded.

    Parameters
    ----------
    record : JobRecord
        The texts in it reach the template as data only: no text of a user is ever read as markup.
    paper : str
        ``a4`` or ``us-letter``.

    Raises
    ------
    InputError
        If the paper is not one of the two.
    """
    if paper not in ("a4", "us-letter"):
        raise InputError(f"paper must be a4 or us-letter; got {paper!r}")
    text = json.dumps(report_pages(record) | {"paper": paper}, ensure_ascii=False)
    # The typesetter reads "Semi Condensed" in a family's name as its width and files the family under the rest.
    text = text.replace("'Barlow Semi Condensed'", "'Barlow'")
    template = Path(str(files("airtally.report").joinpath("report.typ")))
    ended = datetime.fromisoformat(record.document["job"]["period"]["end"])
    made = typst.compile(
        template,
        root=template.parent,
        font_paths=[font_folder()],
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"pages": text},
        pdf_standards=["ua-1"],
        # The record's own end, so that one record always gives the same file.
        timestamp=int(ended.timestamp()),
    )
    return bytes(made)


def write_report(record: JobRecord, path: Path, *, paper: Paper = "us-letter") -> None:
    """Write the report; the file is whole or is not there."""
    draft = path.with_name(path.name + ".draft")
    draft.write_bytes(report_pdf(record, paper=paper))
    draft.replace(path)
