"""The search for the posterior on targets whose answer is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from airtally.arrays import Floats
from airtally.inference.search import Posterior, draw, find_posterior
from airtally.parameters import Parameter, Prior


def prior_of(size: int, **fields: object) -> Prior:
    return Prior(
        parameters=tuple(
            Parameter(name=f"p{i}", centre=2.0, spread=0.5, unit="-", source="none", **fields)  # type: ignore[arg-type]
            for i in range(size)
        )
    )


PRECISION = np.array([[30.0, 8.0, 0.0], [8.0, 12.0, -3.0], [0.0, -3.0, 50.0]])
TOP = np.array([0.8, -0.5, 0.3])


def quadratic(white: Floats) -> Floats:
    away = white - TOP
    return -0.5 * np.einsum("ni,ij,nj->n", away, PRECISION, away)[:, None]


def test_a_quadratic_target_gives_its_exact_mean_and_covariance() -> None:
    # Source: product of normals, (P + I)^-1 P m and (P + I)^-1.
    found = find_posterior(prior_of(3), quadratic)
    covariance = np.linalg.inv(PRECISION + np.eye(3))
    assert found.has_settled
    assert_allclose(found.centre, covariance @ PRECISION @ TOP, atol=1e-5)
    assert_allclose(found.covariance, covariance, atol=1e-5)


def test_readings_of_a_positive_quantity_in_its_logarithm_give_the_log_normal_answer() -> None:
    # Source: conjugate log-normal by hand: prior ln N(ln 2, 0.5), five readings with ln sd 0.4.
    prior = prior_of(1)
    readings = np.log([3.0, 3.5, 2.8, 4.0, 3.2])

    def score(white: Floats) -> Floats:
        value = np.log(prior.values(white)["p0"])
        return -0.5 * ((readings[None, :] - value[:, None]) ** 2).sum(axis=1, keepdims=True) / 0.4**2

    found = find_posterior(prior, score)
    precision = 1 / 0.5**2 + 5 / 0.4**2
    middle = (np.log(2.0) / 0.5**2 + readings.sum() / 0.4**2) / precision
    assert_allclose(np.log(prior.values(found.centre)["p0"][0]), middle, atol=1e-5)
    assert_allclose(np.sqrt(found.covariance[0, 0]) * 0.5, precision**-0.5, rtol=1e-4)


def test_a_ridge_stays_as_wide_as_the_prior_along_itself() -> None:
    def ridge(white: Floats) -> Floats:
        return -0.5 * 400.0 * (white[:, :1] + white[:, 1:2] - 1.0) ** 2

    found = find_posterior(prior_of(2), ridge)
    along, across = np.array([1.0, -1.0]) / np.sqrt(2.0), np.array([1.0, 1.0]) / np.sqrt(2.0)
    assert_allclose(along @ found.covariance @ along, 1.0, rtol=1e-4)
    assert across @ found.covariance @ across < 0.01


def test_what_is_not_learnt_keeps_its_prior() -> None:
    prior = Prior(
        parameters=(
            *prior_of(2).parameters,
            Parameter(name="fixed", centre=1.0, spread=0.1, unit="-", source="none", is_learnt=False),
        )
    )
    found = find_posterior(prior, lambda white: quadratic(np.c_[white[:, :2], np.full(white.shape[0], 3.0)]))
    assert found.centre[2] == 0.0
    assert_allclose(found.covariance[2], [0.0, 0.0, 1.0], atol=1e-12)


def test_days_that_disagree_widen_the_answer() -> None:
    def two_days(white: Floats) -> Floats:
        return np.stack([-20.0 * (white[:, 0] - side) ** 2 for side in (-0.5, 0.5)], axis=1)

    def alike(white: Floats) -> Floats:
        return np.stack([-20.0 * white[:, 0] ** 2] * 2, axis=1)

    apart, same = find_posterior(prior_of(1), two_days), find_posterior(prior_of(1), alike)
    assert_allclose(apart.curvature, same.curvature, rtol=1e-6)
    # By hand: slopes of the two days at the top are -20 and 20, so the scatter is 800 / 81^2.
    assert_allclose(apart.covariance[0, 0] - same.covariance[0, 0], 800.0 / 81.0**2, rtol=1e-4)


def test_days_that_disagree_wildly_leave_no_less_than_the_prior_told() -> None:
    def wild(white: Floats) -> Floats:
        return np.stack([30.0 * white[:, 0], -30.0 * white[:, 0]], axis=1)

    assert_allclose(find_posterior(prior_of(2), wild).covariance, np.eye(2), atol=1e-6)


def test_a_far_and_bent_target_is_reached() -> None:
    def banana(white: Floats) -> Floats:
        return (-5.0 * (white[:, 1] - 0.5 * white[:, 0] ** 2) ** 2 - 8.0 * (white[:, 0] - 2.0) ** 2)[:, None]

    found = find_posterior(prior_of(2), banana)
    assert found.has_settled
    grid = np.stack(np.meshgrid(np.linspace(0, 3, 601), np.linspace(0, 4, 801), indexing="ij"), axis=-1).reshape(-1, 2)
    best = grid[np.argmax(banana(grid)[:, 0] - 0.5 * (grid**2).sum(axis=1))]
    assert_allclose(found.centre, best, atol=0.08)


def test_draws_repeat_with_their_seed_and_begin_with_the_centre() -> None:
    found = find_posterior(prior_of(3), quadratic)
    one, two = (draw(found, 4000, np.random.default_rng(7)) for _ in range(2))
    assert np.array_equal(one, two)
    assert_allclose(one[0], found.centre)
    assert_allclose(np.cov(one[1:].T), found.covariance, atol=0.006)
    assert not np.array_equal(one, draw(found, 4000, np.random.default_rng(8)))


@pytest.mark.parametrize("white", [-4.0, 0.0, 4.0])
def test_a_ceiling_is_never_passed_and_the_prior_median_is_the_centre(white: float) -> None:
    prior = Prior(parameters=(Parameter(name="e", centre=0.8, spread=0.2, unit="-", source="none", ceiling=1.0),))
    value = prior.values(np.array([[white]]))["e"][0]
    assert 0.0 < value < 1.0
    if white == 0.0:
        assert value == pytest.approx(0.8)
        step = prior.values(np.array([[1e-6]]))["e"][0] - value
        assert step / 1e-6 == pytest.approx(0.8 * 0.2, rel=1e-4)


def test_what_lies_near_its_ceiling_stays_near_it() -> None:
    prior = Prior(parameters=(Parameter(name="e", centre=0.95, spread=0.3, unit="-", source="none", ceiling=1.0),))
    low, high = prior.values(np.array([[-1.645], [1.645]]))["e"]
    assert 0.75 < low < 0.9
    assert 0.98 < high < 1.0


def test_what_is_on_trial_may_be_nothing_or_less() -> None:
    prior = prior_of(1, is_signed=True)
    assert_allclose(prior.values(np.array([[-2.0], [0.0], [-4.0]]))["p0"], [0.0, 2.0, -2.0], atol=1e-12)
    value = np.random.default_rng(0).normal(2.0, 0.25, 4000)
    assert prior.parameters[0].share_of_prior(value) == pytest.approx(0.25, rel=0.05)


def test_draws_come_in_opposite_pairs_about_the_centre_with_the_covariance_asked_for() -> None:
    covariance = np.array([[0.04, 0.01], [0.01, 0.09]])
    posterior = Posterior(
        centre=np.array([0.5, -0.2]),
        covariance=covariance,
        curvature=covariance,
        log_density=0.0,
        rounds=1,
        has_settled=True,
    )
    draws = draw(posterior, 4001, np.random.default_rng(0))
    assert_allclose(draws[0], posterior.centre)
    assert_allclose(draws[1::2] + draws[2::2], np.broadcast_to(2.0 * posterior.centre, (2000, 2)), atol=1e-12)
    assert_allclose(np.cov(draws.T), covariance, atol=0.006)
    assert_allclose(np.median(draws, axis=0), posterior.centre, atol=1e-3)
