"""What every drawing of a report has: its words and table, the colours of the page, the report's own fonts."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

INK, INK_2, RULE, HAIR, LEAF = "#1F1B16", "#554D42", "#A89D88", "#D5CBB6", "#FDFBF5"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """One figure with the words and numbers that stand for it.

    Attributes
    ----------
    svg : str
        The drawing, text kept as text.
    title : str
        Short title.
    sentence : str
        What the drawing shows, in one or two sentences: the text for those who do not see it.
    head, rows
        The table behind it.
    """

    svg: str
    title: str
    sentence: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def font_folder() -> Path:
    """Return the folder of the report's own fonts (OFL-1.1)."""
    return Path(str(files("airtally.report").joinpath("fonts")))
