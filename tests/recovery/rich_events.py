"""Events found beside the events that were: how rises are counted and what is a match."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from airtally.arrays import Floats
from airtally.demo.aerosols import SOURCES
from airtally.inference.events import Source

LEAST_RISE = 10.0
"""Events that count raise the mean of the occupied rooms by this at least. [ug/m3]"""
NEAR = 20.0 * 60.0
"""Begins this close are a match even where the two do not overlap. [s]"""
AFTER = 30.0 * 60.0
"""How long after its end an event's own particles may still be spreading to the other rooms. [s]"""
KINDS = {
    "solid_fuel": (Source.SOLID_FUEL,),
    "cooking": (Source.COOKING,),
    "candle_incense": (Source.CANDLE_INCENSE,),
    "garage": (Source.GARAGE,),
    "resuspension": (Source.RESUSPENSION,),
    "workshop": (Source.HOBBY,),
    "works": (Source.OTHER, Source.RESUSPENSION),
}
"""The simulation's sources and the kinds of the fit that name each."""


@dataclass(frozen=True)
class Burst:
    """One event, true or found: ``start``, ``end`` [s, POSIX UTC], ``rise`` [ug/m3], the kinds that name it."""

    start: float
    end: float
    rise: float
    kinds: tuple[Source, ...]

    def meets(self, other: Burst) -> bool:
        """Say whether the two overlap, or begin within 20 minutes of one another."""
        return abs(self.start - other.start) <= NEAR or (self.start <= other.end and other.start <= self.end)


@dataclass(frozen=True)
class EventCount:
    """``true`` events of 10 ug/m3 and more, how many of them were ``seen``, of those ``named``; ``found`` and ``real``."""

    true: int
    seen: int
    named: int
    found: int
    real: int


def true_bursts(events: list[dict[str, Any]], time: Floats, by_source: Floats) -> list[Burst]:
    """Return the simulation's events with the rise that each made by itself.

    The rise is that of the mean of the occupied rooms by particles of the event's own source alone: the
    highest minute from its begin to half an hour after its end, less the minute before it begins. Events of
    one source that overlap or follow within 20 minutes are one, as their particles cannot be told apart.
    """
    spans: list[tuple[float, float, str]] = []
    for event in sorted(events, key=lambda e: (str(e["source"]), str(e["start"]))):
        start = datetime.fromisoformat(event["start"]).timestamp()
        end = start + 60.0 * float(event["minutes"])
        if spans and spans[-1][2] == event["source"] and start <= spans[-1][1] + NEAR:
            start, end = spans[-1][0], max(end, spans.pop()[1])
        spans.append((start, end, str(event["source"])))
    found = []
    for start, end, source in spans:
        level = by_source[:, SOURCES.index(source)]
        first, last = (int(np.searchsorted(time, at)) for at in (start, end + AFTER))
        before = float(level[max(first - 1, 0)])
        rise = float(level[first : max(last, first + 1)].max(initial=before)) - before
        found.append(Burst(start=start, end=end, rise=rise, kinds=KINDS[source]))
    return sorted(found, key=lambda burst: burst.start)


def count_events(true: list[Burst], found: list[Burst], since: float, until: float) -> EventCount:
    """Return how the found events stand beside the true ones that begin in a window [s, POSIX UTC].

    A true event of 10 ug/m3 or more is *seen* if any found event meets it, whatever rise the fit gives that
    one; it is *named* if the most probable kind of the found event that overlaps it longest (of several
    that do not overlap: begins nearest) is its own. A found event of 10 ug/m3 or more is *real* if it meets any true
    event of at least half that rise, so that a rise of 11 read for one of 9 is no false alarm. One found event may
    stand for several true ones, and several found ones for one (a fire and its reloads).
    """
    heavy = [b for b in true if b.rise >= LEAST_RISE and since <= b.start < until]
    likely = [b for b in true if b.rise >= 0.5 * LEAST_RISE]
    claimed = [b for b in found if b.rise >= LEAST_RISE and since <= b.start < until]
    seen = named = 0
    for burst in heavy:
        met = [b for b in found if b.meets(burst)]
        if met:
            best = max(met, key=lambda b: (max(_overlap(b, burst), 0.0), -abs(b.start - burst.start)))
            seen += 1
            named += best.kinds[0] in burst.kinds
    return EventCount(
        true=len(heavy),
        seen=seen,
        named=named,
        found=len(claimed),
        real=sum(any(b.meets(t) for t in likely) for b in claimed),
    )


def _overlap(one: Burst, other: Burst) -> float:
    return min(one.end, other.end) - max(one.start, other.start)
