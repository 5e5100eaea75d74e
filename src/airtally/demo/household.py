"""What the invented household does, minute by minute: emissions, fans, doors, windows, people, diary."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.demo.aerosols import SOURCES, TAGS
from airtally.demo.dates import MINUTE, Dates, generator
from airtally.demo.plan import BEDROOMS, FAMILY, GARAGE, LIVING, UTILITY, WORKSHOP, ZONES, Plan
from airtally.demo.quirks import Quirk

GASES = ("co2", "co", "voc", "vapour")
CO2, CO, VOC, VAPOUR = range(4)
"""Gas emissions: CO2 and CO [ppm m3/s], VOC [ug/s], water vapour [g/s]."""
FIRST_FIRE_DAY = 25
PER_MINUTE = 1000.0 / 60.0
"""mg/min to ug/s."""
BREATH_CO2 = 5.0
"""A person: 0.005 L/s of CO2. [ppm m3/s]"""
BREATH_VAPOUR = 50.0 / 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One true source event: ``start`` [s, POSIX UTC], ``minutes`` [min], ``grams`` of PM2.5 emitted before any hood [g]."""

    kind: str
    source: str
    zone: str
    start: float
    minutes: float
    grams: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryNote:
    """What the household wrote: ``start``, ``end`` as written, ``true_start`` [s, POSIX UTC]."""

    start: float
    end: float | None
    kind: str
    text: str
    true_start: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Household:
    """Arrays by minute of what goes on; filled event by event.

    ``particles`` shape (minutes, zones, tags) [ug/s]; ``gases`` shape (minutes, zones, 4); the others shape
    (minutes,): ``hood``, ``dryer``, ``bath`` 0 or 1, ``fire`` 0..1 of its draw, ``window`` [m3/s],
    ``door_shut`` 0 or 1, ``garage_open`` 0 or 1, ``burner`` of the water heater 0 or 1, ``spill`` 0 or 1.
    """

    dates: Dates
    particles: Floats
    gases: Floats
    hood: Floats
    dryer: Floats
    bath: Floats
    fire: Floats
    window: Floats
    door_shut: Floats
    garage_open: Floats
    burner: Floats
    spill: Floats
    events: list[Event] = field(default_factory=list)
    diary: list[DiaryNote] = field(default_factory=list)

    def span(self, start: float, minutes: float) -> slice:
        """Return the minutes an event covers, cut to the logs."""
        first = round((start - self.dates.start) / MINUTE)
        last = first + max(round(minutes), 1)
        size = self.hood.size
        return slice(min(max(first, 0), size), min(max(last, 0), size))

    def emit(self, source: str, zone: int, start: float, minutes: float, rate: float) -> float:
        """Add a particle emission at ``rate`` [mg/min]; return the grams."""
        span = self.span(start, minutes)
        self.particles[span, zone, SOURCES.index(source)] += rate * PER_MINUTE
        return rate * float(span.stop - span.start) / 1000.0

    def note(self, kind: str, source: str, zone: int, start: float, minutes: float, grams: float) -> None:
        """Record a true event, if it begins inside the logs."""
        if self.dates.start <= start < self.dates.end:
            self.events.append(
                Event(kind=kind, source=source, zone=ZONES[zone], start=start, minutes=minutes, grams=grams)
            )

    def write(self, kind: str, start: float, minutes: float | None, text: str) -> None:
        """Write a diary line, to five minutes, as people do."""
        if self.dates.start <= start < self.dates.end:
            rounded = round(start / 300.0) * 300.0
            end = None if minutes is None else rounded + round(minutes / 5.0) * 300.0
            self.diary.append(DiaryNote(start=rounded, end=end, kind=kind, text=text, true_start=start))


def make_household(seed: int, quirks: frozenset[Quirk], dates: Dates, plan: Plan) -> Household:
    """Return what the household of a seed does during the logs."""
    size = dates.minutes().size
    home = Household(
        dates=dates,
        particles=np.zeros((size, len(ZONES), TAGS)),
        gases=np.zeros((size, len(ZONES), len(GASES))),
        **{  # type: ignore[arg-type]  # all of these are arrays
            name: np.zeros(size)
            for name in ("hood", "dryer", "bath", "fire", "window", "door_shut", "garage_open", "burner", "spill")
        },
    )
    _people(home)
    _steady(home)
    factor = plan.emission_factor
    for day in range(-3, dates.end_day):
        _cook(home, generator(seed, f"cooking {day}"), day, factor)
        _keep_house(home, generator(seed, f"house {day}"), day, factor)
        _drive(home, generator(seed, f"car {day}"), day)
        _work_wood(home, generator(seed, f"wood {day}"), day, factor, dates, Quirk.SMOKE_WEEK in quirks)
        if is_fire_day(day):
            _burn(home, generator(seed, f"fire {day}"), day, factor)
    _open_windows(home, dates, quirks)
    _works(home, generator(seed, "works"))
    if Quirk.CO_SPILL in quirks:
        _spill(home, dates.spill)
    if Quirk.FILTER_GAP in quirks:
        home.write("other", dates.filter_gap[0], None, "put a new furnace filter in, from the spare box")
    home.events.sort(key=lambda event: event.start)
    home.diary.sort(key=lambda note: note.start)
    _misremember(home, generator(seed, "diary"))
    return home


