"""From a house and a log to evidence: one grid of steps, drivers on it, readings kept at their own times.

Readings are not resampled onto the grid; each is placed at the step it falls in, and neighbours within
five minutes of one equipment regime are averaged into one with their count, because an optical
sensor's errors within minutes are not independent.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from airtally.arrays import Booleans, Floats, Integers
from airtally.clock import local_day, local_seconds_of_day
from airtally.errors import Problem, Severity
from airtally.house.dates import Dated, Phase, house_at
from airtally.house.parts import AirSide, House
from airtally.inference.drivers import air_change, outdoor_particles, weather
from airtally.inference.grid import binned, on_grid, weighted_mean
from airtally.inference.likelihood import Evidence
from airtally.quantities import Quantity
from airtally.readings.log import Log, Stream
from airtally.tally.weather import levels_of

FAN_OFF, FAN_CIRCULATE, FAN_HEATING = 0, 1, 2
FAN_STATES = 3
MICRO = 1e9
"""ug/m3 in a kg/m3: the kernel works in numbers near one."""
BIN_SECONDS = 300.0
LONG_BIN_SECONDS = 600.0
LONG_RECORD = 21.0 * 86400.0
"""Rooms' records longer than this [s] are averaged over ten minutes: weeks hold events enough, and the fit stays quick.
In-duct ones are not: a quarter hour of fan an hour gives two or three readings, whose fall is all they tell."""
NIGHT_FROM, NIGHT_TO = 23.0 * 3600.0, 6.0 * 3600.0
WEATHER_LEVELS = 16
AMID_WORKS = 3.0 * 86400.0
"""A stretch between two changes shorter than this [s] is followed but does not speak for its parts: work is going on, its
dust settles faster and doors stand open. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Epoch:
    """A stretch without any change of parts: first step, step after the last, the house as it was."""

    first: int
    last: int
    house: House


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorUse:
    """A sensor as the likelihood sees it: the mean of the room monitors, or one in-duct placement."""

    name: str
    side: AirSide
    placements: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """Everything the likelihood needs, and what the later stages need to know about the grid.

    Attributes
    ----------
    start : float
        Beginning of the first step. [s, POSIX UTC]
    step : float
        Length of a step. [s]
    time : float64 array, shape (steps,)
        Middle of each step. [s, POSIX UTC]
    outdoor : float64 array, shape (steps,)
        Outdoor PM2.5. [kg/m3]
    outdoor_temperature, indoor_temperature : float64 array, shape (steps,)
        [K]
    fan : int64 array, shape (steps,)
        0 off, 1 circulate, 2 heating or cooling.
    fan_is_known : bool array, shape (steps,)
        False where no record said so and "off" was assumed.
    air_change : float
        Prior mean of the air exchange by leaks. [1/s]
    air_change_spread : float
        Standard deviation of its logarithm. [-]
    seconds_of_day : float64 array, shape (steps,)
        Wall clock. [s]
    """

    house: House
    phases: tuple[Phase, ...]
    start: float
    step: float
    time: Floats
    epochs: tuple[Epoch, ...]
    sensors: tuple[SensorUse, ...]
    evidence: Evidence
    outdoor: Floats
    outdoor_is_measured: bool
    outdoor_temperature: Floats
    indoor_temperature: Floats
    fan: Integers
    fan_is_known: Booleans
    air_change: float
    air_change_spread: float
    seconds_of_day: Floats
    problems: tuple[Problem, ...]

    @property
    def steps(self) -> int:
        """Return the number of steps."""
        return int(self.time.size)

    def phase_steps(self, phase: Phase) -> slice:
        """Return the steps of a phase."""
        first = int(np.searchsorted(self.time, phase.start))
        last = int(np.searchsorted(self.time, phase.end))
        return slice(first, last)


