"""What removes and what brings particles in one equipment regime: an epoch's parts in one state of the central fan.

The one balance of the one-volume model. The fit, the rates that pages show and the proof all read it here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.house.parts import FanSpeed, House, RunsWith, VentilationKind
from airtally.inference.prepare import FAN_CIRCULATE, FAN_OFF
from airtally.parameters import Values
from airtally.physics.infiltration.superposition import through_cracks

SINKS = ("air_exchange", "settling", "filter", "cleaner", "portable")
"""Names of the ways out, in the order pages show them."""
HOURS = 3600.0
SUPPLY_LEAK = "supply leak"
"""Name of the parameter: share of the handler's flow that supply ducts lose outdoors. [-]"""
FLOW = "flow/"
"""Begins the parameter of each speed of the central fan: its flow through the rooms over the surveyed one. [-]"""
MOST_LEAK = 0.8
"""No more of the handler's flow than this is taken as leak air. [-]"""


def handler_speed(house: House, fan: int) -> FanSpeed | None:
    """Return the speed the central fan runs at in a fan state; another stands in for one not surveyed."""
    if house.air_handler is None or fan == FAN_OFF:
        return None
    by_name = {speed.name: speed for speed in house.air_handler.speeds}
    order = ("circulate", "heating", "cooling") if fan == FAN_CIRCULATE else ("heating", "cooling", "circulate")
    return next((by_name[name] for name in order if name in by_name), None)


def handler_flow(house: House, fan: int) -> float:
    """Return the central fan's flow in a fan state as surveyed. [m3/s]"""
    speed = handler_speed(house, fan)
    return 0.0 if speed is None else float(speed.flow.value)


def drawn_flow(house: House, fan: int, values: Values) -> Floats:
    """Return the central fan's flow in a fan state for each set of values. Shape (N,). [m3/s]"""
    speed = handler_speed(house, fan)
    if speed is None:
        return np.zeros(values.count)
    name = FLOW + speed.name
    share = values[name] if name in values.names else np.ones(values.count)
    return np.asarray(speed.flow.value * share)


def runs_in(runs_with: RunsWith, fan: int) -> float:
    """Return 1 if a device moves air in a fan state; one with its own switch is taken as on, and said so."""
    return 1.0 if runs_with is not RunsWith.AIR_HANDLER or fan != FAN_OFF else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RegimeRates:
    """Rates of one regime for N parameter sets and L levels of the weather's pull.

    ``sinks`` by name and ``gain`` (outdoor PM2.5 brought in, as a rate on the outdoor level) have shape (N, L)
    [1/h]. ``passes`` is what passes cleaner and filter, ``from_rooms`` the part of the handler's flow that
    comes from the rooms, ``dirty_before`` and ``dirty_after`` the leak air ahead of and behind the filter,
    each times its level over outdoors; shape (N,) [-].
    """

    sinks: dict[str, Floats]
    gain: Floats
    passes: Floats
    from_rooms: Floats
    dirty_before: Floats
    dirty_after: Floats

    @property
    def loss(self) -> Floats:
        """Return all sinks together. Shape (N, L). [1/h]"""
        return np.asarray(np.sum([self.sinks[name] for name in SINKS], axis=0))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Leaks:
    """Return leaks over handler flow, ahead of and behind the filter, clean (share) and with their particles (dirty)."""

    before: Floats
    after: Floats
    dirty_before: Floats
    dirty_after: Floats
    supply: Floats
    """What supply ducts lose outdoors."""


def _leaks(house: House, fan: int, values: Values) -> _Leaks:
    zero = np.zeros(values.count)
    share = {True: zero, False: zero}
    dirty = {True: zero, False: zero}
    if house.air_handler is not None and fan != FAN_OFF:
        for part in house.air_handler.return_leaks:
            own = values[f"leak/{part.id}"]
            over_outdoors = 1.0 if part.zone == "outdoors" else values["buffer_ratio"]
            share[part.is_before_filter] = share[part.is_before_filter] + own
            dirty[part.is_before_filter] = dirty[part.is_before_filter] + own * over_outdoors
    lost = values[SUPPLY_LEAK] if fan != FAN_OFF and SUPPLY_LEAK in values.names else zero
    return _Leaks(
        before=share[True], after=share[False], dirty_before=dirty[True], dirty_after=dirty[False], supply=lost
    )


