"""What a sensor in the duct sees of the rooms."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tally_houses import full_house, plain_house

from airtally.errors import InputError
from airtally.house.parts import AirSide
from airtally.tally.house_air import HouseAir
from airtally.tally.sensing import sensor_map, view_of


def duct_house(**changed: object) -> HouseAir:
    fields: dict[str, object] = {
        "handler_flow": np.array([[0.0, 0.5, 0.5]]),
        "return_leak": np.array([[0.12]]),
        "leak_driver": np.array([1]),
        "leak_before_filter": np.array([False]),
        "filter_efficiency": np.array([[0.2, 0.0]]),
    }
    return plain_house(**(fields | changed))


@pytest.mark.parametrize(
    ("room", "efficiency", "expected"),
    # C_duct = (1-f)(1-eta) C_room + f C_leak, f 0.12, crawlspace 6 (mixing formula of the trade, common practice,
    # no source; the efficiency 0.2 is read back from the first value, the other rooms then check).
    [(12.0, 0.2, 9.2), (15.0, 0.2, 11.3), (25.0, 0.2, 18.3), (35.0, 0.2, 25.4)],
)
def test_the_level_behind_filter_and_leak_follows_the_mixing_formula(
    room: float, efficiency: float, expected: float
) -> None:
    house = duct_house(filter_efficiency=np.array([[efficiency, 0.0]]))
    ratio = sensor_map(house, AirSide.AFTER_FILTER, driver_over_room=np.array([[1.0, 6.0 / room]] * 2))
    assert_allclose(ratio[0, 2, 0] * room, expected, atol=0.051)


def test_a_tenth_of_leak_shows_26_where_the_room_has_20_and_the_crawlspace_80() -> None:
    """Trade check values, particles, section 8: L 0.10, 20 and 80 -> 26."""
    for is_ahead, side in ((True, AirSide.RETURN_BEFORE_FILTER), (False, AirSide.SUPPLY)):
        house = duct_house(
            return_leak=np.array([[0.1]]), leak_before_filter=np.array([is_ahead]), filter_efficiency=np.zeros((1, 2))
        )
        ratio = sensor_map(house, side, driver_over_room=np.array([[0.0, 4.0]] * 2))
        assert_allclose(ratio[0, 1:, :] * 20.0, 26.0, rtol=1e-12)


def test_the_duct_shows_nothing_while_the_fan_is_off() -> None:
    ratio = sensor_map(full_house(2), AirSide.RETURN_BEFORE_FILTER)
    assert np.isnan(ratio[:, 0::3]).all()
    assert np.isfinite(ratio[:, 1::3]).all()


def test_the_filter_does_not_change_what_the_sensor_sees_of_carbon_dioxide() -> None:
    ahead = sensor_map(duct_house(), AirSide.RETURN_BEFORE_FILTER)
    behind = sensor_map(duct_house(return_leak=np.zeros((1, 1))), AirSide.AFTER_FILTER)
    assert_allclose(ahead[0, 1:, 1], 1.0, rtol=1e-12)
    assert_allclose(behind[0, 1:, 1], 1.0, rtol=1e-12)
    assert_allclose(behind[0, 1:, 0], 0.8, rtol=1e-12)


def test_weights_of_gas_sum_to_one_wherever_air_moves() -> None:
    """All air in a duct comes from somewhere: for a gas the weights of rooms and drivers sum to one."""
    house = full_house(14)
    for side in (AirSide.ROOM, AirSide.OUTDOOR, AirSide.RETURN_BEFORE_FILTER, AirSide.AFTER_FILTER):
        view = view_of(house, side)
        total = (view.zones.sum(axis=-1) + view.drivers.sum(axis=-1))[:, :, -1]
        assert_allclose(total[np.isfinite(total)], 1.0, rtol=1e-12)
        assert np.isfinite(total[:, 1::3]).all()


def test_a_room_sensor_sees_its_room() -> None:
    house = full_house(15)
    levels = np.array([[1.0, 2.0, 3.0]] * 4)
    assert_allclose(sensor_map(house, AirSide.ROOM, zone=1, zone_over_room=levels), 2.0)


def test_places_that_see_no_house_air_are_refused() -> None:
    with pytest.raises(InputError, match="equipment"):
        view_of(full_house(1), AirSide.EQUIPMENT)
    with pytest.raises(InputError, match="zone 7"):
        view_of(full_house(1), AirSide.ROOM, zone=7)
