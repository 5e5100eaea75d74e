"""Readings as the logs hold them, for findings that need no fit: series by placement, runs of a test, pieces."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.house.parts import AirSide, House
from airtally.quantities import Quantity
from airtally.readings.log import Flag, Log, Stream

LONGEST_TEST = 6.0 * 3600.0
"""A file of a controlled test is shorter; own choice. [s]"""
SAME_RUN = 600.0
"""Files of one stream that follow each other within this are one run; own choice. [s]"""
FEWEST_READINGS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Readings of one test: ``placement`` and ``zone`` by id, ``time`` [s], PM2.5 ``value`` [kg/m3]."""

    placement: str
    zone: str
    time: Floats
    value: Floats

    @property
    def start(self) -> float:
        """Return the first instant. [s]"""
        return float(self.time[0])

    @property
    def stop(self) -> float:
        """Return the last instant. [s]"""
        return float(self.time[-1])


def series(log: Log, stream: Stream, *flags: Flag) -> tuple[Floats, Floats]:
    """Return kept readings and those with one of ``flags``, one an instant: ascending time [s] and value [SI]."""
    rows = _rows(log, stream, *flags)
    return log.time[rows], log.value[rows]


def _rows(log: Log, stream: Stream, *flags: Flag) -> Integers:
    """Return the rows of a stream in order of time; of several at one instant the first."""
    rows = log.rows(stream)
    allowed = np.isin(log.flag[rows], (Flag.KEPT, *flags))
    rows = rows[allowed & np.isfinite(log.time[rows]) & np.isfinite(log.value[rows])]
    _, first = np.unique(log.time[rows], return_index=True)
    return np.asarray(rows[first], dtype=np.int64)


def room_streams(house: House, log: Log, quantity: Quantity) -> tuple[tuple[str, Stream], ...]:
    """Return zone id and stream of each placement in room air that logs a quantity, in the survey's order."""
    return tuple(
        (place.zone, stream)
        for place in house.placements
        if place.air_side is AirSide.ROOM and place.zone is not None
        for stream in log.find(quantity, place.id)
    )


def zone_streams(house: House, log: Log, quantity: Quantity, zone: str) -> tuple[Stream, ...]:
    """Return the streams of a quantity that the survey places in a zone, on whatever air side."""
    return tuple(s for p in house.placements if p.zone == zone for s in log.find(quantity, p.id))


def zone_name(house: House, zone: str) -> str:
    """Return what the survey calls a zone."""
    return next((z.name for z in house.zones if z.id == zone), zone)


def slug(*words: str) -> str:
    """Return words as one stable id in lower case."""
    return "-".join(filter(None, (re.sub(r"[^a-z0-9]+", "-", word.lower()).strip("-") for word in words)))


def short_runs(house: House, log: Log) -> tuple[Run, ...]:
    """Return the runs of every room stream of PM2.5 all of whose files are short, in order of time.

    Readings at the top of the scale are let in: a decay is cut below the ceiling that they show.
    """
    found: list[Run] = []
    for zone, stream in room_streams(house, log, Quantity.PM25):
        runs = _runs_of(log, stream, zone)
        if runs and all(run.stop - run.start <= LONGEST_TEST for run in runs):
            found += [r for r in runs if r.time.size >= FEWEST_READINGS and np.max(r.value) > 0.0]
    return tuple(sorted(found, key=lambda run: (run.start, run.placement)))


def _runs_of(log: Log, stream: Stream, zone: str) -> list[Run]:
    rows = _rows(log, stream, Flag.RAILED)
    if rows.size == 0:
        return []
    apart = (np.diff(log.file[rows]) != 0) & (np.diff(log.time[rows]) > SAME_RUN)
    return [
        Run(placement=stream.placement, zone=zone, time=log.time[part], value=log.value[part])
        for part in np.split(rows, np.flatnonzero(apart) + 1)
    ]
