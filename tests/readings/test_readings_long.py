"""Long tables, event rows, counters, devices that change."""

from __future__ import annotations

import numpy as np
from tests.readings.reading import assert_accounted, codes, in_field, read, sentence, times, utc

from airtally.quantities import Quantity
from airtally.readings import running_spells

MIDDLE = {"stamps": "middle"}


def test_a_long_table_is_recognised_with_its_units() -> None:
    log = read(
        "Time;Parameter;Unit;Value\n"
        "2025-09-01 00:01;Temperature;°F;70\n2025-09-01 00:01;PM2.5;mg/m3;0.012\n2025-09-01 00:01;Karma;;3\n"
        "2025-09-01 00:02;Temperature;°F;71.6\n2025-09-01 00:02;PM2.5;mg/m3;\n2025-09-01 00:02;Karma;;4\n",
        **MIDDLE,
    )
    assert in_field(log, Quantity.TEMPERATURE)[1] == 22.0
    assert in_field(log, Quantity.PM25).tolist() == [12.0]
    file = log.files[0]
    assert (file.rows, file.cells, file.empty, file.unnamed) == (6, 3, 1, 2)
    assert 'name "Karma"' in sentence(log, "log-name-unknown")
    assert_accounted(log)


def test_names_of_a_long_table_can_be_stated() -> None:
    log = read(
        "Time,name,value\n2025-09-01 00:01,dp1,3\n2025-09-01 00:01,junk,9\n2025-09-01 00:02,dp1,4\n",
        columns=(("dp1", "pressure_difference Pa"), ("junk", "ignore")),
        **MIDDLE,
    )
    assert in_field(log, Quantity.PRESSURE_DIFFERENCE).tolist() == [3.0, 4.0]
    assert "log-name-unknown" not in codes(log)
    assert log.files[0].unnamed == 1


def test_words_of_a_state_are_numbers() -> None:
    log = read(
        "Time,Fan state\n2025-09-01 00:01,off\n2025-09-01 00:02,on\n2025-09-01 00:03,Heating\n2025-09-01 00:04,idle\n"
    )
    assert in_field(log, Quantity.FAN_STATE).tolist() == [0.0, 1.0, 2.0, 0.0]


def test_event_rows_become_a_step_series() -> None:
    log = read(
        "Mode,Start,End\nHeat,2025-09-01 00:10,2025-09-01 00:20\nCool,2025-09-01 12:00,2025-09-01 12:30\n"
        "Heat,2025-09-01 01:00,2025-09-01 01:05\n"
    )
    (burner,) = log.find(Quantity.BURNER_STATE)
    time, value = log.series(burner)
    day = utc("2025-09-01T00:00:00")
    assert ((time - day) / 60.0).tolist() == [10.0, 20.0, 60.0, 65.0]
    assert value.tolist() == [1.0, 0.0, 1.0, 0.0]
    assert log.series(log.find(Quantity.FAN_STATE)[0])[1].tolist() == [1.0, 0.0]
    assert_accounted(log)


def test_events_that_overlap_or_touch_run_through() -> None:
    log = read(
        "Fan start,Fan end\n2025-09-01 00:00,2025-09-01 00:10\n2025-09-01 00:05,2025-09-01 00:20\n"
        "2025-09-01 00:20,2025-09-01 00:30\n2025-09-01 00:22,2025-09-01 00:25\n"
    )
    time, value = log.series(log.find(Quantity.FAN_STATE)[0])
    assert ((time - time[0]) / 60.0).tolist() == [0.0, 30.0]
    assert value.tolist() == [1.0, 0.0]
    assert "lines 3, 5" in sentence(log, "log-events-overlap")
    assert_accounted(log)


def test_an_event_without_end_and_one_that_runs_backwards_are_set_aside() -> None:
    log = read(
        "Fan start,Fan end\n2025-09-01 00:00,\n2025-09-01 01:00,2025-09-01 00:50\n2025-09-01 02:00,2025-09-01 02:10\n"
        "nonsense,2025-09-01 03:10\n"
    )
    assert log.series(log.find(Quantity.FAN_STATE)[0])[1].tolist() == [1.0, 0.0]
    assert "lines 2, 5" in sentence(log, "log-event-without-end")
    assert "the first after -10 minutes" in sentence(log, "log-event-backwards")
    assert log.counts() | {"kept": 2, "impossible": 2, "clock_unsure": 2, "unreadable": 1} == log.counts()
    assert_accounted(log)


