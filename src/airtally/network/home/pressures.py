"""What a calibrated network says: pressures in every state, the worst state found by search, statics, leak air."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import chain, combinations, product

import numpy as np

from airtally.arrays import Floats
from airtally.errors import Problem
from airtally.estimates import Basis, Estimate
from airtally.house.parts import House
from airtally.network.home.calibrate import Calibrated, calibrate
from airtally.network.home.from_survey import LATEST, envelope_leakage, exhaust_flows
from airtally.network.home.house_network import BLOWER, AirState, burning_zones, fires_of
from airtally.network.home.house_pressure import HousePressure, NamedFlow
from airtally.network.home.works import ADDED_EXHAUST, AS_FOUND, Works
from airtally.network.solver.graph import OUTDOORS
from airtally.visits.parts import HandlerMode, Visit

METHOD = "solved network of this house, fitted to its readings"
MOST_DOORS = 6
"""Side rooms of which every combination of doors is searched. [-]"""
LEVEL = (0.05, 0.95)


def estimate_of(draws: Floats, unit: str, source: str = METHOD) -> Estimate:
    """Return the 90 % interval of draws with the first, most probable, as its value."""
    low, high = np.quantile(draws, LEVEL)
    value = float(draws[0])
    return Estimate(
        value=value,
        low=min(float(low), value),
        high=max(float(high), value),
        unit=unit,
        basis=Basis.COMPUTED,
        source=source,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomPressure:
    """Pressure of one zone against another in one state, as a change from every fan off. [Pa]"""

    state: str
    zone: str
    reference: str
    pressure: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class WorstState:
    """The state that draws a room down most, without or with every open fire lit; found by search."""

    zone: str
    with_fire: bool
    state: AirState


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakAir:
    """Share of the handler's flow that comes from one space through return leaks. [-]"""

    zone: str
    share: Estimate


def states_of(calibrated: Calibrated) -> dict[str, AirState]:
    """Return the states that a page shows, by name: handler and doors, exhausts, fires."""
    layout = calibrated.network.layout
    shut = frozenset(layout.side_rooms)
    fires = fires_of(layout)
    fans = frozenset(one.id for one in layout.exhausts) - fires
    found: dict[str, AirState] = {}
    for mode, _ in layout.mode_flow:
        found[f"{mode.value}, doors open"] = AirState(handler=mode)
        if shut:
            found[f"{mode.value}, doors shut"] = AirState(handler=mode, shut=shut)
    if fans:
        found["all exhaust fans"] = AirState(exhausts=fans)
    if fires:
        found["open fire lit"] = AirState(exhausts=fires)
        found["all exhaust fans and open fire"] = AirState(exhausts=fans | fires)
    return found


def room_pressures(calibrated: Calibrated, works: Works = AS_FOUND) -> tuple[RoomPressure, ...]:
    """Return house, rooms and buffer spaces in every state: the main body against outdoors, the rest against it."""
    layout = calibrated.network.layout
    states = states_of(calibrated)
    solved = calibrated.solve((AirState(), *states.values()), works)
    found = []
    for (name, state), one in zip(states.items(), solved[1:], strict=True):
        found.append(
            RoomPressure(
                state=name,
                zone=layout.main,
                reference=OUTDOORS,
                pressure=estimate_of(one.pressure(layout.main) - solved[0].pressure(layout.main), "Pa"),
            )
        )
        rooms = sorted(state.shut) or [zone.id for zone in layout.buffers]
        for zone in rooms:
            difference = one.pressure(zone) - one.pressure(layout.main)
            rest = solved[0].pressure(zone) - solved[0].pressure(layout.main)
            found.append(
                RoomPressure(
                    state=name, zone=zone, reference=layout.main, pressure=estimate_of(difference - rest, "Pa")
                )
            )
    return tuple(found)


