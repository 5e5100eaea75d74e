"""``survey.toml`` to a House: every section read, every problem gathered, worst first."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from airtally.errors import Problem, Severity
from airtally.house import problems as code
from airtally.house.build_handler import build_cleaner, build_filter, build_handler, build_leak
from airtally.house.build_home import (
    build_appliance,
    build_climate,
    build_envelope,
    build_exhaust,
    build_occupants,
    build_ventilation,
    build_zone,
)
from airtally.house.build_job import (
    build_change,
    build_diary,
    build_instrument,
    build_log,
    build_measure,
    build_placement,
    build_rule,
    build_trial,
)
from airtally.house.build_passages import build_bypass, build_duct, build_flue
from airtally.house.checks import check_house
from airtally.house.entries import Entry
from airtally.house.gathering import Gathering, listed, show
from airtally.house.moments import find_zone
from airtally.house.parts import AirHandler, Appliance, Envelope, House
from airtally.house.sections_equipment import (
    AIR_HANDLER,
    APPLIANCE,
    CLEANER,
    EXHAUST,
    FILTER,
    RETURN_LEAK,
    SPEED,
    VENTILATION,
)
from airtally.house.sections_home import CLIMATE, ENVELOPE, HOME, OCCUPANTS, ZONE
from airtally.house.sections_job import (
    CHANGE,
    DIARY,
    INSTRUMENT,
    LOG,
    MEASURE,
    PLACEMENT,
    PRICES,
    RULE,
    TARGET,
    TRIAL,
)
from airtally.house.sections_passages import BYPASS, DUCT_RUN, FLUE
from airtally.house.tables import SurveyTables

SCHEMA = 1
"""Edition of the survey's layout that this program reads."""
MOST_BYTES = 4_000_000
_ORDER = (Severity.FATAL, Severity.WARNING, Severity.NOTE)


def read_survey(path: Path) -> House:
    """Return the house that a survey describes, with the problems found aboard, worst first.

    Nothing is raised for what the file holds: with a fatal problem aboard the house lacks what could
    not be read, and nothing may be computed from it.

    Parameters
    ----------
    path : Path
        ``survey.toml``, or the job's folder that holds it.

    Returns
    -------
    house : House
        In SI; its log files are looked for beside the survey, not opened.
    """
    file = path / "survey.toml" if path.is_dir() else path
    try:
        with file.open("rb") as stream:
            content = stream.read(MOST_BYTES + 1)
    except (OSError, ValueError) as doubt:
        reason = getattr(doubt, "strerror", None) or "its name cannot be used"
        problem = _unreadable(
            file.name, f"the file cannot be opened: {reason}", "Run airtally new, or correct the path."
        )
        return _no_house((problem,))
    house = survey_from_bytes(content, file.name)
    missing = _missing_logs(house, file)
    return replace(house, problems=worst_first((*house.problems, *missing)))


def survey_problems(path: Path) -> tuple[Problem, ...]:
    """Return every problem of a survey, worst first."""
    return read_survey(path).problems


