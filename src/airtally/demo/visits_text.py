"""``visits.toml`` of the invented job: test-in, a look between the works, test-out, re-test."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.demo.plan import HEAT_OUTPUT, Epoch
from airtally.demo.quirks import Quirk
from airtally.demo.simulate import World
from airtally.demo.survey_text import airflow, cleaner_flow, hood_flow
from airtally.demo.toml_text import Measured, entry, literal

DENSITY_RATIO = 0.89
"""Air at 3,200 ft over sea level. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Values:
    """One visit's numbers for the reference house; others differ by a few per cent. Pressures [Pa], statics [inH2O]."""

    house: float
    bedrooms: float
    utility: float
    worst: float | None
    tesp: float
    drop: float
    ducts: float
    ducts_outside: float
    spillage: str


IN = Values(
    house=0.3,
    bedrooms=-2.4,
    utility=-3.7,
    worst=-5.6,
    tesp=0.86,
    drop=0.41,
    ducts=395.0,
    ducts_outside=205.0,
    spillage="at least 5 min",
)
SEALED = Values(
    house=-0.1,
    bedrooms=-1.1,
    utility=-0.5,
    worst=None,
    tesp=0.93,
    drop=0.39,
    ducts=140.0,
    ducts_outside=62.0,
    spillage="3 min",
)
OUT = Values(
    house=-0.1,
    bedrooms=-0.9,
    utility=-0.5,
    worst=-4.0,
    tesp=0.62,
    drop=0.15,
    ducts=140.0,
    ducts_outside=62.0,
    spillage="2 min",
)
AGAIN = Values(
    house=-0.1,
    bedrooms=-0.9,
    utility=-0.5,
    worst=-4.1,
    tesp=0.63,
    drop=0.16,
    ducts=140.0,
    ducts_outside=62.0,
    spillage="3 min",
)


def visits_text(world: World) -> str:
    """Return the visits of the invented job that fall inside its logs."""
    first = world.plan.epochs[0]
    sealed = next((epoch for epoch in world.plan.epochs if epoch.name == "sealing"), first)
    last = world.plan.epoch_at(world.dates.works[1])
    is_placebo = Quirk.NO_WORK in world.quirks
    plan = (
        ("test-in", "test-in", (22, 9.5), IN, first, 47),
        ("between-works", "between works", (30, 13.5), SEALED, sealed, 50),
        ("test-out", "test-out", (32, 10.0), IN if is_placebo else OUT, last, 49),
        ("re-test", "re-test", (57, 10.0), IN if is_placebo else AGAIN, last, 38),
    )
    texts = ["# Invented demo data: nobody measured this.\nschema = 1\n"]
    for name, kind, at, values, epoch, outdoors in plan:
        time = world.dates.at(*at)
        if time < world.dates.end and not (is_placebo and kind == "between works"):
            texts.append(_visit(world, name, kind, time, values, epoch, outdoors))
    return "\n".join(texts)


def _visit(world: World, name: str, kind: str, time: float, values: Values, epoch: Epoch, outdoors: int) -> str:
    head = entry("[[visit]]", id=name, kind=kind, time=world.dates.wall(time), by="technician", note="invented example")
    lines = [f"  {literal(reading)}," for reading in _readings(world, kind, values, epoch)]
    state = entry(
        "[visit.state]",
        doors="open",
        air_handler="off",
        exhausts_on="none",
        fires_lit="none",
        vent="unknown",
        wind_speed="3 mph",
        outdoor_temperature=f"{outdoors} degF",
        indoor_temperature="68 degF",
    )
    gates = dict.fromkeys(
        (
            "alarm_sounding",
            "gas_smell",
            "symptoms_clear_outdoors",
            "fire_or_ash_within_24_h",
            "vermiculite",
            "suspect_wrap",
        ),
        "no",
    )
    is_before = kind == "test-in"
    checks = {
        "co_alarms_present": "yes",
        "visible_soot": "no",
        "smoke_smell_from_fire": "yes",
        "return_in_appliance_zone": "yes" if is_before else "no",
        "return_in_garage": "yes" if world.plan.leak_is_garage and is_before else "no",
        "filter_seated": "no" if is_before else "yes",
        "interlock_works": None if is_before or kind == "between works" else "yes",
    }
    parts = [
        head + "reading = [\n" + "\n".join(lines) + "\n]\n",
        state,
        entry("[visit.gates]", **gates),
        entry("[visit.checks]", **checks),
    ]
    return "\n".join([*parts, *_gauges(world)])


