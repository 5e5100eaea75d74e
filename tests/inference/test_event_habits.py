"""What a burst is, told by the household's other bursts of that hour."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.scenario.full_home import full_fit, full_house, made_log

from airtally.inference.event_habits import chances, with_habits
from airtally.inference.event_marks import Mark, marks_of

DAY = 86400.0


def mark(day: int, hour: float, *, in_works: bool = False) -> Mark:
    """Return the mark of a burst that has nothing beside it."""
    one = marks_of(full_fit().prepared, full_house(), made_log(), [(600, 610, 20.0)])[0]
    return replace(one, time=day * DAY + 3600.0 * hour, hour=hour, weekday=day % 7, in_works=in_works)


def shares(marks: list[Mark], seen: list[float]) -> np.ndarray:
    """Return the chance of the second of two kinds that are equally common, by what is seen of each burst."""
    return with_habits(np.zeros((len(marks), 2)), np.array([[0.0, s] for s in seen]), marks)[:, 1]


def test_without_others_a_burst_is_what_is_common_and_what_is_seen() -> None:
    assert shares([mark(0, 19.0)], [1.0])[0] == pytest.approx(1.0 / (1.0 + np.exp(-1.0)))


def test_bursts_of_the_same_hour_make_a_habit_and_those_of_other_hours_do_not() -> None:
    week = [mark(day, 19.2) for day in range(1, 7)]
    assert shares([mark(0, 19.0), *week], [0.0] + [4.0] * 6)[0] > 0.65
    assert shares([mark(0, 12.0), *week], [0.0] + [4.0] * 6)[0] == pytest.approx(0.5, abs=1e-6)


def test_the_same_weekday_tells_more_than_another() -> None:
    same = shares([mark(0, 19.0), mark(7, 19.0), mark(14, 19.0)], [0.0, 4.0, 4.0])[0]
    other = shares([mark(0, 19.0), mark(8, 19.0), mark(15, 19.0)], [0.0, 4.0, 4.0])[0]
    assert same > other > 0.5


def test_midnight_lies_between_late_and_early() -> None:
    assert shares([mark(0, 23.8), mark(7, 0.1), mark(14, 0.1)], [0.0, 4.0, 4.0])[0] > 0.6


def test_bursts_of_one_day_and_of_works_are_no_habit() -> None:
    assert shares([mark(0, 19.0), mark(0, 19.5)], [0.0, 4.0])[0] == pytest.approx(0.5)
    works = [mark(7, 19.0, in_works=True), mark(14, 19.0, in_works=True)]
    assert shares([mark(0, 19.0), *works], [0.0, 4.0, 4.0])[0] == pytest.approx(0.5)


def test_chances_are_the_exponentials_of_the_odds_scaled_to_one() -> None:
    assert chances(np.log([[1.0, 3.0], [2.0, 2.0]])) == pytest.approx(np.array([[0.25, 0.75], [0.5, 0.5]]))
    assert np.isfinite(chances(np.array([[900.0, -900.0]]))).all()