def worst_first(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Return problems by severity, those of one severity as they stand in the file."""
    return tuple(sorted(problems, key=lambda p: _ORDER.index(p.severity)))


def survey_from_bytes(content: bytes, name: str = "survey.toml") -> House:
    """Return the house that a survey's bytes describe, as :func:`read_survey` does, looking at no other file."""
    if len(content) > MOST_BYTES:
        found = f"more than {MOST_BYTES // 1_000_000} million bytes"
        return _no_house((_unreadable(name, found, "Is this the survey, or a log?"),))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as doubt:
        found = f"byte {doubt.start + 1} is no UTF-8 text"
        return _no_house((_unreadable(name, found, "Save the file as UTF-8 text."),))
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as doubt:  # ValueError: also a number of too many digits
        reason = "tables nested too deep" if isinstance(doubt, RecursionError) else str(doubt)
        problem = Problem(
            code=code.SURVEY_NOT_TOML,
            where=name,
            found=f"this is not TOML: {reason[:200]}",
            wanted="lines such as key = value, with text in quotation marks",
            remedy="Correct the line; what stands after it was not read.",
            severity=Severity.FATAL,
        )
        return _no_house((problem,))
    return _house_from(document, name)


def _unreadable(name: str, found: str, remedy: str) -> Problem:
    """Return the problem of a file that is no text."""
    return Problem(
        code=code.SURVEY_UNREADABLE,
        where=name,
        found=found,
        wanted="a survey in UTF-8 text",
        remedy=remedy,
        severity=Severity.FATAL,
    )


def _no_house(problems: tuple[Problem, ...]) -> House:
    """Return an empty house that only carries problems."""
    return House(
        home_id="",
        name="",
        is_invented=False,
        time_zone="UTC",
        elevation=0.0,
        currency="USD",
        zones=(),
        envelopes=(),
        air_handler=None,
        problems=problems,
    )


def _schema_problem(document: Mapping[str, Any], name: str) -> Problem | None:
    """Return what is wrong with the edition of the layout, if anything."""
    written = document.get("schema")
    number = written if isinstance(written, int) and not isinstance(written, bool) else None
    if number == SCHEMA:
        return None
    found = "no schema is written" if written is None else f"schema = {show(written)} is written"
    remedy = f"Write schema = {SCHEMA} in the first line."
    if number is not None and number > SCHEMA:
        remedy = "The survey was written for a newer program; use that one."
    elif number is not None:
        remedy = "No program wrote such a layout; compare the survey with docs/survey.md and write schema = 1."
    return Problem(
        code=code.SCHEMA_MISSING if written is None else code.SCHEMA_OTHER,
        where=f"{name}, schema",
        found=found,
        wanted=f"schema = {SCHEMA}",
        remedy=remedy,
        severity=Severity.FATAL,
    )


def _ids(nouns: Iterable[Any]) -> tuple[str, ...]:
    """Return the ids of nouns."""
    return tuple(noun.id for noun in nouns)


def _house_from(document: Mapping[str, Any], name: str) -> House:
    """Return the house of a parsed survey."""
    gathering = Gathering(file=name, zone=ZoneInfo("UTC"))
    survey = SurveyTables(document, gathering)
    schema = _schema_problem(document, name)
    if schema is not None and schema.code == code.SCHEMA_OTHER:
        return _no_house((schema,))
    survey.check_headings()
    house = _read_home(survey)
    house = _read_building(house, survey)
    house = _read_monitoring(house, survey)
    house = _read_aims(house, survey)
    problems = [*([schema] if schema else []), *gathering.problems, *check_house(house, name), *_notes(gathering)]
    return replace(house, problems=worst_first(problems))


def _read_home(survey: SurveyTables) -> House:
    """Return a house with its identity, clock and currency; the rest empty."""
    gathering = survey.gathering
    entry = survey.table(HOME, Severity.FATAL)
    if entry is None:
        entry = Entry(HOME, {}, "home", gathering, severity=Severity.FATAL)
    zone_name = entry.text("time_zone")
    zone = find_zone(zone_name) if zone_name else None
    if zone is not None:
        gathering.zone = zone
    elif zone_name:
        entry.problem(
            code.TIME_ZONE_UNKNOWN,
            "time_zone",
            f"{show(zone_name)} is not in the time-zone database",
            'continent and city, such as "America/Denver"',
            "Take the nearest large city of the same clock.",
            Severity.FATAL,
        )
    currency = entry.text("currency", "USD")
    if not (len(currency) == 3 and currency.isascii() and currency.isalpha()):
        entry.problem(
            code.WRONG_FORM,
            "currency",
            f"{show(currency)} is no currency code; USD is taken",
            "three letters (ISO 4217), such as USD or CAD",
            "Write the code.",
        )
        currency = "USD"
    gathering.currency = currency.upper()
    identifier = entry.id()
    elevation = entry.quantity("elevation")
    return replace(
        _no_house(()),
        home_id=identifier,
        name=entry.text("name", identifier),
        is_invented=entry.fact("is_invented"),
        time_zone=zone_name if zone is not None else "UTC",
        elevation=0.0 if elevation is None else elevation.value,
        currency=gathering.currency,
        contractor=entry.text("contractor"),
        complaint=entry.text("complaint"),
    )


def _read_building(house: House, survey: SurveyTables) -> House:
    """Return the house with zones, envelope, equipment and occupants."""
    zones = survey.unique(ZONE, build_zone, Severity.FATAL)
    ids = _ids(zones)
    appliances = survey.unique(APPLIANCE, lambda e: build_appliance(e, ids))
    exhausts = survey.unique(EXHAUST, lambda e: build_exhaust(e, ids))
    occupants, bypass, climate = survey.table(OCCUPANTS), survey.table(BYPASS), survey.table(CLIMATE)
    envelopes = survey.unique(ENVELOPE, lambda e: build_envelope(e, zones))
    return replace(
        house,
        zones=zones,
        envelopes=envelopes or _envelope_by_default(survey, house, zones),
        air_handler=_read_handler(survey, ids, appliances),
        cleaners=survey.unique(CLEANER, lambda e: build_cleaner(e, ids)),
        exhausts=exhausts,
        ventilation=survey.unique(VENTILATION, lambda e: build_ventilation(e, ids)),
        appliances=appliances,
        flues=survey.unique(FLUE, lambda e: build_flue(e, appliances, exhausts)),
        duct_runs=survey.unique(DUCT_RUN, lambda e: build_duct(e, ids)),
        bypass=None if bypass is None else build_bypass(bypass),
        climate=build_climate(climate or Entry(CLIMATE, {}, "climate", survey.gathering)),
        occupants=None if occupants is None else build_occupants(occupants),
    )


def _envelope_by_default(survey: SurveyTables, house: House, zones: tuple[Any, ...]) -> tuple[Envelope, ...]:
    """Return an envelope all of whose numbers are defaults, noted as such."""
    if not zones:
        return house.envelopes
    envelope = build_envelope(Entry(ENVELOPE, {}, "envelope", survey.gathering), zones)
    return () if envelope is None else (envelope,)


def _read_handler(survey: SurveyTables, zones: tuple[str, ...], appliances: tuple[Appliance, ...]) -> AirHandler | None:
    """Return the air handler, or None where the survey has none."""
    entry = survey.table(AIR_HANDLER)
    if entry is None:
        return None
    return build_handler(
        entry,
        survey.entries(SPEED),
        survey.unique(FILTER, build_filter),
        survey.unique(RETURN_LEAK, lambda e: build_leak(e, zones)),
        appliances,
    )


def _read_monitoring(house: House, survey: SurveyTables) -> House:
    """Return the house with instruments, placements, logs, changes, rules, trial and diary."""
    zones = _ids(house.zones)
    instruments = survey.unique(INSTRUMENT, build_instrument)
    placements = survey.unique(PLACEMENT, lambda e: build_placement(e, _ids(instruments), zones))
    places = _ids(placements)
    trial = survey.table(TRIAL)
    return replace(
        house,
        instruments=instruments,
        placements=placements,
        logs=survey.unique(LOG, lambda e: build_log(e, places, house.time_zone)),
        changes=tuple(sorted(survey.unique(CHANGE, build_change), key=lambda change: change.time)),
        rule_settings=survey.unique(RULE, lambda e: build_rule(e, places)),
        trial=() if trial is None else build_trial(trial),
        diary=survey.unique(DIARY, build_diary),
    )


def _read_aims(house: House, survey: SurveyTables) -> House:
    """Return the house with measures, target and prices of energy."""
    target, prices = survey.table(TARGET), survey.table(PRICES)
    return replace(
        house,
        measures=survey.unique(MEASURE, build_measure),
        target=None if target is None else target.quantity("pm25"),
        energy_price=None if prices is None else prices.quantity("electricity"),
        heat_price=None if prices is None else prices.written("heat"),
    )


def _notes(gathering: Gathering) -> list[Problem]:
    """Return the two lists a reader must see: defaults taken, and quantities without any number."""
    notes = []
    if gathering.defaults:
        notes.append(
            Problem(
                code=code.DEFAULTS_USED,
                where=gathering.file,
                found=f"{len(gathering.defaults)} quantities were taken by default: {'; '.join(gathering.defaults)}",
                wanted="measured or surveyed values",
                remedy="Each default, its width and its source stand in docs/survey.md; measuring narrows the answer.",
                severity=Severity.NOTE,
            )
        )
    if gathering.absent:
        notes.append(
            Problem(
                code=code.QUANTITIES_ABSENT,
                where=gathering.file,
                found=f"{len(gathering.absent)} quantities have no value and no default: {listed(gathering.absent)}",
                wanted="a value where a result needs it",
                remedy="What needs one of them says so.",
                severity=Severity.NOTE,
            )
        )
    return notes


def _missing_logs(house: House, survey: Path) -> list[Problem]:
    """Return a problem for each log file that is not beside the survey."""
    found = []
    for name in dict.fromkeys(log.file for log in house.logs):
        try:
            is_there = (survey.parent / name).is_file()
        except (OSError, ValueError):
            is_there = False
        if not is_there:
            found.append(
                Problem(
                    code=code.LOG_FILE_MISSING,
                    where=f"{survey.name}, log.file",
                    found=f"{show(name)} is not in the job's folder",
                    wanted="every log that the survey names",
                    remedy="Copy it there, or take the entry out.",
                )
            )
    return found
