"""Readings of visits as equations of a house's network: what each says, in which state, and how sure it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from airtally.arrays import Floats
from airtally.estimates import Estimate
from airtally.network.home.from_survey import newest
from airtally.network.home.house_network import (
    BLOWER,
    FILTERED,
    PLENUM,
    RETURN,
    SUPPLY_DUCT,
    AirState,
    HouseNetwork,
    fires_of,
)
from airtally.network.home.solved import Solved
from airtally.network.home.unknowns import INTERVAL, MODES
from airtally.network.solver.graph import OUTDOORS
from airtally.parameters import Values
from airtally.visits.parts import ALL, Doors, HandlerMode, HouseState, Reading, Visit

Predict = Callable[[Values, tuple[Solved, ...]], Floats]
"""From N sets of unknowns and the solutions of a gauge's states to what the gauge would read. Shape (N,)."""
LEAST_ROOM_ERROR = (0.2, 0.12)
"""What a network of lumped rooms errs by in a room pressure: a floor [Pa] and a share [-]; judgement."""
ROOM_KEYS = (
    "house_pressure_fan_on_minus_off",
    "zone_pressure_change",
    "worst_case_pressure_change",
    "burn_pressure_change",
)
"""Readings that are a change of a room's pressure from its baseline."""
LEAST_STATIC_ERROR = (2.0, 0.03)
"""The same for statics: a floor [Pa] and a share [-]; judgement."""
LEAST_FLOW_STEP = 1e-3
"""What a flow gauge tells apart, 2 cfm: judgement. [m3/s]"""
LEAST_FLOW_ERROR = 0.03
"""The same for flows, as a share; judgement. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """One reading as an equation. ``value`` and ``deviation`` are in the reading's SI unit.

    ``states`` are those to solve for ``predict``; ``where`` names visit, key and place.
    """

    key: str
    where: str
    unit: str
    value: float
    deviation: float
    states: tuple[AirState, ...]
    predict: Predict


def gauges_of(network: HouseNetwork, visits: tuple[Visit, ...], leakage: Estimate, time: float) -> tuple[Gauge, ...]:
    """Return the equations that the newest readings up to a time [s, POSIX UTC] give.

    ``leakage`` is the house's at 50 Pa [m3/s], measured or surveyed.
    """
    found = [_house_leakage(network, leakage), *_leakage(network, visits, time), *_rooms(network, visits, time)]
    for mode, surveyed in network.layout.mode_flow:
        found += _at_speed(network, visits, time, mode)
        if not any(g.key == "airflow" and g.states[0].handler is mode for g in found):
            deviation = max((surveyed.high - surveyed.low) / 2.0 / INTERVAL, 0.05 * surveyed.value)
            found.append(
                Gauge(
                    key="airflow",
                    where=f"survey.toml, air_handler.speed[{mode.value}].flow",
                    unit="m3/s",
                    value=surveyed.value,
                    deviation=deviation,
                    states=(AirState(handler=mode),),
                    predict=lambda _, solved: solved[0].flow(BLOWER),
                )
            )
    return tuple(found)


def _house_leakage(network: HouseNetwork, leakage: Estimate) -> Gauge:
    deviation = max((leakage.high - leakage.low) / 2.0 / INTERVAL, LEAST_FLOW_ERROR * leakage.value)
    return Gauge(
        key="cfm50",
        where=f"house leakage at 50 Pa, {leakage.source}",
        unit="m3/s",
        value=leakage.value,
        deviation=deviation,
        states=(),
        predict=lambda values, _: network.house_leakage_at_50(values),
    )


def _leakage(network: HouseNetwork, visits: tuple[Visit, ...], time: float) -> list[Gauge]:
    """Return house and duct leakage: no state needs solving for them."""
    leaks = list(network.leak_zones)
    outside = [n for n in leaks if network.leak_zones[n] not in {z.id for z in network.layout.inside}]
    sums = {
        "cfm25_total": leaks,
        "cfm25_outside": outside,
        "cfm25_return": [n for n in leaks if n.startswith("return")],
        "cfm25_supply": [n for n in leaks if n.startswith("supply")],
    }
    found = []
    for key, names in sums.items():
        for place in sorted({reading.place for visit in visits for reading in visit.find(key)}):
            reading = newest(visits, key, time=time, place=place)
            if reading is None or not names:
                continue
            own = [n for n in names if network.leak_zones[n] == place] or names
            if key in ("cfm25_return", "cfm25_supply") and place not in ("ducts", "house", "air handler"):
                names_here = own
            else:
                names_here = names

            def predict(values: Values, _: tuple[Solved, ...], some: tuple[str, ...] = tuple(names_here)) -> Floats:
                return np.asarray(sum(network.leak_at_25(values, name) for name in some))

            found.append(gauge_of(reading, (), predict, LEAST_FLOW_STEP, LEAST_FLOW_ERROR))
    return found


def _at_speed(network: HouseNetwork, visits: tuple[Visit, ...], time: float, mode: HandlerMode) -> list[Gauge]:
    """Return airflow and statics at one blower speed."""
    main = network.layout.main
    probes: dict[str, Predict] = {
        "airflow": lambda _, s: s[0].flow(BLOWER),
        "tesp": lambda _, s: s[0].pressure(PLENUM) - s[0].pressure(FILTERED),
        "return_static": lambda _, s: s[0].pressure(main) - s[0].pressure(FILTERED),
        "supply_static": lambda _, s: s[0].pressure(PLENUM) - s[0].pressure(main),
        "filter_drop": lambda _, s: s[0].pressure(RETURN) - s[0].pressure(FILTERED),
        "coil_drop": lambda v, s: network.coil_drop(v, mode, s[0].flow(SUPPLY_DUCT)),
    }
    found = []
    for key, predict in probes.items():
        reading = newest(visits, key, time=time, mode=mode)
        if reading is None or not network.leak_zones:
            continue
        floor, share = (LEAST_FLOW_STEP, LEAST_FLOW_ERROR) if key == "airflow" else LEAST_STATIC_ERROR
        found.append(gauge_of(reading, (state_of(network, reading.state),), predict, floor, share))
    return found


def _rooms(network: HouseNetwork, visits: tuple[Visit, ...], time: float) -> list[Gauge]:
    """Return pressures of house, rooms and appliance zones, each against its baseline."""
    found = []
    for key in ROOM_KEYS:
        for place, reference in sorted({(r.place, r.reference or "") for v in visits for r in v.find(key)}):
            readings = [
                r
                for v in visits
                for r in v.find(key, place)
                if r.estimate is not None and r.time <= time and (r.reference or "") == reference
            ]
            for reading in _newest_by_state(readings):
                ends = node_of(network, place), node_of(network, reference)
                if None in ends:
                    continue
                state = state_of(network, reading.state)
                if state.handler in MODES and not any(m is state.handler for m, _ in network.layout.mode_flow):
                    continue
                found.append(
                    gauge_of(
                        reading, (state, quiet(state)), change_between(str(ends[0]), str(ends[1])), *LEAST_ROOM_ERROR
                    )
                )
    return found


def _newest_by_state(readings: list[Reading]) -> list[Reading]:
    """Return the newest reading of each doors, fans and fires; the weather of the day does not part them."""
    newest_one: dict[tuple[object, ...], Reading] = {}
    for reading in sorted(readings, key=lambda one: one.time):
        s = reading.state
        newest_one[s.doors, s.air_handler, s.exhausts_on, s.fires_lit] = reading
    return list(newest_one.values())


def change_between(place: str, reference: str) -> Predict:
    """Return the equation of a pressure between two nodes as a change from the second of two states to the first."""

    def predict(_: Values, solved: tuple[Solved, ...]) -> Floats:
        on, off = (s.pressure(place) - s.pressure(reference) for s in solved)
        return np.asarray(on - off)

    return predict


def quiet(state: AirState) -> AirState:
    """Return the same doors and weather with every fan and fire off."""
    return replace(state, handler=HandlerMode.OFF, exhausts=frozenset())


def node_of(network: HouseNetwork, name: str) -> str | None:
    """Return the node that a reading's place or reference names, None where the network has none."""
    if name in ("outdoors", ""):
        return OUTDOORS
    if name in ("house", "main body"):
        return network.layout.main
    known = {zone.id for zone in (*network.layout.inside, *network.layout.buffers)}
    return name if name in known else None


