"""Emission events: when something was given off, how much, and what kind it probably was."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Booleans, Floats, Integers
from airtally.house.parts import DiaryEntry, House
from airtally.inference.grid import on_grid
from airtally.inference.likelihood import Path
from airtally.inference.prepare import Prepared
from airtally.quantities import Quantity
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
    for first, last in zip(firsts, lasts, strict=True):
        before = float(np.min(level[max(first - 3, 0) : first + 1]))
        rise = float(np.max(level[first : min(last + after, steps)])) - before
        if rise >= SMALLEST_RISE:
            spans.append((int(first), int(last), rise))
    return spans


def classify(
    prepared: Prepared, house: House, log: Log, spans: list[tuple[int, int, float]]
) -> list[tuple[tuple[Source, float], ...]]:
    """Return for each burst the probability of each kind.

    Hour, season, diary (whose times may be wrong by an hour and a half), which room rose first and
    what rose along (VOC, carbon dioxide, carbon monoxide, temperature) each shift log odds; the
    weights are common practice, no source, and issue from no data set.
    """
    context = _Context.of(prepared, house, log)
    found = []
    for first, last, rise in spans:
        odds = {kind: context.log_odds(kind, first, last, rise) for kind in EVENT_KINDS}
        top = max(odds.values())
        weight = {kind: float(np.exp(value - top)) for kind, value in odds.items()}
        total = sum(weight.values())
        ranked = sorted(((kind, value / total) for kind, value in weight.items()), key=lambda pair: -pair[1])
        found.append(tuple(ranked))
    return found


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Context:
    """What stands beside the particles: appliances, diary, other quantities, room by room levels."""

    time: Floats
    step: float
    hour: Floats
    outdoor_temperature: Floats
    has_fire: bool
    has_garage: bool
    workshop: Floats | None
    elsewhere: Floats | None
    voc: Floats | None
    co: Floats | None
    co2: Floats | None
    diary: tuple[DiaryEntry, ...]

    @classmethod
    def of(cls, prepared: Prepared, house: House, log: Log) -> _Context:
        """Gather it once for a house."""
        start = prepared.start

        def series(quantity: Quantity, wanted: set[str] | None = None) -> Floats | None:
            rows = []
            for stream in log.find(quantity):
                if wanted is None or stream.placement in wanted:
                    at, value = log.series(stream)
                    if at.size > 10:
                        rows.append(on_grid(at, value, start, prepared.step, prepared.steps))
            if not rows:
                return None
            stack = np.vstack(rows)
            count = np.isfinite(stack).sum(axis=0)
            return np.asarray(np.where(count > 0, np.nansum(stack, axis=0) / np.maximum(count, 1), np.nan))

        workshops = {z.id for z in house.zones if "workshop" in z.id.lower() or "workshop" in z.name.lower()}
        in_workshop = {p.id for p in house.placements if p.zone in workshops and p.air_side.value == "room"}
        in_rooms = {p.id for p in house.placements if p.air_side.value == "room"} - in_workshop
        return cls(
            time=prepared.time,
            step=prepared.step,
            hour=prepared.seconds_of_day / 3600.0,
            outdoor_temperature=prepared.outdoor_temperature,
            has_fire=any(a.kind.value in ("fireplace", "solid-fuel stove") for a in house.appliances),
            has_garage=any(z.kind.value == "garage" for z in house.zones),
            workshop=series(Quantity.PM25, in_workshop) if in_workshop else None,
            elsewhere=series(Quantity.PM25, in_rooms) if in_rooms else None,
            voc=series(Quantity.VOC, in_rooms) if in_rooms else None,
            co=series(Quantity.CO),
            co2=series(Quantity.CO2, in_rooms) if in_rooms else None,
            diary=house.diary,
        )

    def log_odds(self, kind: Source, first: int, last: int, rise: float) -> float:
        """Return the log odds of a kind before they are scaled to sum to one."""
        hour = float(self.hour[first])
        minutes = (last - first + 1) * self.step / 60.0
        cold = float(self.outdoor_temperature[first]) < 288.15
        odds = {
            Source.COOKING: 1.0,
            Source.SOLID_FUEL: 0.0 if self.has_fire else -5.0,
            Source.HOBBY: -1.0 if self.workshop is not None else -3.5,
            Source.CANDLE_INCENSE: -1.5,
            Source.GARAGE: -1.5 if self.has_garage else -6.0,
            Source.RESUSPENSION: -1.5,
            Source.OTHER: -1.0,
        }[kind]
        meal = min(abs(hour - 7.5) / 1.2, abs(hour - 12.5) / 1.2, abs(hour - 18.2) / 1.5)
        if kind is Source.COOKING:
            odds += 1.2 if meal < 1.0 else (-0.5 if meal < 2.0 else -1.5)
            odds += 0.4 if minutes <= 45.0 else -0.6
        elif kind is Source.SOLID_FUEL:
            odds += 1.0 if 16.5 <= hour <= 23.9 else (0.3 if 5.0 <= hour <= 9.0 else -1.0)
            odds += 0.6 if cold else -1.0
            odds += 0.6 if minutes > 45.0 else 0.0
        elif kind is Source.CANDLE_INCENSE:
            odds += 0.5 if 17.0 <= hour <= 23.0 else -0.5
            odds += -1.0 if rise > 40.0 else 0.0
        elif kind is Source.RESUSPENSION:
            odds += 0.3 if 9.0 <= hour <= 17.0 else -0.5
            odds += -1.0 if rise > 25.0 else 0.3
        odds += self._room_ratio(kind, first, last)
        odds += self._company(kind, first, last)
        return odds + self._diary(kind, first, last)

    def _room_ratio(self, kind: Source, first: int, last: int) -> float:
        if self.workshop is None or self.elsewhere is None:
            return 0.0
        end = min(last + max(int(600 / self.step), 1), self.time.size)
        here = slice(first, end)
        before = slice(max(first - max(int(1200 / self.step), 2), 0), first + 1)
        with np.errstate(invalid="ignore"):
            shop = np.nanmax(self.workshop[here]) if np.isfinite(self.workshop[here]).any() else np.nan
            rest = np.nanmax(self.elsewhere[here]) if np.isfinite(self.elsewhere[here]).any() else np.nan
            shop -= np.nanmedian(self.workshop[before]) if np.isfinite(self.workshop[before]).any() else np.nan
            rest -= np.nanmedian(self.elsewhere[before]) if np.isfinite(self.elsewhere[before]).any() else np.nan
        if not np.isfinite(shop) or not np.isfinite(rest):
            return 0.0
        if kind is Source.HOBBY:
            return 3.0 if shop > 1.5 * max(rest, 1e-9) else -1.5
        return -1.0 if shop > 1.5 * max(rest, 1e-9) else 0.2

    def _company(self, kind: Source, first: int, last: int) -> float:
        shift = 0.0
        co = self._rise(self.co, first, last)
        if np.isfinite(co) and co > 3e-6:
            shift += {Source.SOLID_FUEL: 1.0, Source.GARAGE: 1.5}.get(kind, 0.0)
        return shift

    def _rise(self, series: Floats | None, first: int, last: int) -> float:
        if series is None:
            return float("nan")
        end = min(last + max(int(900 / self.step), 1), self.time.size)
        part = series[first:end]
        before = series[max(first - max(int(1200 / self.step), 2), 0) : first + 1]
        if not np.isfinite(part).any() or not np.isfinite(before).any():
            return float("nan")
        return float(np.nanmax(part) - np.nanmedian(before))

    def _diary(self, kind: Source, first: int, last: int) -> float:
        shift = 0.0
        for entry in self.diary:
            end = entry.end if entry.end is not None else entry.start + 3600.0
            distance = max(entry.start - self.time[last], self.time[first] - end, 0.0)
            if distance > 5400.0:
                continue
            named = source_named(f"{entry.kind} {entry.text}")
            if named is kind:
                shift += 3.0 if distance < 1200.0 else 1.2
        return min(shift, 3.5)


def source_named(text: str) -> Source | None:
    """Return the source that a diary's words name, None if none; a word counts from its beginning on."""
    said = text.lower()
    # "car" has to stand alone: carpets and cards are no cars.
    patterns = ((r"\bcars?\b" if word == "car" else rf"\b{word}", source) for word, source in DIARY_WORDS)
    return next((source for pattern, source in patterns if re.search(pattern, said)), None)
