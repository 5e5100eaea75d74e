"""``.truth.json``: what really happened in the invented house, so that an analysis can be scored."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Booleans, Floats
from airtally.demo import kernel
from airtally.demo.aerosols import FINE, OPTICAL_RESPONSE, PENETRATION, SETTLING, SOURCES, outdoor_bins
from airtally.demo.balance import Account, account_of, natural_flow, passing
from airtally.demo.plan import CFM, OCCUPIED, ROOMS, ZONES, Epoch, Plan
from airtally.demo.quirks import Quirk
from airtally.demo.simulate import CARBON_NEW, Run, World, run

Document = dict[str, object]
SHARE_NAMES = {
    "outdoor": ("outdoor",),
    "solid_fuel": ("solid_fuel",),
    "cooking": ("cooking",),
    "candle_incense": ("candle_incense",),
    "garage": ("garage",),
    "resuspension": ("resuspension",),
    "duct_dust": (),
    "buffer_space": (),
    "other": ("workshop", "works"),
}
"""The account's source names and the simulation's tags in each."""


def make_truth(world: World, actual: Run) -> Document:
    """Return the truth of a run."""
    dates = world.dates
    begin, end = dates.works
    phases = {"start": (dates.start, min(begin, dates.end))}
    if end < dates.end:
        phases["install"] = (end, dates.end)
    account = account_of(world, actual)
    document: Document = {
        "invented": True,
        "note": "invented demo data; the simulation's own numbers, PM2.5 in ug/m3",
        "seed": world.seed,
        "start": dates.zulu(dates.start),
        "end": dates.zulu(dates.end),
        "monday": dates.day(0),
        "quirks": _quirks(world),
        "phases": {name: _phase(world, actual, account, span) for name, span in phases.items()},
        "weeks": _weeks(world, actual),
        "events": _events(world),
        "filters": _filters(world, actual),
        "cleaner": _cleaner(world.plan, dates.works[1]),
        "house": _house(world),
        "sensors": {name: {"gain": errors.gain, "offset_ugm3": errors.offset} for name, errors in world.errors.items()},
        "diary_wrong_times": [
            {"written": dates.zulu(note.start), "true": dates.zulu(note.true_start)}
            for note in world.household.diary
            if abs(note.start - note.true_start) > 1800.0
        ],
        "trial": {dates.day(42 + i): bool(on) for i, on in enumerate(dates.rule_days) if 42 + i < dates.end_day},
        "effects": _effects(world, actual) if end < dates.end else {},
    }
    return {key: rounded(value) for key, value in document.items()}


def rounded(value: object) -> object:
    """Return numbers to six digits, arrays as lists."""
    if isinstance(value, dict):
        return {str(key): rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple | np.ndarray):
        return [rounded(item) for item in value]
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, float | np.floating):
        return float(f"{float(value):.6g}")
    return value


def _quirks(world: World) -> Document:
    """Return each quirk: planted or not, and from when to when where that says something."""
    dates, smoke = world.dates, 7 * world.dates.smoke_week
    fold = dates.at(dates.fold_day) + 7200.0
    times: dict[Quirk, tuple[float, float]] = {
        Quirk.SMOKE_WEEK: (dates.at(smoke), dates.at(smoke + 7)),
        Quirk.COLOCATION_GAIN: (dates.start, dates.at(-1, 18.0)),
        Quirk.MONITOR_MOVED: (dates.at(31, 12.0), dates.end),
        Quirk.WRONG_THRESHOLD: (dates.at(35), dates.at(39, 12.0)),
        Quirk.SHORT_SAMPLING: (dates.at(35), dates.at(39, 12.0)),
        Quirk.LOGGER_GAP: dates.gap,
        Quirk.CO_SPILL: (dates.spill, dates.spill + 1500.0),
        Quirk.GARAGE_PATH: (dates.start, dates.at(30, 12.0)),
        Quirk.WORKSHOP_GRILLE: (dates.start, dates.at(30, 12.0)),
        Quirk.FILTER_GAP: dates.filter_gap,
        Quirk.CLOCK_FOLD: (fold, dates.end),
        Quirk.FOG_BIAS: (dates.at(dates.end_day - 3, 22.0), dates.at(dates.end_day - 1, 9.0)),
        Quirk.UNBALANCED_DRAW: (dates.at(42), dates.at(63)),
        Quirk.CLEANER_SHORT_CIRCUIT: (dates.at(31, 12.0), dates.end),
        Quirk.CARBON_FADES: (dates.at(31, 12.0), dates.end),
        Quirk.NO_WORK: dates.works,
    }
    found: Document = {}
    for quirk in Quirk:
        first, last = times[quirk]
        planted = quirk in world.quirks and first < dates.end
        found[quirk.value] = {"planted": planted}
        if planted:
            found[quirk.value] = {"planted": True, "from": dates.zulu(first), "until": dates.zulu(min(last, dates.end))}
    return found


def _share(tagged: Floats) -> Document:
    total = float(tagged.sum())
    return {name: float(sum(tagged[SOURCES.index(tag)] for tag in tags)) / total for name, tags in SHARE_NAMES.items()}


def _phase(world: World, actual: Run, account: Account, span: tuple[float, float]) -> Document:
    inside = slice(world.index(span[0]), world.index(span[1]))
    plan, fan = world.plan, actual.out[inside, kernel.FAN]
    weight = plan.volume[list(OCCUPIED)] / plan.volume[list(OCCUPIED)].sum()
    tagged = np.einsum("nzt,z->t", actual.tagged[inside][:, list(OCCUPIED)], weight) / fan.size
    occupied = actual.occupied(plan)
    outdoor = world.weather.at_house[inside]
    days = fan.size / 1440.0
    rates = {state: _even_rates(world, actual, inside, is_on=state == "fan_on") for state in ("fan_off", "fan_on")}
    document: Document = {
        "from": world.dates.zulu(span[0]),
        "until": world.dates.zulu(span[1]),
        "mean_pm25": {
            "occupied": float(occupied[inside].mean()),
            **{zone: float(actual.tagged[inside, i].sum(axis=1).mean()) for i, zone in enumerate(ZONES)},
        },
        "outdoor_pm25": float(outdoor.mean()),
        "infiltration_factor": float(tagged[0] / outdoor.mean()),
        "fan_fraction": {
            "on": float((fan > 0).mean()),
            "heating": float((fan == 2).mean()),
            "circulate": float((fan == 1).mean()),
        },
        "rates_per_h": rates,
        "clean_air_m3_per_h": {
            state: {name: rate * plan.house_volume for name, rate in values.items()} for state, values in rates.items()
        },
        "rates_realised_per_h": {
            "fan_off": _realised(account, inside, fan == 0),
            "fan_on": _realised(account, inside, fan > 0),
        },
        "source_share": _share(tagged),
        "source_share_by_tag": {name: float(part) for name, part in zip(SOURCES, tagged / tagged.sum(), strict=True)},
        "account_grams_per_day": {
            **{f"in_{k}": float(v[inside].sum()) * 60e-6 / days for k, v in account.inlets.items()},
            **{f"out_{k}": float(v[inside].sum()) * 60e-6 / days for k, v in account.sinks.items()},
            "stored": float(account.stored[inside.stop - 1] - account.stored[max(inside.start - 1, 0)]) * 1e-6 / days,
        },
        "duct_over_rooms_fan_on": _duct_over_rooms(world, actual, inside),
        "natural_air_exchange_per_h": float(natural_flow(world, actual)[inside].mean() * 3600.0 / plan.house_volume),
    }
    kept = _outside_smoke(world)[inside]
    if Quirk.SMOKE_WEEK in world.quirks and not kept.all():
        document["mean_pm25_without_smoke_week"] = float(occupied[inside][kept].mean())
    return document


def _outside_smoke(world: World) -> Booleans:
    week = 7 * world.dates.smoke_week
    return (world.time < world.dates.at(week)) | (world.time >= world.dates.at(week + 7))


def _even_rates(world: World, actual: Run, inside: slice, *, is_on: bool) -> dict[str, float]:
    """Return each sink over mass as a property of the house: rooms alike, mean weather, no exhaust or window.

    Weighted over epochs and speeds by the minutes they ran; if that state never occurred, by all minutes
    at circulating speed.
    """
    plan, fan = world.plan, actual.out[inside, kernel.FAN]
    mass = np.einsum("nzb,z->b", actual.rooms[inside][:, :ROOMS, :FINE], plan.volume[:ROOMS])
    mix = mass / mass.sum()
    natural = natural_flow(world, actual)[inside]
    hours = actual.out[inside, kernel.FAN_HOURS]
    total = np.zeros(4)
    weight = 0.0
    for number, epoch in enumerate(plan.epochs):
        here = world.rows[inside, 0] == number
        for state, flow in ((1, epoch.circulate_flow), (2, epoch.heating_flow)) if is_on else ((0, 0.0),):
            chosen = here & (fan == state)
            share = float(chosen.sum())
            if share == 0.0:
                continue
            by_filter, by_cleaner = passing(epoch, plan, flow, float(hours[chosen].mean()))
            unbalanced = flow * (epoch.leak - epoch.supply_leak)
            lost = flow * epoch.supply_leak * by_filter * by_cleaner
            settling = SETTLING[:FINE] * plan.settling_factor * (plan.fan_settling if is_on else 1.0) / 3600.0
            air = float(natural[here].mean()) + 0.5 * unbalanced + lost
            parts = (air / plan.house_volume, settling, flow * by_cleaner * (1.0 - by_filter) / plan.house_volume,
                     flow * (1.0 - by_cleaner) / plan.house_volume)  # fmt: skip
            total += share * np.array([float((mix * part).sum()) for part in parts])
            weight += share
    if weight == 0.0:
        return {}
    values = total / weight * 3600.0
    return {**dict(zip(kernel.SINKS, values.tolist(), strict=True)), "portable": 0.0, "total": float(values.sum())}


def _realised(account: Account, inside: slice, chosen: Booleans) -> Document:
    """Return removed over stored as it happened, exhausts and windows included. [1/h]"""
    mass = float(account.mass[inside][chosen].sum())
    if mass == 0.0:
        return {}
    found = {name: float(values[inside][chosen].sum()) * 3600.0 / mass for name, values in account.sinks.items()}
    return {**found, "portable": 0.0, "total": sum(found.values())}


def _duct_over_rooms(world: World, actual: Run, inside: slice) -> float:
    """Return the in-duct monitor over the occupied rooms, both as optics weigh them, from minute four of a run."""
    on = actual.out[:, kernel.FAN] > 0
    long = on & np.roll(on, 1) & np.roll(on, 2) & np.roll(on, 3)
    long[:3] = False
    errors = world.errors["M4"]
    duct = (actual.out[:, kernel.DUCT_READING] - errors.offset) / errors.gain
    weight = world.plan.volume[list(OCCUPIED)] / world.plan.volume[list(OCCUPIED)].sum()
    rooms = (actual.rooms[:, list(OCCUPIED)] @ OPTICAL_RESPONSE) @ weight
    chosen = long[inside] & (world.time[inside] >= world.dates.at(-1, 18.0))
    return float(duct[inside][chosen].sum() / rooms[inside][chosen].sum()) if chosen.any() else float("nan")


def _weeks(world: World, actual: Run) -> list[Document]:
    living, occupied = actual.tagged[:, 0].sum(axis=1), actual.occupied(world.plan)
    day, fan = world.dates.day_index(world.time), actual.out[:, kernel.FAN]
    found: list[Document] = []
    for week in range(world.dates.end_day // 7):
        here = day // 7 == week
        found.append(
            {
                "week": week + 1,
                "living_mean": float(living[here].mean()),
                "living_p95": float(np.percentile(living[here], 95.0)),
                "occupied_mean": float(occupied[here].mean()),
                "outdoor_mean": float(world.weather.at_house[here].mean()),
                "heating_fraction": float((fan[here] == 2).mean()),
                "fan_fraction": float((fan[here] > 0).mean()),
            }
        )
    return found


def _events(world: World) -> list[Document]:
    """Return the true events; grams of cooking are what the hood left in the room."""
    found = []
    capture = np.array([epoch.hood_capture for epoch in world.plan.epochs])[world.rows[:, 0]]
    for event in world.household.events:
        span = world.household.span(event.start, event.minutes)
        left = 1.0
        if event.kind == "cooking":
            left = float((1.0 - capture[span] * world.household.hood[span]).mean())
        found.append(
            {
                "kind": event.kind,
                "source": event.source,
                "zone": event.zone,
                "start": world.dates.zulu(event.start),
                "minutes": event.minutes,
                "grams": event.grams * left,
            }
        )
    return found


def _filters(world: World, actual: Run) -> list[Document]:
    """Return each filter's single-pass efficiency for the rooms' PM2.5, gaps included, and its times."""
    found, plan = [], world.plan
    mass = np.einsum("nzb,z->b", actual.rooms[:, :ROOMS, :FINE], plan.volume[:ROOMS])
    mix = mass / mass.sum()
    seen: set[int] = set()
    for epoch in plan.epochs:
        if epoch.filter_number in seen:
            continue
        seen.add(epoch.filter_number)
        by_filter, _ = passing(epoch, plan, epoch.heating_flow, 100.0)
        found.append(
            {
                "since": world.dates.zulu(epoch.since),
                "what": epoch.name,
                "pm25_efficiency": 1.0 - float((mix * by_filter).sum()),
                "bypass": epoch.bypass,
                "return_leak": epoch.leak,
            }
        )
    return found


def _cleaner(plan: Plan, works_end: float) -> Document:
    epoch: Epoch = plan.epoch_at(works_end)
    if epoch.cleaner_flow == 0.0:
        return {"clean_air_m3_per_h": 0.0}
    _, by_cleaner = passing(epoch, plan, epoch.heating_flow, 0.0)
    return {
        "flow_m3_per_h": epoch.cleaner_flow * 3600.0,
        "flow_cfm": epoch.cleaner_flow / CFM,
        "recirculated": epoch.recirculated,
        "efficiency": float(plan.cleaner_efficiency[:FINE].mean()),
        "clean_air_m3_per_h": float((1.0 - by_cleaner).mean() * epoch.heating_flow * 3600.0),
        "carbon_when_new": CARBON_NEW,
    }


def _house(world: World) -> Document:
    plan = world.plan
    fine = outdoor_bins(plan.outdoor_coarse)[:FINE]
    return {
        "volume_m3": {zone: float(v) for zone, v in zip(ZONES, plan.volume, strict=True)},
        "rooms_m3": plan.house_volume,
        "penetration_pm25": float((fine * PENETRATION[:FINE]).sum() / fine.sum()),
        "garage_share_of_inflow": plan.garage_share,
        "leak_draws_from": "garage" if plan.leak_is_garage else "outdoors",
        "fan_settling_factor": plan.fan_settling,
        "epochs": [
            {
                "since": world.dates.zulu(epoch.since),
                "what": epoch.name,
                "cfm50": epoch.cfm50,
                "return_leak": epoch.leak,
                "heating_cfm": epoch.heating_flow / CFM,
                "circulate_cfm": epoch.circulate_flow / CFM,
                "hood_cfm": epoch.hood_flow / CFM,
            }
            for epoch in plan.epochs
        ],
    }


def _effects(world: World, actual: Run) -> Document:
    """Return what works and fan rule did after the works, like for like: the same days run without them."""
    begin, size = world.index(world.dates.works[1]), world.time.size
    span = (begin - 2880, size)
    as_found = world.rows.copy()
    as_found[:, 0] = 0

    def mean(one: Run) -> float:
        return float(one.occupied(world.plan)[begin:].mean())

    with_it = mean(actual)
    cases = {
        "works": mean(run(world, span=span, follow=actual, rows=as_found, is_tagged=False)),
        "works_and_rule": mean(
            run(world, span=span, follow=actual, is_fan_by_heat_only=True, rows=as_found, is_tagged=False)
        ),
        "rule": mean(run(world, span=span, follow=actual, is_fan_by_heat_only=True, is_tagged=False)),
    }
    found: Document = {}
    for name, without in cases.items():
        found[name] = {
            "with_pm25": with_it,
            "without_pm25": without,
            "change_pm25": with_it - without,
            "change_percent": 100.0 * (with_it / without - 1.0),
        }
    return found
