"""The steps of a visit in the order of the work, and which readings of which places each step asks for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from airtally.house.burners import can_spill, is_fire
from airtally.house.parts import ExhaustKind, House, ZoneKind
from airtally.safety.parts import Topic
from airtally.visits.kinds import READING_KINDS, StatePart
from airtally.visits.parts import HandlerMode


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One page of a visit.

    Attributes
    ----------
    name, path : str
        On the screen, and at the end of the address.
    keys : tuple of str
        Readings it asks for, in order.
    topics : tuple of Topic
        Standing cautions that it shows.
    """

    name: str
    path: str
    keys: tuple[str, ...] = ()
    topics: tuple[Topic, ...] = ()


_BURNING = (Topic.COMBUSTION, Topic.CARBON_MONOXIDE)

STEPS = (
    Step(name="Gates", path="gates"),
    Step(name="House state", path="state", keys=("outdoor_temperature", "indoor_temperature")),
    Step(name="CO by room", path="co", keys=("co_ambient",), topics=_BURNING),
    Step(
        name="Appliance zone",
        path="zone",
        keys=(
            "baseline_pressure", "worst_case_pressure_change", "spillage_time", "draft", "co_flue",
            "co_flue_as_measured", "flue_temperature", "burn_pressure_change", "return_distance",
        ),
        topics=_BURNING,
    ),
    Step(
        name="Statics",
        path="statics",
        keys=(
            "tesp", "return_static", "supply_static", "filter_drop", "coil_drop", "rated_static", "take_off_static",
            "re_entry_static",
        ),
        topics=(Topic.ELECTRICITY, Topic.REFRIGERANT),
    ),
    Step(
        name="Heat rise and plate",
        path="rise",
        keys=("heat_rise", "plate_rise_low", "plate_rise_high", "heat_output"),
        topics=(Topic.COMBUSTION,),
    ),
    Step(
        name="Airflow",
        path="airflow",
        keys=("airflow", "blower_power", "cooling_capacity", "cleaner_flow", "register_flow"),
        topics=(Topic.ELECTRICITY,),
    ),
    Step(
        name="Leakage",
        path="leakage",
        keys=(
            "cfm50", "envelope_exponent", "cfm25_total", "cfm25_outside", "cfm25_return", "cfm25_supply",
            "pressure_pan",
        ),
        topics=(Topic.HAZARDOUS_MATERIALS,),
    ),
    Step(
        name="Room pressures",
        path="rooms",
        keys=(
            "house_pressure_fan_on_minus_off", "zone_pressure_change", "zone_pressure", "baseline_pressure",
        ),
    ),
    Step(name="Exhaust flows", path="exhausts", keys=("exhaust_flow", "ventilation_flow")),
    Step(name="Looked at", path="looked-at"),
    Step(name="Diary", path="diary"),
    Step(name="Gauges", path="gauges"),
    Step(name="Notes and referrals", path="notes"),
)  # fmt: skip
"""In the order of the work: gates, then what disturbs least."""

MODES = (HandlerMode.HEATING, HandlerMode.COOLING, HandlerMode.CIRCULATE)
"""What a blower speed of the survey is called in a reading's state."""
ONLY_HEATING = frozenset({"heat_rise"})
"""Readings that one speed alone has."""
AT_BURNERS = frozenset({"worst_case_pressure_change", "return_distance"})
"""Readings of zones in which something vented or a hearth stands."""
FIRED = frozenset({"spillage_time", "co_flue", "co_flue_as_measured"})
"""Readings of a burner that is fired for the test; a hearth cannot be."""
LOOP = frozenset({"take_off_static", "re_entry_static"})
"""Readings of a bypass cleaner's loop."""


SELDOM = frozenset(
    {
        "outdoor_temperature", "indoor_temperature", "co_flue_as_measured", "flue_temperature", "take_off_static",
        "re_entry_static", "heat_output", "register_flow", "envelope_exponent", "cfm25_return", "cfm25_supply",
        "zone_pressure",
    }
)  # fmt: skip
"""Readings that many visits do without; they stand folded until one is written or was read at test-in."""


class Spot(NamedTuple):
    """Where a reading is taken: the place as a visit writes it, what pages call it, and at which blower speed."""

    place: str
    title: str
    mode: str = ""


def spots(key: str, step: Step, house: House, time: float) -> tuple[Spot, ...]:
    """Return where a reading is asked for in this house at a time [s], empty where the house has no such thing."""
    kind = READING_KINDS[key]
    match kind.place:
        case "zone":
            return _zones(key, step, house, time)
        case "appliance":
            vented = [one for one in house.appliances if can_spill(one) or (is_fire(one) and key not in FIRED)]
            return tuple(Spot(one.id, named(one.kind.value, one.id)) for one in vented if _stands(one, time))
        case "exhaust":
            fans = [one for one in house.exhausts if one.kind is not ExhaustKind.FIREPLACE]
            return tuple(Spot(one.id, named(one.kind.value, one.id)) for one in fans if _stands(one, time))
        case "ventilation":
            return tuple(Spot(one.id, named(one.kind.value, one.id)) for one in house.ventilation if _stands(one, time))
        case "cleaner":
            there = [Spot(one.id, one.name) for one in house.cleaners if _stands(one, time)]
            return tuple(spot._replace(mode=mode) for spot in there for mode in _modes(key, house, time))
        case "air handler" | "ducts" if house.air_handler is None:
            return ()
        case "air handler" if key in LOOP and all(one.is_portable for one in house.cleaners):
            return ()
        case "air handler":
            return tuple(Spot(kind.place, kind.place, mode) for mode in _modes(key, house, time))
        case "register":
            return ()
        case _:
            return (Spot(kind.place, kind.place),)


def named(kind: str, name: str) -> str:
    """Return what pages call a part that has no name but its id."""
    return kind if kind == name.replace("-", " ") else f"{kind}, {name}"


def _zones(key: str, step: Step, house: House, time: float) -> tuple[Spot, ...]:
    burning = {one.zone for one in house.appliances if can_spill(one) and _stands(one, time)}
    hearths = {one.zone for one in house.appliances if is_fire(one) and _stands(one, time)}
    wanted = {zone.id for zone in house.zones}
    if key in AT_BURNERS:
        wanted = burning | hearths
    elif key == "burn_pressure_change":
        wanted = hearths
    elif key == "baseline_pressure":  # of an appliance zone it is a step of that zone's test
        wanted = burning if step.path == "zone" else wanted - burning
    elif key == "indoor_temperature":
        wanted = {zone.id for zone in house.zones if zone.kind in (ZoneKind.ROOM, ZoneKind.BASEMENT)}
    rooms = tuple(Spot(zone.id, zone.name or zone.id) for zone in house.zones if zone.id in wanted)
    return (Spot("outdoors", "outdoors"), *rooms) if key == "co_ambient" else rooms


def _modes(key: str, house: House, time: float) -> tuple[str, ...]:
    """Return at which blower speeds a reading is asked for; an empty word where it depends on none."""
    if StatePart.AIR_HANDLER not in READING_KINDS[key].depends_on:
        return ("",)
    if key in ONLY_HEATING:
        return (HandlerMode.HEATING.value,)
    speeds = house.air_handler.speeds if house.air_handler is not None else ()
    names = {one.name for one in speeds if _stands(one, time)}
    return tuple(mode.value for mode in MODES if mode.value in names) or ("",)


def _stands(one: object, time: float) -> bool:
    return bool(getattr(one, "since") <= time < getattr(one, "until"))  # noqa: B009 - parts of the house share two dates
