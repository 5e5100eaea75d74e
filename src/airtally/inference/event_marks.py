"""What stands beside a burst of particles: when and where it rose, and what else changed with it; no weights here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from airtally.arrays import Booleans, Floats
from airtally.clock import DAY, local_day
from airtally.house.burners import is_fire
from airtally.house.parts import Affects, AirSide, ApplianceKind, House
from airtally.inference.grid import on_grid
from airtally.inference.prepare import IN_DUCT, Prepared
from airtally.physics.air.moist import saturation_pressure
from airtally.quantities import Quantity
from airtally.readings.log import Log

HOBBY_ROOM = ("workshop", "hobby", "craft", "studio")
"""Words of a survey that name a room for dusty work."""
COLD = 288.15
"""Outdoor temperature below which people light fires. [K] Judgement."""
WORKING_HOURS = (7.0, 18.0)
"""Wall clock of a trade's day. [h] Judgement."""
AFTER_WORKS = 2.0 * DAY
"""How long settled dust of works is still swept and walked up. [s] Judgement."""
BEFORE, LAST_KNOWN = 1800.0, 4500.0
"""What a quantity was before a burst: the median of half an hour; failing that, what a duct read an hour ago. [s]"""
SPREADING, LONGEST_LOOK = 900.0, 3600.0
"""How long gases may still mix into other rooms after a burst, and how much of a long one is looked at. [s] Judgement."""
FIRE_WARMS = 7200.0
"""A stove and its room are warm an hour or two after lighting. [s] Judgement."""
FINER = {
    Quantity.PM10: Quantity.PM25,
    Quantity.PM25: Quantity.PM1,
    Quantity.COUNT_25: Quantity.COUNT_03,
    Quantity.COUNT_5: Quantity.COUNT_05,
}
"""Size classes of one instrument that tell dust from smoke: the coarse one and the fine one."""
LEAST_COARSE = 1.0
"""A coarse class that rises by less than its own usual level tells nothing. [-] Judgement."""
LEAST_COMPARED, MOST_COMPARED = 20, 300
"""Times away from bursts that are needed, and that are enough, to say what is usual. Own choice."""
Span = tuple[int, int, float]
_Series = tuple[str | None, Floats]
"""The room of a stream, and its values on the grid, NaN where there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What stands beside one burst; NaN where nothing was logged that could tell.

    Attributes
    ----------
    time : float
        Begin. [s, POSIX UTC]
    until : float
        End. [s, POSIX UTC]
    hour : float
        Wall clock at its begin. [h]
    weekday : int
        Monday is 0.
    minutes : float
        What it surely lasted: its length less the longest time without a reading in it. [min]
    rise : float
        Rise of the room mean. [ug/m3]
    is_cold : bool
        The weather is cold enough for a fire.
    in_works, after_works : bool
        It began in the working hours of dated works, or of the two days after them.
    hobby_room, kitchen : float
        Rise in these rooms over the rise in the other rooms. [-]
    co2, moisture, voc : float
        Rise during the burst over how much it usually changes in such a time. [-]
    warmth : float
        Rise of the hearth room's temperature over the other rooms' in the next hours, in the same way. [-]
    flue : float
        Rise of the temperature of a stove or its flue. [K]
    co : float
        Rise of carbon monoxide. [mol/mol]
    coarse : float
        Rise of the coarse size class over that of the fine one, as a multiple of their usual ratio. [-]
    """

    time: float
    until: float
    hour: float
    weekday: int
    minutes: float
    rise: float
    is_cold: bool
    in_works: bool
    after_works: bool
    hobby_room: float
    kitchen: float
    co2: float
    moisture: float
    voc: float
    warmth: float
    flue: float
    co: float
    coarse: float


def marks_of(prepared: Prepared, house: House, log: Log, spans: list[Span]) -> list[Mark]:
    """Return what stands beside each burst.

    Parameters
    ----------
    spans : list of (int, int, float)
        First step, last step and rise [ug/m3] of each burst.
    """
    return _Beside(prepared, house, log, spans).marks()


def rooms_of(house: House) -> tuple[set[str], set[str], set[str]]:
    """Return ids of the rooms for dusty work, of those with a kitchen or range, and of those with a hearth."""

    def named(words: tuple[str, ...]) -> set[str]:
        return {zone.id for zone in house.zones if any(word in f"{zone.id} {zone.name}".lower() for word in words)}

    hobby, kitchen = named(HOBBY_ROOM), named(("kitchen",))
    kitchen |= {one.zone for one in house.appliances if one.kind is ApplianceKind.RANGE}
    return hobby, kitchen, {one.zone for one in house.appliances if is_fire(one)}


