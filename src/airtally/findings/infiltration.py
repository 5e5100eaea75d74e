"""Findings from indoor beside outdoor particles: how fast outdoor air comes in, what a switched room cleaner does."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats
from airtally.errors import AirtallyError
from airtally.estimates import Basis, Estimate
from airtally.findings.parts import Finding, Standing
from airtally.findings.raw_series import room_streams, series, slug, zone_name
from airtally.house.parts import AirSide, Cleaner, House, RunsWith
from airtally.inference.filter_effect import FilterEffect, filter_effect
from airtally.inference.outdoor_fit import InfiltrationFit, fit_infiltration
from airtally.inference.rises import find_rises
from airtally.quantities import Quantity
from airtally.readings.log import Flag, Log

LEAST_RISE = 10e-9
"""An indoor rise that counts as an event; the floor of low-cost monitors (own choice). [kg/m3]"""
LEAKY = 0.5 / 3600.0
"""Air exchange that a room with its windows shut seldom exceeds: what it lets in is no indoor event (own choice). [1/s]"""
LEVEL_BEFORE = 2400.0
"""How far back the level before a rise is looked for. [s]"""
EVENT_TAIL = 3.0 * 3600.0
"""What follows a rise and is left out with it: two to three time constants of a closed room (own choice). [s]"""
SHORTEST, LONGEST = 6.0 * 3600.0, 3.0 * 86400.0
"""Stretch that one pair of rates describes: long enough to show, too short for weather to turn (own choice). [s]"""
SILENCE = 2.0 * 3600.0
"""A gap in the indoor record that ends a stretch. [s]"""
OUTDOOR_HELD = 1800.0
"""How long an outdoor reading stands for the air around it, before and after; own choice. [s]"""
DEVICE_NEAR = 3600.0
"""Farthest that a fall may lie from the surveyed switch. [s]"""


def outdoor_particles(house: House, log: Log) -> tuple[Floats, Floats] | None:
    """Return the mean of all outdoor PM2.5 series at the instants of the first: time [s], level [kg/m3]; None without one."""
    places = [p.id for p in house.placements if p.air_side is AirSide.OUTDOOR]
    found = [series(log, s, Flag.HELD) for place in places for s in log.find(Quantity.PM25, place)]
    found = [(time, value) for time, value in found if time.size >= 4]
    if not found:
        return None
    time = found[0][0]
    levels = [value if at is time else np.interp(time, at, value, left=np.nan, right=np.nan) for at, value in found]
    table = np.array(levels)
    known = np.isfinite(table)
    return time, np.where(known, table, 0.0).sum(axis=0) / known.sum(axis=0)


def infiltration(house: House, log: Log) -> tuple[Finding, ...]:
    """Return how outdoor particles came into each room over its longest quiet stretch; nothing with an air handler."""
    outdoor = outdoor_particles(house, log)
    if house.air_handler is not None or outdoor is None:
        return ()
    findings = []
    for zone, stream in room_streams(house, log, Quantity.PM25):
        time, value = series(log, stream, Flag.HELD)
        pieces = quiet_pieces(house, zone, (time, value), outdoor)
        if not pieces:
            continue
        first, last = max(pieces, key=lambda piece: piece[1] - piece[0])
        inside = (time >= first) & (time <= last)
        near = (outdoor[0] >= first - SILENCE) & (outdoor[0] <= last + SILENCE)
        try:
            fit = fit_infiltration(time[inside], value[inside], outdoor[0][near], outdoor[1][near])
        except AirtallyError:
            continue
        findings.append(_infiltration(house, zone, stream.placement, fit, last - first))
    return tuple(findings)


def quiet_pieces(
    house: House, zone: str, indoor: tuple[Floats, Floats], outdoors: tuple[Floats, Floats]
) -> list[tuple[float, float]]:
    """Return the stretches (start, stop) [s] of a room's record without change, event, cleaner or silence.

    Parameters
    ----------
    house : House
    zone : str
        Id of the room.
    indoor, outdoors : pairs of float64 arrays, shapes (readings,) and (outdoor readings,)
        Ascending instants [s] and readings [kg/m3].

    Notes
    -----
    A rise is an event only where outdoor air at half an air change per hour could not have made it.
    """
    (time, value), (outdoor_time, outdoor) = indoor, outdoors
    if time.size < 2:
        return []
    begin = max(float(time[0]), float(outdoor_time[0]) - OUTDOOR_HELD)
    end = min(float(time[-1]), float(outdoor_time[-1]) + OUTDOOR_HELD)
    busy = [(c.since, c.until) for c in house.cleaners if c.zone in (zone, None)]
    busy += [(c.time, c.ends if c.ends is not None else c.time) for c in house.changes]
    for rise in find_rises(time, value, least_rise=LEAST_RISE, span=LEVEL_BEFORE):
        near = (outdoor_time >= rise.start - SILENCE) & (outdoor_time <= rise.peak + SILENCE)
        most = float(np.max(outdoor[near], initial=0.0))
        lets_in = -np.expm1(-LEAKY * (rise.peak - rise.start + LEVEL_BEFORE)) * (most - rise.level_before)
        if rise.level_peak - rise.level_before > lets_in:
            busy.append((rise.start, rise.peak + EVENT_TAIL))
    for at, held in ((time, 0.0), (outdoor_time, OUTDOOR_HELD)):
        for index in np.flatnonzero(np.diff(at) > SILENCE):
            busy.append((float(at[index]) + held, float(at[index + 1]) - held))
    pieces = []
    for first, last in sorted(busy):
        if first > begin:
            pieces.append((begin, min(first, end)))
        begin = max(begin, last)
    pieces.append((begin, end))
    return [(a, min(b, a + LONGEST)) for a, b in pieces if b - a >= SHORTEST]


def _infiltration(house: House, zone: str, placement: str, fit: InfiltrationFit, length: float) -> Finding:
    room = zone_name(house, zone)
    is_seen = fit.one_rate.low > 0.25 * fit.one_rate.value and fit.one_rate.high < 4.0 * fit.one_rate.value
    gains = fit.two_rate_misfit < fit.one_rate_misfit
    return Finding(
        id=slug("infiltration", placement),
        title=f"Particles from outdoors came into {room} through leaks."
        if is_seen
        else f"How fast outdoor particles come into {room} cannot be told from this record.",
        source="outdoor",
        path=f"leaks, {room}",
        test="the same rates on another day with other wind, and no source indoors in the stretch",
        evidence_for=(f"{length / 3600.0:.1f} h without event, change or cleaner in the room", *fit.sentences()),
        evidence_against=("one number fits as well as two",) if not gains else (),
        standing=Standing.SUPPORTED if is_seen else Standing.NOT_SEPARABLE,
        settle="carbon dioxide in the empty room beside it: what differs is penetration and settling",
        numbers=(
            ("one number: air exchange, penetration and loss mixed", fit.one_rate),
            ("gain: air exchange times penetration", fit.gain),
            ("loss: air exchange, settling and filters", fit.loss),
            ("indoor over outdoor level in the long run", fit.factor),
        ),
    )


def cleaner_effects(house: House, log: Log) -> tuple[Finding, ...]:
    """Return what each room cleaner did that was switched on within the record, by the levels at rest around it."""
    outdoor = outdoor_particles(house, log)
    findings = []
    for cleaner in house.cleaners:
        if cleaner.runs_with is RunsWith.AIR_HANDLER or not np.isfinite(cleaner.since):
            continue
        for zone, stream in room_streams(house, log, Quantity.PM25):
            if cleaner.zone not in (zone, None):
                continue
            time, value = series(log, stream, Flag.HELD)
            until = min(cleaner.until, cleaner.since + 12.0 * 3600.0)
            inside = (time >= cleaner.since - 3.0 * 3600.0) & (time <= until)
            if np.max(value[inside], initial=0.0) <= 0.0:
                continue
            near = None if outdoor is None else (outdoor[0] >= cleaner.since - 6.0 * 3600.0) & (outdoor[0] <= until)
            beside = near is not None and outdoor is not None and np.count_nonzero(near) >= 4
            try:
                effect = (
                    filter_effect(time[inside], value[inside], outdoor[0][near], outdoor[1][near])
                    if beside and outdoor is not None
                    else filter_effect(time[inside], value[inside])
                )
            except AirtallyError:
                continue
            if abs(effect.switched_at - cleaner.since) <= DEVICE_NEAR and effect.reduction.value > 0.0:
                findings.append(_effect(house, zone, stream.placement, cleaner, effect))
    return tuple(findings)


def _effect(house: House, zone: str, placement: str, cleaner: Cleaner, effect: FilterEffect) -> Finding:
    room = zone_name(house, zone)
    is_sure = effect.reduction.low > 0.0 and effect.outdoors_held_still
    moved = effect.outdoor_change is None or not effect.outdoors_held_still
    numbers: list[tuple[str, Estimate]] = [
        ("level at rest, lower by", effect.reduction),
        ("indoor level before", _level(effect.level_before, effect.readings_before)),
        ("indoor level after", _level(effect.level_after, effect.readings_after)),
    ]
    if effect.outdoor_change is not None:
        numbers.append(
            ("outdoor level, after over before", _exact(effect.outdoor_change, "-", "means of both stretches"))
        )
    return Finding(
        id=slug("cleaner-effect", cleaner.id, placement),
        title=f"With {cleaner.name} on, {room} came to rest at a lower level.",
        source="outdoor" if effect.outdoor_change is not None else "not stated",
        path=cleaner.name,
        test="switched off again, the level returns",
        evidence_for=(effect.sentence(), "the fall begins within an hour of the surveyed switch"),
        evidence_against=("the outdoor level was not recorded, or moved",) if moved else (),
        standing=Standing.SUPPORTED if is_sure else Standing.NOT_SEPARABLE,
        settle="the same switch once more, at another outdoor level",
        numbers=tuple(numbers),
    )


def _level(value: float, readings: int) -> Estimate:
    return _exact(value, "kg/m3", f"mean of {readings} readings")


def _exact(value: float, unit: str, source: str) -> Estimate:
    return Estimate(value=value, low=value, high=value, unit=unit, basis=Basis.COMPUTED, source=source)
