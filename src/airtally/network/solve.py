"""Solve a pressure-flow network, one case or many, or refuse it by name."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from airtally.arrays import Booleans, Floats, Integers
from airtally.errors import InputError, Problem
from airtally.network import kernel
from airtally.network.graph import (
    OUTDOORS,
    Fan,
    FixedFlow,
    Law,
    Leak,
    Network,
    OneWay,
    Refusal,
    Resistance,
    Solution,
)
from airtally.network.graph_faults import faults

COLUMNS = 4
"""Numbers that a law takes in a table; see table_row."""
LARGEST_PRESSURE = 0.1
"""Pressure of a node beyond which no answer is given, as a share of the site's: densities no longer hold. [-]"""
_CHUNK = 512


@dataclass(frozen=True, slots=True, kw_only=True)
class Compiled:
    """A checked network, laid out for the compiled loop.

    Attributes
    ----------
    nodes, links : tuple of str
        Names, in the order of the network; outdoors is the last node of every array and not named here.
    table : array, shape (links, 4)
        Numbers of the laws, see table_row.
    lift : array, shape (links,)
        [Pa]
    temperature : array, shape (nodes + 1,)
        Outdoors last. [K]
    position : array of int, shape (nodes + 1,)
        Where each node stands in the elimination.
    frame : kernel.Frame
        What the compiled loop reads.
    """

    nodes: tuple[str, ...]
    links: tuple[str, ...]
    table: Floats
    lift: Floats
    temperature: Floats
    position: Integers
    frame: kernel.Frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Cases:
    """Many solved cases of one compiled network; what is refused is NaN, never a guess.

    Attributes
    ----------
    pressures : array, shape (cases, nodes)
        Against outdoors at height 0. [Pa]
    flows : array, shape (cases, links)
        Start to end positive, at the density of the air that flows. [m3/s]
    mass_flows : array, shape (cases, links)
        [kg/s]
    imbalance : array, shape (cases,)
        Largest sum of mass flows at a node as a share of the largest mass flow. [-]
    iterations : array of int, shape (cases,)
        Newton steps.
    is_solved : array of bool, shape (cases,)
        Whether the case has an answer.
    is_beyond : array of bool, shape (cases,)
        Whether it has none because a pressure passes a tenth of the site's.
    """

    pressures: Floats
    flows: Floats
    mass_flows: Floats
    imbalance: Floats
    iterations: Integers
    is_solved: Booleans
    is_beyond: Booleans


def table_row(law: Law) -> tuple[float, float, float, float]:
    """Return the numbers of a law as they stand in a table.

    Leak: coefficient, exponent. Resistance: linear, square. OneWay: coefficient, exponent, closed coefficient,
    exponent. Fan: speed as a share of the curve's, which moves flow with its first and pressure with its second
    power. FixedFlow: flow. What a law does not need is zero.
    """
    if isinstance(law, Leak):
        return law.coefficient, law.exponent, 0.0, 0.0
    if isinstance(law, Resistance):
        return law.linear, law.square, 0.0, 0.0
    if isinstance(law, OneWay):
        return law.coefficient, law.exponent, law.closed_coefficient, law.exponent
    return (1.0 if isinstance(law, Fan) else law.flow), 0.0, 0.0, 0.0


def solve(network: Network) -> Solution | Refusal:
    """Return pressures and flows of a network, or why it has none.

    Valid: air as a perfect gas at the pressure of the site, one temperature a node, laws that rise with pressure.
    Every node balances in mass to 1e-9 of the largest flow, or the answer is a Refusal.
    Within 0.00001 Pa of zero a power law is replaced by a cubic, so smaller pressures give smaller flows than the law.
    Checked against: worked examples E4, E5, E6, E10 and E11 of the project's check values; scipy.
    """
    compiled = compile_network(network)
    if isinstance(compiled, Refusal):
        return compiled
    return solve_compiled(compiled)


def solve_compiled(compiled: Compiled) -> Solution | Refusal:
    """Return pressures and flows of a compiled network as it was compiled."""
    only = np.zeros(1, dtype=np.int64)
    cases = _run(compiled, compiled.table[None], only, compiled.lift[None], compiled.temperature[None], workers=1)
    if cases.is_beyond[0]:
        return _refuse_beyond(compiled)
    if not cases.is_solved[0]:
        return _refuse_not_converged(int(cases.iterations[0]))
    pressures = dict(zip(compiled.nodes, cases.pressures[0].tolist(), strict=True))
    return Solution(
        pressures={**pressures, OUTDOORS: 0.0},
        flows=dict(zip(compiled.links, cases.flows[0].tolist(), strict=True)),
        mass_flows=dict(zip(compiled.links, cases.mass_flows[0].tolist(), strict=True)),
        imbalance=float(cases.imbalance[0]),
        iterations=int(cases.iterations[0]),
    )


