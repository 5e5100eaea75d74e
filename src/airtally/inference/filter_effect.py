"""What a switched filter or cleaner does to a room while the outdoor level stays put."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.errors import FitError
from airtally.estimates import Basis, Estimate
from airtally.inference.decays import Phase, find_decay_windows, largest_fall
from airtally.inference.outdoor_fit import one_reading_per_refresh


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterEffect:
    """Steady level before and after a device was switched on.

    Attributes
    ----------
    reduction : Estimate
        One less the ratio of indoor over outdoor level, after over before. [-]
    switched_at, settled_at : float
        Where the fall begins and where it ends. [s]
    level_before, level_after : float
        Mean indoor readings. [unit of the readings]
    outdoor_change : float or None
        Outdoor level after over before, where an outdoor series is at hand. [-]
    readings_before, readings_after : int
        Readings, one a refresh of the sensor.
    """

    reduction: Estimate
    switched_at: float
    settled_at: float
    level_before: float
    level_after: float
    outdoor_change: float | None
    readings_before: int
    readings_after: int

    @property
    def outdoors_held_still(self) -> bool:
        """Return whether the outdoor level stayed within a tenth, so that before and after compare."""
        return self.outdoor_change is not None and abs(self.outdoor_change - 1.0) <= 0.1

    def sentence(self) -> str:
        """Return the effect with what it rests on, in plain words."""
        r = self.reduction
        outdoors = "the outdoor level was not recorded"
        if self.outdoor_change is not None:
            still = "stayed within a tenth" if self.outdoors_held_still else "moved, and is divided out"
            outdoors = f"the outdoor level {still} ({self.outdoor_change - 1.0:+.0%})"
        return (
            f"The room came to rest {r.value:.0%} lower ({r.low:.0%} to {r.high:.0%}), from {self.readings_before} readings "
            f"before and {self.readings_after} after; {outdoors}. It holds for this room, its doors and this outdoor air."
        )


def filter_effect(
    time: Floats,
    indoor: Floats,
    outdoor_time: Floats | None = None,
    outdoor: Floats | None = None,
    *,
    before_span: float = 7200.0,
    after_span: float = 36000.0,
) -> FilterEffect:
    """Find where a device was switched on and compare the levels at rest before and after.

    The switch is the largest fall of the record. Before counts what was read in ``before_span`` up to the
    fall, after what was read from its end on. Each indoor reading is divided by the outdoor level of its
    instant, where one is at hand. The interval counts readings, not rows, in contiguous blocks.

    Parameters
    ----------
    time, indoor : float64 arrays, shape (rows,)
        Ascending instants [s] and indoor readings [any unit].
    outdoor_time, outdoor : float64 arrays, shape (outdoor rows,), optional
        Ascending instants [s] and outdoor readings [unit of ``indoor``].
    before_span, after_span : float
        Longest stretch that counts on either side. [s]

    Raises
    ------
    FitError
        Where the record shows no fall, or fewer than four readings on one side of it.
    """
    keep = np.isfinite(time) & np.isfinite(indoor)
    x, y = one_reading_per_refresh(time[keep], indoor[keep])
    fall = largest_fall(find_decay_windows(x, y), Phase.DECAY, Phase.DEVICE)
    if fall is None:
        raise FitError("the record shows no fall in which a device could have been switched on")
    before = (x < fall.start) & (x >= fall.start - before_span)
    after = (x > fall.stop) & (x <= fall.stop + after_span)
    if min(np.count_nonzero(before), np.count_nonzero(after)) < 4:
        raise FitError(
            f"{np.count_nonzero(before)} readings stand before the switch and {np.count_nonzero(after)} after it; "
            "four are needed on each side"
        )
    scale = np.ones(x.size)
    change: float | None = None
    if outdoor_time is not None and outdoor is not None:
        known = np.isfinite(outdoor_time) & np.isfinite(outdoor)
        scale = np.interp(x, outdoor_time[known], outdoor[known])
        change = float(np.mean(scale[after]) / np.mean(scale[before]))
    ratio = y / scale
    return FilterEffect(
        reduction=_reduction(ratio[before], ratio[after]),
        switched_at=float(x[before][-1]),
        settled_at=fall.stop,
        level_before=float(np.mean(y[before])),
        level_after=float(np.mean(y[after])),
        outdoor_change=change,
        readings_before=int(np.count_nonzero(before)),
        readings_after=int(np.count_nonzero(after)),
    )


def _reduction(before: Floats, after: Floats) -> Estimate:
    from scipy.stats import t as student

    parts = [_blocks(side) for side in (before, after)]
    left = float(np.mean(after) / np.mean(before))
    variance = sum(float(np.var(p, ddof=1)) / p.size / float(np.mean(p)) ** 2 for p in parts)
    half = float(student.ppf(0.95, min(p.size for p in parts) - 1)) * variance**0.5
    return Estimate(
        value=1.0 - left,
        low=1.0 - left * float(np.exp(half)),
        high=1.0 - left * float(np.exp(-half)),
        unit="-",
        basis=Basis.FITTED,
        source=f"levels at rest, {before.size} readings before and {after.size} after, in blocks",
    )


def _blocks(values: Floats) -> Floats:
    """Return the means of up to eight contiguous blocks of at least two readings; neighbours share their error."""
    count = min(8, max(2, values.size // 2))
    return np.array([np.mean(part) for part in np.array_split(values, count)])
