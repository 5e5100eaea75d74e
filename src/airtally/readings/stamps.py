"""Stamps to wall time: ISO, day or month first, 24 hours or a.m. and p.m., unix seconds, seconds since a start."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import numpy as np

from airtally.arrays import Booleans, Floats
from airtally.readings.cells import read_column
from airtally.readings.distinct import distinct

DAY = 86400.0
EPOCH_DAY = date(1970, 1, 1).toordinal()


class Clock(StrEnum):
    """What kind of stamp a column holds."""

    WALL = "date and time"
    UNIX = "unix time"
    ELAPSED = "time since the file's own start"
    NONE = "no clock"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamps:
    """A column of stamps, read but not yet placed in a time zone.

    Attributes
    ----------
    clock : Clock
        What the column holds.
    wall : float array, shape (rows,)
        Seconds since 1970 as the wall clock shows them, unix seconds, or seconds since the start; NaN if
        unreadable. [s]
    offset : float array, shape (rows,)
        Local minus UTC where the stamp says it, else NaN. [s]
    zone_word : tuple of str
        Letters behind each stamp (``EDT``), or empty; of length 0 where no stamp has any.
    order_unsure : bool array, shape (rows,)
        Day and month could not be told apart.
    form : str
        The form in words.
    has_no_date : bool
        Only times of day were found.
    """

    clock: Clock
    wall: Floats
    offset: Floats
    zone_word: tuple[str, ...]
    order_unsure: Booleans
    form: str
    has_no_date: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Date:
    """A date's parts; ``day`` is counted from 1970 once known, else first and second wait for the file's order."""

    day: float = math.nan
    first: int = 0
    second: int = 0
    year: int = 0
    has_points: bool = False


_ENGLISH_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTHS = {
    **{name: index + 1 for index, name in enumerate(_ENGLISH_MONTHS)},
    **{"mär": 3, "mrz": 3, "mai": 5, "okt": 10, "dez": 12, "ene": 1, "abr": 4, "ago": 8, "dic": 12},
    **{"fév": 2, "fev": 2, "avr": 4, "jui": 7, "aoû": 8, "aou": 8, "déc": 12, "mag": 5, "gen": 1, "set": 9, "ott": 10},
}
_ISO = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})\.?", re.ASCII)
_ORDERED = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d{2})", re.ASCII)
_COMPACT = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})", re.ASCII)
_MONTH_NAMED = re.compile(
    r"(?:(?P<d1>\d{1,2})[\s./-]*(?P<m1>[^\W\d_]{3,10})\.?|(?P<m2>[^\W\d_]{3,10})\.?\s*(?P<d2>\d{1,2}))[\s,./-]+"
    r"(?P<y>\d{4}|\d{2})"
)
_WEEKDAY = re.compile(r"[^\W\d_]{2,10}\.?,?\s+(?=\d)")
_LEADING_DATE = re.compile(
    r"(\d{4}[-/.]\d{1,2}[-/.]\d{1,2}\.?|\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})|(?:19|20)\d{6}(?=\D|\d{4}(?:\d\d)?$|$)"
    r"|\d{1,2}[\s./-]*[^\W\d_]{3,10}\.?[\s,./-]+(?:\d{4}|\d{2})(?!\d)|[^\W\d_]{3,10}\.?\s*\d{1,2},?\s+\d{4})"
    r"(?:[T\s,_;-]+(?=\d)|(?=\d{4}(?:\d\d)?$)|$)(.*)",
    re.DOTALL,
)
_TIME_OF_DAY = re.compile(
    r"(\d{1,2})(?::|\.|h)(\d{2})(?:(?::|\.)(\d{2})(?:[.,](\d{1,9}))?)?\s*(?:([ap])\.?\s?m\.?)?"
    r"\s*(z|utc|gmt)?\s*([+-]\d{1,2}(?::?\d{2})?)?\s*\[?([a-z]{2,5}|[a-z]+/[a-z_/]+)?\]?",
    re.IGNORECASE | re.ASCII,
)
_COMPACT_TIME = re.compile(r"(\d{2})(\d{2})(\d{2})?(z)?([+-]\d{2}:?\d{2})?", re.IGNORECASE | re.ASCII)
_BARE_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d{1,3})?", re.ASCII)
_ELAPSED = re.compile(r"elapsed|since|seconds?\b|\bsecs?\b|relative|runtime|run time|\bt\b|\btime\b|verstrichen")
_ELAPSED_UNITS = (
    (r"\b(?:ms|millis\w*)\b", 1e-3),
    (r"\b(?:min|mins|minutes?)\b", 60.0),
    (r"\b(?:h|hrs?|hours?)\b", 3600.0),
)


def stamp_share(cells: Sequence[str]) -> float:
    """Return which share of a sample of cells can be read as a stamp with a date, or as unix time. [-]"""
    filled = [cell.strip() for cell in cells if cell.strip()][:60]
    if not filled:
        return 0.0
    good = 0
    for cell in filled:
        if _BARE_NUMBER.fullmatch(cell):
            good += _unix_factor(abs(float(cell.replace(",", ".")))) > 0.0 or bool(_COMPACT.fullmatch(cell[:8]))
        else:
            good += _split(cell) is not None
    return good / len(filled)


def read_stamps(
    cells: Sequence[str],
    times: Sequence[str] | None,
    header: str,
    decimal: str,
    day_first: bool | None,
) -> Stamps:
    """Return a column of stamps, or a column of dates with a column of times of day, as wall time.

    Parameters
    ----------
    cells, times : sequence of str
        Stamps, or dates and, in ``times``, the times of day.
    header : str
        Header words of the columns in normal form; may tell the order (``mm/dd``) or the unit (``min``).
    decimal : str
        Decimal sign of the file.
    day_first : bool or None
        Stated order of day and month.
    """
    if times is None:
        filled = [cell for cell in cells[:500] if cell.strip()]
        bare = sum(1 for cell in filled if _BARE_NUMBER.fullmatch(cell.strip()))
        if filled and bare > 0.8 * len(filled) and not _are_compact(filled):
            return _read_numbers(cells, header, decimal)
        heads, tails = _split_all(cells)
    else:
        heads, tails = [cell.strip() for cell in cells], [cell.strip() for cell in times]
    return _read_wall(heads, tails, header, day_first)


def _are_compact(filled: Sequence[str]) -> bool:
    """Return whether bare numbers are dates written without marks, such as 20250930 or 20250930120000."""
    return all(len(cell.strip()) in (8, 12, 14) and _COMPACT.match(cell.strip()) for cell in filled[:50])


def _split(text: str) -> tuple[str, str] | None:
    """Return a stamp's date and the rest, or None where no date leads it."""
    word = text.strip().strip('"').lstrip("'")
    if len(word) > 60 or not word:
        return None
    if not word[0].isdigit():
        word = _WEEKDAY.sub("", word, count=1) if _WEEKDAY.match(word) and not _month_leads(word) else word
    found = _LEADING_DATE.fullmatch(word)
    return (found.group(1), found.group(2).strip()) if found else None


