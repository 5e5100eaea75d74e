"""HouseAir refuses what cannot be a house, and gives back the draws asked for."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from tally_houses import full_house, plain_house

from airtally.errors import InputError
from airtally.tally.house_air import state_index


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("volume", np.array([[0.0]]), "above zero"),
        ("infiltration", np.zeros((1, 1, 2)), "along axis Z"),
        ("penetration", np.array([[1.2, 1.0]]), "share"),
        ("infiltration", np.array([[[-0.1]]]), "negative"),
        ("return_share", np.array([[0.9]]), "sum to one"),
        ("handler_flow", np.array([[0.1, 0.3, 0.4]]), "off state"),
        ("other_outdoor_flow", np.array([[[0.1]]]), "closed"),
        ("settling", np.zeros((1, 3)), "must have axes"),
    ],
)
def test_an_impossible_house_is_refused_by_name(field: str, value: np.ndarray, says: str) -> None:
    with pytest.raises(InputError, match=says) as caught:
        plain_house(**{field: value})
    assert field in str(caught.value)


def test_door_flows_that_do_not_come_back_are_refused() -> None:
    house = full_house(3)
    doors = house.door_flow.copy()
    doors[0, 0, 0, 1] += 0.05
    with pytest.raises(InputError, match="door_flow"):
        type(house)(**{name: getattr(house, name) for name in house.__slots__} | {"door_flow": doors})


def test_taking_draws_keeps_order_and_repeats() -> None:
    house = full_house(5, draws=3)
    taken = house.take([2, 0, 2])
    assert_array_equal(taken.volume, house.volume[[2, 0, 2]])
    assert_array_equal(taken.cleaner_runs, house.cleaner_runs)


def test_one_house_is_the_mean_of_the_draws() -> None:
    house = full_house(6, draws=4)
    one = house.one()
    assert one.draw_count == 1
    assert_allclose(one.handler_flow[0], house.handler_flow.mean(axis=0), rtol=1e-15)
    assert_allclose(one.return_share.sum(), 1.0, rtol=1e-12)


def test_state_index_counts_weather_then_opening_then_fan() -> None:
    house = full_house(7, levels=3)
    everything = [
        int(state_index(w, o, f, opening_count=house.opening_count))
        for w in range(3)
        for o in range(2)
        for f in range(3)
    ]
    assert everything == list(range(house.state_count))
