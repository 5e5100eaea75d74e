"""The comparison by days on synthetic records: planted changes found, intervals that cover, few false claims."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.proof.synthetic_days import some_days
from tests.scenario.full_home import DAYS, PHASES, full_fit

from airtally.house.dates import Phase
from airtally.proof.days import FEWEST_DAYS, SMOKE_LEVEL, adjusted_change, days_of, placebo_dates, raw_change
from airtally.proof.effects import Verdict, verdict_of


def test_a_planted_change_is_recovered_although_weather_moved_with_it() -> None:
    found = [
        adjusted_change(some_days(np.random.default_rng(s), 21, 21, -4.0), 0, 1, np.random.default_rng(s))
        for s in range(40)
    ]
    middle = np.array([np.median(a.difference) for a in found if a is not None]) * 1e9
    assert len(middle) == 40
    assert abs(middle.mean() + 4.0) < 3.0 * middle.std() / np.sqrt(40.0)
    assert middle.std() < 2.5


def test_without_noise_the_change_is_exact() -> None:
    days = some_days(np.random.default_rng(2), 14, 14, -4.0, noise=1e-9)
    found = adjusted_change(days, 0, 1, np.random.default_rng(0))
    assert found is not None
    assert_allclose(found.difference, -4e-9, rtol=1e-5)
    assert_allclose(found.after - found.before, found.difference, rtol=1e-9)


@pytest.mark.parametrize(("before", "after", "correlation"), [(7, 7, 0.4), (14, 14, 0.0), (14, 14, 0.4), (28, 28, 0.6)])
def test_its_90_percent_interval_covers_about_right(before: int, after: int, correlation: float) -> None:
    inside = 0
    for seed in range(100):
        rng = np.random.default_rng(seed)
        found = adjusted_change(some_days(rng, before, after, -3.0, correlation=correlation), 0, 1, rng)
        assert found is not None
        low, high = np.quantile(found.difference, [0.05, 0.95])
        inside += bool(low <= -3e-9 <= high)
    assert 83 <= inside <= 99  # 90 less or more 2.3 standard errors, and wide intervals are no fault on few days


@pytest.mark.parametrize(("before", "after", "correlation"), [(10, 20, 0.4), (14, 14, 0.4), (28, 28, 0.4)])
def test_with_nothing_done_few_records_claim_a_change(before: int, after: int, correlation: float) -> None:
    claims = 0
    for seed in range(200):
        rng = np.random.default_rng(1000 + seed)
        found = adjusted_change(some_days(rng, before, after, 0.0, correlation=correlation), 0, 1, rng)
        assert found is not None
        claims += verdict_of(found.difference, better_is_lower=True) in (Verdict.SHOWN, Verdict.WORSE)
    assert claims <= 16  # 8 % of 200


def test_smoke_days_are_left_out_and_counted() -> None:
    days = some_days(np.random.default_rng(4), 14, 14, -4.0, noise=1e-9)
    outdoor, room = days.outdoor.copy(), days.room.copy()
    outdoor[[3, 20]] = 3.0 * SMOKE_LEVEL
    room[[3, 20]] = 200e-9
    found = adjusted_change(replace(days, outdoor=outdoor, room=room), 0, 1, np.random.default_rng(0))
    assert found is not None
    assert found.left_out == 2
    assert (found.days_before, found.days_after) == (13, 13)
    assert_allclose(found.difference, -4e-9, rtol=1e-4)


def test_too_few_days_on_a_side_give_no_answer() -> None:
    days = some_days(np.random.default_rng(5), FEWEST_DAYS - 1, 20, -4.0)
    assert adjusted_change(days, 0, 1, np.random.default_rng(0)) is None
    assert placebo_dates(days, 0, -4e-9) is None


def test_a_regressor_that_never_moves_does_no_harm() -> None:
    days = some_days(np.random.default_rng(6), 14, 14, -4.0, noise=0.5)
    found = adjusted_change(replace(days, given=np.zeros(28)), 0, 1, np.random.default_rng(0))
    assert found is not None
    assert np.isfinite(found.difference).all()


def test_draws_repeat_with_their_seed() -> None:
    days = some_days(np.random.default_rng(7), 14, 14, -4.0)
    one, two = (adjusted_change(days, 0, 1, np.random.default_rng(3)) for _ in range(2))
    assert one is not None
    assert two is not None
    assert np.array_equal(one.difference, two.difference)


def test_a_large_change_ranks_first_among_pretended_dates_and_a_small_one_does_not() -> None:
    days = some_days(np.random.default_rng(8), 28, 14, -12.0, noise=1.0)
    large, small = placebo_dates(days, 0, -12e-9), placebo_dates(days, 0, -0.01e-9)
    assert large is not None
    assert small is not None
    assert large.of == large.effects.size + 1 == 28 - 2 * FEWEST_DAYS + 2
    assert large.rank == 1
    assert small.rank > 5
    assert large.independent_weeks == pytest.approx(4.0)


def test_the_rank_of_nothing_among_placebos_is_spread_over_all_ranks() -> None:
    # With nothing done the real date is one date among others: its rank divides evenly, roughly.
    shares = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        days = some_days(rng, 28, 28, 0.0, correlation=0.2)
        found = adjusted_change(days, 0, 1, rng)
        assert found is not None
        placebo = placebo_dates(days, 0, float(np.median(found.difference)))
        assert placebo is not None
        shares.append(placebo.rank / placebo.of)
    assert np.mean(np.array(shares) < 0.1) < 0.25


def test_the_daily_table_of_a_fit_has_a_row_a_day_with_its_phase() -> None:
    fit = full_fit()
    days = days_of(fit)
    assert days.day.size == DAYS
    assert (days.phase[:5] == 0.0).all()
    assert days.phase[5] == -1.0  # the day of the works belongs to neither
    assert (days.phase[6:10] == 1.0).all()
    whole = fit.prepared.time.size // DAYS
    assert_allclose(days.room[2], np.median(fit.level, axis=0)[2 * 1440 : 3 * 1440].mean(), rtol=5e-3)
    assert whole >= 1439
    assert days.given.sum() == pytest.approx(sum(float(np.median(e.mass)) for e in fit.events), rel=1e-9)


def test_plain_means_are_plain_means() -> None:
    days = some_days(np.random.default_rng(9), 14, 14, -4.0)
    before, after = raw_change(days, *PHASES, PHASES)
    assert before == pytest.approx(days.room[:14].mean())
    assert after == pytest.approx(days.room[14:].mean())
    missing = Phase(id="x", name="x", start=0.0, end=1.0)
    assert np.isnan(raw_change(days, PHASES[0], missing, (*PHASES, missing))[1])
