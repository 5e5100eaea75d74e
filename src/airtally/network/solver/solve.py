"""Solve a pressure-flow network, one case or many, or refuse it by name."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from airtally.arrays import Booleans, Floats, Integers
from airtally.errors import InputError, Problem
from airtally.network.solver import kernel
from airtally.network.solver.graph import OUTDOORS, Network, Refusal, Solution
from airtally.network.solver.kernel_layout import COLUMNS, Compiled, compile_network, table_row

__all__ = ["COLUMNS", "Cases", "Compiled", "compile_network", "solve", "solve_cases", "solve_compiled", "table_row"]

LARGEST_PRESSURE = 0.1
"""Pressure of a node beyond which no answer is given, as a share of the site's: densities no longer hold. [-]"""
_CHUNK = 512


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
    cases = _run(compiled, compiled.table[None], only, compiled.lift[None], compiled.temperature[None])
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
    is_series: bool = False,
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
    is_series : bool, optional
        Whether neighbouring cases are alike, as the hours of a year in one state: each then starts from the one
        before. About twice as fast; a case's last digits, below the tolerance, then depend on its neighbours.
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
    threads = workers or os.cpu_count() or 1
    return _run(compiled, tables, choice, lifts, temperatures, is_series=is_series, workers=threads)


def _run(
    compiled: Compiled,
    table: Floats,
    choice: Integers,
    lift: Floats,
    temperature: Floats,
    *,
    is_series: bool = False,
    workers: int = 1,
) -> Cases:
    """Return the cases solved, chunk by chunk; the chunks of one network may run side by side."""
    count = lift.shape[0]
    ordered = np.empty((count, compiled.position.size))
    ordered[:, compiled.position] = temperature
    pressures = np.empty((count, len(compiled.nodes)))
    flows, masses = np.empty_like(lift), np.empty_like(lift)
    imbalance, iterations = np.empty(count), np.empty(count, dtype=np.int64)

    arrays = (choice, lift, ordered, pressures, flows, masses, imbalance, iterations)
    solve_part = partial(_solve_part, compiled, table, is_series, arrays)
    begins = range(0, count, _CHUNK)
    if count <= _CHUNK:
        solve_part()
    elif workers == 1:
        for first in begins:
            solve_part(first)
    else:
        with ThreadPoolExecutor(min(workers, len(begins))) as pool:
            list(pool.map(solve_part, begins))
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


def _solve_part(
    compiled: Compiled, table: Floats, is_series: bool, arrays: tuple[Any, ...], first: int | None = None
) -> None:
    """Fill one chunk of the cases, or all of them. The compiled loop holds no lock, so chunks run side by side."""
    if first is not None:
        arrays = tuple(array[first : first + _CHUNK] for array in arrays)
    choice, lift, temperature, *filled = arrays
    kernel.solve_chunk(compiled.frame, table, choice, lift, temperature, is_series, *filled)


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
