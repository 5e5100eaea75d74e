"""From a house and a log to evidence: one grid of steps, drivers on it, readings kept at their own times.

Readings are not resampled onto the grid; each is placed at the step it falls in, and neighbours within
five minutes of one equipment regime are averaged into one with their count, because an optical
sensor's errors within minutes are not independent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Booleans, Floats, Integers
from airtally.clock import local_day, local_seconds_of_day
from airtally.errors import Problem, Severity
from airtally.house.dates import Phase, house_at
from airtally.house.parts import AirSide, House
from airtally.inference.likelihood import Evidence
from airtally.physics.infiltration import basic_infiltration
from airtally.physics.leakage import effective_leakage_area
from airtally.quantities import Quantity
from airtally.readings.log import Log, Stream
from airtally.tally.weather import levels_of

FAN_OFF, FAN_CIRCULATE, FAN_HEATING = 0, 1, 2
FAN_STATES = 3
MICRO = 1e9
"""ug/m3 in a kg/m3: the kernel works in numbers near one."""
BIN_SECONDS = 300.0
NIGHT_FROM, NIGHT_TO = 23.0 * 3600.0, 6.0 * 3600.0
WEATHER_LEVELS = 16
DEFAULT_OUTDOOR = 8e-9
"""Outdoor PM2.5 assumed where nobody measured it. [kg/m3]; common practice, no source."""
DEFAULT_AIR_CHANGE_AT_50 = 8.0
"""Air changes per hour at 50 Pa assumed without a blower-door test. [1/h]; middle of the ranges of common housing, no source."""


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
    indoor = _indoor_streams(house, log)
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
    time = start + step * (np.arange(int((end - start) / step) + 1) + 0.5)
    seconds = local_seconds_of_day(time, house.time_zone)
    fan, fan_is_known = _fan_on_grid(house, time, step, fan_intervals, problems)
    epochs = _epochs(house, time)
    outdoor, outdoor_is_measured = _outdoor(house, log, time, step, problems)
    temperature_out, temperature_in, wind = _weather(house, log, time, step, problems)
    exchange, spread = _air_change(house, epochs, temperature_in - temperature_out, wind, problems)
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
    evidence = Evidence(
        step_hours=step / 3600.0,
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


def on_grid(time: Floats, value: Floats, start: float, step: float, steps: int) -> Floats:
    """Return the mean of the readings that fall in each step, NaN where none does. Shape (steps,)."""
    index = np.floor((time - start) / step).astype(np.int64)
    inside = (index >= 0) & (index < steps) & np.isfinite(value)
    total = np.bincount(index[inside], weights=value[inside], minlength=steps)
    count = np.bincount(index[inside], minlength=steps)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.where(count > 0, total / count, np.nan), dtype=np.float64)


def bridge(value: Floats, longest: int) -> Floats:
    """Return values with gaps of at most ``longest`` steps bridged by straight lines; longer ones stay NaN."""
    known = np.flatnonzero(np.isfinite(value))
    if known.size == 0:
        return value
    index = np.arange(value.size)
    filled = np.interp(index, known, value[known])
    after = np.searchsorted(known, index, side="left")
    previous = known[np.clip(after - 1, 0, known.size - 1)]
    following = known[np.clip(after, 0, known.size - 1)]
    distance = np.maximum(following - previous, np.maximum(index - known[-1], known[0] - index))
    return np.asarray(np.where(distance <= longest, filled, np.where(np.isfinite(value), value, np.nan)))


def _indoor_streams(house: House, log: Log) -> list[tuple[AirSide, list[Stream]]]:
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
        elif placement.air_side in IN_DUCT and house.air_handler is not None:
            ducts.append((placement.air_side, [stream]))
    return ([(AirSide.ROOM, rooms)] if rooms else []) + ducts


def _fan_on_grid(
    house: House,
    time: Floats,
    step: float,
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
    parts = [*house.envelopes, *house.cleaners, *house.ventilation]
    if handler is not None:
        parts += [*handler.speeds, *handler.filters, *handler.return_leaks]
    edges = {part.since for part in parts} | {part.until for part in parts}
    inside = sorted(int(np.searchsorted(time, e)) for e in edges if time[0] < e < time[-1])
    marks = [0, *dict.fromkeys(i for i in inside if 0 < i < time.size), time.size]
    return tuple(
        Epoch(first=a, last=b, house=house_at(house, float(time[(a + b - 1) // 2])))
        for a, b in zip(marks[:-1], marks[1:], strict=True)
        if b > a
    )


def _outdoor(house: House, log: Log, time: Floats, step: float, problems: list[Problem]) -> tuple[Floats, bool]:
    """Return outdoor PM2.5 on the grid: the monitor at the house, gaps from the farther ones scaled to it."""
    places = {p.id for p in house.placements if p.air_side is AirSide.OUTDOOR}
    series = []
    for stream in log.find(Quantity.PM25):
        if stream.placement in places:
            at, value = log.series(stream)
            if at.size:
                interval = float(np.median(np.diff(at))) if at.size > 1 else 3600.0
                longest = int(max(3.0 * 3600.0, 3.0 * interval) / step)
                series.append((interval, bridge(on_grid(at, value, time[0] - step / 2, step, time.size), longest)))
    series.sort(key=lambda pair: pair[0])
    if not series or not np.any(np.isfinite(series[0][1])):
        problems.append(
            Problem(
                code="no-outdoor-particles",
                where="logs",
                found="no outdoor PM2.5 for these weeks",
                wanted="a monitor outdoors, or the nearest public one by the hour",
                remedy="Add one. Until then 8 ug/m3 all day is assumed, and no share of outdoor air can be told from a steady source.",
            )
        )
        return np.full(time.size, DEFAULT_OUTDOOR), False
    outdoor = series[0][1]
    for _, other in series[1:]:
        both = np.isfinite(outdoor) & np.isfinite(other)
        ratio = float(np.median(outdoor[both]) / max(np.median(other[both]), 1e-12)) if both.sum() > 60 else 1.0
        outdoor = np.where(np.isfinite(outdoor), outdoor, other * np.clip(ratio, 0.25, 4.0))
    missing = ~np.isfinite(outdoor)
    if missing.any():
        problems.append(
            Problem(
                code="outdoor-gap",
                where="outdoor PM2.5",
                found=f"{missing.sum() * step / 3600.0:.0f} h without any outdoor reading",
                wanted="outdoor PM2.5 for the whole period",
                remedy="The gap is filled between its ends; a public monitor's file would do better.",
            )
        )
        outdoor = bridge(outdoor, time.size)
    return np.asarray(np.maximum(outdoor, 0.0)), True


def _weather(
    house: House, log: Log, time: Floats, step: float, problems: list[Problem]
) -> tuple[Floats, Floats, Floats]:
    sides = {p.id: p.air_side for p in house.placements}

    def mean_of(quantity: Quantity, wanted: AirSide) -> Floats | None:
        found = []
        for stream in log.find(quantity):
            if sides.get(stream.placement) is wanted:
                at, value = log.series(stream)
                found.append(bridge(on_grid(at, value, time[0] - step / 2, step, time.size), int(6 * 3600.0 / step)))
        if not found:
            return None
        stack = np.vstack(found)
        count = np.isfinite(stack).sum(axis=0)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.where(count > 0, np.nansum(stack, axis=0) / count, np.nan)
        return np.asarray(bridge(mean, time.size)) if np.isfinite(mean).any() else None

    outside = mean_of(Quantity.TEMPERATURE, AirSide.OUTDOOR)
    inside = mean_of(Quantity.TEMPERATURE, AirSide.ROOM)
    wind = mean_of(Quantity.WIND_SPEED, AirSide.OUTDOOR)
    if outside is None:
        problems.append(
            Problem(
                code="no-outdoor-temperature",
                where="logs",
                found="no outdoor temperature",
                wanted="outdoor temperature by the hour",
                remedy="Add it. Until then air exchange is taken as the same all the time.",
            )
        )
        outside = np.full(time.size, 283.15)
    if inside is None:
        inside = np.full(time.size, 294.15)
    if wind is None:
        wind = np.full(time.size, 2.5)
    return outside, inside, wind


def _air_change(
    house: House, epochs: tuple[Epoch, ...], difference: Floats, wind: Floats, problems: list[Problem]
) -> tuple[Floats, float]:
    """Return air exchange through the envelope by the basic stack-and-wind model [1/s] and how sure it is."""
    volume = occupied_volume(house)
    exchange = np.empty(difference.size)
    spread = 0.35
    for epoch in epochs:
        envelope = epoch.house.envelopes[0] if epoch.house.envelopes else None
        part = slice(epoch.first, epoch.last)
        if envelope is None or envelope.flow_at_50 is None:
            flow_at_50 = DEFAULT_AIR_CHANGE_AT_50 * volume / 3600.0
            spread = 0.6
        else:
            flow_at_50 = envelope.flow_at_50.value
        storeys = float(np.clip(envelope.storeys if envelope else 1.5, 1.0, 3.0))
        shelter = envelope.shelter_class if envelope else 3
        exponent = envelope.exponent.value if envelope else 0.65
        area = effective_leakage_area(flow_at_50, exponent)
        # The model's coefficients are for conditioned house volume: the whole envelope feeds the rooms.
        flow = basic_infiltration(area, np.abs(difference[part]) + 0.5, np.maximum(wind[part], 0.3), storeys, shelter)
        exchange[part] = flow / volume
    if spread > 0.5:
        problems.append(
            Problem(
                code="no-blower-door",
                where="survey.toml, envelope.flow_at_50",
                found="not measured",
                wanted="a blower-door reading",
                remedy="Air exchange rests on a wide default until it is measured.",
                severity=Severity.NOTE,
            )
        )
    return exchange, spread


def occupied_volume(house: House) -> float:
    """Return the volume of the rooms that people use [m3]; all zones if none is marked."""
    used = [z.volume.value for z in house.zones if z.is_occupied] or [z.volume.value for z in house.zones]
    return float(sum(used))


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
        mean = _weighted_mean(np.vstack(rows), np.array(weights))
        names = tuple(s.placement for s in streams)
        sensors.append(SensorUse(name="rooms" if side is AirSide.ROOM else names[0], side=side, placements=names))
        parts.append(_binned(mean, regime, max(int(BIN_SECONDS / step), 1)))
    at = np.concatenate([p[0] for p in parts])
    value = np.concatenate([p[1] for p in parts])
    weight = np.concatenate([p[2] for p in parts])
    sensor = np.repeat(np.arange(len(parts)), [p[0].size for p in parts])
    order = np.lexsort((sensor, at))
    return tuple(sensors), (at[order], sensor[order].astype(np.int64), value[order], weight[order])


def _weighted_mean(rows: Floats, weights: Floats) -> Floats:
    """Return the volume-weighted mean over room monitors; one that is silent is stood in for by its usual ratio to the rest."""
    if rows.shape[0] == 1:
        return np.asarray(rows[0])
    here = np.isfinite(rows)
    everyone = here.all(axis=0)
    filled = rows.copy()
    if everyone.sum() > 100:
        mean = np.average(rows[:, everyone], axis=0, weights=weights)
        for index in range(rows.shape[0]):
            ratio = float(np.sum(rows[index, everyone]) / max(np.sum(mean), 1e-30))
            filled[index] = rows[index] / max(ratio, 0.1)
        share = weights[:, None] * here
        with np.errstate(invalid="ignore", divide="ignore"):
            stand_in = np.nansum(np.where(here, filled, 0.0) * share, axis=0) / share.sum(axis=0)
        result = np.where(here.any(axis=0), stand_in, np.nan)
        result[everyone] = mean
        return np.asarray(result)
    share = weights[:, None] * here
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.where(here.any(axis=0), np.where(here, rows, 0.0).T @ weights / share.sum(axis=0), np.nan))


def _binned(value: Floats, regime: Integers, length: int) -> tuple[Integers, Floats, Floats]:
    """Return step, mean and count of the readings within each stretch of ``length`` steps of one regime."""
    steps = np.flatnonzero(np.isfinite(value))
    if steps.size == 0:
        return steps.astype(np.int64), np.empty(0), np.empty(0)
    key = (steps // length) * (int(regime.max()) + 1) + regime[steps]
    first = np.flatnonzero(np.r_[True, np.diff(key) != 0])
    count = np.diff(np.r_[first, steps.size])
    mean = np.add.reduceat(value[steps], first) / count
    middle = steps[first + (count - 1) // 2]
    return middle.astype(np.int64), np.asarray(mean), count.astype(np.float64)
