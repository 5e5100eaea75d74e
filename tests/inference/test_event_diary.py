"""How near a diary comes to a burst."""

from __future__ import annotations

import numpy as np
import pytest

from airtally.house.parts import DiaryEntry
from airtally.inference.event_diary import is_kept, nearness, runs_for_hours

HOUR = 3600.0
DAY = 86400.0


def entry(start: float, end: float | None = None) -> DiaryEntry:
    return DiaryEntry(start=start, end=end, kind="fire")


@pytest.mark.parametrize(
    ("start", "end", "near"),
    [
        (10.0, 11.0, 1.0),
        (12.2, 13.0, 1.0),
        (6.0, 7.0, 0.0),
        (15.0, 16.0, 0.0),
        (13.0 + 2.0 / 3.0, 14.0, 0.5),
        (7.0 + 1.0 / 3.0, None, 0.5),
    ],
)
def test_an_entry_counts_in_full_beside_a_burst_and_fades_over_three_hours(
    start: float, end: float | None, near: float
) -> None:
    entries = [entry(start * HOUR, None if end is None else end * HOUR)]
    assert nearness(entries, np.array([10.0 * HOUR]), np.array([12.0 * HOUR])) == pytest.approx(near)


def test_the_nearest_entry_counts_and_none_is_far() -> None:
    begin, end = np.array([10.0 * HOUR]), np.array([11.0 * HOUR])
    assert nearness([entry(0.0, HOUR), entry(10.0 * HOUR, 11.0 * HOUR)], begin, end) == 1.0
    assert nearness([], begin, end) == 0.0


def test_a_short_entry_with_a_burst_beside_it_says_less_of_the_burst_before() -> None:
    begin, end = np.array([12.0, 14.0]) * HOUR, np.array([12.5, 15.5]) * HOUR
    short, hours = [entry(14.0 * HOUR, 15.5 * HOUR)], [entry(14.0 * HOUR, 18.0 * HOUR)]
    assert nearness(short, begin, end)[1] == 1.0
    assert nearness(short, begin, end)[0] == pytest.approx(0.33 * nearness(short, begin[:1], end[:1])[0])
    assert nearness(hours, begin, end)[0] == pytest.approx(nearness(hours, begin[:1], end[:1])[0])


def test_an_entry_of_hours_covers_more_than_one_thing() -> None:
    assert [runs_for_hours(e) for e in (entry(0.0), entry(0.0, HOUR), entry(0.0, 3.0 * HOUR))] == [False, False, True]


def test_a_diary_is_kept_where_the_week_around_has_three_entries() -> None:
    entries = [entry(0.0), entry(DAY), entry(2.0 * DAY)]
    assert is_kept(entries, DAY)
    assert not is_kept(entries[:2], DAY)
    assert not is_kept(entries, 9.0 * DAY)
