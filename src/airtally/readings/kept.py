"""Logs of single files that were read before: what they depend on, where they are kept, how they are joined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Protocol

import numpy as np

from airtally.readings.log import Log, Stream
from airtally.readings.source import Source

READERS = ("readings/*.py", "clock.py", "quantities.py", "units.py")
"""Files of the package that a file's readings depend on."""


class KeptLogs(Protocol):
    """Where logs of single files are kept by their key."""

    def get(self, key: str) -> Log | None:
        """Return a log, None if it is not kept."""

    def keep(self, key: str, log: Log) -> None:
        """Keep a log."""


def log_key(digest: str, source: Source) -> str:
    """Return the key of a file's log: of its bytes' digest, what is stated about it, and the program that reads it."""
    return sha256(repr((_readers(), digest, replace(source, content=b""))).encode()).hexdigest()


def join_logs(logs: Sequence[Log]) -> Log:
    """Return the logs of single files as one, in their order."""
    index: dict[Stream, int] = {}
    streams = [np.array([index.setdefault(s, len(index)) for s in log.streams], dtype=np.int64) for log in logs]
    nothing = np.empty(0, dtype=np.int64)
    return Log(
        streams=tuple(index),
        files=tuple(file for log in logs for file in log.files),
        stream=np.concatenate(
            [nothing, *(local[log.stream] for local, log in zip(streams, logs, strict=True) if log.stream.size)]
        ),
        file=np.concatenate([nothing, *(np.full(log.file.size, number) for number, log in enumerate(logs))]),
        line=np.concatenate([nothing, *(log.line for log in logs)]),
        time=np.concatenate([np.empty(0), *(log.time for log in logs)]),
        value=np.concatenate([np.empty(0), *(log.value for log in logs)]),
        flag=np.concatenate([np.empty(0, dtype=np.uint8), *(log.flag for log in logs)]),
        problems=tuple(problem for log in logs for problem in log.problems),
    )


@cache
def _readers() -> str:
    """Return the digest of the program's files that read: another reader may read otherwise."""
    package = Path(__file__).parents[1]
    files = sorted(path for pattern in READERS for path in package.glob(pattern))
    return sha256(b"".join(sha256(path.read_bytes()).digest() for path in files)).hexdigest()
