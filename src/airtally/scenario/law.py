"""One linear law for a whole period: the coefficients of every epoch side by side, and which holds when."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.house.dates import house_at
from airtally.house.parts import House
from airtally.inference.fit import Fit
from airtally.inference.prepare import FAN_CIRCULATE, FAN_OFF, FAN_STATES
from airtally.scenario.house_air import BUFFER, GARAGE, OUTDOORS, buffer_of, house_air
from airtally.scenario.scenario import AS_RECORDED, FanPlan, Scenario
from airtally.tally.coefficients import Coefficients, coefficients

PATH_OF_DRIVER = {OUTDOORS: "return leak outdoors", GARAGE: "return leak garage", BUFFER: "return leak buffer space"}
"""How the path through a return leak is called by what lies behind it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """Coefficients over all epochs and the state in force at each step.

    Attributes
    ----------
    coefficients : Coefficients
        States of all epochs one after another.
    states : int64 array, shape (steps,)
        State in force.
    houses : tuple of House
        The house of each epoch, edits made.
    bases : int64 array, shape (steps,)
        State in force with the fan off; add the fan state.
    """

    coefficients: Coefficients
    states: Integers
    houses: tuple[House, ...]
    bases: Integers


def law_of(fit: Fit, scenario: Scenario = AS_RECORDED) -> Law:
    """Return the law of a scenario's house for a fit's draws."""
    prepared = fit.prepared
    shape = prepared.evidence.shape
    houses = []
    parts = []
    bases = np.empty(prepared.steps, dtype=np.int64)
    for index, epoch in enumerate(prepared.epochs):
        house = epoch.house if scenario.house_as_of is None else house_at(fit.house, scenario.house_as_of)
        for edit in scenario.edits:
            house = edit(house)
        houses.append(house)
        parts.append(_named(coefficients(house_air(house, fit.values, shape)), house, fit.values["buffer_ratio"]))
        inside = slice(epoch.first, epoch.last)
        bases[inside] = index * shape.size * FAN_STATES + prepared.evidence.level[inside] * FAN_STATES
    return Law(coefficients=join(parts), states=bases + fan_of(fit, scenario.fan), houses=tuple(houses), bases=bases)


def _named(law: Coefficients, house: House, buffer_ratio: Floats) -> Coefficients:
    """Return the law with paths named by what they are, and buffer air written as a ratio of outdoor air.

    Nobody measured the buffer spaces: their level is the outdoor one times a draw from its prior, so
    that one driver, outdoors, serves all paths.
    """
    leaks = house.air_handler.return_leaks if house.air_handler is not None else ()
    names = []
    gains = law.gains.copy()
    for path, name in enumerate(law.path_names):
        kind, _, number = name.rpartition(" ")
        if kind == "return leak":
            leak = leaks[int(number) - 1]
            driver = buffer_of(house, leak.zone)
            names.append(f"{PATH_OF_DRIVER[driver]}: {leak.id}")
            if driver != OUTDOORS:
                gains[:, :, :3, path] *= buffer_ratio[:, None, None, None]
        elif kind == "ventilation":
            names.append(f"ventilation: {house.ventilation[int(number) - 1].id}")
        else:
            names.append(name)
    return replace(law, gains=gains, path_names=tuple(names), path_driver=np.zeros(len(names), dtype=np.int64))


def fan_of(fit: Fit, plan: FanPlan) -> Integers:
    """Return the fan state at each step under a plan. Shape (steps,)."""
    recorded = fit.prepared.fan
    if plan is FanPlan.ALWAYS:
        return np.where(recorded == FAN_OFF, FAN_CIRCULATE, recorded)
    if plan is FanPlan.NEVER:
        return np.where(recorded == FAN_CIRCULATE, FAN_OFF, recorded)
    return recorded


def join(parts: list[Coefficients]) -> Coefficients:
    """Return the coefficients of several houses with their states one after another and their paths by name."""
    names = list(dict.fromkeys(name for part in parts for name in part.path_names))
    drivers = {name: int(d) for part in parts for name, d in zip(part.path_names, part.path_driver, strict=True)}
    gains = []
    for part in parts:
        shape = list(part.gains.shape)
        shape[3] = len(names)
        table = np.zeros(shape)
        for path, name in enumerate(part.path_names):
            table[:, :, :, names.index(name)] = part.gains[:, :, :, path]
        gains.append(table)
    return replace(
        parts[0],
        rate=np.concatenate([p.rate for p in parts], axis=1),
        sinks=np.concatenate([p.sinks for p in parts], axis=1),
        gains=np.concatenate(gains, axis=1),
        path_driver=np.array([drivers[name] for name in names], dtype=np.int64),
        path_names=tuple(names),
    )
