"""The survey's measures as works on a house's network: what each closes, opens, adds or replaces."""

from __future__ import annotations

from airtally.house.parts import PricedMeasure
from airtally.network.home.house_network import HouseNetwork, Works

SEALED_LEFT = 0.30
"""What is left of duct leakage after sealing (0.15 to 0.5): leaky 20 to 30 % of flow, sealed 4 to 8 %, as one trade page has it. [-]"""
CLOSED_LEFT = 0.30
"""What is left of a return's own opening in an appliance's room after it was closed, beyond what sealing leaves: judgement. [-]"""
TRANSFER_AREA = 0.03
"""Grille or jumper duct that lets a shut room's air return, 300 cm2: common practice, no source. [m2]"""
CLEAN_DEEP_FILTER = 37.0
"""Clean drop of a 4 to 5 inch MERV 13 of 20 by 25 inches at 1,000 cfm, 0.10 to 0.20 inH2O: common practice, no source. [Pa]"""
DEEP_FILTER_FLOW = 0.472
"""Flow at which that drop is told. [m3/s]"""


def seal_ducts(left: float = SEALED_LEFT) -> Works:
    """Return works that leave a share of every duct leak. [-]"""
    return Works(duct_leaks=(("return leak", left), ("supply leak", left)))


def close_return_opening(left: float = CLOSED_LEFT) -> Works:
    """Return works that close a return's opening in the room of the air handler."""
    return Works(duct_leaks=(("return leak inside, handler's room", left),))


def deep_filter(network: HouseNetwork) -> Works:
    """Return works that put in a clean deep-pleated filter of usual size."""
    _, flow = network.layout.mode_flow[0]
    return Works(filter_drop=CLEAN_DEEP_FILTER * flow.value / DEEP_FILTER_FLOW)


def transfer_paths(network: HouseNetwork) -> Works:
    """Return works that give every lived-in side room a way back for its supply air."""
    rooms = {zone for zone, _ in network.layout.supplied} & set(network.layout.side_rooms)
    return Works(transfer_area=tuple((room, TRANSFER_AREA) for room in sorted(rooms)))


def together(*some: Works) -> Works:
    """Return several works done one after the other; of a thing named twice the later one stands, leaks shrink by both."""
    envelope, supply = 1.0, 0.0
    leaks: tuple[tuple[str, float], ...] = ()
    drop = None
    exhausts: dict[str, float] = {}
    areas: dict[str, float] = {}
    for one in some:
        envelope *= one.envelope
        leaks += one.duct_leaks
        drop = one.filter_drop if one.filter_drop is not None else drop
        exhausts |= dict(one.exhausts)
        for room, area in one.transfer_area:
            areas[room] = areas.get(room, 0.0) + area
        supply += one.supply_air
    return Works(
        envelope=envelope,
        duct_leaks=leaks,
        filter_drop=drop,
        exhausts=tuple(exhausts.items()),
        transfer_area=tuple(areas.items()),
        supply_air=supply,
    )


def works_of(network: HouseNetwork, measure: PricedMeasure) -> Works | None:
    """Return what a priced measure changes in the network, None where it moves no pressure (a fan that runs longer)."""
    settings = dict(measure.settings)

    def number(key: str, usual: float) -> float:
        value = settings.get(key, usual)
        return float(value) if not isinstance(value, str) else usual

    if not network.leak_zones and measure.kind in ("return sealing", "better filter"):
        return None
    if measure.kind == "return sealing":
        return Works(duct_leaks=(("return leak", number("remaining", SEALED_LEFT)),))
    if measure.kind == "better filter":
        drop = settings.get("pressure_drop")
        return deep_filter(network) if drop is None or isinstance(drop, str) else Works(filter_drop=float(drop))
    if measure.kind == "supply ventilation":
        return Works(supply_air=number("flow", 0.028))
    return None
