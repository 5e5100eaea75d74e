"""Scores detected rises against recorded cooking, and against the same cooking shifted by random hours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.inference.rises import Rise


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """Hit rate of cooking spells by rises, against chance.

    ``spells`` cooking spells, ``rises`` detected, ``hit_rate`` share of spells with a rise [-], ``precision`` share
    of rises at a spell [-], ``shifted_hit_rates`` the hit rate for each random shift [-].
    """

    spells: int
    rises: int
    hit_rate: float
    precision: float
    shifted_hit_rates: np.ndarray

    @property
    def chance(self) -> float:
        """Return the share of random shifts that score at least as well, counting the true order as one."""
        return float(
            (1 + np.count_nonzero(self.shifted_hit_rates >= self.hit_rate)) / (1 + self.shifted_hit_rates.size)
        )


def merge_flags(
    time: np.ndarray, flag: np.ndarray, *, longest_pause: float = 600.0, shortest: float = 180.0
) -> list[tuple[float, float]]:
    """Return spells (start, stop) [s] of a chattering flag: pauses are bridged, spells that stay short are dropped."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flag, [False]]).astype(int)))
    spells: list[list[float]] = []
    for first, last in zip(edges[::2], edges[1::2] - 1, strict=True):
        if spells and time[first] - spells[-1][1] <= longest_pause:
            spells[-1][1] = float(time[last])
        else:
            spells.append([float(time[first]), float(time[last])])
    return [(start, stop) for start, stop in spells if stop - start >= shortest]


def hits(
    rises: tuple[Rise, ...], spells: list[tuple[float, float]], *, early: float = 300.0, late: float = 900.0
) -> np.ndarray:
    """Return for each spell whether a rise starts from ``early`` before it to ``late`` after its end."""
    starts = np.array([rise.start for rise in rises])
    return np.array([bool(np.any((starts >= a - early) & (starts <= b + late))) for a, b in spells])


def score(
    periods: list[tuple[np.ndarray, tuple[Rise, ...], list[tuple[float, float]]]],
    *,
    rng: np.random.Generator,
    shifts: int = 400,
) -> Score:
    """Score rises against spells over several periods, each (time, rises, spells); shifts wrap within a period."""
    found = np.concatenate([hits(rises, spells) for _, rises, spells in periods])
    at_spell = np.concatenate(
        [
            [any(a - 300.0 <= rise.start <= b + 900.0 for a, b in spells) for rise in rises]
            for _, rises, spells in periods
        ]
    )
    shifted = []
    for _ in range(shifts):
        moved = []
        for time, rises, spells in periods:
            begin, length = float(time[0]), float(time[-1] - time[0])
            # From two hours on: a smaller shift would still meet the same meal.
            by = float(rng.uniform(7200.0, length - 7200.0))
            starts = [(a - begin + by) % length + begin for a, _ in spells]
            moved.append(hits(rises, [(s, s + b - a) for s, (a, b) in zip(starts, spells, strict=True)]))
        shifted.append(float(np.mean(np.concatenate(moved))))
    return Score(
        spells=found.size,
        rises=at_spell.size,
        hit_rate=float(np.mean(found)),
        precision=float(np.mean(at_spell)) if at_spell.size else float("nan"),
        shifted_hit_rates=np.array(shifted),
    )
