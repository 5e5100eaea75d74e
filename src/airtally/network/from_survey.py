"""From survey and visits to leakage, flows and the list of worst cases; the newest measurement governs."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf
from typing import Protocol, TypeVar

from airtally.errors import Problem, Severity
from airtally.estimates import Basis, Estimate
from airtally.house.parts import ExhaustKind, House, VentilationKind
from airtally.network.duct_leaks import LeakShare, leak_flows, leak_share, pressure_at_leaks, split_by_dominance
from airtally.network.house_pressure import HousePressure, NamedFlow, house_pressure
from airtally.network.spread import default, spread, total
from airtally.physics.leakage import DEFAULT_LEAKAGE_EXPONENT
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


def handler_leaks(
    house: House, visits: tuple[Visit, ...], time: float = LATEST, mode: HandlerMode = HandlerMode.HEATING
) -> tuple[tuple[LeakShare, ...], tuple[Problem, ...]]:
    """Return the duct leaks to outside while the air handler runs, each as a share of its flow.

    Side-by-side CFM25 readings go first, then CFM25 to outside split by what the fan does to the house pressure,
    then the survey's own shares. Pressures at the leaks come from measured statics, half the TESP on each side
    where only that was measured; without any static the survey's shares stand.
    """
    handler = house.air_handler
    speed = next((s for s in present(handler.speeds, time) if s.name == mode.value), None) if handler else None
    flow = _estimate(newest(visits, "airflow", time=time, mode=mode)) or (speed.flow if speed else None)
    if handler is None or flow is None:
        return (), ()
    pressures = _leak_pressures(visits, time, mode)
    if pressures is not None:
        by_side = _measured_by_side(visits, time, pressures, flow)
        if by_side:
            return by_side, ()
        split = _measured_by_dominance(house, visits, time, mode, pressures, flow)
        if split is not None:
            return split
    leaks = [
        LeakShare(
            side="return", zone=leak.zone, fraction=leak.fraction, pressure=None, method="survey",
            flow=spread(lambda q, f: q * f, flow, leak.fraction, unit="m3/s", source=leak.fraction.source),
        )
        for leak in present(handler.return_leaks, time)
    ]  # fmt: skip
    if handler.supply_leak_outside is not None:
        share = handler.supply_leak_outside
        leaks.append(
            LeakShare(
                side="supply", zone="outdoors", fraction=share, pressure=None, method="survey",
                flow=spread(lambda q, f: q * f, flow, share, unit="m3/s", source=share.source),
            )
        )  # fmt: skip
    return tuple(leaks), ()


def worst_cases(
    house: House, visits: tuple[Visit, ...], time: float = LATEST
) -> tuple[tuple[HousePressure, ...], tuple[Problem, ...]]:
    """Return the pressures of the house in states from one fan to every fan and fire, deepest suction first.

    Each exhaust alone; all without fire; all with the open fires lit; each of the last two with the air handler
    where that makes it worse; in an appliance's zone its own measured change behind a shut door is added. Computed in
    closed form (+-50 % unless measured); measured worst cases stand beside them.
    """
    measured = tuple(
        HousePressure(
            state=f"measured at {visit.id}, {reading.place} against {reading.reference}",
            pressure=reading.estimate,
            flows=(),
            has_fire_lit=reading.state.has_fire_lit,
            method="measured",
        )
        for visit in visits
        for reading in visit.find("worst_case_pressure_change")
        if reading.estimate is not None and reading.time <= time
    )
    leakage, problems = envelope_leakage(house, visits, time)
    if leakage is None:
        return measured, problems
    flows, found = exhaust_flows(house, visits, time)
    leaks, more = handler_leaks(house, visits, time)
    fans = tuple(one for one in flows if not one.is_fire)
    fires = tuple(one for one in flows if one.is_fire)
    handler = leak_flows(leaks)
    sets: dict[str, tuple[NamedFlow, ...]] = {f"{one.name} alone": (one,) for one in flows}
    if fans:
        sets["all exhaust fans"] = fans
    if fires:
        sets["all exhaust fans and every open fire lit"] = (*fans, *fires)
    if handler and sum(one.flow.value for one in handler) < 0.0:
        sets |= {f"{name}, air handler on": (*some, *handler) for name, some in sets.items() if len(some) > 1}
        sets["air handler alone"] = handler
    cases = tuple(house_pressure(name, some, *leakage) for name, some in sets.items())
    zones = _zones_behind_doors(house, visits, time, tuple(case for case in cases if len(case.flows) > 1))
    ranked = sorted((*cases, *zones, *measured), key=lambda case: case.pressure.value)
    return tuple(ranked), problems + found + more


def _zones_behind_doors(
    house: House, visits: tuple[Visit, ...], time: float, cases: tuple[HousePressure, ...]
) -> tuple[HousePressure, ...]:
    """Return house-wide cases with the measured change of each appliance zone, air handler on and door shut, added.

    Adding pressures is an approximation (flows add, pressures do not); the network will drop it.
    """
    found = []
    for zone in sorted({appliance.zone for appliance in present(house.appliances, time)}):
        measured = [
            reading
            for visit in visits
            for reading in visit.find("zone_pressure_change", zone)
            if reading.estimate is not None
            and reading.time <= time
            and reading.reference == "outdoors"
            and reading.state.air_handler not in (HandlerMode.OFF, HandlerMode.UNKNOWN)
            and not reading.state.exhausts_on
        ]
        newest_one = max(measured, key=lambda reading: reading.time, default=None)
        if newest_one is None or newest_one.estimate is None:
            continue
        for case in cases:
            if case.state.endswith("air handler on"):
                continue
            pressure = total((case.pressure, newest_one.estimate), unit="Pa", source=case.pressure.source)
            found.append(
                HousePressure(
                    state=f"{case.state}, in {zone} with the air handler on and its door shut",
                    pressure=pressure,
                    flows=case.flows,
                    has_fire_lit=case.has_fire_lit,
                    method="one zone, power law, plus the zone's own measured change",
                )
            )
    return tuple(found)


def _outward(name: str, flow: Estimate, *, is_fire: bool = False) -> NamedFlow:
    out = Estimate(
        value=-flow.value, low=-flow.high, high=-flow.low, unit=flow.unit, basis=flow.basis, source=flow.source,
        level=flow.level,
    )  # fmt: skip
    return NamedFlow(name=name, flow=out, is_fire=is_fire)


def _estimate(reading: Reading | None) -> Estimate | None:
    return None if reading is None else reading.estimate


def _leak_pressures(visits: tuple[Visit, ...], time: float, mode: HandlerMode) -> tuple[Estimate, Estimate] | None:
    """Return the pressure at return and supply leaks [Pa]."""
    back = _estimate(newest(visits, "return_static", time=time, mode=mode))
    front = _estimate(newest(visits, "supply_static", time=time, mode=mode))
    whole = _estimate(newest(visits, "tesp", time=time, mode=mode))
    if whole is not None:
        half = spread(lambda p: p / 2.0, whole, unit="Pa", source="half of TESP", method_share=0.3)
        back, front = back or half, front or half
    if back is None or front is None:
        return None
    return pressure_at_leaks(back), pressure_at_leaks(front)


def _measured_by_side(
    visits: tuple[Visit, ...], time: float, pressures: tuple[Estimate, Estimate], flow: Estimate
) -> tuple[LeakShare, ...]:
    leaks = []
    for key, side, pressure in (("cfm25_return", "return", pressures[0]), ("cfm25_supply", "supply", pressures[1])):
        places = {reading.place for visit in visits for reading in visit.find(key)}
        for place in sorted(places):
            reading = newest(visits, key, time=time, place=place)
            if reading is not None and reading.estimate is not None:
                leaks.append(leak_share(side, place, reading.estimate, pressure, flow, f"CFM25 of the {side} side"))
    return tuple(leaks)


def _measured_by_dominance(
    house: House,
    visits: tuple[Visit, ...],
    time: float,
    mode: HandlerMode,
    pressures: tuple[Estimate, Estimate],
    flow: Estimate,
) -> tuple[tuple[LeakShare, ...], tuple[Problem, ...]] | None:
    outside = _estimate(newest(visits, "cfm25_outside", time=time))
    change = _estimate(newest(visits, "house_pressure_fan_on_minus_off", time=time, mode=mode))
    leakage, _ = envelope_leakage(house, visits, time)
    if outside is None or change is None or leakage is None or outside.value <= 0.0:
        return None
    split = split_by_dominance(outside, change, *leakage, *pressures)
    said = "CFM25 to outside, split by fan on minus fan off"
    return (
        leak_share("return", "outdoors", split.return_at_25, pressures[0], flow, said),
        leak_share("supply", "outdoors", split.supply_at_25, pressures[1], flow, said),
    ), split.problems


def _compare(name: str, surveyed: Estimate | None, measured: Reading | None) -> tuple[Problem, ...]:
    """Return a Problem where survey and visit measured one flow and their intervals do not meet."""
    reading = _estimate(measured)
    if surveyed is None or reading is None or surveyed.basis is Basis.DEFAULT:
        return ()
    if surveyed.low <= reading.high and reading.low <= surveyed.high:
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
