"""The readings a visit can hold: what each is, in which dimension, and which house state it depends on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Dimension(StrEnum):
    """What kind of quantity a reading is."""

    FLOW = "flow"
    PRESSURE = "pressure"
    TEMPERATURE = "temperature"
    TEMPERATURE_DIFFERENCE = "temperature difference"
    MOLE_FRACTION = "mole fraction"
    TIME = "time"
    POWER = "power"
    LENGTH = "length"
    RATIO = "ratio"


SI_UNIT: dict[Dimension, str] = {
    Dimension.FLOW: "m3/s",
    Dimension.PRESSURE: "Pa",
    Dimension.TEMPERATURE: "K",
    Dimension.TEMPERATURE_DIFFERENCE: "K",
    Dimension.MOLE_FRACTION: "mol/mol",
    Dimension.TIME: "s",
    Dimension.POWER: "W",
    Dimension.LENGTH: "m",
    Dimension.RATIO: "-",
}
"""The SI unit in which the value of a reading is held."""


class StatePart(StrEnum):
    """One part of the house state; two readings are alike when the parts their key depends on agree."""

    DOORS = "doors"
    AIR_HANDLER = "air_handler"
    EXHAUSTS = "exhausts_on"
    FIRES = "fires_lit"
    VENT = "vent"
    WEATHER = "weather"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingKind:
    """What a reading key stands for.

    Attributes
    ----------
    dimension : Dimension
        Dimension of the value.
    meaning : str
        One line in the words of the trade.
    place : str
        What the place names: ``house``, ``zone``, ``air handler``, ``exhaust``, ``appliance`` ...
    depends_on : tuple of StatePart
        Parts of the house state that must agree for two readings to be compared.
    needs_reference : bool
        Whether the reading is a pressure difference that means nothing without its reference.
    is_magnitude : bool
        Whether the sign as written is dropped (a return static is written both ways).
    is_never_negative : bool
        Whether a negative value is refused.
    is_fixed : bool
        Whether it is a fact of the machine or of the day (a plate, the weather) that is not tested again.
    """

    dimension: Dimension
    meaning: str
    place: str
    depends_on: tuple[StatePart, ...] = ()
    needs_reference: bool = False
    is_magnitude: bool = False
    is_never_negative: bool = False
    is_fixed: bool = False


_ALL_FANS = (StatePart.DOORS, StatePart.AIR_HANDLER, StatePart.EXHAUSTS, StatePart.FIRES)
_PRESSURE_STATE = (*_ALL_FANS, StatePart.WEATHER)


def _flow(meaning: str, place: str, *depends_on: StatePart) -> ReadingKind:
    return ReadingKind(
        dimension=Dimension.FLOW, meaning=meaning, place=place, depends_on=depends_on, is_never_negative=True
    )


def _house_pressure(meaning: str, place: str, *depends_on: StatePart) -> ReadingKind:
    return ReadingKind(
        dimension=Dimension.PRESSURE, meaning=meaning, place=place, depends_on=depends_on, needs_reference=True
    )


def _static(meaning: str) -> ReadingKind:
    return ReadingKind(
        dimension=Dimension.PRESSURE,
        meaning=meaning,
        place="air handler",
        depends_on=(StatePart.AIR_HANDLER,),
        is_magnitude=True,
    )


def _plate(dimension: Dimension, meaning: str) -> ReadingKind:
    return ReadingKind(dimension=dimension, meaning=meaning, place="air handler", is_never_negative=True, is_fixed=True)


def _gas(meaning: str, place: str, *depends_on: StatePart) -> ReadingKind:
    return ReadingKind(
        dimension=Dimension.MOLE_FRACTION, meaning=meaning, place=place, depends_on=depends_on, is_never_negative=True
    )


_HANDLER = StatePart.AIR_HANDLER

READING_KINDS: dict[str, ReadingKind] = {
    # Envelope and ducts
    "cfm50": _flow("house leakage at 50 Pa", "house", StatePart.DOORS, StatePart.FIRES),
    "envelope_exponent": ReadingKind(
        dimension=Dimension.RATIO,
        meaning="exponent of a multi-point leakage test",
        place="house",
        is_never_negative=True,
    ),
    "cfm25_total": _flow("duct leakage at 25 Pa, to anywhere", "ducts"),
    "cfm25_outside": _flow("duct leakage at 25 Pa, to outside the house", "ducts"),
    "cfm25_return": _flow("return-side leakage at 25 Pa; place names the space it draws from", "zone"),
    "cfm25_supply": _flow("supply-side leakage at 25 Pa; place names the space it blows into", "zone"),
    "pressure_pan": _house_pressure("register under a pan, house at 50 Pa", "register", StatePart.DOORS),
    # House, rooms and appliance zone
    "house_pressure_fan_on_minus_off": _house_pressure(
        "change of the house pressure when the air handler starts", "house", *_ALL_FANS
    ),
    "baseline_pressure": _house_pressure("zone with every fan off", "zone", *_PRESSURE_STATE),
    "zone_pressure": _house_pressure("zone as read, stack and wind included", "zone", *_PRESSURE_STATE),
    "zone_pressure_change": _house_pressure("zone, baseline subtracted", "zone", *_ALL_FANS),
    "worst_case_pressure_change": _house_pressure(
        "appliance zone in the worst state found, baseline subtracted", "zone", *_ALL_FANS
    ),
    "burn_pressure_change": _house_pressure(
        "hearth room through a whole fire, light-up to die-down: deepest ten minutes, baseline subtracted",
        "zone",
        *_ALL_FANS,
    ),
    # Air handler
    "tesp": _static("total external static pressure at the equipment boundary"),
    "return_static": _static("static on the return side of the equipment"),
    "supply_static": _static("static on the supply side of the equipment"),
    "filter_drop": _static("pressure before minus after the filter, filter in place"),
    "coil_drop": _static("pressure before minus after the coil"),
    "take_off_static": _static("suction in the trunk at a bypass cleaner's take-off, cleaner off"),
    "re_entry_static": _static("suction in the trunk at a bypass cleaner's re-entry, cleaner off"),
    "rated_static": _plate(Dimension.PRESSURE, "highest external static on the plate"),
    "airflow": _flow("air handler flow", "air handler", _HANDLER),
    "heat_rise": ReadingKind(
        dimension=Dimension.TEMPERATURE_DIFFERENCE,
        meaning="supply minus return temperature while heating",
        place="air handler",
        depends_on=(_HANDLER,),
    ),
    "plate_rise_low": _plate(Dimension.TEMPERATURE_DIFFERENCE, "lowest heat rise on the plate"),
    "plate_rise_high": _plate(Dimension.TEMPERATURE_DIFFERENCE, "highest heat rise on the plate"),
    "blower_power": ReadingKind(
        dimension=Dimension.POWER,
        meaning="power the blower draws",
        place="air handler",
        depends_on=(_HANDLER,),
        is_never_negative=True,
    ),
    "cooling_capacity": _plate(Dimension.POWER, "cooling capacity on the plate"),
    "heat_output": _plate(Dimension.POWER, "heat output on the plate or measured"),
    # Exhausts, ventilation, cleaners
    "exhaust_flow": _flow("exhaust as installed (hood, bath, dryer)", "exhaust"),
    "ventilation_flow": _flow("ventilation fan as installed", "ventilation"),
    "cleaner_flow": _flow("cleaner as installed", "cleaner", _HANDLER),
    "register_flow": _flow("one register or grille", "register", _HANDLER, StatePart.DOORS),
    # Combustion
    "co_ambient": _gas("CO in the air of a zone or outdoors", "zone", *_ALL_FANS),
    "co_flue": _gas("CO in the flue, air-free, undiluted", "appliance"),
    "co_flue_as_measured": _gas("CO in the flue as measured", "appliance"),
    "spillage_time": ReadingKind(
        dimension=Dimension.TIME,
        meaning="time from light-up until spillage stops",
        place="appliance",
        depends_on=(*_ALL_FANS, StatePart.VENT),
        is_never_negative=True,
    ),
    "draft": _house_pressure("flue, after five minutes of firing; negative pulls", "appliance", *_PRESSURE_STATE),
    "flue_temperature": ReadingKind(
        dimension=Dimension.TEMPERATURE, meaning="flue gas", place="appliance", depends_on=(StatePart.VENT,)
    ),
    # Surroundings
    "return_distance": ReadingKind(
        dimension=Dimension.LENGTH,
        meaning="return inlet to the nearest firebox or draft hood in the same space",
        place="zone",
        is_never_negative=True,
    ),
    "outdoor_temperature": ReadingKind(
        dimension=Dimension.TEMPERATURE, meaning="outdoor air", place="outdoors", is_fixed=True
    ),
    "indoor_temperature": ReadingKind(
        dimension=Dimension.TEMPERATURE, meaning="air of a zone", place="zone", is_fixed=True
    ),
}
"""Every reading key with its meaning."""

GATES: dict[str, str] = {
    "alarm_sounding": "a CO or smoke alarm sounds or has sounded",
    "gas_smell": "smell of gas",
    "symptoms_clear_outdoors": "people with headache or nausea that clears outdoors",
    "fire_or_ash_within_24_h": "a fire, embers or warm ash within the last 24 hours",
    "vermiculite": "vermiculite seen or suspected",
    "suspect_wrap": "old duct wrap, tape or insulation that may hold asbestos",
}
"""The gates that stand before every form."""

CHECKS: dict[str, str] = {
    "co_alarms_present": "listed CO alarms where local law asks for them, within their end-of-life date",
    "visible_soot": "soot or scorching at a draft hood, a firebox or a vent",
    "smoke_smell_from_fire": "smoke seen or smelled in the room from a stove or fireplace",
    "return_in_appliance_zone": "a return opening in the zone of a vented appliance",
    "return_in_garage": "a return duct or cabinet with openings in the garage",
    "filter_seated": "the filter sits without a gap",
    "interlock_works": "the cleaner runs only with the air handler, tried in heat, cool, fan only and off",
    "mould_seen": "mould growth seen",
    "lead_paint_suspected": "paint that may hold lead in the way of the work",
    "radon_tested": "a radon test is on file",
    "venting_inspected": "vents, connectors and terminations looked over: rise, clearance, rust, blockage, cap",
    "gas_leak_found": "the sniffer found a gas leak",
    "electrical_hazard_seen": "open splices, scorched or old open wiring, a bridged switch or limit, in the way of the work",
    "refrigerant_leak_suspected": "oil stain, frost or hiss at coil or lines, or lines in the way of the work",
    "permit_checked": "asked whether the work needs a permit, and had where it does",
}
"""Things looked at, not measured."""
