"""A job's readings as screened once, by the worker, and kept in a file beside the database: a page draws them at once.

The file can be made again from the job at any time; it belongs to no backup.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from hashlib import sha256
from pathlib import Path
from uuid import UUID

import numpy as np

import airtally
from airtally.arrays import Floats, Integers
from airtally.jobs.inputs import Progress
from airtally.jobs.stored import stored_inputs
from airtally.quantities import Quantity
from airtally.readings.log import Log, LogFile, Stream
from airtally.store.edits import text_of
from airtally.store.engine import Store
from airtally.store.logs import logs_of

COLUMNS = ("stream", "file", "line", "time", "value", "flag")
FAN = ("starts", "ends", "level")


@dataclass(frozen=True, slots=True, kw_only=True)
class Screened:
    """The readings of a job with their flags, and when the fan ran, None where nothing says it."""

    log: Log
    fan: tuple[Floats, Floats, Integers] | None


def screened_key(store: Store, job: UUID) -> str:
    """Return what the screened readings of a job depend on: the survey, the files that count, this version."""
    files = sorted((log.name, log.digest) for log in logs_of(store, job))
    return sha256(repr((airtally.__version__, text_of(store, job, "survey")[0], files)).encode()).hexdigest()


def screen_stored(store: Store, job: UUID, progress: Progress) -> None:
    """Read and screen a job of the store, and keep the readings; those kept before are replaced."""
    key = screened_key(store, job)
    inputs = stored_inputs(store, job, progress)
    progress("keeping the readings")
    log = inputs.log
    nouns = {
        "key": key,
        "streams": [[stream.placement, stream.quantity.value] for stream in log.streams],
        "files": [asdict(file) for file in log.files],
    }
    arrays = {f"log_{name}": getattr(log, name) for name in COLUMNS}
    if inputs.fan is not None:
        arrays |= {f"fan_{name}": part for name, part in zip(FAN, inputs.fan, strict=True)}
    path = _file(store, job)
    path.parent.mkdir(exist_ok=True)
    draft = path.with_suffix(".draft")
    with draft.open("wb") as file:
        np.savez(file, nouns=np.array(json.dumps(nouns)), **arrays)
    draft.replace(path)


def screened_of(store: Store, job: UUID, key: str) -> Screened | None:
    """Return the readings of a job as they were screened; None where none are kept under that key."""
    path = _file(store, job)
    if not path.exists():
        return None
    with np.load(path, allow_pickle=False) as kept:
        nouns = json.loads(str(kept["nouns"]))
        if nouns["key"] != key:
            return None
        streams = tuple(Stream(placement=place, quantity=Quantity(quantity)) for place, quantity in nouns["streams"])
        files = tuple(LogFile(**file) for file in nouns["files"])
        log = Log(streams=streams, files=files, **{name: kept[f"log_{name}"] for name in COLUMNS})
        fan = (kept["fan_starts"], kept["fan_ends"], kept["fan_level"]) if "fan_starts" in kept else None
        return Screened(log=log, fan=fan)


def _file(store: Store, job: UUID) -> Path:
    return store.path.with_name(f"{store.path.name}.readings") / f"{job}.npz"
