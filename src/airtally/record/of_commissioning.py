"""The record's ``commissioning``: every reading to take at test-out, in which state, and what it is held against."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import isfinite

from airtally.estimates import Basis, Estimate
from airtally.house.parts import House
from airtally.record.documents import Document
from airtally.record.of_safety import as_read, limit_document
from airtally.safety.assess import AFTER
from airtally.safety.beside import limits_beside
from airtally.safety.parts import SafetyVerdict
from airtally.safety.places import appliances_now, named
from airtally.safety.remeasure import keys_to_remeasure
from airtally.safety.states import readings_of, stale_before
from airtally.visits.kinds import CHECKS, READING_KINDS, SI_UNIT, StatePart
from airtally.visits.pair import pair_like_states
from airtally.visits.parts import ALL, Answer, Doors, HandlerMode, HouseState, Reading, VentStart, Visit, VisitKind

QUIET = HouseState(doors=Doors.OPEN, air_handler=HandlerMode.OFF, exhausts_on=(), fires_lit=())
WORST = HouseState(doors=Doors.WORST_CASE, exhausts_on=ALL, fires_lit=(), vent=VentStart.COLD)
"""The worst state; the air handler runs in it only where it makes the zone lower, so it is not said."""
HEATING = HouseState(doors=Doors.OPEN, air_handler=HandlerMode.HEATING, exhausts_on=(), fires_lit=())
STATES = {"baseline_pressure": QUIET, "co_ambient": QUIET}
"""States of readings that nobody took yet; those of a zone's test not named here are taken in the worst one."""
OUTDOORS = frozenset({"baseline_pressure", "worst_case_pressure_change"})
"""Zone readings that are taken against outdoors."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """One reading to take: as it was read or would be, what was read again, why it is wanted."""

    reading: Reading
    was_read: bool = False
    after: Estimate | None = None
    why: str = ""


def commissioning_document(house: House, visits: tuple[Visit, ...], verdict: SafetyVerdict) -> Document:
    """Return the record's ``commissioning``.

    Parameters
    ----------
    house, visits, verdict
        As assessed; the verdict's list of what was not re-tested decides which blanks stand open.

    Returns
    -------
    document : dict
        ``readings`` in an order that only test-in, survey and works change, so that numbers on a sheet hold while it
        is read back; ``checks`` that have no answer after the works.
    """
    wanted = [*_of_test_in(house, visits, verdict)]
    known = {(one.reading.key, one.reading.place) for one in wanted}
    wanted += [one for one in _of_safety(house, visits, verdict) if (one.reading.key, one.reading.place) not in known]
    order = {
        key: number for number, key in enumerate(("co_ambient", *(key for key in READING_KINDS if key != "co_ambient")))
    }
    wanted.sort(key=lambda one: order[one.reading.key])
    return {
        "readings": [_entry(house, visits, one) for one in wanted],
        "checks": [_check(key, what, visits) for key, what in CHECKS.items()],
    }


def _of_test_in(house: House, visits: tuple[Visit, ...], verdict: SafetyVerdict) -> Iterator[_Wanted]:
    """Yield the readings of the first test-in: repeated in the like state, or wanted again and why."""
    first = min((one for one in visits if one.kind is VisitKind.TEST_IN), key=lambda one: one.time, default=None)
    if first is None:
        return
    later = sorted((one for one in visits if one.kind in AFTER and one.time > first.time), key=lambda one: -one.time)
    after = {}
    if later:
        together = replace(later[0], readings=tuple(reading for one in later for reading in one.readings))
        after = {id(pair.before): pair.after.estimate for pair in pair_like_states(first, together).pairs}
    lost = {id(one.before): one.why for one in verdict.not_retested}
    gone = {one.id for one in house.appliances} - {one.id for one in appliances_now(house)}
    for reading in first.readings:
        if READING_KINDS[reading.key].is_fixed or reading.place in gone:
            continue
        why = f"not re-tested: {lost[id(reading)]}" if id(reading) in lost else ""
        yield _Wanted(
            reading=reading,
            was_read=reading.estimate is not None,
            after=None if why else after.get(id(reading)),
            why=why or ("" if reading.estimate is not None else "not measured at test-in"),
        )


def _of_safety(house: House, visits: tuple[Visit, ...], verdict: SafetyVerdict) -> Iterator[_Wanted]:
    """Yield what safety asks for that test-in did not read: the zones' tests, works' re-measuring, CO room by room."""
    for sequence in verdict.sequences:
        steps = {(step.key, step.place): step for step in sequence.steps if step.key in READING_KINDS}
        for (key, place), step in steps.items():
            if key == "spillage_time" and place == sequence.zone:
                continue  # a repetition under natural conditions, asked for only where the worst state failed
            if not _is_fresh(house, visits, key, place):
                yield _wanted(house, key, place, STATES.get(key, WORST), step.what)
    for key, _ in keys_to_remeasure(house):
        place = READING_KINDS[key].place
        if place in ("air handler", "house") and not _is_fresh(house, visits, key, place):
            yield _wanted(house, key, place, HEATING, "not measured since works that move it")
    for finding in verdict.find("safety-co-room-not-read"):
        for place in finding.lifted_by.removeprefix("co_ambient at ").split(", "):
            if not any(one.key == "co_ambient" and one.place == place for s in verdict.sequences for one in s.steps):
                yield _wanted(house, "co_ambient", place, QUIET, "no CO read there")


def _is_fresh(house: House, visits: tuple[Visit, ...], key: str, place: str) -> bool:
    return any(reading.time >= stale_before(house, key) for _, reading in readings_of(visits, key, place))


def _wanted(house: House, key: str, place: str, state: HouseState, why: str) -> _Wanted:
    unit = SI_UNIT[READING_KINDS[key].dimension]
    # No reading: it only asks which limits speak of one. Its value is never shown.
    asked = Estimate(value=0.0, low=0.0, high=0.0, unit=unit, basis=Basis.DEFAULT, source="")
    reference = "outdoors" if key in OUTDOORS else None
    reading = Reading(key=key, place=place, state=state, value=asked, time=_now(house), reference=reference)
    return _Wanted(reading=reading, why=why)


def _now(house: House) -> float:
    """Return a time at which everything stands that was not taken out [s]."""
    times = [one.since for one in house.appliances] + [one.ends or one.time for one in house.changes]
    return max((one for one in times if isfinite(one)), default=0.0) + 1.0


def _entry(house: House, visits: tuple[Visit, ...], wanted: _Wanted) -> Document:
    reading, kind = wanted.reading, READING_KINDS[wanted.reading.key]
    value = reading.estimate
    entry: Document = {
        "item": f"{kind.meaning}: {_where(house, reading.place)}",
        "key": reading.key,
        "place": reading.place,
        "what": kind.meaning,
        "where": _where(house, reading.place),
        "state": _state(reading, kind.depends_on),
        "why": wanted.why,
    }
    if reading.reference:
        entry["reference"] = reading.reference
    if value is None:
        unit = SI_UNIT[kind.dimension]
        value = Estimate(value=0.0, low=0.0, high=0.0, unit=unit, basis=Basis.DEFAULT, source="")
    shown = as_read(reading.key, value)
    entry["unit"] = shown["unit"]
    if wanted.was_read:
        entry["test_in"] = shown
    if wanted.after is not None:
        entry["test_out"] = as_read(reading.key, wanted.after)
    newest = replace(reading, time=_now(house), value=wanted.after if wanted.after is not None else value)
    held = limits_beside(house, visits, newest)
    telling = [one for one in held if one.governs] or held[:1]
    if wanted.was_read:
        entry["outcome"] = _outcome([one.is_crossed for one in held])
    if telling:
        entry["limits"] = [limit_document(one) for one in telling]
    return entry


def _outcome(crossed: list[bool | None]) -> str:
    """Return how a reading stands to the limits, each crossed, not crossed or too close to tell."""
    if not crossed:
        return "no limit"
    if True in crossed:
        return "over limit"
    return "cannot tell" if None in crossed else "within limit"


def _where(house: House, place: str) -> str:
    """Return a place in words: a zone by its name, an appliance by its kind."""
    zone = next((one for one in house.zones if one.id == place), None)
    if zone is not None:
        return zone.name or zone.id
    appliance = next((one for one in house.appliances if one.id == place), None)
    return f"{named(appliance)}, {place}" if appliance is not None else place


def _state(reading: Reading, parts: Iterable[StatePart]) -> dict[str, str]:
    """Return the parts of the state that the reading depends on, in the words of the visit's text."""
    said = {}
    for part in parts:
        value = getattr(reading.state, part.value, None)
        if value is None or value == "unknown":
            continue
        said[part.value] = ", ".join(value) or "none" if isinstance(value, tuple) else str(value)
    return said


def _check(key: str, what: str, visits: tuple[Visit, ...]) -> Document:
    """Return a check with its newest answer of a test-out or re-test."""
    answers = [one.check(key) for one in sorted(visits, key=lambda one: one.time) if one.kind in AFTER]
    said = [one for one in answers if one is not Answer.UNKNOWN]
    return {"key": key, "what": what, **({"answer": said[-1].value} if said else {})}
