"""The spine: each of the user's jobs as one straight function."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import airtally
from airtally.arrays import Floats, Integers
from airtally.errors import InputError, Problem, Severity
from airtally.fanrules.search import answer as fan_rule_answer
from airtally.findings.look import look
from airtally.house.checks import check_reach
from airtally.house.dates import Phase, phases_of
from airtally.house.parts import AirSide, House
from airtally.house.survey import read_survey
from airtally.inference.drivers import occupied_volume
from airtally.inference.fit import Fit, fit_house
from airtally.network.from_survey import worst_cases
from airtally.network.statics import static_budget
from airtally.proof.effects import prove
from airtally.proposals.forecast import forecasts
from airtally.quantities import Quantity
from airtally.readings.fan import FanStates, fan_states, mask_in_duct
from airtally.readings.log import Log
from airtally.readings.read import read_log
from airtally.readings.screen import screen_log
from airtally.readings.source import Source, Stamp
from airtally.record.assemble import Provenance, assemble
from airtally.record.documents import Document, JobRecord, read_record
from airtally.record.of_answers import (
    effects_document,
    fan_rule_document,
    forecasts_document,
    not_identified_document,
    proof_document,
)
from airtally.record.of_findings import filter_plan_document, findings_document
from airtally.record.of_fit import events_document, phases_document, room_document, shares_of
from airtally.record.of_safety import pressures_document, safety_document, visit_readings_document
from airtally.safety.assess import assess
from airtally.scenario.baseline import baseline_of
from airtally.scenario.mapping import purge_seconds
from airtally.visits.parts import Visit
from airtally.visits.read import read_visits

Progress = Callable[[str], None]
"""Told what the job is doing, in a few words."""

SURVEY = "survey.toml"
VISITS = "visits.toml"
RECORD = "record.json"
FAN_QUANTITIES = (Quantity.FAN_STATE, Quantity.FAN_POWER, Quantity.FAN_CURRENT, Quantity.FAN_FLOW)
"""What can say when the central fan ran, the best first."""
RESPONSES = 2.0
"""Response times of a monitor to let pass after a fan start before its reading counts; own choice. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobInputs:
    """Everything a job folder says: house, visits, readings, when the fan ran, and the doubts about all of it."""

    house: House
    visits: tuple[Visit, ...]
    log: Log
    fan: tuple[Floats, Floats, Integers] | None
    phases: tuple[Phase, ...]
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


def run_job(folder: Path, *, seed: int, progress: Progress) -> JobRecord | tuple[Problem, ...]:
    """Run the whole job on a folder.

    Parameters
    ----------
    folder : Path
        Holds ``survey.toml``, ``visits.toml`` (optional) and the logs that the survey names.
    seed : int
        Seeds every draw; the record is a pure function of the files, the version and the seed.
    progress : callable
        Told what is being done.

    Returns
    -------
    record : JobRecord, or the problems of a survey that cannot be used
    """
    inputs = read_inputs(folder, progress)
    if inputs.is_fatal:
        return inputs.problems
    progress("checking gates, carbon monoxide and pressures")
    sections, problems = driveway_answers(inputs)
    draws = 0
    if inputs.log.time.size:
        progress("fitting the house to its readings")
        fit = fit_house(inputs.house, inputs.log, inputs.phases, inputs.fan, rng=np.random.default_rng(seed))
        if isinstance(fit, Problem):
            problems += (fit,)
        else:
            draws = fit.draws
            found, more = fitted_answers(inputs, fit, seed=seed, progress=progress)
            sections |= found
            problems += more
    return assemble(
        inputs.house,
        inputs.log,
        inputs.phases,
        inputs.problems + problems,
        Provenance(seed=seed, digests=inputs.digests, draws=draws),
        sections,
    )


def read_inputs(folder: Path, progress: Progress) -> JobInputs:
    """Read a job folder; nothing is computed yet."""
    digests = {name: _digest(folder / name) for name in (SURVEY, VISITS) if (folder / name).exists()}
    progress("reading the survey")
    house = read_survey(folder / SURVEY)
    visits, visit_problems = read_visits(folder / VISITS, house.time_zone)
    progress("reading the logs")
    log = screen_log(read_log(sources_of(house, folder)))
    states = fan_record(house, log)
    log = mask_ducts(house, log, states)
    fan = None
    if states is not None:
        running = states.level > 0
        fan = (states.start[running], states.end[running], states.level[running])
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
        problems=house.problems + visit_problems + log.problems + reach,
        digests=digests,
    )


