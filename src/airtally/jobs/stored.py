"""A job of the store read as its folder would be; files that were read before are not read again."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from uuid import UUID

from airtally.errors import Problem
from airtally.jobs.inputs import JobInputs, Progress, read_inputs
from airtally.readings.log import LogFile
from airtally.readings.packed import decode, unpack
from airtally.readings.read import read_log
from airtally.readings.seen import ColumnSeen, columns_seen
from airtally.readings.source import Source, Stamp
from airtally.store.engine import Store
from airtally.store.folder import export_folder
from airtally.store.logs import log_bytes
from airtally.store.readings import KeptReadings

FIRST_LINES = 12
"""Lines of a file that are shown as they came."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recognised:
    """One stream that was recognised in a file: what it is, readings, first and last instant [s, POSIX UTC]."""

    quantity: str
    place: str
    """Device or place that the file itself names; empty for a file of one place."""
    count: int
    first: float
    last: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FileLook:
    """What a reader makes of a file: how it was read and why, its columns, streams, problems and first lines."""

    file: LogFile | None
    columns: tuple[ColumnSeen, ...]
    streams: tuple[Recognised, ...]
    problems: tuple[Problem, ...]
    lines: tuple[str, ...]


def stored_inputs(store: Store, job: UUID, progress: Progress) -> JobInputs:
    """Read a job of the store."""
    with tempfile.TemporaryDirectory(prefix="airtally-") as scratch:
        folder = Path(scratch) / "job"
        export_folder(store, job, folder)
        return read_inputs(folder, progress, KeptReadings(store))


def look_at_file(
    store: Store, digest: str, name: str, *, time_zone: str, stated: Mapping[str, object] | None = None
) -> FileLook:
    """Read a file of the store by itself.

    Parameters
    ----------
    time_zone : str
        Of stamps without an offset of their own.
    stated : mapping, optional
        What is stated about the file: ``columns`` and ``devices`` (mappings), ``day_first``, ``stamps``, as a survey's
        ``[[log]]`` has it.
    """
    content = log_bytes(store, digest)
    said = dict(stated or {})
    day_first = said.get("day_first")
    source = Source(
        content=content,
        name=name,
        placement="",
        time_zone=time_zone,
        stamps=Stamp(str(said.get("stamps", Stamp.END.value))),
        columns=_pairs(said.get("columns")),
        devices=_pairs(said.get("devices")),
        day_first=day_first if isinstance(day_first, bool) else None,
    )
    log = read_log([source])
    streams = []
    for stream in log.streams:
        time = log.time[log.rows(stream)]
        known = time[time == time]
        streams.append(
            Recognised(
                quantity=stream.quantity.value,
                place=stream.placement,
                count=int(time.size),
                first=float(known.min()) if known.size else float("nan"),
                last=float(known.max()) if known.size else float("nan"),
            )
        )
    text, _, _ = decode(unpack(content[: 1 << 20], name)[0], name)
    return FileLook(
        file=log.files[0] if log.files else None,
        columns=columns_seen(text, source),
        streams=tuple(streams),
        problems=log.problems,
        lines=tuple(text.splitlines()[:FIRST_LINES]),
    )


def _pairs(written: object) -> tuple[tuple[str, str], ...]:
    return tuple((str(key), str(value)) for key, value in written.items()) if isinstance(written, Mapping) else ()
