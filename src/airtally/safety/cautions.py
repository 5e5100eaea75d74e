"""Standing cautions by topic, in our own words."""

from __future__ import annotations

from airtally.house.parts import ApplianceKind, House, Venting, ZoneKind
from airtally.safety.parts import Caution, Topic

CAUTIONS: dict[Topic, str] = {
    Topic.COMBUSTION: (
        "Only qualified people adjust or repair burners, vents and chimneys. Run no large exhaust fan while an "
        "open fire burns. Stop using an appliance and call for help if you see smoke or soot, smell exhaust, or "
        "CO rises. Have chimney and vents looked at once a year. A test that was passed speaks for that day and "
        "those conditions only."
    ),
    Topic.CARBON_MONOXIDE: (
        "Keep listed CO alarms where local law asks for them and replace them at their end date. This monitor and "
        "the fan rule do not stand in for them. If an alarm sounds, everyone goes outside and calls the emergency "
        "service from there."
    ),
    Topic.FIRE: (
        "This system is no smoke or fire alarm. It must stop the fan when told to, and it must never hold up a "
        "shutdown that a code or an alarm asks for. A fan spreads smoke."
    ),
    Topic.ELECTRICITY: (
        "Mains and control wiring is work for licensed people. Put loggers that watch CO or draft on an outlet "
        "that no one switches. Never bridge a door switch, a limit, a condensate switch or a flame safeguard."
    ),
    Topic.REFRIGERANT: (
        "Only certified technicians open a refrigerant circuit. Drill nothing near coils or lines. Too little air "
        "over a coil can freeze it and harm the compressor."
    ),
    Topic.HAZARDOUS_MATERIALS: (
        "Leave vermiculite, old duct wrap, suspect paint and mould alone. Licensed firms sample and remove them. "
        "Do not put the house under suction where they may be."
    ),
    Topic.RADON: (
        "Work that changes pressures can raise or lower radon. Test before and after; certified people mitigate."
    ),
    Topic.ENTRY: (
        "Crawlspaces and attics hold bad air, wiring, animals, heat and old insulation. Nobody should enter one "
        "because of this report."
    ),
    Topic.PERMITS: (
        "Local code, the makers' instructions and the authority having jurisdiction govern, and licensed practice "
        "does the work. A limit printed here is that of the document and edition named beside it, no more."
    ),
    Topic.DATA: (
        "Sensors indicate; they drift, miss and err. Do not put off getting help because a screen looks fine."
    ),
}
"""Every topic's text."""


def cautions_for(house: House) -> tuple[Caution, ...]:
    """Return the standing cautions that concern a house; combustion and CO first, data and permits always."""
    burns = any(a.venting is not Venting.SEALED for a in house.appliances) or any(
        a.kind in (ApplianceKind.FIREPLACE, ApplianceKind.STOVE) for a in house.appliances
    )
    wanted = [Topic.CARBON_MONOXIDE, Topic.FIRE, Topic.HAZARDOUS_MATERIALS, Topic.RADON, Topic.PERMITS, Topic.DATA]
    if burns or house.appliances:
        wanted.insert(0, Topic.COMBUSTION)
    if house.air_handler is not None or house.cleaners or house.ventilation:
        wanted += [Topic.ELECTRICITY]
    if house.air_handler is not None:
        wanted += [Topic.REFRIGERANT]
    if any(zone.kind in (ZoneKind.CRAWLSPACE, ZoneKind.ATTIC) for zone in house.zones):
        wanted += [Topic.ENTRY]
    return tuple(Caution(topic=topic, text=CAUTIONS[topic]) for topic in Topic if topic in wanted)
