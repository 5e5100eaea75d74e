"""Did it work: verdicts, loss rates at equal conditions, the same days in the old house."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.recovery.as_job import as_house, as_log
from tests.recovery.homes import simulate_home
from tests.scenario.full_home import (
    PHASES,
    START,
    WORKS,
    fan_runs,
    full_baseline,
    full_fit,
    full_house,
    made_log,
    one_cleaner,
    without_parts,
)

from airtally.house.dates import Phase
from airtally.house.parts import House
from airtally.inference.fit import Fit, fit_house
from airtally.proof.effects import Proof, Verdict, prove, rests_on_readings, verdict_of
from airtally.scenario.baseline import baseline_of

RNG = np.random.default_rng


@pytest.mark.parametrize(
    ("middle", "lower_is_better", "verdict"),
    [
        (-3.0, True, Verdict.SHOWN),
        (3.0, True, Verdict.WORSE),
        (0.3, True, Verdict.NOT_SHOWN),
        (3.0, False, Verdict.SHOWN),
        (-3.0, False, Verdict.WORSE),
    ],
)
def test_a_verdict_needs_all_but_a_fortieth_of_the_draws_on_one_side(
    middle: float, lower_is_better: bool, verdict: Verdict
) -> None:
    draws = middle + RNG(0).normal(size=4000)
    assert verdict_of(draws, better_is_lower=lower_is_better) is verdict


def test_the_bar_of_a_verdict_is_the_95_percent_interval() -> None:
    draws = RNG(1).normal(size=100_001)
    edge = np.quantile(draws, 0.975)
    assert verdict_of(draws - edge - 0.01, better_is_lower=True) is Verdict.SHOWN
    assert verdict_of(draws - edge + 0.01, better_is_lower=True) is Verdict.NOT_SHOWN


def test_no_draws_and_no_difference_claim_nothing() -> None:
    assert verdict_of(np.full(5, np.nan), better_is_lower=True) is Verdict.NOT_SEPARABLE
    for lower in (True, False):
        assert verdict_of(np.zeros(60), better_is_lower=lower) is Verdict.NOT_SHOWN


@cache
def full_proof() -> Proof:
    return prove(full_fit(), full_baseline(), RNG(0))[0]


def test_one_proof_a_change_with_the_phases_on_either_side() -> None:
    proof = full_proof()
    assert proof.change_id == "works"
    assert (proof.before, proof.after) == PHASES
    assert [r.fan_on for r in proof.rates] == [True, False]
    assert (proof.rates[0].after > 0.0).all()


def test_three_phases_give_two_proofs_and_one_for_the_whole_job() -> None:
    middle = START + 8 * 86400.0
    last = Phase(id="late", name="late", start=middle, end=PHASES[1].end)
    phases = (PHASES[0], replace(PHASES[1], end=middle), last)
    fit = replace(full_fit(), prepared=replace(full_fit().prepared, phases=phases))
    assert [p.change_id for p in prove(fit, full_baseline(), RNG(0))] == ["works", "late", "whole_job"]


def fitted(house: House) -> Fit:
    fit = fit_house(house, made_log(), PHASES, fan_runs(), rng=RNG(3), draws=10)
    assert isinstance(fit, Fit)
    return fit


def test_where_no_part_changed_both_houses_are_the_same_to_the_last_digit() -> None:
    fit = fitted(without_parts(full_house()))
    proof = prove(fit, baseline_of(fit), RNG(0))[0]
    assert np.array_equal(proof.like_for_like.absolute, np.zeros(fit.draws))
    assert proof.like_for_like_verdict is Verdict.NOT_SHOWN
    for rate in proof.rates:
        assert_allclose(rate.after, rate.before, rtol=0, atol=0)
        assert rate.verdict is Verdict.NOT_SHOWN


def test_a_change_that_the_readings_cannot_judge_gets_no_verdict() -> None:
    # Sealed returns keep their surveyed share in the fit: every draw moves one way by assumption.
    house = without_parts(full_house())
    handler = house.air_handler
    assert handler is not None
    leaks = tuple(replace(k, until=WORKS[0]) for k in handler.return_leaks)
    fit = fitted(replace(house, air_handler=replace(handler, return_leaks=leaks)))
    assert not rests_on_readings(fit, *PHASES)
    proof = prove(fit, baseline_of(fit), RNG(0))[0]
    assert proof.like_for_like_verdict is Verdict.NOT_SEPARABLE
    assert {r.verdict for r in proof.rates} == {Verdict.NOT_SEPARABLE}


def test_a_cleaner_or_filter_among_the_changes_is_judged() -> None:
    assert rests_on_readings(full_fit(), *PHASES)
    house = without_parts(full_house())
    with_one = replace(house, cleaners=(*house.cleaners, one_cleaner("new", since=WORKS[0])))
    assert (
        rests_on_readings(replace(full_fit(), prepared=replace(full_fit().prepared, house=with_one)), *PHASES) is False
    )
    assert rests_on_readings(fitted(with_one), *PHASES)


@pytest.mark.parametrize("in_duct", [True, False])
def test_a_working_cleaner_is_shown_and_a_dead_one_is_not(in_duct: bool) -> None:
    for works, verdict in ((True, Verdict.SHOWN), (False, Verdict.NOT_SHOWN)):
        home = simulate_home(RNG(11), in_duct=in_duct, cleaner_works=works)
        house, phases = as_house(home)
        log, fan = as_log(home)
        fit = fit_house(house, log, phases, fan, rng=RNG(1))
        assert isinstance(fit, Fit)
        proof = prove(fit, baseline_of(fit), RNG(2))[0]
        assert proof.rates[0].verdict is verdict
        assert proof.like_for_like_verdict is verdict
        assert proof.rates[1].verdict is Verdict.NOT_SHOWN  # with the fan off it cannot do anything
