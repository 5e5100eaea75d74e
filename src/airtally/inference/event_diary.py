"""How near a diary's entries come to a burst, and whether the diary was kept then; times may be wrong by an hour or two."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from airtally.arrays import Floats
from airtally.house.parts import DiaryEntry

SURE_WITHIN, SPENT_AT = 1200.0, 10800.0
"""An entry this near counts in full, and one this far not at all: people round, and err by an hour or two. [s] Judgement."""
USUAL_LENGTH, HOURS = 3600.0, 7200.0
"""Length of what was written without an end, and the length from which more than one thing fits in. [s] Judgement."""
OF_ANOTHER = 0.33
"""What an entry with a burst beside it says of a burst farther off. [-] Judgement."""
KEPT_DAYS, KEPT_ENTRIES = 7.0 * 86400.0, 3
"""A diary with this many entries in the week around is kept: several a week. Judgement."""


def runs_for_hours(entry: DiaryEntry) -> bool:
    """Return whether an entry covers much of an evening, so that more than one thing may have happened in it."""
    return entry.end is not None and entry.end - entry.start > HOURS


def nearness(entries: Sequence[DiaryEntry], begin: Floats, end: Floats) -> Floats:
    """Return how near the nearest entry is to each burst: 1 beside it, 0 three hours off or more.

    A short entry that has a burst beside it is about that one, and says less of the others.

    Parameters
    ----------
    begin, end : float64 arrays, shape (bursts,)
        [s, POSIX UTC]
    """
    nearest = np.zeros(begin.size)
    for entry in entries:
        over = entry.end if entry.end is not None else entry.start + USUAL_LENGTH
        gap = np.maximum(np.maximum(entry.start - end, begin - over), 0.0)
        near = np.clip((SPENT_AT - gap) / (SPENT_AT - SURE_WITHIN), 0.0, 1.0)
        if not runs_for_hours(entry) and np.any(near == 1.0):
            near[near < 1.0] *= OF_ANOTHER
        nearest = np.maximum(nearest, near)
    return nearest


def is_kept(entries: Iterable[DiaryEntry], at: float) -> bool:
    """Return whether the household wrote several entries in the week around an instant [s, POSIX UTC]."""
    return sum(abs(entry.start - at) <= 0.5 * KEPT_DAYS for entry in entries) >= KEPT_ENTRIES
