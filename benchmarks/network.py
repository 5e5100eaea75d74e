"""Time the pressure-flow solver against scipy in one run, and write the figures to benchmarks/network.md.

``python -m benchmarks.network [--networks 400]``. All networks are invented. scipy is given everything that can be
given to it: the same compiled laws for residuals, their analytic Jacobian compiled too, the same first guess; it is
judged at the same tolerance as the solver. Its time counts whether or not it arrives.
"""

from __future__ import annotations

import argparse
import datetime
import os
import platform
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, cast

import numba
import numpy as np
import scipy
from numpy.typing import NDArray
from scipy.optimize import root
from tests.network.random_networks import random_network

from airtally.network.solver import kernel
from airtally.network.solver.graph import Refusal
from airtally.network.solver.solve import Compiled, compile_network, solve_cases, solve_compiled

Floats = NDArray[np.float64]
RESULTS = Path(__file__).with_name("network.md")
NODES, HOURS, STATES = 20, 8760, 6
KINDS = ("normal", "fans", "near zero", "eight decades", "nearly tight", "mixed")


def best_of(function: Callable[[], Any], repeats: int) -> float:
    """Return the shortest of several runs. [s]."""
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        function()
        times.append(time.perf_counter() - begin)
    return min(times)


def _residual(frame: kernel.Frame, table: Floats, density: Floats, drive: Floats, pressures: Floats) -> Floats:
    state, links = np.zeros((2, pressures.size + 1)), np.empty((3, drive.size))
    state[0, :-1] = pressures
    kernel._flows(frame, table, density, state, drive, links)
    sums = np.zeros(pressures.size + 1)
    kernel._balance(frame, links, sums, 0.0)
    return sums[:-1]


def _jacobian(frame: kernel.Frame, table: Floats, density: Floats, drive: Floats, pressures: Floats) -> Floats:
    state, links = np.zeros((2, pressures.size + 1)), np.empty((3, drive.size))
    state[0, :-1] = pressures
    kernel._flows(frame, table, density, state, drive, links)
    matrix = np.zeros((pressures.size + 1, pressures.size + 1))
    for link in range(drive.size):
        a, b, slope = frame.start[link], frame.end[link], links[1, link]
        matrix[a, a] -= slope
        matrix[b, b] -= slope
        matrix[a, b] += slope
        matrix[b, a] += slope
    return matrix[:-1, :-1]


residual = cast(Callable[..., Floats], numba.njit(error_model="numpy")(_residual))
jacobian = cast(Callable[..., Floats], numba.njit(error_model="numpy")(_jacobian))


@dataclass(frozen=True, slots=True, kw_only=True)
class Race:
    """One network, set up for both sides."""

    compiled: Compiled
    density: Floats
    drive: Floats
    guess: Floats
    arrays: tuple[Any, ...]


def race_of(generator: np.random.Generator, kind: str) -> Race:
    """Return a random network with its densities, drives and the first guess that both sides start from."""
    compiled = compile_network(random_network(generator, NODES, kind))
    assert not isinstance(compiled, Refusal)  # noqa: S101 - the generator hangs every node on outdoors
    frame = compiled.frame
    nodes, links = NODES, len(compiled.links)
    temperature = np.empty(nodes + 1)
    temperature[compiled.position] = compiled.temperature
    density, drive, flows = np.empty(nodes + 1), np.empty(links), np.empty((3, links))
    sums, step = np.empty(nodes + 1), np.zeros(nodes + 1)
    kernel.weather(frame, compiled.lift, temperature, density, drive)
    state, total = np.zeros((2, nodes + 1)), np.empty(nodes)
    kernel.guess(
        frame, compiled.table, density, drive, flows, sums, step, total, state, np.empty(frame.column.size + nodes)
    )
    arrays = (
        frame, compiled.table[None], np.zeros(1, dtype=np.int64), compiled.lift[None].copy(), temperature[None].copy(),
        False, np.empty((1, nodes)), np.empty((1, links)), np.empty((1, links)), np.empty(1), np.empty(1, dtype=np.int64),
    )  # fmt: skip
    return Race(compiled=compiled, density=density, drive=drive, guess=state[0, :-1].copy(), arrays=arrays)


def imbalance_of(race: Race, pressures: Floats) -> float:
    """Return the largest imbalance over the largest flow at given pressures. [-]."""
    frame = race.compiled.frame
    state, links = np.zeros((2, pressures.size + 1)), np.empty((3, race.drive.size))
    state[0, :-1] = pressures
    kernel._flows(frame, race.compiled.table, race.density, state, race.drive, links)
    worst, largest = kernel._balance(frame, links, np.zeros(pressures.size + 1), 0.0)
    return worst / largest


def scipy_side(race: Race, method: str) -> tuple[float, bool]:
    """Return the seconds that scipy took, and whether its answer is within the tolerance."""
    shared = (race.compiled.frame, race.compiled.table, race.density, race.drive)
    options = {"xtol": 1e-12} if method == "hybr" else {"xtol": 1e-12, "ftol": 1e-15, "gtol": 0.0}
    go = partial(
        root, partial(residual, *shared), race.guess, jac=partial(jacobian, *shared), method=method, options=options
    )
    found: list[Any] = []
    with np.errstate(all="ignore"):
        seconds = best_of(lambda: found.append(go().x), 3)
    return seconds, imbalance_of(race, found[-1]) <= kernel.TOLERANCE


