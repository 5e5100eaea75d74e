"""The open loop against closed forms, slow second methods and the laws a balance must keep."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy.linalg import expm
from second_method import integrate
from tally_houses import HOUR, full_house, plain_house

from airtally.errors import InputError
from airtally.tally.coefficients import Coefficients, coefficients
from airtally.tally.engine import Store, run
from airtally.tally.house_air import HouseAir
from airtally.tally.stepping import exponentials

UG = 1e-9


def course(house: HouseAir, seed: int, steps: int, *, drivers: int = 3) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return random states, drivers and emissions in two bursts."""
    rng = np.random.default_rng(seed)
    states = np.repeat(rng.integers(0, house.state_count, steps // 5 + 1), 5)[:steps]
    outside = rng.uniform(2.0, 60.0, (steps, house.species_count, drivers)) * UG
    released = np.zeros((steps, house.species_count, house.zone_count))
    released[steps // 4 : steps // 3, :, 0] = 40.0 * UG
    released[steps // 2 : steps // 2 + 3, :, -1] = 90.0 * UG
    return states, outside, released


def numpy_loop(
    law: Coefficients,
    draw: int,
    species: int,
    states: np.ndarray,
    drivers: np.ndarray,
    emissions: np.ndarray,
    dt: float,
) -> np.ndarray:
    """Step by step with scipy's matrix exponential of the augmented system; returns ends (T, Z)."""
    zones = law.volume.shape[1]
    now, ends = np.zeros(zones), []
    for t, state in enumerate(states):
        b = drivers[t, species, law.path_driver] @ law.gains[draw, state, species]
        b = b + emissions[t, species] / law.volume[draw]
        augmented = np.zeros((zones + 1, zones + 1))
        augmented[:zones, :zones], augmented[:zones, zones] = law.rate[draw, state, species], b
        now = (expm(augmented * dt) @ np.append(now, 1.0))[:zones]
        ends.append(now)
    return np.array(ends)


def test_the_run_agrees_with_dop853_and_with_a_plain_loop() -> None:
    """Second methods: flow-by-flow right side with SciPy DOP853 at rtol 1e-12; SciPy expm step by step."""
    house = full_house(21)
    states, drivers, emissions = course(house, 21, 60)
    law = coefficients(house)
    fast = run(law, states, drivers, emissions, None, 60.0, store=Store.BLOCK_MEANS, block_steps=60)
    ends = run(law, states, drivers, emissions, None, 60.0, store=Store.STEP_ENDS)
    for species in (0, 3):
        slow, integral = integrate(
            house, draw=1, species=species, states=states, drivers=drivers, emissions=emissions, dt=60.0
        )
        assert_allclose(fast.end[1, species], slow[-1], rtol=1e-10)
        assert_allclose(fast.mean[1, species], integral / 3600.0, rtol=1e-10)
        assert fast.series is not None
        assert_allclose(fast.series[1, 0, species], integral / 3600.0, rtol=1e-10)
        looped = numpy_loop(law, 1, species, states, drivers, emissions, 60.0)
        assert ends.series is not None
        assert_allclose(ends.series[1, :, species], looped, rtol=2e-6)
        assert_allclose(ends.end[1, species], looped[-1], rtol=1e-11)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), zones=st.integers(1, 6), draws=st.integers(1, 3))
def test_mass_closes_to_rounding_in_every_zone(seed: int, zones: int, draws: int) -> None:
    house = full_house(seed, zones=zones, draws=draws)
    states, drivers, emissions = course(house, seed, 300)
    outcome = run(coefficients(house), states, drivers, emissions, None, 60.0)
    account = outcome.account
    assert account.imbalance().max() < 1e-12
    across = account.transported.sum(axis=-1)
    assert_allclose(across, 0.0, atol=1e-12 * account.removed.max())
    assert_allclose(
        account.emitted.sum(axis=-1), np.broadcast_to(emissions.sum(axis=(0, 2)) * 60.0, across.shape), rtol=1e-12
    )


def test_mass_closes_over_a_year_of_minutes() -> None:
    house = full_house(2, draws=1)
    states, drivers, emissions = course(house, 2, 525_600)
    outcome = run(coefficients(house), states, drivers, emissions, None, 60.0)
    assert outcome.account.imbalance().max() < 1e-12


@pytest.mark.parametrize("store", list(Store))
def test_step_length_does_not_change_the_answer(store: Store) -> None:
    house = full_house(8)
    law = coefficients(house)
    drivers = np.random.default_rng(8).uniform(1, 50, (1, 4, 3)) * UG
    emissions = np.zeros((1, 4, 3))
    emissions[0, :, 1] = 5.0 * UG
    runs = []
    for dt in (60.0, 30.0, 15.0):
        steps = int(7200 / dt)
        inputs = (np.repeat(drivers, steps, axis=0), np.repeat(emissions, steps, axis=0))
        runs.append(run(law, np.full(steps, 5), *inputs, None, dt, store=store))
    for other in runs[1:]:
        assert_allclose(other.end, runs[0].end, rtol=1e-12)
        assert_allclose(other.mean, runs[0].mean, rtol=1e-12)
        assert_allclose(other.account.removed, runs[0].account.removed, rtol=1e-11, atol=1e-25)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), dt=st.floats(1.0, 20_000.0))
