"""What the solver cannot take, said by name before anything is computed."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import isfinite

from airtally.errors import Problem
from airtally.network.solver.graph import OUTDOORS, Fan, FixedFlow, Link, Network, Resistance


def faults(network: Network) -> Iterator[Problem]:
    """Yield what is wrong with names, numbers and laws of a network."""
    yield from _name_faults(network)
    yield from _number_faults(network)
    for link in network.links:
        yield from _law_faults(link)


def _name_faults(network: Network) -> Iterator[Problem]:
    known = {OUTDOORS}
    for node in network.nodes:
        if node.name in known:
            yield _name_fault(f"node {node.name}", "the name is given twice, or is outdoors' own")
        known.add(node.name)
    links: set[str] = set()
    for link in network.links:
        if link.name in links:
            yield _name_fault(f"link {link.name}", "the name is given twice")
        links.add(link.name)
        for name in (link.start, link.end):
            if name not in known:
                yield _name_fault(f"link {link.name}", f"it joins {name}, which is no node")
        if link.start == link.end:
            yield _name_fault(f"link {link.name}", f"it joins {link.start} to itself")


def _name_fault(where: str, found: str) -> Problem:
    return Problem(
        code="network-names",
        where=where,
        found=found,
        wanted="one name a node and a link, and links between two nodes or a node and outdoors",
        remedy="Rename or rejoin it.",
    )


def _number_faults(network: Network) -> Iterator[Problem]:
    levels = {"the network's outdoor temperature": network.outdoor_temperature}
    levels |= {f"node {node.name}'s temperature": node.temperature for node in network.nodes}
    levels["the network's site pressure"] = network.site_pressure
    for where, value in levels.items():
        if not (isfinite(value) and value > 0.0):
            yield _number_fault(where, f"it is {value:g}", "an absolute temperature or pressure above zero")
    for link in network.links:
        for name, value in (("height", link.height), ("lift", link.lift)):
            if not isfinite(value):
                yield _number_fault(f"link {link.name}", f"its {name} is {value:g}", "a finite number")


def _number_fault(where: str, found: str, wanted: str) -> Problem:
    return Problem(code="network-bad-number", where=where, found=found, wanted=wanted, remedy="Correct or measure it.")


def _law_faults(link: Link) -> Iterator[Problem]:
    law, where = link.law, f"link {link.name}"
    if isinstance(law, Fan):
        yield from _curve_faults(law, where)
        return
    numbers = {name: getattr(law, name) for name in law.__slots__}
    may_be_zero = isinstance(law, Resistance)
    for name, value in numbers.items():
        if not isfinite(value):
            yield _number_fault(where, f"its {name} is {value:g}", "a finite number")
        elif not isinstance(law, FixedFlow) and (value < 0.0 or (value == 0.0 and not may_be_zero)):
            yield _number_fault(where, f"its {name} is {value:g}", "a number above zero")
    if may_be_zero and not any(numbers.values()):
        yield _number_fault(where, "both its resistances are zero", "at least one above zero")


def _curve_faults(fan: Fan, where: str) -> Iterator[Problem]:
    bad = [value for value in (*fan.flows, *fan.pressures) if not isfinite(value)]
    if bad:
        yield _number_fault(where, f"its curve holds {bad[0]:g}", "finite numbers")
        return
    found = ""
    if len(fan.flows) != len(fan.pressures) or len(fan.flows) < 2:
        found = f"the curve has {len(fan.flows)} flows and {len(fan.pressures)} pressures"
    elif any(a >= b for a, b in pairwise(fan.flows)):
        found = "the flows of the curve do not rise from point to point"
    elif any(a <= b for a, b in pairwise(fan.pressures)):
        found = "the pressures of the curve do not fall from point to point"
    if found:
        yield Problem(
            code="network-fan-curve",
            where=where,
            found=found,
            wanted="two points or more, flow rising and pressure falling",
            remedy="Order the points by flow; make a humped curve falling before it is used.",
        )
