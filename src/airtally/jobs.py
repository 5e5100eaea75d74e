"""The spine: each of the user's jobs as one straight function."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

import airtally
from airtally.arrays import Floats, Integers
from airtally.clock import local_text
from airtally.errors import InputError, Problem, Severity
from airtally.fanrules.search import answer as fan_rule_answer
from airtally.findings.clocks import ClockJump
from airtally.findings.look import look
from airtally.findings.parts import Finding
from airtally.findings.without_fit import look_without_fit, only_tests
from airtally.house.checks import check_reach
from airtally.house.dates import Phase, phases_of
from airtally.house.page import KEPT_FOR_LATER
from airtally.house.parts import House, LogSource
from airtally.house.survey import read_survey
from airtally.inference.drivers import occupied_volume
from airtally.inference.fit import Fit, fit_house
from airtally.inference.prepare import IN_DUCT
from airtally.network.answers import PressureAnswers, pressure_answers
from airtally.network.home.house_flows import with_measured_leaks
from airtally.proof.effects import prove
from airtally.proposals.forecast import forecasts
from airtally.quantities import Quantity
from airtally.readings.divide import Window, divide
from airtally.readings.fan import FanStates, fan_states, mask_in_duct
from airtally.readings.lags import offset_changes
from airtally.readings.log import Flag, Log
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
from airtally.record.of_pressures import HOOKUP_TITLE, pressures_document
from airtally.record.of_safety import safety_document, visit_readings_document
from airtally.report.hookup_drawing import hookup_drawing
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
WITNESSES = (Quantity.TEMPERATURE, Quantity.VOC, Quantity.PM25)
"""Quantities of an in-duct monitor that move when the fan starts, the clearest first."""
LAG_WINDOW = 7800.0
"""Largest lag between fan and monitor looked for: a clock change and some. [s]"""
LEAST_JUMP = 1800.0
"""Smallest jump of lag that counts: clocks change by the hour and drift by minutes. [s]"""
CLOCK_DOUBT = 7200.0
"""How near to a clock's jump readings are not trusted to either side of it. [s]"""
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
    answers = pressure_answers(inputs.house, inputs.visits)
    sections, problems = driveway_answers(inputs, answers)
    draws = 0
    progress("looking at tests, leaks and meters")
    plain, more = look_without_fit(inputs.house, inputs.log)
    problems += more
    if plain:
        sections["findings"] = findings_document(plain)
    tests = only_tests(inputs.house, inputs.log)
    if tests is not None:
        problems += (tests,)
    elif inputs.log.time.size:
        progress("fitting the house to its readings")
        measured = with_measured_leaks(inputs.house, inputs.visits, answers.calibrated)
        fit = fit_house(measured, inputs.log, inputs.phases, inputs.fan, rng=np.random.default_rng(seed))
        if isinstance(fit, Problem):
            problems += (fit,)
        else:
            draws = fit.draws
            found, more = fitted_answers(inputs, fit, plain, seed=seed, progress=progress)
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
    log, jumps = mend_clocks(house, screen_log(read_logs(house, folder)))
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
        clock_jumps=jumps,
        problems=house.problems
        + visit_problems
        + log.problems
        + reach
        + what_changes_no_number(house)
        + silent_instruments(house, log),
        digests=digests,
    )


def what_changes_no_number(house: House) -> tuple[Problem, ...]:
    """Return a note naming what the survey filled in that no stage reads yet: nothing is passed over in silence."""
    filled = []
    for attribute in KEPT_FOR_LATER:
        noun, _, name = attribute.partition(".")
        holders = [h for h in _holders(house) if type(h).__name__ == noun]
        if any(getattr(h, name) not in (None, (), "", False) for h in holders):
            filled.append(attribute)
    if not filled:
        return ()
    return (
        Problem(
            code="survey-kept-for-later",
            where=SURVEY,
            found=f"{len(filled)} things that are kept and change no number yet: {', '.join(filled)}",
            wanted="nothing; it is said so that nobody counts on them",
            remedy="Keep them filled in; a later version will read them.",
            severity=Severity.NOTE,
        ),
    )


def _holders(house: House) -> list[object]:
    handler = house.air_handler
    parts: list[object] = [house, *house.zones, *house.envelopes, *house.appliances, *house.changes, *house.exhausts]
    parts += [p for p in (handler, house.occupants) if p is not None]
    return parts + (list(handler.speeds) if handler is not None else [])


def silent_instruments(house: House, log: Log) -> tuple[Problem, ...]:
    """Return a note for each instrument that logged nothing of a quantity the survey says it measures."""
    found = []
    for instrument in house.instruments:
        ids = {p.id for p in house.placements if p.instrument == instrument.id}
        heard = {s.quantity for s in log.streams if s.placement in ids}
        missing = [q.value for q in instrument.quantities if q not in heard]
        if missing and ids:
            found.append(
                Problem(
                    code="instrument-silent",
                    where=f"{SURVEY}, instrument '{instrument.id}'",
                    found=f"no reading of {', '.join(missing)} in its logs",
                    wanted="the quantities the survey names",
                    remedy="Look for a missing column or file, or correct the instrument's quantities.",
                    severity=Severity.NOTE,
                )
            )
    return tuple(found)


