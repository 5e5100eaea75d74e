"""Door two: doubtful readings are flagged with a reason; none is dropped, and kept + set aside = read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Booleans, Floats, Integers
from airtally.errors import Problem, Severity
from airtally.quantities import UNITS, Quantity
from airtally.readings import problems as codes
from airtally.readings.coverage import FLOORED, about_floors, about_gaps, find_floor, in_field
from airtally.readings.log import Flag, Log, Stream
from airtally.readings.measures import STATES
from airtally.readings.plausible import impossible, railed
from airtally.readings.repeats import changes, find_hold, held_rows, stuck_rows
from airtally.readings.row_times import instant_in_words

OPTICAL = frozenset(quantity for quantity in Quantity if quantity.value.startswith(("pm", "count_")))
"""Quantities told by scattered light: humid air swells the particles they see."""
SATURATED = 0.99
"""Relative humidity that may last for days in fog. [-]"""
_FAMILIES = (OPTICAL, frozenset({Quantity.TEMPERATURE, Quantity.RELATIVE_HUMIDITY}))
"""Quantities that one sensor refreshes together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Screening:
    """Limits of the screening; the defaults are common practice, no source, unless said."""

    humidity_limit: float = 0.75
    """Relative humidity above which optical readings are set aside: growth of particles sets in. [-]"""
    humidity_reach: float = 1800.0
    """Longest time to the nearest humidity reading. [s]"""
    stuck_after: float = 12.0 * 3600.0
    """A channel without change for this long is doubted, if its other runs are ten times shorter. [s]"""
    warm_up: Mapping[Quantity, float] = field(
        default_factory=lambda: {
            **dict.fromkeys(OPTICAL, 30.0),
            Quantity.VOC: 300.0,
            Quantity.CO: 60.0,
            Quantity.CO2: 60.0,
            Quantity.NO2: 300.0,
        }
    )
    """How long a sensor settles after a gap. [s]"""
    warm_up_gap: float = 600.0
    """A silence from which on power may have been off. [s]"""
    floor_share: float = 0.2
    """Share of readings on the floor from which on it is a problem. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    """Rows of one stream in order of time that are still kept."""

    stream: Stream
    row: Integers
    time: Floats
    value: Floats


def screen_log(
    log: Log,
    screening: Screening | None = None,
    humidity: Mapping[str, tuple[Floats, Floats]] | None = None,
) -> Log:
    """Return the log with doubtful readings flagged: impossible, duplicate, stuck, held, railed, warming up, humid.

    Parameters
    ----------
    log : Log
        As read; flags already set stay.
    screening : Screening, optional
        Limits.
    humidity : mapping of placement to (time [s], relative humidity [-]), optional
        For optical streams whose placement has no humidity of its own.

    Returns
    -------
    log : Log
        Same readings, same order; flags and problems added.
    """
    limits = screening or Screening()
    flag = log.flag.copy()
    problems: list[Problem] = []
    blocks = [log.rows(stream) for stream in log.streams]
    for stream, block in zip(log.streams, blocks, strict=True):
        _flag_impossible(log, stream, block, flag, problems)
        _flag_duplicates(log, stream, block, flag, problems)
    by_placement: dict[str, list[_Rows]] = {}
    warming: dict[str, list[tuple[Quantity, int, int]]] = {}
    for stream, block in zip(log.streams, blocks, strict=True):
        rows = _kept(log, stream, block, flag)
        if stream.quantity not in STATES and rows.row.size:
            _flag_stuck(rows, flag, limits, problems)
            by_placement.setdefault(stream.placement, []).append(_kept(log, stream, block, flag))
    for placement, members in by_placement.items():
        _flag_held(placement, members, flag, problems)
    for stream, block in zip(log.streams, blocks, strict=True):
        if stream.quantity not in STATES:
            _flag_railed(_kept(log, stream, block, flag), flag, problems)
            settling, times = _flag_warming_up(log, stream, block, flag, limits)
            if settling:
                warming.setdefault(stream.placement, []).append((stream.quantity, settling, times))
    problems += [_about_warming_up(placement, counts) for placement, counts in warming.items()]
    _flag_humid(log, blocks, flag, limits, humidity or {}, problems)
    screened = replace(log, flag=flag, problems=(*log.problems, *problems))
    return replace(
        screened, problems=(*screened.problems, *about_floors(screened, limits.floor_share), *about_gaps(screened))
    )


def _kept(log: Log, stream: Stream, block: Integers, flag: NDArray[np.uint8]) -> _Rows:
    row = block[flag[block] == Flag.KEPT]
    return _Rows(stream=stream, row=row, time=log.time[row], value=log.value[row])


def _flag_impossible(
    log: Log, stream: Stream, block: Integers, flag: NDArray[np.uint8], problems: list[Problem]
) -> None:
    rows = _kept(log, stream, block, flag)
    wrong = impossible(stream.quantity, rows.value)
    flag[rows.row[wrong]] = Flag.IMPOSSIBLE
    if wrong.any():
        shown = in_field(stream, float(rows.value[wrong][0]))
        problems.append(
            _about(
                codes.IMPOSSIBLE_VALUES,
                log,
                rows,
                wrong,
                found=f"{np.count_nonzero(wrong)} readings cannot be, as {shown}",
                wanted="a value that this quantity can have",
                remedy="Set aside; if all are wrong, check the unit stated for the column.",
            )
        )


def _flag_duplicates(
    log: Log, stream: Stream, block: Integers, flag: NDArray[np.uint8], problems: list[Problem]
) -> None:
    """Flag readings at an instant that the stream already has; the one read first is kept."""
    rows = _kept(log, stream, block, flag)
    again = np.zeros(rows.row.size, dtype=np.bool_)
    again[1:] = np.diff(rows.time) == 0.0
    flag[rows.row[again]] = Flag.DUPLICATE
    if not again.any():
        return
    first = np.maximum.accumulate(np.where(again, 0, np.arange(again.size)))
    differs = again & (rows.value != rows.value[first])
    problems.append(
        _about(
            codes.DUPLICATES_DISAGREE if differs.any() else codes.DUPLICATES,
            log,
            rows,
            differs if differs.any() else again,
            found=f"{np.count_nonzero(again)} readings at an instant that has one already"
            + (f", {np.count_nonzero(differs)} of them different" if differs.any() else ""),
            wanted="one reading an instant",
            remedy="The first was kept; check whether two devices write to one placement."
            if differs.any()
            else "Each was kept once.",
            severity=Severity.WARNING if differs.any() else Severity.NOTE,
        )
    )


def _flag_stuck(rows: _Rows, flag: NDArray[np.uint8], limits: Screening, problems: list[Problem]) -> None:
    quantity = rows.stream.quantity
    exempt = np.zeros(rows.row.size, dtype=np.bool_)
    if quantity in FLOORED:
        factor = UNITS[quantity].factor
        exempt = rows.value == 0.0
        if find_floor(rows.value / factor, factor, 0.05) is not None:
            exempt |= rows.value <= rows.value.min()
    elif quantity is Quantity.RELATIVE_HUMIDITY:
        exempt = rows.value >= SATURATED
    stuck = stuck_rows(rows.time, rows.value, limits.stuck_after, exempt)
    flag[rows.row[stuck]] = Flag.STUCK
    if stuck.any():
        first = int(np.flatnonzero(stuck)[0])
        problems.append(
            Problem(
                code=codes.STUCK_CHANNEL,
                where=rows.stream.name,
                found=f"no change for long from {instant_in_words(float(rows.time[first]))} on, at "
                f"{in_field(rows.stream, float(rows.value[first]))}; {np.count_nonzero(stuck)} readings",
                wanted="a channel that moves",
                remedy="Set aside; look at sensor and cable.",
            )
        )


def _flag_held(placement: str, members: list[_Rows], flag: NDArray[np.uint8], problems: list[Problem]) -> None:
    """Flag rows that repeat what the logger holds; streams that one sensor refreshes are judged together."""
    groups: list[list[_Rows]] = [[one for one in members if one.stream.quantity in family] for family in _FAMILIES]
    groups += [[one] for one in members if not any(one.stream.quantity in family for family in _FAMILIES)]
    for group in (group for group in groups if group):
        time = np.unique(np.concatenate([one.time for one in group]))
        values = np.full((len(group), time.size), np.nan)
        moves = np.zeros(time.size, dtype=np.bool_)
        for index, one in enumerate(group):
            at = np.searchsorted(time, one.time)
            values[index, at] = one.value
            moves[at] |= one.value > one.value.min()
        hold = find_hold(time, changes(time, values), moves)
        if hold is None:
            continue
        before = after = 0
        for one in group:
            held = held_rows(one.time, one.value, hold.interval)
            flag[one.row[held]] = Flag.HELD
            before += one.row.size
            after += one.row.size - int(np.count_nonzero(held))
        names = ", ".join(one.stream.quantity.value for one in group)
        problems.append(
            Problem(
                code=codes.HELD_VALUES,
                where=f"{placement}/{names}" if len(group) == 1 else f"{placement} ({names})",
                found=f"each reading is repeated for about {hold.interval / 60.0:.3g} min: {before} cells hold {after} readings",
                wanted="one row a reading",
                remedy="Repeats were set aside; a quick event between two readings cannot be seen.",
                severity=Severity.NOTE,
            )
        )


def _flag_railed(rows: _Rows, flag: NDArray[np.uint8], problems: list[Problem]) -> None:
    top = railed(rows.stream.quantity, rows.value)
    flag[rows.row[top]] = Flag.RAILED
    if top.any():
        problems.append(
            Problem(
                code=codes.RAILED_CHANNEL,
                where=rows.stream.name,
                found=f"{np.count_nonzero(top)} readings lie flat at {in_field(rows.stream, float(rows.value[top][0]))}, "
                f"first {instant_in_words(float(rows.time[top][0]))}",
                wanted="readings below the top of the sensor's scale",
                remedy="Set aside: the truth was higher. A mean over such hours is too low.",
            )
        )


def _flag_warming_up(
    log: Log, stream: Stream, block: Integers, flag: NDArray[np.uint8], limits: Screening
) -> tuple[int, int]:
    """Flag the first readings after a silence long enough for the power to have been off; return counts.

    A silence is one of all rows, whatever their flag.
    """
    settle = limits.warm_up.get(stream.quantity, 0.0)
    time = np.unique(log.time[block][np.isfinite(log.time[block])])
    steps = np.diff(time)
    if not settle or not steps.size or float(np.median(steps)) > limits.warm_up_gap / 2.0:
        return 0, 0
    back = time[np.flatnonzero(steps > max(limits.warm_up_gap, 5.0 * float(np.median(steps)))) + 1]
    rows = _kept(log, stream, block, flag)
    if not back.size or not rows.row.size:
        return 0, 0
    last = np.searchsorted(back, rows.time, side="right") - 1
    warming = (last >= 0) & (rows.time - back[last] < settle)
    flag[rows.row[warming]] = Flag.WARMING_UP
    return int(np.count_nonzero(warming)), int(back.size)


def _about_warming_up(placement: str, counts: list[tuple[Quantity, int, int]]) -> Problem:
    names = ", ".join(quantity.value for quantity, _, _ in counts)
    return Problem(
        code=codes.WARMING_UP,
        where=f"{placement} ({names})",
        found=f"{sum(count for _, count, _ in counts)} readings just after {max(times for _, _, times in counts)} "
        "silences in which power may have been off",
        wanted="sensors that have settled",
        remedy="Set aside.",
        severity=Severity.NOTE,
    )


def _flag_humid(
    log: Log,
    blocks: list[Integers],
    flag: NDArray[np.uint8],
    limits: Screening,
    humidity: Mapping[str, tuple[Floats, Floats]],
    problems: list[Problem],
) -> None:
    """Flag optical readings in humid air, told by the humidity at the same placement."""
    known = dict(humidity)
    for stream, block in zip(log.streams, blocks, strict=True):
        if stream.quantity is Quantity.RELATIVE_HUMIDITY:
            # a held humidity is still the humidity; only readings that cannot be trusted are left out
            good = block[np.isin(flag[block], (Flag.KEPT, Flag.HELD))]
            known[stream.placement] = (log.time[good], log.value[good])
    for stream, block in zip(log.streams, blocks, strict=True):
        if stream.quantity not in OPTICAL or stream.placement not in known:
            continue
        rows = _kept(log, stream, block, flag)
        humid = _humidity_at(rows.time, *known[stream.placement], limits.humidity_reach) > limits.humidity_limit
        flag[rows.row[humid]] = Flag.HUMID
        if humid.any():
            problems.append(
                Problem(
                    code=codes.HUMID_AIR,
                    where=stream.name,
                    found=f"{np.count_nonzero(humid)} of {rows.row.size} readings in air above "
                    f"{100.0 * limits.humidity_limit:g} % relative humidity",
                    wanted="drier air, or a monitor that dries its sample",
                    remedy="Set aside: particles swell in humid air and read high. Compare with a public monitor.",
                )
            )


def _humidity_at(time: Floats, known: Floats, humidity: Floats, reach: float) -> Floats:
    """Return the nearest humidity reading, NaN where none is near. [-]"""
    order = np.argsort(known, kind="stable")
    known, humidity = known[order], humidity[order]
    if not known.size:
        return np.full(time.size, np.nan)
    right = np.clip(np.searchsorted(known, time), 0, known.size - 1)
    left = np.clip(right - 1, 0, None)
    nearest = np.where(np.abs(known[left] - time) <= np.abs(known[right] - time), left, right)
    return np.asarray(np.where(np.abs(known[nearest] - time) <= reach, humidity[nearest], np.nan), dtype=np.float64)


def _about(
    code: str,
    log: Log,
    rows: _Rows,
    chosen: Booleans,
    *,
    found: str,
    wanted: str,
    remedy: str,
    severity: Severity = Severity.WARNING,
) -> Problem:
    """Return a problem about rows of a stream, naming file and lines."""
    picked = rows.row[chosen]
    file = log.files[int(log.file[picked[0]])].name
    return codes.about_lines(
        code,
        f"{rows.stream.name} ({file})",
        log.line[picked].tolist(),
        found=found,
        wanted=wanted,
        remedy=remedy,
        severity=severity,
    )
