"""Findings about clocks: a logger whose hour moved against the fan it listens to."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats
from airtally.findings.parts import Finding, Standing
from airtally.findings.sensors import IN_DUCT
from airtally.findings.series import Evidence, number
from airtally.quantities import Quantity
from airtally.readings.log import Flag

WITNESSES = (Quantity.TEMPERATURE, Quantity.VOC, Quantity.PM25)
"""Quantities of an in-duct monitor that move when the fan starts, the clearest first."""
LAGS = np.arange(-130, 131)
"""Lags tried, in minutes."""
LEAST_JUMP = 1800.0
"""Smallest jump of lag that counts [s]; clocks change by the hour, drift by minutes."""


def clock_moved(evidence: Evidence) -> Finding | None:
    """Look for a jump of the lag between the fan and what an in-duct monitor feels at fan starts."""
    prepared = evidence.fit.prepared
    if prepared.step > 60.0:
        return None
    masked = (Flag.MASKED_FAN_OFF, Flag.MASKED_PURGE, Flag.CLOCK_UNSURE)
    for place in evidence.house.placements:
        if place.air_side not in IN_DUCT:
            continue
        for quantity in WITNESSES:
            series = evidence.on_grid(quantity, place.id, flagged=masked)
            if series is None:
                continue
            found = _jump(evidence, series)
            if found is not None:
                day, before, after = found
                return Finding(
                    id="clock-moved",
                    title="The duct monitor's clock jumped against the fan's: its times after that day are not house time.",
                    source="sensor",
                    path=f"{place.instrument} at {place.id}",
                    test="a fan start by hand shows in both logs at the same minute",
                    evidence_for=("the lag from fan start to the monitor's response jumps from one day to the next and stays",),
                    evidence_against=(),
                    standing=Standing.SUPPORTED,
                    settle="log in UTC, or state the logger's offset in the survey from that day on",
                    numbers=(
                        ("lag before", number(before, before - 120.0, before + 120.0, "s", "lag search")),
                        ("lag after", number(after, after - 120.0, after + 120.0, "s", "lag search")),
                        (
                            "day of the jump, counted from the first",
                            number(float(day), float(day - 1), float(day + 1), "days", "lag search"),
                        ),
                    ),
                )
    return None


def _jump(evidence: Evidence, series: Floats) -> tuple[int, float, float] | None:
    """Return day, lag before and lag after of the clearest jump [s]; None if there is none."""
    fan = (evidence.fit.prepared.fan > 0).astype(np.float64)
    onset = np.zeros(fan.size)
    onset[1:] = (fan[1:] > fan[:-1]).astype(np.float64)
    change = np.zeros(series.size)
    change[3:] = np.abs(series[3:] - series[:-3])
    spread = np.nanmedian(change[np.isfinite(change)]) if np.isfinite(change).any() else 0.0
    top = np.nanquantile(change[np.isfinite(change)], 0.99) if np.isfinite(change).any() else 0.0
    if top <= 0.0 or spread >= top:
        return None
    change = np.clip(np.nan_to_num(change), 0.0, top)
    day = evidence.day - evidence.day[0]
    days = int(day[-1]) + 1
    scores = np.zeros((days, LAGS.size))
    for number_of_day in range(days):
        here = np.flatnonzero((day == number_of_day) & (onset > 0))
        for s in here:
            window = s + LAGS
            inside = (window >= 0) & (window < change.size)
            scores[number_of_day, inside] += change[window[inside]]
    total = np.cumsum(scores, axis=0)
    whole = total[-1]
    best: tuple[float, int, float, float] | None = None
    single = float(_peak(whole))
    for cut in range(4, days - 3):
        before, after = total[cut - 1], whole - total[cut - 1]
        gain = float(_peak(before) + _peak(after)) - single
        lag_before, lag_after = float(LAGS[int(np.argmax(_sharp(before)))]), float(LAGS[int(np.argmax(_sharp(after)))])
        if best is None or gain > best[0]:
            best = (gain, cut, lag_before * 60.0, lag_after * 60.0)
    if best is None or abs(best[3] - best[2]) < LEAST_JUMP:
        return None
    before, after = total[best[1] - 1], whole - total[best[1] - 1]
    if _clearness(before) < 4.0 or _clearness(after) < 4.0:
        return None
    return best[1], best[2], best[3]


def _sharp(score: Floats) -> Floats:
    """Return the score with its slow part taken off, as fan starts come in a daily rhythm of their own."""
    kernel = np.ones(31) / 31.0
    return np.asarray(score - np.convolve(np.pad(score, 15, mode="edge"), kernel, mode="valid"))


def _peak(score: Floats) -> float:
    return float(np.max(_sharp(score)))


def _clearness(score: Floats) -> float:
    sharp = _sharp(score)
    deviation = 1.4826 * float(np.median(np.abs(sharp - np.median(sharp)))) + 1e-12
    return float(np.max(sharp)) / deviation
