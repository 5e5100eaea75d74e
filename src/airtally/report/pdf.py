"""A template and its data as a tagged PDF: fonts embedded, nothing else read."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import typst

from airtally.errors import InputError
from airtally.report.drawing import font_folder

Size = Literal["a4", "us-letter"]


def typeset(template: str, data: Mapping[str, Any], paper: Size, moment: str) -> bytes:
    """Return a template filled with data, as PDF/UA-1.

    Parameters
    ----------
    template : str
        Name of a file in ``report/typst``.
    data : mapping
        Plain data; the template reads it as text, never as markup.
    paper : str
        ``a4`` or ``us-letter``.
    moment : str
        Moment that the file carries as its making, ISO 8601: of the record, so that one record gives one file.

    Raises
    ------
    InputError
        If the paper is not one of the two.
    """
    if paper not in ("a4", "us-letter"):
        raise InputError(f"paper must be a4 or us-letter; got {paper!r}")
    text = json.dumps({**data, "paper": paper}, ensure_ascii=False)
    # The typesetter reads "Semi Condensed" in a family's name as its width and files the family under the rest.
    text = text.replace("'Barlow Semi Condensed'", "'Barlow'")
    path = Path(str(files("airtally.report").joinpath("typst", template)))
    made = typst.compile(
        path,
        root=path.parent,
        font_paths=[font_folder()],
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"pages": text},
        pdf_standards=["ua-1"],
        timestamp=int(datetime.fromisoformat(moment).timestamp()),
    )
    return bytes(made)
