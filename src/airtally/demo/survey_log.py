"""The survey's part on monitors, dates, rules, diary and measures."""

from __future__ import annotations

from airtally.demo.dates import TIME_ZONE, TRIAL_FIRST
from airtally.demo.layouts import FILES
from airtally.demo.quirks import Quirk
from airtally.demo.simulate import MAPPED_OFF, MAPPED_ON, V1_FIRST, V2_FIRST, World
from airtally.demo.streams import PLACED, WATER_HEATER
from airtally.demo.toml_text import entry

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


def instrument_entries(world: World) -> list[str]:
    """Return one entry a monitor; a gain only where co-location gave one."""
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
    on_table: list[dict[str, object]] = [
        {"id": f"table-{name}", "instrument": name, "air_side": "room", "zone": "living", "until": placed}
        for name in ("M2", "M3", "M4")
    ]
    found: list[dict[str, object]] = [
        {"id": "living-shelf", "instrument": "M1", "air_side": "room", "zone": "living"},
        *on_table,
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


def placement_entries(world: World, *, has_works: bool) -> list[str]:
    """Return one entry a place a monitor had."""
    return [entry("[[placement]]", **place) for place in placements(world, has_works=has_works)]


def log_entries(world: World, *, has_works: bool) -> list[str]:
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


def change_entries(world: World) -> list[str]:
    """Return the dated changes that fall inside the logs."""
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


def rule_entries(world: World) -> list[str]:
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


def diary_entries(world: World) -> list[str]:
    """Return what the household wrote."""
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


def measure_entries() -> list[str]:
    """Return the contractor's list with price ranges."""
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
