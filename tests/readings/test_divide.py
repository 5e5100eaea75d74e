"""One file of a monitor that was moved: every row once, at the placement that held then."""

from __future__ import annotations

import numpy as np

from airtally.quantities import Quantity
from airtally.readings.divide import Window, divide
from airtally.readings.log import Flag, Log, LogFile, Stream

NAME = "logs/m4.csv "


def shared(times: list[float]) -> Log:
    count = len(times)
    return Log(
        streams=(Stream(placement=NAME, quantity=Quantity.PM25), Stream(placement="other", quantity=Quantity.PM25)),
        files=(LogFile(name="logs/m4.csv", sha256="", rows=count, cells=count, layout=""),),
        stream=np.array([0] * count + [1]),
        file=np.zeros(count + 1, dtype=np.int64),
        line=np.arange(count + 1),
        time=np.array([*times, 5.0]),
        value=np.arange(count + 1, dtype=np.float64),
        flag=np.zeros(count + 1, dtype=np.uint8),
    )


def test_rows_go_to_the_placement_that_held_at_their_time_and_none_is_lost() -> None:
    windows = {
        NAME: [Window(placement="before", since=-np.inf, until=10.0), Window(placement="after", since=12.0, until=20.0)]
    }
    log = divide(shared([0.0, 9.9, 10.0, 11.0, 12.0, 19.0, 20.0]), windows)
    where = [log.streams[i].placement for i in log.stream]
    assert where == ["before", "before", "before", "before", "after", "after", "after", "other"]
    outside = [Flag(f) is Flag.OUTSIDE_PLACEMENT for f in log.flag]
    assert outside == [False, False, True, True, False, False, True, False]
    assert log.value.tolist() == list(range(8))


def test_a_log_without_shared_files_is_left_as_it_is() -> None:
    log = shared([1.0, 2.0])
    same = divide(log, {})
    assert same.streams == log.streams
    assert np.array_equal(same.stream, log.stream)
    assert not same.flag.any()


def test_a_row_without_an_instant_keeps_the_flag_it_had() -> None:
    log = shared([np.nan, 1.0])
    log.flag[0] = Flag.UNREADABLE
    found = divide(log, {NAME: [Window(placement="a", since=0.0, until=9.0)]})
    assert found.flag.tolist() == [Flag.UNREADABLE, Flag.KEPT, Flag.KEPT]
