"""An invented house with everything in it, eleven days of made readings, and its fit; shared by the rooms' tests.

The readings come from a plain loop of one-minute Euler steps with rates set by hand: they need not match
the model, as the tests that use them check laws of the account and not recovered values.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.estimates import Basis, Estimate
from airtally.house.dates import Phase
from airtally.house.parts import (
    AirHandler,
    AirSide,
    Appliance,
    ApplianceKind,
    Cleaner,
    DiaryEntry,
    Envelope,
    FanSpeed,
    Filter,
    House,
    Instrument,
    Placement,
    ReturnLeak,
    RunsWith,
    Ventilation,
    VentilationKind,
    Venting,
    Zone,
    ZoneKind,
)
from airtally.inference.fit import Fit, fit_house
from airtally.quantities import Quantity
from airtally.readings.log import Log, LogFile, Stream
from airtally.scenario.baseline import Baseline, baseline_of

START = 1756684800.0
DAY = 86400.0
DAYS = 11
WORKS = (START + 5.0 * DAY, START + 5.2 * DAY)
DRAWS = 14


def guess(value: float, low: float, high: float, unit: str) -> Estimate:
    """Return a surveyed quantity of the invented house."""
    return Estimate(value=value, low=low, high=high, unit=unit, basis=Basis.SURVEYED, source="invented survey")


def one_filter(name: str, rating: str, efficiency: tuple[float, float, float], **dates: float) -> Filter:
    """Return a filter whose classes' intervals reach 30 % to either side."""
    low, middle, high = (guess(e, 0.7 * e, min(1.3 * e, 0.999), "-") for e in efficiency)
    return Filter(id=name, rating=rating, efficiency=(low, middle, high), bypass=guess(0.05, 0.0, 0.2, "-"), **dates)


def one_cleaner(name: str, **fields: object) -> Cleaner:
    """Return an air cleaner of 0.1 m3/s."""
    usual: dict[str, object] = {
        "flow": guess(0.1, 0.08, 0.12, "m3/s"),
        "efficiency": guess(0.95, 0.9, 0.99, "-"),
        "recirculated": guess(0.05, 0.0, 0.2, "-"),
        "runs_with": RunsWith.AIR_HANDLER,
    }
    return Cleaner(id=name, name=name, **(usual | fields))  # type: ignore[arg-type]


def one_fan(name: str, kind: VentilationKind, runs_with: RunsWith) -> Ventilation:
    """Return a ventilation fan of 0.02 m3/s."""
    return Ventilation(
        id=name,
        kind=kind,
        flow=guess(0.02, 0.018, 0.022, "m3/s"),
        efficiency=guess(0.5, 0.3, 0.7, "-"),
        runs_with=runs_with,
        zone="living",
    )


def full_house() -> House:
    """Return the surveyed house."""
    came, went = WORKS
    return House(
        home_id="invented",
        name="invented house",
        is_invented=True,
        time_zone="UTC",
        elevation=0.0,
        currency="USD",
        zones=(
            Zone(
                id="living", name="living room", kind=ZoneKind.ROOM, volume=guess(250, 240, 260, "m3"), is_occupied=True
            ),
            Zone(
                id="workshop", name="workshop", kind=ZoneKind.ROOM, volume=guess(100, 95, 105, "m3"), is_occupied=True
            ),
            Zone(id="garage", name="garage", kind=ZoneKind.GARAGE, volume=guess(90, 80, 99, "m3"), is_occupied=False),
            Zone(id="crawl", name="crawl", kind=ZoneKind.CRAWLSPACE, volume=guess(90, 80, 99, "m3"), is_occupied=False),
        ),
        envelopes=(
            Envelope(
                flow_at_50=guess(0.75, 0.7, 0.8, "m3/s"),
                exponent=guess(0.65, 0.6, 0.7, "-"),
                height=guess(5.0, 4.5, 5.5, "m"),
                floor_area=guess(160, 150, 170, "m2"),
                storeys=2.0,
                shelter_class=4,
            ),
        ),
        air_handler=AirHandler(
            speeds=(
                FanSpeed(name="circulate", flow=guess(0.4, 0.37, 0.43, "m3/s"), power=guess(250, 200, 300, "W")),
                FanSpeed(name="heating", flow=guess(0.5, 0.46, 0.54, "m3/s"), power=guess(450, 400, 500, "W")),
            ),
            filters=(
                one_filter("thin", "MERV 8", (0.2, 0.45, 0.75), until=came),
                one_filter("deep", "MERV 13", (0.6, 0.85, 0.93), since=came),
            ),
            return_leaks=(
                ReturnLeak(
                    id="platform",
                    zone="garage",
                    fraction=guess(0.05, 0.03, 0.08, "-"),
                    is_before_filter=True,
                    until=came,
                ),
                ReturnLeak(id="boot", zone="crawl", fraction=guess(0.04, 0.02, 0.07, "-"), is_before_filter=False),
                ReturnLeak(id="chase", zone="outdoors", fraction=guess(0.02, 0.01, 0.04, "-"), is_before_filter=True),
            ),
            supply_leak_outside=guess(0.06, 0.03, 0.12, "-"),
        ),
        cleaners=(
            one_cleaner("bypass", since=came),
            one_cleaner("portable", is_portable=True, zone="living", runs_with=RunsWith.ALWAYS),
            one_cleaner("wall", zone="workshop", runs_with=RunsWith.ALWAYS, since=went),
        ),
        ventilation=(
            one_fan("fresh", VentilationKind.SUPPLY, RunsWith.ALWAYS),
            one_fan("bath", VentilationKind.EXHAUST, RunsWith.AIR_HANDLER),
            one_fan("core", VentilationKind.BALANCED, RunsWith.AIR_HANDLER),
        ),
        appliances=(
            Appliance(
                id="hearth", kind=ApplianceKind.FIREPLACE, zone="living", venting=Venting.OPEN_CHIMNEY, fuel="wood"
            ),
        ),
        instruments=tuple(Instrument(id=name, gain=guess(1.0, 0.85, 1.17, "-")) for name in ("L", "W", "D", "O")),
        placements=(
            Placement(id="L", instrument="L", air_side=AirSide.ROOM, zone="living"),
            Placement(id="W", instrument="W", air_side=AirSide.ROOM, zone="workshop"),
            Placement(id="D", instrument="D", air_side=AirSide.RETURN_BEFORE_FILTER, zone=None),
            Placement(id="O", instrument="O", air_side=AirSide.OUTDOOR, zone=None),
        ),
        diary=(DiaryEntry(start=START + 18.5 * 3600.0, end=None, kind="cooking", text="dinner"),),
    )


