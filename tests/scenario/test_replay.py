"""Replays: they give back the record, add up by source, close their account, and do nothing where nothing is done."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.scenario.full_home import PHASES, WORKS, full_baseline, full_fit, guess, one_cleaner, one_filter

from airtally.errors import InputError
from airtally.inference.events import EVENT_KINDS, Source
from airtally.inference.fit import RESPONSE_ERROR, Fit
from airtally.inference.model import cleaner_parameter
from airtally.inference.prepare import FAN_CIRCULATE, FAN_HEATING, FAN_OFF
from airtally.scenario.baseline import PM25_WEIGHT, baseline_of, by_source, class_split
from airtally.scenario.edits import add_cleaner, fit_filter, seal_returns
from airtally.scenario.house_air import draws_of, house_air
from airtally.scenario.law import fan_of, law_of
from airtally.scenario.replay import contrast, replay, sources_present
from airtally.scenario.scenario import AS_RECORDED, FanPlan, Scenario
from airtally.scenario.shares import Way, contributions, way_of_path

PARTICLES = PM25_WEIGHT[:3]


def run(scenario: Scenario = AS_RECORDED, **options: object):
    return replay(full_fit(), full_baseline(), scenario, **options)  # type: ignore[arg-type]


def sure_fit() -> Fit:
    """Return the fit with monitors that read every kind of source alike."""
    return replace(full_fit(), response=np.ones_like(full_fit().response))


def test_the_record_replayed_is_the_record() -> None:
    fit = sure_fit()
    found = replay(fit, baseline_of(fit), AS_RECORDED, keep_level=True)
    assert found.level is not None
    assert_allclose(found.level, fit.level, rtol=2e-5, atol=1e-14)  # single precision in the series
    for span in found.spans:
        assert_allclose(span.mean, fit.level[:, span.first : span.last].mean(axis=1), rtol=0.02)


def test_a_source_read_at_twice_what_it_gives_off_brings_half_as_much_and_leaves_the_others_alone() -> None:
    sure = sure_fit()
    response = np.ones_like(sure.response)
    response[:, EVENT_KINDS.index(Source.COOKING)] = 2.0
    doubted = replace(sure, response=response)
    old, new = (contributions(fit, baseline_of(fit)) for fit in (sure, doubted))
    for phase in PHASES:
        for source in sources_present(sure, baseline_of(sure)):
            before, after = old.of(phase.id, source), new.of(phase.id, source)
            if before is not None and after is not None:
                factor = 0.5 if source is Source.COOKING else 1.0
                assert_allclose(after, factor * before, rtol=1e-9, atol=1e-20)
    usual = full_fit().response[0]
    assert usual[EVENT_KINDS.index(Source.COOKING)] == pytest.approx(1.0)
    assert usual[EVENT_KINDS.index(Source.SOLID_FUEL)] > 1.0 > usual[EVENT_KINDS.index(Source.HOBBY)]
    assert np.std(np.log(full_fit().response[1:] / usual)) == pytest.approx(RESPONSE_ERROR, rel=0.25)


def test_the_classes_weighted_make_one_gram_of_pm25_from_one_gram() -> None:
    for coarse in (0.0, 0.5):
        assert class_split(coarse) @ PM25_WEIGHT == pytest.approx(1.0)


def test_sources_alone_and_what_was_in_the_air_at_the_start_add_up_to_the_whole() -> None:
    fit, baseline = full_fit(), full_baseline()
    whole = run(keep_level=True).level
    sources = sources_present(fit, baseline)
    assert {Source.OUTDOOR, Source.COOKING, Source.OTHER} <= set(sources)
    parts = sum(np.asarray(run(only=frozenset({s}), keep_level=True).level, dtype=np.float64) for s in sources)
    nothing = Scenario(name="nothing", without=frozenset(Source))
    remnant = run(nothing, keep_level=True).level
    assert_allclose(parts + remnant, whole, rtol=1e-4, atol=2e-13)
    assert remnant[:, 0].min() > 0.0
    assert remnant[:, 1440].max() < 1e-12


def test_without_a_source_is_the_whole_less_the_source_alone() -> None:
    whole = run().spans
    alone = run(only=frozenset({Source.COOKING})).spans
    without = run(Scenario(name="no cooking", without=frozenset({Source.COOKING}))).spans
    for a, b, c in zip(whole, alone, without, strict=True):
        assert_allclose(a.mean - b.mean, c.mean, rtol=1e-9)
    half = run(Scenario(name="half", scale=((Source.COOKING, 0.5),))).spans
    for a, b, c in zip(whole, alone, half, strict=True):
        assert_allclose(a.mean - 0.5 * b.mean, c.mean, rtol=1e-9)


def test_all_sources_told_apart_in_one_pass_are_each_source_run_alone() -> None:
    fit, baseline = full_fit(), full_baseline()
    found = contributions(fit, baseline)
    for source in sources_present(fit, baseline):
        alone = run(only=frozenset({source}))
        for phase in PHASES:
            span = alone.of(phase)
            zero = np.zeros(fit.draws)
            mean = found.of(phase.id, source)
            assert_allclose(zero if mean is None else mean, span.mean, rtol=1e-9, atol=1e-20)
            brought = span.inlets.sum(axis=1) + span.emitted
            lines = [v for (name, line), v in found.brought.items() if name == phase.id and line[0] is source]
            assert_allclose(sum(lines, zero), brought, rtol=1e-9, atol=1e-25)
    for phase in PHASES:
        parts = sum(mean for (name, _), mean in found.mean.items() if name == phase.id)
        assert_allclose(parts + found.start[phase.id], run().of(phase).mean, rtol=1e-9)


def test_every_step_belongs_to_one_indoor_source_in_every_draw() -> None:
    masks = by_source(full_fit(), full_baseline())
    assert_allclose(np.sum([m.astype(int) for m in masks.values()], axis=0), 1)


@pytest.mark.parametrize(
    "scenario",
    [
        AS_RECORDED,
        Scenario(name="a", fan=FanPlan.ALWAYS),
        Scenario(name="b", without=frozenset({Source.OUTDOOR})),
        Scenario(name="c", house_as_of=WORKS[0] - 1.0),
    ],
    ids=lambda s: s.name,
)
def test_the_account_closes_in_every_stretch(scenario: Scenario) -> None:
    for span in run(scenario).spans:
        came = span.inlets.sum(axis=1) + span.emitted
        moved = np.abs(span.inlets).sum(axis=1) + np.abs(span.emitted) + np.abs(span.removed).sum(axis=1)
        assert np.max(np.abs(came - span.removed.sum(axis=1) - span.stored) / moved) < 1e-9


def test_stretches_cover_the_record_in_order_and_name_the_phases() -> None:
    spans = run().spans
    assert [s.name for s in spans][:3] == ["start", "", "works"]  # the grid ends a step after the last phase
    assert spans[0].first == 0
    assert spans[-1].last == full_fit().prepared.steps
    assert all(a.last == b.first for a, b in pairwise(spans))


def test_an_edit_that_changes_nothing_changes_nothing() -> None:
    recorded = run()
    same = run(Scenario(name="same", edits=(lambda house: replace(house),)))
    for phase in PHASES:
        assert np.array_equal(contrast(full_fit(), recorded, same, phase).absolute, np.zeros(full_fit().draws))


def test_a_placebo_over_a_window_differs_by_exactly_nothing() -> None:
    fit = full_fit()
    window = fit.prepared.phase_steps(PHASES[1])
    end = PHASES[1].end - 1.0
    today = run(Scenario(name="today", house_as_of=end), window=window)
    placebo = run(Scenario(name="placebo", house_as_of=end, edits=(lambda house: house,)), window=window)
    assert np.array_equal(contrast(fit, today, placebo, PHASES[1]).absolute, np.zeros(fit.draws))


def test_contrasts_are_antisymmetric() -> None:
    one, other = run(), run(Scenario(name="always", fan=FanPlan.ALWAYS))
    forth, back = (contrast(full_fit(), *pair, PHASES[0]) for pair in ((one, other), (other, one)))
    assert_allclose(forth.absolute, -back.absolute, rtol=0, atol=0)
    assert_allclose((1.0 + forth.relative) * (1.0 + back.relative), 1.0, rtol=1e-12)


def test_a_window_starts_from_the_recorded_level() -> None:
    fit = sure_fit()
    window = slice(4000, 6000)
    level = replay(fit, baseline_of(fit), AS_RECORDED, window=window, keep_level=True).level
    assert level is not None
    assert level.shape == (fit.draws, 2000)
    assert_allclose(level, fit.level[:, window], rtol=0.05)
    assert_allclose(level[:, -1], fit.level[:, 5999], rtol=1e-3)


def test_the_house_as_of_a_moment_has_the_parts_of_that_moment() -> None:
    fit = full_fit()
    law = law_of(fit, Scenario(name="then", house_as_of=WORKS[0] - 1.0))
    assert all([c.id for c in house.cleaners] == ["portable"] for house in law.houses)
    assert all(house.air_handler is not None and house.air_handler.filters[0].id == "thin" for house in law.houses)
    first = run(Scenario(name="then", house_as_of=WORKS[0] - 1.0)).of(PHASES[0])
    assert_allclose(first.mean, run().of(PHASES[0]).mean, rtol=1e-9)


def test_the_fan_plans_change_what_they_say() -> None:
    fit = full_fit()
    recorded = fit.prepared.fan
    always, never = fan_of(fit, FanPlan.ALWAYS), fan_of(fit, FanPlan.NEVER)
    assert (always[recorded == FAN_OFF] == FAN_CIRCULATE).all()
    assert (always[recorded == FAN_HEATING] == FAN_HEATING).all()
    assert (never[recorded == FAN_CIRCULATE] == FAN_OFF).all()
    assert (never[recorded == FAN_HEATING] == FAN_HEATING).all()
    assert_allclose(fan_of(fit, FanPlan.RECORDED), recorded)


def test_a_part_the_fit_never_saw_has_the_same_draws_in_every_scenario() -> None:
    fit = full_fit()
    new = one_filter("unseen", "MERV 11", (0.4, 0.65, 0.85))
    cleaner = one_cleaner("unseen cleaner")
    shape = np.ones(1)
    house = fit.prepared.epochs[0].house
    one = house_air(fit_filter(new)(house), fit.values, shape).filter_efficiency
    both = house_air(add_cleaner(cleaner)(fit_filter(new)(house)), fit.values, shape).filter_efficiency
    assert np.array_equal(one, both)
    assert one[1:, 0].std() > 0.0


def test_a_parts_own_draws_have_its_interval_and_begin_with_its_value() -> None:
    fit = full_fit()
    part = cleaner_parameter(one_cleaner("unseen cleaner"))
    many = replace(fit.values, table=np.repeat(fit.values.table, 300, axis=0))
    draws = draws_of(part, many)
    assert draws[0] == pytest.approx(part.centre)
    assert np.std(np.log(draws)) == pytest.approx(part.spread, rel=0.05)


def test_sealing_takes_off_the_stated_share_of_every_leak() -> None:
    fit = full_fit()
    remaining = guess(0.25, 0.2, 0.3, "-")
    house = seal_returns(remaining)(fit.prepared.epochs[0].house)
    assert house.air_handler is not None
    before = fit.prepared.epochs[0].house.air_handler
    assert before is not None
    for sealed, leak in zip(house.air_handler.return_leaks, before.return_leaks, strict=True):
        assert sealed.fraction.value == pytest.approx(0.25 * leak.fraction.value)
        assert sealed.zone == leak.zone


def test_a_better_filter_lowers_the_rooms_and_leaves_emissions_alone() -> None:
    better = one_filter("best", "MERV 16", (0.96, 0.97, 0.98))
    old, new = run().of(PHASES[0]), run(Scenario(name="best", edits=(fit_filter(better),))).of(PHASES[0])
    assert (new.mean < old.mean).all()
    assert_allclose(new.emitted, old.emitted, rtol=1e-12)


def test_edits_of_an_air_handler_refuse_a_house_without_one() -> None:
    bare = replace(full_fit().house, air_handler=None)
    with pytest.raises(InputError, match="air handler"):
        seal_returns(guess(0.2, 0.1, 0.3, "-"))(bare)


def test_outdoor_air_by_way_of_garage_and_crawlspace_is_told_apart_by_its_way_and_counted_as_outdoor_air() -> None:
    found = contributions(full_fit(), full_baseline())
    ways = {way for (phase, (source, way)) in found.mean if source is Source.OUTDOOR and phase == PHASES[0].id}
    assert ways == {Way.ENVELOPE, Way.GARAGE_LEAK, Way.BUFFER_LEAK}
    replayed = run().of(PHASES[0])
    garage = [i for i, name in enumerate(run().path_names) if way_of_path(name) is Way.GARAGE_LEAK]
    brought = found.brought[PHASES[0].id, (Source.OUTDOOR, Way.GARAGE_LEAK)]
    assert (brought > 0.0).all()
    assert_allclose(brought, replayed.inlets[:, garage].sum(axis=1), rtol=1e-9)
    assert_allclose(found.brought[PHASES[1].id, (Source.OUTDOOR, Way.GARAGE_LEAK)], 0.0)
