"""Which appliances hang on one flue, and in which order an appliance zone is fired."""

from __future__ import annotations

from airtally.house.burners import can_spill, flue_mates, is_fire
from airtally.house.parts import NO_ONE, Appliance, House
from airtally.safety.places import appliances_now, named


def is_orphaned(appliance: Appliance, house: House) -> bool:
    """Return whether an appliance is left alone on a flue that it shared with one that was taken out."""
    if appliance.shares_flue_with == NO_ONE:
        return False
    gone = {one.id for one in house.appliances if one.until != float("inf")}
    named_mates = {appliance.shares_flue_with} | {
        one.id for one in house.appliances if one.shares_flue_with == appliance.id
    }
    return bool(named_mates & gone) and not flue_mates(appliance, appliances_now(house))


def firing_order(house: House, zone: str) -> tuple[tuple[Appliance, ...], tuple[Appliance, ...]]:
    """Return the vented appliances of a zone as they are fired: the smallest heat output first.

    Returns
    -------
    ordered, unknown : tuple of Appliance
        By rising output; and those whose output is not known, whose place in the order is not known either.
    """
    vented = [one for one in appliances_now(house, zone) if can_spill(one)]
    known = [(one.output.value, one.id, one) for one in vented if one.output is not None]
    ordered = tuple(one for _, _, one in sorted(known, key=lambda entry: entry[:2]))
    return ordered, tuple(one for one in vented if one.output is None)


def firing_order_words(house: House, zone: str) -> str:
    """Return the order of firing in words."""
    ordered, unknown = firing_order(house, zone)
    if len(ordered) + len(unknown) < 2:
        return ""
    if not unknown:
        return "Fire the smallest first: " + ", then ".join(named(one) for one in ordered) + "."
    return "Fire the smallest first; read the plates before: the output is not known of " + (
        ", ".join(named(one) for one in unknown) + "."
    )


def solid_fuel_on_a_shared_flue(house: House) -> tuple[tuple[Appliance, Appliance], ...]:
    """Return each pair of a fire and a gas or oil appliance that the survey puts on one flue."""
    present = appliances_now(house)
    return tuple(
        (fire, mate)
        for fire in present
        if is_fire(fire) and fire.shares_flue_with != NO_ONE
        for mate in flue_mates(fire, present) or ()
        if not is_fire(mate)
    )
