"""The compiled filter against scipy's densities, quadrature, a plain second method and linear algebra."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, stats
from tests.inference.kernel_cases import filtered_plainly, one_room, small_evidence, some_physics

from airtally.inference.likelihood import _pulse_component, joined, score_by_block, smooth

CASES = [(0.0, 1.0, 2.0), (5.0, 2.0, 2.0), (-3.0, 1.0, 2.0), (40.0, 4.0, 35.0), (-8.0, 9.0, 35.0), (-2.0, 400.0, 4.0)]


@pytest.mark.parametrize(("error", "variance", "size"), CASES)
def test_the_density_of_a_pulse_is_a_normal_folded_with_an_exponential(
    error: float, variance: float, size: float
) -> None:
    # Source: definition of a convolution, by scipy.integrate.quad.
    sd = np.sqrt(variance)
    edges = np.clip([error - 12 * sd, error + 12 * sd], 0.0, 80.0 * size)
    wanted, _ = integrate.quad(
        lambda p: stats.norm.pdf(error, p, sd) * np.exp(-p / size) / size,
        edges[0],
        max(edges[1], 12.0 * variance / abs(error - variance / size)),
        epsabs=0.0,
        epsrel=1e-11,
        limit=400,
        points=[max(error, 0.0)],
    )
    assert_allclose(_pulse_component(error, variance, size)[0], np.log(wanted), rtol=0, atol=1e-7)


@pytest.mark.parametrize(
    ("error", "variance", "size"), [*CASES, (-60.0, 4.0, 3.0), (5.0, 900.0, 0.5), (-10.0, 3600.0, 2.0)]
)
def test_the_pulse_behind_a_reading_has_the_moments_that_quadrature_finds(
    error: float, variance: float, size: float
) -> None:
    # Source: Bayes' rule by scipy.integrate.quad; the last three lie in the far tail.
    centre = error - variance / size
    sd = np.sqrt(variance)
    reach = centre + 12.0 * sd if centre > 0.0 else 40.0 * min(sd, variance / -centre)

    def weight(p: float) -> float:
        return float(np.exp(-(p * p - 2.0 * centre * p) / (2.0 * variance) - max(centre, 0.0) ** 2 / (2.0 * variance)))

    moments = [
        integrate.quad(lambda p, k=k: p**k * weight(p), 0.0, reach, epsabs=0.0, epsrel=1e-11, limit=400)[0]
        for k in range(3)
    ]
    mean = moments[1] / moments[0]
    _, first, second = _pulse_component(error, variance, size)
    assert_allclose(first, mean, rtol=1e-4)
    assert_allclose(second, moments[2] / moments[0] - mean**2, rtol=2e-4)


@pytest.mark.parametrize("seed", range(4))
def test_the_filter_gives_what_a_plain_one_with_scipys_densities_gives(seed: int) -> None:
    evidence, physics = small_evidence(seed), some_physics(seed + 10)
    scores = score_by_block(evidence, physics)
    for n in range(2):
        assert_allclose(scores[n], filtered_plainly(evidence, physics, n)[0], rtol=1e-7, atol=1e-6)


def test_joined_steps_cover_the_same_time_and_end_at_readings() -> None:
    evidence = small_evidence(3)
    evidence = replace(evidence, level=np.repeat(evidence.level[::12], 12))
    few = joined(evidence)
    assert few.regime.size < 0.6 * evidence.regime.size
    whole = np.repeat(np.arange(few.regime.size), few.length)
    assert whole.size == evidence.regime.size
    for name in ("level", "regime", "hour_class"):
        assert np.array_equal(getattr(few, name)[whole], getattr(evidence, name)), name
    assert_allclose((few.outdoor * few.length).sum(), evidence.outdoor.sum(), rtol=1e-12)
    assert np.array_equal(np.cumsum(few.length)[few.at] - 1, evidence.at)


@pytest.mark.parametrize("seed", range(3))
def test_joined_steps_say_of_the_readings_what_single_ones_say(seed: int) -> None:
    evidence, physics = small_evidence(seed), some_physics(seed)
    evidence = replace(evidence, level=np.repeat(evidence.level[::12], 12), outdoor=np.full(evidence.regime.size, 9.0))
    few = joined(evidence)
    assert_allclose(score_by_block(few, physics), score_by_block(evidence, physics), rtol=1e-9)


def test_the_last_smoothed_level_is_the_last_filtered_one() -> None:
    evidence, physics = small_evidence(8), some_physics(8)
    path = smooth(evidence, physics)
    for n in range(2):
        _, mean, variance = filtered_plainly(evidence, physics, n)
        assert_allclose(path.level[n, -1], mean[-1], rtol=1e-7)
        assert_allclose(path.variance[n, -1], variance[-1], rtol=1e-6)


def test_blocks_of_days_sum_to_the_whole() -> None:
    evidence, physics = small_evidence(1), some_physics(1)
    whole = score_by_block(replace(evidence, block=np.zeros_like(evidence.block)), physics)
    assert_allclose(score_by_block(evidence, physics).sum(axis=1), whole[:, 0], rtol=1e-12)


def test_a_set_of_numbers_scores_alone_as_among_others_and_a_nan_stays_in_its_own_set() -> None:
    evidence, physics = small_evidence(2), some_physics(2, 3)
    together = score_by_block(evidence, physics)
    alone = {name: getattr(physics, name)[1:2] for name in physics.__slots__}
    assert_allclose(score_by_block(evidence, type(physics)(**alone))[0], together[1], rtol=1e-12)
    spoilt = physics.loss.copy()
    spoilt[1] = np.nan
    found = score_by_block(evidence, replace(physics, loss=spoilt))
    assert np.isnan(found[1]).all()
    assert_allclose(found[[0, 2]], together[[0, 2]], rtol=1e-12)


def test_without_pulses_the_score_is_that_of_a_kalman_filter() -> None:
    # Source: statsmodels' state-space filter (its univariate local level with decay), readings near the prediction.
    state_space = pytest.importorskip("statsmodels.tsa.statespace.kalman_filter")
    evidence, physics = one_room(pulse_rate=np.full((1, 2, 2), 1e-9), steady=np.full((1, 2), 10.0))
    rng = np.random.default_rng(4)
    evidence = replace(evidence, value=10.0 + 0.05 * rng.normal(size=evidence.at.size))
    model = state_space.KalmanFilter(k_endog=1, k_states=1)
    fade = np.exp(-1.0 / 60.0)
    steps = evidence.regime.size
    seen = np.full((1, steps), np.nan)
    seen[0, evidence.at] = evidence.value
    model.bind(seen)
    model["design"], model["transition"], model["selection"] = [[1.0]], [[fade]], [[1.0]]
    model["obs_cov"], model["state_cov"] = [[0.8**2]], [[0.5**2 / 60.0]]
    model["state_intercept"] = [[10.0 * (1.0 - fade)]]
    first = evidence.value[0]
    model.initialize_known(
        np.array([fade * first + 10.0 * (1.0 - fade)]), np.array([[fade**2 * (first**2 + 25.0) + 0.5**2 / 60.0]])
    )
    wanted = model.filter().llf
    # Near the prediction the heavier twin (weight 0.02, three times as wide) adds log(0.98 + 0.02 / 3) a reading.
    expected = wanted + evidence.at.size * np.log(0.98 + 0.02 / 3.0)
    assert_allclose(score_by_block(evidence, physics).sum(), expected, rtol=0, atol=0.02 * evidence.at.size)


def test_without_pulses_the_smoothed_path_is_that_of_the_joint_normal() -> None:
    # Source: the normal's precision matrix of all levels and readings, solved outright by numpy.linalg.
    evidence, physics = one_room(pulse_rate=np.full((1, 2, 2), 1e-9), wander=np.array([1.5]))
    rng = np.random.default_rng(6)
    truth = 10.0 + np.cumsum(rng.normal(size=evidence.regime.size)) * 0.1
    evidence = replace(evidence, value=truth[evidence.at] + 0.8 * rng.normal(size=evidence.at.size))
    steps = evidence.regime.size
    fade, noise = np.exp(-1.0 / 60.0), 1.5**2 / 60.0
    inflow = 10.0 * (1.0 - fade)
    precision, pull = np.zeros((steps, steps)), np.zeros(steps)
    first = evidence.value[0]
    begin = 1.0 / (fade**2 * (first**2 + 25.0) + noise)
    precision[0, 0] += begin
    pull[0] += begin * (fade * first + inflow)
    for t in range(1, steps):
        link = np.zeros(steps)
        link[t], link[t - 1] = 1.0, -fade
        precision += np.outer(link, link) / noise
        pull += link * inflow / noise
    precision[evidence.at, evidence.at] += 1.0 / 0.8**2
    pull[evidence.at] += evidence.value / 0.8**2
    covariance = np.linalg.inv(precision)
    path = smooth(evidence, physics)
    sd = np.sqrt(np.diag(covariance))
    # The heavier twin of the noise leaves a trace, larger at the vague start, which is left out.
    settled = slice(30, None)
    assert np.max(np.abs(path.level[0] - covariance @ pull)[settled] / sd[settled]) < 0.1
    assert_allclose(path.variance[0, settled], np.diag(covariance)[settled], rtol=0.1)


def test_a_level_above_the_prediction_is_read_as_emission_and_one_below_as_noise_or_loss() -> None:
    evidence, physics = one_room()
    middle = evidence.at.size // 2
    step = int(evidence.at[middle])
    for side, likely in ((30.0, True), (-9.0, False)):
        value = evidence.value.copy()
        value[middle] += side
        path = smooth(replace(evidence, value=value), physics)
        assert bool(path.chance[0, step] > 0.9) is likely
    high = smooth(replace(evidence, value=np.where(evidence.at >= step, 40.0, 10.0)), physics)
    assert high.level[0, step] == pytest.approx(40.0, abs=1.5)
    assert high.level[0, step - 6] == pytest.approx(10.0, abs=1.5)


def test_a_second_sensor_at_the_same_instant_sees_the_same_pulse_and_not_another() -> None:
    evidence, physics = one_room()
    twice = {name: np.repeat(getattr(evidence, name), 2) for name in ("at", "value", "weight", "block")}
    both = replace(evidence, **twice, sensor=np.tile([0, 1], evidence.at.size))
    pair = replace(
        physics,
        slope=np.ones((1, 2, 1)),
        leak=np.zeros((1, 2, 1)),
        noise_floor=np.full((1, 2), 0.8),
        noise_share=np.zeros((1, 2)),
    )
    value = both.value.copy()
    value[21] += 30.0  # the second of a pair alone jumps: nothing came in, as the first saw nothing
    path = smooth(replace(both, value=value), pair)
    assert path.chance[0].max() < 0.05
    assert path.level[0].max() < 16.0


def test_a_reading_in_no_block_is_followed_and_leaves_no_score() -> None:
    evidence, physics = small_evidence(5), some_physics(5)
    block = np.where(evidence.at < 80, -1, 0)
    some = score_by_block(replace(evidence, block=block), physics)
    split = score_by_block(replace(evidence, block=block + 1), physics)
    assert_allclose(some[:, 0], split[:, 1], rtol=1e-12)
    assert abs(split[0, 0]) > 1.0