def _cleaners(house: House, fan: int, values: Values) -> tuple[Floats, Floats, Floats]:
    """Return clean air of cleaners on the duct, of others, and of portable ones. Each shape (N,). [m3/h]"""
    on_duct = own = portable = np.zeros(values.count)
    for cleaner in house.cleaners:
        air = values[f"cleaner/{cleaner.id}"] * runs_in(cleaner.runs_with, fan)
        if cleaner.is_portable:
            portable = portable + air
        elif cleaner.zone is None:
            on_duct = on_duct + air
        else:
            own = own + air
    return on_duct, own, portable


def fold_into_filter(cleaned: Floats, efficiency: Floats) -> tuple[Floats, Floats]:
    """Return shares taken by on-duct cleaner and filter with a cleaner below nothing made good by the filter.

    Where both came on one day the readings tell only what passes both. A draw that gives the filter too much
    and the cleaner less than nothing stands for a poorer filter and no cleaner: the product is kept.
    """
    together = 1.0 - (1.0 - cleaned) * (1.0 - efficiency)
    return np.maximum(cleaned, 0.0), np.where(cleaned < 0.0, together, efficiency)


def regime_rates(house: House, fan: int, values: Values, pull: Floats) -> RegimeRates:
    """Return what removes and brings particles in one regime.

    On the return duct air meets the cleaner before the filter, so what the cleaner took the filter
    cannot take again. With the central fan off a cleaner on the duct cleans only the duct. Leak air and
    fans that move air one way lean on the leaks of the house, see
    :func:`~airtally.physics.infiltration.superposition.through_cracks`.

    Parameters
    ----------
    house : House
        With only the parts of the epoch.
    fan : int
        Fan state.
    values : Values
        N parameter sets.
    pull : float64 array, shape (L,)
        The weather's pull on air exchange, near 1. [-]
    """
    volume = values["volume"]
    flow = drawn_flow(house, fan, values) * HOURS
    leaks = _leaks(house, fan, values)
    on_duct, own, portable = _cleaners(house, fan, values)
    filters = house.air_handler.filters if house.air_handler is not None and fan != FAN_OFF else ()
    efficiency = values[f"filter/{filters[0].id}"] if filters else np.zeros(values.count)
    leak = np.minimum(leaks.before + leaks.after, MOST_LEAK)
    # It takes its share of what flows where it sits: all the handler moves but what leaks in behind the filter.
    at_filter = (1.0 - np.minimum(leaks.after, MOST_LEAK)) * flow
    moves = handler_flow(house, fan) > 0.0
    cleaned = np.minimum(on_duct / at_filter, 0.999) if moves else np.zeros(values.count)
    if filters:
        cleaned, efficiency = fold_into_filter(cleaned, efficiency)
    passes = (1.0 - cleaned) * (1.0 - efficiency)
    through = (1.0 - leak) * flow / volume

    kept = 1.0 - leaks.supply
    brought = leak * flow / volume
    unbalanced = (leak - leaks.supply) * flow / volume
    # Air that the supply ducts lose has passed cleaner and filter: what it still carries leaves the house with it.
    lost = leaks.supply * (through * passes - flow / volume)
    gain = (leaks.dirty_before * passes + leaks.dirty_after) * flow / volume * kept
    for part in house.ventilation:
        rate = part.flow.value * HOURS * runs_in(part.runs_with, fan) / volume
        if part.kind is VentilationKind.EXHAUST:
            unbalanced = unbalanced - rate
            continue
        brought = brought + rate
        gain = gain + rate * (1.0 - part.efficiency.value)
        if part.kind is VentilationKind.SUPPLY:
            unbalanced = unbalanced + rate
    cracks = np.asarray(through_cracks(values["air_exchange"][:, None] * pull, unbalanced[:, None]))

    def at_any_pull(rate: Floats) -> Floats:
        return np.broadcast_to(rate[:, None], cracks.shape)

    settling = values["settling"] * (values["settling_with_fan"] if fan != FAN_OFF else 1.0)
    return RegimeRates(
        sinks={
            "air_exchange": cracks + (brought + lost)[:, None],
            "settling": at_any_pull(settling),
            "filter": at_any_pull(through * (1.0 - cleaned) * efficiency),
            "cleaner": at_any_pull(through * cleaned + own / volume),
            "portable": at_any_pull(portable / volume),
        },
        gain=values["penetration"][:, None] * cracks + gain[:, None],
        passes=passes,
        from_rooms=1.0 - leak,
        dirty_before=leaks.dirty_before,
        dirty_after=leaks.dirty_after,
    )
