"""Wall time to UTC: zones, and the nights when the clock is put back or forward."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

import numpy as np

from airtally.arrays import Booleans, Floats, Integers

DAY = 86400.0
_FIXED = re.compile(r"(?:UTC|GMT|Z)?\s*(?:([+-])(\d{1,2})(?::?(\d{2}))?)?", re.IGNORECASE | re.ASCII)
_EDGE = 2.0 * 3600.0
"""How far from the doubled hour a neighbour may lie and still tell which pass a stamp belongs to. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A change of the clock: the instant, and local minus UTC before and after it. [s]"""

    time: float
    before: float
    after: float

    @property
    def is_fold(self) -> bool:
        """Whether wall time occurs twice."""
        return self.after < self.before

    @property
    def wall_start(self) -> float:
        """First wall time that is doubled or missing. [s]"""
        return self.time + min(self.before, self.after)

    @property
    def wall_end(self) -> float:
        """End of the wall time that is doubled or missing. [s]"""
        return self.time + max(self.before, self.after)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Wall times as instants. All arrays have shape (rows,)."""

    time: Floats
    """[s, POSIX UTC]; NaN in a missing hour; the first pass where the doubled hour is unsure."""
    in_fold: Booleans
    fold_unsure: Booleans
    in_gap: Booleans


def find_zone(name: str) -> tzinfo | None:
    """Return the zone of an IANA name or of a fixed offset such as ``UTC-7``; None if there is none."""
    found = _FIXED.fullmatch(name.strip())
    if found and name.strip():
        sign, hours, minutes = found.groups()
        shift = timedelta(hours=int(hours or 0), minutes=int(minutes or 0))
        return timezone(-shift if sign == "-" else shift) if shift < timedelta(hours=24) else None
    try:
        return ZoneInfo(name.strip())
    except (OSError, ValueError):  # ZoneInfoNotFoundError is a KeyError, caught below with the reason of its own
        return None
    except KeyError:
        return None


def find_turns(zone: tzinfo, start: float, end: float) -> tuple[Turn, ...]:
    """Return the changes of a zone's clock between two instants, found day by day and then by halving."""
    turns: list[Turn] = []
    days = np.arange(np.floor(start / DAY) - 2.0, np.ceil(end / DAY) + 3.0) * DAY
    offsets = [_offset(zone, instant) for instant in days]
    for index in range(1, len(days)):
        if offsets[index] == offsets[index - 1]:
            continue
        low, high = float(days[index - 1]), float(days[index])
        while high - low > 1.0:
            middle = (low + high) / 2.0
            low, high = (middle, high) if _offset(zone, middle) == offsets[index - 1] else (low, middle)
        turns.append(Turn(time=float(round(high)), before=offsets[index - 1], after=offsets[index]))
    return tuple(turns)


def _offset(zone: tzinfo, instant: float) -> float:
    local = datetime.fromtimestamp(float(np.floor(instant)), tz=UTC).astimezone(zone)
    shift = local.utcoffset()
    return shift.total_seconds() if shift is not None else 0.0


