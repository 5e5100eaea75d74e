"""The readings of a job ready to be drawn: every stream on one axis of time, thinned, with what was set aside and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from airtally.jobs.screened import Screened
from airtally.quantities import UNITS
from airtally.readings.log import Flag, Log, Stream
from airtally.readings.thin import thinned
from airtally.record import seconds
from airtally.report.streams import StreamSheet, StreamView


def stream_sheet(
    read: Screened,
    events: Sequence[Mapping[str, Any]],
    *,
    begin: float | None,
    end: float | None,
    stretches: int,
) -> StreamSheet | None:
    """Return the streams of a window; of all time where it has no begin or end. None where nothing was read."""
    log = read.log
    known = log.time[np.isfinite(log.time)]
    if not known.size:
        return None
    first, last = float(known.min()), float(known.max()) + 1.0
    begin, end = _window(first, last, begin, end)
    fan = None
    if read.fan is not None:
        starts, ends, level = read.fan
        inside = np.flatnonzero((starts < end) & (ends > begin))
        fan = tuple((float(starts[i]), float(ends[i]), int(level[i])) for i in inside)
    told = ((seconds(one["start"]), str(one["kind"]), str(one.get("found_in", ""))) for one in events)
    return StreamSheet(
        begin=begin,
        end=end,
        first=first,
        last=last,
        streams=tuple(_view(log, stream, begin, end, stretches) for stream in log.streams),
        fan=fan,
        events=tuple(one for one in told if begin <= one[0] < end),
    )


def _window(first: float, last: float, begin: float | None, end: float | None) -> tuple[float, float]:
    """Return a window of at least ten minutes that touches the readings."""
    begin = first if begin is None else min(max(begin, first - 86400.0), last - 600.0)
    end = last if end is None else min(max(end, begin + 600.0), last + 86400.0)
    return begin, max(end, begin + 600.0)


def _view(log: Log, stream: Stream, begin: float, end: float, stretches: int) -> StreamView:
    unit = UNITS[stream.quantity]
    rows = log.rows(stream)
    rows = rows[np.isfinite(log.time[rows]) & np.isfinite(log.value[rows])]
    time, flag = log.time[rows], log.flag[rows]
    value = (log.value[rows] - unit.offset) / unit.factor
    kept = flag == Flag.KEPT
    low, high = thinned(time[kept], value[kept], begin, end, stretches)
    aside_low, aside_high = thinned(time[~kept], value[~kept], begin, end, stretches)
    every = log.rows(stream)
    inside = (log.time[every] >= begin) & (log.time[every] < end)
    why, counts = np.unique(log.flag[every][inside], return_counts=True)
    reasons = {Flag(int(w)).name.lower().replace("_", " "): int(n) for w, n in zip(why, counts, strict=True) if w}
    return StreamView(
        name=stream.name,
        unit=unit.field,
        low=low,
        high=high,
        aside_low=aside_low,
        aside_high=aside_high,
        read=int(inside.sum()),
        kept=int(inside.sum()) - sum(reasons.values()),
        reasons=reasons,
        starts_at_zero=bool(value.size) and float(value.min()) >= 0.0 and unit.offset == 0.0,
    )
