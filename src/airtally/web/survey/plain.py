"""Words about the survey's text as a page says them: keys in words, yes and no, spaces instead of zones in brackets."""

from __future__ import annotations

import re

from airtally.house.tables import SECTIONS
from airtally.web.survey.places import noun_of, title_of

_SECTIONS = {section.path: section for section in SECTIONS}
_KEYS = sorted({field.key for section in SECTIONS for field in section.fields if "_" in field.key}, key=len)[::-1]
_KEY = re.compile(rf"(?<![\w.\"/])(?:[a-z_]+\.)?({'|'.join(_KEYS)})(?: = (true|false))?(?![\w\"=]|\.\w)")
_BRACKETS = re.compile(r"\[{1,2}([a-z_.]+)\]{1,2}")
_ANSWERS = {"true": "yes", "false": "no"}


def plain(text: str) -> str:
    """Return a text for whoever sees the form and not the survey's file; keys that are to be typed stay as they are."""
    text, typed, keys = text.partition("Keys: ")
    text = _BRACKETS.sub(_section, text)
    text = _KEY.sub(_key, text)
    text = text.replace("left out:", "left open:").replace("True marks", "Yes marks")
    text = re.sub(r"\b(else|open:) (true|false)\b", lambda found: f"{found[1]} {_ANSWERS[found[2]]}", text)
    return f"{text}{typed}{keys}"


def _section(found: re.Match[str]) -> str:
    section = _SECTIONS.get(found[1])
    if section is None:
        return found[0]
    return noun_of(section) if section.is_repeated else title_of(section)


def _key(found: re.Match[str]) -> str:
    words = found[1].removeprefix("is_").replace("_", " ")
    return f"{words}: {_ANSWERS[found[2]]}" if found[2] else words