def deepest_states(
    calibrated: Calibrated,
    zones: tuple[str, ...],
    *,
    with_fire: bool,
    works: Works = AS_FOUND,
    modes: tuple[HandlerMode, ...] = (),
) -> dict[str, AirState]:
    """Return for each zone the state that draws it down most against outdoors, by search over blower speeds and doors.

    Every combination of doors and of the handler off or at each speed (or in ``modes``) is solved for the most probable
    unknowns. Every exhaust runs: air taken out of one space lowers all others, for no link gives more flow at less
    pressure. Without fires an open fireplace is shut, as the standard test has it.
    """
    layout = calibrated.network.layout
    fires = fires_of(layout)
    running = frozenset(one.id for one in layout.exhausts if with_fire or one.id not in fires)
    running |= {ADDED_EXHAUST} if works.added_exhaust else set()
    states = tuple(
        AirState(handler=mode, shut=frozenset(shut), exhausts=running)
        for mode, shut in product(
            modes or (HandlerMode.OFF, *(mode for mode, _ in layout.mode_flow)),
            _subsets(layout.side_rooms[:MOST_DOORS]),
        )
    )
    solved = calibrated.solve(states, works, draws=1)
    return {
        zone: min(
            zip(states, solved, strict=True),
            key=lambda pair: (round(float(pair[1].pressure(zone)[0]), 6), len(pair[0].shut)),
        )[0]
        for zone in zones
    }


def worst_states(calibrated: Calibrated) -> tuple[WorstState, ...]:
    """Return the worst state of each room in which something burns, without and with the open fires lit."""
    layout = calibrated.network.layout
    zones = burning_zones(layout)
    by_fire = {
        with_fire: deepest_states(calibrated, zones, with_fire=with_fire)
        for with_fire in ((False, True) if fires_of(layout) else (False,))
    }
    return tuple(
        WorstState(zone=zone, with_fire=with_fire, state=states[zone])
        for zone in zones
        for with_fire, states in by_fire.items()
    )


def _subsets(names: tuple[str, ...]) -> list[tuple[str, ...]]:
    return list(chain.from_iterable(combinations(names, size) for size in range(len(names) + 1)))


