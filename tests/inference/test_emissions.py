"""Implied emissions: marched forward they give back the path; what arrives is never lost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.testing import assert_allclose
from tests.inference.kernel_cases import one_room, small_evidence, some_physics

from airtally.inference.emissions import implied_emission, march
from airtally.inference.likelihood import Path, smooth


def test_marching_is_the_exact_solution_of_the_balance() -> None:
    # Source: dx/dt = a - k x has x = a/k + (x0 - a/k) exp(-k t), stepped here in plain Python.
    evidence, physics = small_evidence(1), some_physics(1)
    rate = np.abs(np.random.default_rng(0).normal(5.0, 2.0, (2, evidence.regime.size)))
    found = march(evidence, physics, rate, np.array([3.0, 9.0]))
    for n, now in enumerate((3.0, 9.0)):
        for t in range(evidence.regime.size):
            k = physics.loss[n, evidence.level[t], evidence.regime[t]]
            drive = physics.gain[n, evidence.level[t], evidence.regime[t]] * evidence.outdoor[t]
            rest = (drive + rate[n, t]) / k
            now = rest + (now - rest) * np.exp(-k / 60.0)
            assert_allclose(found[n, t], now, rtol=1e-10)


def test_emissions_marched_forward_give_back_the_path_at_the_readings() -> None:
    evidence, physics = one_room()
    value = evidence.value.copy()
    value[20:] += 25.0 * np.exp(-np.arange(value.size - 20) / 12.0)
    evidence = replace(evidence, value=value)
    path = smooth(evidence, physics)
    rate = implied_emission(evidence, physics, path)
    level = march(evidence, physics, rate, path.level[:, 0])
    assert np.max(np.abs(level[0, evidence.at] - path.level[0, evidence.at])) < 1.0
    assert_allclose(level.mean(), path.level.mean(), rtol=0.02)


def test_quiet_hours_are_averaged_with_nothing_lost() -> None:
    evidence, physics = one_room()
    rng = np.random.default_rng(2)
    level = 10.0 + 0.3 * rng.normal(size=(1, evidence.regime.size))
    path = Path(level=level, variance=np.ones_like(level), chance=np.zeros_like(level))
    rate = implied_emission(evidence, physics, path)
    fade = np.exp(-1.0 / 60.0)
    raw = np.r_[0.0, (level[0, 1:] - fade * level[0, :-1]) / (1.0 - fade)]
    for hour in range(3):
        inside = slice(60 * hour, 60 * hour + 60)
        assert_allclose(rate[0, inside], raw[inside].mean(), rtol=1e-9)


def test_a_rise_found_after_a_blind_gap_is_laid_over_the_gap() -> None:
    evidence, physics = one_room(steady=np.zeros((1, 2)))
    keep = (evidence.at < 60) | (evidence.at >= 120)
    evidence = replace(
        evidence, **{name: getattr(evidence, name)[keep] for name in ("at", "sensor", "value", "weight", "block")}
    )
    arrival = int(evidence.at[evidence.at >= 120][0])
    level = np.zeros((1, evidence.regime.size))
    level[0, arrival:] = 20.0 * np.exp(-np.arange(evidence.regime.size - arrival) / 60.0)
    chance = np.zeros_like(level)
    chance[0, arrival] = 1.0
    path = Path(level=level, variance=np.ones_like(level), chance=chance)
    rate = implied_emission(evidence, physics, path)
    last_seen = int(evidence.at[evidence.at < 60][-1])
    gap = rate[0, last_seen + 1 : arrival + 1]
    assert_allclose(gap, gap[0], rtol=1e-9)
    assert gap[0] > 0.0
    again = march(evidence, physics, rate, np.zeros(1))
    assert_allclose(again[0, arrival], 20.0, rtol=1e-9)


def test_a_rise_seen_at_once_stays_where_it_was_seen() -> None:
    evidence, physics = one_room(steady=np.zeros((1, 2)))
    level = np.zeros((1, evidence.regime.size))
    arrival = int(evidence.at[15])
    level[0, arrival:] = 20.0 * np.exp(-np.arange(evidence.regime.size - arrival) / 60.0)
    chance = np.zeros_like(level)
    chance[0, arrival] = 1.0
    rate = implied_emission(evidence, physics, Path(level=level, variance=np.ones_like(level), chance=chance))
    given = np.flatnonzero(rate[0] > 1e-6)
    assert given.min() == evidence.at[14] + 1
    assert given.max() == arrival
