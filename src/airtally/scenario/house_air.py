"""From surveyed parts and fitted draws to the house as the tally sees it."""

from __future__ import annotations

from zlib import crc32

import numpy as np

from airtally.arrays import Floats
from airtally.house.parts import Cleaner, House, VentilationKind, ZoneKind
from airtally.inference.model import (
    PENETRATION_BY_CLASS,
    PM25_SPLIT,
    SETTLING_BY_CLASS,
    cleaner_parameter,
    filter_efficiency,
    filter_parameter,
    leak_parameter,
    supply_leak_parameter,
)
from airtally.inference.prepare import FAN_OFF, FAN_STATES
from airtally.inference.regimes import drawn_flow, fold_into_filter, runs_in
from airtally.parameters import Parameter, Prior, Values
from airtally.tally.house_air import HouseAir

HOURS = 3600.0
SPECIES = 4
"""Three particle classes and carbon dioxide."""
OUTDOORS, GARAGE, BUFFER = 0, 1, 2
"""Drivers: outdoor air, garage air, and air of crawlspace or attic."""


def draws_of(parameter: Parameter, values: Values) -> Floats:
    """Return a part's draws: fitted where the fit knew it, else from its own interval. Shape (N,).

    The seed of the latter comes from the part's name, so that the same part has the same draws in
    every scenario and contrasts do not carry noise of their own.
    """
    if parameter.name in values.names:
        return values[parameter.name]
    rng = np.random.default_rng(crc32(parameter.name.encode()))
    white = rng.normal(size=(values.count, 1))
    white[0] = 0.0
    return np.asarray(Prior(parameters=(parameter,)).values(white).table[:, 0])


def buffer_of(house: House, zone: str) -> int:
    """Return the driver behind a return leak's zone."""
    kinds = {z.id: z.kind for z in house.zones}
    if zone == "outdoors":
        return OUTDOORS
    return GARAGE if kinds.get(zone) is ZoneKind.GARAGE else BUFFER


def house_air(house: House, values: Values, shape: Floats) -> HouseAir:
    """Return the tally's house for one epoch's parts and all draws.

    Parameters
    ----------
    house : House
        With only the parts of the epoch (and any edits made).
    values : Values
        The fit's draws.
    shape : float64 array, shape (levels,)
        Levels of the weather's pull. [-]
    """
    count = values.count
    volume = values["volume"]
    exchange = values["air_exchange"] / HOURS
    settling = np.empty((count, FAN_STATES, SPECIES))
    for fan in range(FAN_STATES):
        base = values["settling"] * (values["settling_with_fan"] if fan != FAN_OFF else 1.0) / HOURS
        for c in range(3):
            settling[:, fan, c] = base * SETTLING_BY_CLASS[c]
        settling[:, fan, 3] = 0.0
    penetration = np.ones((count, SPECIES))
    for c in range(3):
        penetration[:, c] = np.minimum(values["penetration"] * PENETRATION_BY_CLASS[c], 1.0)
    handler = house.air_handler
    leaks = handler.return_leaks if handler is not None else ()
    leak = np.zeros((count, len(leaks)))
    for index, part in enumerate(leaks):
        leak[:, index] = draws_of(leak_parameter(part), values)
    total = leak.sum(axis=1, keepdims=True)
    leak = np.where(total > 0.8, leak * 0.8 / np.maximum(total, 1e-9), leak)
    lost = handler.supply_leak_outside if handler is not None else None
    cleaners = house.cleaners
    cleaner_flow = np.zeros((count, len(cleaners)))
    cleaner_efficiency = np.zeros((count, len(cleaners), SPECIES))
    for index, cleaner in enumerate(cleaners):
        # The fit knows clean air, not flow: carried as flow at the stated efficiency, nothing drawn again.
        efficiency = float(np.clip(cleaner.efficiency.value, 0.01, 0.9999))
        # A draw below zero (it may do nothing) is carried as nothing: no unit adds particles by moving air.
        clean_air = np.maximum(draws_of(cleaner_parameter(cleaner), values), 0.0)
        cleaner_flow[:, index] = clean_air / HOURS / efficiency
        cleaner_efficiency[:, index, :3] = efficiency
    fans = house.ventilation
    ventilation_efficiency = np.zeros((count, len(fans), SPECIES))
    for index, fan_part in enumerate(fans):
        ventilation_efficiency[:, index, :3] = fan_part.efficiency.value
    return HouseAir(
        volume=volume[:, None],
        infiltration=(exchange * volume)[:, None, None] * shape[None, :, None],
        penetration=penetration,
        settling=settling,
        handler_flow=np.stack([drawn_flow(house, fan, values) for fan in range(FAN_STATES)], axis=1),
        return_share=np.ones((count, 1)),
        supply_share=np.ones((count, 1)),
        return_leak=leak,
        supply_leak=np.zeros(count) if lost is None else draws_of(supply_leak_parameter(lost), values),
        leak_driver=np.array([buffer_of(house, part.zone) for part in leaks], dtype=np.int64),
        leak_before_filter=np.array([part.is_before_filter for part in leaks], dtype=np.bool_),
        filter_efficiency=_filter_by_class(house, values),
        cleaner_flow=cleaner_flow,
        cleaner_efficiency=cleaner_efficiency,
        cleaner_recirculated=np.zeros((count, len(cleaners))),
        cleaner_runs=np.array(
            [[_moves_air(c, fan) for fan in range(FAN_STATES)] for c in cleaners], dtype=np.float64
        ).reshape(len(cleaners), FAN_STATES),
        cleaner_zone=np.array([-1 if c.zone is None and not c.is_portable else 0 for c in cleaners], dtype=np.int64),
        cleaner_is_portable=np.array([c.is_portable for c in cleaners], dtype=np.bool_),
        ventilation_flow=np.array([[v.flow.value for v in fans]] * count).reshape(count, len(fans)),
        ventilation_efficiency=ventilation_efficiency,
        ventilation_runs=np.array(
            [[runs_in(v.runs_with, fan) for fan in range(FAN_STATES)] for v in fans], dtype=np.float64
        ).reshape(len(fans), FAN_STATES),
        ventilation_zone=np.zeros(len(fans), dtype=np.int64),
        ventilation_kind=tuple(VentilationKind(v.kind) for v in fans),
        door_flow=np.zeros((count, FAN_STATES, 1, 1)),
        other_outdoor_flow=np.zeros((count, 1, 1)),
    )


