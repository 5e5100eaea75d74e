"""A house's network fitted to the gauge readings of its visits: draws of what is not known, and what disagrees."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.errors import Problem, Severity
from airtally.house.parts import House
from airtally.network.home.baselines import baselines_of
from airtally.network.home.from_survey import LATEST, envelope_leakage
from airtally.network.home.gauges import Gauge, gauges_of
from airtally.network.home.house_network import AirState, HouseNetwork, network_of
from airtally.network.home.solved import Solved, solve_states
from airtally.network.home.unknowns import layout_of, prior_of_network
from airtally.network.home.works import AS_FOUND, Works
from airtally.parameters import Prior, Values
from airtally.visits.parts import Visit

DRAWS = 32
SEED = 5
"""Of the draws: one survey and one set of readings always give one answer."""
STEP = 1e-4
"""Of the numerical slopes, in prior standard deviations. [-]"""
ROUNDS, STEPS = 3, 3
"""Times that slopes are taken anew on the way from the most probable unknowns to each draw's own (the first time they are
those of the most probable), and steps each time, slopes mended by what the last step changed. [-]"""
DISAGREES = 2.6
"""Deviations by which a reading may miss what all others together say before it is named: one in a hundred. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenBack:
    """A reading beside what the fitted network gives in its state. SI; ``miss`` in deviations."""

    key: str
    where: str
    unit: str
    measured: float
    computed: float
    miss: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrated:
    """A house's network with draws of its unknowns; the first draw is the most probable.

    Attributes
    ----------
    network : HouseNetwork
    prior : Prior
    values : Values
        Draws.
    given_back : tuple of GivenBack
        Every reading that was used.
    problems : tuple of Problem
        Readings that disagree with the rest, each with the size of the conflict.
    """

    network: HouseNetwork
    prior: Prior
    values: Values
    given_back: tuple[GivenBack, ...]
    problems: tuple[Problem, ...]

    def solve(
        self, states: tuple[AirState, ...], works: Works = AS_FOUND, *, draws: int | None = None
    ) -> tuple[Solved, ...]:
        """Return the network solved in each state for the draws, or the first so many of them."""
        values = self.values
        if draws is not None:
            values = Values(names=values.names, table=values.table[:draws])
        return solve_states(self.network, values, states, works)


def calibrate(
    house: House, visits: tuple[Visit, ...], time: float = LATEST, *, draws: int = DRAWS
) -> Calibrated | None:
    """Return a house's network fitted to the readings taken no later than a time.

    Least squares of readings and priors together, each over its own deviation, give the most probable unknowns. Each
    further draw is the same least squares with readings and priors moved by their own errors, so that every draw
    gives back the readings as far as gauges can tell (randomised maximum likelihood, after Oliver 1996, from memory).

    Parameters
    ----------
    house : House
    visits : tuple of Visit
        Without any, every unknown keeps its prior.
    time : float
        Parts that stand and readings taken up to then. [s, POSIX UTC]
    draws : int

    Returns
    -------
    calibrated : Calibrated, or None where nobody measured or estimated the house's leakage or it has no room
    """
    layout = layout_of(house, time)
    leakage, _ = envelope_leakage(house, visits, time)
    if layout is None or leakage is None or not leakage[0].value > 0.0:
        return None
    prior = prior_of_network(visits, layout, leakage, time)
    network = network_of(house, visits, layout, time)
    baselines = baselines_of(house, network, visits, time)
    gauges = gauges_of(network, visits, leakage[0], time) + baselines.gauges
    best, slopes = _most_probable(network, prior, gauges)
    values = prior.values(_draws(network, prior, gauges, best, slopes, draws))
    given = _given_back(network, prior, gauges, best)
    problems = baselines.problems + _disagreements(given)
    return Calibrated(network=network, prior=prior, values=values, given_back=given, problems=problems)


def _predictions(network: HouseNetwork, prior: Prior, gauges: tuple[Gauge, ...], whitened: Floats) -> Floats:
    """Return what each gauge would read for N sets of unknowns. Shape (N, gauges)."""
    values = prior.values(whitened)
    states = tuple(dict.fromkeys(state for gauge in gauges for state in gauge.states))
    solved = dict(zip(states, solve_states(network, values, states, AS_FOUND), strict=True))
    found = np.empty((values.count, len(gauges)))
    for index, gauge in enumerate(gauges):
        found[:, index] = gauge.predict(values, tuple(solved[state] for state in gauge.states))
    return found


