"""What the solver refuses, by name and in words; an answer that did not settle never leaves it."""

from __future__ import annotations

from dataclasses import replace
from unittest import mock

import numpy as np
import pytest

from airtally.errors import InputError
from airtally.network.problems import PROBLEMS
from airtally.network.solver import kernel
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
    Refusal,
    Resistance,
    Solution,
)
from airtally.network.solver.solve import Compiled, compile_network, solve, solve_cases

NAN, INF = float("nan"), float("inf")


def network(law: Law | None = None, **changes: object) -> Network:
    links = (
        Link(name="low", start="house", end=OUTDOORS, law=Leak(coefficient=0.02)),
        Link(name="high", start="house", end=OUTDOORS, law=law or Leak(coefficient=0.02), height=5.0),
    )
    base = Network(nodes=(Node(name="house", temperature=293.0),), links=links, outdoor_temperature=273.0)
    return replace(base, **changes)  # type: ignore[arg-type]


def refused(one: Network) -> Refusal:
    answer = solve(one)
    assert isinstance(answer, Refusal)
    assert answer.code in PROBLEMS
    assert answer.problem.wanted
    assert answer.problem.remedy
    return answer


@pytest.mark.parametrize(
    "law",
    [
        Leak(coefficient=0.0),
        Leak(coefficient=-1.0),
        Leak(coefficient=NAN),
        Leak(coefficient=1.0, exponent=INF),
        Leak(coefficient=1.0, exponent=0.0),
        Resistance(linear=0.0, square=0.0),
        Resistance(linear=-1.0, square=1.0),
        Resistance(linear=NAN, square=1.0),
        OneWay(coefficient=1.0, exponent=0.5, closed_coefficient=0.0),
        OneWay(coefficient=NAN, exponent=0.5, closed_coefficient=0.1),
        Fan(flows=(0.0, 1.0), pressures=(NAN, 0.0)),
        FixedFlow(flow=NAN),
    ],
)
def test_a_law_with_a_number_it_cannot_take_is_refused_with_its_link(law: Law) -> None:
    refusal = refused(network(law))
    assert refusal.code == "network-bad-number"
    assert refusal.where == "link high"


@pytest.mark.parametrize(
    ("flows", "pressures"),
    [
        ((0.0, 0.1, 0.2), (90.0, 100.0, 0.0)),
        ((0.0, 0.1, 0.2), (90.0, 90.0, 0.0)),
        ((0.0, 0.2, 0.1), (90.0, 50.0, 0.0)),
        ((0.0, 0.0), (90.0, 0.0)),
        ((0.1,), (90.0,)),
        ((), ()),
        ((0.0, 0.1), (90.0, 50.0, 0.0)),
    ],
)
def test_a_fan_curve_that_does_not_fall_is_refused(flows: tuple[float, ...], pressures: tuple[float, ...]) -> None:
    refusal = refused(network(Fan(flows=flows, pressures=pressures)))
    assert refusal.code == "network-fan-curve"
    assert refusal.where == "link high"


def test_a_room_that_hangs_on_nothing_is_refused_by_its_name() -> None:
    attic, loft = Node(name="attic", temperature=290.0), Node(name="loft", temperature=290.0)
    between = Link(name="hatch", start="attic", end="loft", law=Leak(coefficient=0.1))
    one = network()
    refusal = refused(replace(one, nodes=(*one.nodes, attic, loft), links=(*one.links, between)))
    assert (refusal.code, refusal.where) == ("network-not-connected", "node attic")


def test_a_fixed_flow_is_no_path_to_outdoors() -> None:
    one = network()
    alone = replace(one, links=(Link(name="fan", start="house", end=OUTDOORS, law=FixedFlow(flow=0.1)),))
    refusal = refused(alone)
    assert (refusal.code, refusal.where) == ("network-not-connected", "node house")
    assert "fixed flows are no paths" in refusal.why


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"start": "cellar"}, "link low"),
        ({"end": "house"}, "link low"),
        ({"name": "high"}, "link high"),
    ],
)
def test_a_link_with_a_wrong_name_is_refused(change: dict[str, str], where: str) -> None:
    one = network()
    refusal = refused(replace(one, links=(replace(one.links[0], **change), one.links[1])))  # type: ignore[arg-type]
    assert (refusal.code, refusal.where) == ("network-names", where)


