"""The linear law of the air against closed forms of the trade and against conservation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from second_method import derivative
from tally_houses import HOUR, full_house, plain_house

from airtally.tally.coefficients import CLEANER, FILTER, SINKS, coefficients
from airtally.tally.duct import clean_air, duct_of

CFM = 0.3048**3 / 60.0  # exact by the definition of the foot [m3/s]


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), zones=st.integers(1, 6))
def test_volume_flow_closes_in_every_zone_and_state(seed: int, zones: int) -> None:
    """What enters a zone leaves it: conservation of volume, seen on the species that only moves."""
    law = coefficients(full_house(seed, zones=zones))
    size = np.abs(law.rate).max()
    entering = law.rate[:, :, -1].sum(axis=-1) + law.gains[:, :, -1].sum(axis=-2)
    assert_allclose(entering, 0.0, atol=1e-13 * size)
    volume = law.volume[:, None, None, :]
    leaving = (volume[..., None] * law.rate).sum(axis=-2) + volume * law.sinks.sum(axis=-2)
    assert_allclose(leaving, 0.0, atol=1e-13 * (volume.max() * size))


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_the_law_equals_the_second_method_flow_by_flow(seed: int) -> None:
    house = full_house(seed)
    law = coefficients(house)
    rng = np.random.default_rng(seed)
    for state in range(house.state_count):
        condition, fan = divmod(state, 3)
        weather, opening = divmod(condition, house.opening_count)
        for species in (0, 3):
            now, outside, emission = rng.uniform(0, 1, 3), rng.uniform(0, 1, 3), rng.uniform(0, 0.1, 3)
            slow = derivative(house, draw=1, weather=weather, opening=opening, fan=fan, species=species)
            fast = law.rate[1, state, species] @ now + emission / house.volume[1]
            fast += outside[law.path_driver] @ law.gains[1, state, species]
            assert_allclose(fast, slow(now, outside, emission), rtol=1e-11, atol=1e-15)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_no_flow_sink_or_gain_is_negative(seed: int) -> None:
    law = coefficients(full_house(seed))
    off_diagonal = law.rate[..., ~np.eye(3, dtype=bool)]
    assert off_diagonal.min() >= 0.0
    assert law.sinks.min() >= 0.0
    assert law.gains.min() >= 0.0


def test_carbon_dioxide_neither_settles_nor_is_filtered() -> None:
    law = coefficients(full_house(11))
    kept = [SINKS.index("air_exchange")]
    others = np.delete(law.sinks[:, :, -1], kept, axis=-2)
    assert np.all(others == 0.0)
    assert law.sinks[:, :, -1, kept].min() > 0.0


@pytest.mark.parametrize(
    ("again", "efficiency", "expected"),
    # Derived table of short-circuiting, q = 250 cfm (trade check values, air flow, section 4).
    [
        (0.0, 0.9997, 249.9),
        (0.3, 0.9997, 175.0),
        (0.9, 0.9997, 25.0),
        (0.1, 0.5, 118.4),
        (0.5, 0.5, 83.3),
    ],
)
def test_a_loop_that_draws_its_own_air_cleans_less(again: float, efficiency: float, expected: float) -> None:
    assert_allclose(clean_air(250.0, efficiency, again), expected, atol=0.06)


def bypass_house(handler_cfm: float, **changed: object) -> object:
    return plain_house(
        handler_flow=np.array([[0.0, handler_cfm * CFM, handler_cfm * CFM]]),
        cleaner_flow=np.array([[250.0 * CFM]]),
        cleaner_efficiency=np.ones((1, 1, 2)),
        cleaner_recirculated=np.zeros((1, 1)),
        cleaner_runs=np.ones((1, 3)),
        cleaner_zone=np.array([-1]),
        cleaner_is_portable=np.array([False]),
        **changed,
    )


def test_a_bypass_loop_in_series_with_the_filter_gives_725_cfm() -> None:
    """Q 1200, q 250, eta_b 1, eta_f 0.5 -> 725 cfm, not 850 (trade check values, air flow, section 4, computed)."""
    house = bypass_house(1200.0, filter_efficiency=np.array([[0.5, 0.0]]))
    law = coefficients(house)
    clean = law.sinks[0, 2, 0, [CLEANER, FILTER], 0] * 300.0 / CFM
    assert_allclose(clean.sum(), 725.0, rtol=1e-12)
    assert_allclose(clean[0], 250.0, rtol=1e-12)


def test_a_bypass_loop_with_the_handler_off_cleans_only_itself() -> None:
    """Trade check values, air flow, section 4 and trap 7: clean air falls to zero with the handler off."""
    law = coefficients(bypass_house(1200.0))
    assert law.sinks[0, 0, 0, CLEANER, 0] == 0.0
    slow = coefficients(bypass_house(100.0))
    assert_allclose(slow.sinks[0, 2, 0, CLEANER, 0] * 300.0 / CFM, 100.0, rtol=1e-12)


def test_a_return_leak_of_a_tenth_mixes_20_and_80_to_26() -> None:
    """C = (1-L) C_room + L C_crawl: L 0.10, 20 and 80 -> 26 (trade check values, particles, section 8)."""
    house = plain_house(
        handler_flow=np.array([[0.0, 0.5, 0.5]]),
        return_leak=np.array([[0.10]]),
        leak_driver=np.array([1]),
        leak_before_filter=np.array([False]),
    )
    duct = duct_of(house)
    level = (duct.room_return[0, 2, 0] * 20.0 + duct.leak_flow[0, 2, 0] * 80.0) / house.handler_flow[0, 2]
    assert_allclose(level, 26.0, rtol=1e-12)
    law = coefficients(house)
    assert_allclose(law.gains[0, 2, 0, 1, 0] * 300.0, 0.05, rtol=1e-12)
    # Half the leak's flow is kept out of the envelope (half the fan, Palmiter and Bond 1991, from memory).
    assert_allclose(law.sinks[0, 2, 0, 0, 0] * 300.0, 0.05 + 0.5 * 300.0 / HOUR - 0.025, rtol=1e-12)


def test_two_zones_that_exchange_600_cfm_even_out_in_6_67_minutes() -> None:
    """Time constant V1 V2 / ((V1+V2) Q): 8000 ft3 each, 600 cfm -> 6.67 min (check values, air flow, 9)."""
    flow, volume = 600.0 * CFM, 8000.0 * 0.3048**3
    house = plain_house(
        volume=np.array([[volume, volume]]),
        infiltration=np.zeros((1, 1, 2)),
        settling=np.zeros((1, 3, 2)),
        return_share=np.array([[0.5, 0.5]]),
        supply_share=np.array([[0.5, 0.5]]),
        door_flow=np.full((1, 3, 2, 2), flow) * (1.0 - np.eye(2)),
        other_outdoor_flow=np.zeros((1, 1, 2)),
    )
    slowest = np.sort(np.linalg.eigvals(coefficients(house).rate[0, 0, 0]).real)
    assert_allclose(-1.0 / slowest[0] / 60.0, 6.67, atol=0.004)
    assert_allclose(slowest[1], 0.0, atol=1e-15)
