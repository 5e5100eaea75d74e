"""Event rows: a start and an end become a step series, 1 at the start and 0 at the end."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Booleans, Floats, Integers
from airtally.errors import Problem
from airtally.quantities import Quantity
from airtally.readings import problems as codes
from airtally.readings.cells import EMPTY_WORDS
from airtally.readings.columns import Layout
from airtally.readings.devices import Devices, name_placements
from airtally.readings.log import Flag, Stream
from airtally.readings.parts import Gathering, Part
from airtally.readings.row_times import outside, row_times
from airtally.readings.source import Source
from airtally.readings.stamps import read_stamps
from airtally.readings.tables import Table
from airtally.readings.words import plain, state_word


def read_events(
    table: Table,
    layout: Layout,
    devices: Devices,
    source: Source,
    decimal: str,
    problems: list[Problem],
) -> Part:
    """Return two readings for each event row: 1 at its start and 0 at its end.

    Starts and ends are placed in time as one series in the order of the file, so that a doubled hour can be
    told apart by it.
    """
    rows = table.lines.size
    starts, ends = table.columns[layout.start], table.columns[layout.end]
    cells = [cell for pair in zip(starts, ends, strict=True) for cell in pair]
    stamps = read_stamps(cells, None, plain(table.header[layout.start]), decimal, source.day_first)
    lines = np.repeat(table.lines, 2)
    is_empty = np.fromiter((cell.strip().casefold() in EMPTY_WORDS for cell in cells), dtype=np.bool_, count=2 * rows)
    times = row_times(stamps, source, lines, np.repeat(devices.code, 2), cells)
    problems += [one for one in times.problems if one.code != codes.TIME_UNREADABLE]
    problems += _unreadable(lines[(times.flag == Flag.UNREADABLE) & ~is_empty], source.name)
    time, flag = times.time.reshape(rows, 2), times.flag.reshape(rows, 2).copy()
    empty = is_empty.reshape(rows, 2)
    placements, doubts = name_placements(devices, time[:, 0], table.lines, source)
    problems += doubts
    meanings, unnamed = _meanings(table, layout, source.name, problems)
    _without_end(flag, empty, table.lines, source.name, problems)
    _backwards(time, flag, table.lines, source.name, problems)
    flag[(flag == Flag.KEPT) & outside(time, source)] = Flag.OUTSIDE_PLACEMENT
    gathering = Gathering()
    named = np.zeros(rows, dtype=np.bool_)
    for quantity, is_meant in meanings.items():
        named |= is_meant
        for code, place in enumerate(placements):
            chosen = np.flatnonzero(is_meant & (devices.code == code))
            _join_overlaps(time, flag, chosen, table.lines, source.name, problems)
            stream = Stream(placement=place, quantity=quantity)
            filled = ~empty[chosen].ravel()
            value = np.tile([1.0, 0.0], chosen.size)[filled]
            value[flag[chosen].ravel()[filled] == Flag.UNREADABLE] = np.nan
            gathering.add(
                stream,
                np.repeat(table.lines[chosen], 2)[filled],
                time[chosen].ravel()[filled],
                value,
                flag[chosen].ravel()[filled],
            )
    return gathering.part(
        slots=2 * rows,
        empty=int(np.count_nonzero(empty[named])),
        unnamed=2 * unnamed,
        words=f'event rows from "{table.header[layout.start][:40]}" to "{table.header[layout.end][:40]}" ({times.words})',
        problems=problems,
    )


def _meanings(table: Table, layout: Layout, file: str, problems: list[Problem]) -> tuple[dict[Quantity, Booleans], int]:
    """Return which rows switch which state, and how many rows switch none that is known."""
    rows = table.lines.size
    if layout.kind < 0:
        stated = layout.names.get("*")
        quantity = stated.quantity if stated is not None else state_word(table.header[layout.start]) or state_word(file)
        if quantity is None:
            problems.append(
                Problem(
                    code=codes.QUANTITY_MISSING,
                    where=file,
                    found="rows have a start and an end, but nothing says what ran",
                    wanted="what the rows switch",
                    remedy=f'State it, as ["{table.header[layout.start][:40]}", "fan_state"].',
                )
            )
            return {}, rows
        return {quantity: np.ones(rows, dtype=np.bool_)}, 0
    kinds = table.columns[layout.kind]
    known: dict[str, Quantity | None] = {}
    for word in dict.fromkeys(kinds):
        stated = layout.names.get(plain(word)) or layout.names.get("*")
        ignored = plain(word) in layout.names and layout.names[plain(word)] is None
        known[word] = None if ignored else stated.quantity if stated is not None else state_word(word)
    meanings = {
        quantity: np.fromiter((known[word] is quantity for word in kinds), dtype=np.bool_, count=rows)
        for quantity in dict.fromkeys(one for one in known.values() if one is not None)
    }
    strange = [word for word, quantity in known.items() if quantity is None and plain(word) not in layout.names]
    unnamed = sum(1 for word in kinds if known[word] is None)
    if strange:
        shown = ", ".join(f'"{word[:30]}"' for word in strange[:6])
        problems.append(
            Problem(
                code=codes.NAME_UNKNOWN,
                where=file,
                found=f"{unnamed} rows are of kind {shown}, not read as a state",
                wanted="a kind that says what ran: heat, cool, fan, cooking, window, door",
                remedy='State what a kind means, as ["Aux", "burner_state"].',
            )
        )
    return meanings, unnamed


def _unreadable(lines: Integers, file: str) -> list[Problem]:
    if not lines.size:
        return []
    return [
        codes.about_lines(
            codes.TIME_UNREADABLE,
            file,
            lines.tolist(),
            found=f"{lines.size} starts or ends could not be read as an instant",
            wanted="a date with a time",
            remedy="Look at these lines; they were set aside.",
        )
    ]


def _without_end(flag: NDArray[np.uint8], empty: Booleans, lines: Integers, file: str, problems: list[Problem]) -> None:
    """Set a start aside whose end is not known: the state after it is not known either; and an end without start."""
    lost = np.flatnonzero((flag[:, 0] == Flag.KEPT) & (empty[:, 1] | (flag[:, 1] == Flag.UNREADABLE)))
    flag[lost, 0] = Flag.CLOCK_UNSURE
    headless = np.flatnonzero((flag[:, 1] == Flag.KEPT) & (empty[:, 0] | (flag[:, 0] == Flag.UNREADABLE)))
    flag[headless, 1] = Flag.CLOCK_UNSURE
    both = np.sort(np.concatenate([lost, headless]))
    if both.size:
        problems.append(
            codes.about_lines(
                codes.EVENT_WITHOUT_END,
                file,
                lines[both].tolist(),
                found=f"{both.size} row{'s' if both.size > 1 else ''} with a start or an end only",
                wanted="start and end",
                remedy="Set aside: how long it ran is not known.",
            )
        )


def _backwards(time: Floats, flag: NDArray[np.uint8], lines: Integers, file: str, problems: list[Problem]) -> None:
    """Set events aside that do not end after they start."""
    wrong = np.flatnonzero((flag == Flag.KEPT).all(axis=1) & (time[:, 1] <= time[:, 0]))
    flag[wrong] = Flag.IMPOSSIBLE
    if wrong.size:
        minutes = float(time[wrong[0], 1] - time[wrong[0], 0]) / 60.0
        problems.append(
            codes.about_lines(
                codes.EVENT_BACKWARDS,
                file,
                lines[wrong].tolist(),
                found=f"{wrong.size} event{'s' if wrong.size > 1 else ''} that end before or as they start, "
                f"the first after {minutes:.4g} minutes",
                wanted="an end after the start",
                remedy="Set aside; correct the row if the true times are known.",
            )
        )


def _join_overlaps(
    time: Floats, flag: NDArray[np.uint8], chosen: Integers, lines: Integers, file: str, problems: list[Problem]
) -> None:
    """Set aside the inner ends of events that overlap or touch, so that the step series runs through."""
    good = chosen[(flag[chosen] == Flag.KEPT).all(axis=1)]
    order = good[np.argsort(time[good, 0], kind="stable")]
    overlapping = []
    last = -1
    for row in order:
        if last >= 0 and time[row, 0] <= time[last, 1]:
            touches = time[row, 0] == time[last, 1]
            why = Flag.DUPLICATE if touches else Flag.CLOCK_UNSURE
            if not touches:
                overlapping.append(int(lines[row]))
            flag[row, 0] = why
            inner = row if time[row, 1] <= time[last, 1] else last
            flag[inner, 1] = why
            last = last if inner == row else row
        else:
            last = row
    if overlapping:
        problems.append(
            codes.about_lines(
                codes.EVENTS_OVERLAP,
                file,
                overlapping,
                found=f"{len(overlapping)} event{'s begin' if len(overlapping) > 1 else ' begins'} before the one before it ends",
                wanted="one event at a time",
                remedy="Joined to one run; the inner ends were set aside.",
            )
        )
