"""Local wall time to UTC, at the fold and the gap of daylight saving too."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from airtally.house.moments import MomentTextError, find_zone, is_zone_or_offset, read_moment

DENVER = ZoneInfo("America/Denver")


def utc(*parts: int) -> float:
    return datetime(*parts, tzinfo=UTC).timestamp()  # type: ignore[misc,arg-type]


@pytest.mark.parametrize(
    ("value", "time"),
    [
        # United States rule since 2007 (Energy Policy Act of 2005): clocks change second Sunday of March, first of November
        ("2025-09-30 08:00", utc(2025, 9, 30, 14, 0)),
        ("2025-12-30 8:00", utc(2025, 12, 30, 15, 0)),
        ("2025-09-30T08:00:30", utc(2025, 9, 30, 14, 0, 30)),
        ("2025-09-30 08:00Z", utc(2025, 9, 30, 8, 0)),
        ("2025-09-30 08:00 +02:00", utc(2025, 9, 30, 6, 0)),
        ("2025-09-30", utc(2025, 9, 30, 6, 0)),
        (date(2025, 9, 30), utc(2025, 9, 30, 6, 0)),
        (datetime(2025, 9, 30, 8, 0), utc(2025, 9, 30, 14, 0)),
        (datetime(2025, 9, 30, 8, 0, tzinfo=UTC), utc(2025, 9, 30, 8, 0)),
        ("2025-11-02 00:59", utc(2025, 11, 2, 6, 59)),
        ("2025-11-02 02:00", utc(2025, 11, 2, 9, 0)),
    ],
)
def test_a_date_means_one_instant(value: object, time: float) -> None:
    moment = read_moment(value, DENVER)
    assert moment.time == time
    assert not moment.is_ambiguous
    assert not moment.is_nonexistent


def test_an_hour_that_occurs_twice_is_the_first_and_said_so() -> None:
    moment = read_moment("2025-11-02 01:30", DENVER)
    assert (moment.time, moment.is_ambiguous) == (utc(2025, 11, 2, 7, 30), True)


def test_an_hour_that_never_occurs_is_said_so() -> None:
    moment = read_moment("2025-03-09 02:30", DENVER)
    assert moment.is_nonexistent
    assert moment.time == utc(2025, 3, 9, 9, 30)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("30.9.2025", "is no date of the form year-month-day"),
        ("2025-02-30", "is no day or time of the calendar"),
        ("1776-07-04", "lies outside the years 1900 to 2200"),
        (date(1, 1, 1), "lies outside the years"),
        (20250930, "is no date"),
        (True, "is no date"),
    ],
)
def test_what_is_no_date_is_refused_in_words(value: object, words: str) -> None:
    with pytest.raises(MomentTextError, match=words):
        read_moment(value, DENVER)


def test_zones_are_those_of_the_database_and_offsets_for_logs() -> None:
    assert find_zone("America/Denver") is not None
    assert [find_zone(name) for name in ("America", "../etc", "", "a\0b", "Denver")] == [None] * 5
    assert all(is_zone_or_offset(name) for name in ("UTC", "UTC-7", "+02:00", "gmt+5:30", "Europe/Berlin"))
    assert not any(is_zone_or_offset(name) for name in ("MT", "UTC-15", "half past"))
