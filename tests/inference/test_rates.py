"""Loss rates by hand, against the kernel's physics and against the tally's coefficients."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.scenario.full_home import PHASES, fan_runs, full_fit, full_house, made_log

from airtally.inference.model import PM25_SPLIT, physics_of
from airtally.inference.prepare import FAN_CIRCULATE, FAN_OFF, FAN_STATES, prepare
from airtally.inference.rates import epoch_rates, phase_rates
from airtally.inference.regimes import SINKS, fold_into_filter
from airtally.scenario.house_air import house_air
from airtally.tally.coefficients import coefficients


def positive(values):
    """Return draws in which no cleaner on trial is below nothing or above the duct's flow: the tally carries neither."""
    names = [i for i, name in enumerate(values.names) if name.startswith("cleaner/")]
    table = values.table.copy()
    table[:, names] = np.clip(table[:, names], 0.0, 0.8 * 0.4 * 3600.0)
    return replace(values, table=table)


@pytest.mark.parametrize("fan", range(FAN_STATES))
@pytest.mark.parametrize("epoch", range(3))
def test_the_sinks_add_up_to_the_loss_that_the_filter_of_the_readings_uses(epoch: int, fan: int) -> None:
    fit = full_fit()
    physics = physics_of(fit.prepared, fit.values)
    for level, pull in enumerate(fit.prepared.evidence.shape):
        rates = epoch_rates(fit.prepared.epochs[epoch], fan, fit.values, float(pull))
        total = sum(rates[name] for name in SINKS) * 3600.0
        assert_allclose(total, physics.loss[:, level, epoch * FAN_STATES + fan], rtol=1e-9)


@pytest.mark.parametrize("fan", range(FAN_STATES))
@pytest.mark.parametrize("epoch", range(3))
def test_the_sinks_are_those_of_the_tally_with_its_classes_weighted_as_pm25(epoch: int, fan: int) -> None:
    fit = full_fit()
    values = positive(fit.values)
    law = coefficients(house_air(fit.prepared.epochs[epoch].house, values, np.array([1.3])))
    rates = epoch_rates(fit.prepared.epochs[epoch], fan, values, 1.3)
    weighted = np.einsum("dck,c->dk", law.sinks[:, fan, :2, :, 0], PM25_SPLIT)
    for index, name in enumerate(SINKS):
        assert_allclose(rates[name], weighted[:, index], rtol=2e-3, atol=1e-9, err_msg=name)


def test_inlets_are_those_of_the_tally_too() -> None:
    fit = full_fit()
    values = positive(fit.values)
    physics = physics_of(fit.prepared, values)
    for epoch in range(3):
        law = coefficients(house_air(fit.prepared.epochs[epoch].house, values, fit.prepared.evidence.shape[:1]))
        ratio = np.ones((fit.draws, len(law.path_names)))
        leaks = fit.prepared.epochs[epoch].house.air_handler.return_leaks
        for index, leak in enumerate(leaks):
            if leak.zone != "outdoors":
                ratio[:, 1 + index] = values["buffer_ratio"]
        for fan in range(FAN_STATES):
            gains = np.einsum("dcp,c,dp->d", law.gains[:, fan, :2, :, 0], PM25_SPLIT, ratio) * 3600.0
            wanted = physics.gain[:, 0, epoch * FAN_STATES + fan]
            # Fine particles cannot come through at more than 1: there the classes' mean lies a little lower.
            assert_allclose(gains, wanted, rtol=0.02)


