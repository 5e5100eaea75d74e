"""The loop closed by a fan rule: rooms, duct, sensor and rule advance together, for many rules and draws."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Booleans, Floats, Integers
from airtally.errors import InputError
from airtally.tally.coefficients import Coefficients
from airtally.tally.engine import close_account
from airtally.tally.house_air import FAN_STATES
from airtally.tally.kernels import (
    BY_RULE,
    COVERED_HOURS,
    EVENT_HOURS,
    FAN_STARTS,
    LANES,
    REQUESTS,
    closed_loop,
    lane_instructions,
)
from airtally.tally.rules import Course, RuleRun, RuleValues, Sensor
from airtally.tally.stepping import Inputs, Steps, from_lanes, lanes_of, start_in_lanes, steps_of

_PAIR_BYTES = 128 * 2**20
_MOST_PATTERNS = 64


def run_with_rule(
    law: Coefficients,
    course: Course,
    inputs: Inputs,
    start: Floats | None,
    dt: float,
    *,
    rules: RuleValues,
    sensor: Sensor,
    traces: bool = False,
) -> RuleRun:
    """Run every rule against every draw in closed loop.

    Each step: the rule decides from the reading held so far; the fan takes the higher of equipment demand
    and, if asked, circulation; rooms advance exactly; the sensor sees the end of the step.

    Parameters
    ----------
    law : Coefficients
        Linear law of the air for all states (W O F).
    course : Course
        What the rule does not choose.
    inputs : Inputs
        Packed drivers and emissions (:func:`airtally.tally.stepping.inputs_of`).
    start : array (C, Z) or (D, C, Z), or None
        Concentration before the first step. [kg/m3]
    dt : float
        Step. [s]
    rules, sensor
        What asks, and what it reads.
    traces : bool
        Keep states, requests and held readings of every step.

    Raises
    ------
    InputError
        Where shapes disagree, a state does not exist, or presence has too many different rows.

    Notes
    -----
    Checked against: the open loop replayed with the states chosen, and a plain NumPy controller (tests).
    """
    _check_course(law, course, inputs)
    occurs = np.bincount(course.conditions) > 0
    kept, conditions = np.flatnonzero(occurs), (np.cumsum(occurs) - 1)[course.conditions]
    fans = len(FAN_STATES)
    chosen = (kept[:, None] * fans + np.arange(fans)).ravel()
    used = replace(law, rate=law.rate[:, chosen], sinks=law.sinks[:, chosen], gains=law.gains[:, chosen])
    steps = steps_of(used, inputs, dt)
    patterns, slots = _patterns(course.presence)
    weights = _sensor_weights(sensor, chosen, inputs)
    begin = start_in_lanes(start, law)
    draws, states, _, length, _ = steps.step.shape
    pair_bytes = draws * states * len(patterns) * length * LANES * 8
    chunk = max(1, _PAIR_BYTES // pair_bytes)
    rows, offsets = rules.columns(), np.ascontiguousarray(rules.sampling_offsets, dtype=float)
    fixed = (
        steps.step,
        weights,
        np.asarray(conditions, dtype=np.int32),
        np.asarray(course.demand, dtype=np.int32),
        slots,
        inputs.rows,
        inputs.row,
        _clock(course),
        np.asarray(course.lockout, dtype=np.bool_),
        _hours(course.local_seconds),
        np.asarray(course.is_event, dtype=np.bool_),
        np.array([sensor.response_time, sensor.purge, sensor.hold, float(sensor.view.needs_fan)]),
    )
    parts = []
    for first in range(0, len(rows), chunk):
        count = min(chunk, len(rows) - first)
        traced = (count, draws, inputs.step_count if traces else 0)
        total = np.zeros((count, draws, states * len(patterns), length, LANES))
        finish = np.empty((count, *begin.shape))
        tally = np.zeros((count, draws, 8))
        trace = (np.zeros(traced, dtype=np.int64), np.zeros(traced, dtype=np.bool_), np.zeros(traced))
        several = slice(first, first + count)
        with lane_instructions():
            closed_loop(*fixed, rows[several], offsets[several], float(dt), begin, finish, total, tally, *trace)
        parts.append(_outcome(used, steps, inputs, begin, finish, total, tally, trace, patterns, slots, chosen))
    return _joined(parts, traces=traces)


def _check_course(law: Coefficients, course: Course, inputs: Inputs) -> None:
    steps, zones = inputs.step_count, law.volume.shape[1]
    for name in ("conditions", "demand", "local_seconds", "outdoor_temperature", "lockout", "is_event"):
        if np.shape(getattr(course, name)) != (steps,):
            raise InputError(f"{name} has shape {np.shape(getattr(course, name))}; inputs have {steps} steps")
    if course.presence.shape != (steps, zones):
        raise InputError(f"presence has shape {course.presence.shape}; wanted (T, Z) = {(steps, zones)}")
    most = law.rate.shape[1] // len(FAN_STATES)
    if np.any(course.conditions < 0) or np.any(course.conditions >= most):
        raise InputError(f"conditions must lie in 0 to {most - 1}")
    if np.any(course.demand < 0) or np.any(course.demand >= len(FAN_STATES)):
        raise InputError("demand must be 0 off, 1 circulate or 2 heating")


def _patterns(presence: Floats) -> tuple[Floats, NDArray[np.int32]]:
    """Return the different rows of presence (K, Z) and the row of each step (T,)."""
    is_new = np.ones(len(presence), dtype=np.bool_)
    is_new[1:] = (presence[1:] != presence[:-1]).any(axis=1)
    patterns, place = np.unique(presence[is_new], axis=0, return_inverse=True)
    slots = place[np.cumsum(is_new) - 1]
    if len(patterns) > _MOST_PATTERNS:
        raise InputError(f"presence has {len(patterns)} different rows; at most {_MOST_PATTERNS} are kept apart")
    return patterns, np.asarray(slots, dtype=np.int32)


def _clock(course: Course) -> NDArray[np.float32]:
    """Return second of day, outdoor temperature and second of hour of each step, (T, 3)."""
    seconds = np.asarray(course.local_seconds, dtype=float)
    return np.column_stack(
        [seconds, np.asarray(course.outdoor_temperature, dtype=float), np.mod(seconds, 3600.0)]
    ).astype(np.float32)


def _hours(local_seconds: Floats) -> NDArray[np.int32]:
    """Return a number for each clock hour as it passes, (T,)."""
    hour = np.floor(np.asarray(local_seconds, dtype=float) / 3600.0)
    return np.concatenate([[0], np.cumsum(np.diff(hour) != 0)]).astype(np.int32)


def _sensor_weights(sensor: Sensor, states: Integers, inputs: Inputs) -> Floats:
    """Return weights (D, S, Z + R, 4) of the reading on the vector of the compiled chain."""
    view = sensor.view
    if view.drivers.shape[-1] > inputs.driver_count:
        raise InputError(f"the sensor sees {view.drivers.shape[-1]} drivers; {inputs.driver_count} were given")
    missing = inputs.driver_count - view.drivers.shape[-1]
    seen = np.concatenate([view.zones, view.drivers, np.zeros((*view.drivers.shape[:-1], missing))], axis=-1)
    share = np.atleast_2d(sensor.species_weight) * np.atleast_1d(sensor.gain)[:, None]
    species = share.shape[1]
    if species != inputs.species_count:
        raise InputError(f"species_weight has {species} species; inputs have {inputs.species_count}")
    return np.ascontiguousarray(lanes_of(seen[:, states, :species] * share[:, None, :, None]))


def _outcome(
    law: Coefficients,
    steps: Steps,
    inputs: Inputs,
    begin: Floats,
    finish: Floats,
    total: Floats,
    tally: Floats,
    trace: tuple[Integers, Booleans, Floats],
    patterns: Floats,
    slots: NDArray[np.int32],
    chosen: Integers,
) -> RuleRun:
    count, draws, _, length, lanes = total.shape
    by_pattern = total.reshape(count, draws, -1, len(patterns), length, lanes)
    integrals, account = close_account(law, steps, inputs, begin, finish, by_pattern.sum(axis=3))
    over_patterns = np.einsum("dszjl,ndskjl->ndkzl", steps.integral, by_pattern, optimize=True)
    exposed = np.einsum("kz,ndkzl->ndl", patterns, over_patterns)[..., : steps.species_count]
    present = float(patterns.sum(axis=1) @ np.bincount(slots)) * steps.length
    duration = inputs.step_count * steps.length
    return RuleRun(
        exposure=exposed / (present if present > 0.0 else np.nan),
        mean=integrals.sum(axis=-3) / duration,
        fan_seconds=tally[..., : len(FAN_STATES)],
        rule_seconds=tally[..., BY_RULE],
        fan_starts=tally[..., FAN_STARTS],
        requests=tally[..., REQUESTS],
        event_hours=tally[..., EVENT_HOURS],
        covered_share=np.divide(
            tally[..., COVERED_HOURS],
            tally[..., EVENT_HOURS],
            out=np.full(tally.shape[:-1], np.nan),
            where=tally[..., EVENT_HOURS] > 0.0,
        ),
        account=account,
        end=from_lanes(finish, steps.species_count),
        states=chosen[trace[0]],
        asks=trace[1],
        readings=trace[2],
    )


def _joined(parts: list[RuleRun], *, traces: bool) -> RuleRun:
    """Put the chunks of rules together again."""
    if not parts:
        raise InputError("no rule was given")
    amounts: dict[str, Any] = {
        name: np.concatenate([getattr(part.account, name) for part in parts])
        for name in ("inlets", "emitted", "removed", "transported", "stored")
    }
    account = replace(parts[0].account, **amounts)
    arrays: dict[str, Any] = {
        field.name: np.concatenate([getattr(part, field.name) for part in parts])
        for field in fields(RuleRun)
        if field.name != "account"
    }
    if not traces:
        arrays |= {"states": None, "asks": None, "readings": None}
    return RuleRun(account=account, **arrays)
