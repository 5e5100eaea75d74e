"""Laws that every solved network must keep, and the solver against a slow root search that shares no code with it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import root
from tests.network.random_networks import KINDS, random_network

from airtally.arrays import Floats
from airtally.network.solver import kernel
from airtally.network.solver.graph import (
    OUTDOORS,
    Fan,
    FixedFlow,
    Law,
    Leak,
    Link,
    Network,
    OneWay,
    Refusal,
    Resistance,
    Solution,
)
from airtally.network.solver.solve import Compiled, compile_network, solve, solve_cases

SEEDS = st.integers(0, 2**32 - 1)
quick = settings(max_examples=60, deadline=None)


def drawn(seed: int, kind: str, most: int = 20) -> tuple[Network, Solution] | None:
    """Return a random network and its solution, or nothing if it was refused by name."""
    generator = np.random.default_rng(seed)
    network = random_network(generator, int(generator.integers(1, most + 1)), kind)
    answer = solve(network)
    if isinstance(answer, Refusal):
        assert answer.code == "network-pressure-beyond"
        return None
    return network, answer


def across(network: Network, answer: Solution, link: Link) -> float:
    """Return the pressure across a link, from the definition in the words of the graph."""
    temperature = {node.name: node.temperature for node in network.nodes} | {OUTDOORS: network.outdoor_temperature}

    def at_height(name: str) -> float:
        density = network.site_pressure / (287.042 * temperature[name])
        return answer.pressures[name] - density * 9.80665 * link.height

    return at_height(link.start) - at_height(link.end) + link.lift


def largest(answer: Solution) -> float:
    return max(abs(flow) for flow in answer.mass_flows.values())


def tallest(network: Network, answer: Solution) -> float:
    return max(abs(across(network, answer, link)) for link in network.links)


@quick
@given(SEEDS, st.sampled_from(KINDS))
def test_what_enters_a_node_leaves_it(seed: int, kind: str) -> None:
    found = drawn(seed, kind)
    if found is None:
        return
    network, answer = found
    sums = {node.name: 0.0 for node in network.nodes} | {OUTDOORS: 0.0}
    for link in network.links:
        sums[link.start] -= answer.mass_flows[link.name]
        sums[link.end] += answer.mass_flows[link.name]
    sums.pop(OUTDOORS)
    assert max(abs(one) for one in sums.values()) <= 1.001e-9 * max(largest(answer), scale_of_fans(network))


def scale_of_fans(network: Network) -> float:
    """Return a thousandth of what the largest fan of a network can move, in kg/s; air is no denser than 1.3 here."""
    return 1.3e-3 * max((link.law.flows[-1] for link in network.links if isinstance(link.law, Fan)), default=0.0)


def flow_by_hand(law: Law, pressure: float) -> float:
    """Return what a law passes, straight from its definition and without any smoothing."""
    size, sign = abs(pressure), float(np.sign(pressure))
    if isinstance(law, Leak):
        return sign * law.coefficient * size**law.exponent
    if isinstance(law, OneWay):
        return sign * (law.coefficient if pressure > 0.0 else law.closed_coefficient) * size**law.exponent
    if isinstance(law, Resistance):
        if law.square == 0.0:
            return pressure / law.linear
        return sign * (np.sqrt(law.linear**2 + 4.0 * law.square * size) - law.linear) / (2.0 * law.square)
    if isinstance(law, FixedFlow):
        return law.flow
    rise, flows, rises = -pressure, np.array(law.flows), np.array(law.pressures)
    whole = (flows[-1] - flows[0]) / (rises[0] - rises[-1])
    if rise > rises[0]:
        return float(flows[0] - min(whole, (flows[1] - flows[0]) / (rises[0] - rises[1])) * (rise - rises[0]))
    if rise < rises[-1]:
        return float(flows[-1] + min(whole, (flows[-1] - flows[-2]) / (rises[-2] - rises[-1])) * (rises[-1] - rise))
    return float(np.interp(rise, rises[::-1], flows[::-1]))


@quick
@given(SEEDS, st.sampled_from(("normal", "fans", "eight decades", "mixed")))
def test_every_flow_is_what_its_law_passes_at_its_pressure(seed: int, kind: str) -> None:
    found = drawn(seed, kind)
    if found is None:
        return
    network, answer = found
    worth_a_look = [link for link in network.links if abs(across(network, answer, link)) > 0.01]
    for link in worth_a_look:  # below that the rounding of the printed pressures shows
        by_hand = flow_by_hand(link.law, across(network, answer, link))
        assert_allclose(answer.flows[link.name], by_hand, rtol=1e-7, atol=1e-9 * largest(answer))


@quick
@given(SEEDS, st.sampled_from(KINDS), st.floats(1.01, 1e4))
def test_a_wider_path_passes_no_less_and_holds_no_more(seed: int, kind: str, factor: float) -> None:
    found = drawn(seed, kind)
    if found is None:
        return
    network, answer = found
    passive = [index for index, link in enumerate(network.links) if isinstance(link.law, Leak | Resistance | OneWay)]
    index = passive[seed % len(passive)]
    link = network.links[index]
    wider = replace(link, law=scaled(link.law, factor))
    widened = replace(network, links=(*network.links[:index], wider, *network.links[index + 1 :]))
    after = solve(widened)
    if isinstance(after, Refusal):
        assert after.code == "network-pressure-beyond"
        return
    slack = 3e-9 * max(largest(answer), largest(after), scale_of_fans(network))
    assert abs(after.mass_flows[link.name]) >= abs(answer.mass_flows[link.name]) - slack
    before_across, after_across = abs(across(network, answer, link)), abs(across(widened, after, wider))
    assert after_across <= before_across + 1e-6 * tallest(network, answer)


def scaled(law: Law, factor: float) -> Law:
    """Return a law that passes a factor more at every pressure."""
    if isinstance(law, Leak):
        return replace(law, coefficient=law.coefficient * factor)
    if isinstance(law, OneWay):
        return replace(law, coefficient=law.coefficient * factor, closed_coefficient=law.closed_coefficient * factor)
    if isinstance(law, Resistance):
        return Resistance(linear=law.linear / factor, square=law.square / factor**2)
    if isinstance(law, Fan):
        return replace(law, flows=tuple(flow * factor for flow in law.flows))
    return FixedFlow(flow=law.flow * factor)


@quick
@given(SEEDS, st.sampled_from(KINDS))
def test_the_order_of_nodes_and_links_changes_nothing(seed: int, kind: str) -> None:
    found = drawn(seed, kind)
    if found is None:
        return
    network, answer = found
    generator = np.random.default_rng(seed + 1)
    shuffled = replace(
        network,
        nodes=tuple(network.nodes[i] for i in generator.permutation(len(network.nodes))),
        links=tuple(network.links[i] for i in generator.permutation(len(network.links))),
    )
    after = solve(shuffled)
    assert isinstance(after, Solution)
    for name, pressure in answer.pressures.items():
        assert_allclose(after.pressures[name], pressure, rtol=0.0, atol=1e-6 * tallest(network, answer))
    for name, flow in answer.mass_flows.items():
        scale = max(largest(answer), scale_of_fans(network))
        assert_allclose(after.mass_flows[name], flow, rtol=0.0, atol=len(network.nodes) * 2e-9 * scale)


@quick
@given(SEEDS, st.sampled_from(KINDS), st.sampled_from((0.25, 2.0, 64.0)))
def test_all_paths_and_fixed_flows_multiplied_leave_the_pressures(seed: int, kind: str, factor: float) -> None:
    found = drawn(seed, kind)
    if found is None:
        return
    network, answer = found
    links = tuple(replace(link, law=scaled(link.law, factor)) for link in network.links)
    after = solve(replace(network, links=links))
    assert isinstance(after, Solution)
    for name, pressure in answer.pressures.items():
        assert_allclose(after.pressures[name], pressure, rtol=0.0, atol=1e-6 * tallest(network, answer))


@quick
@given(SEEDS)
def test_a_link_told_from_its_other_end_passes_the_same_air_back(seed: int) -> None:
    found = drawn(seed, "normal")
    assert found is not None
    network, answer = found
    turned = tuple(replace(one, start=one.end, end=one.start, lift=-one.lift) for one in network.links)
    after = solve(replace(network, links=turned))
    assert isinstance(after, Solution)
    for name, flow in answer.flows.items():
        assert_allclose(after.flows[name], -flow, rtol=0.0, atol=1e-8 * max(map(abs, answer.flows.values())))


def residual_by_hand(network: Network, pressures: Floats) -> Floats:
    """Return what enters each node, in plain Python: a second solver needs no more than this."""
    number = {node.name: index for index, node in enumerate(network.nodes)}
    trial = Solution(
        pressures={OUTDOORS: 0.0} | {name: float(pressures[index]) for name, index in number.items()},
        flows={},
        mass_flows={},
        imbalance=0.0,
        iterations=0,
    )
    temperature = {node.name: node.temperature for node in network.nodes} | {OUTDOORS: network.outdoor_temperature}
    sums = np.zeros(len(number))
    for link in network.links:
        flow = flow_by_hand(link.law, across(network, trial, link))
        upstream = temperature[link.start if flow >= 0.0 else link.end]
        mass = flow * network.site_pressure / (287.042 * upstream)
        if link.start in number:
            sums[number[link.start]] -= mass
        if link.end in number:
            sums[number[link.end]] += mass
    return sums


@pytest.mark.parametrize("kind", ["normal", "fans", "mixed", "eight decades"])
def test_a_root_search_that_shares_no_code_finds_the_same_pressures(kind: str) -> None:
    """Second method: scipy's hybrid Powell search on residuals written in plain Python from the laws' definitions.

    It starts beside the answer and far from it; where it arrives, it must arrive there.
    """
    generator = np.random.default_rng(41)
    arrived = 0
    for _ in range(25):
        network = random_network(generator, int(generator.integers(1, 8)), kind)
        answer = solve(network)
        if isinstance(answer, Refusal):
            continue
        ours = np.array([answer.pressures[node.name] for node in network.nodes])
        scale = largest(answer)
        for start in (np.zeros_like(ours), ours + generator.normal(0.0, 3.0, ours.size)):
            with np.errstate(all="ignore"):
                found = root(lambda p, one=network: residual_by_hand(one, p) * 1e3, start, options={"xtol": 1e-13})
            if np.abs(found.fun).max() <= 1e-3 * 1e-10 * scale * 1e3:
                arrived += 1
                assert_allclose(found.x, ours, rtol=0.0, atol=1e-5 * tallest(network, answer))
    assert arrived >= 10


def compiled(kind: str, seed: int, nodes: int = 12) -> Compiled:
    answer = compile_network(random_network(np.random.default_rng(seed), nodes, kind))
    assert isinstance(answer, Compiled)
    return answer


@pytest.mark.parametrize("kind", KINDS)
def test_poor_starts_end_at_the_same_pressures(kind: str) -> None:
    """The compiled loop is started 1000 Pa off, node by node at random; the answer may not depend on the start."""
    one = compiled(kind, seed=5)
    frame, nodes, links = one.frame, len(one.nodes), len(one.links)
    temperature = np.empty(nodes + 1)
    temperature[one.position] = one.temperature
    density, drive, flows = np.empty(nodes + 1), np.empty(links), np.empty((3, links))
    kernel.weather(frame, one.lift, temperature, density, drive)
    work = np.empty(nodes + 1), np.zeros(nodes + 1), np.empty(nodes)
    generator, ends = np.random.default_rng(6), []
    for spread in (0.0, 1e-6, 1.0, 1e3, 1e3, 1e5):
        state = np.zeros((2, nodes + 1))
        state[0, :-1] = generator.normal(0.0, spread, nodes)
        room = np.zeros((2, nodes + 1)), np.empty(frame.column.size + nodes)
        worst, most, steps = kernel.settle(frame, one.table, density, drive, flows, *work, state, *room)
        assert worst <= 1e-9 * most
        assert steps < 60
        ends.append(state.sum(axis=0))
    for end in ends[1:]:
        assert_allclose(end, ends[0], rtol=0.0, atol=1e-6 * np.abs(flows[2]).max())


def test_a_batch_gives_each_case_what_it_gets_alone() -> None:
    one = compiled("mixed", seed=8)
    generator = np.random.default_rng(9)
    count, links = 1300, len(one.links)
    tables = one.table * np.array([1.0, 1.0, 1.0, 1.0])
    tables = np.stack([tables, tables])
    leaks = one.frame.kind == kernel.LEAK
    tables[1, leaks, 0] *= 3.0
    choice = generator.integers(0, 2, count)
    lift = one.lift + generator.normal(0.0, 1.0, (count, links))
    temperature = one.temperature + generator.normal(0.0, 3.0, (count, one.temperature.size))
    cases = solve_cases(one, tables, lift, temperature, table_of_case=choice)
    alone = solve_cases(one, tables, lift, temperature, table_of_case=choice, workers=1)
    assert np.array_equal(cases.pressures, alone.pressures, equal_nan=True)
    assert np.array_equal(cases.flows, alone.flows, equal_nan=True)
    assert cases.is_solved.mean() > 0.9
    for case in (0, 511, 512, 1299):
        single = solve_cases(one, tables[choice[case]][None], lift[case][None], temperature[case][None])
        assert np.array_equal(single.pressures[0], cases.pressures[case], equal_nan=True)


@pytest.mark.parametrize("kind", KINDS)
def test_a_series_of_hours_started_from_one_another_gives_the_same_answers_sooner(kind: str) -> None:
    one = compiled(kind, seed=3, nodes=20)
    hours = np.arange(600)
    temperature = np.tile(one.temperature, (hours.size, 1))
    temperature[:, -1] += 5.0 * np.sin(hours / 24.0 * 2.0 * np.pi)
    lift = one.lift * (1.0 + 0.5 * np.sin(hours / 37.0))[:, None]
    apart = solve_cases(one, one.table[None], lift, temperature)
    series = solve_cases(one, one.table[None], lift, temperature, is_series=True)
    assert series.is_solved.all()
    assert series.iterations.mean() < 0.9 * apart.iterations.mean()
    scale = np.abs(apart.pressures).max()
    assert_allclose(series.pressures, apart.pressures, rtol=0.0, atol=1e-6 * scale)


def test_a_fan_in_a_table_runs_at_a_share_of_its_speed() -> None:
    """Affinity: flow goes with speed, pressure with its square; common practice, no source."""
    fan = Fan(flows=(0.0, 0.2, 0.4), pressures=(200.0, 150.0, 0.0))
    duct = Resistance(linear=0.0, square=900.0)
    network = random_network(np.random.default_rng(1), 1, "near zero")
    links = (
        Link(name="fan", start=OUTDOORS, end="n0", law=fan),
        Link(name="duct", start="n0", end=OUTDOORS, law=duct),
    )
    still = replace(network, links=links, outdoor_temperature=network.nodes[0].temperature)
    one = compile_network(still)
    assert isinstance(one, Compiled)
    tables = np.repeat(one.table[None], 2, axis=0)
    tables[1, 0, 0] = 0.5
    cases = solve_cases(one, tables, np.zeros((2, 2)), np.tile(one.temperature, (2, 1)))
    assert_allclose(cases.flows[1], 0.5 * cases.flows[0], rtol=1e-9)
    assert_allclose(cases.pressures[1], 0.25 * cases.pressures[0], rtol=1e-9)
