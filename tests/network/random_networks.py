"""Random networks, all invented: the tests draw them, and the benchmark times the solver on them."""

from __future__ import annotations

import numpy as np

from airtally.network.solver.graph import OUTDOORS, Fan, FixedFlow, Law, Leak, Link, Network, Node, OneWay, Resistance

KINDS = ("normal", "fans", "near zero", "eight decades", "nearly tight", "mixed")


def random_network(generator: np.random.Generator, nodes: int, kind: str) -> Network:
    """Return a network of one of ``KINDS``; every node hangs on outdoors by some path.

    normal: leaks over two decades, stack and wind. fans: the same with fans on curves. near zero: temperatures
    within a hundredth of a degree. eight decades: leaks of 1e-8 to 1 and fans. nearly tight: rooms joined by wide
    doors, held to outdoors by leaks of 1e-9 to 1e-6, with fans between them and into them. mixed: all laws.
    """
    names = [f"n{index}" for index in range(nodes)]
    spread = 0.01 if kind == "near zero" else 15.0
    temperature = 290.0 + spread * generator.uniform(-1.0, 1.0, nodes + 1)
    if kind == "mixed":
        temperature[0] = 480.0
    pairs = [(index, int(generator.integers(-1, index))) for index in range(nodes)]  # -1 is outdoors
    extra = generator.integers(-1, nodes, (2 * nodes, 2))
    pairs += [(int(a), int(b)) for a, b in extra if a != b]
    links = [
        _link(generator, f"l{index}", names, pair, _law(generator, kind, OUTDOORS_AT in pair), kind)
        for index, pair in enumerate(pairs)
    ]
    if kind in ("fans", "eight decades", "nearly tight", "mixed"):
        links += _fans(generator, names, kind)
    return Network(
        nodes=tuple(Node(name=n, temperature=float(t)) for n, t in zip(names, temperature[:-1], strict=True)),
        links=tuple(links),
        outdoor_temperature=float(temperature[-1]),
    )


OUTDOORS_AT = -1


def _named(names: list[str], index: int) -> str:
    return OUTDOORS if index == OUTDOORS_AT else names[index]


def _law(generator: np.random.Generator, kind: str, to_outdoors: bool) -> Law:
    decades = {"eight decades": (-8.0, 0.0), "mixed": (-6.0, -1.0)}.get(kind, (-3.0, -1.0))
    if kind == "nearly tight":
        decades = (-9.0, -6.0) if to_outdoors else (-1.0, 0.5)
    coefficient = float(10.0 ** generator.uniform(*decades))
    exponent = float(generator.uniform(0.5, 1.0)) if generator.random() < 0.7 else 0.5
    if kind == "mixed":
        draw = generator.random()
        if draw < 0.2:
            linear = 0.0 if draw < 0.05 else 10.0 ** generator.uniform(0.0, 3.0)
            square = 0.0 if draw > 0.15 else 10.0 ** generator.uniform(1.0, 5.0)
            return Resistance(linear=float(linear), square=float(square))
        if draw < 0.35:
            return OneWay(coefficient=coefficient, exponent=exponent, closed_coefficient=coefficient * 1e-3)
    return Leak(coefficient=coefficient, exponent=exponent)


def _link(
    generator: np.random.Generator, name: str, names: list[str], pair: tuple[int, int], law: Law, kind: str
) -> Link:
    height = float(generator.uniform(0.0, 8.0))
    lift = float(generator.normal(0.0, 2.0)) if OUTDOORS_AT in pair and kind != "near zero" else 0.0
    return Link(name=name, start=_named(names, pair[0]), end=_named(names, pair[1]), law=law, height=height, lift=lift)


def _fans(generator: np.random.Generator, names: list[str], kind: str) -> list[Link]:
    found = []
    for index in range(1 + len(names) // 10):
        a, b = (int(one) for one in generator.choice(len(names) + 1, 2, replace=False) - 1)
        law: Law = FixedFlow(flow=float(generator.uniform(0.0, 0.1)))
        if kind != "mixed" or generator.random() < 0.7:
            points = int(generator.integers(2, 8))
            flows = np.sort(generator.uniform(0.0, 0.6, points)) + 1e-3 * np.arange(points)
            pressures = -np.sort(-generator.uniform(0.0, 300.0, points)) - 1e-2 * np.arange(points)
            law = Fan(flows=tuple(flows.tolist()), pressures=tuple(pressures.tolist()))
        found.append(Link(name=f"fan{index}", start=_named(names, a), end=_named(names, b), law=law))
    return found
