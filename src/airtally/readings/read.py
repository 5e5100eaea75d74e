"""Door one: loggers' files as received become one Log; a line of text is read once and turned to SI once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.errors import Problem, Severity
from airtally.quantities import Quantity
from airtally.readings import problems as codes
from airtally.readings.cells import CellState, Column, find_decimal_sign, read_column
from airtally.readings.columns import Layout, ValueColumn, recognise
from airtally.readings.devices import Devices, find_devices, name_placements
from airtally.readings.distinct import distinct
from airtally.readings.events import read_events
from airtally.readings.kept import KeptLogs, join_logs, log_key
from airtally.readings.log import Flag, Log, LogFile, Stream
from airtally.readings.long import read_long
from airtally.readings.measures import COUNTER_UNIT, STATES
from airtally.readings.packed import decode, unpack
from airtally.readings.parts import Gathering, Part
from airtally.readings.records import DELIMITERS
from airtally.readings.row_times import RowTimes, instant_in_words, outside, row_times, shift_to_middle
from airtally.readings.scaling import about_cells, counter_states, find_measure, in_si
from airtally.readings.source import Source
from airtally.readings.stamps import read_stamps
from airtally.readings.tables import BROKEN, Table, read_sheet
from airtally.readings.words import plain, spaced


def read_log(sources: Sequence[Source], kept: KeptLogs | None = None) -> Log:
    """Return all that the loggers said, every reading flagged kept or set aside.

    Parameters
    ----------
    sources : sequence of Source
        Files as received and what is known about them.
    kept : KeptLogs or None
        Where files that were read before are looked for, and those read now are kept.

    Returns
    -------
    log : Log
        In SI, one entry a reading; problems aboard. Nothing in a file makes this raise.
    """
    logs: list[Log] = []
    seen: dict[tuple[str, str], str] = {}
    for source in sources:
        content, doubts = _content(source)
        digest = sha256(content).hexdigest()
        known = log_key(digest, source)
        log = kept.get(known) if kept is not None else None
        if log is None:
            log = _read_file(content, digest, source, was_opened=not doubts)
            if kept is not None and content:
                kept.keep(known, log)
        key = (digest, source.placement)
        if content and key in seen and source.since == float("-inf") and source.until == float("inf"):
            doubts.append(_twice(source.name, seen[key]))
        seen[key] = source.name
        logs.append(replace(log, problems=(*doubts, *log.problems)))
    return join_logs(logs)


def _content(source: Source) -> tuple[bytes, list[Problem]]:
    """Return a file's bytes."""
    if isinstance(source.content, bytes):
        return source.content, []
    try:
        return Path(source.content).read_bytes(), []
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it cannot be opened"
        problem = Problem(
            code=codes.FILE_MISSING,
            where=source.name,
            found=f"the file could not be read: {reason}",
            wanted="the logger's file as received",
            remedy="Put the file where the survey says, or correct its name.",
        )
        return b"", [problem]


def _read_file(content: bytes, digest: str, source: Source, *, was_opened: bool) -> Log:
    """Return a file's readings and the account of its lines."""
    table_bytes, problems = unpack(content, source.name)
    text, encoding, doubts = decode(table_bytes, source.name)
    sheet = read_sheet(text, source.name, [plain(word) for word, _ in source.columns])
    if was_opened:
        problems += [*doubts, *sheet.problems]
    parts = [_read_table(table, sheet.delimiter, source) for table in sheet.tables]
    problems += [problem for part in parts for problem in part.problems]
    problems += _outside(parts, source)
    words = [
        f"{encoding}, {DELIMITERS[sheet.delimiter]}, header in line {sheet.header_line}",
        *(part.words for part in parts),
    ]
    file = LogFile(
        name=source.name,
        sha256=digest,
        rows=sum(table.lines.size for table in sheet.tables),
        cells=sum(part.line.size for part in parts),
        layout="; ".join(words),
        lines=sheet.lines,
        heading_lines=sheet.heading_lines,
        blank_lines=sheet.blank_lines,
        slots=sum(part.slots for part in parts),
        empty=sum(part.empty for part in parts),
        unnamed=sum(part.unnamed for part in parts),
    )
    return _join(file, parts, problems)


def _read_table(table: Table, delimiter: str, source: Source) -> Part:
    """Return the readings of one table."""
    layout = recognise(table, source)
    problems = list(layout.problems)
    decimal, is_certain = _decimal(table, layout, delimiter)
    if not is_certain:
        problems.append(_decimal_unsure(source.name, decimal))
    devices = Devices(ids=(), code=np.zeros(table.lines.size, dtype=np.int64))
    if layout.device >= 0:
        devices = find_devices(table.columns[layout.device])
    if layout.is_events:
        return read_events(table, layout, devices, source, decimal, problems)
    times = _row_times(table, layout, devices, source, decimal)
    problems += times.problems
    placements, doubts = name_placements(devices, times.time, table.lines, source)
    problems += doubts
    if layout.is_long:
        return read_long(table, layout, devices.code, placements, times, source, decimal, problems)
    return _read_wide(table, layout, devices.code, placements, times, source, decimal, problems)


