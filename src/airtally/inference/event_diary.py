"""How near a diary's entries come to a burst, and whether the diary was kept then; times may be wrong by an hour or two."""

from __future__ import annotations

from collections.abc import Iterable

from airtally.house.parts import DiaryEntry

SURE_WITHIN, SPENT_AT = 1200.0, 10800.0
"""An entry this near counts in full, and one this far not at all: people round, and err by an hour or two. [s] Judgement."""
USUAL_LENGTH = 3600.0
"""Length of what was written without an end. [s] Judgement."""
KEPT_DAYS, KEPT_ENTRIES = 7.0 * 86400.0, 3
"""A diary with this many entries in the week around is kept: several a week. Judgement."""


def nearness(entries: Iterable[DiaryEntry], begin: float, end: float) -> float:
    """Return how near the nearest entry is to a burst [s, POSIX UTC]: 1 beside it, 0 three hours off or more."""
    gaps = (
        max(entry.start - end, begin - (entry.end if entry.end is not None else entry.start + USUAL_LENGTH))
        for entry in entries
    )
    gap = min(gaps, default=SPENT_AT)
    return min(max((SPENT_AT - gap) / (SPENT_AT - SURE_WITHIN), 0.0), 1.0)


def is_kept(entries: Iterable[DiaryEntry], at: float) -> bool:
    """Return whether the household wrote several entries in the week around an instant [s, POSIX UTC]."""
    return sum(abs(entry.start - at) <= 0.5 * KEPT_DAYS for entry in entries) >= KEPT_ENTRIES
