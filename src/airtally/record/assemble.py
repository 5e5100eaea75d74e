"""Put the record together: the one document that every verb, page and paper is a view of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

import airtally
from airtally.errors import Problem, Severity
from airtally.house.dates import Phase
from airtally.house.parts import AirSide, House
from airtally.readings.log import Flag, Log
from airtally.record.documents import SCHEMA_VERSION, Document, JobRecord, moment, plain
from airtally.record.of_house import house_document

METHOD = (
    "One closed account for the air of the occupied rooms: what is stored is what came in less what went out.",
    "Loss rates, sources and the room series are fitted together to the readings as they stand; in-duct readings count "
    "only while the fan runs and the duct is purged.",
    "What is emitted is sparse and never negative, so a reading above the prediction is mostly read as emission and one "
    "below it as loss.",
    "Every number is computed on the same draws of the fit; intervals join the curvature of the fit, the scatter from day "
    "to day and a stated model error.",
    "PM2.5 readings are split over size classes by a prior, not by measurement.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """What the record is a function of: seed, digests of the inputs by name, and the number of draws."""

    seed: int
    digests: Mapping[str, str]
    draws: int


def assemble(
    house: House,
    log: Log,
    phases: tuple[Phase, ...],
    problems: tuple[Problem, ...],
    provenance: Provenance,
    sections: Mapping[str, object],
) -> JobRecord:
    """Return the record from its sections.

    Parameters
    ----------
    house, log, phases
        The job's nouns.
    problems : tuple of Problem
        Everything found in the user's data, from all rooms.
    provenance : Provenance
    sections : mapping
        The record's other keys, already in the record's form; None is left out.
    """
    order = {Severity.FATAL: 0, Severity.WARNING: 1, Severity.NOTE: 2}
    document: Document = {
        "schema": SCHEMA_VERSION,
        "job": _job(house, log, phases),
        "house": house_document(house),
        **{key: value for key, value in sections.items() if value is not None},
        "problems": [_problem(p) for p in sorted(dict.fromkeys(problems), key=lambda p: order[p.severity])],
        "provenance": {
            "version": airtally.__version__,
            "seed": provenance.seed,
            "draws": provenance.draws,
            "digests": dict(provenance.digests),
            "counts": _counts(log.flag),
            "method": list(METHOD),
        },
    }
    return JobRecord(document=plain(document))


def _problem(problem: Problem) -> Document:
    return {
        "code": problem.code,
        "where": problem.where,
        "found": problem.found,
        "wanted": problem.wanted,
        "remedy": problem.remedy,
        "severity": problem.severity.value,
    }


def _counts(flags: NDArray[np.uint8]) -> Document:
    by_reason = {flag.name.lower(): int(np.count_nonzero(flags == flag)) for flag in Flag if flag is not Flag.KEPT}
    by_reason = {name: count for name, count in by_reason.items() if count}
    kept = int(np.count_nonzero(flags == Flag.KEPT))
    return {"read": int(flags.size), "kept": kept, "set_aside": int(flags.size) - kept, "by_reason": by_reason}


AIR_SIDES = {
    AirSide.ROOM: "room",
    AirSide.OUTDOOR: "outdoor",
    AirSide.RETURN_BEFORE_FILTER: "return",
    AirSide.AFTER_FILTER: "return",
    AirSide.SUPPLY: "supply",
    AirSide.EQUIPMENT: "other",
}


def _job(house: House, log: Log, phases: tuple[Phase, ...]) -> Document:
    places = {p.id: p for p in house.placements}
    streams = []
    for index, stream in enumerate(log.streams):
        rows = log.stream == index
        counts = _counts(log.flag[rows])
        times = log.time[rows & np.isfinite(log.time)]
        place = places.get(stream.placement)
        entry: Document = {
            "id": stream.name,
            "name": stream.placement,
            "quantity": stream.quantity.value,
            **counts,
        }
        if place is not None:
            entry["air_side"] = AIR_SIDES[place.air_side]
            entry["place"] = place.zone or place.air_side.value
        if times.size:
            entry["start"], entry["end"] = moment(float(times.min())), moment(float(times.max()))
        streams.append(entry)
    if phases:
        start, end = phases[0].start, phases[-1].end
    elif log.time.size and np.isfinite(log.time).any():
        start, end = float(np.nanmin(log.time)), float(np.nanmax(log.time))
    else:
        start = end = 0.0
    changes = []
    for change in sorted(house.changes, key=lambda c: c.time):
        entry = {"id": change.id, "name": change.name, "start": moment(change.time), "kind": "work"}
        if change.ends is not None:
            entry["end"] = moment(change.ends)
        changes.append(entry)
    return {
        "id": house.home_id,
        "home": house.name,
        "is_invented": house.is_invented,
        "contractor": house.contractor,
        "period": {"start": moment(start), "end": moment(end)},
        "time_zone": house.time_zone,
        "currency": house.currency,
        "complaint": house.complaint,
        "changes": changes,
        "streams": streams,
    }
