"""Screening: each planted fault is flagged, sound readings are not, and nothing is lost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.readings.reading import codes, made_log, sentence

from airtally.quantities import Quantity
from airtally.readings import Flag, Log, Screening, floor_of, gaps, refresh_interval, screen_log


def smoke(minutes: int = 3000, seed: int = 4) -> np.ndarray:
    """Return invented PM2.5 to a tenth of a ug/m3, one value a minute. [kg/m3]"""
    rng = np.random.default_rng(seed)
    return np.round(np.abs(np.cumsum(rng.normal(0.0, 0.4, minutes))) + rng.gamma(2.0, 3.0, minutes), 1) * 1e-9


def flagged(log: Log, flag: Flag) -> list[int]:
    return np.flatnonzero(log.flag == flag).tolist()


def test_sound_readings_stay_as_they_are() -> None:
    log = screen_log(made_log(smoke(), Quantity.PM25))
    assert log.kept.all()
    assert not log.problems


def test_rounded_readings_of_a_slow_quantity_are_no_held_ones() -> None:
    """A room temperature to half a degree repeats for long, but irregularly."""
    rng = np.random.default_rng(5)
    drift = 294.0 + np.cumsum(rng.normal(0.0, 0.03, 8000))
    log = screen_log(made_log(np.round(drift * 2.0) / 2.0, Quantity.TEMPERATURE))
    assert log.counts()["held"] == 0


@pytest.mark.parametrize("hold", [2, 3, 5, 15])
def test_held_readings_are_found_with_their_interval(hold: int) -> None:
    fresh = smoke(400)
    log = screen_log(made_log(np.repeat(fresh, hold), Quantity.PM25))
    distinct = 1 + int(np.count_nonzero(np.diff(fresh)))
    assert distinct <= log.counts()["kept"] <= 400
    assert_allclose(refresh_interval(log, log.streams[0]), 60.0 * hold, rtol=0.05)
    assert f"repeated for about {hold} min" in sentence(log, "log-held-values")
    assert sum(log.counts().values()) == 400 * hold


def test_two_equal_readings_one_after_the_other_count_as_two() -> None:
    fresh = np.array([5, 6, 7, 7, 8, 5, 9, 4, 6, 6, 3, 8]) * 1e-9
    log = screen_log(made_log(np.repeat(fresh, 10), Quantity.PM25))
    assert log.counts()["kept"] == 12
    assert flagged(log, Flag.KEPT) == list(range(0, 120, 10))


def test_a_sensor_that_is_not_held_beside_one_that_is_stays_whole() -> None:
    other = np.random.default_rng(3).normal(300.0, 5.0, 6000)
    log = screen_log(made_log(np.repeat(smoke(400), 15), Quantity.PM25, voc=other))
    assert np.all(log.flag[log.stream == 1] == Flag.KEPT)
    assert np.count_nonzero(log.flag[log.stream == 0] == Flag.HELD) >= 5600


def test_a_stuck_channel_is_flagged_after_its_first_reading() -> None:
    value = smoke(4000)
    value[1000:2500] = value[1000]
    log = screen_log(made_log(value, Quantity.PM25))
    assert flagged(log, Flag.STUCK) == list(range(1001, 2500))
    assert "1499 readings" in sentence(log, "log-stuck")


def test_a_channel_that_never_moves_is_stuck() -> None:
    assert screen_log(made_log(np.full(2000, 101200.0), Quantity.BAROMETRIC_PRESSURE)).counts()["stuck"] == 1999
    assert screen_log(made_log(np.zeros(2000), Quantity.CO)).counts()["stuck"] == 0, "no CO is no fault"


def test_a_flat_top_is_railed() -> None:
    """An optical sensor that clips at 999.9 ug/m3."""
    value = np.minimum(smoke(4000) * (1.0 + 200.0 * (np.abs(np.arange(4000) - 2000) < 60)), 999.9e-9)
    clipped = value == 999.9e-9
    assert clipped.sum() > 50
    log = screen_log(made_log(value, Quantity.PM25))
    assert flagged(log, Flag.RAILED) == np.flatnonzero(clipped).tolist()
    assert "999.9 ug/m3" in sentence(log, "log-railed")


def test_the_top_of_a_coarse_quiet_signal_is_no_rail() -> None:
    value = np.random.default_rng(6).integers(0, 7, 3000) * 1e-9
    value[100:110] = 6e-9
    assert screen_log(made_log(value, Quantity.PM25)).counts()["railed"] == 0


@pytest.mark.parametrize(
    ("quantity", "value"),
    [
        (Quantity.RELATIVE_HUMIDITY, 1.4),
        (Quantity.TEMPERATURE, 500.0),
        (Quantity.CO2, 0.0),
        (Quantity.PM25, -50e-9),
        (Quantity.BAROMETRIC_PRESSURE, 1012.0),
        (Quantity.CO, 1.0),
    ],
)
def test_what_cannot_be_is_impossible(quantity: Quantity, value: float) -> None:
    usual = {
        Quantity.RELATIVE_HUMIDITY: 0.4,
        Quantity.TEMPERATURE: 294.0,
        Quantity.CO2: 600e-6,
        Quantity.PM25: 9e-9,
        Quantity.BAROMETRIC_PRESSURE: 101300.0,
        Quantity.CO: 2e-6,
    }[quantity]
    series = usual * np.random.default_rng(1).normal(1.0, 0.001, 100)
    series[50] = value
    log = screen_log(made_log(series, quantity))
    assert flagged(log, Flag.IMPOSSIBLE) == [50]
    assert "line 52" in sentence(log, "log-impossible")


def test_of_readings_at_one_instant_the_first_is_kept() -> None:
    log = made_log(np.array([5.0, 6, 7, 8, 9]) * 1e-9, Quantity.PM25)
    time = log.time.copy()
    time[3] = time[1]
    from dataclasses import replace

    screened = screen_log(replace(log, time=time))
    assert flagged(screened, Flag.DUPLICATE) == [3]
    assert "1 of them different" in sentence(screened, "log-duplicates-disagree")
    same = replace(log, time=time, value=np.full(5, 5e-9))
    assert "log-duplicates" in codes(screen_log(same))


def with_gap() -> Log:
    from dataclasses import replace

    log = made_log(smoke(2000), Quantity.PM25, voc=np.random.default_rng(2).normal(300.0, 5.0, 2000))
    time = log.time.copy()
    time[1000:2000] += 7200.0
    time[3000:] += 7200.0
    return replace(log, time=time)


def test_the_first_readings_after_a_gap_are_warming_up() -> None:
    log = screen_log(with_gap())
    assert flagged(log, Flag.WARMING_UP) == [1000, 3000, 3001, 3002, 3003, 3004]
    assert "6 readings just after 1 silences" in sentence(log, "log-warming-up")


def test_gaps_are_found_and_nothing_is_filled_in() -> None:
    log = screen_log(with_gap())
    silent = gaps(log, log.streams[0])
    assert (silent.end - silent.start).tolist() == [7260.0]
    assert "1 gap, 2.02 h in all" in sentence(log, "log-gaps")


def test_optical_readings_in_humid_air_are_set_aside() -> None:
    humidity = np.full(3000, 0.5)
    humidity[1000:1500] = 0.9
    humidity += np.random.default_rng(2).normal(0.0, 0.005, 3000)
    log = screen_log(made_log(smoke(), Quantity.PM25, relative_humidity=humidity))
    assert flagged(log, Flag.HUMID) == list(range(1000, 1500))
    bare = made_log(smoke(), Quantity.PM25)
    given = screen_log(bare, humidity={"kitchen": (bare.time, humidity)})
    assert flagged(given, Flag.HUMID) == list(range(1000, 1500))
    assert screen_log(bare, Screening(humidity_limit=0.95), {"kitchen": (bare.time, humidity)}).kept.all()


def test_humidity_far_away_in_time_says_nothing() -> None:
    bare = made_log(smoke(), Quantity.PM25)
    far = screen_log(bare, humidity={"kitchen": (bare.time[:10] - 1e6, np.full(10, 0.99))})
    assert far.kept.all()


def test_a_censored_floor_is_returned_and_said() -> None:
    value = np.maximum(smoke(), 8e-9)
    log = screen_log(made_log(value, Quantity.PM25))
    floor = floor_of(log, log.streams[0])
    assert floor is not None
    assert_allclose(floor.value, 8e-9, rtol=1e-9)
    assert_allclose(floor.share, np.mean(value == 8e-9), rtol=1e-9)
    assert "exactly 8 ug/m3" in sentence(log, "log-floor")


def test_streams_without_a_pile_have_no_floor() -> None:
    assert floor_of(made_log(smoke(), Quantity.PM25), made_log(smoke(), Quantity.PM25).streams[0]) is None
    temperature = made_log(np.full(100, 290.0), Quantity.TEMPERATURE)
    assert floor_of(temperature, temperature.streams[0]) is None


def test_screening_twice_changes_nothing_more() -> None:
    value = np.repeat(np.maximum(smoke(400), 8e-9), 15)
    once = screen_log(made_log(value, Quantity.PM25))
    assert screen_log(once).flag.tolist() == once.flag.tolist()


def test_the_lowest_of_a_coarse_scale_is_no_floor() -> None:
    log = made_log(np.random.default_rng(8).integers(1, 6, 3000) * 1e-9, Quantity.PM25)
    assert floor_of(log, log.streams[0]) is None


def test_rows_of_a_stream_are_all_its_rows_in_order_of_time_and_then_of_file() -> None:
    rng = np.random.default_rng(2)
    log = made_log(rng.normal(size=300), Quantity.PM25, co2=rng.normal(size=300), temperature=rng.normal(size=300))
    mixed = rng.permutation(900)
    time = np.where(rng.random(900) < 0.05, np.nan, rng.integers(0, 90, 900).astype(float))
    log = replace(log, stream=log.stream[mixed], time=time)
    for number, stream in enumerate(log.streams):
        mine = [row for row in range(900) if log.stream[row] == number]
        in_order = sorted(
            mine, key=lambda row: (np.isnan(time[row]), time[row] if time[row] == time[row] else 0.0, row)
        )
        assert log.rows(stream).tolist() == in_order
