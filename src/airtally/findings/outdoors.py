"""Findings about outdoor air: smoke episodes, and fog that an outdoor monitor takes for particles."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats
from airtally.findings.parts import Finding, Standing
from airtally.findings.series import Evidence, number
from airtally.house.parts import AirSide
from airtally.inference.prepare import MICRO
from airtally.quantities import Quantity
from airtally.readings.log import Flag

SMOKE_DAY = 35.0
"""Outdoor daily mean that makes a smoke day [ug/m3]; the US 24-hour level used as a divider, not as a verdict."""
LEAST_SMOKE_DAYS = 2
HUMID = 0.90
"""Relative humidity from which drops grow on particles strongly [-]; common practice, no source."""


def smoke_outdoors(evidence: Evidence) -> Finding | None:
    """Look for days on which smoke outdoors drove the rooms."""
    prepared = evidence.fit.prepared
    if not prepared.outdoor_is_measured:
        return None
    day = evidence.day
    first = day[0]
    index = (day - first).astype(np.int64)
    count = np.bincount(index)
    outdoor = np.bincount(index, weights=prepared.outdoor) / np.maximum(count, 1) * MICRO
    level = np.median(evidence.fit.level, axis=0)
    room = np.bincount(index, weights=level) / np.maximum(count, 1) * MICRO
    smoky = (outdoor > SMOKE_DAY) & (count * prepared.step > 12 * 3600.0)
    if smoky.sum() < LEAST_SMOKE_DAYS:
        return None
    inside = smoky[index]
    hourly = max(round(3600.0 / prepared.step), 1)
    cut = inside.size // hourly * hourly
    out_hours = prepared.outdoor[:cut].reshape(-1, hourly).mean(axis=1)
    room_hours = level[:cut].reshape(-1, hourly).mean(axis=1)
    picked = inside[:cut:hourly]
    together = float(np.corrcoef(out_hours[picked], room_hours[picked])[0, 1]) if picked.sum() > 10 else 0.0
    ratios = room[smoky] / outdoor[smoky]
    supported = together > 0.4
    return Finding(
        id="smoke-outdoors",
        title="On some days the particles indoors were smoke from outdoors.",
        source="outdoor",
        path="leaks, all rooms alike",
        test="indoor over outdoor level changes with no change outdoors, or one room leads the others",
        evidence_for=("outdoor daily means above the divider", "the rooms followed the outdoor curve hour by hour")
        if supported
        else ("outdoor daily means above the divider",),
        evidence_against=() if supported else ("the rooms did not follow the outdoor curve",),
        standing=Standing.SUPPORTED if supported else Standing.NOT_SEPARABLE,
        settle="a monitor outdoors at the house during the next smoke days",
        numbers=(
            ("smoke days", number(float(smoky.sum()), float(smoky.sum()), float(smoky.sum()), "days", "count")),
            (
                "rooms over outdoors on those days",
                number(
                    float(np.median(ratios)),
                    float(ratios.min()),
                    float(ratios.max()),
                    "-",
                    "daily means; range over days",
                ),
            ),
        ),
    )


def fog_on_the_monitor(evidence: Evidence) -> Finding | None:
    """Look for humid hours in which the outdoor monitor reads far above another one that is dry-checked."""
    places = evidence.placements(AirSide.OUTDOOR)
    local = next((p for p in places if evidence.log.find(Quantity.RELATIVE_HUMIDITY, p)), None)
    others = [p for p in places if p != local]
    if local is None or not others:
        return None
    humidity = evidence.on_grid(Quantity.RELATIVE_HUMIDITY, local)
    here = evidence.on_grid(Quantity.PM25, local, flagged=(Flag.HUMID,))
    there = evidence.on_grid(Quantity.PM25, others[0], flagged=(Flag.HUMID,))
    if humidity is None or here is None or there is None:
        return None
    hourly = max(round(3600.0 / evidence.fit.prepared.step), 1)
    cut = here.size // hourly * hourly

    def hours(value: Floats) -> Floats:
        block = value[:cut].reshape(-1, hourly)
        known = np.isfinite(block)
        total = np.where(known, block, 0.0).sum(axis=1)
        return np.asarray(np.where(known.any(axis=1), total / np.maximum(known.sum(axis=1), 1), np.nan))

    rh, a, b = hours(humidity), hours(here) * MICRO, hours(there) * MICRO
    known = np.isfinite(rh) & np.isfinite(a) & np.isfinite(b) & (b > 1.0)
    wet = known & (rh > HUMID)
    dry = known & (rh < 0.70)
    if wet.sum() < 4 or dry.sum() < 24:
        return None
    ratio_wet = float(np.median(a[wet] / b[wet]))
    ratio_dry = float(np.median(a[dry] / b[dry]))
    excess = float(np.median(a[wet] - ratio_dry * b[wet]))
    if ratio_wet < 1.5 * ratio_dry or excess < 6.0:
        return None
    spread = np.quantile(a[wet] / b[wet] / ratio_dry, [0.05, 0.95])
    return Finding(
        id="fog-on-outdoor-monitor",
        title="In fog the outdoor monitor read water drops as particles.",
        source="sensor",
        path="optical reading in humid air",
        test="the same hours on a monitor that dries its sample read as high",
        evidence_for=("far above the other outdoor monitor in humid hours only", "both agree in dry hours"),
        evidence_against=(),
        standing=Standing.SUPPORTED,
        settle="take triggers from the other monitor, or set readings above 75 % humidity aside",
        numbers=(
            (
                "reading in fog over reading in dry air, both against the other monitor",
                number(
                    ratio_wet / ratio_dry,
                    float(spread[0]),
                    float(spread[1]),
                    "-",
                    "hours above 90 % against below 70 %",
                ),
            ),
            ("humid hours", number(float(wet.sum()), float(wet.sum()), float(wet.sum()), "h", "count")),
        ),
    )
