"""Text to tables: delimiter, header line, repeated headers, blank lines; every line is accounted for."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from airtally.arrays import Integers
from airtally.errors import Problem, Severity
from airtally.readings import problems as codes
from airtally.readings.words import is_time_word, is_unit_word, looks_like_data, quantity_word

DELIMITERS = {"\t": "tab", ";": "semicolon", "|": "pipe", ",": "comma"}
"""In order of trust: a comma may also be a decimal sign."""
BROKEN = "\x00"
"""Stands in a row for a cell that the line does not hold, or holds in the wrong place; never occurs in text."""
HEADER_SEARCH = 80
"""Lines among which the header is looked for."""
LONGEST_RECORD = 20
"""Lines over which one quoted record may run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under one header; each row is as wide as the header."""

    header: tuple[str, ...]
    units: tuple[str, ...]
    """Words of a unit line beneath the header, else empty."""
    rows: list[list[str]]
    lines: Integers
    """Number of each row's line in the file, from 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A file's text as tables, with what its other lines were: lines = heading + blank + rows."""

    tables: tuple[Table, ...]
    delimiter: str
    header_line: int
    """0 where no line names the columns."""
    lines: int
    heading_lines: int
    blank_lines: int
    problems: tuple[Problem, ...]


def read_sheet(text: str, name: str, stated: Sequence[str]) -> Sheet:
    """Return the tables in a text.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        What problems call the file.
    stated : sequence of str
        Header words that the survey states, in normal form (:func:`airtally.readings.words.plain`).
    """
    physical = text.replace("\x00", "").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if physical and not physical[-1].strip():
        physical.pop()
    numbers = [i for i, line in enumerate(physical) if line.strip()]
    written = [physical[i] for i in numbers]
    delimiter = find_delimiter(written)
    records, starts = split_records(written, delimiter)
    lines = [numbers[i] + 1 for i in starts]
    joined = len(written) - len(records)
    header = find_header(records, frozenset(stated))
    problems: list[Problem] = []
    tables, headings = _cut(records, lines, header, name, frozenset(stated), problems)
    rows = sum(len(one.rows) for one in tables)
    if not rows:
        problems.append(_empty(name, len(physical)))
    elif header is None:
        problems.append(_no_header(name, delimiter))
    return Sheet(
        tables=tables,
        delimiter=delimiter,
        header_line=0 if header is None else lines[header],
        lines=len(physical) - joined,
        heading_lines=headings,
        blank_lines=len(physical) - len(written),
        problems=tuple(problems),
    )


def find_delimiter(lines: Sequence[str]) -> str:
    """Return the character that cuts most lines into the same number of cells, two or more."""
    sample = [*lines[:150], *lines[len(lines) // 2 : len(lines) // 2 + 100]]
    best, best_share = ",", 0.0
    for delimiter in DELIMITERS:
        counts = Counter(len(_cells(line, delimiter)) for line in sample)
        many = {width: count for width, count in counts.items() if width > 1}
        share = max(many.values(), default=0) / max(len(sample), 1)
        if share > best_share * 1.15 + 0.02:  # a later, less trusted character must be clearly better
            best, best_share = delimiter, share
    return best


def split_records(lines: Sequence[str], delimiter: str) -> tuple[list[list[str]], list[int]]:
    """Return the cells of every record and the index of the line on which it starts.

    A line is a record; only where a quoted cell plainly runs on, and joining the lines restores the usual
    width, do several lines make one. A stray quote can therefore never swallow the rest of a file.
    """
    records: list[list[str]] = []
    starts: list[int] = []
    usual = Counter(len(_cells(line, delimiter)) for line in lines[:200]).most_common(1)
    width = usual[0][0] if usual else 1
    index = 0
    while index < len(lines):
        line = lines[index]
        taken = 1
        if '"' not in line:
            cells = line.split(delimiter)
        else:
            cells = _cells(line, delimiter)
            if line.count('"') % 2:
                cells, taken = _running_on(lines, index, delimiter, width, cells)
        records.append(cells)
        starts.append(index)
        index += taken
    return records, starts


def _running_on(
    lines: Sequence[str], index: int, delimiter: str, width: int, alone: list[str]
) -> tuple[list[str], int]:
    """Return a record whose quoted cell runs over several lines, or the line by itself."""
    if len(alone) >= width:
        return alone, 1
    text = lines[index]
    for ahead in range(1, LONGEST_RECORD):
        if index + ahead >= len(lines):
            break
        text += "\n" + lines[index + ahead]
        if text.count('"') % 2 == 0:
            cells = _cells(text, delimiter)
            return (cells, ahead + 1) if len(cells) == width else (alone, 1)
    return alone, 1


def _cells(line: str, delimiter: str) -> list[str]:
    """Return one record's cells, quotes taken off."""
    if '"' not in line:
        return line.split(delimiter)
    try:
        rows = list(csv.reader(line.splitlines(keepends=True), delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        return line.split(delimiter)
    return [cell for row in rows for cell in row] if len(rows) != 1 else rows[0]


def find_header(records: Sequence[Sequence[str]], stated: frozenset[str]) -> int | None:
    """Return the index of the record that names the columns, or None.

    The record with most known words wins if it has two, or one that the survey states; among equals the
    first. Failing that, the last line of words above the first line of data.
    """
    best, best_score = None, 0.0
    for index, cells in enumerate(records[:HEADER_SEARCH]):
        score = header_score(cells, stated)
        if score > best_score:
            best, best_score = index, score
    if best is not None and best_score >= 2.0:
        return best
    for index, cells in enumerate(records[:HEADER_SEARCH]):
        if len(cells) > 1 and looks_like_data(cells):
            above = index - 1
            named = above >= 0 and len(records[above]) >= len(cells) and not looks_like_data(records[above])
            return above if named else best if best is not None and best < index else None
    return best


def header_score(cells: Sequence[str], stated: frozenset[str]) -> float:
    """Return how much a record looks like a header: known words, none for a line of data."""
    if len(cells) < 2 or len(cells) > 5000 or looks_like_data(cells):
        return 0.0
    score = 0.0
    for cell in cells:
        word = cell.strip().lstrip("#").strip()
        if not word or len(word) > 200:
            continue
        score += (2.0 * (word.casefold() in stated)) or float(is_time_word(word) or quantity_word(word) is not None)
    return score


def _cut(
    records: list[list[str]],
    lines: list[int],
    header: int | None,
    name: str,
    stated: frozenset[str],
    problems: list[Problem],
) -> tuple[tuple[Table, ...], int]:
    """Return the tables under the header and under any later header, and the number of heading lines."""
    first = 0 if header is None else header + 1
    names = _names(records, header)
    headings = first
    units: tuple[str, ...] = ()
    if header is not None and first < len(records) and _is_unit_line(records[first]):
        units = tuple(cell.strip() for cell in records[first])
        first += 1
        headings += 1
    tables: list[Table] = []
    repeated: list[int] = []
    rows: list[list[str]] = []
    at: list[int] = []
    wrong_width: list[int] = []
    same = [cell.strip() for cell in records[header]] if header is not None else None
    for cells, line in zip(records[first:], lines[first:], strict=True):
        lead = cells[0][:1]
        if lead and not lead.isdigit() and (lead == "#" or _is_words(cells, names)):
            stripped = [cell.strip() for cell in cells]
            if stripped == same:
                repeated.append(line)
                headings += 1
                continue
            if lead == "#":
                headings += 1
                continue
            if header is not None and header_score(cells, stated) >= 2.0 and is_new_header(cells, names):
                headings += 1
                tables.append(_table(names, units, rows, at))
                problems.append(_changed(name, line))
                names, units, rows, at, same = tuple(stripped), (), [], [], stripped
                continue
        if len(cells) != len(names):
            cells = _fitted(cells, len(names), line, wrong_width)
        rows.append(cells)
        at.append(line)
    tables.append(_table(names, units, rows, at))
    if repeated:
        problems.append(_repeated(name, repeated))
    if wrong_width:
        problems.append(_width(name, wrong_width, len(names)))
    return tuple(one for one in tables if one.rows), headings


def _is_words(cells: Sequence[str], names: Sequence[str]) -> bool:
    """Return whether a record may be a header: no digit leads the cell in the column of time."""
    for cell, word in zip(cells, names, strict=False):
        if is_time_word(word):
            return not cell.strip()[:1].isdigit()
    return True


def is_new_header(cells: Sequence[str], names: Sequence[str]) -> bool:
    """Return whether a record names a column of time where the present header names one, or anywhere."""
    return any(is_time_word(cell) for cell in cells) or not any(is_time_word(word) for word in names)


def _is_unit_line(cells: Sequence[str]) -> bool:
    filled = [cell.strip() for cell in cells if cell.strip()]
    return bool(filled) and all(is_unit_word(cell) or is_time_word(cell) for cell in filled) and len(cells) > 1


def _names(records: list[list[str]], header: int | None) -> tuple[str, ...]:
    """Return the columns' names; nameless columns are numbered from 1."""
    below = records[0 if header is None else header + 1 :][:200]
    widths = Counter(len(cells) for cells in below).most_common(1)
    named = [] if header is None else [cell.strip().lstrip("#").strip() for cell in records[header]]
    width = len(named)
    if widths and (header is None or (widths[0][0] > width and widths[0][1] > len(below) / 2)):
        width = max(width, widths[0][0])
    named += [""] * (width - len(named))
    return tuple(word or f"column {index + 1}" for index, word in enumerate(named))


def _fitted(cells: list[str], width: int, line: int, wrong_width: list[int]) -> list[str]:
    """Return a row as wide as the header; what the line does not hold, or holds out of place, is broken."""
    if len(cells) > width and not any(cell.strip() for cell in cells[width:]):
        return cells[:width]
    wrong_width.append(line)
    if len(cells) > width:
        return [BROKEN] * width
    return cells + [BROKEN] * (width - len(cells))


def _table(names: tuple[str, ...], units: tuple[str, ...], rows: list[list[str]], at: list[int]) -> Table:
    padded = tuple(units[: len(names)]) + ("",) * (len(names) - len(units)) if units else ("",) * len(names)
    return Table(header=names, units=padded, rows=rows, lines=np.asarray(at, dtype=np.int64))


def _empty(name: str, lines: int) -> Problem:
    return Problem(
        code=codes.FILE_EMPTY,
        where=name,
        found=f"no table row in {lines} lines",
        wanted="a table with a header line and one row a reading",
        remedy="Export the log again, as text.",
    )


def _no_header(name: str, delimiter: str) -> Problem:
    return Problem(
        code=codes.HEADER_MISSING,
        where=name,
        found=f"no line of words above the rows (delimiter taken: {DELIMITERS[delimiter]})",
        wanted="a header line, or columns stated by number",
        remedy='State them, e.g. columns = [["#1", "time"], ["#2", "pm25 ug/m3"]].',
    )


def _repeated(name: str, lines: list[int]) -> Problem:
    return codes.about_lines(
        codes.HEADER_REPEATED,
        name,
        lines,
        found=f"the header occurs again {len(lines)} time{'s' if len(lines) > 1 else ''} inside the table",
        wanted="one header",
        remedy="Nothing to do: these lines hold no reading and were counted as headings.",
        severity=Severity.NOTE,
    )


def _changed(name: str, line: int) -> Problem:
    return codes.about_lines(
        codes.COLUMNS_CHANGED,
        name,
        [line],
        found="another header line; the rows below it were read by it",
        wanted="the same columns throughout",
        remedy="Check that the logger was not set up anew or swapped there; if so, give it a new placement.",
    )


def _width(name: str, lines: list[int], width: int) -> Problem:
    return codes.about_lines(
        codes.ROW_WIDTH,
        name,
        lines,
        found=f"{len(lines)} row{'s' if len(lines) > 1 else ''} with more or fewer cells than the header",
        wanted=f"{width} cells a row",
        remedy="Look at these lines in the file; a decimal comma in a table cut by commas looks like this too.",
    )