def _refuse_beyond(compiled: Compiled) -> Refusal:
    limit = LARGEST_PRESSURE * compiled.frame.site_pressure
    return Refusal(
        problem=Problem(
            code="network-pressure-beyond",
            where="network",
            found=f"a node's pressure passes {limit:.0f} Pa",
            wanted="fixed flows and lifts that the paths can take",
            remedy="Look for a fixed flow into or out of a part with too small leaks; give the fan as a curve.",
        )
    )


def _refuse_not_converged(steps: int) -> Refusal:
    return Refusal(
        problem=Problem(
            code="network-not-converged",
            where="network",
            found=f"no balance was found in {steps} steps",
            wanted="pressures at which every node takes in as much air as it gives off",
            remedy="Look for numbers many decades apart; no pressure and no flow of this state is shown.",
        )
    )


def solve_cases(
    compiled: Compiled,
    table: Floats,
    lift: Floats,
    temperature: Floats,
    *,
    table_of_case: Integers | None = None,
    workers: int | None = None,
) -> Cases:
    """Solve many cases of one network in a compiled loop, spread over the cores; results do not depend on how.

    Parameters
    ----------
    compiled : Compiled
        Nodes, links, kinds of law and fan curves.
    table : array, shape (tables, links, 4)
        Numbers of the laws, see table_row; one table a case, or one for all, or as table_of_case says.
    lift : array, shape (cases, links)
        Extra pressure from start to end. [Pa]
    temperature : array, shape (cases, nodes + 1)
        Outdoors last. [K]
    table_of_case : array of int, shape (cases,), optional
        Which table each case uses.
    workers : int, optional
        Threads; one a core by default.

    Raises
    ------
    InputError
        If shapes do not fit, a table holds a number that its law cannot take, or a temperature is not above zero.
    """
    tables = np.ascontiguousarray(table, dtype=float)
    lifts = np.ascontiguousarray(lift, dtype=float)
    temperatures = np.asarray(temperature, dtype=float)
    if table_of_case is None:
        count = lifts.shape[0]
        table_of_case = np.zeros(count, dtype=np.int64) if tables.shape[0] == 1 else np.arange(count)
    choice = np.ascontiguousarray(table_of_case, dtype=np.int64)
    _require_cases(compiled, tables, choice, lifts, temperatures)
    return _run(compiled, tables, choice, lifts, temperatures, workers=workers or os.cpu_count() or 1)


def _run(
    compiled: Compiled, table: Floats, choice: Integers, lift: Floats, temperature: Floats, *, workers: int
) -> Cases:
    """Return the cases solved, chunk by chunk; the chunks of one network may run side by side."""
    count = lift.shape[0]
    ordered = np.empty((count, compiled.position.size))
    ordered[:, compiled.position] = temperature
    pressures = np.empty((count, len(compiled.nodes)))
    flows, masses = np.empty_like(lift), np.empty_like(lift)
    imbalance, iterations = np.empty(count), np.empty(count, dtype=np.int64)

    arrays = (choice, lift, ordered, pressures, flows, masses, imbalance, iterations)
    begins = range(0, count, _CHUNK)
    if count <= _CHUNK:
        _solve_part(compiled, table, arrays)
    elif workers == 1:
        for first in begins:
            _solve_part(compiled, table, arrays, first)
    else:
        with ThreadPoolExecutor(min(workers, len(begins))) as pool:
            list(pool.map(partial(_solve_part, compiled, table, arrays), begins))
    tallest = np.abs(pressures).max(axis=1, initial=0.0)
    beyond = tallest > LARGEST_PRESSURE * compiled.frame.site_pressure
    solved = np.isfinite(imbalance) & ~beyond
    if not solved.all():
        for filled in (pressures, flows, masses, imbalance):
            filled[~solved] = np.nan
    return Cases(
        pressures=pressures[:, compiled.position[:-1]],
        flows=flows,
        mass_flows=masses,
        imbalance=imbalance,
        iterations=iterations,
        is_solved=solved,
        is_beyond=beyond,
    )


