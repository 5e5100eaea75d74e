"""Texts of a record made fit to print: keys of the visit in words, printed units, true minus signs.

A record may name a reading by its key and write units in plain letters; on pages and papers nobody should meet either.
"""

from __future__ import annotations

import re
from typing import Any

from airtally.report import words
from airtally.visits.kinds import CHECKS, GATES, READING_KINDS

SHORT = {
    "cfm50": "house leakage at 50 Pa",
    "cfm25_total": "duct leakage at 25 Pa",
    "cfm25_outside": "duct leakage to outside at 25 Pa",
    "cfm25_return": "return leakage at 25 Pa",
    "cfm25_supply": "supply leakage at 25 Pa",
    "tesp": "total external static",
    "co_ambient": "CO in the air",
    "co_flue": "CO in the flue",
    "co_flue_as_measured": "CO in the flue as measured",
}
"""Keys that do not read as words with their underscores taken away."""
_KEYS = {
    key: SHORT.get(key, key.replace("_", " "))
    for key in (*READING_KINDS, *CHECKS, *GATES)
    if "_" in key or key in SHORT
}
_KEY = re.compile(rf"(?<![\w.\[/])(?:{'|'.join(sorted(_KEYS, key=len, reverse=True))})(?![\w\[]|\.\w)")
_UNIT = re.compile(r"(?<![\w.])(?:ug/m3|m3/h|Bq/m3|ft2|ft3|degC|degF|inH2O)(?!\w)|(?<=/100 )ft2(?!\w)")
_HYPHEN_MINUS = re.compile(r"(?<![\w.,)\]\u2212-])-(?=\d)")
DRAWN = "svg"
"""Key of a drawing, which is no text."""


def readable(value: Any) -> Any:
    """Return plain data with every text in it fit to print; drawings are left alone."""
    if isinstance(value, str):
        return readable_text(value)
    if isinstance(value, dict):
        return {key: entry if key == DRAWN else readable(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [readable(entry) for entry in value]
    return value


def readable_text(text: str) -> str:
    """Return one text fit to print."""
    text = _KEY.sub(lambda found: _KEYS[found.group(0)], text)
    text = _UNIT.sub(lambda found: words.unit_word(found.group(0)), text)
    return _HYPHEN_MINUS.sub(words.MINUS, text)
