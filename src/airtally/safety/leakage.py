"""Leakage of ducts, and exhausts large enough for a make-up air rule, held against what codes print for new work."""

from __future__ import annotations

from airtally.estimates import Basis, Estimate
from airtally.house.parts import ExhaustKind, House, ZoneKind
from airtally.limits import Limit, limits_on
from airtally.network import newest, present
from airtally.safety.compare import compare_all, editions_in_words
from airtally.safety.parts import Grade, SafetyFinding, Standing, Topic
from airtally.visits.parts import Visit

DUCTS = "duct leakage at 25 Pa per floor area"
MAKE_UP = "exhaust without make-up air"


def leakage_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return duct leakage and large exhausts above a printed figure; notes, for the codes speak of new work."""
    return (*_ducts(house, visits), *_make_up_air(house, visits))


def floor_area(house: House) -> Estimate | None:
    """Return the floor area of the house as surveyed [m2], of the newest envelope or of its rooms."""
    areas = [one.floor_area for one in house.envelopes if one.floor_area is not None]
    if areas and areas[-1].basis is not Basis.DEFAULT:
        return areas[-1]
    rooms = [zone.floor_area for zone in house.zones if zone.kind in (ZoneKind.ROOM, ZoneKind.BASEMENT)]
    known = [one for one in rooms if one is not None]
    if not known or len(known) < len(rooms):
        return None
    return Estimate(
        value=sum(one.value for one in known), low=sum(one.low for one in known), high=sum(one.high for one in known),
        unit="m2", basis=Basis.SURVEYED, source="sum of the rooms",
    )  # fmt: skip


def _ducts(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    area = floor_area(house)
    found = []
    for key, words in (("cfm25_total", "to anywhere"), ("cfm25_outside", "to outside the house")):
        reading = newest(visits, key)
        if reading is None or reading.estimate is None or area is None or area.value <= 0.0:
            continue
        flow = reading.estimate
        share = over_floor(flow, area, key)
        held = compare_all(share, duct_limits(key), f"duct leakage {words}, over floor area")
        if all(one.is_crossed is False for one in held):
            continue
        found.append(
            SafetyFinding(
                id=f"safety-duct-leakage:{key}",
                code="safety-duct-leakage",
                title=f"Duct leakage {words} above the figure for new work",
                sentence=f"Ducts leaked {{flow}} at 25 Pa {words}, {{share}} of the floor, on {{start}}. The figure beside "
                "it is asked of new work; where the leaks lie matters more than their sum." + editions_in_words(held),
                figures=(("flow", flow), ("share", share)),
                grade=Grade.NOTE,
                standing=Standing.OPEN,
                place="ducts",
                start=reading.time,
                limits=held,
                action="Seal by order of what the leaks draw in: garage, appliance room, crawlspace, attic. Then measure "
                "static, airflow, heat rise and the appliance zone again.",
                lifted_by=f"{key} after sealing",
                topic=Topic.PERMITS,
            )
        )
    return tuple(found)


def over_floor(flow: Estimate, area: Estimate, key: str) -> Estimate:
    """Return a leak at 25 Pa [m3/s] over the floor area [m2]."""
    return Estimate(
        value=flow.value / area.value, low=flow.low / area.high, high=flow.high / area.low, unit="m/s",
        basis=Basis.COMPUTED, source=f"{key} over floor area",
    )  # fmt: skip


def duct_limits(key: str) -> tuple[Limit, ...]:
    """Return the printed figures that speak about ``cfm25_total`` or ``cfm25_outside``."""
    return tuple(
        one for one in limits_on(DUCTS, applies_to="") if one.key.endswith("-outside") is (key == "cfm25_outside")
    )  # the rough-in figure is of a house without its air handler


def _make_up_air(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    found = []
    for exhaust in present(house.exhausts):
        if exhaust.kind is ExhaustKind.FIREPLACE:
            continue
        reading = newest(visits, "exhaust_flow", place=exhaust.id)
        flow = reading.estimate if reading is not None and reading.estimate is not None else exhaust.flow
        held = compare_all(flow, limits_on(MAKE_UP), f"exhaust {exhaust.id}")
        if all(one.is_crossed is False for one in held):
            continue
        found.append(
            SafetyFinding(
                id=f"safety-make-up-air:{exhaust.id}",
                code="safety-make-up-air",
                title=f"Exhaust {exhaust.id} may need make-up air",
                sentence=f"The {exhaust.kind.value} {exhaust.id} moves {{flow}}.",
                figures=(("flow", flow),),
                grade=Grade.NOTE,
                standing=Standing.OPEN,
                place=exhaust.id,
                start=reading.time if reading is not None else None,
                limits=held,
                action="Ask the authority having jurisdiction whether make-up air is required, and test the appliance zone "
                "with this exhaust on.",
                lifted_by=f"exhaust_flow at {exhaust.id} below the figure, or make-up air as the local code asks",
                topic=Topic.PERMITS,
            )
        )
    return tuple(found)
