"""The hookup's closed form against the solved network: the same loop as nodes and links, blower on and off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.network.hookup_parts import CFM, HEATING, HOOKUP, INCH, INCH_OF_WATER, plain_fitting, sure

from airtally.network.ducts.hookup_loop import loop_numbers
from airtally.network.ducts.hookup_parts import CleanerFan, Hookup, LoopDuct
from airtally.network.ducts.hookup_states import return_states, supply_states
from airtally.network.solver.graph import OUTDOORS, Fan, FixedFlow, Leak, Link, Network, Node, Solution
from airtally.network.solver.graph import Resistance as Path
from airtally.network.solver.solve import solve

ROOM = 294.15
COEFFICIENTS = 4.0
DIAMETER = 8 * INCH
LOOP_SQUARE = COEFFICIENTS * 0.5 * 1.07 / (np.pi / 4.0 * DIAMETER**2) ** 2
"""A loop of fittings only: dp = C rho / (2 A^2) q^2. [Pa s2/m6]"""
CLEANER = CleanerFan(
    name="bypass cleaner", free_flow=sure(250 * CFM, "m3/s"), shut_off=sure(150.0, "Pa"), shape=sure(2.0)
)
BARE = LoopDuct(diameter=DIAMETER, rigid_length=sure(0.0, "m"), fittings=(plain_fitting(COEFFICIENTS, name="exit"),))
JOB: Hookup = replace(
    HOOKUP,
    cleaner=CLEANER,
    loop=BARE,
    states=(HEATING,),
    mixed_back=sure(0.0),
    efficiency=sure(1.0),
    wanted_clean_air=None,
)
BETWEEN, TOTAL, FLOW = 0.05 * INCH_OF_WATER, 0.62 * INCH_OF_WATER, 1010 * CFM


def cleaner_fan() -> Fan:
    """Return the cleaner's parabola as points, its shut-off brought to the job's density as the closed form does."""
    flows = np.linspace(0.0, 250 * CFM, 400)
    pressures = 150.0 * 1.07 / 1.2014 * (1.0 - (flows / (250 * CFM)) ** 2)
    return Fan(flows=tuple(map(float, flows)), pressures=tuple(map(float, pressures)))


def square(pressure: float, flow: float = FLOW) -> Path:
    """Return a way that takes a pressure at a flow, nearly square in it."""
    return Path(linear=0.0, square=pressure / flow**2)


def solved(*links: Link, nodes: tuple[str, ...]) -> Solution:
    tie = Link(
        name="tie", start=nodes[0], end=OUTDOORS, law=Leak(coefficient=1e-3, exponent=0.65)
    )  # holds the level, carries nothing
    found = solve(
        Network(
            nodes=tuple(Node(name=name, temperature=ROOM) for name in nodes),
            links=(*links, tie),
            outdoor_temperature=ROOM,
        )
    )
    assert isinstance(found, Solution), found
    return found


def test_blower_off_agrees_with_the_solved_network() -> None:
    """Second method: taps, loop, stretch, and the way round through blower, supplies, rooms and grilles."""
    stopped = 1.0
    found = solved(
        Link(name="cleaner", start="take-off", end="box", law=cleaner_fan()),
        Link(name="loop", start="box", end="re-entry", law=Path(linear=0.0, square=LOOP_SQUARE)),
        Link(name="stretch", start="take-off", end="re-entry", law=square(BETWEEN)),
        Link(name="house", start="re-entry", end="take-off", law=square(TOTAL * (1.0 + stopped) - BETWEEN)),
        nodes=("take-off", "box", "re-entry"),
    )
    off = return_states(JOB, loop_numbers(JOB))[-1]
    assert_allclose(off.loop_flow.value, found.flows["cleaner"], rtol=1e-3)
    assert_allclose(off.between_taps.value, found.flows["stretch"], rtol=1e-3)
    assert_allclose(off.recirculated.value, -found.flows["stretch"] / found.flows["cleaner"], rtol=1e-3)
    assert_allclose(off.clean_air.value, found.flows["house"], rtol=2e-3)


@pytest.mark.parametrize("trunk_cfm", [1010.0, 400.0, 180.0])
def test_blower_on_agrees_with_the_solved_network_also_where_the_loop_draws_more_than_the_trunk(
    trunk_cfm: float,
) -> None:
    state = replace(HEATING, flow=sure(trunk_cfm * CFM, "m3/s"))
    found = solved(
        Link(name="blower", start="re-entry", end="take-off", law=FixedFlow(flow=trunk_cfm * CFM)),
        Link(name="cleaner", start="take-off", end="box", law=cleaner_fan()),
        Link(name="loop", start="box", end="re-entry", law=Path(linear=0.0, square=LOOP_SQUARE)),
        Link(name="stretch", start="take-off", end="re-entry", law=square(BETWEEN, trunk_cfm * CFM)),
        nodes=("take-off", "box", "re-entry"),
    )
    hookup = replace(JOB, states=(state,))
    on = return_states(hookup, loop_numbers(hookup))[0]
    assert_allclose(on.loop_flow.value, found.flows["cleaner"], rtol=1e-3)
    assert_allclose(on.between_taps.value, found.flows["stretch"], rtol=1e-3, atol=1e-5)
    own = max(-found.flows["stretch"], 0.0) / found.flows["cleaner"]
    assert_allclose(on.recirculated.value, own, rtol=2e-3, atol=1e-4)


def test_supply_side_with_the_blower_off_agrees_with_the_solved_network() -> None:
    """Second method: registers and rooms on one way, stopped blower and filter on the other."""
    found = solved(
        Link(name="cleaner", start="return", end="box", law=cleaner_fan()),
        Link(name="loop", start="box", end="plenum", law=Path(linear=0.0, square=LOOP_SQUARE)),
        Link(name="house", start="plenum", end="return", law=square(0.49 * INCH_OF_WATER)),
        Link(name="blower", start="plenum", end="return", law=square((0.15 + 0.62) * INCH_OF_WATER)),
        nodes=("return", "box", "plenum"),
    )
    off = {state.name: state for state in supply_states(JOB, loop_numbers(JOB))}["blower off"]
    assert_allclose(off.loop_flow.value, found.flows["cleaner"], rtol=1e-3)
    assert_allclose(off.clean_air.value, found.flows["house"], rtol=2e-3)
    assert_allclose(off.recirculated.value, found.flows["blower"] / found.flows["cleaner"], rtol=1e-3)
