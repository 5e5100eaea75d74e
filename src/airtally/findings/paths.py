"""Findings about ways air travels: garage air at fan starts, a workshop that shares its dust, weather and run time."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Booleans, Floats, Integers
from airtally.estimates import Estimate
from airtally.findings.parts import Finding, Standing
from airtally.findings.series import Evidence, number
from airtally.house.parts import AirSide, ZoneKind
from airtally.inference.events import Source
from airtally.quantities import Quantity

LEAST_STARTS = 6
LEAST_EVENTS = 3


def garage_air_at_fan_starts(evidence: Evidence) -> Finding | None:
    """Look for a VOC step when the fan comes on, larger after cars leave, and whether sealing ended it."""
    if not any(z.kind is ZoneKind.GARAGE for z in evidence.house.zones):
        return None
    room = evidence.longest(Quantity.VOC, evidence.placements(AirSide.ROOM))
    voc = evidence.on_grid(Quantity.VOC, room) if room is not None else None
    if voc is None:
        return None
    starts = evidence.fan_starts()
    steps = _steps_at(voc, starts, evidence.fit.prepared.step)
    known = np.isfinite(steps)
    starts, steps = starts[known], steps[known]
    prepared = evidence.fit.prepared
    hour = prepared.seconds_of_day[starts] / 3600.0
    weekday = (evidence.day[starts] + 3) % 7 < 5  # day 0 of the count was a Thursday
    morning = weekday & (hour >= 7.4) & (hour <= 9.5)
    first = starts < (prepared.phase_steps(prepared.phases[0]).stop if prepared.phases else starts.size)
    early, rest = steps[morning & first], steps[~morning & first]
    later = steps[morning & ~first]
    if early.size < LEAST_STARTS or rest.size < LEAST_STARTS:
        return None
    scatter = max(1.4826 * float(np.median(np.abs(rest - np.median(rest)))), 1.0)
    excess = float(np.median(early) - np.median(rest))
    chance = _permutation(early, rest)
    if excess < 2.0 * scatter / np.sqrt(early.size) or excess < 3.0 or chance > 0.02:
        return None
    ended = later.size >= LEAST_STARTS and float(np.median(later)) < 0.5 * float(np.median(early))
    return Finding(
        id="garage-air-at-fan-starts",
        title="When the fan came on after the car had left, garage air reached the rooms.",
        source="garage",
        path="return leak",
        test="with the return leak taped the step stays, or it is as large on days without a car",
        evidence_for=(
            "the VOC signal rises at fan starts on weekday mornings and less at others",
            *(("after the works the step is gone",) if ended else ()),
        ),
        evidence_against=("a VOC signal also moves with temperature and humidity",),
        standing=Standing.SUPPORTED,
        settle="carbon monoxide at 1 ppm in the return for three mornings, or a tape test",
        numbers=(
            ("VOC step on those mornings", _halves(early)),
            ("VOC step at other starts", _halves(rest)),
        ),
    )


def _halves(values: Floats) -> Estimate:
    low, high = np.quantile(values, [0.25, 0.75])
    return number(float(np.median(values)), float(low), float(high), "index", "median of starts; middle half")


def _steps_at(series: Floats, starts: Integers, step: float) -> Floats:
    """Return the rise from the minutes before each start to the minutes after it; NaN where readings lack."""
    before = max(int(300.0 / step), 1)
    skip, after = max(int(120.0 / step), 1), max(int(600.0 / step), 2)
    found = np.full(starts.size, np.nan)
    for i, s in enumerate(starts):
        if s - before < 0 or s + after > series.size:
            continue
        ahead, behind = series[s + skip : s + after], series[s - before : s]
        if np.isfinite(ahead).sum() >= 2 and np.isfinite(behind).sum() >= 2:
            found[i] = float(np.nanmean(ahead) - np.nanmean(behind))
    return found


def _permutation(one: Floats, other: Floats, rounds: int = 2000) -> float:
    """Return how often a random split of the same values gives medians as far apart. Seeded: it is a test, not a draw."""
    rng = np.random.default_rng(20)
    pooled = np.concatenate([one, other])
    real = float(np.median(one) - np.median(other))
    count = 0
    for _ in range(rounds):
        mixed = rng.permutation(pooled)
        count += float(np.median(mixed[: one.size]) - np.median(mixed[one.size :])) >= real
    return (count + 1) / (rounds + 1)


def workshop_shares_dust(evidence: Evidence) -> Finding | None:
    """Look for workshop events whose dust reached the rooms before the works and no longer after."""
    workshops = {z.id for z in evidence.house.zones if "workshop" in f"{z.id} {z.name}".lower()}
    there = tuple(p.id for p in evidence.house.placements if p.zone in workshops and p.air_side is AirSide.ROOM)
    elsewhere = tuple(p for p in evidence.placements(AirSide.ROOM) if p not in there)
    own, other = evidence.longest(Quantity.PM25, there), evidence.longest(Quantity.PM25, elsewhere)
    if own is None or other is None or len(evidence.fit.prepared.phases) < 2:
        return None
    shop = evidence.on_grid(Quantity.PM25, own)
    rooms = evidence.on_grid(Quantity.PM25, other)
    if shop is None or rooms is None:
        return None
    gains = {i.id: i.gain.value for i in evidence.house.instruments}
    owner = {p.id: p.instrument for p in evidence.house.placements}
    shop = shop / gains.get(owner[own], 1.0)
    rooms = rooms / gains.get(owner[other], 1.0)
    when, share = _spread(shop, rooms, evidence.fit.prepared.step)
    prepared = evidence.fit.prepared
    before = when < prepared.phase_steps(prepared.phases[0]).stop
    after = when >= prepared.phase_steps(prepared.phases[1]).start
    if before.sum() < LEAST_EVENTS or after.sum() < LEAST_EVENTS:
        return None
    old, new = float(np.median(share[before])), float(np.median(share[after]))
    if old < 0.12 or new > 0.6 * old:
        return None
    return Finding(
        id="workshop-shared-dust",
        title="Before the works the workshop's dust reached the rooms; since then it stays there.",
        source=Source.HOBBY.value,
        path="return grille in the workshop wall",
        test="with the workshop closed and the fan off the rooms rise as much",
        evidence_for=("the rooms rose along with the workshop before", "they rise far less since"),
        evidence_against=("dust was not made in the same way each time",),
        standing=Standing.SUPPORTED,
        settle="one more evening in the workshop with the fan on and one with it off",
        numbers=(
            ("rise in the rooms over rise in the workshop, before", _middle(share[before])),
            ("the same, after", _middle(share[after])),
        ),
    )


def _middle(values: Floats) -> Estimate:
    low, high = np.quantile(values, [0.05, 0.95])
    return number(float(np.median(values)), float(low), float(high), "-", f"{values.size} events")


def _spread(shop: Floats, rooms: Floats, step: float) -> tuple[Integers, Floats]:
    """Return the step of each workshop rise and the rooms' rise over it."""
    window = max(int(5400.0 / step), 3)
    base = max(int(1200.0 / step), 2)
    level = np.where(np.isfinite(shop), shop, 0.0)
    quick = max(int(600.0 / step), 1)
    jump: Booleans = np.zeros(level.size, dtype=np.bool_)
    jump[quick:] = level[quick:] - level[:-quick] > 30e-9
    marked = np.flatnonzero(jump)
    onsets = marked[np.r_[True, np.diff(marked) > window]] if marked.size else marked
    when, share = [], []
    for s in onsets:
        if s - quick - base < 0 or s + window > level.size:
            continue
        before = slice(s - quick - base, s - quick)
        inside = slice(s - quick, s + window)
        parts = shop[before], shop[inside], rooms[before], rooms[inside]
        if any(np.isfinite(p).sum() < 3 for p in parts):
            continue
        up = float(np.nanmax(parts[1]) - np.nanmedian(parts[0]))
        along = float(np.nanmax(parts[3]) - np.nanmedian(parts[2]))
        if up > 40e-9 and along < up:  # a rise that is larger elsewhere was not the workshop's
            when.append(s)
            share.append(max(along, 0.0) / up)
    return np.array(when, dtype=np.int64), np.array(share)
