"""Bursts found on a path, and what kind they probably were."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from tests.scenario.full_home import START, a_log, full_fit, made_log

from airtally.house.parts import (
    Affects,
    AirSide,
    Appliance,
    ApplianceKind,
    Change,
    DiaryEntry,
    Placement,
    Venting,
)
from airtally.inference.events import (
    DIARY_WORDS,
    EVENT_KINDS,
    Source,
    classify,
    draw_quiet_kinds,
    drawn_kinds,
    find_spans,
    source_named,
)
from airtally.inference.likelihood import Path
from airtally.quantities import Quantity

HOUR = 60
MEAL = (18 * HOUR + 30, 18 * HOUR + 50, 30.0)
AFTERNOON = (2 * 1440 + 15 * HOUR, 2 * 1440 + 15 * HOUR + 20, 15.0)


def kinds(span: tuple[int, int, float] = AFTERNOON, **changed: object) -> dict[Source, float]:
    prepared = full_fit().prepared
    house = replace(prepared.house, **({"diary": ()} | changed))  # type: ignore[arg-type]
    return dict(classify(prepared, house, made_log(), [span])[0])


def entry(minutes: float, kind: str, text: str = "") -> DiaryEntry:
    begin = full_fit().prepared.start + 60.0 * minutes
    return DiaryEntry(start=begin, end=begin + 1200.0, kind=kind, text=text)


@pytest.mark.parametrize("span", [MEAL, AFTERNOON, (10, 12, 5.0), (9000, 9200, 80.0)])
def test_probabilities_of_the_kinds_sum_to_one_with_the_likeliest_first(span: tuple[int, int, float]) -> None:
    found = kinds(span)
    assert set(found) == set(EVENT_KINDS)
    assert sum(found.values()) == pytest.approx(1.0)
    assert list(found.values()) == sorted(found.values(), reverse=True)


def test_a_burst_at_supper_is_probably_cooking() -> None:
    assert max(kinds(MEAL), key=lambda k: kinds(MEAL)[k]) is Source.COOKING


@pytest.mark.parametrize(
    ("word", "source"),
    [
        ("sanding a bowl", Source.HOBBY),
        ("candles lit", Source.CANDLE_INCENSE),
        ("fire in the hearth", Source.SOLID_FUEL),
    ],
)
def test_a_diary_entry_nearby_makes_its_kind_likelier_and_the_closer_the_more(word: str, source: Source) -> None:
    plain = kinds()[source]
    near = kinds(diary=(entry(AFTERNOON[0] + 5, word),))[source]
    an_hour_off = kinds(diary=(entry(AFTERNOON[0] - 80, word),))[source]
    hours_off = kinds(diary=(entry(AFTERNOON[0] - 240, word),))[source]
    assert near > an_hour_off > plain
    assert hours_off == pytest.approx(plain)


def test_no_fireplace_and_no_garage_leave_little_room_for_their_smoke() -> None:
    evening = (3 * 1440 + 21 * HOUR, 3 * 1440 + 22 * HOUR, 30.0)
    with_hearth, bare = kinds(evening), kinds(evening, appliances=(), zones=full_fit().house.zones[:2])
    assert with_hearth[Source.SOLID_FUEL] > 0.2
    assert bare[Source.SOLID_FUEL] < 0.05
    assert bare[Source.GARAGE] < 0.01


def test_a_room_that_rose_first_tells_the_hobby() -> None:
    log = made_log()
    first, last, _ = AFTERNOON
    value = log.value.copy()
    workshop = [s.placement for s in log.streams].index("W")
    begin = full_fit().prepared.start
    burst = (log.stream == workshop) & (log.time > begin + 60 * first) & (log.time < begin + 60 * (last + 30))
    value[burst] += 60e-9
    prepared, house = full_fit().prepared, replace(full_fit().house, diary=())
    shop = dict(classify(prepared, house, replace(log, value=value), [AFTERNOON])[0])
    assert shop[Source.HOBBY] > 3.0 * kinds()[Source.HOBBY]


def evening_diary(*days: int, word: str = "fire", others: int = 5) -> tuple[DiaryEntry, ...]:
    """Return an entry at 18:30 of each day given, and one of another sort at noon of the first days."""
    named = [entry(day * 1440 + 18 * HOUR + 30, word) for day in days]
    return (*named, *(entry(day * 1440 + 12 * HOUR, "window") for day in range(others)))


EVENING = (4 * 1440 + 19 * HOUR, 4 * 1440 + 20 * HOUR, 40.0)


def test_a_kept_diary_that_names_no_fire_that_evening_speaks_against_one_and_a_thin_one_does_not() -> None:
    plain = kinds(EVENING)[Source.SOLID_FUEL]
    other_evenings = kinds(EVENING, diary=evening_diary(1, 2, 3))[Source.SOLID_FUEL]
    no_evening = kinds(EVENING, diary=evening_diary())[Source.SOLID_FUEL]
    this_evening = kinds(EVENING, diary=evening_diary(1, 2, 3, 4))[Source.SOLID_FUEL]
    thin = kinds(EVENING, diary=(entry(12 * HOUR, "window"), entry(9 * 1440, "window")))[Source.SOLID_FUEL]
    assert other_evenings < 0.25 * plain
    assert other_evenings < no_evening < 0.6 * plain
    assert this_evening > plain
    assert thin == pytest.approx(plain)


def test_an_entry_that_runs_for_hours_leaves_more_room_for_a_meal_than_a_short_one() -> None:
    short = entry(EVENING[0] + 5, "fire")
    hours = replace(short, end=short.start + 4.0 * 3600.0)
    plain = kinds(EVENING)[Source.SOLID_FUEL]
    assert plain < kinds(EVENING, diary=(hours,))[Source.SOLID_FUEL] < kinds(EVENING, diary=(short,))[Source.SOLID_FUEL]


def test_a_short_burst_by_day_may_be_the_ashes_of_last_evenings_fire_only_if_there_was_one() -> None:
    morning = (5 * 1440 + 10 * HOUR, 5 * 1440 + 10 * HOUR + 5, 40.0)
    after_a_fire = kinds(morning, diary=evening_diary(1, 2, 4))[Source.SOLID_FUEL]
    days_after = kinds(morning, diary=evening_diary(1, 2, 3))[Source.SOLID_FUEL]
    assert after_a_fire > 3.0 * days_after


def works(begin: float, end: float | None, affects: Affects = Affects.FILTER) -> tuple[Change, ...]:
    start = full_fit().prepared.start
    ends = None if end is None else start + 60.0 * end
    return (Change(id="w", time=start + 60.0 * begin, name="w", affects=(affects,), begins_phase=False, ends=ends),)


def test_dust_is_likely_in_the_working_hours_of_works_less_so_soon_after_and_not_at_other_times() -> None:
    first = AFTERNOON[0]
    plain = kinds()[Source.RESUSPENSION]
    during = kinds(changes=works(first - 400, first + 60))
    after = kinds(changes=works(first - 3000, first - 1300))[Source.RESUSPENSION]
    assert next(iter(during)) is Source.RESUSPENSION
    assert plain < after < during[Source.RESUSPENSION]
    for idle in (
        works(first - 400, None),
        works(first - 400, first + 60, Affects.FAN_RULE),
        works(first + 60, first + 90),
    ):
        assert kinds(changes=idle)[Source.RESUSPENSION] == pytest.approx(plain)
    night = (2 * 1440 + 21 * HOUR, 2 * 1440 + 21 * HOUR + 20, 15.0)
    same_day = kinds(night, changes=works(first - 400, first + 600))[Source.RESUSPENSION]
    assert same_day == pytest.approx(kinds(night)[Source.RESUSPENSION])


def test_a_hobby_room_without_a_monitor_is_still_a_hobby_room() -> None:
    house = full_fit().house
    bare = tuple(place for place in house.placements if place.zone != "workshop")
    spare = tuple(replace(z, name="spare room", id="spare") if z.id == "workshop" else z for z in house.zones)
    with_room = kinds(placements=bare)[Source.HOBBY]
    assert with_room > 3.0 * kinds(placements=bare, zones=spare)[Source.HOBBY]


RANGE = Appliance(id="range", kind=ApplianceKind.RANGE, zone="living", venting=Venting.UNVENTED, fuel="gas")


def beside(*columns: tuple[str, Quantity, np.ndarray], **changed: object) -> dict[Source, float]:
    """Return the kinds with further streams of one value a minute."""
    made = made_log()
    time = full_fit().prepared.start + 60.0 * (np.arange(full_fit().prepared.steps) + 0.5)
    streams = {(s.placement, s.quantity): made.series(s) for s in made.streams}
    streams |= {(place, quantity): (time, values) for place, quantity, values in columns}
    house = replace(full_fit().house, **({"diary": ()} | changed))  # type: ignore[arg-type]
    return dict(classify(full_fit().prepared, house, a_log(streams), [EVENING])[0])


def bump(base: float, size: float, noise: float, seed: int = 8) -> np.ndarray:
    """Return a level by minute with a step during the evening's burst."""
    values = base + noise * np.random.default_rng(seed).normal(size=full_fit().prepared.steps)
    values[EVENING[0] : EVENING[1] + 30] += size
    return values


