"""The compiled chain of the network: laws, elimination of nodes, Newton with a search on the slope along the step.

The mass balances of a network whose laws all rise with pressure are the gradient of one convex potential, so
the step is searched on its slope along the step and not on its size: the full step is taken unless it overshoots.
All loops stand in this one file, because the compiler's cache does not see changes in functions imported from
elsewhere. No fast-math: the error terms of the pressures below would be simplified away.

Three things keep networks with leaks over many decades solvable:

- A node's equations are eliminated as a resistor network is, star to mesh. Conductances are only added, multiplied
  and divided, never subtracted, so a node held by a leak of a millionth is as exact as any other.
- A pressure is held as two numbers, the second carrying what rounding took from the first. Two rooms joined by a
  wide door differ by less than the last digit of their pressure, and still have a difference.
- Within ``SMOOTH`` of zero pressure a law is a cubic that meets it in value and slope, so no slope is infinite.

Numbering: nodes in the order in which they are eliminated, then outdoors. Conductances: node pairs that meet in the
elimination first, row by row, then one to outdoors for each node.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypeVar, cast

import numba
import numpy as np

from airtally.arrays import Floats, Integers

LEAK, RESISTANCE, ONE_WAY, FAN, FIXED_FLOW = range(5)
"""Kinds of law. What the columns of a table mean for each stands in ``kernel_layout.table_row``."""
SMOOTH = 1e-5
"""Pressure below which a law is smoothed; in a house no gauge reads it. [Pa]"""
TOLERANCE = 1e-9
"""Largest imbalance of a node, as a share of the largest mass flow. [-]"""
LEAST_FLOW = 1e-12
"""Mass flow that counts as the largest where every flow is smaller: a gram in thirty thousand years. [kg/s]"""
FAN_SHARE = 1e-3
"""Share of a fan's largest flow that counts as a flow of the network, so that a shut-off fan has a scale. [-]"""
SETTLED = 1e-6
"""Largest last step, as a share of the largest pressure across a link; its error is about the square. [-]"""
START_PRESSURE = 4.0
"""Pressure at which laws are made straight for the first guess. [Pa]"""
MOST_STEPS, MOST_TRIALS, PATIENCE = 200, 40, 6
OVERSHOOT = 0.3
"""Slope at the end of a step, as a share of the slope at its start, above which the step is shortened. [-]"""
GRAVITY, DRY_AIR_CONSTANT = 9.80665, 287.042
"""Repeated from physics.constants: compiled code keeps the numbers it was compiled with."""
_F = TypeVar("_F", bound=Callable[..., object])


class Frame(NamedTuple):
    """What all cases of a compiled network share; arrays by link unless said otherwise.

    Attributes
    ----------
    start, end, kind : array of int
        Nodes and kind of law.
    height : array
        Of the link. [m]
    place : array of int
        Where its slope goes among the conductances; -1 for a fixed flow.
    curve_first, curve_last : array of int
        Its points in the curves, last one excluded.
    curve_flow, curve_pressure : array
        Points of all fan curves: flow rising, pressure falling. [m3/s] and [Pa]
    row : array of int, one a node and one more
        First pair of each node.
    column : array of int, one a pair
        The later node of the pair.
    target : array of int
        The pair that each product of the elimination is added to, in the order of the elimination.
    site_pressure : float
        [Pa]
    """

    start: Integers
    end: Integers
    kind: Integers
    height: Floats
    place: Integers
    curve_first: Integers
    curve_last: Integers
    curve_flow: Floats
    curve_pressure: Floats
    row: Integers
    column: Integers
    target: Integers
    site_pressure: float


def _compiled(function: _F) -> _F:
    return cast(_F, numba.njit(cache=True, error_model="numpy", nogil=True)(function))


@_compiled
def _passive(kind: int, first: float, second: float, pressure: float) -> tuple[float, float]:
    """Return flow and slope of a passive law at a pressure above zero, unsmoothed."""
    if kind == RESISTANCE:
        root = np.sqrt(first * first + 4.0 * second * pressure)
        return 2.0 * pressure / (first + root), 1.0 / root
    flow = first * pressure**second
    return flow, second * flow / pressure


@_compiled
def _smoothed(kind: int, first: float, second: float, pressure: float) -> tuple[float, float]:
    """Return flow and slope of a passive law at any pressure not below zero."""
    flow, slope = _passive(kind, first, second, max(pressure, SMOOTH))
    if pressure < SMOOTH:
        mean = flow / SMOOTH
        share = pressure / SMOOTH
        bend = 0.5 * (slope - mean)
        rise = mean - bend
        flow = pressure * (rise + bend * share * share)
        slope = rise + 3.0 * bend * share * share
    return flow, slope


