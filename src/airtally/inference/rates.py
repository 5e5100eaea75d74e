"""Loss rates by phase and fan state: how fast a particle in the rooms is removed, and by what."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats
from airtally.house.dates import Phase
from airtally.house.parts import RunsWith
from airtally.inference.model import fold_into_filter, handler_flow, runs_in
from airtally.inference.parameters import Values
from airtally.inference.prepare import FAN_CIRCULATE, FAN_HEATING, FAN_OFF, Epoch, Prepared

SINKS = ("air_exchange", "settling", "filter", "cleaner", "portable")
"""Names of the ways out, in the order pages show them."""
HOURS = 3600.0


def epoch_rates(epoch: Epoch, fan: int, values: Values, shape: float) -> dict[str, Floats]:
    """Return each sink's rate in one fan state at a given pull of the weather. Each shape (N,). [1/s]

    On the return duct air meets the cleaner before the filter, so what the cleaner took the filter
    cannot take again.
    """
    house = epoch.house
    volume = values["volume"]
    zero = np.zeros(values.count)
    flow = handler_flow(house, fan) * HOURS
    handler = house.air_handler
    leak = zero
    after = zero
    efficiency = zero
    if handler is not None and fan != FAN_OFF:
        for part in handler.return_leaks:
            leak = leak + values[f"leak/{part.id}"]
            if not part.is_before_filter:
                after = after + values[f"leak/{part.id}"]
        if handler.filters:
            efficiency = values[f"filter/{handler.filters[0].id}"]
    leak = np.minimum(leak, 0.8)
    on_duct = zero
    own = zero
    portable = zero
    for cleaner in house.cleaners:
        air = values[f"cleaner/{cleaner.id}"] * runs_in(cleaner.runs_with, fan)
        if cleaner.is_portable:
            portable = portable + air
        elif cleaner.zone is None:
            on_duct = on_duct + air
        else:
            own = own + air
    cleaned = np.minimum(on_duct / ((1.0 - np.minimum(after, 0.8)) * flow), 0.999) if flow > 0.0 else zero
    if handler is not None and handler.filters:
        cleaned, efficiency = fold_into_filter(cleaned, efficiency)
    ventilation = zero
    for part_fan in house.ventilation:
        if part_fan.runs_with is RunsWith.AIR_HANDLER and fan == FAN_OFF:
            continue
        ventilation = ventilation + part_fan.flow.value * HOURS
    through = (1.0 - leak) * flow
    per_hour = {
        "air_exchange": values["air_exchange"] * shape + (leak * flow + ventilation) / volume,
        "settling": values["settling"] * (values["settling_with_fan"] if fan != FAN_OFF else 1.0),
        "filter": through * (1.0 - cleaned) * efficiency / volume,
        "cleaner": (through * cleaned + own) / volume,
        "portable": portable / volume,
    }
    return {name: np.asarray(rate / HOURS) for name, rate in per_hour.items()}


def phase_rates(prepared: Prepared, values: Values, phase: Phase, *, fan_on: bool) -> dict[str, Floats] | None:
    """Return the mean rate of each sink and ``total`` over a phase's steps with the fan on or off. [1/s]

    Weighted by time over the epochs, speeds and weather of the phase; a phase in which the fan never
    was in that state is answered at the phase's mean weather with the slower speed, as a rate is a
    property of the house whether or not it was used. None if the phase has no steps.
    """
    steps = prepared.phase_steps(phase)
    if steps.stop <= steps.start:
        return None
    wanted = (FAN_CIRCULATE, FAN_HEATING) if fan_on else (FAN_OFF,)
    shape = prepared.evidence.shape[prepared.evidence.level]
    total: dict[str, Floats] = {name: np.zeros(values.count) for name in SINKS}
    weight = 0.0
    for epoch in prepared.epochs:
        first, last = max(epoch.first, steps.start), min(epoch.last, steps.stop)
        if last <= first:
            continue
        inside = slice(first, last)
        for fan in wanted:
            here = prepared.fan[inside] == fan
            share = float(here.sum())
            if share == 0.0:
                continue
            # Weather is taken over the whole stretch, not over the hours the fan chose to run, so that
            # on and off are compared at equal pull of the weather.
            rates = epoch_rates(epoch, fan, values, float(shape[inside].mean()))
            for name in SINKS:
                total[name] = total[name] + share * rates[name]
            weight += share
    if weight == 0.0:
        epoch = next(e for e in reversed(prepared.epochs) if e.first < steps.stop)
        rates = epoch_rates(epoch, wanted[0], values, float(shape[steps].mean()))
        total = {name: rates[name] for name in SINKS}
        weight = 1.0
    mean = {name: np.asarray(value / weight) for name, value in total.items()}
    mean["total"] = np.asarray(np.sum([mean[name] for name in SINKS], axis=0))
    return mean
