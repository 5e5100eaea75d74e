"""Which published limits on suction speak about a surveyed appliance."""

from __future__ import annotations

from collections.abc import Iterable

from airtally.house.burners import can_spill, flue_mates, is_fire
from airtally.house.parts import Appliance, ApplianceKind, Venting
from airtally.limits import Limit, limits_on

QUANTITY = "house pressure"
FIRE_KIND = "fireplace or solid-fuel stove"
ALONE = {
    True: "natural-draft water heater alone",
    False: "natural-draft furnace or boiler alone, or sharing with a vent damper",
}
"""Kind of a natural-draft appliance with a flue of its own; the key says whether it heats water."""
SHARED = "natural-draft appliances sharing a flue"
SHARED_WITH_INDUCED = "induced draft sharing a flue with a natural-draft water heater"


def limit_kinds(appliance: Appliance, others: Iterable[Appliance]) -> tuple[str, ...]:
    """Return the kinds of the limit table that speak about an appliance.

    Where the survey says which appliances share a flue, the kind of that group holds. Where it does not, and another
    vented appliance stands in the zone, the kinds for alone and for sharing all apply, and the stricter governs.
    """
    given = tuple(others)
    if is_fire(appliance):
        return (FIRE_KIND,)
    mates = flue_mates(appliance, given)
    here = tuple(one for one in given if one.id != appliance.id and can_spill(one) and one.zone == appliance.zone)
    if appliance.venting is Venting.NATURAL_DRAFT:
        return _natural_draft_kinds(appliance, mates, here)
    by_venting = {
        Venting.INDUCED_DRAFT: ("induced draft",),
        Venting.POWER_VENTED: ("power vented",),
        Venting.SEALED: ("sealed combustion",),
    }
    kinds = by_venting.get(appliance.venting, ())
    natural = [one for one in (here if mates is None else mates) if one.venting is Venting.NATURAL_DRAFT]
    return (*kinds, SHARED_WITH_INDUCED) if appliance.venting is Venting.INDUCED_DRAFT and natural else kinds


def _natural_draft_kinds(
    appliance: Appliance, mates: tuple[Appliance, ...] | None, here: tuple[Appliance, ...]
) -> tuple[str, ...]:
    """Return the kinds of a natural-draft appliance: alone, with its own sort, or with a fan on the same flue."""
    alone = ALONE[appliance.kind is ApplianceKind.WATER_HEATER]
    sharing = here if mates is None else mates
    shared = []
    if any(one.venting is Venting.INDUCED_DRAFT for one in sharing):
        shared.append(SHARED_WITH_INDUCED)
    if any(one.venting is not Venting.INDUCED_DRAFT for one in sharing) or (mates is None and shared):
        shared.append(SHARED)
    if mates is None:
        return (alone, *shared)
    return tuple(shared) or (alone,)


def pressure_limits(appliance: Appliance, others: Iterable[Appliance]) -> tuple[Limit, ...]:
    """Return every published depressurisation limit that speaks about an appliance."""
    given = tuple(others)
    return tuple(one for kind in limit_kinds(appliance, given) for one in limits_on(QUANTITY, applies_to=kind))
