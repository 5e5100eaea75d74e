"""From a room target to a threshold at the rule's sensor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.scenario.full_home import START, WORKS, full_fit, guess

from airtally.house.parts import AirSide
from airtally.scenario.mapping import (
    AVERAGING,
    DUCT_SHARE,
    PURGES,
    RAMP,
    is_within_noise,
    least_sampling_seconds,
    mapping_at,
    purge_seconds,
    usual_outdoor,
)


def test_a_duct_sensor_reads_the_rooms_less_the_leaks_share_and_some_of_the_buffer_air() -> None:
    # By hand: before the filter the return carries (1 - leaks) of room air and each leak's own air.
    fit = full_fit()
    found = mapping_at(fit, "D", START + 3600.0)
    assert found is not None
    assert found.side is AirSide.RETURN_BEFORE_FILTER
    values = fit.values
    leaks = np.minimum(values["leak/platform"] + values["leak/boot"] + values["leak/chase"], 0.8)
    assert_allclose(found.slope, values["gain/D"] * (1.0 - leaks), rtol=1e-9)
    dirty = values["leak/platform"] * values["buffer_ratio"] + values["leak/chase"]
    assert_allclose(found.leak, values["gain/D"] * dirty, rtol=1e-9)


def test_the_mapping_follows_the_house_of_its_time_and_knows_only_sensors_of_the_fit() -> None:
    fit = full_fit()
    before, after = mapping_at(fit, "D", START), mapping_at(fit, "D", WORKS[1] + 1e5)
    assert before is not None
    assert after is not None
    assert (after.slope > before.slope).all()
    assert mapping_at(fit, "attic", START) is None


def test_threshold_and_room_level_undo_each_other() -> None:
    found = mapping_at(full_fit(), "D", START)
    assert found is not None
    outdoor = usual_outdoor(full_fit())
    reading = found.threshold(15e-9, outdoor)
    back = [found.room_level(float(r), outdoor)[i] for i, r in enumerate(reading)]
    assert_allclose(back, 15e-9, rtol=1e-9)


def test_purging_takes_three_duct_volumes_after_the_ramp() -> None:
    house = full_fit().house
    assert purge_seconds(house, 350.0) == pytest.approx(RAMP + PURGES * DUCT_SHARE * 350.0 / 0.4)
    measured = replace(house, air_handler=replace(house.air_handler, duct_volume=guess(4.0, 3.0, 5.0, "m3")))
    assert purge_seconds(measured, 350.0) == pytest.approx(60.0 + 3.0 * 4.0 / 0.4)
    assert purge_seconds(replace(house, air_handler=None), 350.0) == RAMP
    least = least_sampling_seconds(measured, 350.0, 60.0)
    assert least == 60.0 * np.ceil((90.0 + 180.0 + AVERAGING) / 60.0)


def test_a_threshold_inside_the_sensors_noise_is_said_to_be() -> None:
    assert is_within_noise(3e-9)
    assert not is_within_noise(10e-9)
