"""The invented house keeps its own books: nothing is lost, sources add up, a second method agrees."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp

from airtally.demo import kernel
from airtally.demo.aerosols import PENETRATION, SETTLING, SOURCES, outdoor_bins, source_bins
from airtally.demo.balance import account_of
from airtally.demo.plan import ROOM_SHARES
from airtally.demo.simulate import Run, World, epoch_table, house_constants, run

Reference = tuple[World, Run]


def test_what_came_in_less_what_left_is_what_is_stored(reference: Reference) -> None:
    world, actual = reference
    account = account_of(world, actual)
    came = sum(account.inlets.values())
    left = sum(account.sinks.values())
    change = np.diff(account.stored)
    # The account is worked out apart from the stepping; agreement is to rounding of the largest store.
    assert_allclose((came - left)[1:] * 60.0, change, rtol=0.0, atol=1e-9 * account.stored.max())
    assert account.stored.max() > 1e3
    assert all(values.min() >= 0.0 for values in (*account.sinks.values(), *account.inlets.values()))


def test_sources_carried_apart_add_up_to_the_run_that_carries_them_together(reference: Reference) -> None:
    world, actual = reference
    together = run(world, follow=actual, is_tagged=False)
    assert_allclose(together.tagged[:, :, 0], actual.tagged.sum(axis=2), rtol=1e-9, atol=1e-9)
    assert_allclose(together.out[:, kernel.FAN], actual.out[:, kernel.FAN])


@pytest.mark.parametrize("source", ["outdoor", "cooking", "workshop"])
def test_the_tag_of_a_source_is_what_a_run_without_it_lacks(reference: Reference, source: str) -> None:
    world, actual = reference
    span = (0, 30 * 1440)
    without = run(world, span=span, follow=actual, without=source, is_tagged=False)
    lacking = actual.tagged.sum(axis=2)[: span[1]] - without.tagged[: span[1], :, 0]
    part = actual.tagged[: span[1], :, SOURCES.index(source)]
    if source == "outdoor":  # air that was there at the start counts as outdoor air in both runs
        lacking, part = lacking[2880:], part[2880:]
    assert part.max() > 1.0
    assert_allclose(lacking, part, rtol=1e-6, atol=1e-6)


def test_volume_closes_in_every_zone_whatever_runs(reference: Reference) -> None:
    world, _ = reference
    rng = np.random.default_rng(7)
    epochs, house = epoch_table(world), house_constants(world)
    move, terms = np.zeros((6, 6)), np.zeros((6, 6))
    for _ in range(300):
        now = world.drivers[rng.integers(world.time.size)].copy()
        now[kernel.HOOD : kernel.FIRE + 1] = rng.integers(0, 2, size=4)
        epoch = epochs[rng.integers(len(epochs))]
        flow = float(rng.choice([0.0, epoch[kernel.CIRCULATE_FLOW], epoch[kernel.HEATING_FLOW]]))
        kernel.air_flows(epoch, now, house, ROOM_SHARES, flow, 20.0, move, terms)
        into = move.sum(axis=1) + terms[0] + terms[1] + terms[4]
        out = move.sum(axis=0) + terms[2] + terms[3]
        assert_allclose(into, out, rtol=0.0, atol=1e-12)
        assert move.min() >= 0.0
        assert terms.min() >= -1e-15


def test_a_library_solver_finds_the_same_hour(reference: Reference) -> None:
    """Second method: scipy's DOP853 restarted each minute on equations written out again here, one fine bin."""
    world, actual = reference
    first, count, b = world.index(world.dates.at(40, 18.9)), 60, 2
    plan, epochs = world.plan, epoch_table(world)
    move, terms = np.zeros((6, 6)), np.zeros((6, 6))
    bins = outdoor_bins(plan.outdoor_coarse)
    means = []
    start = run(world, span=(first, first + count), follow=actual, is_tagged=False)
    air = 0.45 * np.full(6, world.outdoor[first, b])
    for n in range(first, first + count):
        epoch, flow, now = epochs[world.rows[n, 0]], actual.out[n, kernel.FLOW], world.drivers[n]
        indoor = actual.out[n - 1, kernel.INDOOR_TEMPERATURE]
        kernel.air_flows(epoch, now, house_constants(world), ROOM_SHARES, flow, indoor, move, terms)
        hours = start.out[n, kernel.FAN_HOURS]
        aged = 1.0 + 0.12 * min(hours / 400.0, 1.0)
        filtered = 1.0 - min(epoch[kernel.EFFICIENCY + b] * aged, 0.995) * (1.0 - epoch[kernel.BYPASS])
        single, again = plan.cleaner_efficiency[b], epoch[kernel.RECIRCULATED]
        clean_air = epoch[kernel.CLEANER_FLOW] * single * (1.0 - again) / (1.0 - again * (1.0 - single))
        passes = filtered * (1.0 - clean_air / flow) if flow > 0.0 else 1.0
        loss = SETTLING[b] * plan.settling_factor / 3600.0 * (plan.fan_settling if flow > 0.0 else 1.0)
        emitted = world.household.particles[n].copy()
        emitted[:, kernel.COOKING] *= 1.0 - epoch[kernel.HOOD_CAPTURE] * now[kernel.HOOD]
        source = emitted @ source_bins()[:, b]
        outdoor = world.weather.at_house[n] * bins[b]

        def slope(_t: float, state: np.ndarray) -> np.ndarray:
            gain = move @ state - move.sum(axis=0) * state
            inward = np.where(np.arange(6) < 5, PENETRATION[b], 0.95)
            gain += terms[0] * inward * outdoor + terms[1] * state[5] - (terms[2] + terms[3]) * state  # noqa: B023
            gain += terms[5] * (outdoor - state) + source - loss * plan.volume * state  # noqa: B023
            if flow > 0.0:  # noqa: B023
                back = terms[3, :5] @ state[:5] + flow * epoch[kernel.LEAK] * state[5]  # noqa: B023
                gain[:5] += terms[4, :5] / flow * passes * back  # noqa: B023
            return np.asarray(gain / plan.volume)

        found = solve_ivp(slope, (0.0, 60.0), air, method="DOP853", rtol=1e-10, atol=1e-12, dense_output=True)
        means.append(found.sol(np.linspace(0.0, 60.0, 61)))
        air = found.y[:, -1]
    solved = np.array([np.trapezoid(values, dx=1.0, axis=1) / 60.0 for values in means])
    # Runge-Kutta steps of 30 s and a trapezoid over seconds; the fastest zone turns over in a few minutes.
    assert_allclose(start.rooms[first : first + count, :, b], solved, rtol=2e-4)
    assert (actual.out[first : first + count, kernel.FLOW] > 0.0).any()


def test_the_fan_rule_starts_the_fan_on_what_its_sensor_reads(reference: Reference) -> None:
    world, actual = reference
    asked = actual.out[:, kernel.BY_RULE] > 0.5
    starts = np.flatnonzero(asked[1:] & ~asked[:-1]) + 1
    assert starts.size > 10
    reading = actual.out[:, kernel.DUCT_READING]
    for n in starts:
        rule = world.rules[world.rows[n, 1]]
        assert world.rows[n, 1] >= 0
        assert 0.5 * (reading[n - 1] + reading[n - 2]) > rule[kernel.ON_ABOVE]
    off_days = np.array(world.dates.rule_days) == 0
    day = world.dates.day_index(world.time)
    for index in np.flatnonzero(off_days):
        assert not (actual.out[day == 42 + index, kernel.FAN] == 1).any()
