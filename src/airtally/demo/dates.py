"""Dates of the invented job: days counted from its first Monday, local wall time, one seed one calendar."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.demo.quirks import Quirk

TIME_ZONE = "America/Denver"
"""A zone of cold dry valleys; the town is invented."""
MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0
COLOCATION_DAYS = 3
"""The log begins on the Friday before the first Monday: monitors side by side."""
REFERENCE_SEED = 1
YEARS = (2023, 2024, 2025, 2026)
TRIAL_FIRST, TRIAL_DAYS = 42, 21
REFERENCE_DRAW = (1, 0, 1, 0, 1, 0, 0, 0, 1, 1, 0, 0, 1, 0, 1, 0, 1, 0, 0, 1, 0)


def generator(seed: int, purpose: str) -> np.random.Generator:
    """Return a generator of its own for each purpose, so that one quirk moves no other draw."""
    return np.random.default_rng([seed, zlib.crc32(purpose.encode())])


@dataclass(frozen=True, slots=True, kw_only=True)
class Dates:
    """When things happen. Times [s, POSIX UTC]; days count from the first Monday (0)."""

    monday: date
    fold_day: int
    """Sunday on which the clocks go back."""
    end_day: int
    smoke_week: int
    spill: float
    gap: tuple[float, float]
    filter_gap: tuple[float, float]
    rule_days: tuple[int, ...]
    """One a day of the trial: 1 rule on, 0 off."""

    def at(self, day: int, hour: float = 0.0) -> float:
        """Return the instant of a local wall time; ``hour`` of the clock [h]."""
        wall = datetime.combine(self.monday, datetime.min.time()) + timedelta(days=day, minutes=round(hour * 60.0))
        return wall.replace(tzinfo=ZoneInfo(TIME_ZONE)).timestamp()

    def day(self, day: int) -> str:
        """Return the date of a day, ISO."""
        return (self.monday + timedelta(days=day)).isoformat()

    @property
    def start(self) -> float:
        """Return the first instant of the logs."""
        return self.at(-COLOCATION_DAYS)

    @property
    def end(self) -> float:
        """Return the first instant after the logs."""
        return self.at(self.end_day)

    @property
    def works(self) -> tuple[float, float]:
        """Return begin and end of the works."""
        return self.at(29, 8.0), self.at(31, 17.0)

    def wall(self, time: float) -> str:
        """Return local wall time without offset, ISO to the minute."""
        return datetime.fromtimestamp(time, ZoneInfo(TIME_ZONE)).strftime("%Y-%m-%d %H:%M")

    def zulu(self, time: float) -> str:
        """Return UTC, ISO 8601."""
        return datetime.fromtimestamp(time, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")

    def minutes(self) -> Floats:
        """Return the first instant of each minute of the job. Shape (minutes,) [s, POSIX UTC]."""
        return np.arange(self.start, self.end, MINUTE)

    def wall_seconds(self, time: Floats) -> Floats:
        """Return local wall time as seconds since 1970 of the wall clock. [s]"""
        fold = self.at(self.fold_day, 0.0) + 2.0 * HOUR
        summer = self.at(self.fold_day, 0.0) - _naive(self.monday, self.fold_day)
        return time - summer - np.where(time >= fold, HOUR, 0.0)

    def day_index(self, time: Floats) -> Integers:
        """Return the local day of each instant, 0 for the first Monday."""
        return np.floor((self.wall_seconds(time) - _naive(self.monday, 0)) / DAY).astype(np.int64)

    def hour_of_day(self, time: Floats) -> Floats:
        """Return the local hour of each instant. [h]"""
        return np.mod(self.wall_seconds(time), DAY) / HOUR


def _naive(monday: date, day: int) -> float:
    return datetime.combine(monday + timedelta(days=day), datetime.min.time(), tzinfo=UTC).timestamp()


def make_dates(seed: int, quirks: frozenset[Quirk], weeks: int) -> Dates:
    """Return the calendar of a seed; seed 1 is the reference one.

    Other seeds change the year, move the whole job by whole weeks so that the clocks still go back
    inside it and after the works, and shift single days.
    """
    rng = generator(seed, "dates")
    year, shift, spill_week, gap_day, swap_day, smoke_week = 2025, 0, 7, 44, 58, 2
    spill_hour, swap_hour, gap_hour = 19.0 + 40.0 / 60.0, 18.0, 14.0 + 10.0 / 60.0
    if seed != REFERENCE_SEED:
        year = int(rng.choice(YEARS))
        shift = int(rng.integers(0, 3))
        spill_week = int(rng.integers(6, 8))
        gap_day = int(rng.integers(42, 46))
        swap_day = int(rng.integers(57, 60))
        smoke_week = int(rng.integers(1, 3))
        spill_hour += float(rng.integers(-4, 5)) / 6.0
        swap_hour += float(rng.integers(-4, 5)) / 4.0
        gap_hour += float(rng.integers(-12, 13)) / 4.0
    fold = date(year, 11, 1) + timedelta(days=(6 - date(year, 11, 1).weekday()) % 7)
    fold_day = 62 - 7 * shift
    made = Dates(
        monday=fold - timedelta(days=fold_day),
        fold_day=fold_day,
        end_day=7 * weeks,
        smoke_week=smoke_week,
        spill=0.0,
        gap=(0.0, 0.0),
        filter_gap=(0.0, 0.0),
        rule_days=_draw(seed, quirks),
    )
    gap_from = made.at(gap_day, gap_hour)
    return Dates(
        monday=made.monday,
        fold_day=fold_day,
        end_day=made.end_day,
        smoke_week=smoke_week,
        spill=made.at(7 * spill_week + 5, spill_hour),
        gap=(gap_from, gap_from + 43.25 * HOUR),
        filter_gap=(made.at(swap_day, swap_hour), made.at(65, 17.0)),
        rule_days=made.rule_days,
    )


def _draw(seed: int, quirks: frozenset[Quirk]) -> tuple[int, ...]:
    """Return the drawn days: each weekday on once or twice in three weeks, or with all Sundays off."""
    if Quirk.UNBALANCED_DRAW in quirks and seed == REFERENCE_SEED:
        return REFERENCE_DRAW
    rng = generator(seed, "draw")
    drawn = np.zeros(TRIAL_DAYS, dtype=np.int64)
    weekday = np.arange(TRIAL_DAYS) % 7
    if Quirk.UNBALANCED_DRAW in quirks:
        drawn[rng.choice(np.flatnonzero(weekday < 6), size=9, replace=False)] = 1
        return tuple(int(d) for d in drawn)
    counts = [*rng.permutation([1, 1, 2, 2]), *rng.permutation([1, 2, int(rng.integers(1, 3))])]
    for day, count in enumerate(counts):
        drawn[rng.permutation(np.flatnonzero(weekday == day))[:count]] = 1
    return tuple(int(d) for d in drawn)
