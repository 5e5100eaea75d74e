"""What drives the rooms from outside: outdoor particles, temperatures, wind, and the air they pull in."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats
from airtally.errors import Problem, Severity
from airtally.house.parts import AirSide, House, ZoneKind
from airtally.inference.grid import bridge, on_grid
from airtally.physics.infiltration.stack_and_wind import basic_infiltration
from airtally.physics.leaks.tightness import effective_leakage_area
from airtally.quantities import Quantity
from airtally.readings.log import Log

DEFAULT_OUTDOOR = 8e-9
"""Outdoor PM2.5 assumed where nobody measured it. [kg/m3]; common practice, no source."""
PLAN_ERROR = 0.06
"""Standard deviation of the logarithm of a volume by plan area times height; own choice. [-]"""
DEFAULT_AIR_CHANGE_AT_50 = 8.0
"""Air changes per hour at 50 Pa assumed without a blower-door test. [1/h]; middle of common housing, no source."""


def outdoor_particles(
    house: House, log: Log, time: Floats, step: float, problems: list[Problem]
) -> tuple[Floats, bool]:
    """Return outdoor PM2.5 on the grid: the monitor at the house, gaps from the farther ones scaled to it."""
    gains = {i.id: i.gain.value for i in house.instruments}
    places = {p.id: gains.get(p.instrument, 1.0) for p in house.placements if p.air_side is AirSide.OUTDOOR}
    series = []
    for stream in log.find(Quantity.PM25):
        if stream.placement in places:
            at, value = log.series(stream)
            if at.size:
                interval = float(np.median(np.diff(at))) if at.size > 1 else 3600.0
                longest = int(max(3.0 * 3600.0, 3.0 * interval) / step)
                value = value / places[stream.placement]
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


def weather(
    house: House, log: Log, time: Floats, step: float, problems: list[Problem]
) -> tuple[Floats, Floats, Floats]:
    """Return outdoor and indoor temperature [K] and wind [m/s] on the grid; what nobody measured is a constant, said so."""
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


def air_change(
    house: House, parts: list[tuple[slice, House]], difference: Floats, wind: Floats, problems: list[Problem]
) -> tuple[Floats, float]:
    """Return air exchange through the envelope by the basic stack-and-wind model [1/s] and how sure it is."""
    volume = mixed_volume(house)
    exchange = np.empty(difference.size)
    spread = 0.35
    for part, then in parts:
        envelope = then.envelopes[0] if then.envelopes else None
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


def mixed_volume(house: House) -> float:
    """Return the volume that house air mixes through [m3]: every room and basement, lived in or not.

    Doors and the central fan carry what a room gives off into the next; all zones count where none is a room.
    """
    rooms = [z for z in house.zones if z.kind in (ZoneKind.ROOM, ZoneKind.BASEMENT)]
    return float(sum(z.volume.value for z in rooms or house.zones))


def mixed_volume_spread(house: House) -> float:
    """Return the standard deviation of the logarithm of what really mixes [-].

    The plan's own error, and half the step from the rooms that people use to all of them.
    """
    used = sum(z.volume.value for z in house.zones if z.is_occupied)
    whole = mixed_volume(house)
    return float(np.hypot(PLAN_ERROR, 0.5 * np.log(whole / used) if 0.0 < used < whole else 0.0))