def place(wall: Floats, zone: tzinfo, series: Integers, zone_word: tuple[str, ...] = ()) -> Placed:
    """Return wall times as instants.

    Parameters
    ----------
    wall : float array, shape (rows,)
        Wall time as seconds since 1970; NaN passes. [s]
    zone : tzinfo
        The logger's zone.
    series : int array, shape (rows,)
        Which series of stamps a row belongs to; order tells the two passes of a doubled hour within one.
    zone_word : tuple of str, optional
        Letters printed behind each stamp (``EST``), which tell the pass outright.

    Notes
    -----
    The two passes of the hour are told apart by the order of rows: in a file that runs forward, the rows
    before the jump back belong to the first. Without a jump, the hour belongs to the pass that joins on to
    the rows outside it, if only one side does. Otherwise nothing tells, and the row is unsure.
    """
    finite = wall[np.isfinite(wall)]
    time = np.full(wall.size, np.nan)
    flags = [np.zeros(wall.size, dtype=np.bool_) for _ in range(3)]
    if not finite.size:
        return Placed(time=time, in_fold=flags[0], fold_unsure=flags[1], in_gap=flags[2])
    turns = find_turns(zone, float(finite.min()), float(finite.max()))
    in_fold, fold_unsure, in_gap = flags
    first = turns[0].before if turns else _offset(zone, float(finite.min()))
    edges = np.array([turn.wall_end for turn in turns])
    offsets = np.array([first, *(turn.after for turn in turns)])
    time = wall - offsets[np.searchsorted(edges, wall, side="right")]
    for turn in turns:
        inside = (wall >= turn.wall_start) & (wall < turn.wall_end)
        if not turn.is_fold:
            in_gap |= inside
        elif inside.any():
            in_fold |= inside
            for one in np.unique(series[inside]):
                rows = np.flatnonzero((series == one) & np.isfinite(wall))
                second, unsure = _second_pass(wall[rows], turn)
                chosen = rows[inside[rows]]
                time[chosen] = wall[chosen] - np.where(second[inside[rows]], turn.after, turn.before)
                fold_unsure[chosen] = unsure[inside[rows]]
    if zone_word and in_fold.any():
        _by_zone_word(wall, zone, zone_word, in_fold, time, fold_unsure)
    time[in_gap] = np.nan
    return Placed(time=time, in_fold=in_fold, fold_unsure=fold_unsure, in_gap=in_gap)


def _second_pass(wall: Floats, turn: Turn) -> tuple[Booleans, Booleans]:
    """Return which stamps of one series fall in the second pass of a doubled hour, and which are unsure."""
    steps = np.diff(wall)
    is_newest_first = bool(steps.size) and float(np.median(np.sign(steps[steps != 0.0])) if steps.any() else 0.0) < 0
    seen = wall[::-1] if is_newest_first else wall
    inside = np.flatnonzero((seen >= turn.wall_start) & (seen < turn.wall_end))
    second = np.zeros(seen.size, dtype=np.bool_)
    unsure = np.zeros(seen.size, dtype=np.bool_)
    jumps = np.flatnonzero(np.diff(seen[inside]) < 0.0)
    runs_on = bool(np.all(np.diff(inside) == 1))
    if jumps.size == 1 and runs_on:
        second[inside[jumps[0] + 1 :]] = True
    elif jumps.size == 0 and runs_on and not np.any(np.diff(seen[inside]) == 0.0):
        sides = _joins(seen, inside, turn)
        if sides == (False, True):
            second[inside] = True
        elif sides != (True, False):
            unsure[inside] = True
    else:
        unsure[inside] = True
    return (second[::-1], unsure[::-1]) if is_newest_first else (second, unsure)


def _joins(seen: Floats, inside: Integers, turn: Turn) -> tuple[bool, bool]:
    """Return whether stamps in the doubled hour join on to the rows before it, and to the rows after it."""
    steps = np.abs(np.diff(seen))
    usual = float(np.median(steps[steps > 0.0])) if (steps > 0.0).any() else 0.0
    reach = min(1.5 * usual, _EDGE)
    first, last = int(inside[0]), int(inside[-1])
    before = first > 0 and 0.0 < seen[first] - seen[first - 1] <= reach and seen[first - 1] < turn.wall_start
    after = last + 1 < seen.size and 0.0 < seen[last + 1] - seen[last] <= reach and seen[last + 1] >= turn.wall_end
    return bool(before), bool(after)


def _by_zone_word(
    wall: Floats, zone: tzinfo, words: tuple[str, ...], in_fold: Booleans, time: Floats, unsure: Booleans
) -> None:
    """Settle stamps of a doubled hour by the letters printed behind them."""
    for row in np.flatnonzero(in_fold):
        naive = datetime(1970, 1, 1) + timedelta(seconds=float(wall[row]))  # wall time has no zone yet
        for fold in (0, 1):
            local = naive.replace(tzinfo=zone, fold=fold)
            if words[row] and (local.tzname() or "").upper() == words[row]:
                time[row], unsure[row] = local.timestamp(), False
