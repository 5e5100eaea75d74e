"""Baseline pressures, read with every fan off: what they say of stack and wind, and what zone pressures are measured from.

A zone pressure as read holds stack and wind. Less the baseline of the same visit it is the change that fans make, and that
is what the network is fitted to. The baseline itself is held against the stack that the network gives for the day's
temperatures; one that no stack of this house explains is named like any other reading that disagrees.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from airtally.arrays import Floats
from airtally.errors import Problem, Severity
from airtally.estimates import Estimate
from airtally.house.parts import House
from airtally.network.home.gauges import (
    LEAST_ROOM_ERROR,
    Gauge,
    Predict,
    change_between,
    gauge_of,
    node_of,
    quiet,
    state_of,
)
from airtally.network.home.house_network import HouseNetwork, heights_of
from airtally.network.home.solved import Solved
from airtally.network.solver.graph import OUTDOORS
from airtally.network.spread import spread
from airtally.parameters import Values
from airtally.physics.constants import DRY_AIR_CONSTANT, GRAVITY
from airtally.visits.parts import HouseState, Reading, Visit

HOSE_HEIGHT = 1.0
"""Where a zone's tap stands above its floor, outdoors at the same height: common practice, no source. [m]"""
LEAST_BASELINE_ERROR = (0.8, 0.3)
"""What a network of lumped leaks errs by in a baseline of a calm day: gusts [Pa], and the neutral level as a share; judgement."""
UNKNOWN_WIND = 1.5
"""What wind that nobody recorded may add to a baseline. [Pa]; judgement"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Baselines:
    """Equations that baselines and the pressures read from them give, and what was found wrong with them."""

    gauges: tuple[Gauge, ...]
    problems: tuple[Problem, ...]


def baselines_of(house: House, network: HouseNetwork, visits: tuple[Visit, ...], time: float) -> Baselines:
    """Return what baselines and pressures as read say of the house up to a time [s, POSIX UTC]."""
    gauges: list[Gauge] = []
    problems: list[Problem] = []
    heights = heights_of(house, network.layout, time)
    newest: dict[tuple[object, ...], tuple[Visit, Reading]] = {}
    for visit in visits:
        for key in ("baseline_pressure", "zone_pressure"):
            for reading in visit.find(key):
                state = () if key == "baseline_pressure" else _fans_of(reading.state)
                if reading.estimate is not None and reading.time <= time:
                    newest[key, reading.place, reading.reference, state] = visit, reading
    for visit, reading in newest.values():
        if reading.key == "baseline_pressure":
            gauges += _stack(network, heights, reading)
            continue
        baseline = _baseline_of(visit, reading)
        if baseline is None:
            problems.append(_without(visit, reading))
            continue
        change = _less(reading, baseline)
        written = _written(visit, reading)
        if written is None:
            gauges += _change(network, reading, change)
        elif not written.meets(change):
            problems.append(_conflict(visit, reading, written, change))
    return Baselines(gauges=tuple(gauges), problems=tuple(problems))


def _fans_of(state: HouseState) -> tuple[object, ...]:
    return state.doors, state.air_handler, state.exhausts_on, state.fires_lit


def _stack(network: HouseNetwork, heights: dict[str, tuple[float, float]], reading: Reading) -> list[Gauge]:
    """Return a baseline as an equation of the network at rest in the day's weather, none where that is not known."""
    day = reading.state
    place = node_of(network, reading.place)
    if place not in heights or node_of(network, reading.reference or "") != OUTDOORS or day.outdoor_temperature is None:
        return []
    state = quiet(state_of(network, day))
    if day.wind_speed is not None:
        state = replace(state, wind_speed=day.wind_speed.value)
    weight = network.frame.site_pressure * GRAVITY / DRY_AIR_CONSTANT
    per_height = weight * (1.0 / state.outdoor_temperature - 1.0 / state.indoor_temperature)
    column = per_height * (heights[place][0] + HOSE_HEIGHT)

    def predict(_: Values, solved: tuple[Solved, ...]) -> Floats:
        return np.asarray(solved[0].pressure(place) + column)

    floor, share = LEAST_BASELINE_ERROR
    calm = floor if day.wind_speed is not None else float(np.hypot(floor, UNKNOWN_WIND))
    return [gauge_of(reading, (state,), predict, calm, share)]


def _change(network: HouseNetwork, reading: Reading, change: Estimate) -> list[Gauge]:
    """Return a pressure as read, less its baseline, as an equation of the change that fans make."""
    ends = node_of(network, reading.place), node_of(network, reading.reference or "")
    if None in ends:
        return []
    state = state_of(network, reading.state)
    predict: Predict = change_between(str(ends[0]), str(ends[1]))
    return [gauge_of(replace(reading, value=change), (state, quiet(state)), predict, *LEAST_ROOM_ERROR)]


def _baseline_of(visit: Visit, reading: Reading) -> Reading | None:
    """Return the visit's baseline of the same place against the same reference, the last one before the reading if any is."""
    found = [
        one
        for one in visit.find("baseline_pressure", reading.place)
        if one.estimate is not None and (one.reference or "") == (reading.reference or "")
    ]
    before = [one for one in found if one.time <= reading.time]
    return next(reversed(before or found), None)


def _less(reading: Reading, baseline: Reading) -> Estimate:
    if reading.estimate is None or baseline.estimate is None:
        raise AssertionError
    return spread(
        lambda read, rest: read - rest,
        reading.estimate,
        baseline.estimate,
        unit="Pa",
        source="as read less the baseline of the same visit",
    )


def _written(visit: Visit, reading: Reading) -> Estimate | None:
    """Return the change that the visit wrote down itself for the same place, reference and state."""
    for key in ("zone_pressure_change", "worst_case_pressure_change"):
        for one in visit.find(key, reading.place):
            is_alike = one.reference == reading.reference and _fans_of(one.state) == _fans_of(reading.state)
            if one.estimate is not None and is_alike:
                return one.estimate
    return None


def _without(visit: Visit, reading: Reading) -> Problem:
    return Problem(
        code="network-no-baseline",
        where=f"visit {visit.id}, zone_pressure of {reading.place}",
        found="a pressure as read, stack and wind included, and no baseline of that visit",
        wanted="baseline_pressure of the same place with every fan off",
        remedy="Read it; until then the pressure changes no computed number.",
        severity=Severity.NOTE,
    )


def _conflict(visit: Visit, reading: Reading, written: Estimate, change: Estimate) -> Problem:
    return Problem(
        code="network-baseline-disagrees",
        where=f"visit {visit.id}, {reading.place}",
        found=f"a change of {written.value:.1f} Pa was written; as read less the baseline it is {change.value:.1f} Pa: "
        f"{abs(written.value - change.value):.1f} Pa apart, more than the gauge explains",
        wanted="a change that is the pressure as read less the baseline",
        remedy="Check signs and references; the written change is used until one of the three is mended.",
    )
