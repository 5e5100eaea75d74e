"""Short ways to a log from a text, for the tests of the readings room."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np

from airtally.quantities import UNITS, Quantity
from airtally.readings import Log, Source, read_log
from airtally.readings.log import Stream


def read(text: str | bytes, name: str = "kitchen.csv", placement: str = "kitchen", **stated: Any) -> Log:
    """Return a text read as one file."""
    content = text if isinstance(text, bytes) else text.encode()
    return read_log([Source(content=content, name=name, placement=placement, **stated)])


def codes(log: Log) -> set[str]:
    """Return the codes of a log's problems."""
    return {problem.code for problem in log.problems}


def sentence(log: Log, code: str) -> str:
    """Return the one problem with this code, rendered."""
    found = [problem.sentence() for problem in log.problems if problem.code == code]
    assert len(found) == 1, found
    return found[0]


def in_field(log: Log, quantity: Quantity, placement: str | None = None) -> np.ndarray:
    """Return the kept values of one stream in field units, in order of time."""
    (stream,) = log.find(quantity, placement)
    unit = UNITS[quantity]
    return np.round((log.series(stream)[1] - unit.offset) / unit.factor, 9)


def times(log: Log, quantity: Quantity | None = None) -> list[float]:
    """Return the times of all readings of a quantity in the order of the file."""
    rows = np.ones(log.time.size, dtype=bool)
    if quantity is not None:
        rows = log.stream == log.streams.index(log.find(quantity)[0])
    return log.time[rows].tolist()


def utc(text: str) -> float:
    """Return an ISO text with offset, or in UTC without, as POSIX seconds."""
    instant = datetime.fromisoformat(text if text[-6:-5] in "+-" and ":" in text[-6:] else text + "+00:00")
    return instant.timestamp()


def made_log(values: np.ndarray, quantity: Quantity, step: float = 60.0, start: float = 1.7e9, **other: Any) -> Log:
    """Return a log of one invented stream with a regular step; ``other`` maps further quantities to values."""
    streams = [(quantity, values), *((Quantity(name), series) for name, series in other.items())]
    number = len(values)
    return Log(
        streams=tuple(Stream(placement="kitchen", quantity=one) for one, _ in streams),
        files=read("time,pm25\n").files,
        stream=np.repeat(np.arange(len(streams)), number),
        file=np.zeros(number * len(streams), dtype=np.int64),
        line=np.tile(np.arange(2, number + 2), len(streams)),
        time=np.tile(start + step * np.arange(number), len(streams)),
        value=np.concatenate([np.asarray(series, dtype=float) for _, series in streams]),
        flag=np.zeros(number * len(streams), dtype=np.uint8),
    )


def assert_accounted(log: Log) -> None:
    """Check that every line, slot and reading of every file is accounted for."""
    assert sum(log.counts().values()) == log.time.size
    assert int(log.kept.sum()) + sum(n for flag, n in log.counts().items() if flag != "kept") == log.time.size
    for number, file in enumerate(log.files):
        assert file.lines == file.rows + file.heading_lines + file.blank_lines, file
        assert file.slots == file.cells + file.empty + file.unnamed, file
        assert file.cells == int(np.count_nonzero(log.file == number)), file
    assert not np.any(log.kept & ~(np.isfinite(log.time) & np.isfinite(log.value)))
