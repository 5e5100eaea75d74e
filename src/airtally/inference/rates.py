"""Loss rates by phase and fan state: how fast a particle in the rooms is removed, and by what."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats
from airtally.house.dates import Phase
from airtally.inference.prepare import FAN_CIRCULATE, FAN_HEATING, FAN_OFF, Epoch, Prepared
from airtally.inference.regimes import HOURS, SINKS, regime_rates
from airtally.parameters import Values


def epoch_rates(epoch: Epoch, fan: int, values: Values, shape: float) -> dict[str, Floats]:
    """Return each sink's rate in one fan state at a given pull of the weather. Each shape (N,). [1/s]"""
    rates = regime_rates(epoch.house, fan, values, np.array([shape]))
    return {name: np.asarray(rate[:, 0] / HOURS) for name, rate in rates.sinks.items()}


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