class _Beside:
    """The streams of a house on the grid, read burst by burst."""

    def __init__(self, prepared: Prepared, house: House, log: Log, spans: list[Span]) -> None:
        self.prepared, self.house, self.log, self.spans = prepared, house, log, spans
        self.day = local_day(prepared.time, house.time_zone)
        self.free = np.ones(prepared.steps, dtype=bool)
        for first, last, _ in spans:
            self.free[max(first - self._steps(3600.0), 0) : last + self._steps(3600.0)] = False
        running = prepared.fan > 0
        # The first minutes of a run push out what stood in the ducts.
        self.swept: Booleans = running & np.roll(running, 2) & np.roll(running, 1)

    def marks(self) -> list[Mark]:
        """Return one mark a burst."""
        hobby, kitchen, hearth = rooms_of(self.house)
        rooms = self._series(Quantity.PM25, (AirSide.ROOM,))
        air = (AirSide.ROOM, *IN_DUCT)
        flue = [one for one in self._series(Quantity.TEMPERATURE, (AirSide.EQUIPMENT,)) if one[0] in hearth]
        columns = {
            "hobby_room": self._over_rest(rooms, hobby),
            "kitchen": self._over_rest(rooms, kitchen - hobby),
            "co2": self._unusual(self._series(Quantity.CO2, air), self._rise),
            "moisture": self._unusual(self._moisture(air), self._rise),
            "voc": self._unusual(self._series(Quantity.VOC, air), self._rise),
            "warmth": self._unusual(self._warmer(hearth), self._later),
            "flue": self._largest(flue, self._later),
            "co": self._largest(self._series(Quantity.CO, None), self._rise),
            "coarse": self._coarse(),
        }
        return [
            self._mark(i, {name: float(column[i]) for name, column in columns.items()}) for i in range(len(self.spans))
        ]

    def _mark(self, index: int, beside: dict[str, float]) -> Mark:
        prepared = self.prepared
        first, last, rise = self.spans[index]
        at = float(prepared.time[first])
        hour = float(prepared.seconds_of_day[first]) / 3600.0
        read = prepared.evidence.at[(prepared.evidence.at >= first) & (prepared.evidence.at <= last)]
        blind = float(np.max(np.diff(np.r_[first, read, last + 1])))
        works, days = self._works(at, self.day[first])
        at_work = WORKING_HOURS[0] <= hour < WORKING_HOURS[1]
        return Mark(
            time=at,
            until=float(prepared.time[last]),
            hour=hour,
            weekday=int((self.day[first] + 3) % 7),
            minutes=max(last + 1 - first - blind, 0.0) * prepared.step / 60.0,
            rise=rise,
            is_cold=float(prepared.outdoor_temperature[first]) < COLD,
            in_works=works and at_work,
            after_works=days and at_work and not works,
            **beside,
        )

    def _works(self, at: float, day: int) -> tuple[bool, bool]:
        """Return whether a day is one of works with a begin and an end, and whether it follows soon."""
        within = after = False
        for change in self.house.changes:
            if change.ends is None or set(change.affects) <= {Affects.SENSOR, Affects.FAN_RULE}:
                continue
            end = local_day(np.array([change.ends]), self.house.time_zone)[0]
            within |= bool(change.time <= at and day <= end)
            after |= change.ends < at <= change.ends + AFTER_WORKS
        return within, after

    def _steps(self, seconds: float) -> int:
        return max(int(seconds / self.prepared.step), 1)

    def _series(
        self, quantity: Quantity, sides: tuple[AirSide, ...] | None, placement: str | None = None
    ) -> list[_Series]:
        """Return the streams of a quantity in some air (None: any), of one placement or all.

        In a duct only what the fan brings past the monitor counts.
        """
        places = {place.id: place for place in self.house.placements}
        found = []
        for stream in self.log.find(quantity):
            place = places.get(stream.placement)
            if placement is not None and stream.placement != placement:
                continue
            if sides is not None and (place is None or place.air_side not in sides):
                continue
            at, value = self.log.series(stream)
            if at.size > 10:
                grid = on_grid(at, value, self.prepared.start, self.prepared.step, self.prepared.steps)
                if place is not None and place.air_side in IN_DUCT:
                    grid = np.where(self.swept, grid, np.nan)
                if np.isfinite(grid).any():
                    found.append((place.zone if place else None, grid))
        return found

    def _moisture(self, air: tuple[AirSide, ...]) -> list[_Series]:
        """Return the vapour's pressure from humidity and temperature of the same monitor: warming alone moves humidity."""
        found = []
        for stream in self.log.find(Quantity.RELATIVE_HUMIDITY):
            wet = self._series(Quantity.RELATIVE_HUMIDITY, air, stream.placement)
            warm = self._series(Quantity.TEMPERATURE, air, stream.placement)
            if wet and warm:
                (zone, humidity), (_, temperature) = wet[0], warm[0]
                found.append((zone, humidity * saturation_pressure(np.clip(temperature, 230.0, 330.0))))
        return found

    def _warmer(self, hearth: set[str]) -> list[_Series]:
        """Return how much warmer the hearth room is than the others; the furnace warms them all."""
        rooms = self._series(Quantity.TEMPERATURE, (AirSide.ROOM,))
        inside, rest = _mean(rooms, hearth)
        return [] if inside is None or rest is None else [(None, inside - rest)]

    def _over_rest(self, rooms: list[_Series], wanted: set[str]) -> Floats:
        """Return the rise in some rooms over that in the others, NaN where either has no monitor."""
        inside, rest = _mean(rooms, wanted)
        if inside is None or rest is None:
            return np.full(len(self.spans), np.nan)
        pairs = [(self._rise(inside, first, last), self._rise(rest, first, last)) for first, last, _ in self.spans]
        return np.array([max(a, 0.0) / max(b, 1e-10) if max(a, b) > 0.0 else np.nan for a, b in pairs])

    def _coarse(self) -> Floats:
        """Return the rise of coarse over fine particles as a multiple of their usual ratio, the largest of the pairs."""
        best = np.full(len(self.spans), np.nan)
        for coarse, fine in FINER.items():
            for stream in self.log.find(coarse):
                big, small = (self._series(q, (AirSide.ROOM,), stream.placement) for q in (coarse, fine))
                if not big or not small:
                    continue
                usual = [max(float(np.nanmedian(value)), 1e-30) for _, value in (*big, *small)]
                for index, (first, last, _) in enumerate(self.spans):
                    dust, smoke = (self._rise(value, first, last) for _, value in (*big, *small))
                    if dust > LEAST_COARSE * usual[0]:
                        ratio = dust / usual[0] / max(smoke / usual[1], 0.1)
                        best[index] = np.fmax(best[index], ratio)
        return best

    def _unusual(self, streams: list[_Series], change: Callable[[Floats, int, int], float]) -> Floats:
        """Return the change at each burst over the spread of such changes away from all bursts; of streams the largest."""
        found = np.full((len(streams) + 1, len(self.spans)), np.nan)
        length = self._steps(BEFORE)
        away = np.flatnonzero(self.free)
        away = away[:: max(away.size // MOST_COMPARED, 1)]
        for row, (_, value) in enumerate(streams):
            usual = np.array([change(value, first, first + length) for first in away.tolist()])
            usual = usual[np.isfinite(usual)]
            if usual.size < LEAST_COMPARED:
                continue
            middle, spread = np.median(usual), np.diff(np.quantile(usual, [0.16, 0.84]))[0] / 2.0
            at = np.array([change(value, first, last) for first, last, _ in self.spans])
            found[row] = (at - middle) / max(spread, 1e-12 + abs(1e-3 * middle))
        return _greatest(found)

    def _largest(self, streams: list[_Series], change: Callable[[Floats, int, int], float]) -> Floats:
        rows = [[change(value, first, last) for first, last, _ in self.spans] for _, value in streams]
        return _greatest(np.array([*rows, [np.nan] * len(self.spans)]))

    def _rise(self, value: Floats, first: int, last: int) -> float:
        """Return the highest reading of a burst less what was before it."""
        return self._above(value, first, min(last, first + self._steps(LONGEST_LOOK)) + self._steps(SPREADING))

    def _later(self, value: Floats, first: int, last: int) -> float:
        """Return the highest reading of the two hours from the begin of a burst less what was before it."""
        return self._above(value, first, max(last, first + self._steps(FIRE_WARMS)))

    def _above(self, value: Floats, first: int, end: int) -> float:
        before = value[max(first - self._steps(BEFORE), 0) : first]
        before = before[np.isfinite(before)]
        if before.size == 0:
            before = value[max(first - self._steps(LAST_KNOWN), 0) : first]
            before = before[np.isfinite(before)][-1:]
        during = value[first:end]
        during = during[np.isfinite(during)]
        return float(during.max() - np.median(before)) if before.size and during.size else np.nan


def _mean(rooms: list[_Series], wanted: set[str]) -> tuple[Floats | None, Floats | None]:
    """Return the mean over the monitors in some rooms, and over those in the others; None where there are none."""
    means: list[Floats | None] = []
    for rows in ([v for zone, v in rooms if zone in wanted], [v for zone, v in rooms if zone not in wanted]):
        known = np.isfinite(rows).sum(axis=0)
        mean = np.where(known > 0, np.nansum(rows, axis=0) / np.maximum(known, 1), np.nan) if rows else None
        means.append(mean)
    return means[0], means[1]


def _greatest(rows: Floats) -> Floats:
    """Return the greatest of each column, NaN where nothing is known."""
    return np.asarray(np.fmax.reduce(rows, axis=0))
