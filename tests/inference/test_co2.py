"""Air exchange from CO2 against closed forms and made rooms; contradictions and faults of meters."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from airtally.errors import FitError, InputError
from airtally.estimates import Basis, Estimate
from airtally.inference.co2 import (
    ASLEEP_CO2,
    air_exchange_from_decay,
    compare_meters,
    dropped_out,
    find_co2_decays,
    meter_pair_problem,
    meter_problems,
    night_balance,
    outdoor_as_read,
    recorded_against_air,
)

PER_HOUR = 1.0 / 3600.0


def estimate(value: float, share: float, unit: str) -> Estimate:
    return Estimate(
        value=value,
        low=value * (1.0 - share),
        high=value * (1.0 + share),
        unit=unit,
        basis=Basis.SURVEYED,
        source="made",
    )


OUTDOOR = Estimate(value=425e-6, low=410e-6, high=440e-6, unit="mol/mol", basis=Basis.SURVEYED, source="made")


def occupied_then_empty(rng: np.random.Generator, rate: float, *, sd: float = 8e-6) -> tuple[np.ndarray, np.ndarray]:
    """Return two days of a room [s], [mol/mol]: people from 9 to 17 h bring it to 1200 ppm, then it airs out."""
    time = np.arange(0.0, 48.0 * 3600.0, 300.0)
    excess = np.zeros(time.size)
    for index in range(1, time.size):
        source = 775e-6 * max(rate, 0.5 * PER_HOUR) if 9.0 <= time[index] / 3600.0 % 24.0 < 17.0 else 0.0
        excess[index] = excess[index - 1] * np.exp(-rate * 300.0) + source * (1.0 - np.exp(-rate * 300.0)) / rate
    return time, 425e-6 + excess + rng.normal(0.0, sd, time.size)


def test_evening_decays_are_found_and_hold_the_air_exchange() -> None:
    rng = np.random.default_rng(1)
    held = found = 0
    for _ in range(15):
        rate = float(rng.uniform(0.2, 1.0)) * PER_HOUR
        time, co2 = occupied_then_empty(rng, rate)
        for window in find_co2_decays(time, co2):
            assert_allclose(window.start / 3600.0 % 24.0, 17.0, atol=1.0)
            exchange = air_exchange_from_decay(time, co2, window, outdoor=OUTDOOR).rate
            held += exchange.low <= rate <= exchange.high
            found += 1
    assert found >= 25
    assert held >= 0.8 * found


def test_a_room_that_never_stands_high_gives_no_decay() -> None:
    time = np.arange(0.0, 86400.0, 300.0)
    assert find_co2_decays(time, 430e-6 + 100e-6 * np.sin(time / 9000.0) ** 2) == ()


def test_outdoor_level_as_the_meter_reads_it_is_its_lowest() -> None:
    time, co2 = occupied_then_empty(np.random.default_rng(2), 0.6 * PER_HOUR, sd=3e-6)
    # The meter stands 150 ppm low throughout: its own lowest level carries that.
    read = outdoor_as_read(co2 - 150e-6)
    assert_allclose(read.value, 275e-6, atol=12e-6)
    assert read.low <= 275e-6 <= read.high + 5e-6
    with pytest.raises(FitError, match="100 readings"):
        outdoor_as_read(co2[:50])
    assert time.size == co2.size


def test_steady_night_is_the_textbook_balance() -> None:
    # Steady state: C - Co = n G / (a V). CHECKS value from memory: 0.0052 L/s and 7.5 L/s a person give 693 ppm.
    generation = Estimate(value=5.2e-6, low=5.2e-6, high=5.2e-6, unit="m3/s", basis=Basis.DEFAULT, source="from memory")
    outdoor = estimate(425e-6, 0.0, "mol/mol")
    volume = 30.0
    time = np.arange(0.0, 8.0 * 3600.0, 300.0)
    found = night_balance(
        time,
        np.full(time.size, 425e-6 + 693.3e-6),
        people=1.0,
        volume=estimate(volume, 0.0, "m3"),
        outdoor=outdoor,
        generation=generation,
    )
    assert_allclose(found.value * volume * 1000.0, 7.5, rtol=0.01)


def test_nights_that_still_climb_give_the_air_exchange_with_its_interval() -> None:
    rng = np.random.default_rng(3)
    held = 0
    for _ in range(30):
        rate = float(rng.uniform(0.15, 1.2)) * PER_HOUR
        each = ASLEEP_CO2.value * float(np.exp(rng.normal(0.0, 0.12)))
        size = 40.0 * float(np.exp(rng.normal(0.0, 0.05)))
        time = np.arange(0.0, 8.0 * 3600.0, 300.0)
        full = 2.0 * each / (rate * size)
        co2 = 425e-6 + full + (150e-6 - full) * np.exp(-rate * time) + rng.normal(0.0, 10e-6, time.size)
        found = night_balance(time, co2, people=2.0, volume=estimate(40.0, 0.08, "m3"), outdoor=OUTDOOR)
        held += found.low <= rate <= found.high
        assert 0.4 < found.value / rate < 2.5
    # With a true coverage of 0.90, 30 rounds hold fewer than 22 once in a hundred times.
    assert held >= 22


def test_a_night_without_people_is_refused() -> None:
    with pytest.raises(InputError, match="needs people"):
        night_balance(np.arange(50.0), np.full(50, 5e-4), people=0.0, volume=estimate(40.0, 0.1, "m3"))
    with pytest.raises(FitError, match="needs 18 readings"):
        night_balance(np.arange(9.0), np.full(9, 5e-4), people=1.0, volume=estimate(40.0, 0.1, "m3"))


def test_a_record_that_the_air_contradicts_is_a_problem_and_one_it_bears_out_is_not() -> None:
    seen = estimate(0.12 * PER_HOUR, 0.1, "1/s")
    problem = recorded_against_air("valve", estimate(2.2 * PER_HOUR, 0.2, "1/s"), seen)
    assert problem is not None
    assert "2.20 air changes per h, the air shows 0.12" in problem.found
    assert "fan was off" in problem.remedy
    assert recorded_against_air("valve", estimate(0.13 * PER_HOUR, 0.2, "1/s"), seen) is None
    # Apart by less than a factor of two: the stated full flow is rounded, so this is no contradiction.
    assert recorded_against_air("valve", estimate(0.2 * PER_HOUR, 0.05, "1/s"), seen) is None
    opened = recorded_against_air("valve", estimate(0.1 * PER_HOUR, 0.1, "1/s"), estimate(3.0 * PER_HOUR, 0.1, "1/s"))
    assert opened is not None
    assert "open window" in opened.remedy


def test_offset_of_two_meters_is_measured_and_said() -> None:
    rng = np.random.default_rng(4)
    time, co2 = occupied_then_empty(rng, 0.5 * PER_HOUR)
    second_time = time[5::2] + 40.0
    pair = compare_meters(time, co2, second_time, np.interp(second_time, time, co2) - 200e-6)
    assert_allclose(pair.offset.value, -200e-6, atol=5e-6)
    assert_allclose(pair.gain, 1.0, atol=0.02)
    problem = meter_pair_problem("first", "second", pair)
    assert problem is not None
    assert "200 ppm lower" in problem.found
    same = compare_meters(time, co2, second_time, np.interp(second_time, time, co2) + 20e-6)
    assert meter_pair_problem("first", "second", same) is None
    with pytest.raises(FitError, match="20 readings"):
        compare_meters(time, co2, second_time[:5], co2[:5])


def test_readings_below_outdoor_air_are_a_fault() -> None:
    good = np.full(300, 450e-6)
    assert meter_problems("sound", good) == ()
    low = good.copy()
    low[:50] = 300e-6
    assert [p.code for p in meter_problems("low", low)] == ["co2-below-outdoors"]
    out = good.copy()
    out[7] = 0.0
    assert [p.code for p in meter_problems("loose plug", out)] == ["co2-dropped-out"]
    assert np.flatnonzero(dropped_out(out)).tolist() == [7]
