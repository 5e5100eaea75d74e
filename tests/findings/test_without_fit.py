"""Findings without a fit on made records whose truth is written down; open sets stand in tests/open_data."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.findings.made import HOUR, START, Part, cleaner, diary_of, fan, made_house, made_log, place

from airtally.findings.cooking import spells_of
from airtally.findings.infiltration import quiet_pieces
from airtally.findings.parts import Finding, Standing
from airtally.findings.without_fit import look_without_fit, only_tests
from airtally.house.parts import (
    AirSide,
)
from airtally.inference.outdoor_fit import response_to_outdoors
from airtally.quantities import Quantity
from airtally.record.of_findings import findings_document

PM, CO2 = Quantity.PM25, Quantity.CO2


def decay(
    rate_per_h: float, *, placement: str = "first", at: float = START, file: str = "a", gain: float = 1.0
) -> Part:
    """Return one hour of a decay from 1000 ug/m3 with 2 % noise, in steps of 1 ug/m3."""
    rng = np.random.default_rng(int(rate_per_h * 10) + len(placement))
    time = np.arange(0.0, HOUR, 5.0)
    level = 1000.0 * np.exp(-gain * rate_per_h * time / HOUR) * np.exp(0.02 * rng.normal(size=time.size))
    return Part(placement, PM, at + time, np.round(level) * 1e-9, file=file)


def numbers(finding: Finding) -> dict[str, float]:
    return {name: value.value for name, value in finding.numbers}


def by_id(found: tuple[Finding, ...]) -> dict[str, Finding]:
    return {finding.id: finding for finding in found}


# ---- decay tests


def test_clean_air_is_the_difference_of_two_decays_times_the_volume() -> None:
    house = made_house(cleaners=(cleaner(),), diary=(diary_of(START, "dust"), diary_of(START + 10 * HOUR, "dust, box")))
    log = made_log(decay(1.0), decay(6.0, at=START + 10 * HOUR, file="b"))
    found = by_id(look_without_fit(house, log)[0])
    assert_allclose(numbers(found["loss-dust-first"])["loss without a device, dust"] * HOUR, 1.0, rtol=0.03)
    device = found["clean-air-box-dust-first"]
    clean = dict(device.numbers)["clean air, the box, dust"]
    assert_allclose(clean.value * HOUR, 5.0 * 50.0, rtol=0.05)
    assert clean.low < 250.0 / HOUR < clean.high
    assert device.standing is Standing.SUPPORTED
    # The record shows clean air in m3/h, rates in 1/h.
    shown = {n["name"]: n["quantity"]["unit"] for n in findings_document((device,))[0]["numbers"]}
    assert shown["clean air, the box, dust"] == "m3/h"
    assert shown["loss rate, run 1"] == "1/h"


def test_another_aerosol_lends_no_natural_loss() -> None:
    house = made_house(
        cleaners=(cleaner(),), diary=(diary_of(START, "smoke"), diary_of(START + 10 * HOUR, "dust, the box"))
    )
    log = made_log(decay(1.0), decay(6.0, at=START + 10 * HOUR, file="b"))
    device = by_id(look_without_fit(house, log)[0])["clean-air-box-dust-first"]
    assert device.standing is Standing.NOT_SEPARABLE
    assert not [name for name in numbers(device) if name.startswith("clean air")]
    assert any("no decay without the device" in line for line in device.evidence_against)


def test_a_device_that_does_nothing_is_not_called_a_cleaner() -> None:
    house = made_house(cleaners=(cleaner(),), diary=(diary_of(START, "dust"), diary_of(START + 10 * HOUR, "dust, box")))
    log = made_log(decay(1.0), decay(1.0, at=START + 10 * HOUR, file="b"))
    device = by_id(look_without_fit(house, log)[0])["clean-air-box-dust-first"]
    assert device.standing is Standing.NOT_SEPARABLE


def test_without_a_diary_rates_are_given_and_no_device_is_named() -> None:
    house = made_house(cleaners=(cleaner(),))
    found = by_id(look_without_fit(house, made_log(decay(3.0)))[0])
    assert list(found) == ["decays-first"]
    assert_allclose(numbers(found["decays-first"])["loss rate, run 1"] * HOUR, 3.0, rtol=0.03)
    assert found["decays-first"].standing is Standing.NOT_SEPARABLE
    assert "the box" not in found["decays-first"].title


@pytest.mark.parametrize(("gain", "standing"), [(0.8, Standing.SUPPORTED), (0.99, Standing.NOT_SEPARABLE)])
def test_two_sensors_of_one_run_are_compared(gain: float, standing: Standing) -> None:
    log = made_log(decay(4.0), decay(4.0, placement="second", file="b", gain=gain))
    found = by_id(look_without_fit(made_house(), log)[0])["two-sensors-first-second"]
    assert_allclose(numbers(found)["rate of the second over the first"], gain, atol=0.03)
    assert found.standing is standing


def test_renaming_files_changes_nothing() -> None:
    house = made_house(cleaners=(cleaner(),), diary=(diary_of(START, "dust"),))
    one = look_without_fit(house, made_log(decay(2.0, file="cleaner-box.csv")))
    other = look_without_fit(house, made_log(decay(2.0, file="nodevice.csv")))
    assert one == other


def test_a_long_record_is_no_decay_test_and_short_files_that_follow_each_other_are_one() -> None:
    time = START + np.arange(0.0, 12 * HOUR, 60.0)
    value = np.full(time.size, 10e-9) + 500e-9 * np.exp(-(time - START) / HOUR)
    halves = [Part("first", PM, time[part], value[part], file=str(part)) for part in (slice(0, 360), slice(360, None))]
    log = made_log(*halves)
    assert look_without_fit(made_house(), log)[0] == ()
    assert only_tests(made_house(), log) is None


def test_short_tests_alone_are_said_to_be_no_record_of_a_house() -> None:
    problem = only_tests(made_house(), made_log(decay(2.0)))
    assert problem is not None
    assert problem.code == "only-short-tests"
    assert problem.found.startswith("1 runs")


# ---- infiltration and room cleaners


def indoor_from(
    outdoor: np.ndarray, time: np.ndarray, gain_per_h: float, loss_per_h: float, first: float
) -> np.ndarray:
    response = response_to_outdoors(loss_per_h / HOUR, time, time, outdoor)
    return gain_per_h / HOUR * response + first * np.exp(-loss_per_h / HOUR * (time - time[0]))


def smoky_day(hours: float = 24.0) -> tuple[np.ndarray, np.ndarray]:
    time = START + np.arange(0.0, hours * HOUR, 300.0)
    return time, 100e-9 * (1.0 + 0.6 * np.sin((time - START) / (2.5 * HOUR)))


def test_gain_and_loss_of_a_made_room_come_back() -> None:
    time, outdoor = smoky_day()
    rng = np.random.default_rng(4)
    indoor = indoor_from(outdoor, time, 0.3, 0.5, 5e-9) * np.exp(0.02 * rng.normal(size=time.size))
    log = made_log(Part("first", PM, time, indoor), Part("garden", PM, time, outdoor))
    found = by_id(look_without_fit(made_house(), log)[0])["infiltration-first"]
    values = dict(found.numbers)
    assert_allclose(values["gain: air exchange times penetration"].value * HOUR, 0.3, rtol=0.05)
    assert_allclose(values["loss: air exchange, settling and filters"].value * HOUR, 0.5, rtol=0.05)
    assert any("mixes penetration and loss" in line for line in found.evidence_for)


def test_with_a_cleaner_in_the_room_all_along_no_infiltration_is_claimed() -> None:
    time, outdoor = smoky_day()
    indoor = indoor_from(outdoor, time, 0.3, 0.5, 5e-9)
    log = made_log(Part("first", PM, time, indoor), Part("garden", PM, time, outdoor))
    assert look_without_fit(made_house(cleaners=(cleaner(),)), log)[0] == ()


def test_cooking_ends_a_quiet_stretch_and_smoke_does_not() -> None:
    time, outdoor = smoky_day()
    indoor = indoor_from(outdoor, time, 0.3, 0.5, 1e-9)
    house = made_house()
    assert quiet_pieces(house, "room", (time, indoor), (time, outdoor)) == [(time[0], time[-1])]
    cooked = indoor + np.where(time > START + 8 * HOUR, 200e-9 * np.exp(-(time - START - 8 * HOUR) / HOUR), 0.0)
    pieces = quiet_pieces(house, "room", (time, cooked), (time, outdoor))
    assert len(pieces) == 2
    assert pieces[0][1] <= START + 8 * HOUR + 600.0
    assert pieces[1][0] >= START + 11 * HOUR


def test_two_outdoor_sensors_count_as_their_mean() -> None:
    time, outdoor = smoky_day()
    indoor = indoor_from(outdoor, time, 0.3, 0.5, 5e-9)
    house = made_house()
    house = made_house(placements=(*house.placements, place("garden-b", AirSide.OUTDOOR)))
    log = made_log(
        Part("first", PM, time, indoor),
        Part("garden", PM, time, 0.9 * outdoor),
        Part("garden-b", PM, time, 1.1 * outdoor, file="b"),
    )
    found = by_id(look_without_fit(house, log)[0])["infiltration-first"]
    assert_allclose(numbers(found)["gain: air exchange times penetration"] * HOUR, 0.3, rtol=0.01)


def switched_room(drop: float) -> tuple[np.ndarray, np.ndarray]:
    """Return a room at 50 ug/m3 in which a cleaner, on after four hours, takes ``drop`` of the level away."""
    time = START + np.arange(0.0, 14 * HOUR, 60.0)
    after = np.maximum(time - START - 4 * HOUR, 0.0)
    level = 50.0 * (1.0 - drop + drop * np.exp(-5.0 * after / HOUR))
    rng = np.random.default_rng(2)
    return time, level * np.exp(0.03 * rng.normal(size=time.size)) * 1e-9


def test_a_cleaner_switched_on_in_the_record_has_its_effect() -> None:
    time, indoor = switched_room(0.8)
    house = made_house(cleaners=(cleaner(since=START + 4 * HOUR),))
    log = made_log(Part("first", PM, time, indoor), Part("garden", PM, time, np.full(time.size, 100e-9)))
    found = by_id(look_without_fit(house, log)[0])["cleaner-effect-box-first"]
    assert_allclose(numbers(found)["level at rest, lower by"], 0.8, atol=0.02)
    assert found.standing is Standing.SUPPORTED


def test_a_fall_hours_from_the_surveyed_switch_is_not_the_cleaners() -> None:
    time, indoor = switched_room(0.8)
    house = made_house(cleaners=(cleaner(since=START + 6.5 * HOUR),))
    found = by_id(look_without_fit(house, made_log(Part("first", PM, time, indoor)))[0])
    assert "cleaner-effect-box-first" not in found


def test_an_effect_without_outdoor_readings_is_not_separable() -> None:
    time, indoor = switched_room(0.8)
    house = made_house(cleaners=(cleaner(since=START + 4 * HOUR),))
    found = by_id(look_without_fit(house, made_log(Part("first", PM, time, indoor)))[0])
    assert found["cleaner-effect-box-first"].standing is Standing.NOT_SEPARABLE


# ---- carbon dioxide


def evening(rate_per_h: float = 0.5, offset: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Return two days of CO2: from hour 18 to 30 it falls at ``rate_per_h`` towards 420 ppm, else people are in."""
    time = START + np.arange(0.0, 48 * HOUR, 300.0)
    hour = (time - START) / HOUR
    level = np.where(hour < 18, 420 + 800 * (1 - np.exp(-hour / 3.0)), 420 + 798 * np.exp(-rate_per_h * (hour - 18)))
    level = np.where(hour >= 36, 421 + 800 * (1 - np.exp(-(hour - 36) / 3.0)), level)
    return time, (level + offset + np.random.default_rng(3).normal(0.0, 3.0, time.size)) * 1e-6


