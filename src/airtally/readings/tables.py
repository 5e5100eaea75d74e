"""Text to tables: header line, repeated headers, units, blank lines; every line is accounted for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import compress

import numpy as np

from airtally.arrays import Integers
from airtally.errors import Problem, Severity
from airtally.readings import problems as codes
from airtally.readings.records import DELIMITERS, cells_of, find_delimiter, join_lines
from airtally.readings.words import is_time_word, is_unit_word, looks_like_data, quantity_word

BROKEN = "\x00"
"""Stands in a row for a cell that the line does not hold, or holds in the wrong place; never occurs in text."""
HEADER_SEARCH = 80
"""Lines among which the header is looked for."""
WIDTH_SEARCH = 200
"""Records beneath the header that say how wide the table is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under one header."""

    header: tuple[str, ...]
    units: tuple[str, ...]
    """Words of a unit line beneath the header, else empty."""
    columns: tuple[list[str], ...]
    """Cells by column of the header, one a row."""
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
    is_written = [bool(line.strip()) for line in physical]
    written = list(compress(physical, is_written))
    delimiter = find_delimiter(written)
    records, is_start = join_lines(written, delimiter)
    lines = np.flatnonzero(is_written)[is_start] + 1
    top = [cells_of(record, delimiter) for record in records[: HEADER_SEARCH + WIDTH_SEARCH]]
    header = find_header(top, frozenset(stated))
    problems: list[Problem] = []
    tables, headings = _cut(records, lines, top, header, delimiter, name, frozenset(stated), problems)
    if not tables:
        problems.append(_empty(name, len(physical)))
    elif header is None:
        problems.append(_no_header(name, delimiter))
    return Sheet(
        tables=tables,
        delimiter=delimiter,
        header_line=0 if header is None else int(lines[header]),
        lines=len(physical) - (len(written) - len(records)),
        heading_lines=headings,
        blank_lines=len(physical) - len(written),
        problems=tuple(problems),
    )


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
    records: Sequence[str],
    lines: Integers,
    top: Sequence[list[str]],
    header: int | None,
    delimiter: str,
    name: str,
    stated: frozenset[str],
    problems: list[Problem],
) -> tuple[tuple[Table, ...], int]:
    """Return the tables under the header and under any later header, and the number of heading lines."""
    first = 0 if header is None else header + 1
    names = _names(top, header)
    units: tuple[str, ...] = ()
    if header is not None and first < len(top) and _is_unit_line(top[first]):
        units = tuple(cell.strip() for cell in top[first])
        first += 1
    is_row = np.arange(len(records)) >= first
    same = None if header is None else [cell.strip() for cell in top[header]]
    tables: list[Table] = []
    repeated: list[int] = []
    wrong_width: list[int] = []

    def close(end: int) -> None:
        body = is_row[first:end]
        rows = list(compress(records[first:end], body.tolist()))
        if rows:
            tables.append(_table(names, units, rows, lines[first:end][body], delimiter, wrong_width))

    for index, cells in _worded(records, first, delimiter):
        if not (cells[0].startswith("#") or _is_words(cells, names)):
            continue
        stripped = [cell.strip() for cell in cells]
        if stripped == same:
            repeated.append(int(lines[index]))
            is_row[index] = False
        elif cells[0].startswith("#"):
            is_row[index] = False
        elif header is not None and header_score(cells, stated) >= 2.0 and is_new_header(cells, names):
            is_row[index] = False
            close(index)
            problems.append(_changed(name, int(lines[index])))
            first, names, units, same = index, tuple(stripped), (), stripped
    close(len(records))
    if repeated:
        problems.append(_repeated(name, repeated))
    if wrong_width:
        problems.append(_width(name, wrong_width, len(names)))
    return tuple(tables), int(np.count_nonzero(~is_row))


def _worded(records: Sequence[str], first: int, delimiter: str) -> Iterable[tuple[int, list[str]]]:
    """Return index and cells of the records from ``first`` on whose first cell does not begin with a digit."""
    for index in [index for index, record in enumerate(records) if not record[0].isdigit()]:
        if index >= first and not records[index].lstrip('"')[:1].isdigit():
            cells = cells_of(records[index], delimiter)
            if cells[0] and not cells[0][0].isdigit():
                yield index, cells


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


def _names(top: Sequence[list[str]], header: int | None) -> tuple[str, ...]:
    """Return the columns' names; nameless columns are numbered from 1."""
    below = top[0 if header is None else header + 1 :][:WIDTH_SEARCH]
    widths = Counter(len(cells) for cells in below).most_common(1)
    named = [] if header is None else [cell.strip().lstrip("#").strip() for cell in top[header]]
    width = len(named)
    if widths and (header is None or (widths[0][0] > width and widths[0][1] > len(below) / 2)):
        width = max(width, widths[0][0])
    named += [""] * (width - len(named))
    return tuple(word or f"column {index + 1}" for index, word in enumerate(named))


def _table(
    names: tuple[str, ...],
    units: tuple[str, ...],
    rows: Sequence[str],
    lines: Integers,
    delimiter: str,
    wrong: list[int],
) -> Table:
    """Return records as a table; lines of another width than the header's are added to ``wrong``.

    Runs of plain records are cut all at once, into one list of cells from which each column is every n-th.
    """
    width = len(names)
    cells: list[str] = []
    done = 0
    for index in [i for i, record in enumerate(rows) if record.count(delimiter) != width - 1 or '"' in record]:
        cells += _cut_plain(rows[done:index], delimiter)
        cells += _fitted(cells_of(rows[index], delimiter), width, int(lines[index]), wrong)
        done = index + 1
    cells += _cut_plain(rows[done:], delimiter)
    return Table(
        header=names,
        units=(*units[:width], *[""] * (width - len(units))),
        columns=tuple(cells[column::width] for column in range(width)),
        lines=lines,
    )


def _cut_plain(records: Sequence[str], delimiter: str) -> list[str]:
    """Return all cells of records without quotes, one record after the other."""
    return delimiter.join(records).split(delimiter) if records else []


def _fitted(cells: list[str], width: int, line: int, wrong_width: list[int]) -> list[str]:
    """Return a row as wide as the header; what the line does not hold, or holds out of place, is broken."""
    if len(cells) >= width and not any(cell.strip() for cell in cells[width:]):
        return cells[:width]
    wrong_width.append(line)
    if len(cells) > width:
        return [BROKEN] * width
    return cells + [BROKEN] * (width - len(cells))


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
