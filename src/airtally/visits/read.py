"""Read visits.toml: every visit with its readings in SI, and every doubt about the file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from airtally.errors import Problem, Severity
from airtally.visits.clock import read_time
from airtally.visits.kinds import CHECKS, GATES
from airtally.visits.parts import Answer, HouseState, Reading, Visit, VisitAction, VisitInstrument, VisitKind
from airtally.visits.read_reading import ReadingDesk
from airtally.visits.read_state import UNRECORDED, read_state
from airtally.visits.table import Table, as_table, as_tables

VISIT_KEYS = frozenset(
    {"id", "kind", "time", "by", "note", "state", "gates", "checks", "reading", "instrument", "action"}
)
SCHEMA = 1


def read_visits(path: Path, time_zone: str) -> tuple[tuple[Visit, ...], tuple[Problem, ...]]:
    """Return the visits of a file in order of time, and the problems found.

    Parameters
    ----------
    path : Path
        ``visits.toml``. A file that does not exist is a job without visits: no visit, no problem.
    time_zone : str
        Zone of the home, as in the survey; times without offset are its wall clock.

    Returns
    -------
    visits, problems : tuple of Visit, tuple of Problem
        Values in SI. A reading that was refused stays in its visit as unknown.

    Raises
    ------
    zoneinfo.ZoneInfoNotFoundError
        If the zone is not known; the survey's reader has checked it before.
    """
    if not path.exists():
        return (), ()
    try:
        content = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        return (), (
            Problem(
                code="visits-file-unreadable",
                where=path.name,
                found=" ".join(str(error).split())[:200],
                wanted="a TOML file in UTF-8",
                remedy="Correct the file at the place named; docs/visits.md shows one in full.",
                severity=Severity.FATAL,
            ),
        )
    return parse_visits(content, time_zone, path.name)


def parse_visits(
    content: Mapping[str, Any], time_zone: str, file_name: str = "visits.toml"
) -> tuple[tuple[Visit, ...], tuple[Problem, ...]]:
    """Return the visits of an already parsed file; as :func:`read_visits`."""
    zone = ZoneInfo(time_zone)
    file = Table(content=dict(content), where=file_name)
    problems: list[Problem] = file.unknown_keys({"schema", "visit"})
    if content.get("schema") != SCHEMA:
        problems.append(
            Problem(
                code="visits-schema",
                where=f"{file_name}, schema",
                found=f"schema is {str(content.get('schema', 'missing'))[:40]}",
                wanted=f"schema = {SCHEMA}",
                remedy=f"Write schema = {SCHEMA} on the first line.",
                severity=Severity.NOTE,
            )
        )
    tables, found = as_tables(content.get("visit"), f"{file_name}, visit")
    problems += found
    visits: list[Visit] = []
    ids: set[str] = set()
    for table in tables:
        visit, found = _read_visit(table, zone, ids)
        problems += found
        if visit is not None:
            visits.append(visit)
            ids.add(visit.id)
    return tuple(sorted(visits, key=lambda v: v.time)), tuple(problems)


def _read_visit(table: Table, zone: ZoneInfo, taken: set[str]) -> tuple[Visit | None, list[Problem]]:
    problems = table.unknown_keys(VISIT_KEYS)
    kind_word, found = table.text("kind")
    problems += found
    time, time_problems = read_time(table.content.get("time"), zone, f"{table.where}.time")
    problems += time_problems
    if kind_word not in set(VisitKind):
        problems.append(
            Problem(
                code="visits-kind-unknown",
                where=f"{table.where}.kind",
                found=f'"{kind_word[:40]}"',
                wanted="one of: " + ", ".join(VisitKind),
                remedy="Write the kind of the visit.",
            )
        )
        return None, problems
    if time is None:
        return None, problems
    name, found = _free_id(table, kind_word, taken)
    problems += found
    by, by_problems = table.text("by")
    note, note_problems = table.text("note")
    state, state_problems = _visit_state(table)
    instruments, instrument_problems = _instruments(table, zone)
    gates, gate_problems = _answers(table, "gates", GATES, is_gate=True)
    checks, check_problems = _answers(table, "checks", CHECKS, is_gate=False)
    actions, action_problems = _actions(table, zone, time)
    desk = ReadingDesk(visit=name, time=time, zone=zone, state=state, instruments=instruments)
    readings, reading_problems = _readings(table, desk)
    for some in (by_problems, note_problems, state_problems, instrument_problems, gate_problems, check_problems):
        problems += some
    problems += action_problems + reading_problems
    visit = Visit(
        id=name, kind=VisitKind(kind_word), time=time, by=by, state=state, readings=readings, gates=gates,
        checks=checks, instruments=instruments, actions=actions, note=note,
    )  # fmt: skip
    return visit, problems


def _free_id(table: Table, kind: str, taken: set[str]) -> tuple[str, list[Problem]]:
    """Return the visit's id, made unlike the ids before it."""
    written, problems = table.text("id")
    name = written or kind
    if name not in taken:
        return name, problems
    number = next(n for n in range(2, len(taken) + 3) if f"{name} ({n})" not in taken)
    problems.append(
        Problem(
            code="visits-id-repeated",
            where=f"{table.where}.id",
            found=f'a second visit "{name[:40]}"',
            wanted="an id of its own for each visit",
            remedy=f'It is called "{name[:40]} ({number})" here; give it an id.',
            severity=Severity.NOTE,
        )
    )
    return f"{name} ({number})", problems