def test_carbon_dioxide_that_rises_along_tells_cooking_on_gas_and_its_absence_speaks_against_it() -> None:
    gas = (*full_fit().house.appliances, RANGE)
    rose = beside(("L", Quantity.CO2, bump(600e-6, 150e-6, 10e-6)), appliances=gas)[Source.COOKING]
    stayed = beside(("L", Quantity.CO2, bump(600e-6, 0.0, 10e-6)), appliances=gas)[Source.COOKING]
    assert stayed < 0.5 * kinds(EVENING, appliances=gas)[Source.COOKING] < 0.8 * rose
    electric = beside(("L", Quantity.CO2, bump(600e-6, 0.0, 10e-6)))[Source.COOKING]
    assert electric == pytest.approx(kinds(EVENING)[Source.COOKING])


def test_vapour_tells_cooking_and_humidity_that_only_follows_the_temperature_does_not() -> None:
    warm = ("L", Quantity.TEMPERATURE, bump(294.0, 0.0, 0.02))
    wet = beside(warm, ("L", Quantity.RELATIVE_HUMIDITY, bump(0.40, 0.06, 0.003)))[Source.COOKING]
    dry = beside(warm, ("L", Quantity.RELATIVE_HUMIDITY, bump(0.40, 0.0, 0.003)))[Source.COOKING]
    # Three kelvin cooler at the same vapour: 0.40 becomes 0.48 (saturation pressure 2487 and 2063 Pa, ASHRAE 2017).
    cooler = ("L", Quantity.TEMPERATURE, bump(294.0, -3.0, 0.02))
    only_cooler = beside(cooler, ("L", Quantity.RELATIVE_HUMIDITY, bump(0.40, 0.0821, 0.003)))[Source.COOKING]
    assert wet > kinds(EVENING)[Source.COOKING] > dry
    assert only_cooler == pytest.approx(dry, rel=0.35)
    assert only_cooler < 0.6 * wet


