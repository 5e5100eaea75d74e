"""Solve ten thousand random networks and say how many were solved: ``python -m tests.network.ten_thousand [COUNT]``.

5 to 60 nodes, leaks over eight decades, fans, pressures near zero, nearly tight rooms; all invented. The fast suite
solves the first thousand of the same series.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np
from tests.network.random_networks import KINDS, random_network

from airtally.network.solver.graph import OUTDOORS, Fan, Network, Refusal
from airtally.network.solver.solve import solve


@dataclass(frozen=True, slots=True, kw_only=True)
class Harvest:
    """How many networks of each kind were solved or refused, the largest imbalance found by hand, the most steps."""

    ends: Counter[tuple[str, str]]
    worst: float
    steps: int


def imbalance_by_hand(network: Network, mass_flows: dict[str, float]) -> float:
    """Return the largest sum at a node over the largest flow, from the flows that were handed back."""
    sums = dict.fromkeys([OUTDOORS, *(node.name for node in network.nodes)], 0.0)
    for link in network.links:
        sums[link.start] -= mass_flows[link.name]
        sums[link.end] += mass_flows[link.name]
    del sums[OUTDOORS]
    fans = [1.3e-3 * link.law.flows[-1] for link in network.links if isinstance(link.law, Fan)]
    scale = max(*map(abs, mass_flows.values()), *fans, 1e-12)
    return max(map(abs, sums.values())) / scale


def harvest(count: int, seed: int = 2026) -> Harvest:
    """Solve ``count`` networks, the kinds in turn."""
    generator = np.random.default_rng(seed)
    ends: Counter[tuple[str, str]] = Counter()
    worst, steps = 0.0, 0
    for index in range(count):
        kind = KINDS[index % len(KINDS)]
        network = random_network(generator, int(generator.integers(5, 61)), kind)
        answer = solve(network)
        if isinstance(answer, Refusal):
            ends[kind, answer.code] += 1
            continue
        ends[kind, "solved"] += 1
        worst = max(worst, imbalance_by_hand(network, dict(answer.mass_flows)))
        steps = max(steps, answer.iterations)
    return Harvest(ends=ends, worst=worst, steps=steps)


def main() -> int:
    """Print the harvest; leave with 1 if a network was neither solved in balance nor refused by name."""
    found = harvest(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
    for (kind, end), number in sorted(found.ends.items()):
        sys.stdout.write(f"{kind:15s} {end:25s} {number}\n")
    sys.stdout.write(f"largest imbalance over largest flow {found.worst:.1e}; most steps {found.steps}\n")
    return 0 if found.worst <= 1.001e-9 else 1


if __name__ == "__main__":
    sys.exit(main())
