"""Series side by side for the detectors: quantities by placement on the fit's grid, days, fan starts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.clock import local_day
from airtally.estimates import Basis, Estimate
from airtally.house.parts import AirSide, House
from airtally.inference.fit import Fit
from airtally.inference.grid import on_grid
from airtally.quantities import Quantity
from airtally.readings.log import Flag, Log
from airtally.scenario.baseline import Baseline


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What a detector may look at."""

    house: House
    log: Log
    fit: Fit
    baseline: Baseline

    def on_grid(self, quantity: Quantity, placement: str, *, flagged: tuple[Flag, ...] = ()) -> Floats | None:
        """Return one stream on the fit's grid, NaN where silent; ``flagged`` rows may be let in besides kept ones."""
        found = self.log.find(quantity, placement)
        if not found:
            return None
        index = self.log.streams.index(found[0])
        wanted = self.log.stream == index
        allowed = np.isin(self.log.flag, [int(Flag.KEPT), *[int(f) for f in flagged]])
        rows = np.flatnonzero(wanted & allowed & np.isfinite(self.log.time))
        if rows.size < 10:
            return None
        p = self.fit.prepared
        return on_grid(self.log.time[rows], self.log.value[rows], p.start, p.step, p.steps)

    def longest(self, quantity: Quantity, placements: tuple[str, ...]) -> str | None:
        """Return the placement, of those given, that has the most kept readings of a quantity; None if none has any."""
        counts = {p: self.log.series(s)[0].size for p in placements for s in self.log.find(quantity, p)}
        return max(counts, key=lambda p: counts[p]) if counts else None

    def placements(self, side: AirSide) -> tuple[str, ...]:
        """Return the placements on one air side, in the survey's order."""
        return tuple(p.id for p in self.house.placements if p.air_side is side)

    @property
    def day(self) -> Integers:
        """Return the local day of each step."""
        return local_day(self.fit.prepared.time, self.house.time_zone)

    def per_day(self, value: Floats, least: int = 60) -> tuple[Integers, Floats]:
        """Return days and the median of a series on each, days with fewer than ``least`` values left out."""
        day = self.day
        known = np.isfinite(value)
        days, medians = [], []
        for number in np.unique(day[known]):
            here = known & (day == number)
            if here.sum() >= least:
                days.append(number)
                medians.append(float(np.median(value[here])))
        return np.array(days, dtype=np.int64), np.array(medians)

    def fan_starts(self, quiet_minutes: float = 15.0) -> Integers:
        """Return the steps at which the fan came on after at least ``quiet_minutes`` of rest."""
        fan = self.fit.prepared.fan > 0
        rest = int(quiet_minutes * 60.0 / self.fit.prepared.step)
        onsets = np.flatnonzero(fan[1:] & ~fan[:-1]) + 1
        return np.array([s for s in onsets if s >= rest and not fan[s - rest : s].any()], dtype=np.int64)

    def index_of(self, time: float) -> int:
        """Return the step that holds an instant [s, POSIX UTC], kept inside the record."""
        return int(np.clip(np.searchsorted(self.fit.prepared.time, time), 0, self.fit.prepared.steps - 1))


def number(value: float, low: float, high: float, unit: str, source: str) -> Estimate:
    """Return a computed SI number with its interval, ends put in order around the value."""
    return Estimate(
        value=value, low=min(low, value), high=max(high, value), unit=unit, basis=Basis.COMPUTED, source=source
    )
