"""What the readings leave open is said, each time with the reading that would settle it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from tests.recovery.as_job import as_house, as_log
from tests.recovery.homes import simulate_home
from tests.scenario.full_home import full_fit

from airtally.inference.identify import what_is_not_identified


def named(values, prepared=None, gain_spread=None) -> set[str]:
    fit = full_fit()
    parameters = tuple(
        replace(p, spread=gain_spread) if gain_spread and p.name.startswith("gain/") else p
        for p in fit.prior.parameters
    )
    prior = replace(fit.prior, parameters=parameters)
    found = what_is_not_identified(prepared or fit.prepared, prior, values, np.random.default_rng(0))
    assert all(item.why and item.settle for item in found)
    return {item.quantity for item in found}


def test_draws_as_wide_as_the_prior_are_said_to_be_unidentified() -> None:
    fit = full_fit()
    white = np.random.default_rng(1).normal(size=(400, len(fit.prior.parameters)))
    wide = named(fit.prior.values(white))
    assert {"phases/start/fan_off", "phases/works/fan_on", "cleaner/bypass", "filter/thin", "air_exchange"} <= wide


def test_draws_much_narrower_than_the_prior_are_not() -> None:
    fit = full_fit()
    white = 0.1 * np.random.default_rng(1).normal(size=(400, len(fit.prior.parameters)))
    narrow = named(fit.prior.values(white))
    assert not {q for q in narrow if q.startswith(("phases", "cleaner", "filter"))}


def test_what_the_fit_never_learns_is_always_named() -> None:
    fit = full_fit()
    still = named(fit.prior.values(np.zeros((3, len(fit.prior.parameters))) + np.array([[0.0], [0.01], [-0.01]])))
    assert {"leak/platform", "leak/boot", "leak/chase"} <= still


def test_a_duct_monitor_alone_leaves_the_rooms_level_open() -> None:
    fit = full_fit()
    duct_only = replace(fit.prepared, sensors=fit.prepared.sensors[1:])
    assert "room level" in named(fit.values, duct_only, gain_spread=0.3)
    assert "room level" not in named(fit.values, duct_only, gain_spread=0.1)  # a gain as well known as a duct's flow
    assert "room level" not in named(fit.values, gain_spread=0.3)


def test_the_made_homes_for_recovery_are_what_the_survey_says_of_them() -> None:
    home = simulate_home(np.random.default_rng(0), weeks=2)
    house, phases = as_house(home)
    log, (begin, finish, _) = as_log(home)
    assert phases[0].end == phases[1].start
    assert np.isclose((finish - begin).sum(), 60.0 * home.fan_on.sum())
    time, _ = log.series(log.streams[0])
    inside = np.any((time[:, None] >= begin[None]) & (time[:, None] < finish[None]), axis=1)
    assert inside.all()  # an in-duct monitor has rows only while the fan ran
    assert house.cleaners[0].since == phases[0].end