def _solve_part(compiled: Compiled, table: Floats, arrays: tuple[Any, ...], first: int | None = None) -> None:
    """Fill one chunk of the cases, or all of them. The compiled loop holds no lock, so chunks run side by side."""
    if first is not None:
        arrays = tuple(array[first : first + _CHUNK] for array in arrays)
    kernel.solve_chunk(compiled.frame, table, *arrays)


def _require_cases(compiled: Compiled, table: Floats, choice: Integers, lift: Floats, temperature: Floats) -> None:
    """Raise InputError when the arrays of a batch do not fit the network or one another."""
    links, nodes = len(compiled.links), len(compiled.nodes)
    if lift.shape[1:] != (links,) or table.shape[1:] != (links, COLUMNS):
        raise InputError(f"lift and table must have {links} links; given are {lift.shape} and {table.shape}")
    if np.shape(temperature) != (lift.shape[0], nodes + 1):
        raise InputError(f"temperature must be {(lift.shape[0], nodes + 1)}; given is {np.shape(temperature)}")
    if choice.shape != (lift.shape[0],) or (choice.size and not 0 <= choice.min() <= choice.max() < table.shape[0]):
        raise InputError(f"each of {lift.shape[0]} cases must have one of {table.shape[0]} tables")
    kind = compiled.frame.kind
    lowest = np.zeros((links, COLUMNS))
    is_law = np.stack([kind != kernel.FIXED_FLOW, np.isin(kind, (kernel.LEAK, kernel.ONE_WAY))], axis=1)
    closed = np.repeat((kind == kernel.ONE_WAY)[:, None], 2, axis=1)
    wanted = np.concatenate([is_law, closed], axis=1) & (kind != kernel.RESISTANCE)[:, None]
    lowest[kind == kernel.FIXED_FLOW] = -np.inf
    resistance = table[:, kind == kernel.RESISTANCE]
    bad = ~np.isfinite(table) | (table < lowest) | ((table <= 0.0) & wanted)
    if bad.any() or (resistance[..., :2].sum(axis=-1) <= 0.0).any():
        raise InputError("every number of a law must be finite and above zero; a resistance may have one zero")
    if not (np.isfinite(lift).all() and np.isfinite(temperature).all() and np.min(temperature, initial=1.0) > 0.0):
        raise InputError("lifts must be finite; temperatures finite and above zero")


def compile_network(network: Network) -> Compiled | Refusal:
    """Return the network checked and laid out for the compiled loop, or why it has no answer."""
    for problem in faults(network):
        return Refusal(problem=problem)
    names = tuple(node.name for node in network.nodes)
    number = {name: index for index, name in enumerate((*names, OUTDOORS))}
    ends = [(number[link.start], number[link.end]) for link in network.links]
    passive = [pair for pair, link in zip(ends, network.links, strict=True) if not isinstance(link.law, FixedFlow)]
    for name in _cut_off(names, passive):
        return Refusal(
            problem=Problem(
                code="network-not-connected",
                where=f"node {name}",
                found="no path of air leads from it to outdoors; fixed flows are no paths",
                wanted="a leak, a duct or a fan between it and what is joined to outdoors",
                remedy="Give it a leak, however small, or leave the node out.",
            )
        )
    position = _order(len(names), passive)
    rows, target = _elimination(len(names), [(position[a], position[b]) for a, b in passive])
    return Compiled(
        nodes=names,
        links=tuple(link.name for link in network.links),
        table=np.array([table_row(link.law) for link in network.links], dtype=float).reshape(-1, COLUMNS),
        lift=np.array([link.lift for link in network.links], dtype=float),
        temperature=np.array([*(node.temperature for node in network.nodes), network.outdoor_temperature], dtype=float),
        position=np.array(position, dtype=np.int64),
        frame=_frame(network, [(position[a], position[b]) for a, b in ends], rows, target),
    )


_KINDS: dict[type[Law], int] = {
    Leak: kernel.LEAK,
    Resistance: kernel.RESISTANCE,
    OneWay: kernel.ONE_WAY,
    Fan: kernel.FAN,
    FixedFlow: kernel.FIXED_FLOW,
}


