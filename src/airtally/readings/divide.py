"""One file, several placements: an instrument that was moved keeps logging into one file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from airtally.readings.log import Flag, Log, Stream


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A placement and when it held, half-open. Times [s, POSIX UTC]."""

    placement: str
    since: float
    until: float


def divide(log: Log, windows: Mapping[str, Sequence[Window]]) -> Log:
    """Return the log with the rows of shared files given to the placement that held at their time.

    Parameters
    ----------
    log : Log
        As read, before screening.
    windows : mapping
        For each placement name a shared file was read under, the placements it stands for, in order of time.

    Returns
    -------
    log : Log
        Every row once: what lies in no window goes to the nearest earlier placement and is flagged as outside it.
    """
    streams: list[Stream] = []
    position: dict[Stream, int] = {}

    def index_of(stream: Stream) -> int:
        if stream not in position:
            position[stream] = len(streams)
            streams.append(stream)
        return position[stream]

    owner = np.empty(log.stream.size, dtype=np.int64)
    flag = log.flag.copy()
    for number, stream in enumerate(log.streams):
        rows = np.flatnonzero(log.stream == number)
        parts = windows.get(stream.placement)
        if parts is None:
            owner[rows] = index_of(stream)
            continue
        starts = np.array([part.since for part in parts])
        ends = np.array([part.until for part in parts])
        time = np.where(np.isfinite(log.time[rows]), log.time[rows], -np.inf)
        held = np.clip(np.searchsorted(starts, time, side="right") - 1, 0, len(parts) - 1)
        outside = ((time < starts[held]) | (time >= ends[held])) & (flag[rows] == Flag.KEPT)
        flag[rows[outside]] = Flag.OUTSIDE_PLACEMENT
        codes = np.array([index_of(Stream(placement=part.placement, quantity=stream.quantity)) for part in parts])
        owner[rows] = codes[held]
    return replace(log, streams=tuple(streams), stream=owner, flag=flag)
