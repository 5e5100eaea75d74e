"""The solved network against worked examples and closed forms.

Sources: E4, E5, E6, E9, E10 and E11 are the worked examples of the project's list of airflow check values, sections 4
and 11, computed there analytically or as a root of the same balance; E10 carries a book value of its own.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from numpy.testing import assert_allclose

from airtally.network.solver.graph import (
    OUTDOORS,
    Fan,
    FixedFlow,
    Law,
    Leak,
    Link,
    Network,
    Node,
    OneWay,
    Resistance,
    Solution,
)
from airtally.network.solver.solve import solve

CFM = 0.3048**3 / 60.0
INCH = 249.08891
COLD, WARM = 273.15, 293.15
GAS = 287.042  # dry air, ASHRAE Fundamentals, chapter 1


def density(temperature: float) -> float:
    return 101_325.0 / (GAS * temperature)


def solved(network: Network) -> Solution:
    answer = solve(network)
    assert isinstance(answer, Solution)
    assert answer.imbalance <= 1e-9
    return answer


def house(*links: Link, indoors: float = WARM, outdoors: float = WARM, others: tuple[Node, ...] = ()) -> Solution:
    nodes = (Node(name="house", temperature=indoors), *others)
    return solved(Network(nodes=nodes, links=links, outdoor_temperature=outdoors))


def to_outdoors(name: str, law: Law, *, start: str = "house", height: float = 0.0, lift: float = 0.0) -> Link:
    return Link(name=name, start=start, end=OUTDOORS, law=law, height=height, lift=lift)


def orifice(area: float, temperature: float) -> Leak:
    """Return a sharp hole, Cd 0.6, for air of one temperature flowing through."""
    return Leak(coefficient=0.6 * area * sqrt(2.0 / density(temperature)), exponent=0.5)


@pytest.mark.parametrize(
    ("low", "high", "neutral_level", "mass_flow"),
    [(0.02, 0.02, 2.4117, 0.027859), (0.02, 0.01, 0.9447, 0.017436), (0.01, 0.02, 3.9423, 0.017809)],
)
def test_two_openings_pass_the_stack_flow_of_e4(
    low: float, high: float, neutral_level: float, mass_flow: float
) -> None:
    answer = house(
        to_outdoors("low", orifice(low, COLD)),
        to_outdoors("high", orifice(high, WARM), height=5.0),
        indoors=WARM,
        outdoors=COLD,
    )
    per_metre = 9.80665 * (density(COLD) - density(WARM))
    assert_allclose(-answer.pressures["house"] / per_metre, neutral_level, rtol=1e-3)  # closed forms, 0.1 %
    assert_allclose(answer.mass_flows["high"], mass_flow, rtol=1e-3)
    assert_allclose(answer.mass_flows["low"], -mass_flow, rtol=1e-3)
    assert_allclose(per_metre * 5.0, 4.3232, rtol=1e-4)


def test_e4_gives_the_pressure_across_either_opening() -> None:
    answer = house(
        to_outdoors("low", orifice(0.02, COLD)),
        to_outdoors("high", orifice(0.02, WARM), height=5.0),
        indoors=WARM,
        outdoors=COLD,
    )
    assert_allclose(answer.pressures["house"], -2.0852, rtol=1e-4)
    assert_allclose(answer.pressures["house"] + 4.3232, 2.2379, rtol=1e-4)


def exhausted(mass_flow: float, top_air: float) -> Solution:
    return house(
        to_outdoors("low", orifice(0.02, COLD)),
        to_outdoors("high", orifice(0.02, top_air), height=5.0),
        to_outdoors("fan", FixedFlow(flow=mass_flow / density(WARM))),
        indoors=WARM,
        outdoors=COLD,
    )


def test_an_exhaust_turns_both_openings_inward_as_in_e5() -> None:
    answer = exhausted(0.06, top_air=COLD)
    assert_allclose(answer.pressures["house"], -5.0628, rtol=1e-3)
    assert_allclose(answer.mass_flows["low"], -0.043409, rtol=1e-3)
    assert_allclose(answer.mass_flows["high"], -0.016591, rtol=1e-3)
    assert_allclose(answer.mass_flows["fan"], 0.06, rtol=1e-12)


def test_the_exhaust_of_e5_that_just_stops_outflow_at_the_top_stops_it() -> None:
    just_below = exhausted(0.040113 * 0.999, top_air=WARM).mass_flows["high"]
    just_above = exhausted(0.040113 * 1.001, top_air=COLD).mass_flows["high"]
    assert just_below > 0.0 > just_above


def hand_network(exhaust: float) -> Solution:
    links = (
        to_outdoors("direct", Leak(coefficient=60.0 * CFM)),
        to_outdoors("vents", Leak(coefficient=200.0 * CFM), start="crawlspace"),
        Link(name="floor", start="house", end="crawlspace", law=Leak(coefficient=30.0 * CFM)),
        to_outdoors("exhaust", FixedFlow(flow=exhaust * CFM)),
    )
    return house(*links, others=(Node(name="crawlspace", temperature=WARM),))


def test_the_hand_network_of_e6_gives_its_pressures_and_flows() -> None:
    answer = hand_network(100.0)
    assert_allclose(answer.pressures["house"], -1.1965, rtol=1e-3)
    assert_allclose(answer.pressures["crawlspace"], -0.0613, rtol=1e-3)
    assert_allclose(answer.flows["floor"] / CFM, -32.58, rtol=1e-3)
    assert_allclose(answer.flows["direct"] / CFM, -67.42, rtol=1e-3)


def test_more_exhaust_keeps_the_crawlspace_share_of_e6() -> None:
    answer = hand_network(150.0)
    assert_allclose(answer.pressures["house"], -2.2327, rtol=1e-3)
    assert_allclose(answer.flows["floor"] / CFM, -48.87, rtol=1e-3)
    assert_allclose(answer.flows["floor"] / CFM / 150.0, -0.3258, rtol=1e-3)


def blower(loop: list[Law]) -> Solution:
    """Return a fan 1.0 - 0.5 x^2 inH2O, x of 1200 cfm, round a loop of resistances, tied to outdoors by a leak."""
    x = np.linspace(0.2, 1.3, 111)
    fan = Fan(flows=tuple((x * 1200.0 * CFM).tolist()), pressures=tuple(((1.0 - 0.5 * x**2) * INCH).tolist()))
    names = ["house", "after fan", "after filter"][: len(loop) + 1]
    links = [Link(name="fan", start="house", end="after fan", law=fan)]
    links += [
        Link(name=f"part {i}", start=names[i + 1], end=[*names[2:], "house"][i], law=law) for i, law in enumerate(loop)
    ]
    links.append(to_outdoors("tie", Leak(coefficient=1e-3)))
    return house(*links, others=tuple(Node(name=name, temperature=WARM) for name in names[1:]))


def test_a_blower_meets_its_ducts_and_an_in_line_filter_where_e9_says() -> None:
    ducts = Resistance(linear=0.0, square=0.5 * INCH / (1200.0 * CFM) ** 2)
    hepa = Resistance(linear=1.0 * INCH / (1000.0 * CFM), square=0.0)
    assert_allclose(blower([ducts]).flows["fan"] / CFM, 1200.0, rtol=1e-3)
    with_filter = blower([ducts, hepa])
    assert_allclose(with_filter.flows["fan"] / CFM, 679.0, rtol=1e-3)
    taken = with_filter.pressures["after filter"] - with_filter.pressures["house"]
    assert_allclose(taken / INCH, 0.679, rtol=1e-3)


@pytest.mark.parametrize(
    ("height", "flue", "outdoors", "draft", "tolerance"),
    [
        (30.48, (500.0 + 459.67) / 1.8, (60.0 + 459.67) / 1.8, 0.67 * INCH, 1e-2),  # printed in Steam, eq. 24
        (5.0, 473.15, 273.15, 26.8, 2e-3),
    ],
)
def test_a_warm_flue_pulls_the_draft_of_e10(
    height: float, flue: float, outdoors: float, draft: float, tolerance: float
) -> None:
    links = (
        to_outdoors("cap", Leak(coefficient=0.01, exponent=0.5), start="flue", height=height),
        to_outdoors("shut damper", Leak(coefficient=1e-9, exponent=0.5), start="flue"),
    )
    nodes = (Node(name="flue", temperature=flue),)
    answer = solved(Network(nodes=nodes, links=links, outdoor_temperature=outdoors))
    assert_allclose(-answer.pressures["flue"], draft, rtol=tolerance)


@pytest.mark.parametrize(("exhaust", "flow_at_50", "pressure"), [(250.0, 1000.0, -5.93), (300.0, 1340.0, -5.0)])
def test_an_exhaust_draws_the_house_down_as_in_e11(exhaust: float, flow_at_50: float, pressure: float) -> None:
    answer = house(
        to_outdoors("envelope", Leak(coefficient=flow_at_50 * CFM / 50.0**0.65)),
        to_outdoors("exhaust", FixedFlow(flow=exhaust * CFM)),
    )
    assert_allclose(answer.pressures["house"], pressure, rtol=1.5e-3)


def test_wind_on_one_wall_blows_through_as_two_orifices_in_series() -> None:
    """Half of the lift stands across each of two equal openings: symmetry, no source needed."""
    answer = house(
        Link(name="windward", start=OUTDOORS, end="house", law=Leak(coefficient=0.02, exponent=0.5), lift=6.0),
        to_outdoors("leeward", Leak(coefficient=0.02, exponent=0.5)),
    )
    assert_allclose(answer.pressures["house"], 3.0, rtol=1e-9)
    assert_allclose(answer.flows["leeward"], 0.02 * sqrt(3.0), rtol=1e-9)


def test_a_check_damper_passes_one_way_and_leaks_the_other() -> None:
    damper = OneWay(coefficient=0.02, exponent=0.5, closed_coefficient=0.0002)
    for sign, coefficient in ((1.0, 0.02), (-1.0, 0.0002)):
        answer = house(
            Link(name="damper", start="house", end=OUTDOORS, law=damper, lift=sign * 9.0),
            to_outdoors("wide", Leak(coefficient=10.0, exponent=0.5)),
        )
        assert_allclose(answer.flows["damper"], sign * coefficient * 3.0, rtol=1e-4)


def fan_alone(lift: float) -> float:
    fan = Fan(flows=(0.0, 0.1, 0.2), pressures=(100.0, 98.0, 0.0))
    tied = to_outdoors("wide", Leak(coefficient=1e4, exponent=1.0))
    return house(to_outdoors("fan", fan, lift=lift), tied).flows["fan"]


def test_a_fan_follows_its_points_and_goes_on_straight_beyond_both_ends() -> None:
    assert_allclose(fan_alone(0.0), 0.2, rtol=1e-3)
    assert_allclose(fan_alone(-49.0), 0.15, rtol=1e-3)
    assert_allclose(fan_alone(-99.0), 0.05, rtol=1e-3)
    assert_allclose(fan_alone(98.0), 0.3, rtol=1e-3)  # the last piece is the steeper
    assert_allclose(fan_alone(-200.0), -0.2, rtol=1e-3)  # the whole curve is: 100 Pa take 0.2 m3/s, not 5


def test_a_fan_blowing_into_a_nearly_tight_room_stands_at_shut_off() -> None:
    fan = Fan(flows=(0.0, 0.05), pressures=(150.0, 0.0))
    answer = house(Link(name="fan", start=OUTDOORS, end="house", law=fan), to_outdoors("leak", Leak(coefficient=1e-10)))
    leak = 1e-10 * answer.pressures["house"] ** 0.65
    assert_allclose(answer.pressures["house"], 150.0 - 3000.0 * leak, rtol=1e-12)
    assert_allclose(answer.flows["leak"], leak, rtol=1e-9)
    assert_allclose(answer.flows["fan"], leak, rtol=1e-3)  # a billionth of the fan's flow, still in balance


def test_rooms_joined_by_a_wide_door_and_held_by_a_tiny_leak_keep_their_small_difference() -> None:
    """The door's pressure is far below the last digit of the rooms' own: the flow through it still balances."""
    leak, door = 1e-7, 1.0
    answer = house(
        Link(name="in", start=OUTDOORS, end="house", law=Leak(coefficient=leak, exponent=0.5), lift=64.0),
        Link(name="door", start="house", end="room", law=Leak(coefficient=door, exponent=0.5)),
        to_outdoors("out", Leak(coefficient=leak, exponent=0.5), start="room"),
        others=(Node(name="room", temperature=WARM),),
    )
    through = leak * sqrt(32.0)
    assert_allclose(answer.pressures["room"], 32.0, rtol=1e-9)
    for name in ("in", "door", "out"):
        assert_allclose(answer.flows[name], through, rtol=1e-9)


def test_without_drive_every_pressure_and_flow_is_exactly_zero() -> None:
    answer = house(
        to_outdoors("low", Leak(coefficient=0.02)),
        to_outdoors("high", Leak(coefficient=0.03, exponent=0.5), height=4.0),
        Link(name="door", start="house", end="room", law=Resistance(linear=0.0, square=9.0), height=1.0),
        to_outdoors("damper", OneWay(coefficient=0.1, exponent=0.5, closed_coefficient=1e-6), start="room"),
        to_outdoors("idle", FixedFlow(flow=0.0)),
        others=(Node(name="room", temperature=WARM),),
    )
    assert set(answer.pressures.values()) == {0.0}
    assert set(answer.flows.values()) == {0.0}
    assert answer.iterations == 0
