"""Wall time of a place from instants in UTC, for hour-of-day questions and for pages."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from airtally.arrays import Floats, Integers

DAY = 86400.0
HOUR = 3600.0


def local_offset(time: Floats, time_zone: str) -> Floats:
    """Return local minus UTC at each instant [s]; looked up once an hour, as zones change on the hour.

    Raises
    ------
    zoneinfo.ZoneInfoNotFoundError
        If the zone's name is not known.
    """
    zone = ZoneInfo(time_zone)
    hours = np.floor(time / HOUR).astype(np.int64)
    unique, back = np.unique(hours, return_inverse=True)
    offsets = np.empty(unique.size)
    for index, hour in enumerate(unique):
        offset = datetime.fromtimestamp(float(hour) * HOUR, tz=UTC).astimezone(zone).utcoffset()
        offsets[index] = offset.total_seconds() if offset is not None else 0.0
    return np.asarray(offsets[back], dtype=np.float64)


def local_seconds_of_day(time: Floats, time_zone: str) -> Floats:
    """Return the wall clock's time of day at each instant. [s]"""
    return np.asarray(np.mod(time + local_offset(time, time_zone), DAY), dtype=np.float64)


def local_day(time: Floats, time_zone: str) -> Integers:
    """Return the local calendar day of each instant, counted from 1970-01-01."""
    return np.asarray(np.floor((time + local_offset(time, time_zone)) / DAY), dtype=np.int64)


def local_text(time: float, time_zone: str, form: str = "%Y-%m-%d %H:%M") -> str:
    """Return an instant as local wall time."""
    return datetime.fromtimestamp(time, tz=UTC).astimezone(ZoneInfo(time_zone)).strftime(form)