def _decimal(table: Table, layout: Layout, delimiter: str) -> tuple[str, bool]:
    """Return the decimal sign from cells that hold readings or, failing that, from the time column."""
    chosen = [column.index for column in layout.values] or [layout.value if layout.is_long else layout.time]
    every = max(1, table.lines.size // 400)
    samples = [cell for index in chosen if index >= 0 for cell in table.columns[index][::every]]
    return find_decimal_sign(samples, delimiter)


def _row_times(table: Table, layout: Layout, devices: Devices, source: Source, decimal: str) -> RowTimes:
    """Return the instant of every row."""
    if layout.time < 0:
        return RowTimes(
            time=np.full(table.lines.size, np.nan),
            flag=np.full(table.lines.size, Flag.UNREADABLE, dtype=np.uint8),
            words="no column of time",
            problems=(_no_time(source.name, table.header),),
        )
    cells = table.columns[layout.time]
    of_day = table.columns[layout.time_of_day] if layout.time_of_day >= 0 else None
    header = plain(table.header[layout.time]) + " " + table.units[layout.time]
    header = f"{header} {spaced(table.header[layout.time])}" if of_day is None else header
    stamps = read_stamps(cells, of_day, header, decimal, source.day_first)
    series = devices.code
    if layout.is_long:  # rows may be sorted by name first: each name has its own order of time
        names, name = distinct(table.columns[layout.name])
        series = series * len(names) + name
    return row_times(stamps, source, table.lines, series, cells)


def _read_wide(
    table: Table,
    layout: Layout,
    device: Integers,
    placements: Sequence[str],
    times: RowTimes,
    source: Source,
    decimal: str,
    problems: list[Problem],
) -> Part:
    """Return the readings of a table with one column a quantity."""
    gathering = Gathering()
    shift, interval, doubts = _shift(times, device, layout.values, source)
    problems += doubts
    words = [f"time from {_named(table, layout)} ({times.words}; stamps mark the {source.stamps}, {interval:g} s)"]
    empty = 0
    for one in layout.values:
        column = read_column(table.columns[one.index], decimal, is_state=one.quantity in STATES)
        value, said = _values(column, one, table, times.time, source, problems)
        words.append(f'{one.quantity.value} from "{table.header[one.index][:60]}"{said}')
        filled = column.state != CellState.EMPTY
        empty += int(np.count_nonzero(~filled))
        middle = times.time + (0.0 if one.quantity in STATES else shift)
        flag = times.flag.copy()
        flag[(flag == Flag.KEPT) & ~np.isfinite(value)] = Flag.UNREADABLE
        flag[(flag == Flag.KEPT) & outside(middle, source)] = Flag.OUTSIDE_PLACEMENT
        for code, place in enumerate(placements):
            rows = np.flatnonzero(filled & (device == code))
            stream = Stream(placement=_joined(one.placement, place, source.placement), quantity=one.quantity)
            gathering.add(stream, table.lines[rows], middle[rows], value[rows], flag[rows])
        problems += about_cells(column, table.columns[one.index], table.lines, table.header[one.index], source.name)
    problems += _not_found(layout, source, table.header)
    if not layout.values:
        problems.append(_no_quantity(source.name, table.header))
    slots = len(layout.values) * table.lines.size
    return gathering.part(slots=slots, empty=empty, unnamed=0, words=", ".join(words), problems=problems)


def _joined(stated: str, place: str, own: str) -> str:
    """Return a column's placement: the stated one, marked as the file's is where another device writes."""
    return stated + place.removeprefix(own) if stated and place.startswith(own) else stated or place


def _shift(
    times: RowTimes, device: Integers, values: Sequence[ValueColumn], source: Source
) -> tuple[float, float, tuple[Problem, ...]]:
    """Return the shift to the middle of the average, from the series of the device with most rows."""
    if not any(one.quantity not in STATES for one in values) or not times.time.size:
        return 0.0, 0.0, ()
    most = int(np.bincount(device).argmax())
    return shift_to_middle(times.time[(device == most) & (times.flag == Flag.KEPT)], source)


def _values(
    column: Column, one: ValueColumn, table: Table, time: Floats, source: Source, problems: list[Problem]
) -> tuple[Floats, str]:
    """Return a column in SI, with the unit in words."""
    if one.unit == COUNTER_UNIT:
        return counter_states(column.number, time), " as a counter: on while it climbs"
    measure, doubts = find_measure(
        one.quantity, one.unit, table.header[one.index], table.units[one.index], column, source.name, one.is_loose
    )
    problems += doubts
    said = f" in {measure.unit}" if measure.unit not in ("-", "") else ""
    return in_si(column.number, measure), said + (" (assumed)" if measure.is_assumed and said else "")


def _named(table: Table, layout: Layout) -> str:
    parts = [table.header[index][:60] for index in (layout.time, layout.time_of_day) if index >= 0]
    return " and ".join(f'"{part}"' for part in parts) or "nowhere"


def _join(file: LogFile, parts: Sequence[Part], problems: Sequence[Problem]) -> Log:
    """Return the parts of a file as its log."""
    index: dict[Stream, int] = {}
    stream = []
    for part in parts:
        local = np.array([index.setdefault(one, len(index)) for one in part.streams], dtype=np.int64)
        stream.append(local[part.stream] if local.size else part.stream)
    line = np.concatenate([*(part.line for part in parts), np.empty(0, dtype=np.int64)])
    return Log(
        streams=tuple(index),
        files=(file,),
        stream=np.concatenate([*stream, np.empty(0, dtype=np.int64)]),
        file=np.zeros(line.size, dtype=np.int64),
        line=line,
        time=np.concatenate([*(part.time for part in parts), np.empty(0)]),
        value=np.concatenate([*(part.value for part in parts), np.empty(0)]),
        flag=np.concatenate([*(part.flag for part in parts), np.empty(0, dtype=np.uint8)]),
        problems=(*problems, *_out_of_order(file, parts)),
    )


def _out_of_order(file: LogFile, parts: Sequence[Part]) -> list[Problem]:
    """Return a note for each table in which some stream runs both ways."""
    notes = []
    for part in parts:
        for one in range(len(part.streams)):
            rows = np.flatnonzero((part.stream == one) & (part.flag == Flag.KEPT))
            steps = np.diff(part.time[rows])
            back, on = np.flatnonzero(steps < 0.0), np.flatnonzero(steps > 0.0)
            fewer = back if back.size <= on.size else on
            if fewer.size and part.streams[one].quantity not in STATES:
                first = part.time[rows[fewer[0] + 1]]
                notes.append(
                    codes.about_lines(
                        codes.OUT_OF_ORDER,
                        file.name,
                        part.line[rows[fewer + 1]].tolist(),
                        found=f"the rows run out of order of time {fewer.size} times, first at {instant_in_words(first)}",
                        wanted="rows in order of time, oldest or newest first",
                        remedy="They were put in order; check that the logger's clock was not set in between.",
                        severity=Severity.NOTE,
                    )
                )
                break
    return notes


def _not_found(layout: Layout, source: Source, header: Sequence[str]) -> list[Problem]:
    missing = [name for name in layout.names if name != "*"]
    if not missing:
        return []
    shown = ", ".join(f'"{word[:30]}"' for word in header[:12])
    return [
        Problem(
            code=codes.COLUMN_NOT_FOUND,
            where=source.name,
            found=f'no column is called "{name[:60]}"',
            wanted=f"a header word as it stands in the file: {shown}",
            remedy='Correct the word, or name the column by number, as "#3".',
        )
        for name in missing[:20]
    ]


def _no_time(name: str, header: Sequence[str]) -> Problem:
    shown = ", ".join(f'"{word[:30]}"' for word in header[:8] if word != BROKEN)
    return Problem(
        code=codes.TIME_COLUMN_MISSING,
        where=name,
        found=f"none of the columns {shown} holds the time",
        wanted="a column with date and time",
        remedy='State it, as ["Logged at", "time"]; no reading of the file can be placed without.',
    )


def _no_quantity(name: str, header: Sequence[str]) -> Problem:
    shown = ", ".join(f'"{word[:30]}"' for word in header[:8])
    return Problem(
        code=codes.QUANTITY_MISSING,
        where=name,
        found=f"none of the columns {shown} was recognised as a quantity",
        wanted="at least one: " + ", ".join(quantity.value for quantity in list(Quantity)[:12]) + " ...",
        remedy='State it, as ["dust", "pm25 ug/m3"].',
    )


def _decimal_unsure(name: str, decimal: str) -> Problem:
    taken = "the decimal sign" if decimal == "," else "grouping thousands"
    return Problem(
        code=codes.DECIMAL_UNSURE,
        where=name,
        found=f"commas in the numbers may be decimal signs or group thousands; they were taken as {taken}",
        wanted="numbers with a decimal point",
        remedy="Check a number in the report against the file; export with a decimal point if it is wrong.",
    )


def _outside(parts: Sequence[Part], source: Source) -> list[Problem]:
    """Return a note about readings outside the placement's dates."""
    lines = np.concatenate([part.line[part.flag == Flag.OUTSIDE_PLACEMENT] for part in parts] or [np.empty(0)])
    if not lines.size:
        return []
    return [
        codes.about_lines(
            codes.OUTSIDE_PLACEMENT,
            source.name,
            np.unique(lines).tolist(),
            found=f"{lines.size} readings lie outside the dates of {source.placement}",
            wanted="readings from the time the instrument was there",
            remedy="Set aside; correct the placement's dates in the survey if they are wrong.",
            severity=Severity.NOTE,
        )
    ]


def _twice(name: str, other: str) -> Problem:
    return Problem(
        code=codes.SAME_FILE_TWICE,
        where=name,
        found=f"the same bytes as {other}, at the same placement",
        wanted="each file once",
        remedy="Take one of the two out of the survey; its readings count as duplicates until then.",
    )
