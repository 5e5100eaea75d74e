"""What one table of one file gives, before the files are joined to a log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Floats, Integers
from airtally.errors import Problem
from airtally.readings.log import Stream


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Readings of one table; arrays have shape (readings,)."""

    streams: tuple[Stream, ...]
    stream: Integers
    """Index into ``streams``."""
    line: Integers
    time: Floats
    value: Floats
    flag: NDArray[np.uint8]
    slots: int
    empty: int
    unnamed: int
    words: str
    problems: tuple[Problem, ...] = ()


class Gathering:
    """Streams in order of first appearance, and the readings gathered for them."""

    def __init__(self) -> None:
        self._index: dict[Stream, int] = {}
        self._blocks: list[tuple[Integers, Integers, Floats, Floats, NDArray[np.uint8]]] = []

    def add(self, stream: Stream, line: Integers, time: Floats, value: Floats, flag: NDArray[np.uint8]) -> None:
        """Take readings of one stream."""
        if not line.size:
            return
        index = self._index.setdefault(stream, len(self._index))
        self._blocks.append((np.full(line.size, index, dtype=np.int64), line, time, value, flag))

    def part(self, *, slots: int, empty: int, unnamed: int, words: str, problems: Sequence[Problem]) -> Part:
        """Return all that was taken, by line."""
        if self._blocks:
            stream, line, time, value, flag = (np.concatenate(arrays) for arrays in zip(*self._blocks, strict=True))
        else:
            stream, line = np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
            time, value, flag = np.empty(0), np.empty(0), np.empty(0, dtype=np.uint8)
        order = np.argsort(line, kind="stable")
        return Part(
            streams=tuple(self._index),
            stream=stream[order],
            line=line[order],
            time=time[order],
            value=value[order],
            flag=flag[order],
            slots=slots,
            empty=empty,
            unnamed=unnamed,
            words=words,
            problems=tuple(problems),
        )
