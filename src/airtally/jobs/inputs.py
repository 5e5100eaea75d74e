"""A job folder as it is read: house, visits, readings, when the fan ran, and the doubts about all of it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.errors import Problem, Severity
from airtally.findings.parts import ClockJump
from airtally.house.checks import check_reach
from airtally.house.dates import Phase, phases_of
from airtally.house.parts import House, LogSource
from airtally.house.survey import read_survey
from airtally.jobs.unread import SURVEY, silent_instruments, what_changes_no_number
from airtally.readings.divide import Window, divide
from airtally.readings.kept import KeptLogs
from airtally.readings.log import Log
from airtally.readings.read import read_log
from airtally.readings.screen import screen_log
from airtally.readings.source import Source, Stamp
from airtally.visits.parts import Visit
from airtally.visits.read import read_visits

Progress = Callable[[str], None]
"""Told what the job is doing, in a few words."""

VISITS = "visits.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class JobInputs:
    """Everything a job folder says: house, visits, readings, when the fan ran, and the doubts about all of it."""

    house: House
    visits: tuple[Visit, ...]
    log: Log
    fan: tuple[Floats, Floats, Integers] | None
    phases: tuple[Phase, ...]
    clock_jumps: tuple[ClockJump, ...]
    problems: tuple[Problem, ...]
    digests: dict[str, str]

    @property
    def is_fatal(self) -> bool:
        """Return whether the survey is such that nothing can be computed."""
        return any(p.severity is Severity.FATAL and p.where.startswith(SURVEY) for p in self.problems)


def check_job(folder: Path) -> tuple[Problem, ...]:
    """Return every problem of a job folder, the gravest first."""
    order = {Severity.FATAL: 0, Severity.WARNING: 1, Severity.NOTE: 2}
    return tuple(sorted(read_inputs(folder, lambda _: None).problems, key=lambda p: order[p.severity]))


def read_inputs(folder: Path, progress: Progress, kept: KeptLogs | None = None) -> JobInputs:
    """Read a job folder; nothing is computed yet. Logs that are ``kept`` are not read again."""
    digests = {name: digest_of(folder / name) for name in (SURVEY, VISITS) if (folder / name).exists()}
    progress("reading the survey")
    house = read_survey(folder / SURVEY)
    visits, visit_problems = read_visits(folder / VISITS, house.time_zone)
    progress("reading the logs")
    log = screen_log(read_logs(house, folder, kept))
    fan: tuple[Floats, Floats, Integers] | None = None
    jumps: tuple[ClockJump, ...] = ()
    if log.time.size:
        from airtally.jobs.clocks import heard_with_the_fan  # late: a job without logs starts in a blink

        log, fan, jumps = heard_with_the_fan(house, log)
    digests |= {file.name: file.sha256 for file in log.files}
    known = log.time[np.isfinite(log.time) & log.kept]
    phases: tuple[Phase, ...] = ()
    reach: tuple[Problem, ...] = ()
    if known.size > 1:
        phases = phases_of(house, float(known.min()), float(known.max()))
        reach = check_reach(house, float(known.min()), float(known.max()))
    return JobInputs(
        house=house,
        visits=visits,
        log=log,
        fan=fan,
        phases=phases,
        clock_jumps=jumps,
        problems=house.problems
        + visit_problems
        + log.problems
        + reach
        + what_changes_no_number(house)
        + silent_instruments(house, log),
        digests=digests,
    )


def read_logs(house: House, folder: Path, kept: KeptLogs | None = None) -> Log:
    """Read the survey's logs, each file once: one that an instrument kept through a move is divided by its placements."""
    places = {p.id: p for p in house.placements}
    shared: dict[LogSource, list[str]] = {}
    for log in house.logs:
        shared.setdefault(replace(log, placement=""), []).append(log.placement)
    sources: list[Source] = []
    windows: dict[str, list[Window]] = {}
    for log, names in shared.items():
        name = names[0]
        known = sorted((places[n] for n in names if n in places), key=lambda p: p.since)
        if len(known) == len(names):
            name = f"{log.file} {len(sources)} "  # no placement can be called so, and a file may be listed twice
            windows[name] = [Window(placement=p.id, since=p.since, until=p.until) for p in known]
        sources.append(
            Source(
                content=folder / log.file,
                name=log.file,
                placement=name,
                time_zone=log.time_zone or house.time_zone,
                stamps=Stamp(log.stamps),
                interval=log.interval,
                columns=log.columns,
                day_first=log.day_first,
                begins=log.begins,
                devices=log.devices,
            )
        )
    return divide(read_log(sources, kept), windows)


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()