def worst_cases(
    house: House,
    visits: tuple[Visit, ...],
    time: float = LATEST,
    calibrated: Calibrated | None = None,
    worst: tuple[WorstState, ...] | None = None,
) -> tuple[tuple[HousePressure, ...], tuple[Problem, ...]]:
    """Return the pressures of the house in states from one fan to every fan and fire, deepest suction first.

    Each exhaust alone, all of them, all with the open fires lit, the air handler alone, and for each zone with a
    combustion appliance the worst state found by search, without and with a fire. Measured worst cases stand beside
    the computed ones. Computed changes are from the same house with every fan off. ``calibrated`` and ``worst`` spare
    the work to a caller who has them.
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
    calibrated = calibrated or calibrate(house, visits, time)
    flows, problems = exhaust_flows(house, visits, time)
    if calibrated is None:
        _, missing = envelope_leakage(house, visits, time)
        return measured, missing + problems
    cases = [*_house_wide(calibrated, flows), *_burning_zones(calibrated, flows, worst or worst_states(calibrated))]
    ranked = sorted((*cases, *measured), key=lambda case: case.pressure.value)
    return tuple(ranked), problems + calibrated.problems


def _house_wide(calibrated: Calibrated, flows: tuple[NamedFlow, ...]) -> list[HousePressure]:
    layout = calibrated.network.layout
    fires = fires_of(layout)
    fans = frozenset(one.id for one in layout.exhausts) - fires
    states = {f"{one.id} alone": AirState(exhausts=frozenset({one.id})) for one in layout.exhausts}
    if fans:
        states["all exhaust fans"] = AirState(exhausts=fans)
    if fires:
        states["all exhaust fans and every open fire lit"] = AirState(exhausts=fans | fires)
    if layout.mode_flow:
        states["air handler alone"] = AirState(handler=layout.mode_flow[0][0])
    solved = calibrated.solve((AirState(), *states.values()))
    found = []
    for (name, state), one in zip(states.items(), solved[1:], strict=True):
        change = one.pressure(layout.main) - solved[0].pressure(layout.main)
        found.append(_case(name, state, estimate_of(change, "Pa"), flows, fires))
    return found


def _burning_zones(
    calibrated: Calibrated, flows: tuple[NamedFlow, ...], worst: tuple[WorstState, ...]
) -> list[HousePressure]:
    """Return the pressure of each room in which something burns in its worst state."""
    fires = fires_of(calibrated.network.layout)
    found = []
    for one in worst:
        on, off = calibrated.solve((one.state, replace(one.state, handler=HandlerMode.OFF, exhausts=frozenset())))
        change = estimate_of(on.pressure(one.zone) - off.pressure(one.zone), "Pa")
        words = state_words(one.state, one.zone, fires)
        found.append(_case(f"worst state found for {one.zone}: {words}", one.state, change, flows, fires))
    return found


def _case(
    name: str, state: AirState, change: Estimate, flows: tuple[NamedFlow, ...], fires: frozenset[str]
) -> HousePressure:
    return HousePressure(
        state=name,
        pressure=change,
        flows=tuple(one for one in flows if one.name in state.exhausts),
        has_fire_lit=bool(state.exhausts & fires),
        method=METHOD,
    )


def state_words(state: AirState, zone: str, fires: frozenset[str]) -> str:
    """Return a state in words: exhausts, fire, handler, doors."""
    fans = sorted(state.exhausts - fires)
    parts = [f"{', '.join(fans)} on" if fans else "no exhaust fan"]
    if state.exhausts & fires:
        parts.append("open fire lit")
    parts.append("air handler off" if state.handler is HandlerMode.OFF else f"air handler on {state.handler.value}")
    others = sorted(state.shut - {zone})
    if zone in state.shut:
        parts.append("its door shut")
    if others:
        parts.append(f"doors of {', '.join(others)} shut")
    if not state.shut:
        parts.append("doors open")
    return "; ".join(parts)


def leak_air(calibrated: Calibrated, works: Works = AS_FOUND, mode: HandlerMode | None = None) -> tuple[LeakAir, ...]:
    """Return the share of the handler's flow that return leaks draw from each space outside the rooms.

    Air that leaks in from rooms and basements is house air and not counted.
    """
    network = calibrated.network
    if not network.leak_zones:
        return ()
    (solved,) = calibrated.solve((AirState(handler=mode or network.layout.mode_flow[0][0]),), works)
    inside = {zone.id for zone in network.layout.inside}
    by_zone: dict[str, Floats] = {}
    for name, zone in network.leak_zones.items():
        if name.startswith("return") and zone not in inside:
            by_zone[zone] = by_zone.get(zone, np.zeros(solved.flows.shape[0])) + solved.flow(name)
    whole = solved.flow(BLOWER)
    return tuple(
        LeakAir(zone=zone, share=estimate_of(np.clip(flow / whole, 0.0, 1.0), "-")) for zone, flow in by_zone.items()
    )


def leak_shares(calibrated: Calibrated) -> dict[str, Estimate]:
    """Return each surveyed return leak's share of the handler's flow at its first speed, by id. [-]"""
    network = calibrated.network
    if not network.leak_zones:
        return {}
    (solved,) = calibrated.solve((AirState(handler=network.layout.mode_flow[0][0]),))
    whole = solved.flow(BLOWER)
    return {
        name.removeprefix("return leak/"): estimate_of(np.clip(solved.flow(name) / whole, 1e-4, 1.0), "-")
        for name in network.leak_zones
        if name.startswith("return leak/")
    }


def supply_lost(calibrated: Calibrated, works: Works = AS_FOUND) -> Estimate | None:
    """Return the share of the handler's flow that supply leaks lose outdoors. [-]"""
    network = calibrated.network
    if not network.leak_zones:
        return None
    (solved,) = calibrated.solve((AirState(handler=network.layout.mode_flow[0][0]),), works)
    return estimate_of(np.clip(solved.flow("supply leak outside") / solved.flow(BLOWER), 0.0, 1.0), "-")


def infiltration(calibrated: Calibrated, states: tuple[AirState, ...]) -> tuple[Floats, ...]:
    """Return outdoor air through the envelope and buffers into the rooms in each state. Each shape (N,) [m3/s]

    Air that return leaks bring is not counted.
    """
    network = calibrated.network
    inward = [link.name for link in network.frame.links if link.name.startswith("wall ")]
    through = [f"to {zone.id}" for zone in network.layout.buffers]
    found = []
    for one in calibrated.solve(states):
        walls = sum(np.maximum(one.flow(name), 0.0) for name in inward)
        spaces = sum(np.maximum(-one.flow(name), 0.0) for name in through)
        found.append(np.asarray(walls + spaces))
    return tuple(found)
