"""Findings about the monitors themselves: moved, off by a factor, off by an hour, or blind to a leaking filter."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.findings.parts import Finding, Standing
from airtally.findings.series import Evidence, number
from airtally.house.parts import AirSide
from airtally.inference.prepare import FAN_CIRCULATE, FAN_STATES, IN_DUCT
from airtally.inference.regimes import handler_flow
from airtally.quantities import Quantity

DAY = 86400.0


def monitor_moved(evidence: Evidence) -> Finding | None:
    """Look for an in-duct monitor that saw other air after a move: a shift of level that is no improvement."""
    by_instrument: dict[str, list[int]] = {}
    for index, place in enumerate(evidence.house.placements):
        if place.air_side in IN_DUCT:
            by_instrument.setdefault(place.instrument, []).append(index)
    sensors = {name: i for i, s in enumerate(evidence.fit.prepared.sensors) for name in s.placements}
    for instrument, indices in by_instrument.items():
        places = [evidence.house.placements[i] for i in indices]
        places.sort(key=lambda p: p.since)
        for before, after in pairwise(places):
            if before.air_side is after.air_side or before.id not in sensors or after.id not in sensors:
                continue
            old = _slope(evidence, sensors[before.id], before.until - 3600.0)
            new = _slope(evidence, sensors[after.id], after.since + DAY)
            ratio = new / old
            low, high = np.quantile(ratio, [0.05, 0.95])
            return Finding(
                id="monitor-moved",
                title="The monitor in the duct was moved; the step in its readings is the move, not better air.",
                source="sensor",
                path=f"{instrument}: from {before.air_side.value} to {after.air_side.value}",
                test="the room monitors show the same step on the same day",
                evidence_for=(
                    "the survey gives it a new placement on that day",
                    "a monitor behind filter and cleaner reads less",
                ),
                evidence_against=(),
                standing=Standing.SUPPORTED,
                settle="never join the two stretches; compare rooms, or each placement with itself",
                numbers=(
                    (
                        "reading at the new place over the old one for the same room air",
                        number(float(np.median(ratio)), float(low), float(high), "-", "fit"),
                    ),
                ),
            )
    return None


def _slope(evidence: Evidence, sensor: int, time: float) -> Floats:
    step = evidence.index_of(time)
    epoch = next(i for i, e in enumerate(evidence.fit.prepared.epochs) if e.first <= step < e.last)
    return np.asarray(evidence.fit.physics.slope[:, sensor, epoch * FAN_STATES + FAN_CIRCULATE])


def gain_from_side_by_side(evidence: Evidence) -> Finding | None:
    """Look for a monitor whose co-location factor lies clearly away from one."""
    for instrument in evidence.house.instruments:
        gain = instrument.gain
        if gain.low > 1.08 or gain.high < 0.92:
            return Finding(
                id=f"gain-{instrument.id}",
                title=f"Monitor {instrument.id} reads by a constant factor off; its readings were divided by it.",
                source="sensor",
                path="unit-to-unit spread of optical monitors",
                test="a second night side by side gives another factor",
                evidence_for=("the nights side by side",),
                evidence_against=(),
                standing=Standing.SUPPORTED,
                settle="repeat the nights side by side at the end of the job",
                numbers=(("reads over true", gain),),
            )
    return None


def filter_gap(evidence: Evidence) -> Finding | None:
    """Look for days on which the filter's drop fell while the duct saw more of the rooms: air goes around it."""
    after = [p for p in evidence.house.placements if p.air_side is AirSide.AFTER_FILTER]
    drops = evidence.log.find(Quantity.FILTER_PRESSURE_DROP)
    if not after or not drops or handler_flow(evidence.house, FAN_CIRCULATE) <= 0.0:
        return None
    drop = evidence.on_grid(Quantity.FILTER_PRESSURE_DROP, drops[0].placement)
    duct = evidence.on_grid(Quantity.PM25, after[-1].id)
    if drop is None or duct is None:
        return None
    level = np.median(evidence.fit.level, axis=0)
    fan = evidence.fit.prepared.fan
    begin = evidence.index_of(after[-1].since)
    wanted = np.isfinite(duct) & (level > 2e-9) & (np.arange(level.size) >= begin)
    ratio = np.where(wanted, duct / np.maximum(level, 1e-10), np.nan)
    running = np.isfinite(drop) & (fan == FAN_CIRCULATE) & (np.arange(level.size) >= begin)
    ratio_days, ratio_values = evidence.per_day(ratio, least=10)
    drop_days, drop_values = evidence.per_day(np.where(running, drop, np.nan), least=10)
    days = np.intersect1d(ratio_days, drop_days)
    if days.size < 8:
        return None
    r = ratio_values[np.searchsorted(ratio_days, days)]
    d = drop_values[np.searchsorted(drop_days, days)]
    found = _joint_step(r, d)
    if found is None:
        return None
    inside, ratio_step, drop_step = found
    return Finding(
        id="filter-gap",
        title="For some days air went around the filter: its pressure drop fell while more particles passed.",
        source="filter",
        path="gap beside the filter",
        test="a photo of the seated filter shows no gap, or the drop fell because the flow did",
        evidence_for=(
            "the filter's drop fell at the same fan state",
            "the duct monitor saw a larger share of room air",
        ),
        evidence_against=(),
        standing=Standing.SUPPORTED,
        settle="seat a filter of the right size; look for the drop and the share to return",
        numbers=(
            (
                "duct over room, those days over the others",
                number(ratio_step, ratio_step * 0.9, ratio_step * 1.1, "-", "daily medians"),
            ),
            (
                "filter drop, those days over the others",
                number(drop_step, drop_step * 0.95, drop_step * 1.05, "-", "daily medians"),
            ),
            ("days", number(float(inside.sum()), float(inside.sum()), float(inside.sum()), "days", "count")),
        ),
    )


def _joint_step(ratio: Floats, drop: Floats) -> tuple[Integers, float, float] | None:
    """Return the run of days in which the ratio is up and the drop down together, with both factors."""
    best: tuple[float, Integers, float, float] | None = None
    size = ratio.size
    for first in range(size - 2):
        for last in range(first + 3, min(first + 30, size) + 1):
            inside = np.zeros(size, dtype=np.int64)
            inside[first:last] = 1
            outside = inside == 0
            if outside.sum() < 4:
                continue
            up = float(np.median(ratio[first:last]) / np.median(ratio[outside]))
            down = float(np.median(drop[first:last]) / np.median(drop[outside]))
            if up < 1.18 or down > 0.88:
                continue
            scatter = float(np.std(np.log(ratio[outside]))) + float(np.std(np.log(drop[outside]))) + 0.03
            strength = (np.log(up) - np.log(down)) * np.sqrt(last - first) / scatter
            if best is None or strength > best[0]:
                best = (float(strength), inside, up, down)
    if best is None or best[0] < 5.0:
        return None
    return best[1], best[2], best[3]
