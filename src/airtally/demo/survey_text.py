"""``survey.toml`` of the invented job: what a contractor would know, not the truth."""

from __future__ import annotations

from airtally.demo.dates import TIME_ZONE, Dates
from airtally.demo.plan import CFM, CUBIC_FOOT, ROOMS, ZONES, Epoch
from airtally.demo.quirks import Quirk
from airtally.demo.simulate import World
from airtally.demo.streams import WATER_HEATER
from airtally.demo.survey_log import (
    change_entries,
    diary_entries,
    instrument_entries,
    log_entries,
    measure_entries,
    placement_entries,
    rule_entries,
)
from airtally.demo.survey_passages import passage_entries
from airtally.demo.toml_text import Measured, entry

ZONE_NAMES = {
    "living": ("living room, kitchen, hall", "room", True),
    "bedrooms": ("bedrooms over the garage", "room", True),
    "family": ("family room, lower level", "basement", True),
    "workshop": ("workshop", "basement", False),
    "utility": ("utility room", "basement", False),
    "garage": ("two-car garage under the bedrooms", "garage", False),
}


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
        *passage_entries(world, has_works=has_works),
        entry("[occupants]", count=3.3, sensitive=True, hours_at_home="17 h"),
        *instrument_entries(world),
        *placement_entries(world, has_works=has_works),
        *log_entries(world, has_works=has_works),
        *change_entries(world),
        *rule_entries(world),
        *diary_entries(world),
        *measure_entries(),
        entry("[target]", pm25="10 ug/m3"),
        entry("[prices]", electricity="0.16 USD/kWh", heat="1.40 USD/therm"),
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
            shares_flue_with="water-heater",
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