def test_a_hot_stove_tells_a_fire_and_a_cold_one_speaks_against_it() -> None:
    place = Placement(id="S", instrument="S", air_side=AirSide.EQUIPMENT, zone="living")
    places = (*full_fit().house.placements, place)
    plain = kinds(EVENING)[Source.SOLID_FUEL]
    hot = beside(("S", Quantity.TEMPERATURE, bump(295.0, 90.0, 0.3)), placements=places)[Source.SOLID_FUEL]
    cold = beside(("S", Quantity.TEMPERATURE, bump(295.0, 0.0, 0.3)), placements=places)[Source.SOLID_FUEL]
    assert hot > 0.8
    assert cold < 0.4 * plain


def test_a_coarse_burst_is_dust_and_a_fine_one_is_not() -> None:
    fine = ("L", Quantity.PM25, bump(8e-9, 40e-9, 0.5e-9))
    dusty = beside(fine, ("L", Quantity.PM10, bump(10e-9, 250e-9, 0.5e-9)))
    smoky = beside(fine, ("L", Quantity.PM10, bump(10e-9, 48e-9, 0.5e-9)))
    assert dusty[Source.RESUSPENSION] > 2.0 * smoky[Source.RESUSPENSION]
    assert dusty[Source.HOBBY] > 2.0 * smoky[Source.HOBBY]


@pytest.mark.parametrize(
    ("text", "source"),
    [
        ("Fried fish for dinner", Source.COOKING),
        ("vacuumed the carpet", Source.RESUSPENSION),
        ("played cards", None),
        ("returning home", None),
        ("warmed up the car", Source.GARAGE),
        ("Woodturning in the shed", Source.HOBBY),
        ("wood smoke from next door", Source.SOLID_FUEL),
        ("at the industrial estate", None),
        ("", None),
    ],
)
def test_diary_words_are_read_from_their_beginning(text: str, source: Source | None) -> None:
    assert source_named(text) is source


def test_every_diary_word_names_an_indoor_kind() -> None:
    assert {source for _, source in DIARY_WORDS} <= set(EVENT_KINDS)


def burst_at(*places: tuple[int, float]) -> tuple[SimpleNamespace, Path, np.ndarray, np.ndarray]:
    """Return a day of one-minute steps with pulses of given rises."""
    level = np.full(1440, 5.0)
    rate = np.full(1440, 2.0) + 0.05 * np.random.default_rng(0).normal(size=1440)
    chance = np.zeros((1, 1440))
    for at, rise in places:
        level[at:] += rise * np.exp(-np.arange(1440 - at) / 40.0)
        rate[at] += rise * 60.0
        chance[0, at] = 1.0
    path = Path(level=level[None], variance=np.ones((1, 1440)), chance=chance)
    return SimpleNamespace(steps=1440, step=60.0), path, rate, level