def is_fire_day(day: int) -> bool:
    """Say whether a fire is lit that evening: Friday to Sunday from the first cold weekend, less one Friday."""
    return day >= FIRST_FIRE_DAY and day % 7 >= 4 and day != 32


def _people(home: Household) -> None:
    """Place people by hour: CO2, moisture, and dust that walking stirs up."""
    time = home.dates.minutes()
    clock = home.dates.hour_of_day(time)
    day = home.dates.day_index(time)
    workday = day % 7 < 5
    guest = np.where(((day % 7 >= 5) & ((day // 7) % 2 == 1)), 1.0, 0.0)
    night = (clock < 6.5) | (clock >= 22.75)
    away = workday & (clock >= 8.0) & (clock < 15.5)
    counts = np.zeros((time.size, len(ZONES)))
    counts[:, BEDROOMS] = np.where(night, 3.0 + guest, np.where(away, 0.0, 0.5))
    counts[:, FAMILY] = np.where(night, 0.0, np.where(away, 0.8, 0.7))
    counts[:, LIVING] = np.where(night, 0.0, np.where(away, 0.2, 1.6 + guest))
    home.gases[:, :, CO2] += BREATH_CO2 * counts
    home.gases[:, :, VAPOUR] += BREATH_VAPOUR * counts
    home.gases[:, :, VOC] += 0.6 * counts
    awake = np.where(night, 0.05, 1.0)[:, None]
    home.particles[:, :, SOURCES.index("resuspension")] += 0.007 * PER_MINUTE * counts * awake
    home.door_shut[:] = night


def _steady(home: Household) -> None:
    """Add what the house itself gives off."""
    for zone, rate in ((LIVING, 3.5), (BEDROOMS, 2.6), (FAMILY, 2.2), (WORKSHOP, 1.6), (UTILITY, 0.6), (GARAGE, 24.0)):
        home.gases[:, zone, VOC] += rate


def _cook(home: Household, rng: np.random.Generator, day: int, factor: float) -> None:
    workday = day % 7 < 5
    late = is_fire_day(day)
    meals = (
        (7.1 if workday else 9.0, 0.25, 12 if workday else 22, 0.22 if workday else 0.62, 0.0, 1.0),
        (12.35, 0.3, 14, 0.34, 0.1, 0.75),
        (18.85 if late else 17.8, 0.35, 38, 0.92, 0.75 if late else 0.6, 1.0),
    )
    for hour, spread, minutes, median, hood_chance, chance in meals:
        start = home.dates.at(day, hour + spread * float(np.clip(rng.standard_normal(), -2.0, 2.0)))
        rate = factor * median * float(np.exp(0.55 * np.clip(rng.standard_normal(), -2.0, 2.2)))
        with_hood = rng.random() < hood_chance
        if rng.random() > chance:
            continue
        grams = home.emit("cooking", LIVING, start, minutes, rate)
        span = home.span(start, minutes)
        home.gases[span, LIVING, VOC] += 8.0
        home.gases[span, LIVING, CO] += 0.25
        home.gases[span, LIVING, CO2] += 45.0
        home.gases[span, LIVING, VAPOUR] += 0.15
        if with_hood:
            home.hood[home.span(start, minutes + 6)] = 1.0
        home.note("cooking", "cooking", LIVING, start, minutes, grams)
        if rate > 1.6 * factor:
            home.write("cooking", start, minutes, "frying, pan smoked a bit")


def _burn(home: Household, rng: np.random.Generator, day: int, factor: float) -> None:
    """Burn one evening's fire: light-up, reloads, die-down; its chimney draws house air all the while."""
    start = home.dates.at(day, 18.3 + 0.35 * float(np.clip(rng.standard_normal(), -2.0, 2.0)))
    burn = 170.0 + 25.0 * float(np.clip(rng.standard_normal(), -2.0, 2.0))
    dying = 80.0
    grams = home.emit("solid_fuel", LIVING, start, 14.0, factor * float(rng.uniform(1.3, 3.1)))
    grams += home.emit("solid_fuel", LIVING, start + 14.0 * MINUTE, burn - 14.0, 0.05)
    at = float(rng.uniform(40.0, 55.0))
    while at < burn - 15.0:
        puff = factor * 14.0 * float(np.exp(0.45 * rng.standard_normal()))
        grams += home.emit("solid_fuel", LIVING, start + at * MINUTE, 4.0, puff / 4.0)
        at += float(rng.uniform(42.0, 62.0))
    smoulder = factor * 0.75 * float(np.exp(0.35 * rng.standard_normal()))
    grams += home.emit("solid_fuel", LIVING, start + burn * MINUTE, dying, smoulder)
    home.fire[home.span(start, 14.0)] = 0.6
    home.fire[home.span(start + 14.0 * MINUTE, burn - 14.0)] = 1.0
    home.fire[home.span(start + burn * MINUTE, dying)] = 0.4
    home.gases[home.span(start, burn + dying), LIVING, CO] += 0.12
    home.gases[home.span(start, burn), LIVING, VOC] += 4.0
    home.note("fire", "solid_fuel", LIVING, start, burn + dying, grams)
    home.write("fire", start, burn, "fire in the living room")
    if day % 7 == 5 and rng.random() < 0.5:
        home.dryer[home.span(start + 60.0 * MINUTE, 45.0)] = 1.0
    if rng.random() < 0.35:
        home.bath[home.span(start + 75.0 * MINUTE, 20.0)] = 1.0
    if day % 7 in (5, 6) and day > FIRST_FIRE_DAY and rng.random() < 0.6:
        ash = home.dates.at(day, 10.0 + float(rng.uniform(-0.4, 0.4)))
        home.note(
            "ash removal", "solid_fuel", LIVING, ash, 5.0, home.emit("solid_fuel", LIVING, ash, 5.0, 2.4 * factor)
        )


def _keep_house(home: Household, rng: np.random.Generator, day: int, factor: float) -> None:
    """Candles, vacuuming, laundry, showers and the water heater."""
    candle = home.dates.at(day, 19.6 + float(rng.uniform(-0.5, 0.5)))
    if day % 7 == 2 and rng.random() < 0.7:
        grams = home.emit("candle_incense", LIVING, candle, 95.0, 0.06 * factor)
        home.gases[home.span(candle, 95.0), LIVING, VOC] += 1.5
        home.note("candle", "candle_incense", LIVING, candle, 95.0, grams)
        home.write("candle", candle, 95.0, "candles at the table")
    if day % 7 == 5:
        vacuum = home.dates.at(day, 10.6 + float(rng.uniform(-0.3, 0.3)))
        grams = home.emit("resuspension", LIVING, vacuum, 18.0, 0.18 * factor)
        grams += home.emit("resuspension", BEDROOMS, vacuum + 18.0 * MINUTE, 14.0, 0.18 * factor)
        home.note("vacuuming", "resuspension", LIVING, vacuum, 32.0, grams)
    laundry = home.dates.at(day, 15.0 + float(rng.uniform(-1.0, 1.0)))
    if day % 7 in (1, 3, 6):
        home.dryer[home.span(laundry, 48.0)] = 1.0
    for hour in (6.7, 7.2, 21.6) if day % 7 < 5 else (8.6, 9.6):
        shower = home.dates.at(day, hour + float(rng.uniform(-0.2, 0.2)))
        home.gases[home.span(shower, 9.0), BEDROOMS, VAPOUR] += 0.45
        if rng.random() < 0.7:
            home.bath[home.span(shower, 16.0)] = 1.0
        home.burner[home.span(shower + 4.0 * MINUTE, 22.0)] = 1.0
    dishes = home.dates.at(day, 19.9 + float(rng.uniform(-0.3, 0.3)))
    home.burner[home.span(dishes, 14.0)] = 1.0


def _drive(home: Household, rng: np.random.Generator, day: int) -> None:
    """Start and park the car: a cold start fouls the garage, a warm one little."""
    trips: list[tuple[float, float]] = []
    if day % 7 < 5:
        trips = [(7.58 + float(rng.uniform(-0.07, 0.07)), 1.0), (17.6 + float(rng.uniform(-0.3, 0.3)), 0.12)]
    elif rng.random() < 0.7:
        trips = [(11.2 + float(rng.uniform(-0.5, 0.5)), 0.8), (13.4 + float(rng.uniform(-0.5, 0.5)), 0.12)]
    for hour, strength in trips:
        start = home.dates.at(day, hour)
        amount = strength * float(np.exp(0.25 * rng.standard_normal()))
        grams = home.emit("garage", GARAGE, start, 2.0, 4.0 * amount)
        span = home.span(start, 2.0)
        home.gases[span, GARAGE, CO] += 28.0 * amount
        home.gases[span, GARAGE, VOC] += 2400.0 * amount
        home.garage_open[home.span(start + MINUTE, 3.0)] = 1.0
        home.note("car", "garage", GARAGE, start, 2.0, grams)


def _work_wood(
    home: Household, rng: np.random.Generator, day: int, factor: float, dates: Dates, has_smoke_week: bool
) -> None:
    """Turn wood Tuesday, Thursday, Saturday; wipe finish on Saturdays. Not on weekdays of the smoke week or works."""
    weekday = day % 7
    in_smoke = has_smoke_week and day // 7 == dates.smoke_week
    rate = factor * 1.05 * float(np.exp(0.3 * rng.standard_normal()))
    begin = 0.1 * float(rng.uniform(-1.0, 1.0))
    if day < 0 or (weekday in (1, 3) and (in_smoke or 29 <= day <= 31)):
        return
    if weekday in (1, 3):
        start, minutes = dates.at(day, 19.0 + begin), 60.0
    elif weekday == 5:
        start, minutes = dates.at(day, 14.0 + begin), 90.0
    else:
        return
    grams = home.emit("workshop", WORKSHOP, start, minutes, rate)
    home.note("turning", "workshop", WORKSHOP, start, minutes, grams)
    if rng.random() < 0.5:
        home.write("workshop", start, minutes, "turning in the workshop")
    if weekday == 5:
        finish = start + (minutes + 5.0) * MINUTE
        span = home.span(finish, 600.0)
        tail = np.exp(-np.maximum(np.arange(600.0) - 40.0, 0.0) / 150.0)[: span.stop - span.start]
        home.gases[span, WORKSHOP, VOC] += 110.0 * tail
        home.note("wood finish", "workshop", WORKSHOP, finish, 40.0, 0.0)
        home.write("workshop", finish, 40.0, "wiped finish on")


def _open_windows(home: Household, dates: Dates, quirks: frozenset[Quirk]) -> None:
    """Open windows on three mild afternoons, never in smoke."""
    for day in (1, 5, 10):
        if Quirk.SMOKE_WEEK in quirks and day // 7 == dates.smoke_week:
            continue
        start = dates.at(day, 16.5)
        home.window[home.span(start, 100.0)] = 260.0 / 3600.0
        home.write("window", start, 100.0, "windows open")


def _works(home: Household, rng: np.random.Generator) -> None:
    """Stir up dust on the three days of the works."""
    for day in (29, 30, 31):
        for hour, zone in ((9.5, FAMILY), (13.0, LIVING), (15.0, FAMILY)):
            start = home.dates.at(day, hour + float(rng.uniform(-0.5, 0.5)))
            rate = 0.75 * float(np.exp(0.4 * rng.standard_normal()))
            home.note("works", "works", zone, start, 50.0, home.emit("works", zone, start, 50.0, rate))


def _spill(home: Household, start: float) -> None:
    """Let the water heater and the fire spill for 25 minutes while hood and dryer run."""
    home.hood[home.span(start - 10.0 * MINUTE, 40.0)] = 1.0
    home.dryer[home.span(start - 25.0 * MINUTE, 55.0)] = 1.0
    home.burner[home.span(start - 8.0 * MINUTE, 33.0)] = 1.0
    home.spill[home.span(start, 25.0)] = 1.0
    home.gases[home.span(start, 3.0), UTILITY, CO] += 1.0
    home.gases[home.span(start, 25.0), UTILITY, CO] += 0.42
    home.gases[home.span(start, 25.0), UTILITY, VAPOUR] += 0.2
    grams = home.emit("solid_fuel", LIVING, start, 22.0, 0.9)
    home.note("spill", "solid_fuel", LIVING, start, 25.0, grams)


def _misremember(home: Household, rng: np.random.Generator) -> None:
    """Make three written fire times wrong."""
    fires: Integers = np.array([i for i, note in enumerate(home.diary) if note.kind == "fire"], dtype=np.int64)
    if fires.size < 3:
        return
    chosen = np.sort(rng.choice(fires, size=3, replace=False))
    for index, minutes in zip(chosen, rng.permutation([95.0, -120.0, 185.0]), strict=True):
        note = home.diary[int(index)]
        move = float(minutes) * MINUTE
        home.diary[int(index)] = DiaryNote(
            start=note.start + move,
            end=None if note.end is None else note.end + move,
            kind=note.kind,
            text=note.text,
            true_start=note.true_start,
        )
