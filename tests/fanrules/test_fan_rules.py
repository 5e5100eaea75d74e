"""Fan rules replayed in closed loop over the made record."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.scenario.full_home import full_baseline, full_fit, guess

from airtally.fanrules.search import CAP, DEFAULT_TARGET, NEVER, RuleAnswer, RuleOutcome, _choose, _Stage, answer
from airtally.house.parts import AirSide, Placement, RuleSetting
from airtally.inference.prepare import FAN_HEATING, SensorUse
from airtally.scenario.mapping import mapping_at


@cache
def room_answer() -> RuleAnswer:
    found = answer(full_fit(), full_baseline())
    assert found is not None
    return found


@cache
def duct_stage() -> _Stage:
    fit = full_fit()
    mapping = mapping_at(fit, "D", float(fit.prepared.time[-1]))
    assert mapping is not None
    return _Stage.of(fit, full_baseline(), mapping, 60.0)


def rule(on: float, *, sampling: float = 0.0, placement: str = "D", **fields: float) -> RuleSetting:
    usual = {"minimum_run": 600.0, "maximum_run": 4 * 3600.0}
    return RuleSetting(
        id="tried",
        placement=placement,
        on_above=on,
        off_below=0.67 * on,
        sampling_seconds_per_hour=sampling,
        **(usual | fields),
    )


def heating_hours() -> float:
    fan = full_fit().prepared.fan
    return float(np.mean(fan == FAN_HEATING) * 24.0)


def test_the_two_ends_are_equipment_only_and_always_on() -> None:
    found = room_answer()
    assert_allclose(found.idle.fan_hours, heating_hours(), rtol=1e-6)
    assert_allclose(found.always.fan_hours, 24.0, rtol=0.01)
    assert_allclose(found.idle.rule_hours, 0.0)
    assert (found.always.exposure < found.idle.exposure).mean() > 0.8


def test_equipment_demand_is_never_held_off() -> None:
    for on in (1e-9, 20e-9, NEVER):
        outcome = duct_stage().run([rule(on, sampling=300.0)])[0]
        assert (outcome.fan_hours >= heating_hours() - 1e-6).all()


def test_nothing_is_asked_above_the_cap() -> None:
    # A fire must not be spread: with every reading above the cap the rule asks for nothing at all.
    fit, baseline = full_fit(), full_baseline()
    smoky = replace(baseline, emission=baseline.emission + 50.0 * CAP / 3600.0)
    level = fit.level + 10.0 * CAP
    mapping = mapping_at(fit, "L", float(fit.prepared.time[-1]))
    assert mapping is not None
    stage = _Stage.of(replace(fit, level=level), smoky, mapping, 60.0)
    outcome = stage.run([rule(10e-9, placement="L")])[0]
    assert outcome.rule_hours.max() < 0.05
    assert_allclose(outcome.fan_hours, heating_hours(), atol=0.05)


def test_the_chosen_rule_regrets_nothing_below_zero_and_lies_between_the_ends() -> None:
    found = room_answer()
    assert (found.regret >= 0.0).all()
    chosen, idle, always = (float(np.median(o.exposure)) for o in (found.chosen, found.idle, found.always))
    assert min(always, idle) * 0.98 <= chosen <= idle * 1.001
    assert (found.chosen.fan_hours <= found.always.fan_hours + 1e-6).all()


def test_the_chosen_rule_has_the_fewest_fan_hours_of_those_that_gain_nine_tenths() -> None:
    def outcome(name: str, exposure: float, hours: float) -> RuleOutcome:
        one = np.ones(3)
        return RuleOutcome(
            setting=replace(rule(1e-9), id=name),
            exposure=exposure * one,
            fan_hours=hours * one,
            rule_hours=one,
            starts=one,
            energy=None,
            coverage=one,
        )

    ruled = [outcome("best", 5e-9, 12.0), outcome("near", 5.4e-9, 6.0), outcome("poor", 7e-9, 2.0)]
    assert _choose(ruled, 10e-9, 5e-9).setting.id == "near"
    assert _choose(ruled[:1], 10e-9, 5e-9).setting.id == "best"


def test_the_threshold_is_the_target_mapped_on_the_sensor() -> None:
    found = room_answer()
    assert found.target == DEFAULT_TARGET
    assert found.mapping.side is AirSide.ROOM
    assert_allclose(found.duct_threshold, full_fit().values["gain/rooms"] * DEFAULT_TARGET, rtol=1e-6)
    own = replace(
        full_fit(),
        prepared=replace(full_fit().prepared, house=replace(full_fit().house, target=guess(8e-9, 7e-9, 9e-9, "kg/m3"))),
    )
    changed = answer(own, full_baseline())
    assert changed is not None
    assert changed.target == 8e-9


def test_a_lower_threshold_asks_for_more_fan_and_a_cleaner_house() -> None:
    low, high = duct_stage().run([rule(4e-9, sampling=600.0), rule(40e-9, sampling=600.0)])
    assert (low.fan_hours > high.fan_hours).all()
    assert np.median(low.exposure) < np.median(high.exposure)


def test_an_in_duct_sensor_is_blind_without_sampling_and_sees_more_the_longer_it_samples() -> None:
    none, short, long = duct_stage().run([rule(8e-9, sampling=s) for s in (0.0, 240.0, 900.0)])
    assert np.nanmedian(none.coverage) < np.nanmedian(long.coverage)
    assert np.nanmedian(short.coverage) <= np.nanmedian(long.coverage)
    assert np.nanmedian(long.coverage) > 0.9
    assert (none.rule_hours < long.rule_hours).all()


def test_sampling_shorter_than_the_purge_sees_nothing_but_costs_its_minutes() -> None:
    nothing, useless = duct_stage().run([rule(8e-9), rule(8e-9, sampling=60.0)])
    assert (useless.fan_hours > nothing.fan_hours).all()
    assert np.nanmedian(useless.coverage) == pytest.approx(np.nanmedian(nothing.coverage), abs=0.1)


def test_energy_is_hours_times_the_measured_power() -> None:
    outcome = duct_stage().run([rule(NEVER)])[0]
    assert outcome.energy is not None
    assert_allclose(outcome.energy, heating_hours() * 3600.0 * 450.0, rtol=1e-6)


def test_the_rule_as_set_is_replayed_beside_the_proposed_one() -> None:
    fit = full_fit()
    as_set = rule(12e-9, placement="L")
    found = answer(
        replace(fit, prepared=replace(fit.prepared, house=replace(fit.house, rule_settings=(as_set,)))), full_baseline()
    )
    assert found is not None
    assert found.as_set is not None
    assert found.as_set.setting == as_set
    assert room_answer().as_set is None


def test_no_air_handler_or_no_sensor_of_the_fit_means_no_rule() -> None:
    fit, baseline = full_fit(), full_baseline()
    bare = replace(fit, prepared=replace(fit.prepared, house=replace(fit.house, air_handler=None)))
    assert answer(bare, baseline) is None
    lost = rule(12e-9, placement="attic")
    with_lost = replace(
        fit.house,
        rule_settings=(lost,),
        placements=(*fit.house.placements, Placement(id="attic", instrument="L", air_side=AirSide.ROOM, zone="garage")),
    )
    assert answer(replace(fit, prepared=replace(fit.prepared, house=with_lost)), baseline) is None


def test_a_house_with_a_duct_sensor_alone_gets_sampling_rules() -> None:
    fit = full_fit()
    duct_first = replace(
        fit.prepared,
        sensors=(SensorUse(name="D", side=AirSide.RETURN_BEFORE_FILTER, placements=("D",)), fit.prepared.sensors[1]),
    )
    as_duct = replace(fit, prepared=replace(duct_first, sensors=tuple(reversed(duct_first.sensors))))
    found = answer(as_duct, full_baseline())
    assert found is not None
    assert found.placement == "D"
    minutes = {o.setting.sampling_seconds_per_hour for o in found.by_sampling}
    assert found.least_sampling in minutes
    assert len(minutes) >= 4
