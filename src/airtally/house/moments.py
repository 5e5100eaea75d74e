"""Dates and times as a survey writes them: local wall time or with offset, to POSIX seconds UTC."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

FIRST_YEAR, LAST_YEAR = 1900, 2200
_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([+-])(\d{1,2})(?::?(\d{2}))?", re.IGNORECASE)
_ISO = re.compile(r"\d{4}-\d{2}-\d{2}(?:[ T]\d{1,2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?\s*(?:Z|[+-]\d{2}:?\d{2})?)?")


class MomentTextError(ValueError):
    """A value that is no date or time; the text says why, to follow the value in a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """An instant, and whether its local clock was doubtful."""

    time: float
    """[s, POSIX UTC]"""
    is_ambiguous: bool = False
    is_nonexistent: bool = False


def find_zone(name: str) -> ZoneInfo | None:
    """Return a zone of the time-zone database, or None where it has none of that name."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):  # OSError: a folder of the database, such as "America"
        return None


def is_zone_or_offset(name: str) -> bool:
    """Return whether a log's time zone is an IANA name, ``"UTC"`` or a fixed offset such as ``"UTC-7"``."""
    found = _OFFSET.fullmatch(name.strip())
    if found:
        return int(found.group(2)) * 60 + int(found.group(3) or 0) <= 14 * 60
    return name.strip().upper() in ("UTC", "GMT", "Z") or find_zone(name.strip()) is not None


def read_moment(value: object, zone: ZoneInfo) -> Moment:
    """Return the instant that a TOML date, time or text stands for.

    Parameters
    ----------
    value : str, datetime or date
        A date alone means its first minute; without offset it is wall time in ``zone``.
    zone : ZoneInfo
        The home's.

    Raises
    ------
    MomentTextError
        If it is no date between 1900 and 2200.
    """
    stamp = _stamp(value)
    if not FIRST_YEAR <= stamp.year <= LAST_YEAR:
        raise MomentTextError(f"lies outside the years {FIRST_YEAR} to {LAST_YEAR}")
    if stamp.tzinfo is not None:
        return Moment(time=(stamp - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds())
    first, second = (stamp.replace(tzinfo=zone, fold=fold).utcoffset() or timedelta() for fold in (0, 1))
    seconds = (stamp - datetime(1970, 1, 1)).total_seconds() - first.total_seconds()
    return Moment(time=seconds, is_ambiguous=first > second, is_nonexistent=first < second)


def _stamp(value: object) -> datetime:
    """Return a date or time as a datetime, with or without offset."""
    if isinstance(value, datetime):
        return value
    if isinstance(value, date):
        return datetime(value.year, value.month, value.day)
    if not isinstance(value, str):
        raise MomentTextError("is no date")
    text = " ".join(value.split())
    if not _ISO.fullmatch(text):
        raise MomentTextError("is no date of the form year-month-day hour:minute")
    text = re.sub(r"(?<=[ T])(\d):", r"0\1:", text).replace(" ", "T", 1).replace(" ", "")
    try:
        return datetime.fromisoformat(text)
    except ValueError as doubt:
        raise MomentTextError("is no day or time of the calendar") from doubt
