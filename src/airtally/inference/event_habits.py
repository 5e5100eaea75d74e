"""A household's habits, learnt from its own bursts: what those of the same hour on other days turned out to be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from airtally.arrays import Floats
from airtally.inference.event_marks import Mark

SAME_HOUR = 0.5
"""Standard deviation of the clock at which a household does the same thing. [h] Judgement."""
OTHER_WEEKDAY = 0.35
"""What a burst on another weekday tells of this one; hobbies and cleaning keep to weekdays, meals to hours. [-] Judgement."""
COMMON_PRACTICE = 3.0
"""How many bursts of its own a household needs to outweigh what is common. Judgement."""
ROUNDS = 5


def with_habits(common: Floats, seen: Floats, marks: Sequence[Mark]) -> Floats:
    """Return the probability of each kind for each burst, habits included.

    Bursts of the same hour on other days say what a burst is before its own marks are looked at; each counts by the
    chance that its own marks and the diary give it. Hours of dated works are no habit.

    Parameters
    ----------
    common, seen : float64 array, shape (bursts, kinds)
        Log odds by common practice at that hour, and by what stands beside the burst. [-]
    marks : sequence of Mark

    Returns
    -------
    chance : float64 array, shape (bursts, kinds)
        Rows sum to one. [-]
    """
    hour = np.array([mark.hour for mark in marks])
    weekday = np.array([mark.weekday for mark in marks])
    works = np.array([mark.in_works for mark in marks])
    time = np.array([mark.time for mark in marks])
    apart = np.abs(hour[:, None] - hour)
    apart = np.minimum(apart, 24.0 - apart)
    alike = np.exp(-0.5 * (apart / SAME_HOUR) ** 2) * np.where(weekday[:, None] == weekday, 1.0, OTHER_WEEKDAY)
    # Another burst of the same day is no second witness, and works are no habit.
    alike[(np.abs(time[:, None] - time) < 43200.0) | works[:, None] | works] = 0.0
    usual = chances(common)
    chance = chances(common + seen)
    for _ in range(ROUNDS):
        share = (COMMON_PRACTICE * usual + alike @ chance) / (COMMON_PRACTICE + alike.sum(axis=1, keepdims=True))
        chance = chances(np.log(share) + seen)
    return chance


def chances(odds: Floats) -> Floats:
    """Return probabilities from log odds, row by row."""
    weight = np.exp(odds - odds.max(axis=1, keepdims=True))
    return np.asarray(weight / weight.sum(axis=1, keepdims=True))
