"""Where a stream was, and which appliances stand there."""

from __future__ import annotations

from airtally.house.parts import AirSide, Appliance, House, Placement


def placement_of(house: House, name: str) -> Placement | None:
    """Return a placement by its id."""
    return next((one for one in house.placements if one.id == name), None)


def zone_of(house: House, name: str) -> str:
    """Return the zone of a placement, or its own name where the survey does not say."""
    found = placement_of(house, name)
    return found.zone if found is not None and found.zone else name


def is_outdoors(house: House, name: str) -> bool:
    """Return whether a placement sees outdoor air."""
    found = placement_of(house, name)
    return found is not None and found.air_side is AirSide.OUTDOOR


def appliances_at(house: House, time: float, zone: str | None = None) -> tuple[Appliance, ...]:
    """Return the combustion appliances in the house (or one zone) at a time [s]."""
    return tuple(one for one in house.appliances if one.since <= time < one.until and zone in (None, one.zone))


def appliances_now(house: House, zone: str | None = None) -> tuple[Appliance, ...]:
    """Return the combustion appliances that are still there."""
    return tuple(one for one in house.appliances if one.until == float("inf") and zone in (None, one.zone))


def named(appliance: Appliance) -> str:
    """Return an appliance in words."""
    return f"{appliance.kind.value} ({appliance.venting.value})"
