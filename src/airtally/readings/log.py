"""The Log: everything the loggers said, one tidy frozen table; rows are flagged, never dropped."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Booleans, Floats, Integers
from airtally.errors import Problem
from airtally.quantities import Quantity


class Flag(IntEnum):
    """Why a row is not used as a reading; KEPT means that it is."""

    KEPT = 0
    UNREADABLE = 1
    """The cell or its time could not be read as a number or an instant."""
    DUPLICATE = 2
    """Same stream and instant as an earlier row."""
    HELD = 3
    """Repeats an earlier reading that the logger holds; one reading, not many."""
    STUCK = 4
    """No change for so long that the channel is doubted."""
    RAILED = 5
    """At the top of the sensor's scale."""
    IMPOSSIBLE = 6
    """Outside what the quantity can be."""
    WARMING_UP = 7
    """First readings after power came back."""
    HUMID = 8
    """Optical particle reading in air so humid that it cannot be trusted."""
    OUTSIDE_PLACEMENT = 9
    """The instrument was not at this placement then."""
    MASKED_FAN_OFF = 10
    """In-duct reading with the fan off: duct air, not room air."""
    MASKED_PURGE = 11
    """In-duct reading before the duct was purged and the sensor had settled."""
    CLOCK_UNSURE = 12
    """Instant not certain (daylight-saving fold without order to tell)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """One quantity from one placement."""

    placement: str
    quantity: Quantity

    @property
    def name(self) -> str:
        """Return ``placement/quantity``, the stream's stable id."""
        return f"{self.placement}/{self.quantity.value}"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogFile:
    """A file as it was received."""

    name: str
    sha256: str
    rows: int
    """Table rows read, headers left out."""
    cells: int
    """Readings the rows hold: kept + set aside = cells."""
    layout: str
    """What was recognised: delimiter, header line, columns and units, clock, in words."""
    lines: int = 0
    """Lines of text: heading + blank + rows, where a row that runs over two lines counts as one line."""
    heading_lines: int = 0
    """Lines above the table, headers, repeated headers and comments."""
    blank_lines: int = 0
    slots: int = 0
    """Places in the rows where a reading is looked for: slots = cells + empty + unnamed."""
    empty: int = 0
    """Slots that hold nothing: blank, or a word such as NA."""
    unnamed: int = 0
    """Slots of a long table whose name is no known quantity, or is to be ignored."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """All readings of a job; parallel arrays, one entry a reading, in SI.

    Attributes
    ----------
    streams : tuple of Stream
        What ``stream`` indexes.
    files : tuple of LogFile
        What ``file`` indexes.
    stream, file, line : int64 arrays, shape (readings,)
        Which stream, which file, which line of it.
    time : float64 array, shape (readings,)
        Middle of the averaging interval. [s, POSIX UTC]
    value : float64 array, shape (readings,)
        Reading in the quantity's SI unit; NaN where unreadable.
    flag : uint8 array, shape (readings,)
        A :class:`Flag` value.
    problems : tuple of Problem
        What was noticed while reading and screening.
    """

    streams: tuple[Stream, ...]
    files: tuple[LogFile, ...]
    stream: Integers
    file: Integers
    line: Integers
    time: Floats
    value: Floats
    flag: NDArray[np.uint8]
    problems: tuple[Problem, ...] = field(default=())
    _rows: dict[Stream, Integers] = field(default_factory=dict, init=False, repr=False, compare=False)
    """What :meth:`rows` has worked out."""

    @property
    def kept(self) -> Booleans:
        """Return which readings count. Shape (readings,)."""
        return np.asarray(self.flag == Flag.KEPT, dtype=np.bool_)

    def find(self, quantity: Quantity, placement: str | None = None) -> tuple[Stream, ...]:
        """Return the streams of a quantity, at one placement if named."""
        return tuple(s for s in self.streams if s.quantity is quantity and placement in (None, s.placement))

    def rows(self, stream: Stream) -> Integers:
        """Return the readings of one stream, whatever their flag, in order of time; without an instant last."""
        if not self._rows:  # many ask for one stream after the other: the log is gone through once for all
            short = self.stream.astype(np.min_scalar_type(len(self.streams)))  # numpy sorts short numbers in one pass
            ends = np.cumsum(np.bincount(self.stream, minlength=len(self.streams)))
            blocks = np.split(np.argsort(short, kind="stable"), ends[:-1])
            for one, block in zip(self.streams, blocks, strict=True):
                self._rows[one] = block[np.argsort(self.time[block], kind="stable")]
        return self._rows[stream]

    def series(self, stream: Stream) -> tuple[Floats, Floats]:
        """Return the kept readings of one stream in time order: time [s] and value [SI]."""
        rows = self.rows(stream)
        kept = rows[self.flag[rows] == Flag.KEPT]
        return self.time[kept], self.value[kept]

    def counts(self) -> dict[str, int]:
        """Return how many readings each flag holds, by its name in lower case."""
        return {f.name.lower(): int(np.count_nonzero(self.flag == f)) for f in Flag}