def driveway_answers(inputs: JobInputs) -> tuple[Document, tuple[Problem, ...]]:
    """Return what needs no log and no fit: safety, pressures, test-in beside test-out."""
    verdict = assess(inputs.house, inputs.visits, inputs.log)
    cases, problems = worst_cases(inputs.house, inputs.visits)
    measured = next((v for v in reversed(inputs.visits) if v.find("tesp") or v.find("supply_static")), None)
    budget = static_budget(measured) if measured is not None else None
    sections = {
        "safety": safety_document(verdict, inputs.house),
        "pressures": pressures_document(cases, budget),
        "visit_readings": visit_readings_document(inputs.visits, inputs.house),
        "filter_plan": filter_plan_document(inputs.house),
    }
    return sections, verdict.problems + problems + (budget.problems if budget is not None else ())


def fitted_answers(
    inputs: JobInputs, fit: Fit, *, seed: int, progress: Progress
) -> tuple[Document, tuple[Problem, ...]]:
    """Return what rests on the fit: phases, findings, forecasts, fan rule and proof, all on the same draws."""
    progress("tallying sources, paths and removal")
    baseline = baseline_of(fit)
    shares = shares_of(fit, baseline)
    progress("comparing before and after")
    proofs = prove(fit, baseline, np.random.default_rng(seed + 1))
    progress("replaying measures and fan rules")
    found, problems = forecasts(fit, baseline)
    rule = fan_rule_answer(fit, baseline)
    findings = look(inputs.house, inputs.log, fit, baseline)
    sections = {
        "phases": phases_document(fit, shares),
        "events": events_document(fit),
        "room_pm25": room_document(fit),
        "effects": effects_document(proofs),
        "forecasts": forecasts_document(fit, found),
        "fan_rule": fan_rule_document(fit, rule) if rule is not None else None,
        "proof": proof_document(proofs),
        "findings": findings_document(findings),
        "not_identified": not_identified_document(fit),
    }
    return sections, fit.problems + problems


def sources_of(house: House, folder: Path) -> list[Source]:
    """Return the survey's logs as the readings room takes them; a file not there becomes a Problem on reading."""
    places = {p.id: p for p in house.placements}
    found = []
    for log in house.logs:
        place = places.get(log.placement)
        found.append(
            Source(
                content=folder / log.file,
                name=log.file,
                placement=log.placement,
                time_zone=log.time_zone or house.time_zone,
                stamps=Stamp(log.stamps),
                interval=log.interval,
                columns=log.columns,
                day_first=log.day_first,
                begins=log.begins,
                devices=log.devices,
                since=place.since if place is not None else float("-inf"),
                until=place.until if place is not None else float("inf"),
            )
        )
    return found


def fan_record(house: House, log: Log) -> FanStates | None:
    """Return when the central fan was off, circulating or heating; None if nothing says so."""
    if house.air_handler is None:
        return None
    for quantity in FAN_QUANTITIES:
        for stream in log.find(quantity):
            time, value = log.series(stream)
            if time.size > 10:
                return fan_states(time, value, quantity)
    return None


def mask_ducts(house: House, log: Log, states: FanStates | None) -> Log:
    """Return the log with in-duct readings set aside while the fan was off or duct and monitor had not settled."""
    times = {i.id: i.response_time for i in house.instruments}
    if states is None:
        return log
    for place in house.placements:
        if place.air_side in (AirSide.RETURN_BEFORE_FILTER, AirSide.AFTER_FILTER, AirSide.SUPPLY):
            settle = purge_seconds(house, occupied_volume(house)) + RESPONSES * times.get(place.instrument, 60.0)
            log = mask_in_duct(log, [place.id], states, settle)
    return log


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


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
        if not file.exists() or _digest(file) != digest:
            return None
    named = {p.relative_to(folder).as_posix() for p in folder.rglob("*.toml")}
    return record if named & {SURVEY, VISITS} <= set(record.digests) else None