def test_concentrations_are_never_negative(seed: int, dt: float) -> None:
    house = full_house(seed)
    states, drivers, emissions = course(house, seed, 60)
    drivers[::2] = 0.0
    outcome = run(coefficients(house), states, drivers, emissions, None, dt, store=Store.STEP_ENDS)
    assert outcome.series is not None
    assert outcome.series.min() >= 0.0
    assert outcome.account.removed.min() >= 0.0


def test_a_clean_house_in_clean_air_stays_clean() -> None:
    house = full_house(4)
    states, drivers, emissions = course(house, 4, 200)
    outcome = run(coefficients(house), states, drivers * 0.0, emissions * 0.0, None, 60.0, store=Store.STEP_ENDS)
    assert outcome.series is not None
    assert np.all(outcome.series == 0.0)
    assert np.all(outcome.account.inlets == 0.0)


def steady(house: HouseAir, fan: int) -> float:
    """Indoor over outdoor of the particle class after a long time."""
    drivers = np.ones((1, 2, 1))
    return float(run(coefficients(house), np.array([fan]), drivers, None, None, 1e6).end[0, 0, 0])


@pytest.mark.parametrize(("penetration", "settling", "expected"), [(0.8, 0.2, 0.571), (0.63, 0.3, 0.394)])
def test_the_steady_level_is_the_infiltration_factor(penetration: float, settling: float, expected: float) -> None:
    """P a / (a + k) (trade check values, particles, section 9, example 3; a 0.5 per hour)."""
    house = plain_house(penetration=np.array([[penetration, 1.0]]), settling=np.full((1, 3, 2), settling / HOUR))
    assert_allclose(steady(house, 0), expected, atol=5e-4)
    assert_allclose(steady(house, 0), penetration * 0.5 / (0.5 + settling), rtol=1e-12)


def test_a_cleaner_of_400_m3_an_hour_lands_in_the_band_of_the_trials() -> None:
    """V 300, a 0.5, k 0.2, 400 m3/h: 65.6 / 48.8 / 32.3 % at full, half, quarter time.

    Source: trade check values, particles, section 9, example 6 (compare Ward 2017, McNamara 2017).
    """
    for share, expected in ((1.0, 65.6), (0.5, 48.8), (0.25, 32.3)):
        house = plain_house(
            cleaner_flow=np.array([[400.0 / HOUR]]),
            cleaner_efficiency=np.ones((1, 1, 2)),
            cleaner_recirculated=np.zeros((1, 1)),
            cleaner_runs=np.array([[0.0, share, share]]),
            cleaner_zone=np.array([0]),
            cleaner_is_portable=np.array([True]),
        )
        assert_allclose(100.0 * (1.0 - steady(house, 2) / steady(house, 0)), expected, atol=0.05)


def test_cooking_follows_the_worked_example() -> None:
    """2.68 mg/min, 15 min, 250 m3, loss 1.08 per hour: 140.9 at the end, 47.9 an hour later, integral 148.9 ug h/m3.

    Source: trade check values, particles, section 9, example 9 (He 2004; Wallace 2013).
    """
    house = plain_house(
        volume=np.array([[250.0]]),
        infiltration=np.full((1, 1, 1), 0.5 * 250.0 / HOUR),
        settling=np.full((1, 3, 2), 0.58 / HOUR),
    )
    emissions = np.zeros((60 * 24, 2, 1))
    emissions[:15, 0] = 2.68e-6 / 60.0
    outcome = run(
        coefficients(house),
        np.zeros(1440, dtype=int),
        np.zeros((1440, 2, 1)),
        emissions,
        None,
        60.0,
        store=Store.STEP_ENDS,
    )
    assert outcome.series is not None
    level = outcome.series[0, :, 0, 0] / UG
    assert_allclose([level[14], level[74]], [140.9, 47.9], atol=0.05)
    assert_allclose(outcome.mean[0, 0, 0] * 24.0 / UG, 148.9, atol=0.05)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_the_order_of_zones_does_not_matter(seed: int) -> None:
    house = full_house(seed, zones=4)
    order = np.random.default_rng(seed).permutation(4)
    where = np.argsort(order)
    move = {
        name: getattr(house, name)[..., order]
        for name in ("volume", "infiltration", "return_share", "supply_share", "other_outdoor_flow")
    }
    move["door_flow"] = house.door_flow[:, :, order][..., order]
    for name in ("cleaner_zone", "ventilation_zone"):
        zone = getattr(house, name)
        move[name] = np.where(zone < 0, zone, where[zone])
    moved = HouseAir(**{name: getattr(house, name) for name in HouseAir.__slots__} | move)
    states, drivers, emissions = course(house, seed, 100)
    one = run(coefficients(house), states, drivers, emissions, None, 60.0)
    two = run(coefficients(moved), states, drivers, emissions[..., order], None, 60.0)
    assert_allclose(two.end, one.end[..., order], rtol=1e-11)
    assert_allclose(two.account.removed, one.account.removed[..., order], rtol=1e-10, atol=1e-24)


