"""Names of files that come from outside: what may become a path below a job's folder, on any system."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from itertools import count

from airtally.errors import InputError

RESERVED = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|com[0-9¹²³]|lpt[0-9¹²³])(\..*)?", re.IGNORECASE | re.DOTALL)
"""Names that Windows gives to devices, whatever ending follows."""
FORBIDDEN = re.compile(r'[<>:"|?*\\]')
"""What Windows takes in no name; a backslash parts folders there."""
LONGEST_PART = 200
"""Bytes of one name; most file systems take 255, and an export adds some while it writes."""
LONGEST = 400
DEEPEST = 8


def checked_name(name: str) -> str:
    """Return a path below a job's folder unchanged; raise InputError, naming why, if it is none on every system."""
    fault = _fault(name)
    if fault:
        raise InputError(f"the file name {name[:80]!r} cannot be used: {fault}. Rename the file")
    return name


def received_name(name: str) -> str:
    """Return the name under which an uploaded file is kept: its last part, with what no system takes put out.

    Nothing is refused: what a device calls a file must not keep its readings out.
    """
    last = re.split(r"[/\\]", unicodedata.normalize("NFKC", name))[-1]
    kept = "".join("_" if FORBIDDEN.match(c) or _is_hidden_letter(c) else c for c in last).strip(" .")
    while len(kept.encode()) > LONGEST_PART:
        kept = kept[: len(kept) // 2 - 1] + kept[len(kept) // 2 :]  # from the middle: the ending stays
    kept = kept or "file"
    return f"_{kept}" if _part_fault(kept) else kept


def name_key(name: str) -> str:
    """Return what two names share that some system cannot tell apart."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def free_names(name: str) -> Iterator[str]:
    """Yield a name, then with a number before its ending: ``logs/a.csv``, ``logs/a-2.csv``, ``logs/a-3.csv``."""
    yield name
    folder, slash, last = name.rpartition("/")
    stem, dot, ending = last.partition(".")
    yield from (f"{folder}{slash}{stem}-{number}{dot}{ending}" for number in count(2))


def _fault(name: str) -> str:
    parts = name.split("/")
    if len(name.encode("utf-8", errors="replace")) > LONGEST or len(parts) > DEEPEST:
        return f"it is longer than {LONGEST} bytes or deeper than {DEEPEST} folders"
    # A letter that some system turns into a dot or a slash is judged as that dot or slash.
    folded = unicodedata.normalize("NFKC", name)
    if folded.count("/") != name.count("/"):
        return "it holds a letter that can be taken for a slash"
    return next((fault for part in [*parts, *folded.split("/")] if (fault := _part_fault(part))), "")


def _part_fault(part: str) -> str:
    if not part:
        return "it is empty, begins or ends with a slash, or holds two in a row"
    if part.startswith("."):
        return "a part of it begins with a dot"
    if part[-1] in " ." or part[0] == " ":
        return "a part of it begins or ends with a space, or ends with a dot"
    if FORBIDDEN.search(part):
        return 'it holds one of < > : " | ? * \\'
    if any(_is_hidden_letter(letter) for letter in part):
        return "it holds a letter that cannot be seen"
    if RESERVED.fullmatch(part):
        return f"{part!r} is the name of a device on Windows"
    if len(part.encode()) > LONGEST_PART:
        return f"a part of it is longer than {LONGEST_PART} bytes"
    return ""


def _is_hidden_letter(letter: str) -> bool:
    """Return whether a letter is a control, a mark of direction, half a letter or of no alphabet."""
    return unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
