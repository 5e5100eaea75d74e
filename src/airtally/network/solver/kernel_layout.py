"""Check a network and lay it out for the compiled loop: numbering, order of elimination, curves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.errors import Problem
from airtally.network.solver import kernel
from airtally.network.solver.graph import OUTDOORS, Fan, FixedFlow, Law, Leak, Network, OneWay, Refusal, Resistance
from airtally.network.solver.graph_faults import faults

COLUMNS = 4
"""Numbers that a law takes in a table; see table_row."""


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