def _visit_state(table: Table) -> tuple[HouseState, list[Problem]]:
    inner, problems = as_table(table.content.get("state"), f"{table.where}.state")
    state, found = read_state(inner, UNRECORDED, owns_table=True)
    return state, problems + found


def _readings(table: Table, desk: ReadingDesk) -> tuple[tuple[Reading, ...], list[Problem]]:
    tables, problems = as_tables(table.content.get("reading"), f"{table.where}.reading")
    readings: list[Reading] = []
    for one in tables:
        reading, found = desk.read(one)
        problems += found
        if reading is not None:
            readings.append(reading)
    seen: set[tuple[object, ...]] = set()
    for reading in readings:
        mark = (reading.key, reading.place, reading.reference, reading.state, reading.time)
        if mark in seen:
            problems.append(
                Problem(
                    code="visits-reading-repeated",
                    where=f"{table.where}, {reading.key} at {reading.place}",
                    found="a second reading of the same thing in the same state",
                    wanted="the state or time in which they differ",
                    remedy="Say what differed, or remove one.",
                    severity=Severity.NOTE,
                )
            )
        seen.add(mark)
    return tuple(readings), problems


def _answers(
    table: Table, name: str, known: Mapping[str, str], *, is_gate: bool
) -> tuple[tuple[tuple[str, Answer], ...], list[Problem]]:
    """Return an answer for every known question; what was not asked is unknown."""
    inner, problems = as_table(table.content.get(name), f"{table.where}.{name}")
    problems += inner.unknown_keys(known)
    answers: list[tuple[str, Answer]] = []
    for question in known:
        written = inner.content.get(question)
        word = {True: "yes", False: "no"}.get(written) if isinstance(written, bool) else written
        asked = isinstance(word, str) and word.strip().casefold() in set(Answer)
        answers.append((question, Answer(str(word).strip().casefold()) if asked else Answer.UNKNOWN))
        if not asked and (is_gate or written is not None):
            problems.append(
                Problem(
                    code="visits-gate-unanswered" if is_gate else "visits-value-wrong-type",
                    where=f"{inner.where}.{question}",
                    found="not asked" if written is None else f'"{str(written)[:40]}"',
                    wanted="yes, no or unknown",
                    remedy=f"Answer: {known[question]}?",
                )
            )
    return tuple(answers), problems


def _instruments(table: Table, zone: ZoneInfo) -> tuple[tuple[VisitInstrument, ...], list[Problem]]:
    tables, problems = as_tables(table.content.get("instrument"), f"{table.where}.instrument")
    instruments = []
    for one in tables:
        problems += one.unknown_keys({"id", "kind", "accuracy", "resolution", "calibrated"})
        words = {}
        for name in ("id", "kind", "accuracy", "resolution"):
            words[name], found = one.text(name)
            problems += found
        calibrated = None
        if "calibrated" in one.content:
            calibrated, times = read_time(one.content["calibrated"], zone, f"{one.where}.calibrated")
            problems += times
        instruments.append(VisitInstrument(**words, calibrated=calibrated))
    return tuple(instruments), problems


def _actions(table: Table, zone: ZoneInfo, visit_time: float) -> tuple[tuple[VisitAction, ...], list[Problem]]:
    tables, problems = as_tables(table.content.get("action"), f"{table.where}.action")
    actions = []
    for one in tables:
        problems += one.unknown_keys({"about", "status", "time", "by", "note"})
        words = {}
        for name in ("about", "status", "by", "note"):
            words[name], found = one.text(name)
            problems += found
        time: float | None = visit_time
        if "time" in one.content:
            time, times = read_time(one.content["time"], zone, f"{one.where}.time")
            problems += times
        if words["status"] not in {"referred", "done"} or time is None:
            problems.append(one.wrong("status", "referred or done, with a time"))
            continue
        actions.append(VisitAction(**words, time=time))
    return tuple(actions), problems
