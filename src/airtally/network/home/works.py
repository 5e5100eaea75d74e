"""Works: what a job closes, opens, adds or replaces in a house's network, each size certain or with its doubt."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from zlib import crc32

import numpy as np

from airtally.arrays import Floats
from airtally.estimates import Estimate
from airtally.network.home.unknowns import INTERVAL
from airtally.network.spread import default

Amount = float | Estimate
"""What a work sets or leaves: certain, or with an interval."""
ADDED_EXHAUST = "added exhaust"
"""Runs where a state has it among its exhausts, as any other exhaust."""
SEALED_LEFT = default(
    0.30,
    0.15,
    0.50,
    "-",
    "duct leakage left after sealing: leaky 20 to 30 % of flow, sealed 4 to 8 %, as one trade page has it; ends: judgement",
)
CLOSED_LEFT = default(
    0.30, 0.10, 0.60, "-", "left of a return's own opening after it was closed, beyond what sealing leaves: judgement"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Works:
    """What work changes in a network; each entry only what it names, everything else stays as it was found.

    Attributes
    ----------
    envelope : float
        Envelope leakage left over found, duct leaks apart. [-]
    duct_leaks : tuple of (str, Amount)
        Left over found by name, ``return leak`` and ``supply leak`` standing for all of a side. [-]
    filter_drop : Amount or None
        Drop of the new clean filter at the blower's flow as found. [Pa]
    in_line : Amount
        Drop of a second filter in the whole airflow, at the blower's flow as found; linear in the flow. [Pa]
    exhausts : tuple of (str, Amount)
        New flow of an exhaust. [m3/s]
    added_exhaust : Amount
        Flow of an exhaust that the main body gets. [m3/s]
    transfer_area : tuple of (str, float)
        Grille or jumper duct added beside a room's door. [m2]
    supply_air : Amount
        Outdoor air that a supply fan brings into the main body. [m3/s]
    """

    envelope: float = 1.0
    duct_leaks: tuple[tuple[str, Amount], ...] = ()
    filter_drop: Amount | None = None
    in_line: Amount = 0.0
    exhausts: tuple[tuple[str, Amount], ...] = ()
    added_exhaust: Amount = 0.0
    transfer_area: tuple[tuple[str, float], ...] = ()
    supply_air: Amount = 0.0

    def left_of(self, leak: str, count: int = 1) -> Floats:
        """Return what is left of a duct leak. Shape (count,) [-]"""
        left = np.ones(count)
        for name, share in self.duct_leaks:
            if leak == name or leak.startswith(f"{name} ") or leak.startswith(f"{name}/"):
                left = left * draws_of(share, count)
        return left


AS_FOUND = Works()


def draws_of(amount: Amount, count: int) -> Floats:
    """Return draws of an amount, the first its middle. Shape (count,), never below zero.

    Two half normals that meet in the middle and hold the interval's two ends. Estimates of one source are one unknown and
    share their draws; others are independent.
    """
    if not isinstance(amount, Estimate):
        return np.full(count, float(amount))
    deviations = _deviations(amount.source, count)
    side = np.where(deviations > 0.0, amount.high - amount.value, amount.value - amount.low)
    return np.asarray(np.maximum(amount.value + deviations * side, 0.0))


@cache
def _deviations(source: str, count: int) -> Floats:
    """Return draws over the half of a 90 % interval, the first at the middle: the same for one source every time."""
    deviations = np.random.default_rng(crc32(source.encode())).normal(size=count) / INTERVAL
    deviations[0] = 0.0
    return deviations


def seal_ducts(left: Amount = SEALED_LEFT) -> Works:
    """Return works that leave a share of every duct leak. [-]"""
    return Works(duct_leaks=(("return leak", left), ("supply leak", left)))


def close_return_opening(left: Amount = CLOSED_LEFT) -> Works:
    """Return works that close a return's opening in the room of the air handler."""
    return Works(duct_leaks=(("return leak inside, handler's room", left),))


def together(*some: Works) -> Works:
    """Return several works done one after the other; leaks shrink by all, areas add up.

    Of a thing named twice the later stands: a filter, an exhaust, a supply fan, a filter in line, an added exhaust.
    """
    envelope = 1.0
    leaks: tuple[tuple[str, Amount], ...] = ()
    drop: Amount | None = None
    in_line: Amount = 0.0
    added: Amount = 0.0
    supply: Amount = 0.0
    exhausts: dict[str, Amount] = {}
    areas: dict[str, float] = {}
    for one in some:
        envelope *= one.envelope
        leaks += one.duct_leaks
        drop = one.filter_drop if one.filter_drop is not None else drop
        in_line = one.in_line or in_line
        added = one.added_exhaust or added
        supply = one.supply_air or supply
        exhausts |= dict(one.exhausts)
        for room, area in one.transfer_area:
            areas[room] = areas.get(room, 0.0) + area
    return Works(
        envelope=envelope,
        duct_leaks=leaks,
        filter_drop=drop,
        in_line=in_line,
        exhausts=tuple(exhausts.items()),
        added_exhaust=added,
        transfer_area=tuple(areas.items()),
        supply_air=supply,
    )
