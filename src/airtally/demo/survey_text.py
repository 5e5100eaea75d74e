"""``survey.toml`` of the invented job: what a contractor would know, not the truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.demo.dates import REFERENCE_SEED, TIME_ZONE, TRIAL_FIRST, Dates, generator
from airtally.demo.layouts import FILES
from airtally.demo.plan import CFM, CUBIC_FOOT, ROOMS, ZONES, Epoch
from airtally.demo.quirks import Quirk
from airtally.demo.simulate import MAPPED_OFF, MAPPED_ON, V1_FIRST, V2_FIRST, World
from airtally.demo.streams import PLACED, WATER_HEATER

ZONE_NAMES = {
    "living": ("living room, kitchen, hall", "room", True),
    "bedrooms": ("bedrooms over the garage", "room", True),
    "family": ("family room, lower level", "basement", True),
    "workshop": ("workshop", "basement", False),
    "utility": ("utility room", "basement", False),
    "garage": ("two-car garage under the bedrooms", "garage", False),
}
QUANTITIES = {
    "M1": ("pm25", "co2", "temperature", "relative_humidity"),
    "M2": ("pm25", "voc", "co2", "temperature", "relative_humidity"),
    "M3": ("pm25", "pm10", "temperature", "relative_humidity"),
    "M4": ("pm25", "voc", "temperature", "relative_humidity"),
    "M5": ("pm25", "temperature", "relative_humidity"),
    "M6": ("co", "spill_temperature", "pressure_difference"),
    "M7": ("fan_current", "filter_pressure_drop"),
    "public": ("pm25",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What the contractor's gauges made of the true equipment; seed 1 reads the truth."""

    seed: int

    def reading(self, name: str, true: float, spread: float) -> float:
        """Return a reading of ``true`` with a relative error of about ``spread``."""
        if self.seed == REFERENCE_SEED:
            return true
        return true * float(np.exp(spread * generator(self.seed, f"gauge {name}").standard_normal()))


def entry(heading: str, **values: object) -> str:
    """Return one TOML entry; text is quoted, None is left out."""
    lines = [heading]
    for key, value in values.items():
        if value is None:
            continue
        lines.append(f"{key.rstrip('_')} = {literal(value)}")
    return "\n".join(lines) + "\n"