def counted(time: np.ndarray) -> Part:
    hour = (time - START) / HOUR
    return Part("machine", Quantity.OCCUPANTS, time, np.where((hour < 18) | (hour >= 36), 2.0, 0.0), file="c")


def test_air_exchange_of_an_empty_room_comes_back_and_says_who_saw_it_empty() -> None:
    time, co2 = evening()
    # The placement on equipment stands in the room's zone, as a counter at its door does.
    found = by_id(look_without_fit(made_house(), made_log(Part("first", CO2, time, co2), counted(time)))[0])
    exchange = found["air-exchange-room"]
    rate = dict(exchange.numbers)["air exchange, first, longest decay of the empty room"]
    assert_allclose(rate.value * HOUR, 0.5, rtol=0.06)
    assert exchange.standing is Standing.SUPPORTED
    assert "machine: nobody counted" in exchange.evidence_for
    assert_allclose(numbers(exchange)["outdoor air, exchange times volume"] * HOUR, 25.0, rtol=0.06)


def test_air_exchange_with_nobody_to_say_that_the_room_was_empty_is_a_lower_limit() -> None:
    time, co2 = evening()
    exchange = by_id(look_without_fit(made_house(), made_log(Part("first", CO2, time, co2)))[0])["air-exchange-room"]
    assert exchange.standing is Standing.NOT_SEPARABLE
    assert "least" in exchange.title


