"""From a prior and a likelihood to draws: a damped Newton search and an honest spread.

The spread adds three parts: the curvature at the top (what the model's own noise allows), the
day-to-day scatter of the score (what days that differ from one another allow, a sandwich over blocks
of days), and a stated model error on quantities where the recovery runs showed one is needed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.parameters import Prior

STEP = 0.03
"""Step of the differences, in prior standard deviations: small beside the posterior, large beside rounding."""
SMALL_STEP = 1e-3
"""Step of the one-sided differences that only lead the way."""
REACH = 5.0
"""How far from its prior median a parameter may go, in prior standard deviations."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """Where the search ended and how wide the answer is, in whitened coordinates.

    Attributes
    ----------
    centre : float64 array, shape (parameters,)
    covariance : float64 array, shape (parameters, parameters)
        Curvature and day-block scatter together.
    curvature : float64 array, shape (parameters, parameters)
        Covariance by curvature alone.
    log_density : float
        Log posterior density at the centre.
    rounds : int
        Rounds taken.
    has_settled : bool
        False if the last round still gained more than it should.
    """

    centre: Floats
    covariance: Floats
    curvature: Floats
    log_density: float
    rounds: int
    has_settled: bool


def find_posterior(
    prior: Prior, score: Callable[[Floats], Floats], *, start: Floats | None = None, max_rounds: int = 40
) -> Posterior:
    """Search the most probable parameters and their covariance.

    Parameters
    ----------
    prior : Prior
    score : callable
        Takes whitened coordinates, shape (N, parameters); returns log densities by block of days,
        shape (N, blocks).
    start : float64 array, shape (parameters,), optional
        Where to begin; the prior median if not given.
    max_rounds : int
        Rounds with gradients alone in one go, at most.

    Returns
    -------
    posterior : Posterior
        Parameters that the readings cannot inform keep centre 0 and variance 1.
    """
    size = len(prior.parameters)
    learnt = np.array(prior.learnt, dtype=np.int64)

    def spread_out(reduced: Floats) -> Floats:
        full = np.zeros((reduced.shape[0], size))
        full[:, learnt] = reduced
        return full

    def posterior_density(reduced: Floats) -> Floats:
        return np.asarray(score(spread_out(reduced)).sum(axis=1) - 0.5 * (reduced**2).sum(axis=1))

    place = np.zeros(learnt.size) if start is None else np.asarray(start[learnt], dtype=np.float64)
    # Gradients alone as far as they carry, then a whole Hessian, which costs as much as ten of them. Where its step still
    # gains, gradients go on with its curvature; only a Hessian whose step gains nothing tells how wide the answer is.
    place, here, rounds = _quasi_newton(posterior_density, place, None, max_rounds)
    curvature = np.eye(learnt.size)
    gain = np.inf
    for _ in range(HESSIANS):
        rounds += 1
        here, slope, hessian = _derivatives(posterior_density, place)
        eigenvalues, axes = np.linalg.eigh(-hessian)
        curvature = (axes / np.maximum(eigenvalues, 1.0)) @ axes.T
        # Saddle-free: along a direction of the wrong sign the step still climbs, scaled by the curvature's size.
        inverse = (axes / np.maximum(np.abs(eigenvalues), 1.0)) @ axes.T
        ahead, reached = _climb(posterior_density, place, here, slope, inverse)
        gain = reached - here
        place, here = ahead, reached
        if gain <= SETTLED:
            break
        place, here, spent = _quasi_newton(posterior_density, place, inverse, max_rounds)
        rounds += spent
    identity = np.eye(learnt.size) * STEP
    both = score(spread_out(np.vstack([place + identity, place - identity])))
    by_block = (both[: learnt.size] - both[learnt.size :]) / (2.0 * STEP)
    by_block = by_block - by_block.mean(axis=1, keepdims=True)
    scatter = curvature @ (by_block @ by_block.T) @ curvature
    centre = np.zeros(size)
    centre[learnt] = place
    covariance = np.eye(size)
    covariance[np.ix_(learnt, learnt)] = _no_wider_than_prior(curvature + scatter)
    full_curvature = np.eye(size)
    full_curvature[np.ix_(learnt, learnt)] = curvature
    return Posterior(
        centre=centre,
        covariance=covariance,
        curvature=full_curvature,
        log_density=here,
        rounds=rounds,
        has_settled=gain <= SETTLED,
    )


HESSIANS = 6
"""Newton rounds with a whole Hessian, at most."""
SETTLED = 1.0
"""Gain in log density below which a Newton step, itself taken, is the last: what is left is far smaller."""
ENOUGH = 0.5
"""Gain in log density below which gradients alone give way to whole Hessians."""
LENGTHS = np.array([1.0, 0.6, 0.3, 0.1, 0.03, 1.5])
"""Shares of a step tried in one batch."""


def _climb(
    density: Callable[[Floats], Floats], place: Floats, here: float, slope: Floats, inverse: Floats
) -> tuple[Floats, float]:
    """Return the best point along a step and its density; the point itself where no length climbs."""
    step = inverse @ slope
    step = step * min(1.0, 1.5 / max(float(np.abs(step).max()), 1e-12))
    tried = np.clip(place + LENGTHS[:, None] * step, -REACH, REACH)
    reached = density(tried)
    best = int(np.argmax(reached))
    if not reached[best] > here:
        return place, here
    return np.asarray(tried[best]), float(reached[best])


def _quasi_newton(
    density: Callable[[Floats], Floats], place: Floats, known: Floats | None, rounds: int
) -> tuple[Floats, float, int]:
    """Climb with gradients alone, renewing the inverse curvature as one goes (BFGS); return point, density, rounds.

    ``known`` is the inverse curvature that a Hessian nearby gave; without it the Hessian's diagonal is a start.
    """
    size = place.size
    identity = np.eye(size)
    here, slope = _slope(density, place)
    first = _by_diagonal(density, place, here) if known is None else known
    inverse = first
    for spent in range(1, rounds + 1):
        ahead, reached = _climb(density, place, here, slope, inverse)
        if reached - here <= ENOUGH:
            return ahead, reached, spent
        reached, new_slope = _slope(density, ahead)
        moved, turned = ahead - place, slope - new_slope
        along = float(moved @ turned)
        if along > 1e-10:
            left = identity - np.outer(moved, turned) / along
            inverse = left @ inverse @ left.T + np.outer(moved, moved) / along
        else:
            inverse = first
        place, here, slope = ahead, reached, new_slope
    return place, here, rounds


def _slope(density: Callable[[Floats], Floats], place: Floats) -> tuple[float, Floats]:
    """Return value and gradient by forward differences, all points in one batch.

    The error leads the search half a small step astray, far less than where it may stop.
    """
    value = density(np.vstack([place[None], place + np.eye(place.size) * SMALL_STEP]))
    return float(value[0]), np.asarray((value[1:] - value[0]) / SMALL_STEP)


def _by_diagonal(density: Callable[[Floats], Floats], place: Floats, here: float) -> Floats:
    """Return the inverse of the Hessian's diagonal, a first guess at the inverse curvature."""
    identity = np.eye(place.size) * STEP
    value = density(np.vstack([place + identity, place - identity]))
    bend = (value[: place.size] + value[place.size :] - 2.0 * here) / STEP**2
    return np.diag(1.0 / np.maximum(np.abs(bend), 1.0))


