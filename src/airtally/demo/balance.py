"""The simulation's own account of the rooms' PM2.5, worked out from what the kernel returned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.demo import kernel
from airtally.demo.aerosols import FINE, PENETRATION, SETTLING, outdoor_bins
from airtally.demo.plan import EXPONENT, GARAGE, ROOMS, Epoch, Plan
from airtally.demo.simulate import FIRST_INDOOR, Run, World


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """By minute: ``sinks`` and ``inlets`` by name [ug/s], ``mass`` the minute mean and ``stored`` its end value [ug]."""

    sinks: dict[str, Floats]
    inlets: dict[str, Floats]
    mass: Floats
    stored: Floats


def passing(epoch: Epoch, plan: Plan, flow: float, hours: Floats | float) -> tuple[Floats, Floats]:
    """Return what passes the filter and the cleaner, by fine bin on the last axis. [-]"""
    aged = 1.0 + 0.12 * np.minimum(np.asarray(hours)[..., None] / 400.0, 1.0)
    clean = np.minimum(epoch.efficiency[:FINE] * aged, 0.995) * (1.0 - epoch.bypass)
    single = plan.cleaner_efficiency[:FINE]
    again = epoch.recirculated
    once = epoch.cleaner_flow * single * (1.0 - again) / (1.0 - again * (1.0 - single))
    by_cleaner = 1.0 - once / flow if flow > 0.0 else np.ones(FINE)
    by_filter = 1.0 - clean if flow > 0.0 else np.ones_like(clean)
    return by_filter, by_cleaner


def natural_flow(world: World, actual: Run) -> Floats:
    """Return outdoor air by stack and wind alone, by minute. [m3/s]"""
    indoor = actual.out[:, kernel.INDOOR_TEMPERATURE]
    before = np.concatenate([[FIRST_INDOOR], indoor[:-1]])
    stack = 1.06 * 9.81 * 6.0 * np.abs(before - world.weather.temperature) / 280.0
    wind = 0.5 * 1.06 * world.weather.wind**2
    pressure = np.maximum(world.plan.stack_factor * stack + world.plan.wind_factor * wind, 0.02)
    coefficient = np.array([epoch.leak_coefficient for epoch in world.plan.epochs])[world.rows[:, 0]]
    return np.asarray(coefficient * pressure**EXPONENT)


def account_of(world: World, actual: Run) -> Account:
    """Return what came into and left the five rooms, minute by minute; in - out = change of ``stored``."""
    plan, flow = world.plan, actual.out[:, kernel.FLOW]
    level = actual.rooms[:, :, :FINE]
    outdoor = world.weather.at_house[:, None] * outdoor_bins(plan.outdoor_coarse)[:FINE]
    terms = actual.flows[:, :, :ROOMS]
    fan_factor = np.where(actual.out[:, kernel.FAN] > 0, plan.fan_settling, 1.0)
    leaving = np.einsum("nz,nzb->n", terms[:, 2] + terms[:, 5], level[:, :ROOMS])
    settled = (
        np.einsum("z,nzb,b->n", plan.volume[:ROOMS], level[:, :ROOMS], SETTLING[:FINE]) * plan.settling_factor / 3600.0
    )
    back = np.einsum("nz,nzb->nb", terms[:, 3], level[:, :ROOMS])
    by_filter, by_cleaner, leak, supply_leak, capture = _by_minute(world, actual)
    source = level[:, GARAGE] if plan.leak_is_garage else outdoor
    by_leak = (flow * leak)[:, None] * source
    ahead = back + by_leak
    behind = ahead * by_cleaner * by_filter
    emission = world.household.particles[:, :ROOMS].sum(axis=1)
    emission[:, kernel.COOKING] = emission[:, kernel.COOKING] * (1.0 - capture * world.household.hood)
    return Account(
        sinks={
            "air_exchange": leaving + (behind * supply_leak[:, None]).sum(axis=1),
            "settling": settled * fan_factor,
            "filter": (ahead * by_cleaner * (1.0 - by_filter)).sum(axis=1),
            "cleaner": (ahead * (1.0 - by_cleaner)).sum(axis=1),
        },
        inlets={
            "infiltration": terms[:, 0].sum(axis=1) * (outdoor @ PENETRATION[:FINE]),
            "garage_wall": np.einsum("nz,nb->n", terms[:, 1], level[:, GARAGE]),
            "return_leak": by_leak.sum(axis=1),
            "window": terms[:, 5].sum(axis=1) * outdoor.sum(axis=1),
            "emission": emission.sum(axis=1),
        },
        mass=np.einsum("z,nzb->n", plan.volume[:ROOMS], level[:, :ROOMS]),
        stored=actual.out[:, kernel.STORED],
    )


def _by_minute(world: World, actual: Run) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Return by minute what passes filter and cleaner (minutes, 6), return leak, supply leak and hood capture."""
    size = world.time.size
    by_filter, by_cleaner = np.ones((size, FINE)), np.ones((size, FINE))
    leak, supply_leak, capture = np.zeros(size), np.zeros(size), np.zeros(size)
    flow = actual.out[:, kernel.FLOW]
    for number, epoch in enumerate(world.plan.epochs):
        here = world.rows[:, 0] == number
        leak[here], supply_leak[here], capture[here] = epoch.leak, epoch.supply_leak, epoch.hood_capture
        for each in (epoch.circulate_flow, epoch.heating_flow):
            chosen = here & (flow == each)
            by_filter[chosen], by_cleaner[chosen] = passing(
                epoch, world.plan, each, actual.out[chosen, kernel.FAN_HOURS]
            )
    return by_filter, by_cleaner, leak, supply_leak, capture