def _split_all(cells: Sequence[str]) -> tuple[list[str], list[str]]:
    """Return dates and the rest of every stamp.

    What stands before the first mark is looked at once; only where that is not a whole date, each stamp is.
    """
    mark = "T" if any(re.search(r"\dT\d", text) for text in cells[:50]) else " "
    heads = [text.partition(mark)[0] for text in cells]
    tails = [text.partition(mark)[2] for text in cells]
    odd = {head for head in dict.fromkeys(heads) if _split(f"{head}{mark}00:00") != (head, "00:00")}
    if odd:
        for row in [row for row, head in enumerate(heads) if head in odd]:
            heads[row], tails[row] = _split(cells[row]) or ("", "?")
    return heads, tails


def _month_leads(word: str) -> bool:
    return word[:3].casefold() in _MONTHS and bool(re.match(r"[^\W\d_]{3,10}\.?\s*\d{1,2},?\s+\d{4}", word))


def _read_numbers(cells: Sequence[str], header: str, decimal: str) -> Stamps:
    """Return a column of bare numbers as unix time or as time since the file's own start."""
    numbers = read_column(cells, decimal).number
    finite = np.abs(numbers[np.isfinite(numbers)])
    middle = float(np.median(finite)) if finite.size else 0.0
    factor = _unix_factor(middle)
    nothing = np.full(numbers.size, np.nan)
    no_doubt = np.zeros(numbers.size, dtype=np.bool_)
    if factor > 0.0:
        wall = numbers * factor
        wall[~((wall > 0.0) & (wall < 4.2e9))] = np.nan
        unit = {1.0: "seconds", 1e-3: "milliseconds", 1e-6: "microseconds", 1e-9: "nanoseconds"}[factor]
        return Stamps(
            clock=Clock.UNIX, wall=wall, offset=nothing, zone_word=(), order_unsure=no_doubt, form=f"unix {unit}"
        )
    if "date" in header or not _ELAPSED.search(header):
        return Stamps(
            clock=Clock.NONE, wall=nothing, offset=nothing, zone_word=(), order_unsure=no_doubt, form="bare numbers"
        )
    scale = next((factor for pattern, factor in _ELAPSED_UNITS if re.search(pattern, header)), 1.0)
    words = {1e-3: "milliseconds", 60.0: "minutes", 3600.0: "hours"}.get(scale, "seconds")
    wall = numbers * scale
    wall[~(np.abs(wall) < 1e9)] = np.nan
    return Stamps(
        clock=Clock.ELAPSED,
        wall=wall,
        offset=nothing,
        zone_word=(),
        order_unsure=no_doubt,
        form=f"{words} since the file's start",
    )


