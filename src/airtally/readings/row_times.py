"""The instant of every row of a table, and what was doubtful about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Booleans, Floats, Integers
from airtally.errors import Problem, Severity
from airtally.readings import problems as codes
from airtally.readings.log import Flag
from airtally.readings.source import Source, Stamp
from airtally.readings.stamps import Clock, Stamps
from airtally.readings.zones import find_zone, place

SHORTEST_SHIFT = 5.0
"""A regular step below this is no averaging interval that would need a shift. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowTimes:
    """Instants of stamps. Arrays have shape (rows,)."""

    time: Floats
    """As stamped, not yet moved to the middle of the average. [s, POSIX UTC]"""
    flag: NDArray[np.uint8]
    """KEPT, UNREADABLE or CLOCK_UNSURE."""
    words: str
    problems: tuple[Problem, ...]


def instant_in_words(time: float) -> str:
    """Return an instant as ``2025-10-15 14:10 UTC``."""
    if not -1e10 < time < 1e11:
        return "an unknown time"
    return datetime.fromtimestamp(time, tz=UTC).strftime("%Y-%m-%d %H:%M UTC")


def row_times(stamps: Stamps, source: Source, lines: Integers, series: Integers, cells: Sequence[str]) -> RowTimes:
    """Return the instant of every stamp.

    Parameters
    ----------
    stamps : Stamps
        The stamps as read.
    source : Source
        Zone, start of the file's own count.
    lines, series : int arrays, shape (rows,)
        Line of each stamp; and which series of stamps it belongs to, see :func:`airtally.readings.zones.place`.
    cells : sequence of str
        The stamps' text, for messages.
    """
    time = np.full(stamps.wall.size, np.nan)
    flag = np.zeros(stamps.wall.size, dtype=np.uint8)
    problems: list[Problem] = []
    words = stamps.form
    if stamps.clock is Clock.NONE:
        problems.append(_no_clock(source.name, cells))
    elif stamps.clock is Clock.UNIX:
        time = stamps.wall.copy()
    elif stamps.clock is Clock.ELAPSED:
        if source.begins is None:
            problems.append(_no_start(source.name, stamps.form))
        else:
            time = source.begins + stamps.wall
    else:
        time, words = _from_wall(stamps, source, lines, series, flag, problems)
    unread = ~np.isfinite(time) & (flag == Flag.KEPT)
    flag[unread] = Flag.UNREADABLE
    if unread.any() and not problems:
        problems.append(_unreadable(source.name, lines[unread], [cells[i] for i in np.flatnonzero(unread)[:1]]))
    return RowTimes(time=time, flag=flag, words=words, problems=tuple(problems))


def _from_wall(
    stamps: Stamps,
    source: Source,
    lines: Integers,
    series: Integers,
    flag: NDArray[np.uint8],
    problems: list[Problem],
) -> tuple[Floats, str]:
    """Return instants of wall times; flags what is unsure."""
    if stamps.has_no_date:
        problems.append(_no_date(source.name))
        return np.full(stamps.wall.size, np.nan), stamps.form
    time = stamps.wall - stamps.offset
    local = ~np.isfinite(stamps.offset) & np.isfinite(stamps.wall)
    words = stamps.form
    if local.any():
        zone = find_zone(source.time_zone)
        if zone is None:
            flag[local] = Flag.CLOCK_UNSURE
            problems.append(_no_zone(source.name, source.time_zone))
        else:
            words += f", {source.time_zone}"
            rows = np.flatnonzero(local)
            letters = tuple(stamps.zone_word[i] for i in rows) if stamps.zone_word else ()
            placed = place(stamps.wall[rows], zone, series[rows], letters)
            time[rows] = placed.time
            flag[rows[placed.in_gap | placed.fold_unsure]] = Flag.CLOCK_UNSURE
            if placed.in_fold.any():
                problems.append(_fold(source.name, lines[rows], placed.in_fold, placed.fold_unsure))
            if placed.in_gap.any():
                problems.append(_gap_hour(source, lines[rows][placed.in_gap]))
    else:
        words += ", offset printed"
    if stamps.order_unsure.any():
        flag[stamps.order_unsure] = Flag.CLOCK_UNSURE
        time[stamps.order_unsure] = np.nan
        problems.append(_order_unsure(source.name, lines[stamps.order_unsure]))
    return time, words


def regular_step(time: Floats) -> tuple[float, bool]:
    """Return the usual step between instants and whether most steps are that long.

    Parameters
    ----------
    time : float array
        Instants in any order; NaN passes. [s]
    """
    ordered = np.unique(time[np.isfinite(time)])
    steps = np.diff(ordered)
    if not steps.size:
        return 0.0, False
    usual = float(np.median(steps))
    near = np.abs(steps - usual) <= max(0.05 * usual, min(1.5, 0.3 * usual))  # stamps are often cut to whole seconds
    return usual, bool(np.count_nonzero(near) >= 0.6 * steps.size)


