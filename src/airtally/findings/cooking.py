"""Finding from a cooking record: whether the particles of a room rise with it more often than by chance."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Booleans, Floats
from airtally.estimates import Basis, Estimate
from airtally.findings.parts import Finding, Standing
from airtally.findings.raw_series import room_streams, series, slug, zone_name, zone_streams
from airtally.house.parts import House
from airtally.inference.rises import find_rises
from airtally.quantities import Quantity
from airtally.readings.log import Flag, Log

LEAST_RISE = 10e-9
"""A rise that counts; the floor of low-cost monitors (own choice). [kg/m3]"""
PAUSE, SHORTEST = 600.0, 180.0
"""Longest pause inside one spell of cooking, and the shortest spell that counts; own choice. [s]"""
EARLY, LATE = 300.0, 900.0
"""A rise from this long before a spell to this long after its end belongs to it; own choice. [s]"""
NEAREST_SHIFT, SHIFT_STEP = 7200.0, 900.0
"""Smallest shift that misses the same meal, and the step between shifts; own choice. [s]"""
FEWEST_SPELLS = 5


def cooking_rises(house: House, log: Log) -> tuple[Finding, ...]:
    """Return one finding for each room with a record of cooking and of PM2.5.

    The same spells, shifted around the record by every quarter of an hour from two hours on, say what chance gives.
    """
    findings = []
    for zone, stream in room_streams(house, log, Quantity.PM25):
        states = zone_streams(house, log, Quantity.COOKING_STATE, zone)
        if not states:
            continue
        at, cooking = series(log, states[0], Flag.HELD, Flag.STUCK)
        time, value = series(log, stream, Flag.HELD)
        if at.size < 2 or time.size < 2:
            continue
        inside = (time >= at[0]) & (time <= at[-1])
        spells = spells_of(at, np.asarray(cooking > 0.0))
        starts = np.array([rise.start for rise in find_rises(time[inside], value[inside], least_rise=LEAST_RISE)])
        begin, length = float(at[0]), float(at[-1] - at[0])
        shifts = np.arange(NEAREST_SHIFT, length - NEAREST_SHIFT, SHIFT_STEP)
        if len(spells) < FEWEST_SPELLS or starts.size == 0 or shifts.size < 20:
            continue
        moved = [[((a - begin + by) % length + begin, b - a) for a, b in spells] for by in shifts]
        chance = np.array([_hit_rate(starts, [(a, a + lasts) for a, lasts in each]) for each in moved])
        hit = _hit_rate(starts, spells)
        findings.append(_finding(zone_name(house, zone), stream.placement, hit, chance, (len(spells), starts.size)))
    return tuple(findings)


def spells_of(time: Floats, cooking: Booleans) -> list[tuple[float, float]]:
    """Return spells (start, stop) [s] of a chattering state: pauses bridged, spells that stay short left out.

    Parameters
    ----------
    time : float64 array, shape (readings,)
        Ascending instants. [s]
    cooking : bool array, shape (readings,)
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], cooking, [False]]).astype(np.int8)))
    spells: list[tuple[float, float]] = []
    for first, last in zip(edges[::2], edges[1::2] - 1, strict=True):
        if spells and time[first] - spells[-1][1] <= PAUSE:
            spells[-1] = (spells[-1][0], float(time[last]))
        else:
            spells.append((float(time[first]), float(time[last])))
    return [(start, stop) for start, stop in spells if stop - start >= SHORTEST]


def _hit_rate(starts: Floats, spells: list[tuple[float, float]]) -> float:
    return float(np.mean([bool(np.any((starts >= a - EARLY) & (starts <= b + LATE))) for a, b in spells]))


def _finding(room: str, placement: str, hit: float, chance: Floats, counts: tuple[int, int]) -> Finding:
    share = (1 + int(np.count_nonzero(chance >= hit))) / (1 + chance.size)
    is_more = share <= 0.05
    low, usual, high = (float(q) for q in np.quantile(chance, [0.05, 0.5, 0.95]))
    return Finding(
        id=slug("cooking-rises", placement),
        title=f"The particles in {room} rise with cooking more often than by chance."
        if is_more
        else f"Whether the particles in {room} rise with cooking cannot be told from this record.",
        source="cooking",
        path=f"room side, {room}",
        test="the same spells of cooking, shifted by hours, meet as many rises",
        evidence_for=(f"{counts[0]} spells of cooking, {counts[1]} rises of particles",) if is_more else (),
        evidence_against=()
        if is_more
        else (f"{counts[0]} spells of cooking, {counts[1]} rises of particles; shifted spells often meet as many",),
        standing=Standing.SUPPORTED if is_more else Standing.NOT_SEPARABLE,
        settle="two more weeks of the cooking record beside a monitor that stays in the kitchen",
        numbers=(
            ("spells with a rise", _of(hit, hit, hit, f"{counts[0]} spells")),
            ("shifted spells with a rise", _of(usual, low, high, f"{chance.size} shifts")),
            ("share of shifts that meet as many", _of(share, share, share, f"{chance.size} shifts")),
        ),
    )


def _of(value: float, low: float, high: float, source: str) -> Estimate:
    return Estimate(value=float(value), low=float(low), high=float(high), unit="-", basis=Basis.COMPUTED, source=source)