def _unix_factor(number: float) -> float:
    """Return what brings a unix time between 1990 and 2100 to seconds, or 0."""
    for factor in (1.0, 1e-3, 1e-6, 1e-9):
        if 6.3e8 < number * factor < 4.2e9:
            return factor
    return 0.0


def _read_wall(heads: list[str], tails: list[str], header: str, day_first: bool | None) -> Stamps:
    """Return dates and times of day as wall time."""
    date_texts, date = distinct(heads)
    clock_texts, clock = distinct(tails)
    dates = [_read_date(text) for text in date_texts]
    order, certain, order_words = _order(dates, header, day_first)
    days = np.array([_day(parts, order) for parts in dates])
    unsure = np.array([parts.first > 0 and not certain and parts.first != parts.second for parts in dates], np.bool_)
    clocks = [_read_time_of_day(text) for text in clock_texts]
    seconds, offsets = np.array([one[0] for one in clocks]), np.array([one[1] for one in clocks])
    wall = days[date] * DAY + seconds[clock]
    words = tuple(clocks[number][2] for number in clock.tolist()) if any(one[2] for one in clocks) else ()
    has_no_date = not np.isfinite(wall).any() and any(np.isfinite(_read_time_of_day(h)[0]) for h in date_texts[:50])
    return Stamps(
        clock=Clock.WALL,
        wall=wall,
        offset=offsets[clock],
        zone_word=words,
        order_unsure=unsure[date],
        form=f"date and time{order_words}",
        has_no_date=has_no_date,
    )


def _read_date(text: str) -> _Date:
    """Return a date's parts."""
    if found := _ISO.fullmatch(text):
        return _Date(day=_ordinal(int(found[1]), int(found[3]), int(found[4])))
    if found := _ORDERED.fullmatch(text):
        return _Date(first=int(found[1]), second=int(found[3]), year=_century(found[4]), has_points=found[2] == ".")
    if found := _COMPACT.fullmatch(text):
        return _Date(day=_ordinal(int(found[1]), int(found[2]), int(found[3])))
    if found := _MONTH_NAMED.fullmatch(text):
        month = _MONTHS.get((found["m1"] or found["m2"])[:3].casefold(), 0)
        return _Date(day=_ordinal(_century(found["y"]), month, int(found["d1"] or found["d2"])))
    return _Date()


def _century(year: str) -> int:
    return int(year) + (2000 if len(year) == 2 else 0)


def _ordinal(year: int, month: int, day: int) -> float:
    """Return a day counted from 1970, NaN if there is no such day in 1970 to 2100."""
    try:
        return float(date(year, month, day).toordinal() - EPOCH_DAY) if 1970 <= year <= 2100 else math.nan
    except ValueError:
        return math.nan


def _day(parts: _Date, day_first: bool) -> float:
    if not parts.first:
        return parts.day
    day, month = (parts.first, parts.second) if day_first else (parts.second, parts.first)
    return _ordinal(parts.year, month, day)