def literal(value: object) -> str:
    """Return a TOML value."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, tuple | list):
        return "[" + ", ".join(literal(item) for item in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {literal(item)}" for key, item in value.items()) + " }"
    return '"' + str(value).replace('"', "'") + '"'


def survey_text(world: World) -> str:
    """Return the survey of the invented job."""
    dates = world.dates
    has_works = dates.works[0] < dates.end
    parts = [
        "# Invented demo data: no such house, people or town exist.\nschema = 1\n",
        entry(
            "[home]",
            id="sample-lane",
            name="Sample Lane split-level, Quillfork (invented)",
            is_invented=True,
            time_zone=TIME_ZONE,
            elevation="3200 ft",
            currency="USD",
            contractor="Example Contractor LLC (invented)",
            complaint="Smoke smell on fire evenings; dust from the workshop; stale air over the garage; smoke in summer.",
        ),
        *_zones(world),
        *_envelope(world),
        *_handler(world, has_works=has_works),
        *_fans(world, has_works=has_works),
        *_appliances(dates),
        entry("[occupants]", count=3.3, sensitive=True, hours_at_home="17 h"),
        *_instruments(world),
        *_placements(world, has_works=has_works),
        *_logs(world, has_works=has_works),
        *_changes(world),
        *_rules(world),
        *_diary(world),
        *_measures(),
        entry("[target]", pm25="10 ug/m3"),
        entry("[prices]", electricity="0.16 USD/kWh"),
    ]
    return "\n".join(parts)


def _zones(world: World) -> list[str]:
    gauge = Measured(seed=world.seed)
    entries = []
    for index, zone in enumerate(ZONES):
        name, kind, lived = ZONE_NAMES[zone]
        feet = gauge.reading(f"volume {zone}", float(world.plan.volume[index]) / CUBIC_FOOT, 0.03)
        wide = 0.06 if index < ROOMS else 0.12
        volume = f"{feet:.0f} ft3 ({feet * (1.0 - wide):.0f} to {feet * (1.0 + wide):.0f})"
        entries.append(
            entry(
                "[[zone]]",
                id=zone,
                name=name,
                kind=kind,
                is_occupied=lived,
                volume=volume,
                floor_area=f"{feet / 8.0:.0f} ft2",
            )
        )
    return entries


def _first_and_last(world: World) -> tuple[Epoch, Epoch]:
    """Return the equipment as found, and as the works left it."""
    return world.plan.epochs[0], world.plan.epoch_at(world.dates.works[1])


def _between(world: World, name: str) -> str | None:
    """Return the wall time at which a step of the works was done, if inside the logs."""
    at = {"sealing": (30, 12.0), "filter": (30, 15.0), "hood": (30, 16.0), "cleaner": (31, 12.0)}[name]
    time = world.dates.at(*at)
    return world.dates.wall(time) if time < world.dates.end else None


def _envelope(world: World) -> list[str]:
    gauge, size = Measured(seed=world.seed), world.plan.house_ft3 / 8.0
    first, last = _first_and_last(world)
    sealed = _between(world, "sealing")
    common: dict[str, object] = {
        "exponent": "not measured",
        "height": "20 ft",
        "floor_area": f"{size:.0f} ft2",
        "storeys": 2,
        "shelter_class": 3,
        "bedrooms": 4,
    }
    flow = gauge.reading("cfm50", first.cfm50, 0.03)
    entries = [entry("[[envelope]]", flow_at_50=f"{flow:.0f} cfm +- 6 %", **common, until=sealed)]
    if sealed:
        flow = gauge.reading("cfm50 after", last.cfm50, 0.03)
        entries.append(entry("[[envelope]]", flow_at_50=f"{flow:.0f} cfm +- 6 %", **common, since=sealed))
    return entries


def airflow(world: World, epoch: Epoch, name: str) -> float:
    """Return the contractor's reading of an epoch's heating or circulating flow. [cfm]"""
    true = epoch.heating_flow if name == "heating" else epoch.circulate_flow
    return Measured(seed=world.seed).reading(f"airflow {name} {epoch.name}", true / CFM, 0.03)


def _handler(world: World, *, has_works: bool) -> list[str]:
    first, last = _first_and_last(world)
    changed, sealed = _between(world, "filter"), _between(world, "sealing")
    entries = [
        entry(
            "[air_handler]",
            motor="PSC",
            cooling_capacity="2.5 ton",
            rated_static="0.5 inH2O",
            duct_volume="90 ft3 (60 to 130)",
            supply_leak_outside="4 % (1 to 8)",
        )
    ]
    for name, power, static in (("heating", "480 W", "0.86 inH2O"), ("circulate", "310 W", "not measured")):
        flow = airflow(world, first, name)
        entries.append(
            entry(
                "[[air_handler.speed]]",
                name=name,
                flow=f"{flow:.0f} cfm +- 7 %",
                power=power,
                static=static,
                until=changed,
            )
        )
        if changed:
            flow = airflow(world, last, name)
            static = "0.62 inH2O" if name == "heating" else "not measured"
            entries.append(
                entry(
                    "[[air_handler.speed]]",
                    name=name,
                    flow=f"{flow:.0f} cfm +- 7 %",
                    power=power,
                    static=static,
                    since=changed,
                )
            )
    entries.append(
        entry(
            "[[air_handler.filter]]",
            id="one-inch",
            rating="MERV 8",
            bypass="15 % (5 to 30)",
            pressure_drop="0.41 inH2O",
            until=changed,
        )
    )
    if changed:
        entries.append(
            entry(
                "[[air_handler.filter]]",
                id="four-inch",
                rating="MERV 13",
                bypass="3 % (1 to 8)",
                pressure_drop="0.15 inH2O",
                since=changed,
            )
        )
    zone = "garage" if world.plan.leak_is_garage else "outdoors"
    leak = 100.0 * Measured(seed=world.seed).reading("leak", first.leak, 0.15)
    entries.append(
        entry(
            "[[air_handler.return_leak]]",
            id="trunk",
            zone=zone,
            fraction=f"{leak:.0f} % ({leak * 0.5:.0f} to {leak * 1.6:.0f})",
            is_before_filter=True,
            until=sealed,
        )
    )
    if has_works and sealed:
        entries.append(
            entry(
                "[[air_handler.return_leak]]",
                id="trunk-sealed",
                zone=zone,
                fraction="2 % (0.5 to 5)",
                is_before_filter=True,
                since=sealed,
            )
        )
    return entries


def cleaner_flow(world: World) -> float:
    """Return the contractor's reading of the cleaner's flow. [cfm]"""
    flow = _first_and_last(world)[1].cleaner_flow / CFM
    return Measured(seed=world.seed).reading("cleaner", flow, 0.04) if flow > 0.0 else 218.0


def hood_flow(world: World, epoch: Epoch) -> float:
    """Return the contractor's reading of the range hood's flow. [cfm]"""
    return Measured(seed=world.seed).reading("hood", epoch.hood_flow / CFM, 0.05)


def _fans(world: World, *, has_works: bool) -> list[str]:
    first, last = _first_and_last(world)
    repaired, fitted = _between(world, "hood"), _between(world, "cleaner")
    entries = []
    if has_works and fitted:
        entries.append(
            entry(
                "[[cleaner]]",
                id="bypass",
                name="bypass cleaner on the return",
                flow="not measured" if Quirk.NO_WORK in world.quirks else f"{cleaner_flow(world):.0f} cfm +- 8 %",
                efficiency="97 % (94 to 99)",
                recirculated="not measured",
                runs_with="air handler",
                power="90 W",
                since=fitted,
            )
        )
    hood = {"kind": "range hood", "zone": "living", "capture": "not measured"}
    entries.append(
        entry("[[exhaust]]", id="hood-as-found", **hood, flow=f"{hood_flow(world, first):.0f} cfm", until=repaired)
    )
    if repaired:
        entries.append(
            entry("[[exhaust]]", id="hood", **hood, flow=f"{hood_flow(world, last):.0f} cfm", since=repaired)
        )
    for name in ("bath-1", "bath-2"):
        entries.append(entry("[[exhaust]]", id=name, kind="bath fan", zone="bedrooms", flow="42 cfm"))
    entries.append(entry("[[exhaust]]", id="dryer", kind="dryer", zone="family", flow="140 cfm"))
    entries.append(
        entry("[[exhaust]]", id="fireplace-draw", kind="open fireplace", zone="living", flow="400 cfm (200 to 600)")
    )
    return entries


def _appliances(dates: Dates) -> list[str]:
    replaced = dates.at(*WATER_HEATER)
    when = dates.wall(replaced) if replaced < dates.end else None
    gas = "natural gas"
    entries = [
        entry(
            "[[appliance]]",
            id="furnace",
            kind="furnace",
            zone="utility",
            venting="induced draft",
            fuel=gas,
            output="64 kBtu/h",
        ),
        entry(
            "[[appliance]]",
            id="water-heater",
            kind="water heater",
            zone="utility",
            venting="natural draft",
            fuel=gas,
            output="not accessible",
            until=when,
        ),
        entry("[[appliance]]", id="fireplace", kind="fireplace", zone="living", venting="open chimney", fuel="wood"),
        entry("[[appliance]]", id="range", kind="gas range", zone="living", venting="unvented", fuel=gas),
    ]
    if when:
        entries.append(
            entry(
                "[[appliance]]",
                id="water-heater-new",
                kind="water heater",
                zone="utility",
                venting="power vented",
                fuel=gas,
                output="32 kBtu/h",
                since=when,
            )
        )
    return entries


def _instruments(world: World) -> list[str]:
    entries = []
    for name, quantities in QUANTITIES.items():
        gain = None
        if name == "M3" and Quirk.COLOCATION_GAIN in world.quirks:
            gain = "1.25 x (1.18 to 1.32)"
        if name == "public":
            gain = "1 x (0.95 to 1.05)"
        entries.append(entry("[[instrument]]", id=name, quantities=quantities, gain=gain))
    return entries


def placements(world: World, *, has_works: bool) -> list[dict[str, object]]:
    """Return where each monitor sat, as keys of the survey."""
    dates = world.dates
    placed = dates.wall(dates.at(*PLACED))
    fitted = dates.wall(dates.at(31, 12.0)) if has_works and dates.at(31, 12.0) < dates.end else None
    found: list[dict[str, object]] = [
        {"id": "living-shelf", "instrument": "M1", "air_side": "room", "zone": "living"},
        *(
            {"id": f"table-{name}", "instrument": name, "air_side": "room", "zone": "living", "until": placed}
            for name in ("M2", "M3", "M4")
        ),
        {"id": "bedroom", "instrument": "M2", "air_side": "room", "zone": "bedrooms", "since": placed},
        {"id": "workshop-wall", "instrument": "M3", "air_side": "room", "zone": "workshop", "since": placed},
    ]
    if Quirk.MONITOR_MOVED in world.quirks:
        found.append(
            {
                "id": "return-drop",
                "instrument": "M4",
                "air_side": "return before filter",
                "since": placed,
                "until": fitted,
            }
        )
        if fitted:
            found.append({"id": "after-cleaner", "instrument": "M4", "air_side": "after filter", "since": fitted})
    else:
        found.append({"id": "after-filter", "instrument": "M4", "air_side": "after filter", "since": placed})
    found += [
        {"id": "north-eave", "instrument": "M5", "air_side": "outdoor"},
        {"id": "utility-wall", "instrument": "M6", "air_side": "equipment", "zone": "utility", "since": placed},
        {"id": "blower", "instrument": "M7", "air_side": "equipment", "since": placed},
        {"id": "public-feed", "instrument": "public", "air_side": "outdoor"},
    ]
    return found


def _placements(world: World, *, has_works: bool) -> list[str]:
    return [entry("[[placement]]", **place) for place in placements(world, has_works=has_works)]


def _logs(world: World, *, has_works: bool) -> list[str]:
    """Return one entry a placement; a file that covers several is listed for each."""
    entries = []
    for place in placements(world, has_works=has_works):
        name = str(place["instrument"])
        zone = "UTC"
        if name == "M4":
            zone = TIME_ZONE if Quirk.CLOCK_FOLD in world.quirks else "UTC-6"
        entries.append(
            entry(
                "[[log]]",
                file=FILES[name],
                placement=place["id"],
                time_zone=zone,
                stamps="start" if name == "public" else "end",
                interval="1 h" if name == "public" else "1 min",
                day_first=True if name == "M2" else None,
            )
        )
    return entries


def _changes(world: World) -> list[str]:
    dates = world.dates
    affects = ["filter", "cleaner", "return leak", "envelope", "exhaust"]
    what = "return sealed, filter cabinet, hood cap, bypass cleaner"
    if Quirk.MONITOR_MOVED in world.quirks:
        affects.append("sensor")
        what += "; M4 moved behind filter and cleaner"
    found = [
        (
            dates.works[0],
            entry(
                "[[change]]",
                id="install",
                time=dates.wall(dates.works[0]),
                ends=dates.wall(dates.works[1]),
                name=what,
                affects=affects,
                begins_phase=True,
            ),
        ),
        (
            dates.at(*WATER_HEATER),
            entry(
                "[[change]]",
                id="water-heater",
                time=dates.wall(dates.at(*WATER_HEATER)),
                name="water heater power vented",
                affects=["appliance"],
                begins_phase=False,
                expects_same_air=True,
            ),
        ),
    ]
    if Quirk.NO_WORK not in world.quirks:
        for name, at in (("fan-rule-v1", V1_FIRST), ("fan-rule-v2", V2_FIRST)):
            time = dates.at(*at)
            found.append(
                (
                    time,
                    entry(
                        "[[change]]",
                        id=name,
                        time=dates.wall(time),
                        name=name.replace("-", " "),
                        affects=["fan rule"],
                        begins_phase=False,
                    ),
                )
            )
    return [text for time, text in sorted(found) if time < dates.end]


def _rules(world: World) -> list[str]:
    """Return the fan rules as set, and the drawn days."""
    dates = world.dates
    if Quirk.NO_WORK in world.quirks or dates.at(*V1_FIRST) >= dates.end:
        return []
    sensor = "after-cleaner" if Quirk.MONITOR_MOVED in world.quirks else "after-filter"
    wrong, short = Quirk.WRONG_THRESHOLD in world.quirks, Quirk.SHORT_SAMPLING in world.quirks
    common: dict[str, object] = {
        "placement": sensor,
        "room_on": "15 ug/m3",
        "minimum_run": "10 min",
        "maximum_run": "4 h",
    }
    mapped = {"on_above": f"{MAPPED_ON} ug/m3", "off_below": f"{MAPPED_OFF} ug/m3"}
    first = {"on_above": "15 ug/m3", "off_below": "8 ug/m3"} if wrong else mapped
    second = dates.wall(dates.at(*V2_FIRST)) if dates.at(*V2_FIRST) < dates.end else None
    entries = [
        entry(
            "[[rule]]",
            id="v1",
            **common,
            **first,
            sampling_per_hour="3 min" if short else "16 min",
            since=dates.wall(dates.at(*V1_FIRST)),
            until=second,
        )
    ]
    if second:
        entries.append(entry("[[rule]]", id="v2", **common, **mapped, sampling_per_hour="16 min", since=second))
    days = [(dates.day(TRIAL_FIRST + i), on) for i, on in enumerate(dates.rule_days) if TRIAL_FIRST + i < dates.end_day]
    if days:
        entries.append(entry("[trial]", on=[day for day, on in days if on], off=[day for day, on in days if not on]))
    return entries


def _diary(world: World) -> list[str]:
    return [
        entry(
            "[[diary]]",
            start=world.dates.wall(note.start),
            end=None if note.end is None else world.dates.wall(note.end),
            kind=note.kind,
            text=note.text,
        )
        for note in world.household.diary
    ]


def _measures() -> list[str]:
    rows: tuple[tuple[str, str, str, int, str, dict[str, str]], ...] = (
        (
            "seal-returns",
            "return sealing",
            "seal what is left of the return leaks",
            1,
            "500 to 900 USD",
            {"remaining": "20 %"},
        ),
        (
            "deep-filter",
            "better filter",
            "deep-pleat MERV 13 in a sealed cabinet",
            1,
            "350 to 650 USD",
            {"rating": "MERV 13", "bypass": "3 %"},
        ),
        (
            "bypass-cleaner",
            "bypass cleaner",
            "a second bypass cleaner on the return",
            2,
            "1700 to 2900 USD",
            {"flow": "250 cfm", "efficiency": "97 %", "power": "90 W"},
        ),
        ("fan-always", "continuous fan", "fan on circulate all day", 2, "0 to 150 USD", {}),
        (
            "supply-fan",
            "supply ventilation",
            "60 cfm filtered supply air",
            3,
            "1400 to 2200 USD",
            {"flow": "60 cfm", "efficiency": "50 %", "power": "30 W"},
        ),
        (
            "hearth-doors",
            "source capture",
            "gasketed fire doors or insert",
            3,
            "900 to 3500 USD",
            {"source": "solid_fuel", "capture": "70 %"},
        ),
    )
    return [
        entry("[[measure]]", id=name, kind=kind, name=words, stage=stage, price=price, settings=settings or None)
        for name, kind, words, stage, price, settings in rows
    ]