def test_of_decays_in_which_people_may_have_been_in_the_fastest_counts() -> None:
    time, co2 = evening(0.5)
    _, slow = evening(0.2)
    log = made_log(Part("first", CO2, np.r_[time, time + 48 * HOUR], np.r_[slow, co2]))
    exchange = by_id(look_without_fit(made_house(), log)[0])["air-exchange-room"]
    assert_allclose(numbers(exchange)["air exchange, first, fastest of 2 decays"] * HOUR, 0.5, rtol=0.06)


def test_a_recorded_valve_that_stood_still_is_contradicted() -> None:
    time, co2 = evening(0.3)
    valve = Part("first", Quantity.VALVE_FRACTION, time, np.full(time.size, 0.6), file="v")
    house = made_house(ventilation=(fan(200.0),))
    found, problems = look_without_fit(house, made_log(Part("first", CO2, time, co2), counted(time), valve))
    finding = by_id(found)["recorded-ventilation-room"]
    assert "stood still" in finding.title
    assert_allclose(numbers(finding)["recorded ventilation over volume"] * HOUR, 2.4, rtol=1e-6)
    assert [p.code for p in problems] == ["record-against-air"]


def test_a_recorded_valve_that_the_air_bears_out_is_not() -> None:
    time, co2 = evening(0.5)
    valve = Part("first", Quantity.VALVE_FRACTION, time, np.full(time.size, 0.5), file="v")
    house = made_house(ventilation=(fan(50.0),))
    found, problems = look_without_fit(house, made_log(Part("first", CO2, time, co2), counted(time), valve))
    assert set(by_id(found)) == {"air-exchange-room"}
    assert problems == ()