def kind_row(kind: str, count: int) -> tuple[str, ...]:
    """Return one line of the table: microseconds a solve and shares solved."""
    generator = np.random.default_rng(3)
    races = [race_of(generator, kind) for _ in range(count)]
    kernel.solve_chunk(*races[0].arrays)
    ours = np.array([best_of(partial(kernel.solve_chunk, *race.arrays), 3) for race in races])
    whole = np.array([best_of(partial(solve_compiled, race.compiled), 3) for race in races])
    solved = np.mean([race.arrays[9][0] <= kernel.TOLERANCE for race in races])
    steps = np.array([race.arrays[10][0] for race in races])
    sides = {method: [scipy_side(race, method) for race in races] for method in ("hybr", "lm")}
    cells = [
        kind,
        f"{ours.mean() * 1e6:.0f} / {solved:.1%}",
        f"{whole.mean() * 1e6:.0f}",
        f"{np.median(steps):.0f} / {steps.max()}",
    ]
    for side in sides.values():
        seconds, arrived = np.array([s for s, _ in side]), np.array([a for _, a in side])
        times = f"{seconds.mean() / ours.mean():.1f}"
        both = f"{seconds[arrived].mean() / ours[arrived].mean():.1f}" if arrived.any() else "-"
        cells += [f"{seconds.mean() * 1e6:.0f} / {arrived.mean():.1%}", f"{times} / {both}"]
    return tuple(cells)


def year_row() -> str:
    """Return a line on a year of hourly weather in six states of one house of 20 nodes."""
    generator = np.random.default_rng(11)
    compiled = compile_network(random_network(generator, NODES, "fans"))
    assert not isinstance(compiled, Refusal)  # noqa: S101
    cases, links = HOURS * STATES, len(compiled.links)
    tables = np.repeat(compiled.table[None], STATES, axis=0)
    passive = compiled.frame.kind == kernel.LEAK
    tables[:, passive, 0] *= 10.0 ** generator.uniform(-1.0, 1.0, (STATES, int(passive.sum())))
    hours = np.arange(HOURS)
    outdoors = 283.0 + 12.0 * np.sin(hours / 8760 * 2 * np.pi) + 5.0 * np.sin(hours / 24 * 2 * np.pi)
    temperature = np.tile(compiled.temperature, (HOURS, 1))
    temperature[:, -1] = outdoors + generator.normal(0.0, 2.0, HOURS)
    wind = generator.weibull(2.0, HOURS)[:, None] ** 2 * 3.0
    lift = np.tile(compiled.lift[None] * wind, (STATES, 1))  # state by state, so that hours stand side by side
    temperature = np.tile(temperature, (STATES, 1))
    choice = np.repeat(np.arange(STATES), HOURS)
    go = partial(solve_cases, compiled, tables, lift, temperature, table_of_case=choice)
    series = partial(go, is_series=True)
    apart, after = go(), series()
    return (
        f"A year of hourly weather in {STATES} states, {NODES} nodes, {links} links ({cases:,} solves; aim: under 5 s): "
        f"{best_of(go, 3):.2f} s on {os.cpu_count()} cores, {best_of(partial(go, workers=1), 2):.2f} s on one, "
        f"{apart.iterations.mean():.1f} steps on average. Each hour started from the one before: "
        f"{best_of(series, 3):.2f} s and {best_of(partial(series, workers=1), 2):.2f} s, "
        f"{after.iterations.mean():.1f} steps. Solved: {apart.is_solved.mean():.2%} and {after.is_solved.mean():.2%}."
    )


def main() -> None:
    """Run everything and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--networks", type=int, default=400, help="random networks of each kind")
    count = parser.parse_args().networks
    head = (
        "kind", "solver: us / solved", "with names: us", "steps: median / most",
        "hybr: us / solved", "ratio: all / where hybr arrives", "lm: us / solved", "ratio: all / where lm arrives",
    )  # fmt: skip
    rows = [kind_row(kind, count) for kind in KINDS]
    today = datetime.datetime.now(tz=datetime.UTC).date()
    machine = f"{platform.machine()}, {os.cpu_count()} cores, {platform.system()}, Python {platform.python_version()}"
    versions = f"numpy {np.__version__}, numba {numba.__version__}, scipy {scipy.__version__}"
    lines = [
        "# Benchmarks of the pressure-flow network",
        "",
        f"{today}; {machine}; {versions}. Written by `python -m benchmarks.network`. {count} invented networks of each kind,",
        f"{NODES} nodes, about {3 * NODES} links; kinds as in `tests/network/random_networks.py`. All sides are judged at an",
        "imbalance of 1e-9 of the largest mass flow. scipy has the same compiled laws, the analytic Jacobian and the same",
        "first guess. Best of three runs a network, mean over networks; cores may have been shared, so read the ratios.",
        "'With names' is a whole call of `solve_compiled`, which hands back dictionaries.",
        "",
        "| " + " | ".join(head) + " |",
        "|" + "---|" * len(head),
        *("| " + " | ".join(row) + " |" for row in rows),
        "",
        year_row(),
        "",
    ]
    RESULTS.write_text("\n".join(lines), encoding="utf-8")
    print("\n".join(lines))  # noqa: T201 - a benchmark talks to the terminal


if __name__ == "__main__":
    main()
