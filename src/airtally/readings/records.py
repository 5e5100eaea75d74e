"""Lines of text to records: the character that cuts them, quoted cells that run over several lines."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Sequence
from itertools import compress

import numpy as np

from airtally.arrays import Booleans

DELIMITERS = {"\t": "tab", ";": "semicolon", "|": "pipe", ",": "comma"}
"""In order of trust: a comma may also be a decimal sign."""
LONGEST_RECORD = 20
"""Lines over which one quoted record may run."""


def find_delimiter(lines: Sequence[str]) -> str:
    """Return the character that cuts most lines into the same number of cells, two or more."""
    sample = [*lines[:150], *lines[len(lines) // 2 : len(lines) // 2 + 100]]
    best, best_share = ",", 0.0
    for delimiter in DELIMITERS:
        counts = Counter(len(cells_of(line, delimiter)) for line in sample)
        many = {width: count for width, count in counts.items() if width > 1}
        share = max(many.values(), default=0) / max(len(sample), 1)
        if share > best_share * 1.15 + 0.02:  # a later, less trusted character must be clearly better
            best, best_share = delimiter, share
    return best


def join_lines(lines: Sequence[str], delimiter: str) -> tuple[list[str], Booleans]:
    """Return the records in lines of text, and on which lines one starts.

    A line is a record; only where a quoted cell plainly runs on, and joining the lines restores the usual
    width, do several lines make one. A stray quote can therefore never swallow the rest of a file.
    """
    records = list(lines)
    is_start = np.ones(len(records), dtype=np.bool_)
    usual = Counter(len(cells_of(line, delimiter)) for line in lines[:200]).most_common(1)
    for index in [index for index, line in enumerate(lines) if '"' in line and line.count('"') % 2]:
        if is_start[index] and (end := _running_on(lines, index, delimiter, usual[0][0])) > index + 1:
            records[index] = "\n".join(lines[index:end])
            is_start[index + 1 : end] = False
    return list(compress(records, is_start.tolist())), is_start


def _running_on(lines: Sequence[str], index: int, delimiter: str, width: int) -> int:
    """Return the line after a record, one of whose quoted cells runs on."""
    text = lines[index]
    if len(cells_of(text, delimiter)) >= width:
        return index + 1
    for last in range(index + 1, min(index + LONGEST_RECORD, len(lines))):
        text += "\n" + lines[last]
        if text.count('"') % 2 == 0:
            return last + 1 if len(cells_of(text, delimiter)) == width else index + 1
    return index + 1


def cells_of(line: str, delimiter: str) -> list[str]:
    """Return one record's cells, quotes taken off."""
    if '"' not in line:
        return line.split(delimiter)
    try:
        rows = list(csv.reader(line.splitlines(keepends=True), delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        return line.split(delimiter)
    return [cell for row in rows for cell in row] if len(rows) != 1 else rows[0]