def test_bursts_apart_are_two_events_and_bursts_close_by_one() -> None:
    far = find_spans(*burst_at((300, 30.0), (700, 20.0)))
    assert [(a, b) for a, b, _ in far] == [(300, 300), (700, 700)]
    assert far[0][2] == pytest.approx(30.0, abs=0.5)
    near = find_spans(*burst_at((300, 30.0), (315, 20.0)))
    assert [(a, b) for a, b, _ in near] == [(300, 315)]


def hours_of(*rates: float) -> list[tuple[int, int]]:
    """Return first and last step of what is found in a day that gives off so much in each hour from the fifth on."""
    quiet, path, rate, level = burst_at()
    for index, given in enumerate(rates):
        rate[300 + 60 * index : 360 + 60 * index] += given
    for step in range(1, 1440):
        level[step] = level[step - 1] + (rate[step] - 0.5 * level[step - 1]) / 60.0
    return [(a, b) for a, b, _ in find_spans(quiet, path, rate, level)]


def test_a_burst_that_eases_off_and_comes_again_is_two_and_one_that_only_grows_or_fades_is_one() -> None:
    assert hours_of(60.0, 20.0, 80.0) == [(300, 419), (420, 479)]
    assert hours_of(60.0, 40.0, 80.0) == [(300, 479)]
    assert hours_of(20.0, 40.0, 90.0) == [(300, 479)]
    assert hours_of(90.0, 40.0, 15.0) == [(300, 479)]
    assert len(hours_of(60.0, 15.0, 60.0, 15.0, 60.0)) == 3


def test_small_rises_and_quiet_days_are_no_events() -> None:
    assert find_spans(*burst_at((300, 2.0))) == []
    assert find_spans(*burst_at()) == []


def test_the_events_of_a_fit_carry_masses_and_kinds_that_fit_the_record() -> None:
    fit = full_fit()
    assert fit.events
    assert fit.kind.shape == (fit.draws, len(fit.events))
    for event in fit.events:
        assert (event.mass >= 0.0).all()
        assert event.start >= START - 60.0
        assert event.first <= event.last
    # The made days hold three meals each, at about 7.3, 12.6 and 18.6 h.
    hours = np.array([((e.start - START) / 3600.0) % 24.0 for e in fit.events if e.rise > 5e-9])
    assert np.mean([min(abs(h - m) for m in (7.3, 12.6, 18.6)) < 1.5 for h in hours]) > 0.8


def test_kinds_are_drawn_by_their_chances_and_a_draws_doubt_shifts_every_event_alike() -> None:
    chances = ((Source.COOKING, 0.6), (Source.SOLID_FUEL, 0.3), (Source.OTHER, 0.1))
    draws, events = 400, 200
    shift = np.zeros((draws, len(EVENT_KINDS)))
    plain = drawn_kinds([chances] * events, shift, np.random.default_rng(1))
    for kind, chance in chances:
        assert np.mean(plain == EVENT_KINDS.index(kind)) == pytest.approx(chance, abs=0.01)
    shift[: draws // 2, EVENT_KINDS.index(Source.SOLID_FUEL)] = np.log(2.0)  # odds 0.3 to 0.7 become 0.6 to 0.7
    tilted = drawn_kinds([chances] * events, shift, np.random.default_rng(1)) == EVENT_KINDS.index(Source.SOLID_FUEL)
    assert tilted[: draws // 2].mean() == pytest.approx(0.6 / 1.3, abs=0.01)
    assert tilted[draws // 2 :].mean() == pytest.approx(0.3, abs=0.01)


def test_what_is_given_off_outside_events_comes_in_part_from_the_sources_of_the_events() -> None:
    draws, hours = 300, 1000.0
    cooking, fire, other = (EVENT_KINDS.index(k) for k in (Source.COOKING, Source.SOLID_FUEL, Source.OTHER))
    drawn = np.tile([cooking, fire], (draws, 1))
    found = draw_quiet_kinds(drawn, (np.full(draws, 3.0), np.full(draws, 1.0)), hours, np.random.default_rng(2))
    assert found.shape[0] == draws
    assert set(np.unique(found)) == {cooking, fire, other}
    part = np.mean(found != other, axis=1)
    assert part[0] == pytest.approx(0.5, abs=0.05)
    assert part.min() < 0.05
    assert part.max() > 0.95
    assert np.mean(found == cooking) == pytest.approx(3.0 * np.mean(found == fire), rel=0.05)
    nothing = draw_quiet_kinds(np.zeros((draws, 0), dtype=np.int64), (), hours, np.random.default_rng(2))
    assert (nothing == other).all()
