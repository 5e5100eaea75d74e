"""From survey and visits to leakage, flows and the list of worst cases; the newest measurement governs."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf
from typing import Protocol, TypeVar

from airtally.errors import Problem, Severity
from airtally.estimates import Basis, Estimate
from airtally.house.parts import ExhaustKind, House, VentilationKind
from airtally.network.home.house_pressure import NamedFlow
from airtally.network.spread import default
from airtally.physics.leaks.power_law import DEFAULT_LEAKAGE_EXPONENT
from airtally.visits.parts import HandlerMode, Reading, Visit

LATEST = inf
"""Stands for 'now': parts that are still there, readings of every visit. [s]"""
USUAL_EXPONENT = default(DEFAULT_LEAKAGE_EXPONENT, 0.60, 0.70, "-", "default exponent of house envelopes")


class _Dated(Protocol):
    @property
    def since(self) -> float: ...

    @property
    def until(self) -> float: ...


_Part = TypeVar("_Part", bound=_Dated)


def present(parts: Iterable[_Part], time: float = LATEST) -> tuple[_Part, ...]:
    """Return the parts that are in the house at a time [s, POSIX UTC]; ``LATEST`` asks for those that stayed."""
    if time == LATEST:
        return tuple(part for part in parts if part.until == inf)
    return tuple(part for part in parts if part.since <= time < part.until)


def newest(
    visits: Iterable[Visit],
    key: str,
    *,
    time: float = LATEST,
    place: str | None = None,
    mode: HandlerMode | None = None,
) -> Reading | None:
    """Return the newest measured reading of a key taken no later than a time [s, POSIX UTC], None if there is none."""
    found = [
        reading
        for visit in visits
        for reading in visit.find(key, place)
        if reading.estimate is not None and reading.time <= time and mode in (None, reading.state.air_handler)
    ]
    return max(found, key=lambda reading: reading.time, default=None)


def envelope_leakage(
    house: House, visits: tuple[Visit, ...], time: float = LATEST
) -> tuple[tuple[Estimate, Estimate] | None, tuple[Problem, ...]]:
    """Return leakage at 50 Pa [m3/s] and exponent [-] at a time, None if nobody measured or estimated it."""
    envelope = next(iter(present(house.envelopes, time)), None)
    measured = newest(visits, "cfm50", time=time)
    multi_point = newest(visits, "envelope_exponent", time=time)
    surveyed = envelope.flow_at_50 if envelope is not None else None
    exponent = envelope.exponent if envelope is not None else USUAL_EXPONENT
    if multi_point is not None and multi_point.estimate is not None:
        exponent = multi_point.estimate
    leakage = measured.estimate if measured is not None else surveyed
    if leakage is None:
        return None, (
            Problem(
                code="network-no-envelope-leakage",
                where="survey.toml, envelope.flow_at_50; visits.toml, cfm50",
                found="no house leakage",
                wanted="CFM50, measured or estimated with its interval",
                remedy="Enter the blower-door result; without it no house pressure is computed.",
            ),
        )
    problems = _compare("envelope leakage", surveyed, measured) if time == LATEST else ()
    return (leakage, exponent), problems


def exhaust_flows(
    house: House, visits: tuple[Visit, ...], time: float = LATEST
) -> tuple[tuple[NamedFlow, ...], tuple[Problem, ...]]:
    """Return what takes air out of the house, open fires included; negative flows [m3/s]. Visits govern."""
    flows: list[NamedFlow] = []
    problems: list[Problem] = []
    for exhaust in present(house.exhausts, time):
        measured = newest(visits, "exhaust_flow", time=time, place=exhaust.id)
        flow = measured.estimate if measured is not None and measured.estimate is not None else exhaust.flow
        if time == LATEST:
            problems += _compare(exhaust.id, exhaust.flow, measured)
        if flow.basis is Basis.DEFAULT and exhaust.kind is not ExhaustKind.FIREPLACE:
            problems.append(_not_measured(exhaust.id))
        flows.append(_outward(exhaust.id, flow, is_fire=exhaust.kind is ExhaustKind.FIREPLACE))
    for fan in present(house.ventilation, time):
        measured = newest(visits, "ventilation_flow", time=time, place=fan.id)
        flow = measured.estimate if measured is not None and measured.estimate is not None else fan.flow
        if fan.kind is VentilationKind.EXHAUST:
            flows.append(_outward(fan.id, flow))
    return tuple(flows), tuple(problems)


def _outward(name: str, flow: Estimate, *, is_fire: bool = False) -> NamedFlow:
    out = Estimate(
        value=-flow.value, low=-flow.high, high=-flow.low, unit=flow.unit, basis=flow.basis, source=flow.source,
        level=flow.level,
    )  # fmt: skip
    return NamedFlow(name=name, flow=out, is_fire=is_fire)


def _estimate(reading: Reading | None) -> Estimate | None:
    return None if reading is None else reading.estimate


def _compare(name: str, surveyed: Estimate | None, measured: Reading | None) -> tuple[Problem, ...]:
    """Return a Problem where survey and visit measured one flow and their intervals do not meet."""
    reading = _estimate(measured)
    if surveyed is None or reading is None or surveyed.basis is Basis.DEFAULT:
        return ()
    if surveyed.meets(reading):
        return ()
    return (
        Problem(
            code="network-flow-disagrees",
            where=f"survey.toml against visits.toml, {name}",
            found=f"{surveyed.value * 3600:.0f} m3/h surveyed, {reading.value * 3600:.0f} m3/h measured: "
            f"{abs(reading.value / surveyed.value - 1.0):.0%} apart",
            wanted="one flow, or a date at which it changed",
            remedy="The visit's reading is used; correct the survey or date the change.",
            severity=Severity.NOTE,
        ),
    )


def _not_measured(name: str) -> Problem:
    return Problem(
        code="network-exhaust-not-measured",
        where=f"survey.toml, exhaust {name}",
        found="a flow that nobody measured",
        wanted="its flow as installed; labels read two to three times too high",
        remedy="Measure it with a flow box.",
        severity=Severity.NOTE,
    )