def prepare(
    house: House, log: Log, phases: tuple[Phase, ...], fan_intervals: tuple[Floats, Floats, Integers] | None
) -> Prepared | Problem:
    """Bring a house's readings onto one grid.

    Parameters
    ----------
    house : House
    log : Log
        Screened and masked.
    phases : tuple of Phase
        The stretches between dated changes.
    fan_intervals : tuple of arrays, optional
        Start [s], end [s] and level (1 circulate, 2 heating) of each fan run; None if nothing tells.

    Returns
    -------
    prepared : Prepared, or a fatal Problem
        The problem says which readings are missing.
    """
    problems: list[Problem] = []
    indoor = _indoor_streams(house, log, fan_is_known=fan_intervals is not None)
    if not indoor:
        return Problem(
            code="no-indoor-particles",
            where="logs",
            found="no PM2.5 readings from a room or a duct that can be used",
            wanted="PM2.5 from at least one monitor in a room, or in a duct together with a record of the fan",
            remedy="Add the log, or state its columns in [[log]]; pressures, proposals and gates are answered without it.",
            severity=Severity.FATAL,
        )
    spans = [log.series(stream)[0] for _, streams in indoor for stream in streams]
    start = float(np.floor(min(s[0] for s in spans) / 60.0) * 60.0)
    end = float(max(s[-1] for s in spans)) + 60.0
    step = 60.0 if end - start > 6.0 * 3600.0 else max(1.0, round((end - start) / 3600.0))
    time: Floats = np.asarray(start + step * (np.arange(int((end - start) / step) + 1) + 0.5), dtype=np.float64)
    seconds = local_seconds_of_day(time, house.time_zone)
    fan, fan_is_known = _fan_on_grid(house, time, fan_intervals, problems)
    epochs = _epochs(house, time)
    outdoor, outdoor_is_measured = outdoor_particles(house, log, time, step, problems)
    temperature_out, temperature_in, wind = weather(house, log, time, step, problems)
    exchange, spread = air_change(
        house, [(slice(e.first, e.last), e.house) for e in epochs], temperature_in - temperature_out, wind, problems
    )
    mean = float(exchange.mean())
    shape, level = levels_of(exchange / mean, WEATHER_LEVELS)
    regime = np.zeros(time.size, dtype=np.int64)
    for index, epoch in enumerate(epochs):
        regime[epoch.first : epoch.last] = index * FAN_STATES
    regime += fan
    sensors, readings = _readings(house, log, indoor, time, step, start, regime)
    at, sensor, value, weight = readings
    day = local_day(time, house.time_zone)
    block = (day[at] - day[0]) // 2 if at.size else at
    for epoch in epochs[1:-1]:
        if (epoch.last - epoch.first) * step < AMID_WORKS:
            block[(at >= epoch.first) & (at < epoch.last)] = -1
    evidence = Evidence(
        step_hours=step / 3600.0,
        length=np.ones(time.size, dtype=np.int64),
        shape=shape,
        level=level,
        outdoor=outdoor * MICRO,
        regime=regime,
        hour_class=((seconds >= NIGHT_FROM) | (seconds < NIGHT_TO)).astype(np.int64),
        at=at,
        sensor=sensor,
        value=value * MICRO,
        weight=weight,
        block=np.asarray(block, dtype=np.int64),
    )
    return Prepared(
        house=house,
        phases=phases,
        start=start,
        step=step,
        time=time,
        epochs=epochs,
        sensors=sensors,
        evidence=evidence,
        outdoor=outdoor,
        outdoor_is_measured=outdoor_is_measured,
        outdoor_temperature=temperature_out,
        indoor_temperature=temperature_in,
        fan=fan,
        fan_is_known=fan_is_known,
        air_change=mean,
        air_change_spread=spread,
        seconds_of_day=seconds,
        problems=tuple(problems),
    )


IN_DUCT = (AirSide.RETURN_BEFORE_FILTER, AirSide.AFTER_FILTER, AirSide.SUPPLY)


def _indoor_streams(house: House, log: Log, *, fan_is_known: bool) -> list[tuple[AirSide, list[Stream]]]:
    sides = {p.id: p for p in house.placements}
    occupied = {z.id for z in house.zones if z.is_occupied}
    rooms: list[Stream] = []
    ducts: list[tuple[AirSide, list[Stream]]] = []
    for stream in log.find(Quantity.PM25):
        placement = sides.get(stream.placement)
        if placement is None or log.series(stream)[0].size < 10:
            continue
        if placement.air_side is AirSide.ROOM and (placement.zone in occupied or not occupied):
            rooms.append(stream)
        elif placement.air_side in IN_DUCT and house.air_handler is not None and fan_is_known:
            ducts.append((placement.air_side, [stream]))
    return ([(AirSide.ROOM, rooms)] if rooms else []) + ducts


