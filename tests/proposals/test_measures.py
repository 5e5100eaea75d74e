"""Each measure becomes an edit of the house, is replayed, and never goes without its cautions."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.scenario.full_home import PHASES, START, full_baseline, full_fit

from airtally.estimates import Basis, Estimate
from airtally.house.measure_kinds import MeasureKind, measures_of
from airtally.house.parts import House, PricedMeasure
from airtally.inference.fit import Fit
from airtally.proposals.forecast import REDRAWN, Forecast, forecasts
from airtally.proposals.measures import Measure, measure_of
from airtally.proposals.scenarios import scenario_of
from airtally.scenario.baseline import Baseline, baseline_of

NOW = PHASES[1].end - 1.0


def priced(kind: str, **settings: float | str) -> PricedMeasure:
    return PricedMeasure(
        id=kind.replace(" ", "-"),
        kind=kind,
        name=f"our {kind}",
        stage=1,
        price_low=100.0,
        price_high=200.0,
        settings=tuple(settings.items()),
    )


def latest() -> House:
    return full_fit().prepared.epochs[-1].house


def forecast_of(*measures: PricedMeasure, fit: Fit | None = None, baseline: Baseline | None = None) -> list[Forecast]:
    base = fit or full_fit()
    with_measures = replace(base, prepared=replace(base.prepared, house=replace(base.house, measures=measures)))
    return list(forecasts(with_measures, baseline or full_baseline())[0])


@cache
def usual() -> dict[MeasureKind, Forecast]:
    found, problems = forecasts(full_fit(), full_baseline())
    assert not problems
    return {f.measure.kind: f for f in found}


def test_every_kind_of_measure_can_be_replayed_on_a_house_with_an_air_handler() -> None:
    assert set(usual()) == set(MeasureKind) - {MeasureKind.IN_LINE_HEPA}
    for forecast in usual().values():
        assert np.isfinite(forecast.change.absolute).all()
        assert forecast.change.without.size == full_fit().draws


@pytest.mark.parametrize("kind", list(MeasureKind))
def test_no_measure_goes_without_what_must_be_tested_again_and_its_cautions(kind: MeasureKind) -> None:
    measure = measure_of(latest(), priced(kind.value))
    assert isinstance(measure, Measure)
    assert measure.cautions
    assert measure.must_retest
    assert measure.what.endswith(".")
    scenario = scenario_of(measure, NOW)
    assert not isinstance(scenario, str)
    assert scenario.house_as_of == NOW
    assert "safe" not in " ".join((measure.what, *measure.cautions, *measure.must_retest)).lower()


def test_all_measures_are_compared_with_the_same_latest_house() -> None:
    today = [f.change.without for f in usual().values()]
    for other in today[1:]:
        assert np.array_equal(today[0], other)


def test_a_cleaner_on_the_return_lowers_the_rooms_in_every_draw() -> None:
    assert (usual()[MeasureKind.BYPASS_CLEANER].change.absolute < 0.0).all()


def test_catching_cooking_lowers_by_what_cooking_gave() -> None:
    half, all_of_it = forecast_of(priced("source capture", capture=0.4), priced("source capture", capture=0.8))
    assert_allclose(2.0 * half.change.absolute, all_of_it.change.absolute, rtol=1e-9, atol=1e-18)
    assert (half.change.absolute <= 0.0).all()


@cache
def tight() -> tuple[Fit, Baseline]:
    """Return the fit of the same readings in a house whose returns do not leak."""
    fit = full_fit()

    def dry(house: House) -> House:
        assert house.air_handler is not None
        return replace(house, air_handler=replace(house.air_handler, return_leaks=()))

    epochs = tuple(replace(e, house=dry(e.house)) for e in fit.prepared.epochs)
    found = replace(fit, prepared=replace(fit.prepared, house=dry(fit.house), epochs=epochs))
    return found, baseline_of(found)


def test_sealing_returns_that_do_not_leak_does_nothing() -> None:
    fit, baseline = tight()
    (found,) = forecast_of(priced("return sealing"), fit=fit, baseline=baseline)
    assert_allclose(found.change.absolute, 0.0, atol=0.0)


def test_a_fan_that_circulates_all_day_through_a_filter_lowers_the_rooms() -> None:
    fit, baseline = tight()
    (found,) = forecast_of(priced("continuous fan"), fit=fit, baseline=baseline)
    assert np.median(found.change.absolute) < 0.0
    assert (found.change.absolute < 0.0).mean() > 0.9


def test_unfiltered_supply_air_raises_the_rooms_when_the_outdoors_are_dirty() -> None:
    fit = full_fit()
    dirty = replace(fit, prepared=replace(fit.prepared, outdoor=fit.prepared.outdoor * 20.0))
    (found,) = forecast_of(priced("supply ventilation", flow=0.05, efficiency=0.0), fit=dirty)
    assert (found.change.absolute > 0.0).all()
    (clean,) = forecast_of(
        priced("supply ventilation", flow=0.05, efficiency=0.99),
        fit=replace(fit, prepared=replace(fit.prepared, outdoor=fit.prepared.outdoor * 0.0)),
    )
    assert (clean.change.absolute < 0.0).all()


def test_added_power_is_that_of_the_hours_it_adds() -> None:
    fan = full_fit().prepared.fan
    assert usual()[MeasureKind.CONTINUOUS_FAN].added_power == pytest.approx(250.0 * np.mean(fan == 0))
    assert usual()[MeasureKind.BYPASS_CLEANER].added_power == pytest.approx(90.0 * np.mean(fan > 0))
    assert usual()[MeasureKind.SUPPLY_VENTILATION].added_power == pytest.approx(30.0)
    assert usual()[MeasureKind.RETURN_SEALING].added_power == 0.0


@pytest.mark.parametrize(
    ("measure", "word"),
    [
        (priced("ozone machine"), "ozone machine"),
        (priced("better filter", rating="HEPA"), "HEPA"),
        (priced("better filter", rating="MERV 20"), "MERV 20"),
        (priced("source capture", source="ghosts"), "ghosts"),
    ],
)
def test_what_cannot_be_replayed_is_a_problem_that_names_it(measure: PricedMeasure, word: str) -> None:
    fit = full_fit()
    with_it = replace(fit, prepared=replace(fit.prepared, house=replace(fit.house, measures=(measure,))))
    found, problems = forecasts(with_it, full_baseline())
    assert not found
    assert [p.code for p in problems] == ["measure-not-replayed"]
    assert word in problems[0].found


def test_the_rating_of_a_filter_is_read_from_its_words() -> None:
    for rating, best in (("MERV 8", 0.4), ("merv-16 (52.2-2017)", 0.9)):
        measure = measure_of(latest(), priced("better filter", rating=rating))
        assert isinstance(measure, Measure)
        scenario = scenario_of(measure, NOW)
        assert not isinstance(scenario, str)
        edited = scenario.edits[0](latest())
        assert edited.air_handler is not None
        assert (edited.air_handler.filters[0].efficiency[0].value > 0.5) is (best > 0.5)


def test_without_an_air_handler_only_measures_that_need_none_are_offered() -> None:
    bare = replace(latest(), air_handler=None)
    assert {m.kind for m in measures_of(bare)} == {"supply ventilation", "source capture"}
    assert isinstance(measure_of(bare, priced("continuous fan")), str)
    assert len(measures_of(latest())) == len(MeasureKind) - 1


def test_a_filter_that_chokes_the_blower_is_replayed_with_the_airflow_that_the_network_gives() -> None:
    measure = measure_of(latest(), priced("in-line HEPA"))
    assert isinstance(measure, Measure)
    flow = Estimate(value=0.6, low=0.5, high=0.7, unit="-", basis=Basis.COMPUTED, source="network")
    choked, free = scenario_of(measure, NOW, flow), scenario_of(measure, NOW)
    assert not isinstance(choked, str)
    assert not isinstance(free, str)
    before, after, alike = (
        house.air_handler.speeds[0].flow.value  # type: ignore[union-attr]
        for house in (latest(), choked.edits[0](latest()), free.edits[0](latest()))
    )
    assert after == pytest.approx(0.6 * before)
    assert alike == pytest.approx(before)


def test_the_window_is_the_latest_weeks() -> None:
    window = usual()[MeasureKind.BYPASS_CLEANER].window
    assert window.start == pytest.approx(START, abs=3600.0)
    assert window.end == pytest.approx(PHASES[1].end, abs=3600.0)


def test_the_weeks_drawn_again_are_those_whose_means_are_told() -> None:
    found, _ = forecasts(full_fit(), full_baseline())
    for one in found:
        assert one.without.shape == one.with_it.shape == (one.change.with_it.size, one.time.size)
        assert_allclose(np.diff(one.time), REDRAWN)
        assert abs(one.time[0] - one.window.start) <= 60.0
        # The last stretch may fall away: the means agree to what it weighs.
        assert_allclose(one.with_it.mean(axis=1), one.change.with_it, rtol=0.05)
        assert_allclose(one.without.mean(axis=1), one.change.without, rtol=0.05)
