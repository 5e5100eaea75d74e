"""Readings of a file as they were read once: columns in deflated blocks, so that no text is read a second time."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import select

from airtally.errors import Problem, Severity
from airtally.quantities import Quantity
from airtally.readings.log import Log, LogFile, Stream
from airtally.store.engine import Store
from airtally.store.models import ReadingBlock, ReadLog

ROWS = 10_000
"""Of a block."""
EFFORT = 3
"""Of the deflation: for 2.6 million readings 0.8 s of work and 13.3 MB, at level 6 1.7 s and 12.4 MB."""
COLUMNS = {"stream": "<i8", "file": "<i8", "line": "<i8", "time": "<f8", "value": "<f8", "flag": "|u1"}
"""Arrays of a log and how their bytes lie, on every machine."""


class KeptReadings:
    """The logs of single files that a store keeps; see :class:`airtally.readings.kept.KeptLogs`."""

    def __init__(self, store: Store) -> None:
        self.store = store

    def get(self, key: str) -> Log | None:
        """Return a log, bit for bit as it was kept; None if it is not."""
        with self.store.read() as session:
            head = session.get(ReadLog, key)
            if head is None:
                return None
            blocks: dict[str, list[bytes]] = {name: [] for name in COLUMNS}
            for block in session.scalars(
                select(ReadingBlock).where(ReadingBlock.key == key).order_by(ReadingBlock.column, ReadingBlock.number)
            ):
                blocks[block.column].append(block.packed)
        columns: dict[str, Any] = {name: _unpacked(blocks[name], form) for name, form in COLUMNS.items()}
        if any(column.size != head.rows for column in columns.values()):
            return None  # not whole: it is read again
        return Log(**columns, **_nouns(head.nouns))

    def keep(self, key: str, log: Log) -> None:
        """Keep a log; one that is kept already stays."""
        packed = [
            ReadingBlock(key=key, column=name, number=number, packed=block)
            for name, form in COLUMNS.items()
            for number, block in enumerate(_packed(getattr(log, name), form))
        ]
        nouns = {
            "streams": [asdict(stream) for stream in log.streams],
            "files": [asdict(file) for file in log.files],
            "problems": [asdict(problem) for problem in log.problems],
        }
        with self.store.write() as session:
            if session.get(ReadLog, key) is None:
                session.add(ReadLog(key=key, rows=int(log.time.size), nouns=nouns))
                session.flush()
                session.add_all(packed)


def _packed(column: NDArray[Any], form: str) -> list[bytes]:
    """Return a column's blocks: first bytes of all rows, second bytes and so on, for alike bytes deflate well."""
    plain = np.ascontiguousarray(column, dtype=form)
    return [
        zlib.compress(_turned(plain[first : first + ROWS].view(np.uint8), plain.itemsize), EFFORT)
        for first in range(0, plain.size, ROWS)
    ]


def _turned(flat: NDArray[np.uint8], width: int) -> bytes:
    return flat.reshape(-1, width).T.tobytes()


def _unpacked(blocks: Sequence[bytes], form: str) -> NDArray[Any]:
    """Return a column from its blocks."""
    width = np.dtype(form).itemsize
    parts = [np.frombuffer(zlib.decompress(block), dtype=np.uint8).reshape(width, -1).T.tobytes() for block in blocks]
    return np.frombuffer(b"".join(parts), dtype=form).astype(np.dtype(form).newbyteorder("="))


def _nouns(kept: dict[str, Any]) -> dict[str, Any]:
    """Return streams, files and problems as a log has them."""
    return {
        "streams": tuple(
            Stream(placement=stream["placement"], quantity=Quantity(stream["quantity"])) for stream in kept["streams"]
        ),
        "files": tuple(LogFile(**file) for file in kept["files"]),
        "problems": tuple(
            Problem(**{**problem, "severity": Severity(problem["severity"])}) for problem in kept["problems"]
        ),
    }