def test_what_an_event_switches_can_be_stated() -> None:
    rows = "2025-09-01 00:00,2025-09-01 00:10\n2025-09-01 01:00,2025-09-01 01:10\n"
    assert "log-quantity-missing" in codes(read("Begin,End\n" + rows))
    log = read("Begin,End\n" + rows, columns=(("Begin", "burner_state"),))
    assert log.find(Quantity.BURNER_STATE)
    kinds = read("Begin,End,Kind\n" + rows.replace("\n", ",Aux\n"), columns=(("Aux", "burner_state"),))
    assert kinds.series(kinds.find(Quantity.BURNER_STATE)[0])[1].tolist() == [1.0, 0.0, 1.0, 0.0]


def test_a_counter_is_on_while_it_climbs() -> None:
    rows = [10, 10, 11, 12, 12, 12, 13]
    text = "unix_ts,counter\n" + "\n".join(f"{1700000000 + 60 * i},{c}" for i, c in enumerate(rows))
    log = read(text, columns=(("counter", "burner_state counter"),))
    assert in_field(log, Quantity.BURNER_STATE).tolist() == [0, 0, 1, 1, 0, 0, 1]
    newest = "unix_ts,counter\n" + "\n".join(text.splitlines()[:0:-1])
    again = read(newest, columns=(("counter", "burner_state counter"),))
    assert in_field(again, Quantity.BURNER_STATE).tolist() == [0, 0, 1, 1, 0, 0, 1]


def test_pulses_near_one_another_are_one_run() -> None:
    time = np.array([0.0, 60, 120, 1020, 1080, 3000])
    start, end = running_spells(time, np.array([1.0, 0, 1, 1, 0, 1]), bridge=900.0)
    assert start.tolist() == [0.0, 3000.0]
    assert end.tolist() == [1020.0, 3000.0]
    assert running_spells(time, np.zeros(6))[0].size == 0


SWAP = "Time,Device,PM2.5 (ug/m3)\n2025-09-01 00:01,A1,5\n2025-09-01 00:02,A1,6\n2025-09-01 00:03,B2,9\n2025-09-01 00:04,,9.5\n"


def test_a_swapped_device_is_a_new_placement_with_row_and_time() -> None:
    log = read(SWAP, **MIDDLE)
    assert in_field(log, Quantity.PM25, "kitchen").tolist() == [5.0, 6.0]
    assert in_field(log, Quantity.PM25, "kitchen~2").tolist() == [9.0, 9.5]
    said = sentence(log, "log-device-changed")
    assert said.startswith('kitchen.csv line 4: device "B2" writes after "A1", from 2025-09-01 00:03 UTC')


def test_a_device_whose_placement_is_stated_goes_there() -> None:
    log = read(SWAP, devices=(("B2", "bedroom"),), **MIDDLE)
    assert in_field(log, Quantity.PM25, "bedroom").tolist() == [9.0, 9.5]
    assert "log-device-changed" not in codes(log)


def test_a_swap_that_the_dates_of_the_placement_explain_is_no_problem() -> None:
    log = read(SWAP, until=utc("2025-09-01T00:03:00"), **MIDDLE)
    assert "log-device-changed" not in codes(log)
    assert log.counts()["outside_placement"] == 2
    assert "2 readings lie outside the dates of kitchen" in sentence(log, "log-outside-placement")


def test_many_devices_make_one_problem() -> None:
    rows = "\n".join(f"2025-09-01 {h:02d}:00,D{h},5" for h in range(9))
    log = read(f"Time,Sensor,PM2.5 (ug/m3)\n{rows}\n", **MIDDLE)
    assert "9 devices write into the file" in sentence(log, "log-device-changed")
    assert len(log.streams) == 9


def test_dates_of_a_placement_are_half_open() -> None:
    text = "Time,PM2.5 (ug/m3)\n" + "\n".join(f"2025-09-01 00:{m:02d},5" for m in range(10))
    log = read(text, since=utc("2025-09-01T00:02:00"), until=utc("2025-09-01T00:05:00"), **MIDDLE)
    assert [t - utc("2025-09-01T00:00:00") for t, k in zip(times(log), log.kept, strict=True) if k] == [120, 180, 240]
