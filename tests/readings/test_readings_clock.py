"""Stamps: forms, order of day and month, zones, the doubled and the missing hour, the middle of the average."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.readings.reading import assert_accounted, codes, read, sentence, times, utc

from airtally.errors import InputError
from airtally.quantities import Quantity
from airtally.readings import Source
from airtally.readings.zones import find_turns, find_zone

MIDDLE = {"stamps": "middle"}


def stamped(stamps: list[str], header: str = "Time", **stated: object) -> list[float]:
    """Return the instants of rows with these stamps."""
    rows = "\n".join(f'"{stamp}",{5 + i}' for i, stamp in enumerate(stamps))
    return times(read(f"{header},PM2.5 (ug/m3)\n{rows}\n", **{**MIDDLE, **stated}))


@pytest.mark.parametrize(
    ("stamp", "instant"),
    [
        ("2025-09-30 13:05:07", "2025-09-30T13:05:07"),
        ("2025-09-30T13:05:07Z", "2025-09-30T13:05:07"),
        ("2025-09-30T13:05:07.250Z", "2025-09-30T13:05:07.250"),
        ("2025-09-30T13:05:07-06:00", "2025-09-30T19:05:07"),
        ("2025-09-30 13:05:07 +0200", "2025-09-30T11:05:07"),
        ("20250930T130507Z", "2025-09-30T13:05:07"),
        ("20250930 130507", "2025-09-30T13:05:07"),
        ("2025/9/30 13:05", "2025-09-30T13:05:00"),
        ("30.09.2025 13:05:07", "2025-09-30T13:05:07"),
        ("30/09/2025 13:05", "2025-09-30T13:05:00"),
        ("9/30/2025 1:05:07 PM", "2025-09-30T13:05:07"),
        ("9/30/25 12:05 a.m.", "2025-09-30T00:05:00"),
        ("30-Sep-2025 13:05:07", "2025-09-30T13:05:07"),
        ("Sep 30, 2025 1:05 PM", "2025-09-30T13:05:00"),
        ("Tue 30 September 2025 13:05", "2025-09-30T13:05:00"),
        ("30 Okt 2025 13.05", "2025-10-30T13:05:00"),
        ("2025-09-29 24:00", "2025-09-30T00:00:00"),
        ("1759237507", "2025-09-30T13:05:07"),
        ("1759237507250", "2025-09-30T13:05:07.250"),
        ("20250930130507", "2025-09-30T13:05:07"),
    ],
)
def test_forms_of_stamps(stamp: str, instant: str) -> None:
    assert stamped([stamp] * 3) == [utc(instant)] * 3


@pytest.mark.parametrize(
    "stamp",
    [
        "2025-02-30 10:00",
        "2025-13-01 10:00",
        "2025-09-30 25:00",
        "2025-09-30 10:61",
        "tomorrow",
        "2025-09-30 10:00 +99:00",
    ],
)
def test_stamps_that_are_no_instant_set_the_row_aside(stamp: str) -> None:
    log = read(f"Time,PM2.5 (ug/m3)\n2025-09-01 00:01,5\n{stamp},6\n2025-09-01 00:03,7\n", **MIDDLE)
    assert log.counts()["unreadable"] == 1
    assert "line 3" in sentence(log, "log-time-unreadable")
    assert_accounted(log)


@pytest.mark.parametrize("date", ["2025-09-01 ", "2025-09-01T", "9/13/2025 ", "13 Sep 2025 "])
def test_a_stray_quote_behind_a_stamp_changes_no_instant(date: str) -> None:
    log = read(f'Time,PM2.5 (ug/m3)\n{date}00:01,5\n""{date}00:02",6\n{date}00:03,7\n', **MIDDLE)
    assert np.diff(times(log)).tolist() == [60.0, 60.0]


def test_one_odd_stamp_changes_none_beside_it() -> None:
    """Forms may change within a file; each stamp is read by its own."""
    stamps = ["2025-09-30 13:05", "Tue 30 Sep 2025 13:06", "2025-09-30 13:07", "20250930 130800", "2025-09-30T13:09Z"]
    assert stamped(stamps) == [utc(f"2025-09-30T13:{minute:02d}:00") for minute in range(5, 10)]


def test_day_and_month_are_told_apart_by_a_day_above_twelve() -> None:
    assert stamped(["05/06/2025 00:00", "13/06/2025 00:00"])[0] == utc("2025-06-05T00:00:00")
    assert stamped(["05/06/2025 00:00", "05/13/2025 00:00"])[0] == utc("2025-05-06T00:00:00")


def test_day_and_month_are_told_apart_by_days_that_follow_on() -> None:
    days = ["04/06/2025 12:00", "05/06/2025 12:00", "06/06/2025 12:00", "07/06/2025 12:00"]
    assert stamped(days)[1] == utc("2025-06-05T12:00:00")


def test_day_and_month_that_cannot_be_told_apart_are_no_guess() -> None:
    text = "Time,PM2.5 (ug/m3)\n05/06/2025 00:01,5\n05/06/2025 00:02,6\n"
    log = read(text, **MIDDLE)
    assert log.counts()["clock_unsure"] == 2
    assert "day_first = true or false" in sentence(log, "log-date-order-unsure")
    assert times(read(text, day_first=True, **MIDDLE))[0] == utc("2025-06-05T00:01:00")
    assert times(read(text, day_first=False, **MIDDLE))[0] == utc("2025-05-06T00:01:00")


def test_separate_columns_of_date_and_time_are_joined() -> None:
    log = read("Date,Time,PM2.5 (ug/m3)\n9/30/2025,11:59 PM,5\n10/1/2025,12:00 AM,6\n", **MIDDLE)
    assert times(log) == [utc("2025-09-30T23:59:00"), utc("2025-10-01T00:00:00")]


def test_hour_24_of_a_typical_year_is_the_next_midnight() -> None:
    log = read("Date (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C)\n01/01/1997,23:00,4\n01/01/1997,24:00,4.5\n", **MIDDLE)
    assert times(log) == [utc("1997-01-01T23:00:00"), utc("1997-01-02T00:00:00")]


def test_seconds_since_start_wait_for_the_start() -> None:
    text = "time,pm2.5 (ug/m3)\n0.5,5\n1.5,6\n2.5,7\n"
    waiting = read(text, **MIDDLE)
    assert waiting.counts()["unreadable"] == 3
    assert "State when the file begins" in sentence(waiting, "log-start-not-stated")
    assert times(read(text, begins=1e9, **MIDDLE)) == [1e9 + 0.5, 1e9 + 1.5, 1e9 + 2.5]
    minutes = text.replace("time,", "Elapsed (min),")
    assert times(read(minutes, begins=1e9, **MIDDLE))[1] == 1e9 + 90.0


def test_a_time_of_day_without_date_is_a_problem() -> None:
    log = read("Time,PM2.5 (ug/m3)\n00:01,5\n00:02,6\n")
    assert "log-date-missing" in codes(log)
    assert log.counts()["unreadable"] == 2


def test_local_time_agrees_with_the_zone_data() -> None:
    """Against zoneinfo of the standard library, every hour of a year away from the two turns."""
    zone = ZoneInfo("America/Denver")
    start = datetime(2025, 1, 1, tzinfo=zone)
    instants = start.timestamp() + 3600.0 * np.arange(0, 8760, 7)
    local = [datetime.fromtimestamp(t, tz=zone) for t in instants]
    keep = [i for i, one in enumerate(local) if (one.month, one.day) not in ((3, 9), (11, 2))]
    stamps = [local[i].strftime("%Y-%m-%d %H:%M") for i in keep]
    assert_allclose(stamped(stamps, time_zone="America/Denver"), instants[keep], atol=1e-6)


def test_turns_of_the_clock_are_found_to_the_second() -> None:
    """Denver 2025: forward on 9 March 02:00 MST, back on 2 November 02:00 MDT (US Energy Policy Act of 2005)."""
    zone = find_zone("America/Denver")
    assert zone is not None
    turns = find_turns(zone, utc("2025-01-01T00:00:00"), utc("2026-01-01T00:00:00"))
    assert [turn.time for turn in turns] == [utc("2025-03-09T09:00:00"), utc("2025-11-02T08:00:00")]
    assert [turn.is_fold for turn in turns] == [False, True]


def fold_rows(order: str) -> list[str]:
    """Return minutes from 00:30 to 02:30 of the night of 2 November 2025 in Denver, the doubled hour twice."""
    instants = utc("2025-11-02T06:30:00") + 60.0 * np.arange(180)
    stamps = [datetime.fromtimestamp(t, tz=ZoneInfo("America/Denver")).strftime("%Y-%m-%d %H:%M") for t in instants]
    return stamps if order == "forward" else stamps[::-1]


@pytest.mark.parametrize("order", ["forward", "newest first"])
def test_the_doubled_hour_is_told_apart_by_the_order_of_rows(order: str) -> None:
    rows = "\n".join(f"{stamp},5" for stamp in fold_rows(order))
    log = read(f"Time,PM2.5 (ug/m3)\n{rows}\n", time_zone="America/Denver", **MIDDLE)
    assert_allclose(np.sort(log.time), utc("2025-11-02T06:30:00") + 60.0 * np.arange(180), atol=1e-6)
    assert log.counts()["clock_unsure"] == 0
    assert "120 told apart by their order" in sentence(log, "log-clock-fold")


def test_the_doubled_hour_of_a_long_table_is_told_apart_within_each_quantity() -> None:
    rows = [f"{stamp},{name},5" for stamp in fold_rows("forward") for name in ("pm25", "pm10")]
    log = read("Time,parameter,value\n" + "\n".join(rows) + "\n", time_zone="America/Denver", **MIDDLE)
    assert log.counts()["clock_unsure"] == 0
    assert np.unique(log.time).size == 180


def test_a_doubled_hour_logged_once_is_unsure() -> None:
    stamps = [f"2025-11-02 {h:02d}:{m:02d}" for h in range(3) for m in range(60)]
    log = read("Time,PM2.5 (ug/m3)\n" + "\n".join(f"{s},5" for s in stamps), time_zone="America/Denver", **MIDDLE)
    assert log.counts()["clock_unsure"] == 60
    assert "60 not" in sentence(log, "log-clock-fold")
    assert_accounted(log)


def test_a_doubled_hour_joins_the_side_it_runs_on_from() -> None:
    ends_inside = [f"2025-11-02 00:{m:02d}" for m in range(60)] + [f"2025-11-02 01:{m:02d}" for m in range(30)]
    starts_inside = [f"2025-11-02 01:{m:02d}" for m in range(30, 60)] + [f"2025-11-02 02:{m:02d}" for m in range(60)]
    assert stamped(ends_inside, time_zone="America/Denver")[-1] == utc("2025-11-02T07:29:00")
    assert stamped(starts_inside, time_zone="America/Denver")[0] == utc("2025-11-02T08:30:00")


def test_letters_behind_the_stamp_settle_the_doubled_hour() -> None:
    found = stamped(["2025-11-02 01:30 MDT", "2025-11-02 01:30 MST"], time_zone="America/Denver")
    assert found == [utc("2025-11-02T07:30:00"), utc("2025-11-02T08:30:00")]


def test_an_hour_that_did_not_exist_is_a_problem_and_no_guess() -> None:
    stamps = ["2025-03-09 01:58", "2025-03-09 01:59", "2025-03-09 02:00", "2025-03-09 02:30", "2025-03-09 03:00"]
    log = read("Time,PM2.5 (ug/m3)\n" + "\n".join(f"{s},5" for s in stamps), time_zone="America/Denver", **MIDDLE)
    assert log.counts()["clock_unsure"] == 2
    assert np.isnan(log.time[2:4]).all()
    assert "lines 4, 5" in sentence(log, "log-clock-gap")
    assert log.time[4] - log.time[1] == 60.0


@pytest.mark.parametrize(
    ("zone", "hours"), [("UTC", 0.0), ("UTC-7", 7.0), ("+02:00", -2.0), ("GMT+5:30", -5.5), ("Z", 0.0)]
)
def test_fixed_offsets_are_zones(zone: str, hours: float) -> None:
    assert stamped(["2025-09-01 12:00"] * 2, time_zone=zone)[0] == utc("2025-09-01T12:00:00") + 3600.0 * hours


@pytest.mark.parametrize("zone", ["Mars/Olympus", "", "../etc", "UTC-99", "\x00"])
def test_an_unknown_zone_is_a_problem_and_no_guess(zone: str) -> None:
    log = read("Time,PM2.5 (ug/m3)\n2025-09-01 00:01,5\n2025-09-01 00:02Z,5\n", time_zone=zone)
    assert "log-zone-unknown" in codes(log)
    assert log.counts()["clock_unsure"] == 1
    assert log.counts()["kept"] == 1


@pytest.mark.parametrize(("stamps", "shift"), [("start", 30.0), ("middle", 0.0), ("end", -30.0)])
def test_stamps_are_moved_to_the_middle_of_their_average(stamps: str, shift: float) -> None:
    text = "Time,PM2.5 (ug/m3),Fan state\n" + "\n".join(f"2025-09-01 00:{m:02d},5,1" for m in range(10))
    log = read(text, stamps=stamps)
    assert times(log, Quantity.PM25)[3] == utc("2025-09-01T00:03:00") + shift
    assert times(log, Quantity.FAN_STATE)[3] == utc("2025-09-01T00:03:00"), "a state is no average"


def test_a_stated_interval_goes_before_the_step() -> None:
    text = "Time,PM2.5 (ug/m3)\n" + "\n".join(f"2025-09-01 00:{m:02d},5" for m in range(10))
    assert times(read(text, stamps="start", interval=120.0))[0] == utc("2025-09-01T00:01:00")


def test_without_a_regular_step_stamps_stay_and_that_is_said() -> None:
    stamps = ["00:01", "00:09", "00:11", "01:30", "03:00", "03:02", "06:40"]
    log = read("Time,PM2.5 (ug/m3)\n" + "\n".join(f"2025-09-01 {s},5" for s in stamps))
    assert "log-interval-not-stated" in codes(log)
    assert times(log)[0] == utc("2025-09-01T00:01:00")


def test_newest_first_is_no_disorder_but_a_jump_is() -> None:
    head = "Time,PM2.5 (ug/m3)\n"
    rows = [f"2025-09-01 00:{m:02d},5\n" for m in range(10)]
    assert "log-out-of-order" not in codes(read(head + "".join(reversed(rows))))
    moved = [*rows[5:], *rows[:5]]
    assert "1 times, first at 2025-09-01 00:00 UTC" in sentence(
        read(head + "".join(moved), **MIDDLE), "log-out-of-order"
    )


def test_utc_is_preferred_to_local_time_beside_it() -> None:
    log = read(
        "Time (local),Time (UTC),PM2.5 (ug/m3)\n2025-09-01 06:00,2025-09-01 12:00,5\n2025-09-01 06:01,2025-09-01 12:01,5\n",
        **MIDDLE,
    )
    assert times(log)[0] == utc("2025-09-01T12:00:00")


def test_a_source_with_an_unknown_stamp_word_is_misuse() -> None:
    with pytest.raises(InputError, match="stamps must be start, middle or end; got later"):
        Source(content=b"", name="x", placement="x", stamps="later")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="interval must be above zero; got -1 s"):
        Source(content=b"", name="x", placement="x", interval=-1.0)
