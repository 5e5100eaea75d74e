"""Which combustion appliances are fires, which can spill into their room, and which share a flue."""

from __future__ import annotations

from collections.abc import Iterable

from airtally.house.parts import NO_ONE, Appliance, ApplianceKind, Venting

VENTED_FROM_THE_ROOM = frozenset({Venting.NATURAL_DRAFT, Venting.INDUCED_DRAFT, Venting.POWER_VENTED})
"""Ventings that take their air from the zone and can spill into it."""


def is_fire(appliance: Appliance) -> bool:
    """Return whether an appliance burns solid fuel or is an open hearth."""
    return appliance.kind in (ApplianceKind.FIREPLACE, ApplianceKind.STOVE) or appliance.venting in (
        Venting.OPEN_CHIMNEY,
        Venting.CLOSED_CHIMNEY,
    )


def can_spill(appliance: Appliance) -> bool:
    """Return whether an appliance vents from the room air and is no hearth."""
    return appliance.venting in VENTED_FROM_THE_ROOM and not is_fire(appliance)


def flue_mates(appliance: Appliance, others: Iterable[Appliance]) -> tuple[Appliance, ...] | None:
    """Return the other appliances on an appliance's flue; None where the survey does not say.

    Parameters
    ----------
    appliance : Appliance
        Whose flue.
    others : iterable of Appliance
        What stands in the house at that time; a mate that was taken out is no mate.

    Returns
    -------
    mates : tuple of Appliance or None
        Whoever either of them names, and whoever those name. Empty: a flue of its own, or a mate that is gone.
    """
    there = {one.id: one for one in others if one.id != appliance.id}
    links = [(one.id, one.shares_flue_with) for one in (appliance, *there.values()) if one.shares_flue_with != NO_ONE]
    group, grew = {appliance.id}, True
    while grew:
        more = {b for a, b in links if a in group and b is not None} | {a for a, b in links if b in group}
        grew = not more <= group
        group |= more
    mates = tuple(there[name] for name in sorted(group & there.keys()))
    if not mates and appliance.shares_flue_with is None:
        return None
    return mates