PHASES = (
    Phase(id="start", name="as found", start=START, end=WORKS[0]),
    Phase(id="works", name="after the works", start=WORKS[1], end=START + DAYS * DAY),
)


def fan_runs() -> tuple[Floats, Floats, Integers]:
    """Return fifteen minutes of circulation each hour and two hours of heating each morning."""
    hours = START + 3600.0 * np.arange(24 * DAYS)
    mornings = START + DAY * np.arange(DAYS) + 6.0 * 3600.0
    begin = np.concatenate([hours, mornings])
    finish = np.concatenate([hours + 900.0, mornings + 7200.0])
    order = np.argsort(begin, kind="stable")
    level = np.repeat([1, 2], [hours.size, mornings.size])
    return begin[order], finish[order], level[order]


def a_log(streams: dict[tuple[str, Quantity], tuple[Floats, Floats]]) -> Log:
    """Return a log of series: time [s] and value [SI] by placement and quantity, all rows kept."""
    names = tuple(Stream(placement=placement, quantity=quantity) for placement, quantity in streams)
    sizes = [time.size for time, _ in streams.values()]
    stream = np.repeat(np.arange(len(names)), sizes)
    return Log(
        streams=names,
        files=(LogFile(name="made.csv", sha256="", rows=stream.size, cells=stream.size, layout=""),),
        stream=stream,
        file=np.zeros(stream.size, dtype=np.int64),
        line=np.arange(stream.size),
        time=np.concatenate([time for time, _ in streams.values()]),
        value=np.concatenate([value for _, value in streams.values()]),
        flag=np.zeros(stream.size, dtype=np.uint8),
    )


def made_log(seed: int = 5) -> Log:
    """Return readings of two rooms, the return duct (fan runs only) and outdoors."""
    rng = np.random.default_rng(seed)
    count = DAYS * 1440
    minutes = np.arange(count)
    time = START + 60.0 * (minutes + 0.5)
    outdoor = 9.0 * np.exp(
        0.5 * np.sin(2 * np.pi * (minutes / 1440.0 - 0.3)) + 0.3 * np.repeat(rng.normal(size=DAYS), 1440)
    )
    begin, finish, _ = fan_runs()
    runs = np.zeros(count, dtype=bool)
    for a, b in zip(begin, finish, strict=True):
        runs[(time >= a) & (time < b)] = True
    given = np.zeros(count)
    for day in range(DAYS):
        for hour in (7.3, 12.6, 18.6):
            first = int(day * 1440 + 60 * (hour + rng.normal(0.0, 0.3)))
            given[first : first + 15] += 60.0 * float(np.exp(rng.normal(1.0, 0.4)))
    level = np.empty(count)
    now = 8.0
    for minute in range(count):
        loss = 0.6 + (2.2 if runs[minute] else 0.0) * (2.0 if time[minute] > WORKS[0] else 1.0)
        now += (0.3 * outdoor[minute] + 2.0 + given[minute] - loss * now) / 60.0
        level[minute] = now
    read = slice(4, None, 5)

    def seen(gain: float) -> Floats:
        return np.asarray(np.maximum(gain * level[read] + rng.normal(0.0, 0.8, level[read].size), 0.0) * 1e-9)

    held = runs[read] & runs[np.maximum(minutes[read] - 5, 0)]
    hourly = outdoor.reshape(-1, 60).mean(axis=1)
    clock = START + 3600.0 * (np.arange(hourly.size) + 0.5)
    cold = 278.15 + 6.0 * np.sin(2 * np.pi * (np.arange(hourly.size) / 24.0 - 0.4))
    return a_log(
        {
            ("L", Quantity.PM25): (time[read], seen(1.0)),
            ("W", Quantity.PM25): (time[read], seen(0.9)),
            ("D", Quantity.PM25): (time[read][held], seen(0.95)[held]),
            ("O", Quantity.PM25): (clock, hourly * 1e-9),
            ("O", Quantity.TEMPERATURE): (clock, cold),
        }
    )


@cache
def full_fit() -> Fit:
    """Return the fit of the full house; made once for all tests of a run."""
    fit = fit_house(full_house(), made_log(), PHASES, fan_runs(), rng=np.random.default_rng(3), draws=DRAWS)
    assert isinstance(fit, Fit)
    return fit


@cache
def full_baseline() -> Baseline:
    """Return the emissions behind that fit."""
    return baseline_of(full_fit())


def without_parts(house: House) -> House:
    """Return the house with no dated part: nothing was done to it."""
    handler = house.air_handler
    assert handler is not None
    return replace(
        house,
        cleaners=tuple(c for c in house.cleaners if c.since < START),
        air_handler=replace(
            handler,
            filters=(replace(handler.filters[0], until=float("inf")),),
            return_leaks=tuple(replace(k, until=float("inf")) for k in handler.return_leaks),
        ),
    )
