"""CO in the log: found against the day's baseline, linked to what ran, held against limits with their edition."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from safety_houses import DAY, EMPTY, FIREPLACE, START, appliance, house, log, minutes, quiet_co, with_event

from airtally.house.parts import ApplianceKind, DiaryEntry, Venting
from airtally.quantities import Quantity
from airtally.safety import DEGREE_STEP, Grade, HandOver, alarm_sentence, assess, carbon_monoxide_findings, fill
from airtally.safety.log_series import highest_mean

TIME = minutes(12.0)
EVENING = START + 8.0 * DAY + 19.0 * 3600.0 + 40.0 * 60.0
CO = ("m6", Quantity.CO)
SPILL = ("m6", Quantity.SPILL_TEMPERATURE)


def planted(low: float = 11e-6, high: float = 19e-6, minutes_long: float = 25.0) -> np.ndarray:  # type: ignore[type-arg]
    return with_event(quiet_co(TIME), TIME, EVENING, minutes_long * 60.0, low, high)


def spill() -> np.ndarray:  # type: ignore[type-arg]
    usual = 273.15 + 40.0 + 18.0 * (np.sin(TIME / 3600.0) > 0.5)
    return with_event(usual, TIME, EVENING, 25.0 * 60.0, 273.15 + 58.0, 273.15 + 96.0)


def test_a_planted_event_is_found_with_its_start_length_and_peak() -> None:
    found = carbon_monoxide_findings(house(appliance()), log({CO: (TIME, planted()), SPILL: (TIME, spill())}))
    (event,) = [one for one in found if one.code == "safety-co-event"]
    assert event.start is not None
    assert abs(event.start - EVENING) <= 180.0
    figures = dict(event.figures)
    assert_allclose(figures["peak"].value, 19e-6)
    assert_allclose(figures["minutes"].value, 25 * 60.0, atol=240.0)
    assert figures["spill_peak"].value - figures["spill_before"].value > 15.0
    assert event.grade is Grade.STOP
    words = fill(event, "America/Denver")
    assert "2025-09-09 13:39" in words  # 19:39 UTC is 13:39 in Denver; half an interval before the first reading
    assert "19 ppm" in words
    assert "{" not in words


def test_every_published_level_shows_with_edition_and_only_those_reached_count_as_crossed() -> None:
    """Levels: 9 ppm of the 1200 tiers is reached by 19 ppm, 35 ppm of the 2005 standard and 9 ppm over 8 h are not."""
    (event,) = carbon_monoxide_findings(house(appliance()), log({CO: (TIME, planted())}))
    crossed = {(one.edition, one.printed) for one in event.limits if one.is_crossed}
    kept = {(one.edition, one.printed) for one in event.limits if one.is_crossed is False}
    assert ("ANSI/BPI-1200 tiers", "9 to 35 ppm") in crossed
    assert ("2005 audit standard", "above 35 ppm") in kept
    assert ("40 CFR 50.8", "9 ppm") in kept
    assert ("40 CFR 50.8", "35 ppm") in kept
    assert all(one.edition and one.jurisdiction and one.source and one.basis for one in event.limits)


def test_two_hours_at_twenty_cross_the_eight_hour_mean_only_where_the_mean_says_so() -> None:
    """8 h mean by hand: 4 h at 20 ppm in clean air of 0.5 ppm is about 10.2 ppm, above 9; 2 h is about 5.4, below."""
    for hours, expected in ((4.0, True), (2.0, False)):
        co = with_event(quiet_co(TIME), TIME, EVENING, hours * 3600.0, 20e-6, 20e-6)
        (event,) = carbon_monoxide_findings(house(appliance()), log({CO: (TIME, co)}))
        (limit,) = [one for one in event.limits if one.edition == "40 CFR 50.8" and one.printed == "9 ppm"]
        assert limit.is_crossed is expected
        assert_allclose(limit.value.value, (hours * 20e-6 + (8 - hours) * 0.5e-6) / 8.0, rtol=0.05)


@pytest.mark.parametrize(
    ("peak", "duration", "words"),
    [
        (19e-6, 1500.0, "must stay silent here: at 30 ppm it may not sound before 30 days"),
        (60e-6, 1800.0, "must stay silent here: at 70 ppm it may not sound before 60 min"),
        (60e-6, 7200.0, "need not sound at this level and length"),
        (70e-6, 7200.0, "need not sound at this level and length"),
        (70e-6, 15000.0, "should have sounded: at 70 ppm within 4 h"),
        (400e-6, 1000.0, "should have sounded: at 400 ppm within 15 min"),
    ],
)
def test_silent_alarm_is_explained_by_its_standard(peak: float, duration: float, words: str) -> None:
    """UL 2034 as published: silent 30 days at 30 ppm; 70 ppm 1-4 h; 150 ppm 10-50 min; 400 ppm 4-15 min."""
    said = alarm_sentence(peak, duration)
    assert words in said
    assert "UL 2034" in said


def test_a_long_list_of_events_shows_the_highest_and_counts_the_rest() -> None:
    co = quiet_co(TIME)
    for day in range(1, 11):
        co = with_event(co, TIME, START + day * DAY, 1200.0, (9 + day) * 1e-6, (9 + day) * 1e-6)
    found = carbon_monoxide_findings(house(appliance()), log({CO: (TIME, co)}))
    assert [round(dict(one.figures)["peak"].value * 1e6) for one in found] == [19, 18, 17, 16, 15]
    late = with_event(co, TIME, START + 11 * DAY, 1200.0, 6e-6, 6e-6)
    found = carbon_monoxide_findings(house(appliance()), log({CO: (TIME, late)}))
    assert max(one.start or 0.0 for one in found) > START + 10.9 * DAY  # the latest is never cut
    assert "6 more rises of this kind were logged" in found[-1].evidence


def test_clean_air_with_meter_noise_gives_no_finding() -> None:
    for seed in range(5):
        assert carbon_monoxide_findings(house(appliance()), log({CO: (TIME, quiet_co(TIME, seed))})) == ()


def test_a_meter_that_reads_too_high_all_the_time_gives_no_event() -> None:
    """A zero that is 6 ppm off and drifts by 3 ppm over twelve days is the sensor, not a rise."""
    drift = quiet_co(TIME) + 6e-6 + 3e-6 * (TIME - TIME[0]) / (12 * DAY)
    assert carbon_monoxide_findings(house(appliance()), log({CO: (TIME, drift)})) == ()
    (event,) = carbon_monoxide_findings(house(appliance()), log({CO: (TIME, drift + planted() - quiet_co(TIME))}))
    assert event.code == "safety-co-event"


def test_outdoor_co_is_no_finding_about_the_house() -> None:
    assert carbon_monoxide_findings(house(appliance()), log({("m5", Quantity.CO): (TIME, planted())})) == ()


def test_small_rises_beside_cooking_are_told_apart_from_an_appliance() -> None:
    """A range without a vented appliance in its zone: worth knowing; in a furnace room the same rise stops."""
    meal = DiaryEntry(start=EVENING - 600.0, end=EVENING + 1800.0, kind="cooking", text="dinner")
    co = with_event(quiet_co(TIME), TIME, EVENING, 1200.0, 5e-6, 6e-6)
    gas_range = appliance("range", ApplianceKind.RANGE, Venting.UNVENTED, "main")
    home = house(gas_range, appliance(), diary=(meal,))
    (kitchen,) = carbon_monoxide_findings(home, log({("m1", Quantity.CO): (TIME, co)}))
    assert (kitchen.code, kitchen.grade) == ("safety-co-rises", Grade.NOTE)
    (utility,) = carbon_monoxide_findings(home, log({CO: (TIME, co)}))
    assert (utility.code, utility.grade) == ("safety-co-event", Grade.STOP)


def test_a_rise_during_a_fire_is_linked_to_the_fire() -> None:
    fire = DiaryEntry(start=EVENING - 3600.0, end=EVENING + 7200.0, kind="fire")
    co = with_event(quiet_co(TIME), TIME, EVENING, 1200.0, 5e-6, 6e-6)
    home = house(FIREPLACE, diary=(fire,))
    (event,) = carbon_monoxide_findings(home, log({("m1", Quantity.CO): (TIME, co)}))
    assert event.code == "safety-co-event"
    assert any("diary: fire" in word for word in event.evidence)


def test_particles_never_change_what_safety_says() -> None:
    """The same job with clean and with foul air, and with no particle log at all, gets one verdict."""
    verdicts = []
    for level in (None, 2e-9, 900e-9):
        series = {CO: (TIME, planted()), SPILL: (TIME, spill())}
        if level is not None:
            series[("m1", Quantity.PM25)] = (TIME, np.full_like(TIME, level))
        verdicts.append(assess(house(appliance(), FIREPLACE), (), log(series)))
    assert verdicts[0] == verdicts[1] == verdicts[2]
    assert verdicts[0].verdict is HandOver.DO_NOT
    assert verdicts[0].findings[0].code == "safety-co-event"


@settings(max_examples=40, deadline=None)
@given(peak=st.integers(6, 200), length=st.integers(8, 240), at=st.floats(1.0, 10.0), seed=st.integers(0, 9))
def test_every_clear_rise_is_found_wherever_it_lies(peak: int, length: int, at: float, seed: int) -> None:
    start = START + at * DAY
    co = with_event(quiet_co(TIME, seed), TIME, start, length * 60.0, peak * 1e-6, peak * 1e-6)
    found = carbon_monoxide_findings(house(appliance()), log({CO: (TIME, co)}))
    assert len(found) == 1
    assert abs((found[0].start or 0.0) - start) <= 180.0


@given(
    level=st.floats(1e-6, 100e-6),
    seconds=st.sampled_from([900.0, 3600.0, 28800.0]),
    step=st.sampled_from([30.0, 60.0, 300.0]),
)
def test_running_mean_of_steady_air_is_the_air(level: float, seconds: float, step: float) -> None:
    time = np.arange(0.0, 3 * 28800.0, step)
    assert_allclose(highest_mean(time, np.full_like(time, level), seconds, 28800.0, 2 * 28800.0), level, rtol=1e-9)


def test_running_mean_over_a_hole_is_not_made_up() -> None:
    time = np.concatenate([np.arange(0.0, 600.0, 60.0), np.arange(30000.0, 30600.0, 60.0)])
    assert np.isnan(highest_mean(time, np.ones_like(time), 28800.0, 0.0, 30600.0))


def test_a_job_without_log_says_that_co_was_not_logged() -> None:
    verdict = assess(house(appliance()), (), EMPTY)
    assert verdict.find("safety-no-co-log")
    assert verdict.verdict is HandOver.NOT_ASSESSED
    assert DEGREE_STEP not in " ".join(verdict.reasons)