@_compiled
def _fan(
    curve_flow: Floats, curve_pressure: Floats, low: int, high: int, speed: float, pressure: float
) -> tuple[float, float]:
    """Return a fan's flow and its slope at the pressure from start to end; the curve goes on straight at its ends."""
    rise = -pressure / (speed * speed)
    while high - low > 1:
        middle = (low + high) // 2
        if curve_pressure[middle] >= rise:
            low = middle
        else:
            high = middle
    slope = (curve_flow[low] - curve_flow[high]) / (curve_pressure[low] - curve_pressure[high])
    flow = curve_flow[low] + slope * (rise - curve_pressure[low])
    return speed * flow, -slope / speed


@_compiled
def _passive_either_way(kind: int, numbers: Floats, link: int, pressure: float) -> tuple[float, float]:
    """Return volume flow and slope of a passive link at a pressure of either sign."""
    column = 2 if kind == ONE_WAY and pressure < 0.0 else 0
    flow, slope = _smoothed(kind, numbers[link, column], numbers[link, column + 1], abs(pressure))
    return (flow if pressure >= 0.0 else -flow), slope


@_compiled
def _pressure(high: Floats, low: Floats, a: int, b: int, drive: float) -> float:
    """Return the pressure from a to b with the drive, without losing what the large parts cancel."""
    step = high[a] - high[b]
    back = step - high[a]
    error = (high[a] - (step - back)) - (high[b] + back)
    total = step + drive
    back = total - step
    error += (step - (total - back)) + (drive - back)
    across: float = total + (error + (low[a] - low[b]))
    return across


@_compiled
def _flows(frame: Frame, table: Floats, density: Floats, state: Floats, drive: Floats, links: Floats) -> None:
    """Fill mass flow, its slope and the pressure across every link; rows of ``links``."""
    high, low = state[0], state[1]
    for link in range(frame.start.shape[0]):
        a, b, kind = frame.start[link], frame.end[link], frame.kind[link]
        pressure = _pressure(high, low, a, b, drive[link])
        if kind == FIXED_FLOW:
            flow, slope = table[link, 0], 0.0
        elif kind == FAN:
            ends = frame.curve_first[link], frame.curve_last[link] - 1
            flow, slope = _fan(frame.curve_flow, frame.curve_pressure, ends[0], ends[1], table[link, 0], pressure)
        else:
            flow, slope = _passive_either_way(kind, table, link, pressure)
        upstream = density[a] if flow >= 0.0 else density[b]
        links[0, link] = flow * upstream
        links[1, link] = slope * upstream
        links[2, link] = pressure


@_compiled
def _straight_flows(frame: Frame, table: Floats, density: Floats, drive: Floats, links: Floats) -> None:
    """Fill mass flow and slope of every link made straight, with no pressure in any node."""
    for link in range(frame.start.shape[0]):
        if frame.kind[link] == FIXED_FLOW:
            flow, slope = table[link, 0], 0.0
        elif frame.kind[link] == FAN:
            first, last = frame.curve_first[link] + 1, frame.curve_last[link] - 2
            speed = table[link, 0]
            fall = frame.curve_pressure[first] - frame.curve_pressure[last]
            slope = (frame.curve_flow[last] - frame.curve_flow[first]) / (fall * speed)
            flow = speed * frame.curve_flow[last] + slope * (drive[link] + speed**2 * frame.curve_pressure[last])
        else:
            flow, slope = _passive_either_way(frame.kind[link], table, link, START_PRESSURE)
            slope = flow / START_PRESSURE
            flow = slope * drive[link]
        upstream = density[frame.start[link]] if flow >= 0.0 else density[frame.end[link]]
        links[0, link] = flow * upstream
        links[1, link] = slope * upstream


@_compiled
def _least_scale(frame: Frame, table: Floats, density: Floats) -> float:
    """Return the mass flow below which no flow is the largest: a sliver of what the largest fan can move."""
    largest = LEAST_FLOW
    for link in range(frame.start.shape[0]):
        if frame.kind[link] == FAN:
            first, last = frame.curve_first[link] + 1, frame.curve_last[link] - 2
            reach = max(abs(frame.curve_flow[first]), abs(frame.curve_flow[last]))
            largest = max(largest, FAN_SHARE * table[link, 0] * reach * density[frame.start[link]])
    return largest