def _moves_air(cleaner: Cleaner, fan: int) -> float:
    # On a return duct without the main blower the loop cleans only itself: check values, airflow 4.
    if cleaner.zone is None and not cleaner.is_portable and fan == FAN_OFF:
        return 0.0
    return runs_in(cleaner.runs_with, fan)


def _filter_by_class(house: House, values: Values) -> Floats:
    """Return the filter's efficiency by class: the rating's pattern, scaled to the fitted PM2.5 value. Shape (N, species)."""
    table = np.zeros((values.count, SPECIES))
    handler = house.air_handler
    if handler is None or not handler.filters:
        return table
    part = handler.filters[0]
    # Efficiency has no fan state here: what a cleaner on trial lacks is taken off it at the mean of the speeds.
    flow = np.mean([drawn_flow(house, fan, values) for fan in range(FAN_STATES) if fan != FAN_OFF], axis=0)
    on_duct = sum(
        (draws_of(cleaner_parameter(c), values) for c in house.cleaners if c.zone is None and not c.is_portable),
        start=np.zeros(values.count),
    )
    shortfall = np.minimum(on_duct, 0.0) / HOURS / np.maximum(flow, 1e-9)
    _, fitted = fold_into_filter(shortfall, draws_of(filter_parameter(part), values))
    fitted = np.maximum(fitted, 0.0)
    pattern = np.array([e.value * (1.0 - part.bypass.value) for e in part.efficiency])
    rated = max(filter_efficiency(part), 1e-6)
    # Scaled in penetration's logarithm, so that no class passes below zero or above one.
    power = np.log(np.maximum(1.0 - fitted, 1e-6)) / np.log(max(1.0 - rated, 1e-6))
    passes = np.maximum(1.0 - np.minimum(pattern, 0.9995), 1e-6)[None, :] ** power[:, None]
    mean = PM25_SPLIT[0] * passes[:, 0] + PM25_SPLIT[1] * passes[:, 1]
    passes *= ((1.0 - fitted) / mean)[:, None]
    table[:, :3] = np.clip(1.0 - passes, 0.0, 0.9999)
    return table