@pytest.mark.parametrize("name", ["house", OUTDOORS])
def test_a_node_with_a_name_that_is_taken_is_refused(name: str) -> None:
    one = network()
    refusal = refused(replace(one, nodes=(*one.nodes, Node(name=name, temperature=290.0))))
    assert (refusal.code, refusal.where) == ("network-names", f"node {name}")


def test_a_temperature_a_height_a_lift_and_a_site_pressure_must_be_numbers() -> None:
    one = network()
    low = one.links[0]
    cases = {
        "the network's outdoor temperature": replace(one, outdoor_temperature=0.0),
        "the network's site pressure": replace(one, site_pressure=NAN),
        "node house's temperature": replace(one, nodes=(Node(name="house", temperature=NAN),)),
        "link low": replace(one, links=(replace(low, height=NAN), one.links[1])),
    }
    for where, wrong in cases.items():
        refusal = refused(wrong)
        assert (refusal.code, refusal.where) == ("network-bad-number", where)
    assert refused(replace(one, links=(replace(low, lift=INF), one.links[1]))).why == "its lift is inf"


def test_a_fixed_flow_forced_through_a_crack_is_refused_and_not_shown_as_a_pressure() -> None:
    one = network(Leak(coefficient=1e-6))
    tight = replace(one.links[0], law=Leak(coefficient=1e-6))
    fan = Link(name="fan", start=OUTDOORS, end="house", law=FixedFlow(flow=0.1))
    assert refused(replace(one, links=(tight, one.links[1], fan))).code == "network-pressure-beyond"


def compiled() -> Compiled:
    answer = compile_network(network())
    assert isinstance(answer, Compiled)
    return answer


def test_a_case_that_does_not_settle_gives_no_numbers_at_all() -> None:
    """The compiled loop is replaced by one that gives up, so that the way out of it is seen."""

    def give_up(*arrays: object) -> None:
        for filled in arrays[6:10]:
            filled[:] = 1.0  # type: ignore[index]
        arrays[9][:] = np.inf  # type: ignore[index]
        arrays[10][:] = kernel.MOST_STEPS  # type: ignore[index]

    one = compiled()
    with mock.patch.object(kernel, "solve_chunk", give_up):
        assert refused(network()).code == "network-not-converged"
        cases = solve_cases(one, one.table[None], np.zeros((3, 2)), np.full((3, 2), 280.0))
    assert not cases.is_solved.any()
    for series in (cases.pressures, cases.flows, cases.mass_flows, cases.imbalance):
        assert np.isnan(series).all()


def test_one_bad_case_of_a_batch_is_empty_and_the_others_stand() -> None:
    one = compiled()
    lift = np.zeros((3, 2))
    lift[1] = 1e6
    cases = solve_cases(one, one.table[None], lift, np.tile(one.temperature, (3, 1)))
    assert cases.is_solved.tolist() == [True, False, True]
    assert cases.is_beyond.tolist() == [False, True, False]
    assert np.isnan(cases.flows[1]).all()
    answer = solve(network())
    assert isinstance(answer, Solution)
    assert cases.pressures[2, 0] == answer.pressures["house"]


def test_a_batch_whose_arrays_do_not_fit_is_misuse() -> None:
    one = compiled()
    table, lift, temperature = one.table[None], np.zeros((4, 2)), np.full((4, 2), 290.0)
    wrong = [
        (table[:, :1], lift, temperature),
        (table, lift[:, :1], temperature),
        (table, lift, temperature[:, :1]),
        (table, lift, temperature[:3]),
        (np.repeat(table, 3, axis=0), lift, temperature),
        (-table, lift, temperature),
        (table * NAN, lift, temperature),
        (table, lift * NAN, temperature),
        (table, lift, temperature * 0.0),
    ]
    for arrays in wrong:
        with pytest.raises(InputError, match="must"):
            solve_cases(one, *arrays)