def _gauges(world: World) -> list[str]:
    """Return the gauges of a visit."""
    checked = world.dates.day(-80)
    return [
        entry(
            "[[visit.instrument]]",
            id="gauge",
            kind="manometer",
            accuracy="1 %",
            resolution="0.1 Pa",
            calibrated=checked,
        ),
        entry("[[visit.instrument]]", id="door", kind="blower door", accuracy="5 %", calibrated=checked),
        entry("[[visit.instrument]]", id="duct-tester", kind="duct tester", accuracy="5 %", calibrated=checked),
        entry("[[visit.instrument]]", id="rise", kind="thermometer pair", accuracy="2 %"),
        entry("[[visit.instrument]]", id="flow-box", kind="flow box", accuracy="8 %"),
        entry("[[visit.instrument]]", id="co-meter", kind="CO meter", resolution="1 ppm", calibrated=checked),
        entry("[[visit.instrument]]", id="analyser", kind="combustion analyser", accuracy="5 %", calibrated=checked),
    ]


def _readings(world: World, kind: str, values: Values, epoch: Epoch) -> list[dict[str, object]]:
    """Return the lines of one visit; each seed's house reads a little differently."""
    gauge = Measured(seed=world.seed)

    def near(name: str, value: float, spread: float = 0.05) -> float:
        return gauge.reading(f"{kind} {name}", value, spread)

    def pressure(key: str, value: float, place: str, reference: str, **state: str) -> dict[str, object]:
        shown = f"{near(f'{key} {place} {state}', value):+.1f} Pa"
        return {"key": key, "value": shown, "place": place, "reference": reference, "instrument": "gauge", **state}

    def static(key: str, value: float) -> dict[str, object]:
        shown = f"{near(key, value, 0.04):.2f} inH2O"
        return {"key": key, "value": shown, "place": "air handler", "instrument": "gauge", "air_handler": "heating"}

    heating = {"air_handler": "heating"}
    worst = {"air_handler": "heating", "doors": "worst case", "exhausts_on": "all"}
    flow = airflow(world, epoch, "heating")
    rise = HEAT_OUTPUT / 0.29307107 / (1.08 * flow * DENSITY_RATIO)
    found: list[dict[str, object]] = []
    if kind != "re-test":
        found += [
            {
                "key": "cfm50",
                "value": f"{gauge.reading('cfm50 ' + kind, epoch.cfm50, 0.03):.0f} cfm",
                "place": "house",
                "reference": "outdoors",
                "instrument": "door",
            },
            {
                "key": "cfm25_total",
                "value": f"{near('ducts', values.ducts):.0f} cfm",
                "place": "ducts",
                "instrument": "duct-tester",
            },
            {
                "key": "cfm25_outside",
                "value": f"{near('outside', values.ducts_outside):.0f} cfm",
                "place": "ducts",
                "instrument": "duct-tester",
            },
        ]
    found += [
        pressure("house_pressure_fan_on_minus_off", values.house, "house", "outdoors", **heating),
        pressure("zone_pressure_change", values.bedrooms, "living", "bedrooms", doors="closed", **heating),
        pressure("zone_pressure_change", values.utility, "utility", "outdoors", doors="closed", **heating),
    ]
    if values.worst is not None:
        found.append(pressure("worst_case_pressure_change", values.worst, "utility", "outdoors", **worst))
    found += [
        static("tesp", values.tesp),
        static("filter_drop", values.drop),
        {"key": "rated_static", "value": "0.5 inH2O", "place": "air handler"},
        {"key": "airflow", "value": f"{flow:.0f} cfm +- 7 %", "place": "air handler", "instrument": "rise", **heating},
        {"key": "heat_rise", "value": f"{rise:.0f} degF", "place": "air handler", "instrument": "rise", **heating},
        {"key": "plate_rise_low", "value": "40 degF", "place": "air handler"},
        {"key": "plate_rise_high", "value": "70 degF", "place": "air handler"},
        {"key": "blower_power", "value": "480 W", "place": "air handler", **heating},
        {
            "key": "exhaust_flow",
            "value": f"{hood_flow(world, epoch):.0f} cfm",
            "place": "hood",
            "instrument": "flow-box",
        },
        {"key": "exhaust_flow", "value": "140 cfm", "place": "dryer", "instrument": "flow-box"},
        {"key": "co_ambient", "value": "0 ppm", "place": "outdoors", "instrument": "co-meter"},
        {"key": "co_ambient", "value": "0 ppm", "place": "living", "instrument": "co-meter"},
        {
            "key": "co_ambient",
            "value": "2 ppm" if kind == "test-in" else "1 ppm",
            "place": "utility",
            "instrument": "co-meter",
            **worst,
        },
        {"key": "co_flue", "value": "38 ppm", "place": "water-heater", "instrument": "analyser"},
        {"key": "spillage_time", "value": values.spillage, "place": "water-heater", "vent": "cold", **worst},
        {"key": "draft", "value": "not measured", "place": "water-heater", "reference": "utility"},
    ]
    if epoch.cleaner_flow > 0.0 and kind in ("test-out", "re-test"):
        found += [static("take_off_static", 0.14), static("re_entry_static", 0.16)]
        found.append(
            {
                "key": "cleaner_flow",
                "value": f"{cleaner_flow(world):.0f} cfm",
                "place": "bypass",
                "instrument": "flow-box",
                **heating,
            }
        )
    return found