def _frame(network: Network, ends: list[tuple[int, int]], rows: list[list[int]], target: list[int]) -> kernel.Frame:
    """Return the arrays that the compiled loop reads."""
    nodes = len(network.nodes)
    first_of_row = np.concatenate([[0], np.cumsum([len(row) for row in rows])]).astype(np.int64)
    place, points, curve = [], [], [0]
    for link, (start, end) in zip(network.links, ends, strict=True):
        early, late = min(start, end), max(start, end)
        if isinstance(link.law, FixedFlow):
            place.append(-1)
        elif late == nodes:
            place.append(int(first_of_row[-1]) + early)
        else:
            place.append(int(first_of_row[early]) + rows[early].index(late))
        if isinstance(link.law, Fan):
            points += _with_ends(link.law)
        curve.append(len(points))
    flows_and_pressures = np.array(points, dtype=float).reshape(-1, 2)
    return kernel.Frame(
        start=_integers([start for start, _ in ends]),
        end=_integers([end for _, end in ends]),
        kind=_integers([_KINDS[type(link.law)] for link in network.links]),
        height=np.array([link.height for link in network.links], dtype=float),
        place=_integers(place),
        curve_first=_integers(curve[:-1]),
        curve_last=_integers(curve[1:]),
        curve_flow=np.ascontiguousarray(flows_and_pressures[:, 0]),
        curve_pressure=np.ascontiguousarray(flows_and_pressures[:, 1]),
        row=first_of_row,
        column=_integers([late for row in rows for late in row]),
        target=_integers(target),
        site_pressure=float(network.site_pressure),
    )


def _integers(values: list[int]) -> Integers:
    return np.array(values, dtype=np.int64)


def _with_ends(fan: Fan) -> list[tuple[float, float]]:
    """Return the points of a fan curve with one more beyond either end, so that straight continuation is built in."""
    points = list(zip(fan.flows, fan.pressures, strict=True))
    width, fall = points[-1][0] - points[0][0], points[0][1] - points[-1][1]
    first = min(width / fall, (points[1][0] - points[0][0]) / (points[0][1] - points[1][1]))
    last = min(width / fall, (points[-1][0] - points[-2][0]) / (points[-2][1] - points[-1][1]))
    before = (points[0][0] - first * fall, points[0][1] + fall)
    after = (points[-1][0] + last * fall, points[-1][1] - fall)
    return [before, *points, after]


def _cut_off(names: tuple[str, ...], passive: list[tuple[int, int]]) -> Iterator[str]:
    """Yield the nodes that no path joins to outdoors."""
    joined: list[set[int]] = [set() for _ in range(len(names) + 1)]
    for a, b in passive:
        joined[a].add(b)
        joined[b].add(a)
    reached, ahead = {len(names)}, [len(names)]
    while ahead:
        new = joined[ahead.pop()] - reached
        reached |= new
        ahead += new
    yield from (name for index, name in enumerate(names) if index not in reached)


def _order(nodes: int, passive: list[tuple[int, int]]) -> list[int]:
    """Return each node's place in the elimination: fewest neighbours first; outdoors last."""
    joined: list[set[int]] = [set() for _ in range(nodes)]
    for a, b in passive:
        if a != nodes and b != nodes:
            joined[a].add(b)
            joined[b].add(a)
    position = [nodes] * (nodes + 1)
    left = set(range(nodes))
    for place in range(nodes):
        node = min(left, key=lambda one: (len(joined[one]), one))
        left.remove(node)
        position[node] = place
        for other in joined[node]:
            joined[other] |= joined[node]
            joined[other] -= {node, other}
    return position


def _elimination(nodes: int, pairs: list[tuple[int, int]]) -> tuple[list[list[int]], list[int]]:
    """Return the later neighbours of each node once filled in, and which pair each product is added to."""
    later: list[set[int]] = [set() for _ in range(nodes)]
    for a, b in pairs:
        if max(a, b) < nodes:
            later[min(a, b)].add(max(a, b))
    for node in range(nodes):
        for other in later[node]:
            later[other] |= {one for one in later[node] if one > other}
    rows = [sorted(one) for one in later]
    begin = [0]
    for row in rows:
        begin.append(begin[-1] + len(row))
    pair = {(a, b): begin[a] + index for a, row in enumerate(rows) for index, b in enumerate(row)}
    target = [pair[row[i], row[j]] for row in rows for i in range(len(row)) for j in range(i + 1, len(row))]
    return rows, target