def driveway_answers(inputs: JobInputs, answers: PressureAnswers) -> tuple[Document, tuple[Problem, ...]]:
    """Return what needs no log and no fit: safety, pressures, test-in beside test-out."""
    verdict = assess(inputs.house, inputs.visits, inputs.log, answers.cases)
    sections = {
        "safety": safety_document(verdict, inputs.house),
        "pressures": pressures_document(answers) | _hookup_drawing(answers, inputs.house),
        "visit_readings": visit_readings_document(inputs.visits, inputs.house),
        "filter_plan": filter_plan_document(inputs.house),
    }
    return sections, verdict.problems + answers.problems


def _hookup_drawing(answers: PressureAnswers, house: House) -> Document:
    """Return the hookup as a drawing for the record, nothing where no hookup was worked out."""
    if answers.hookup is None:
        return {}
    drawn = hookup_drawing(answers.hookup.design, is_invented=house.is_invented)
    return {
        "hookup_drawing": {"title": drawn.title, "sentence": drawn.sentence, "svg": drawn.svg, "answer": HOOKUP_TITLE}
    }


def fitted_answers(
    inputs: JobInputs, fit: Fit, plain: tuple[Finding, ...], *, seed: int, progress: Progress
) -> tuple[Document, tuple[Problem, ...]]:
    """Return what rests on the fit: phases, findings, forecasts, fan rule and proof, all on the same draws.

    ``plain`` findings, which need no fit, stand after the fit's own.
    """
    progress("tallying sources, paths and removal")
    baseline = baseline_of(fit)
    shares = shares_of(fit, baseline)
    progress("comparing before and after")
    proofs = prove(fit, baseline, np.random.default_rng(seed + 1))
    progress("replaying measures and fan rules")
    found, problems = forecasts(fit, baseline)
    rule = fan_rule_answer(fit, baseline)
    findings = look(inputs.house, inputs.log, fit, baseline, inputs.clock_jumps)
    sections = {
        "phases": phases_document(fit, shares),
        "events": events_document(fit),
        "room_pm25": room_document(fit),
        "effects": effects_document(proofs),
        "forecasts": forecasts_document(fit, found),
        "fan_rule": fan_rule_document(fit, rule) if rule is not None else None,
        "proof": proof_document(proofs),
        "findings": findings_document(findings + plain),
        "not_identified": not_identified_document(fit),
    }
    return sections, fit.problems + problems


def read_logs(house: House, folder: Path) -> Log:
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
    return divide(read_log(sources), windows)


def mend_clocks(house: House, log: Log) -> tuple[Log, tuple[ClockJump, ...]]:
    """Put an in-duct monitor's times right from the day its clock jumps against the fan it listens to.

    The file stays as it was; the shift is said in a problem, and what lies close to the jump is set aside.
    """
    fan = next((s for q in FAN_QUANTITIES for s in log.find(q)), None)
    if fan is None:
        return log, ()
    fan_time, fan_value = log.series(fan)
    jumps = []
    problems = []
    for instrument in dict.fromkeys(p.instrument for p in house.placements if p.air_side in IN_DUCT):
        ids = {p.id for p in house.placements if p.instrument == instrument}
        jump = _clock_jump(log, instrument, ids, fan_time, fan_value)
        if jump is None:
            continue
        jumps.append(jump)
        mine = np.isin(log.stream, [i for i, s in enumerate(log.streams) if s.placement in ids])
        unsure = mine & (np.abs(log.time - jump.time) < CLOCK_DOUBT) & (log.flag == Flag.KEPT)
        log = replace(
            log,
            time=np.where(mine & (log.time >= jump.time), log.time - jump.shift, log.time),
            flag=np.where(unsure, Flag.CLOCK_UNSURE, log.flag).astype(np.uint8),
        )
        problems.append(
            Problem(
                code="clock-moved",
                where=instrument,
                found=f"its clock jumps by {jump.shift / 60.0:.0f} min against the fan's around "
                f"{local_text(jump.time, house.time_zone)}",
                wanted="one clock through the whole log",
                remedy="Later times were put back by as much, and readings close to the jump set aside; log in UTC.",
            )
        )
    return replace(log, problems=log.problems + tuple(problems)), tuple(jumps)


def _clock_jump(log: Log, instrument: str, ids: set[str], fan_time: Floats, fan_value: Floats) -> ClockJump | None:
    for quantity in WITNESSES:
        parts = [log.series(s) for s in log.find(quantity) if s.placement in ids]
        if sum(t.size for t, _ in parts) < 1000:
            continue
        time, value = (np.concatenate(arrays) for arrays in zip(*parts, strict=True))
        order = np.argsort(time, kind="stable")
        changes = offset_changes(fan_time, fan_value, time[order], value[order], LAG_WINDOW)
        found = next((c for c in changes if abs(c.after - c.before) >= LEAST_JUMP), None)
        if found is not None:
            return ClockJump(instrument=instrument, time=found.time, before=found.before, after=found.after)
    return None


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
        if place.air_side in IN_DUCT:
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
