"""Cells repeat: each distinct one is looked at once, and the answers are dealt out to the rows by number."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Sequence
from itertools import count
from typing import TypeVar

import numpy as np

from airtally.arrays import Integers

_Cell = TypeVar("_Cell", bound=Hashable)


def distinct(cells: Sequence[_Cell]) -> tuple[list[_Cell], Integers]:
    """Return the distinct cells in order of appearance, and the number of each cell among them. Shape (cells,)."""
    number = defaultdict[_Cell, int](count().__next__)  # a cell not met before gets the next number
    which = np.fromiter(map(number.__getitem__, cells), dtype=np.int64, count=len(cells))
    return list(number), which