def _fan_on_grid(
    house: House,
    time: Floats,
    intervals: tuple[Floats, Floats, Integers] | None,
    problems: list[Problem],
) -> tuple[Integers, Booleans]:
    fan = np.zeros(time.size, dtype=np.int64)
    known = np.ones(time.size, dtype=np.bool_)
    if house.air_handler is None:
        return fan, known
    if intervals is None:
        problems.append(
            Problem(
                code="fan-unrecorded",
                where="logs",
                found="no record of when the central fan ran",
                wanted="fan current, power or on/off state with times",
                remedy="Log the fan. Until then it is taken as off, and in-duct readings are set aside.",
            )
        )
        return fan, np.zeros(time.size, dtype=np.bool_)
    begin, finish, level = intervals
    first = np.searchsorted(time, begin)
    last = np.searchsorted(time, finish)
    for a, b, code in zip(first, last, level, strict=True):
        fan[a:b] = FAN_HEATING if code >= FAN_HEATING else FAN_CIRCULATE
    return fan, known


def _epochs(house: House, time: Floats) -> tuple[Epoch, ...]:
    handler = house.air_handler
    edges: set[float] = set()
    dated: list[Dated] = [*house.envelopes, *house.cleaners, *house.ventilation]
    if handler is not None:
        dated += [*handler.speeds, *handler.filters, *handler.return_leaks]
    for part in dated:
        edges |= {part.since, part.until}
    inside = sorted(int(np.searchsorted(time, e)) for e in edges if time[0] < e < time[-1])
    marks = [0, *dict.fromkeys(i for i in inside if 0 < i < time.size), time.size]
    return tuple(
        Epoch(first=a, last=b, house=house_at(house, float(time[(a + b - 1) // 2])))
        for a, b in pairwise(marks)
        if b > a
    )


def _readings(
    house: House,
    log: Log,
    indoor: list[tuple[AirSide, list[Stream]]],
    time: Floats,
    step: float,
    start: float,
    regime: Integers,
) -> tuple[tuple[SensorUse, ...], tuple[Integers, Integers, Floats, Floats]]:
    gains = {i.id: i.gain.value for i in house.instruments}
    owner = {p.id: p for p in house.placements}
    volumes = {z.id: z.volume.value for z in house.zones}
    sensors: list[SensorUse] = []
    parts: list[tuple[Integers, Floats, Floats]] = []
    for side, streams in indoor:
        rows = []
        weights = []
        for stream in streams:
            at, value = log.series(stream)
            placement = owner[stream.placement]
            rows.append(on_grid(at, value / gains.get(placement.instrument, 1.0), start, step, time.size))
            weights.append(volumes.get(placement.zone or "", 1.0))
        mean = weighted_mean(np.vstack(rows), np.array(weights))
        names = tuple(s.placement for s in streams)
        sensors.append(SensorUse(name="rooms" if side is AirSide.ROOM else names[0], side=side, placements=names))
        is_long = side is AirSide.ROOM and time[-1] - time[0] > LONG_RECORD
        length = LONG_BIN_SECONDS if is_long else BIN_SECONDS
        parts.append(binned(mean, regime, max(int(length / step), 1)))
    at = np.concatenate([p[0] for p in parts])
    value = np.concatenate([p[1] for p in parts])
    weight = np.concatenate([p[2] for p in parts])
    sensor = np.repeat(np.arange(len(parts)), [p[0].size for p in parts])
    order = np.lexsort((sensor, at))
    return tuple(sensors), (
        np.asarray(at[order], dtype=np.int64),
        np.asarray(sensor[order], dtype=np.int64),
        np.asarray(value[order]),
        np.asarray(weight[order]),
    )
