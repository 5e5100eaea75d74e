"""Emission events: when something was given off, how much, and what kind it probably was."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Booleans, Floats, Integers
from airtally.house.parts import ApplianceKind, DiaryEntry, House, ZoneKind
from airtally.inference.event_diary import is_kept, nearness, runs_for_hours
from airtally.inference.event_habits import with_habits
from airtally.inference.event_marks import Mark, marks_of, rooms_of
from airtally.inference.likelihood import Path
from airtally.inference.prepare import Prepared
from airtally.readings.log import Log


class Source(StrEnum):
    """What particles come from; the keys of the record's source shares."""

    OUTDOOR = "outdoor"
    SOLID_FUEL = "solid_fuel"
    COOKING = "cooking"
    CANDLE_INCENSE = "candle_incense"
    GARAGE = "garage"
    HOBBY = "hobby"
    RESUSPENSION = "resuspension"
    DUCT_DUST = "duct_dust"
    BUFFER_SPACE = "buffer_space"
    OTHER = "other"


EVENT_KINDS = (
    Source.COOKING,
    Source.SOLID_FUEL,
    Source.HOBBY,
    Source.CANDLE_INCENSE,
    Source.GARAGE,
    Source.RESUSPENSION,
    Source.OTHER,
)
"""Kinds an indoor event can be; the rest reach the rooms without events."""

SMALLEST_RISE = 3.0
"""Rises below this are not called events but part of the quiet sources. [ug/m3]; own choice"""
JOIN_SECONDS = 1200.0
"""Bursts closer than this are one event; own choice."""
LULL = 0.5
"""A longer stretch that gives off less than this share of what was before and of what comes after parts a burst in two.
[-]; judgement"""

