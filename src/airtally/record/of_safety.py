"""The record's safety, pressures and visit readings, from rooms that know no fit."""

from __future__ import annotations

from airtally.clock import local_text
from airtally.estimates import Estimate
from airtally.house.parts import House
from airtally.record.documents import Document, moment, quantity
from airtally.record.numbers import field
from airtally.safety.parts import HandOver, LimitComparison, SafetyFinding, SafetyVerdict, Standing
from airtally.safety.words import fill
from airtally.visits.kinds import READING_KINDS, Dimension
from airtally.visits.parts import Answer, Reading, Visit, VisitKind

FIELD_UNITS: dict[str, tuple[str, float]] = {
    "mol/mol": ("ppm", 1e6),
    "s": ("min", 1.0 / 60.0),
    "1/s": ("1/h", 3600.0),
    "Pa": ("Pa", 1.0),
    "m3/s": ("cfm", 1.0 / 0.00047194745),
    "K (difference)": ("degF", 1.8),
    "m3/s per W": ("cfm/ton", 3516.8528 / 0.00047194745),
    "m/s": ("cfm/100 ft2", 9.290304 / 0.00047194745),
    "m": ("m", 1.0),
    "W": ("W", 1.0),
    "-": ("1", 1.0),
    "kg/m3": ("ug/m3", 1e9),
    "m3": ("m3", 1.0),
    "m2": ("m2", 1.0),
}
"""Field unit and factor for each SI unit of this room's numbers; a temperature level is shifted besides."""
STANDING = {Standing.OPEN: "open", Standing.UNKNOWN: "unknown", Standing.DONE: "done"}
VERDICTS = {
    HandOver.DO_NOT: "Do not hand over.",
    HandOver.WITH_RESTRICTIONS: "Hand over with restrictions only.",
    HandOver.HAND_OVER: "Nothing that was read forbids handing over.",
    HandOver.NOT_ASSESSED: "Not assessed: no test-out was recorded.",
}


def shown(estimate: Estimate) -> Document:
    """Return an SI estimate in its field unit."""
    if estimate.unit == "K":
        return quantity(
            estimate.value - 273.15,
            low=estimate.low - 273.15,
            high=estimate.high - 273.15,
            unit="degC",
            basis=estimate.basis,
            source=estimate.source,
            level=estimate.level,
        )
    unit, factor = FIELD_UNITS.get(estimate.unit, (estimate.unit or "1", 1.0))
    return field(estimate, unit, factor)


def safety_document(verdict: SafetyVerdict, house: House) -> Document:
    """Return the record's ``safety``: gravest first, with limits, what was not checked, and the standing cautions."""
    gates = [
        {
            "id": gate.gate,
            "question": gate.question,
            "status": "unknown" if gate.answer is Answer.UNKNOWN else ("open" if gate.answer is Answer.YES else "done"),
            "answer": f"{gate.answer.value} ({gate.visit})" if gate.visit else "never asked",
        }
        for gate in verdict.gates
    ]
    for form in verdict.blocked_forms:
        gates.append(
            {
                "id": f"blocked/{form.form}",
                "question": f"May the form '{form.form}' be filled in?",
                "status": "open",
                "answer": f"No: {form.because} {form.do}",
                "lifts": form.lifted_by,
            }
        )
    not_checked = list(verdict.not_checked)
    not_checked += [f"{item.key}, {item.place}: not re-tested, {item.why}" for item in verdict.not_retested]
    lost = len(verdict.not_retested)
    again = (f"Not re-tested: {lost} of the readings of test-in; the list of what was not checked names them.",) * bool(
        lost
    )
    return {
        "verdict": " ".join([VERDICTS[verdict.verdict], *verdict.reasons[:2], *again]),
        "gates": gates,
        "findings": [_finding(finding, house, others) for finding, others in _alike(verdict.findings)],
        "not_checked": list(dict.fromkeys(not_checked)),
        "cautions": [caution.text for caution in verdict.cautions],
    }


def _alike(findings: tuple[SafetyFinding, ...]) -> list[tuple[SafetyFinding, list[SafetyFinding]]]:
    """Return each finding with those of the same kind, place and standing behind it; the gravest of them stands first."""
    groups: dict[tuple[str, str, Standing], tuple[SafetyFinding, list[SafetyFinding]]] = {}
    for finding in findings:
        key = (finding.code, finding.place, finding.standing)
        if finding.start is not None and key in groups:
            groups[key][1].append(finding)
        else:
            groups[key if finding.start is not None else (finding.id, "", finding.standing)] = (finding, [])
    return list(groups.values())