def _no_wider_than_prior(covariance: Floats) -> Floats:
    """Return the covariance with no direction less sure than before the readings; few days scatter wildly."""
    spreads, axes = np.linalg.eigh(covariance)
    return np.asarray((axes * np.minimum(spreads, 1.0)) @ axes.T)


def _derivatives(density: Callable[[Floats], Floats], place: Floats) -> tuple[float, Floats, Floats]:
    """Return value, slope and Hessian by differences, all points in one batch."""
    size = place.size
    upper = np.triu_indices(size, 1)
    identity = np.eye(size) * STEP
    points = np.vstack(
        [place[None], place + identity, place - identity, place + identity[upper[0]] + identity[upper[1]]]
    )
    value = density(points)
    here = float(value[0])
    ahead = value[1 : size + 1]
    behind = value[size + 1 : 2 * size + 1]
    slope = (ahead - behind) / (2.0 * STEP)
    hessian = np.diag((ahead + behind - 2.0 * here) / STEP**2)
    mixed = (value[2 * size + 1 :] - ahead[upper[0]] - ahead[upper[1]] + here) / STEP**2
    hessian[upper] = mixed
    hessian.T[upper] = mixed
    return here, np.asarray(slope), hessian


def mirrored(count: int, size: int, rng: np.random.Generator) -> Floats:
    """Return standard normal numbers, each row followed by its opposite: few draws keep their middle. Shape (count, size)."""
    half = rng.standard_normal((-(-count // 2), size))
    return np.stack([half, -half], axis=1).reshape(-1, size)[:count]


def draw(posterior: Posterior, count: int, rng: np.random.Generator) -> Floats:
    """Return whitened draws, shape (count, parameters); the first is the centre."""
    variances, axes = np.linalg.eigh(posterior.covariance)
    root = axes * np.sqrt(np.maximum(variances, 0.0))
    draws = np.vstack([posterior.centre, posterior.centre + mirrored(count - 1, posterior.centre.size, rng) @ root.T])
    return np.asarray(np.clip(draws, -REACH, REACH), dtype=np.float64)