@_compiled
def _balance(frame: Frame, links: Floats, sums: Floats, least: float) -> tuple[float, float]:
    """Fill what enters each node; return the largest imbalance and the largest flow, which is never below least."""
    count = sums.shape[0] - 1
    sums[:] = 0.0
    largest = least
    for link in range(frame.start.shape[0]):
        flow = links[0, link]
        sums[frame.start[link]] -= flow
        sums[frame.end[link]] += flow
        largest = max(largest, abs(flow))
    worst = 0.0
    for node in range(count):
        # A sum that is not a number has to stay: max would drop it.
        if not abs(sums[node]) <= worst:
            worst = abs(sums[node])
    return worst, largest


@_compiled
def _eliminate(frame: Frame, links: Floats, sums: Floats, conductance: Floats, total: Floats, step: Floats) -> None:
    """Solve for the step that would balance every node if the laws were straight. ``sums`` is used up."""
    nodes = frame.row.shape[0] - 1
    ground = frame.column.shape[0]
    conductance[:] = 0.0
    for link in range(frame.start.shape[0]):
        if frame.place[link] >= 0:
            conductance[frame.place[link]] += links[1, link]
    product = 0
    for node in range(nodes):
        first, last = frame.row[node], frame.row[node + 1]
        whole = conductance[ground + node]
        for pair in range(first, last):
            whole += conductance[pair]
        total[node] = whole
        for pair in range(first, last):
            share = conductance[pair] / whole
            later = frame.column[pair]
            conductance[ground + later] += share * conductance[ground + node]
            sums[later] += share * sums[node]
            for other in range(pair + 1, last):
                conductance[frame.target[product]] += share * conductance[other]
                product += 1
    for node in range(nodes - 1, -1, -1):
        entering = sums[node]
        for pair in range(frame.row[node], frame.row[node + 1]):
            entering += conductance[pair] * step[frame.column[pair]]
        step[node] = entering / total[node]


@_compiled
def _slope(frame: Frame, links: Floats, step: Floats) -> float:
    """Return the slope of the potential along a step. Fixed flows count too."""
    slope = 0.0
    for link in range(frame.start.shape[0]):
        slope += links[0, link] * (step[frame.start[link]] - step[frame.end[link]])
    return slope


@_compiled
def _move(state: Floats, step: Floats, share: float, moved: Floats) -> None:
    """Add a share of a step to the pressures, keeping what rounding takes."""
    for node in range(step.shape[0]):
        high, part = state[0, node], share * step[node]
        total = high + part
        back = total - high
        rest = state[1, node] + ((high - (total - back)) + (part - back))
        moved[0, node] = total + rest
        moved[1, node] = rest - (moved[0, node] - total)


@_compiled
def _search(
    frame: Frame,
    table: Floats,
    density: Floats,
    state: Floats,
    drive: Floats,
    links: Floats,
    step: Floats,
    moved: Floats,
) -> float:
    """Move along a step to where the potential is nearly flat; return the share taken. ``links`` follow."""
    before = _slope(frame, links, step)
    low, high, slope_low, slope_high = 0.0, 1.0, before, 0.0
    share, side = 1.0, 0
    for _ in range(MOST_TRIALS):
        _move(state, step, share, moved)
        _flows(frame, table, density, moved, drive, links)
        slope = _slope(frame, links, step)
        # Where the slope at the start does not fall, rounding is all that is left of it: the step is as small.
        if before >= 0.0 or abs(slope) <= -OVERSHOOT * before or (share == 1.0 and slope <= 0.0):
            break
        # False position; an end that stays twice has its weight halved, so that both ends close in.
        if slope > 0.0:
            high, slope_high = share, slope
            if side == 1:
                slope_low *= 0.5
            side = 1
        else:
            low, slope_low = share, slope
            if side == -1:
                slope_high *= 0.5
            side = -1
        share = low + (high - low) * slope_low / (slope_low - slope_high)
    return share


@_compiled
def weather(frame: Frame, lift: Floats, temperature: Floats, density: Floats, drive: Floats) -> None:
    """Fill the density of each node and the pressure across each link that does not depend on the nodes' own."""
    for node in range(density.shape[0]):
        density[node] = frame.site_pressure / (DRY_AIR_CONSTANT * temperature[node])
    for link in range(drive.shape[0]):
        lighter = density[frame.end[link]] - density[frame.start[link]]
        drive[link] = lift[link] + lighter * GRAVITY * frame.height[link]


@_compiled
def _is_settled(links: Floats, step: Floats) -> bool:
    """Return whether a full step moved no pressure by more than a sliver of the largest pressure across a link."""
    tallest, furthest = 0.0, 0.0
    for link in range(links.shape[1]):
        tallest = max(tallest, abs(links[2, link]))
    for node in range(step.shape[0]):
        furthest = max(furthest, abs(step[node]))
    return furthest <= SETTLED * tallest