def test_the_filter_and_a_cleaner_before_it_by_hand() -> None:
    # Source: two collectors in series, 1 - (1 - a)(1 - b), first booked first.
    fit = full_fit()
    epoch = fit.prepared.epochs[1]
    rates = epoch_rates(epoch, FAN_CIRCULATE, fit.values, 1.0)
    flow = 0.4 * 3600.0 * fit.values["flow/circulate"]
    leak = np.minimum(fit.values["leak/boot"] + fit.values["leak/chase"], 0.8)
    behind = fit.values["leak/boot"]
    taken = np.minimum(fit.values["cleaner/bypass"] / ((1.0 - behind) * flow), 0.999)
    room = (1.0 - leak) * flow / fit.values["volume"]
    assert_allclose(rates["cleaner"] * 3600.0, room * taken, rtol=1e-9)
    assert_allclose(rates["filter"] * 3600.0, room * (1.0 - taken) * fit.values["filter/deep"], rtol=1e-9)
    assert_allclose(epoch_rates(epoch, FAN_OFF, fit.values, 1.0)["filter"], 0.0)


def test_a_phases_total_is_the_sum_of_its_sinks() -> None:
    fit = full_fit()
    for phase in fit.prepared.phases:
        for fan_on in (False, True):
            rates = phase_rates(fit.prepared, fit.values, phase, fan_on=fan_on)
            assert rates is not None
            assert_allclose(rates["total"], sum(rates[name] for name in SINKS), rtol=1e-12)


def test_fan_on_and_off_are_compared_at_equal_weather() -> None:
    # The fan of this house runs on cold mornings; its own weather must not enter the comparison.
    bare = replace(full_house(), ventilation=(), cleaners=())
    handler = replace(bare.air_handler, return_leaks=(), supply_leak_outside=None)
    bare = replace(bare, air_handler=handler)
    found = prepare(bare, made_log(), PHASES, fan_runs())
    values = full_fit().values
    fit = replace(
        full_fit(), values=replace(values, table=np.where(np.array(values.names) == "supply leak", 0.0, values.table))
    )
    for phase in PHASES:
        off = phase_rates(found, fit.values, phase, fan_on=False)
        on = phase_rates(found, fit.values, phase, fan_on=True)
        assert off is not None
        assert on is not None
        assert_allclose(on["air_exchange"], off["air_exchange"], rtol=1e-9)


def test_a_phase_without_steps_has_no_rates() -> None:
    fit = full_fit()
    empty = replace(PHASES[0], start=PHASES[0].start - 9e5, end=PHASES[0].start - 8e5)
    assert phase_rates(fit.prepared, fit.values, empty, fan_on=True) is None


def test_fan_on_is_answered_where_the_fan_never_ran() -> None:
    fit = full_fit()
    still = replace(fit.prepared, fan=np.zeros_like(fit.prepared.fan))
    rates = phase_rates(still, fit.values, PHASES[0], fan_on=True)
    assert rates is not None
    assert (rates["filter"] > 0.0).all()


def test_a_cleaner_below_nothing_becomes_a_poorer_filter_that_lets_the_same_share_pass() -> None:
    cleaned, efficiency = np.array([-0.3, 0.2, 0.0]), np.array([0.5, 0.5, 0.5])
    taken, left = fold_into_filter(cleaned, efficiency)
    assert_allclose(taken, [0.0, 0.2, 0.0])
    assert_allclose((1.0 - taken) * (1.0 - left), (1.0 - cleaned) * (1.0 - efficiency), rtol=1e-12)
    assert_allclose(left[1:], 0.5)


def test_a_flow_in_doubt_moves_what_the_filter_takes_and_nothing_else() -> None:
    fit = full_fit()
    name = "flow/circulate"
    column = fit.values.names.index(name)
    table = fit.values.table[:1].repeat(2, axis=0)
    table[:, column] = [1.0, 1.1]
    table[:, [i for i, n in enumerate(fit.values.names) if n.startswith(("cleaner/", "leak/"))]] = 1e-9
    rates = epoch_rates(fit.prepared.epochs[0], FAN_CIRCULATE, replace(fit.values, table=table), 1.0)
    assert_allclose(rates["filter"][1] / rates["filter"][0], 1.1, rtol=1e-6)
    assert_allclose(rates["settling"][1], rates["settling"][0])
    assert any(p.name == name and p.is_learnt for p in fit.prior.parameters)