def _finding(finding: SafetyFinding, house: House, others: list[SafetyFinding]) -> Document:
    times = sorted(other.start for other in others if other.start is not None)
    more = ""
    if times:
        first = [local_text(time, house.time_zone) for time in times[:6]]
        more = f" {len(times)} more of the kind: {', '.join(first)}{' and later' if len(times) > len(first) else ''}."
    entry: Document = {
        "id": finding.id,
        "title": finding.title,
        "what": fill(finding, house.time_zone) + more,
        "evidence": [{"name": name.replace("_", " "), "quantity": shown(figure)} for name, figure in finding.figures],
        "action": finding.action,
        "status": STANDING[finding.standing],
    }
    if finding.start is not None:
        entry["when"] = moment(finding.start)
    governing = next((c for c in finding.limits if c.governs), finding.limits[0] if finding.limits else None)
    if governing is not None:
        entry["limit"] = limit_document(governing)
    if finding.done_on is not None:
        entry["done"] = (
            f"{local_text(finding.done_on, house.time_zone, '%Y-%m-%d')}, {finding.done_by or 'role not recorded'}"
        )
    return entry


def limit_document(comparison: LimitComparison) -> Document:
    """Return a limit as its document prints it."""
    unit = comparison.value.unit
    label, factor = FIELD_UNITS.get(unit, (unit or "1", 1.0))
    value = comparison.limit * factor
    if unit == "K":  # a level in kelvin, or (no air in a house is that cold) a difference
        is_level = comparison.limit > 200.0
        label, value = ("degC", comparison.limit - 273.15) if is_level else ("degF", 1.8 * comparison.limit)
    if unit == "Pa" and "static" in comparison.what.lower():
        label, value = "inH2O", comparison.limit / 249.08891
    return {
        "name": comparison.what,
        "value": float(f"{value:.4g}"),  # a printed limit, back in the figures it was printed in
        "unit": label,
        "document": comparison.source,
        "edition": comparison.edition or "edition not stated",
        "jurisdiction": comparison.jurisdiction or "not stated",
        "known": "read" if comparison.basis == "read" else "from memory",
    }


def visit_readings_document(visits: tuple[Visit, ...], house: House) -> Document | None:
    """Return test-in and test-out side by side; only readings of one key, place and like state stand on one row."""
    first = next((v for v in visits if v.kind is VisitKind.TEST_IN), None)
    last = next((v for v in reversed(visits) if v.kind in (VisitKind.TEST_OUT, VisitKind.RE_TEST)), None)
    if first is None and last is None:
        return None
    rows: dict[tuple[str, ...], Document] = {}
    for side, visit in (("test_in", first), ("test_out", last)):
        if visit is None:
            continue
        for reading in visit.readings:
            if reading.estimate is None:
                continue
            key = (reading.key, reading.place or "", _state_words(reading))
            row = rows.setdefault(
                key, {"item": _item(reading), "conditions": _state_words(reading), "outcome": "no limit"}
            )
            row[side] = as_read(reading.key, reading.estimate)
    document: Document = {"rows": list(rows.values())}
    for side, visit in (("test_in", first), ("test_out", last)):
        if visit is not None:
            document[side] = {"date": local_text(visit.time, house.time_zone, "%Y-%m-%d"), "by": visit.by}
    return document


STATICS = frozenset({"tesp", "rated_static", "return_static", "supply_static", "filter_drop", "coil_drop"})
"""Duct pressures that the trade reads in inches of water; room pressures stay in pascals."""


def as_read(key: str, estimate: Estimate) -> Document:
    """Return a reading in the unit its gauge shows: a rise of temperature is a difference, never a level."""
    if READING_KINDS[key].dimension is Dimension.TEMPERATURE_DIFFERENCE:
        return field(estimate, "degF", 1.8)
    if key in STATICS:
        return field(estimate, "inH2O", 1.0 / 249.08891)
    return shown(estimate)


def _item(reading: Reading) -> str:
    words = reading.key.replace("_", " ")
    return f"{words}, {reading.place}" if reading.place else words


def _state_words(reading: Reading) -> str:
    state = reading.state
    said = [f"doors {state.doors.value}", f"air handler {state.air_handler.value}"]
    if state.exhausts_on:
        said.append(f"on: {', '.join(state.exhausts_on)}")
    if state.fires_lit:
        said.append(f"fire lit: {', '.join(state.fires_lit)}")
    return "; ".join(said)