def test_two_meters_that_disagree_are_told_and_the_sound_one_speaks() -> None:
    time, co2 = evening()
    _, low = evening(offset=-160.0)
    log = made_log(Part("second", CO2, time, low), Part("first", CO2, time, co2, file="b"), counted(time))
    found, problems = look_without_fit(made_house(), log)
    assert_allclose(numbers(by_id(found)["meters-disagree-first-second"])["second less first"], -160e-6, atol=5e-6)
    assert (
        next(iter(numbers(by_id(found)["air-exchange-room"]))) == "air exchange, first, longest decay of the empty room"
    )
    assert {p.code for p in problems} == {"co2-below-outdoors", "co2-meters-disagree"}


# ---- cooking


def test_rises_that_follow_cooking_are_told_from_rises_that_do_not() -> None:
    time = START + np.arange(0.0, 4 * 86400.0, 60.0)
    hour = (time - START) / HOUR
    # Irregular hours, so that no shift of the whole meets them all again.
    meals = np.array([7.0, 18.5, 33.2, 42.1, 55.9, 66.4, 80.3, 90.7])
    cooking = np.any([(hour >= m) & (hour < m + 0.5) for m in meals], axis=0).astype(float)
    for shift, standing in ((0.0, Standing.SUPPORTED), (3.0, Standing.NOT_SEPARABLE)):
        puffs = [np.where(hour > m + shift, 80e-9 * np.exp(-(hour - m - shift)), 0.0) for m in meals]
        log = made_log(
            Part("first", PM, time, 5e-9 + np.sum(puffs, axis=0)),
            Part("machine", Quantity.COOKING_STATE, time, cooking, file="s"),
        )
        assert by_id(look_without_fit(made_house(), log)[0])["cooking-rises-first"].standing is standing


def test_spells_bridge_pauses_and_leave_flickers_out() -> None:
    time = np.arange(0.0, 7200.0, 60.0)
    cooking = np.zeros(time.size, dtype=bool)
    cooking[[10, 12, 13, 17, 80]] = True
    assert spells_of(time, cooking) == [(600.0, 1020.0)]