DIARY_WORDS: tuple[tuple[str, Source], ...] = (
    ("cook", Source.COOKING),
    ("fry", Source.COOKING),
    ("toast", Source.COOKING),
    ("dinner", Source.COOKING),
    ("breakfast", Source.COOKING),
    ("oven", Source.COOKING),
    ("fire", Source.SOLID_FUEL),
    ("stove", Source.SOLID_FUEL),
    ("wood smoke", Source.SOLID_FUEL),
    ("turning", Source.HOBBY),
    ("woodturn", Source.HOBBY),
    ("sanding", Source.HOBBY),
    ("workshop", Source.HOBBY),
    ("hobby", Source.HOBBY),
    ("candle", Source.CANDLE_INCENSE),
    ("incense", Source.CANDLE_INCENSE),
    ("car", Source.GARAGE),
    ("garage", Source.GARAGE),
    ("vacuum", Source.RESUSPENSION),
    ("clean", Source.RESUSPENSION),
    ("dust", Source.RESUSPENSION),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One emission event.

    Attributes
    ----------
    first, last : int
        Steps it covers, both included.
    start : float
        Beginning. [s, POSIX UTC]
    duration : float
        [s]
    rise : float
        Rise of the room mean. [kg/m3]
    mass : float64 array, shape (draws,)
        Emitted PM2.5. [kg]
    kinds : tuple of (Source, float)
        Probability of each kind, most probable first.
    """

    first: int
    last: int
    start: float
    duration: float
    rise: float
    mass: Floats
    kinds: tuple[tuple[Source, float], ...]


def find_spans(prepared: Prepared, path: Path, rate: Floats, level: Floats) -> list[tuple[int, int, float]]:
    """Return first step, last step and rise [ug/m3] of each burst on the most probable path.

    Parameters
    ----------
    path : Path
        Its first row is used.
    rate, level : float64 arrays, shape (steps,)
        Emission rate over volume [ug/m3/h] and room level [ug/m3] of that path.
    """
    steps = prepared.steps
    quiet = float(np.median(rate))
    deviation = float(np.median(np.abs(rate - quiet))) * 1.4826 + 1e-9
    burst: Booleans = (path.chance[0] > 0.5) | (rate > quiet + max(8.0 * deviation, 6.0))
    marked = np.flatnonzero(burst)
    if marked.size == 0:
        return []
    join = max(int(JOIN_SECONDS / prepared.step), 1)
    breaks = np.flatnonzero(np.diff(marked) > join)
    firsts = marked[np.r_[0, breaks + 1]]
    lasts = marked[np.r_[breaks, marked.size - 1]]
    spans = []
    after = max(int(600.0 / prepared.step), 1)
    whole = zip(firsts.tolist(), lasts.tolist(), strict=True)
    for first, last in (part for one in whole for part in _parted(*one, rate, join)):
        before = float(np.min(level[max(first - 3, 0) : first + 1]))
        rise = float(np.max(level[first : min(last + after, steps)])) - before
        if rise >= SMALLEST_RISE:
            spans.append((first, last, rise))
    return spans


def _parted(first: int, last: int, rate: Floats, join: int) -> list[tuple[int, int]]:
    """Return a burst in parts where a lull lies between two stretches that each give off far more.

    An in-duct monitor that sees the rooms once an hour finds supper and the workshop after it in one burst.
    """
    part = rate[first : last + 1]
    lower = np.minimum(np.maximum.accumulate(part), np.maximum.accumulate(part[::-1])[::-1])
    edges = np.flatnonzero(np.diff(np.r_[False, part < LULL * lower, False]))
    ends = [
        first + end for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True) if end - begin > join
    ]
    return list(zip([first, *ends], [end - 1 for end in ends] + [last], strict=True))


def classify(
    prepared: Prepared, house: House, log: Log, spans: list[tuple[int, int, float]]
) -> list[tuple[tuple[Source, float], ...]]:
    """Return for each burst the probability of each kind.

    Three things are weighed. *Habit*: what a burst of that hour usually is, at first by common practice, then as the
    household's own bursts of that hour and weekday turn out. *Marks*: the rooms that rose, what rose along, size, length,
    weather and dated works. *Diary*: what it names, and what it leaves unsaid.
    """
    if not spans:
        return []
    marks = marks_of(prepared, house, log, spans)
    has = _Has.of(house)
    common = np.array([[_common(kind, mark, has) for kind in EVENT_KINDS] for mark in marks])
    seen = np.array([[_marked(kind, mark, has) for kind in EVENT_KINDS] for mark in marks])
    found = with_habits(common, seen + _written(house.diary, marks), marks)
    return [tuple(sorted(zip(EVENT_KINDS, row.tolist(), strict=True), key=lambda pair: -pair[1])) for row in found]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Has:
    """What the survey says can give off particles."""

    fire: bool
    garage: bool
    hobby_room: bool
    gas_range: bool
    hearth_in_kitchen: bool

    @classmethod
    def of(cls, house: House) -> _Has:
        """Read it from a house."""
        hobby, kitchen, hearth = rooms_of(house)
        return cls(
            fire=bool(hearth),
            garage=any(zone.kind is ZoneKind.GARAGE for zone in house.zones),
            hobby_room=bool(hobby),
            gas_range=any(one.kind is ApplianceKind.RANGE for one in house.appliances),
            hearth_in_kitchen=bool(hearth & kitchen),
        )


def _common(kind: Source, mark: Mark, has: _Has) -> float:
    """Return the log odds of a kind by hour and house alone; judgement throughout, rules of thumb of the trade."""
    hour = mark.hour
    if kind is Source.COOKING:  # every household cooks daily, at meals
        meal = min(abs(hour - 7.5) / 1.2, abs(hour - 12.5) / 1.2, abs(hour - 18.2) / 1.5)
        return 1.0 + (1.2 if meal < 1.0 else -0.5 if meal < 2.0 else -1.5)
    if kind is Source.SOLID_FUEL:  # fires are lit of an evening, some at dawn
        return (0.0 if has.fire else -5.0) + (1.0 if hour >= 16.5 else 0.3 if 5.0 <= hour <= 9.0 else -1.0)
    if kind is Source.HOBBY:  # a room for it is no rarer used where nobody hung a monitor
        return -1.0 if has.hobby_room else -3.5
    if kind is Source.CANDLE_INCENSE:
        return -1.5 + (0.5 if 17.0 <= hour <= 23.0 else -0.5)
    if kind is Source.GARAGE:
        return -1.5 if has.garage else -6.0
    if kind is Source.RESUSPENSION:  # cleaning and walking, by day
        return -1.5 + (0.3 if 9.0 <= hour <= 17.0 else -0.5)
    return -1.0


def _marked(kind: Source, mark: Mark, has: _Has) -> float:
    """Return the shift of the log odds of a kind by what stands beside a burst; judgement where no source is named."""
    odds = 0.0
    if kind is Source.COOKING:
        odds += 0.4 if mark.minutes <= 45.0 else -0.6  # a meal is cooked within the hour
        # A gas flame gives off carbon dioxide with every meal; an electric range does not, but people gather.
        odds += 2.5 * _along(mark.co2) if has.gas_range else 0.5 * max(_along(mark.co2), 0.0)
        odds += 1.5 * _along(mark.moisture)  # food and flame give off water; a fire's goes up its chimney
        odds += 0.3 * _along(mark.voc)  # non-specific, so a clue only
        odds += _doublings(mark.kitchen, 1.0, -1.5, 0.5)  # the kitchen rises first and most
    elif kind is Source.SOLID_FUEL:
        odds += 0.6 if mark.is_cold else -1.0
        odds += 0.6 if mark.minutes > 45.0 else 0.0  # light-up, reloads and die-down take an evening
        odds += 1.0 if mark.co > 3e-6 else 0.0
        odds += 3.0 if mark.flue > 15.0 else -2.0 if mark.flue < 3.0 else 0.0  # a stove that stays cold does not burn
        odds += 0.5 * max(_along(mark.warmth), 0.0)
        if has.hearth_in_kitchen:
            odds += _doublings(mark.kitchen, 1.0, -1.5, 0.5)
    elif kind is Source.HOBBY:
        odds += 3.0 * _doublings(mark.hobby_room, 1.5, -0.5, 1.0)  # its own room rises first and most
        odds += 0.6 if mark.minutes > 45.0 else 0.0  # an hour or two at the bench
    elif kind is Source.CANDLE_INCENSE:
        odds += -1.0 if mark.rise > 40.0 else 0.0
    elif kind is Source.GARAGE:
        odds += (1.5 if mark.co > 3e-6 else 0.0) + 0.5 * _along(mark.voc)
    elif kind is Source.RESUSPENSION:
        # Cutting, drilling and sweeping go on all day; nothing else a household does is so sure to raise dust.
        odds += 4.0 if mark.in_works else 1.0 if mark.after_works else 0.0
        odds += (-1.0 if mark.rise > 25.0 else 0.3) if not mark.in_works else 0.0
    # Dust is coarse, smoke and cooking are fine: sanding and turning give PM10 of 3 to 10 times their PM2.5.
    dusty = _doublings(mark.coarse, 1.0, -1.0, 1.0)
    return odds + (1.5 * dusty if kind in (Source.HOBBY, Source.RESUSPENSION) else 0.0)


def _along(times_usual: float) -> float:
    """Return -1 for a quantity that stayed as it was, 0 at twice its usual change, 1 from four times on; 0 if unknown."""
    return float(np.clip((times_usual - 2.0) / 2.0, -1.0, 1.0)) if np.isfinite(times_usual) else 0.0


def _doublings(ratio: float, even: float, low: float, high: float) -> float:
    """Return how often a ratio doubles the one that tells nothing, within limits; 0 if unknown. [-]"""
    return float(np.clip(np.log2(max(ratio, 1e-3) / even), low, high)) if np.isfinite(ratio) else 0.0


NAMED, NAMED_FOR_HOURS = 3.0, 2.0
"""Log odds for a kind that the diary names beside a burst: twenty to one; less where the entry runs for hours, as a meal
may be cooked within it. Judgement."""
UNSAID = {Source.SOLID_FUEL: (-1.5, -3.0), Source.HOBBY: (-0.3, -0.7), Source.CANDLE_INCENSE: (-0.3, -0.7)}
"""Log odds for a kind that a kept diary does not name: where it hardly ever names it, and where it often does. Fires are
the first thing a household is asked to write down, hobbies and candles are written half of the time, and cooking only
where it was of note. Judgement."""
ASHES = 1.0
"""Log odds for a fire of a burst that may be its ashes: 5 to 50 mg in minutes, as much as a whole meal. Judgement."""
OFTEN = 3
"""Entries from which on a household is one that writes a thing down. Judgement."""


def _written(diary: tuple[DiaryEntry, ...], marks: list[Mark]) -> Floats:
    """Return the shift of the log odds by what the diary names, and by what a kept one leaves unsaid."""
    shift = np.zeros((len(marks), len(EVENT_KINDS)))
    kept = np.array([is_kept(diary, mark.time) for mark in marks])
    begin, end = np.array([mark.time for mark in marks]), np.array([mark.until for mark in marks])
    for column, kind in enumerate(EVENT_KINDS):
        entries = [e for e in diary if source_named(f"{e.kind} {e.text}") is kind]
        near = nearness(entries, begin, end)
        beside = nearness([e for e in entries if not runs_for_hours(e)], begin, end)
        unsaid = UNSAID.get(kind, (0.0, 0.0))[len(entries) >= OFTEN]
        ashes = np.array([kind is Source.SOLID_FUEL and _may_be_ashes(mark, entries) for mark in marks])
        shift[:, column] = np.maximum(NAMED_FOR_HOURS * near, NAMED * beside)
        shift[:, column] += np.where(ashes, ASHES, np.where(kept, unsaid * (1.0 - near), 0.0))
    return shift


def _may_be_ashes(mark: Mark, fires: list[DiaryEntry]) -> bool:
    """Return whether a burst may be the ashes of a fire: short, by day, and the fire was lit 8 to 24 hours before."""
    by_day = 6.0 <= mark.hour < 16.0 and mark.minutes <= 20.0
    return by_day and any(8.0 * 3600.0 <= mark.time - fire.start <= 24.0 * 3600.0 for fire in fires)


def drawn_kinds(kinds: list[tuple[tuple[Source, float], ...]], shift: Floats, rng: np.random.Generator) -> Integers:
    """Return a kind for every draw and event.

    Parameters
    ----------
    kinds : list
        Probability of each kind, event by event.
    shift : float64 array, shape (draws, kinds)
        Added to the log odds of every event of a draw. [-]
    rng : numpy Generator

    Returns
    -------
    drawn : int64 array, shape (draws, events)
        Index into ``EVENT_KINDS``.
    """
    drawn = np.zeros((shift.shape[0], len(kinds)), dtype=np.int64)
    for index, chances in enumerate(kinds):
        chance = np.zeros(len(EVENT_KINDS))
        for kind, share in chances:
            chance[EVENT_KINDS.index(kind)] = share
        tilted = chance * np.exp(shift)
        below = np.cumsum(tilted / tilted.sum(axis=1, keepdims=True), axis=1)
        drawn[:, index] = np.minimum((rng.random((shift.shape[0], 1)) > below).sum(axis=1), len(EVENT_KINDS) - 1)
    return drawn


def draw_quiet_kinds(
    drawn: Integers, masses: tuple[Floats, ...], hours: float, rng: np.random.Generator
) -> NDArray[np.int8]:
    """Return the kind of what is given off outside events, hour by hour.

    What is too small to be called an event comes in part from the same sources as the events; in which part nobody
    can tell from PM2.5, so each draw has its own, even from nothing to all, and the most probable draw half.

    Parameters
    ----------
    drawn : int64 array, shape (draws, events)
        Kind of each event.
    masses : tuple of float64 array, shape (draws,)
        Emitted in each event. [kg]
    hours : float
        Length of the record. [h]
    rng : numpy Generator

    Returns
    -------
    kinds : int8 array, shape (draws, hours)
        Index into ``EVENT_KINDS``.
    """
    draws = drawn.shape[0]
    other = EVENT_KINDS.index(Source.OTHER)
    share = np.zeros((draws, len(EVENT_KINDS)))
    for index, mass in enumerate(masses):
        np.add.at(share, (np.arange(draws), drawn[:, index]), mass)
    total = share.sum(axis=1, keepdims=True)
    share = np.divide(share, total, out=np.zeros_like(share), where=total > 0.0)
    part = np.asarray(rng.random(draws))
    part[0] = 0.5
    chance = share * part[:, None]
    chance[:, other] += 1.0 - chance.sum(axis=1)
    below: Floats = np.cumsum(chance, axis=1)
    picks: Floats = rng.random((draws, int(np.ceil(hours)) + 1))
    kinds = np.empty(picks.shape, dtype=np.int8)
    for d in range(draws):
        kinds[d] = np.minimum(np.searchsorted(below[d], picks[d], side="right"), len(EVENT_KINDS) - 1)
    return kinds


def source_named(text: str) -> Source | None:
    """Return the source that a diary's words name, None if none; a word counts from its beginning on."""
    said = text.lower()
    # "car" has to stand alone: carpets and cards are no cars.
    patterns = ((r"\bcars?\b" if word == "car" else rf"\b{word}", source) for word, source in DIARY_WORDS)
    return next((source for pattern, source in patterns if re.search(pattern, said)), None)
