"""The record of a job: a plain document of numbers with units, intervals and sources, in and out of a file."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import Enum
from pathlib import Path
from typing import Any

import numpy as np

from airtally.errors import InputError
from airtally.estimates import Basis, Estimate

SCHEMA_VERSION = 1
"""Version of the record that this program writes."""

Document = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecord:
    """The whole result of one job, as written to ``record.json``.

    Attributes
    ----------
    document : dict
        The plain document: only dict, list, str, int, float, bool and None, with the keys of ``schema.json``.
        Readers must not change it.
    """

    document: Document

    @property
    def version(self) -> str:
        """Version of airtally that made the record."""
        return str(self.document["provenance"]["version"])

    @property
    def seed(self) -> int:
        """Seed of the random generator that made the record."""
        return int(self.document["provenance"]["seed"])

    @property
    def digests(self) -> dict[str, str]:
        """SHA-256 of each input, by name."""
        return dict(self.document["provenance"]["digests"])

    @property
    def digest(self) -> str:
        """SHA-256 of the document in its canonical form: sorted keys, no spaces."""
        text = json.dumps(self.document, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
        return hashlib.sha256(text.encode()).hexdigest()


def quantity(
    value: Estimate | float | None,
    *,
    low: float | None = None,
    high: float | None = None,
    unit: str = "",
    basis: Basis | str = Basis.COMPUTED,
    source: str = "",
    level: float = 0.90,
) -> Document:
    """Return one number of the record: ``{value, low, high, level, unit, basis, source}``.

    Parameters
    ----------
    value : Estimate, float or None
        An Estimate brings its own interval, unit, basis and source; the other arguments must then be left alone.
        None or NaN is written as null: the number could not be had.
    low, high : float or None
        Ends of the interval in ``unit``; both None for a count or a setting.
    unit : str
        Field unit in plain letters, such as ``ug/m3``.
    basis : Basis or str
        Measured, surveyed, fitted, default or computed.
    source : str
        Instrument, survey key, method or citation.
    level : float
        Probability the interval stands for. [-]

    Raises
    ------
    InputError
        If the unit is missing, if one end is given without the other, or if the interval does not hold its value.
    """
    if isinstance(value, Estimate):
        if low is not None or high is not None or unit or source:
            raise InputError("an Estimate brings its own interval, unit and source; give no others")
        return quantity(
            value.value,
            low=value.low,
            high=value.high,
            unit=value.unit,
            basis=value.basis,
            source=value.source,
            level=value.level,
        )
    if not unit:
        raise InputError("a number of the record needs a unit; write '1' for a plain ratio")
    if (low is None) != (high is None):
        raise InputError(f"an interval needs both ends; got low {low} and high {high}")
    middle, bottom, top = _finite(value), _finite(low), _finite(high)
    if middle is not None and bottom is not None and top is not None and not bottom <= middle <= top:
        raise InputError(f"an interval must hold its value; got {bottom:g}, {middle:g}, {top:g} {unit}")
    return {
        "value": middle,
        "low": bottom,
        "high": top,
        "level": float(level),
        "unit": unit,
        "basis": Basis(basis).value,
        "source": source,
    }


def moment(seconds: float) -> str:
    """Return POSIX seconds [s UTC] as the record writes a moment: ``2025-09-30T14:00:00Z``."""
    return datetime.fromtimestamp(round(float(seconds)), tz=UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def seconds(text: str) -> float:
    """Return a moment of the record as POSIX seconds [s UTC]; raises InputError for anything else."""
    try:
        when = datetime.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"not a moment: {text!r}") from error
    if when.tzinfo is None:
        raise InputError(f"a moment of the record needs its offset; got {text!r}")
    return when.timestamp()


def plain(value: Any) -> Any:
    """Return ``value`` with arrays, tuples, enums and numpy scalars as plain lists, strings and numbers.

    NaN and infinities become None, an Estimate becomes a quantity. Raises InputError for anything else.
    """
    if isinstance(value, Estimate):
        return quantity(value)
    if isinstance(value, Enum):
        return plain(value.value)
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, float | np.generic):
        item = value.item() if isinstance(value, np.generic) else value
        return _finite(item) if isinstance(item, float) else item
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, Mapping):
        return {str(key): plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        entries = sorted(value) if isinstance(value, set | frozenset) else value
        return [plain(entry) for entry in entries]
    raise InputError(f"a record holds plain values only; got {type(value).__name__}")


def record_bytes(record: JobRecord) -> bytes:
    """Return the bytes of the record's file: UTF-8 JSON."""
    return (json.dumps(record.document, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def write_record(record: JobRecord, path: Path) -> None:
    """Write the record as UTF-8 JSON; the file is whole or is not there."""
    draft = path.with_name(path.name + ".draft")
    draft.write_bytes(record_bytes(record))
    draft.replace(path)


def read_record(path: Path) -> JobRecord:
    """Read a record; raises InputError if the file is no record or was written by a later program."""
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise InputError(f"{path.name} is not a record: {error}") from error
    if not isinstance(document, dict) or "schema" not in document:
        raise InputError(f"{path.name} is not a record: it has no schema number")
    if document["schema"] != SCHEMA_VERSION:
        raise InputError(
            f"{path.name} has schema {document['schema']}; this program reads {SCHEMA_VERSION}: install a newer one"
        )
    return JobRecord(document=document)


def _finite(value: float | None) -> float | None:
    """Return a finite float, or None for None, NaN and infinities (JSON has no word for them)."""
    if value is None or not math.isfinite(value):
        return None
    return float(value)