@_compiled
def guess(
    frame: Frame,
    table: Floats,
    density: Floats,
    drive: Floats,
    links: Floats,
    sums: Floats,
    step: Floats,
    total: Floats,
    state: Floats,
    conductance: Floats,
) -> None:
    """Fill the pressures at which the nodes would balance if every law were straight."""
    _straight_flows(frame, table, density, drive, links)
    _balance(frame, links, sums, 0.0)
    _eliminate(frame, links, sums, conductance, total, step)
    for node in range(step.shape[0]):
        state[0, node], state[1, node] = step[node], 0.0


@_compiled
def settle(
    frame: Frame,
    table: Floats,
    density: Floats,
    drive: Floats,
    links: Floats,
    sums: Floats,
    step: Floats,
    total: Floats,
    state: Floats,
    moved: Floats,
    conductance: Floats,
) -> tuple[float, float, int]:
    """Find the pressures from those in ``state``; return the largest imbalance, the largest flow and the steps taken.

    A case in balance takes a few steps more if its pressures still move: two rooms that pass much air round and
    little to outdoors are in balance long before their common pressure stands.
    """
    least = _least_scale(frame, table, density)
    _flows(frame, table, density, state, drive, links)
    worst, largest = _balance(frame, links, sums, least)
    taken, waited, share = 0, 0, 0.0
    while worst != 0.0 and np.isfinite(worst) and taken < MOST_STEPS:
        if worst <= TOLERANCE * largest:
            if waited == PATIENCE or (share == 1.0 and _is_settled(links, step)):
                break
            waited += 1
        _eliminate(frame, links, sums, conductance, total, step)
        share = _search(frame, table, density, state, drive, links, step, moved)
        for node in range(step.shape[0]):
            state[0, node], state[1, node] = moved[0, node], moved[1, node]
        taken += 1
        worst, largest = _balance(frame, links, sums, least)
    return worst, largest, taken


@_compiled
def solve_chunk(
    frame: Frame,
    table: Floats,
    table_of_case: Integers,
    lift: Floats,
    temperature: Floats,
    is_series: bool,
    pressures: Floats,
    flows: Floats,
    mass_flows: Floats,
    imbalance: Floats,
    steps: Integers,
) -> None:
    """Solve cases one after the other and fill their rows; a case that does not settle gets an imbalance of infinity.

    Parameters
    ----------
    frame : Frame
        What the cases share.
    table : array, shape (tables, links, columns)
        Numbers of the laws.
    table_of_case : array of int, shape (cases,)
        Which table a case uses.
    lift : array, shape (cases, links)
        Extra pressure from start to end. [Pa]
    temperature : array, shape (cases, nodes + 1)
        Outdoors last. [K]
    is_series : bool
        Whether a case starts from the pressures of the one before, where that one settled with the same table.
    pressures : array, shape (cases, nodes)
        Filled. [Pa]
    flows, mass_flows : array, shape (cases, links)
        Filled. [m3/s] and [kg/s]
    imbalance : array, shape (cases,)
        Filled: largest imbalance over largest flow. [-]
    steps : array of int, shape (cases,)
        Filled: Newton steps.
    """
    nodes, links_count = frame.row.shape[0] - 1, frame.start.shape[0]
    density, drive = np.empty(nodes + 1), np.empty(links_count)
    links = np.empty((3, links_count))
    sums, step, total = np.empty(nodes + 1), np.zeros(nodes + 1), np.empty(nodes)
    state, moved = np.zeros((2, nodes + 1)), np.zeros((2, nodes + 1))
    conductance = np.empty(frame.column.shape[0] + nodes)
    for case in range(lift.shape[0]):
        numbers = table[table_of_case[case]]
        weather(frame, lift[case], temperature[case], density, drive)
        follows = is_series and case > 0 and table_of_case[case] == table_of_case[case - 1]
        if not (follows and np.isfinite(imbalance[case - 1])):
            guess(frame, numbers, density, drive, links, sums, step, total, state, conductance)
        worst, largest, taken = settle(
            frame, numbers, density, drive, links, sums, step, total, state, moved, conductance
        )
        steps[case] = taken
        imbalance[case] = np.inf
        if worst <= TOLERANCE * largest:
            imbalance[case] = worst / largest
        for node in range(nodes):
            pressures[case, node] = state[0, node] + state[1, node]
        for link in range(links_count):
            flow = links[0, link]
            mass_flows[case, link] = flow
            flows[case, link] = flow / (density[frame.start[link]] if flow >= 0.0 else density[frame.end[link]])