def test_draws_do_not_touch_each_other_and_nan_stays_in_its_draw() -> None:
    house = full_house(9, draws=3)
    law = coefficients(house)
    states, drivers, emissions = course(house, 9, 100)
    together = run(law, states, drivers, emissions, None, 60.0)
    alone = run(law.take([2]), states, drivers, emissions, None, 60.0)
    assert_array_equal(together.end[2], alone.end[0])
    spoiled = np.array(house.handler_flow)
    spoiled[1, 1:] = np.nan
    fields = {name: getattr(house, name) for name in HouseAir.__slots__}
    partly = run(coefficients(HouseAir(**fields | {"handler_flow": spoiled})), states, drivers, emissions, None, 60.0)
    assert np.isnan(partly.end[1, 0]).all()
    assert_array_equal(partly.end[[0, 2]], together.end[[0, 2]])


def test_drivers_and_emissions_may_differ_by_draw() -> None:
    house = full_house(10, draws=2)
    law = coefficients(house)
    states, drivers, emissions = course(house, 10, 80)
    scale = np.array([1.0, 3.0])[:, None, None, None]
    both = run(law, states, drivers * scale, emissions * scale, None, 60.0)
    single = run(law, states, drivers, emissions, None, 60.0)
    assert_allclose(both.end, single.end * scale[..., 0], rtol=1e-12)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_two_sources_together_are_the_sum_of_each_alone(seed: int) -> None:
    house = full_house(seed)
    law = coefficients(house)
    states, drivers, emissions = course(house, seed, 60)
    outdoors = run(law, states, drivers, None, None, 60.0).mean
    indoors = run(law, states, drivers * 0.0, emissions, None, 60.0).mean
    assert_allclose(run(law, states, drivers, emissions, None, 60.0).mean, outdoors + indoors, rtol=1e-11)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10_000), cut=st.integers(1, 59))
def test_a_run_cut_in_two_is_the_same_run(seed: int, cut: int) -> None:
    house = full_house(seed)
    law = coefficients(house)
    states, drivers, emissions = course(house, seed, 60)
    whole = run(law, states, drivers, emissions, None, 60.0)
    first = run(law, states[:cut], drivers[:cut], emissions[:cut], None, 60.0)
    second = run(law, states[cut:], drivers[cut:], emissions[cut:], first.end, 60.0)
    assert_allclose(second.end, whole.end, rtol=1e-12)
    assert_allclose(first.account.inlets + second.account.inlets, whole.account.inlets, rtol=1e-11, atol=1e-25)


def test_the_matrix_exponential_and_its_integrals_agree_with_scipy() -> None:
    """SciPy expm of the augmented matrix [[A, I, 0], [0, 0, I], [0, 0, 0]] (Van Loan 1978, from memory)."""
    rng = np.random.default_rng(12)
    for step in (0.5, 60.0, 3600.0):
        rate = rng.uniform(0, 1, (4, 4)) / 900.0
        rate -= np.diag(rate.sum(axis=1) + rng.uniform(0, 0.002, 4))
        phi, psi, omega = exponentials(rate, step)
        big = np.zeros((12, 12))
        big[:4, :4], big[:4, 4:8], big[4:8, 8:] = rate, np.eye(4), np.eye(4)
        whole = expm(big * step)
        assert_allclose(phi, whole[:4, :4], rtol=1e-10)
        assert_allclose(psi, whole[:4, 4:8], rtol=1e-10)
        assert_allclose(omega, whole[:4, 8:], rtol=1e-10)


def test_misuse_is_named() -> None:
    house = full_house(1)
    law = coefficients(house)
    states, drivers, emissions = course(house, 1, 10)
    with pytest.raises(InputError, match="steps"):
        run(law, states[:-1], drivers, emissions, None, 60.0)
    with pytest.raises(InputError, match="states must lie"):
        run(law, states + 99, drivers, emissions, None, 60.0)
    with pytest.raises(InputError, match="driver 2"):
        run(law, states, drivers[..., :2], emissions, None, 60.0)
    with pytest.raises(InputError, match="start"):
        run(law, states, drivers, emissions, np.zeros(3), 60.0)
    with pytest.raises(InputError, match="species"):
        run(law, states, drivers[:, :3], emissions[:, :3], None, 60.0)