def _order(dates: Sequence[_Date], header: str, stated: bool | None) -> tuple[bool, bool, str]:
    """Return whether the day leads, whether that is certain, and the words for it."""
    ordered = [parts for parts in dates if parts.first]
    if not ordered:
        return False, True, ""
    if stated is not None:
        return stated, True, f", {'day' if stated else 'month'} first as stated"
    if re.search(r"\bd{1,2}[-/. ]m{1,2}\b", header):
        return True, True, ", day first by its header"
    if re.search(r"\bm{1,2}[-/. ]d{1,2}\b", header):
        return False, True, ", month first by its header"
    day_leads = any(parts.first > 12 for parts in ordered)
    month_leads = any(parts.second > 12 for parts in ordered)
    if day_leads != month_leads:
        return day_leads, True, f", {'day' if day_leads else 'month'} first"
    if all(parts.has_points for parts in ordered) and not month_leads:
        return True, True, ", day first as dates with points are"
    return _order_by_steps(ordered)


def _order_by_steps(ordered: Sequence[_Date]) -> tuple[bool, bool, str]:
    """Return the order in which the file's dates follow one another day by day, if only one does."""
    if len(ordered) >= 3:
        longest = {}
        for day_first in (True, False):
            days = np.array([_day(parts, day_first) for parts in ordered])
            steps = np.abs(np.diff(days))
            longest[day_first] = float(steps.max()) if np.isfinite(steps).all() else np.inf
        for day_first in (True, False):
            if longest[day_first] <= 3.0 and longest[not day_first] >= 20.0:
                return day_first, True, f", {'day' if day_first else 'month'} first, as the dates then follow on"
    return False, False, ", order of day and month not certain"


def _read_time_of_day(text: str) -> tuple[float, float, str]:
    """Return seconds of the day, offset in seconds or NaN, and letters behind; 24:00 is the day's end."""
    text = text.strip().strip('"').strip()
    if not text:
        return 0.0, math.nan, ""
    if re.fullmatch(r"[0-9]|1\d|2[0-4]", text):
        return float(text) * 3600.0, math.nan, ""
    found = None if len(text) > 40 else _TIME_OF_DAY.fullmatch(text)
    if found is not None:
        hour, minute, second, fraction, half, zulu, shift, word = found.groups()
        time = _seconds(int(hour), int(minute), int(second or 0), half) + float(f"0.{fraction or 0}")
        return _with_shift(time, zulu, shift, (word or "").upper())
    compact = None if len(text) > 40 else _COMPACT_TIME.fullmatch(text)
    if compact is None:
        return math.nan, math.nan, ""
    hour, minute, second, zulu, shift = compact.groups()
    return _with_shift(_seconds(int(hour), int(minute), int(second or 0), None), zulu, shift, "")


def _with_shift(time: float, zulu: str | None, shift: str | None, word: str) -> tuple[float, float, str]:
    """Return a time of day with its offset; no time at all where the offset printed is none."""
    offset = _shift(zulu, shift)
    return (math.nan if shift and math.isnan(offset) else time), offset, word


def _seconds(hours: int, minutes: int, seconds: int, half: str | None) -> float:
    """Return the seconds of a day, NaN for no time of day; ``half`` is a or p."""
    if half:
        if not 1 <= hours <= 12:
            return math.nan
        hours = hours % 12 + (12 if half.casefold() == "p" else 0)
    if minutes > 59 or seconds > 60 or hours > 24 or (hours == 24 and minutes + seconds > 0):
        return math.nan
    return hours * 3600.0 + minutes * 60.0 + seconds


def _shift(zulu: str | None, shift: str | None) -> float:
    """Return local minus UTC as printed behind a stamp, NaN if nothing is. [s]"""
    if not shift:
        return 0.0 if zulu else math.nan
    digits = shift[1:].replace(":", "")
    hours, minutes = (int(digits[:-2]), int(digits[-2:])) if len(digits) > 2 else (int(digits), 0)
    if hours > 15 or minutes > 59:
        return math.nan
    return (-1.0 if shift[0] == "-" else 1.0) * (hours * 3600.0 + minutes * 60.0)
