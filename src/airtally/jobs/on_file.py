"""The record that a folder already holds, if it is of these very files."""

from __future__ import annotations

from pathlib import Path

import airtally
from airtally.errors import InputError
from airtally.jobs.inputs import VISITS, digest_of
from airtally.jobs.unread import SURVEY
from airtally.record.documents import JobRecord, read_record

RECORD = "record.json"


def record_on_file(folder: Path, seed: int) -> JobRecord | None:
    """Return the folder's record if it was made from these very files by this version with this seed."""
    path = folder / RECORD
    if not path.exists():
        return None
    try:
        record = read_record(path)
    except InputError:
        return None
    if record.seed != seed or record.version != airtally.__version__:
        return None
    for name, digest in record.digests.items():
        file = folder / name
        if not file.exists() or digest_of(file) != digest:
            return None
    named = {p.relative_to(folder).as_posix() for p in folder.rglob("*.toml")}
    return record if named & {SURVEY, VISITS} <= set(record.digests) else None