def state_of(network: HouseNetwork, state: HouseState) -> AirState:
    """Return the network's state for a visit's: unknown doors count as open, unknown fans as off.

    With doors "worst case" the room of the reading is shut and the others stand as they draw it down most: shut,
    as shut rooms keep their supply air from the main body.
    """
    layout = network.layout
    fires = fires_of(layout)
    fans = frozenset(one.id for one in layout.exhausts) - fires
    running = fans if state.exhausts_on == ALL else frozenset(state.exhausts_on or ()) & fans
    lit = fires if state.fires_lit else frozenset()
    shut = frozenset(layout.side_rooms) if state.doors in (Doors.CLOSED, Doors.WORST_CASE) else frozenset()
    modes = [mode for mode, _ in layout.mode_flow]
    handler = state.air_handler if state.air_handler in modes else HandlerMode.OFF
    made = AirState(handler=handler, shut=shut, exhausts=running | lit)
    if state.outdoor_temperature is not None:
        made = replace(made, outdoor_temperature=state.outdoor_temperature.value)
    if state.indoor_temperature is not None:
        made = replace(made, indoor_temperature=state.indoor_temperature.value)
    return made


def gauge_of(reading: Reading, states: tuple[AirState, ...], predict: Predict, floor: float, share: float) -> Gauge:
    """Return a measured reading as an equation; the network's own error has a floor in the reading's unit and a share [-]."""
    estimate = reading.estimate
    if estimate is None:
        raise AssertionError
    own = (estimate.high - estimate.low) / 2.0 / INTERVAL
    deviation = float(np.sqrt(own**2 + floor**2 + (share * estimate.value) ** 2))
    return Gauge(
        key=reading.key,
        where=f"visits.toml, {reading.key} of {reading.place}",
        unit=estimate.unit,
        value=estimate.value,
        deviation=deviation,
        states=states,
        predict=predict,
    )