def _draws(
    network: HouseNetwork, prior: Prior, gauges: tuple[Gauge, ...], best: Floats, slopes: Floats, draws: int
) -> Floats:
    """Return whitened draws, the first the most probable, which has these slopes. Shape (draws, P)."""
    rng = np.random.default_rng(SEED)
    count = best.size
    centre = rng.normal(size=(draws, count))
    centre[0] = 0.0
    if not gauges:
        return centre
    wanted = np.array([gauge.value for gauge in gauges])
    scale = np.array([gauge.deviation for gauge in gauges])
    moved = wanted + scale * rng.normal(size=(draws, wanted.size))
    moved[0] = wanted
    at = np.tile(best, (draws, 1))
    slope = np.tile(slopes, (draws, 1, 1))
    for number in range(ROUNDS):
        if number:
            batch = (at[:, None] + np.concatenate([np.zeros((1, count)), STEP * np.eye(count)])).reshape(-1, count)
            found = _predictions(network, prior, gauges, batch).reshape(draws, count + 1, wanted.size)
            slope = np.swapaxes(found[:, 1:] - found[:, :1], 1, 2) / scale[:, None] / STEP
        before: tuple[Floats, Floats] | None = None
        for _ in range(STEPS):
            miss = (_predictions(network, prior, gauges, at) - moved) / scale
            if before is not None:
                slope = _seen(slope, at - before[0], miss - before[1])
            before = at, miss
            curvature = np.swapaxes(slope, 1, 2) @ slope + np.eye(count)
            pull = (np.swapaxes(slope, 1, 2) @ miss[..., None])[..., 0] + at - centre
            at = np.clip(at - np.clip(np.linalg.solve(curvature, pull[..., None])[..., 0], -1.0, 1.0), -4.0, 4.0)
    at[0] = best
    return at


def _seen(slope: Floats, step: Floats, change: Floats) -> Floats:
    """Return slopes mended by what a step was seen to change (Broyden 1965, from memory). Shape (draws, gauges, P)."""
    off = change - (slope @ step[..., None])[..., 0]
    length = np.maximum((step**2).sum(axis=1), 1e-12)
    return np.asarray(slope + (off / length[:, None])[..., None] * step[:, None])


def _most_probable(network: HouseNetwork, prior: Prior, gauges: tuple[Gauge, ...]) -> tuple[Floats, Floats]:
    """Return the most probable whitened unknowns, shape (P,), and the gauges' slopes there, shape (gauges, P)."""
    count = len(prior.parameters)
    if not gauges:
        return np.zeros(count), np.zeros((0, count))
    wanted = np.array([gauge.value for gauge in gauges])
    scale = np.array([gauge.deviation for gauge in gauges])

    def look(at: Floats) -> tuple[Floats, Floats]:
        batch = np.vstack([at, at + STEP * np.eye(count)])
        scaled = (_predictions(network, prior, gauges, batch) - wanted) / scale
        return scaled[0], (scaled[1:] - scaled[0]).T / STEP

    at = np.zeros(count)
    miss, slopes = look(at)
    damping = 1e-2
    cost = float(miss @ miss + at @ at)
    for _ in range(60):
        curvature = slopes.T @ slopes + np.eye(count)
        step = -np.linalg.solve(curvature + damping * np.diag(np.diag(curvature)), slopes.T @ miss + at)
        new = np.clip(at + step, -4.0, 4.0)
        new_miss, new_slopes = look(new)
        new_cost = float(new_miss @ new_miss + new @ new)
        if new_cost < cost:
            is_done = cost - new_cost < 1e-6 * (1.0 + cost)
            at, miss, slopes, cost = new, new_miss, new_slopes, new_cost
            damping = max(damping / 5.0, 1e-9)
            if is_done:
                break
        else:
            damping *= 8.0
            if damping > 1e8:
                break
    return at, slopes


def _given_back(network: HouseNetwork, prior: Prior, gauges: tuple[Gauge, ...], best: Floats) -> tuple[GivenBack, ...]:
    if not gauges:
        return ()
    computed = _predictions(network, prior, gauges, best[None, :])[0]
    return tuple(
        GivenBack(
            key=gauge.key,
            where=gauge.where,
            unit=gauge.unit,
            measured=gauge.value,
            computed=float(value),
            miss=float((value - gauge.value) / gauge.deviation),
        )
        for gauge, value in zip(gauges, computed, strict=True)
    )


def _disagreements(given: tuple[GivenBack, ...]) -> tuple[Problem, ...]:
    return tuple(
        Problem(
            code="network-reading-disagrees",
            where=one.where,
            found=f"{one.measured:.3g} {one.unit} was read; the other readings together make {one.computed:.3g} {one.unit}",
            wanted="readings that one house can give, each in the state that stands beside it",
            remedy="Check its sign, reference and state, and measure it again; until then it widens what is computed.",
            severity=Severity.WARNING,
        )
        for one in given
        if abs(one.miss) > DISAGREES
    )