def shift_to_middle(time: Floats, source: Source) -> tuple[float, float, tuple[Problem, ...]]:
    """Return what must be added to a stamp to get the middle of its average, the interval, and doubts. [s]"""
    if source.stamps is Stamp.MIDDLE:
        return 0.0, source.interval or 0.0, ()
    interval = source.interval
    if interval is None:
        usual, is_regular = regular_step(time)
        if not is_regular:
            doubts = (_no_interval(source, usual),) if usual > SHORTEST_SHIFT else ()
            return 0.0, 0.0, doubts
        interval = usual
    half = interval / 2.0
    return (half if source.stamps is Stamp.START else -half), interval, ()


def outside(time: Floats, source: Source) -> Booleans:
    """Return which instants lie outside the placement's dates."""
    return np.asarray((time < source.since) | (time >= source.until), dtype=np.bool_)


def _no_clock(name: str, cells: Sequence[str]) -> Problem:
    sample = next((cell.strip()[:30] for cell in cells if cell.strip()), "")
    return Problem(
        code=codes.TIME_COLUMN_MISSING,
        where=name,
        found=f'the column of time holds "{sample}", which is no instant',
        wanted="a date with a time, unix time, or seconds since a stated start",
        remedy='State the column, as ["Logged at", "time"], or give the file again with dates.',
    )


def _no_start(name: str, form: str) -> Problem:
    return Problem(
        code=codes.START_NOT_STATED,
        where=name,
        found=f"the column of time counts {form}",
        wanted="the instant at which the count began",
        remedy="State when the file begins; all its rows wait for that.",
    )


def _no_date(name: str) -> Problem:
    return Problem(
        code=codes.DATE_MISSING,
        where=name,
        found="stamps hold a time of day but no date",
        wanted="date and time",
        remedy="Export the log with dates; no row of it can be placed.",
    )


def _no_zone(name: str, zone: str) -> Problem:
    return Problem(
        code=codes.ZONE_UNKNOWN,
        where=name,
        found=f'the time zone is stated as "{zone[:60]}"',
        wanted='an IANA name such as "America/Denver", "UTC", or a fixed offset such as "UTC-7"',
        remedy="Correct the time zone; all rows without an offset of their own wait for that.",
    )


def _order_unsure(name: str, lines: Integers) -> Problem:
    return codes.about_lines(
        codes.DATE_ORDER_UNSURE,
        name,
        lines.tolist(),
        found=f"{lines.size} dates read the same way round or the other: day and month cannot be told apart",
        wanted="day_first = true or false",
        remedy="State it; these rows wait for that.",
    )


def _fold(name: str, lines: Integers, in_fold: Booleans, unsure: Booleans) -> Problem:
    doubtful = int(np.count_nonzero(unsure))
    settled = int(np.count_nonzero(in_fold)) - doubtful
    chosen = lines[unsure] if doubtful else lines[in_fold]
    found = f"stamps lie in an hour that the clock showed twice: {settled} told apart by their order"
    if doubtful:
        found += f", {doubtful} not"
    return codes.about_lines(
        codes.CLOCK_FOLD,
        name,
        chosen.tolist(),
        found=found,
        wanted="UTC or an offset behind each stamp",
        remedy="Rows that cannot be told apart were set aside." if doubtful else "Nothing to do.",
        severity=Severity.WARNING if doubtful else Severity.NOTE,
    )


def _gap_hour(source: Source, lines: Integers) -> Problem:
    return codes.about_lines(
        codes.CLOCK_GAP,
        source.name,
        lines.tolist(),
        found=f"{lines.size} stamps lie in an hour that did not exist in {source.time_zone}: the clock went forward",
        wanted="stamps in the zone stated",
        remedy="The logger's clock probably stays on one offset all year: state that, e.g. UTC-7. Rows set aside.",
    )


def _unreadable(name: str, lines: Integers, sample: Sequence[str]) -> Problem:
    text = sample[0].strip()[:40] if sample else ""
    return codes.about_lines(
        codes.TIME_UNREADABLE,
        name,
        lines.tolist(),
        found=f'{lines.size} stamp{"s" if lines.size > 1 else ""} could not be read, as "{text}"',
        wanted="a date with a time",
        remedy="Look at these lines; their readings were set aside.",
    )


def _no_interval(source: Source, usual: float) -> Problem:
    return Problem(
        code=codes.INTERVAL_NOT_STATED,
        where=source.name,
        found=f"stamps mark the {source.stamps} of an average, but the steps (about {usual:g} s) are not regular",
        wanted="the averaging interval",
        remedy="State it if the readings are averages; the stamps were left as they are.",
        severity=Severity.NOTE,
    )
