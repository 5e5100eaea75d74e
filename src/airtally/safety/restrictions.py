"""Rules for the people in the house while a finding is open, in the imperative."""

from __future__ import annotations

from airtally.house.burners import is_fire
from airtally.house.parts import ExhaustKind, House
from airtally.network import present
from airtally.safety.parts import Restriction, SafetyFinding
from airtally.safety.places import appliances_now

FIRES = ("safety-not-tested-with-fire", "safety-fire-logged")
GAS = (
    "safety-co-event",
    "safety-co-room",
    "safety-co-flue",
    "safety-spill-temperature",
    "safety-diary-alarm",
)
SPILL = ("safety-spillage", "safety-spillage-not-tested", "safety-depressurisation", "safety-soot")
PLAIN: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Do not use what burned when CO rose until a qualified person has tested it.", GAS),
    ("If an alarm sounds or anyone feels unwell: everyone out, call the emergency service from outdoors.", GAS),
    ("Keep the fan rule off.", GAS),
    ("Run no engine in the garage, not even with its door open.", ("safety-garage-return",)),
    ("Keep the fan rule off while the CO and spill logger is silent.", ("safety-logger-outage",)),
    (
        "Fit no denser filter until the airflow is back within the plate.",
        ("safety-heat-rise", "safety-cooling-airflow", "safety-static-rose"),
    ),
    ("Disturb no vermiculite, old wrap, suspect paint or mould.", ("safety-hazardous-material",)),
    ("Run the cleaner only while the air handler runs.", ("safety-interlock",)),
    ("Fit listed CO alarms as local law asks before anything burns again.", ("safety-alarms",)),
)
"""Rules that hold while a finding of these codes is open."""


def restrictions(house: House, findings: tuple[SafetyFinding, ...]) -> tuple[Restriction, ...]:
    """Return the rules for the people in the house, in the imperative, each with the findings it rests on."""
    open_ones = [one for one in findings if one.is_open]

    def ids(codes: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(one.id for one in open_ones if one.code in codes)

    def lifted(because: tuple[str, ...]) -> str:
        return "; ".join(dict.fromkeys(one.lifted_by for one in open_ones if one.id in because and one.lifted_by))

    rules = _of_fires(house, ids(FIRES))
    motors = any(one.kind is not ExhaustKind.FIREPLACE for one in present(house.exhausts))
    if motors and ids(SPILL):
        rules.append(("Run no two exhausts together while a vented appliance fires.", ids(SPILL)))
    rules += [(rule, ids(codes)) for rule, codes in PLAIN if ids(codes)]
    return tuple(Restriction(rule=rule, because=because, lifted_by=lifted(because)) for rule, because in rules)


def _of_fires(house: House, because: tuple[str, ...]) -> list[tuple[str, tuple[str, ...]]]:
    """Return the rules of a house with a hearth; they hold whatever was found."""
    exhausts = present(house.exhausts)
    motors = [one for one in exhausts if one.kind is not ExhaustKind.FIREPLACE]
    if not (any(is_fire(one) for one in appliances_now(house)) or len(motors) < len(exhausts)):
        return []
    rules = []
    if motors:
        names = ", ".join(one.id for one in motors)
        rules.append(
            (f"No large exhaust with a fire lit: {names} stay off from light-up until the ash is cold.", because)
        )
    rules.append(("Stop the fire and air the room if smoke, soot or a smell of exhaust appears.", because))
    return rules
