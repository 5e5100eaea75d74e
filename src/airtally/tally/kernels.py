"""The compiled chain: exact propagators, the open loop, the loop closed by a fan rule.

All loops of the engine stand in this one file, because the compiler's cache does not see changes in
compiled functions imported from elsewhere. No fast-math: NaN stays NaN, and results do not depend on
the order in which the compiler would like to add.

Layout: species in lanes of four (the last axis, padded), so that one vector instruction advances them
all. The extended vector v of length N holds zone concentrations (Z), then inputs held over the step:
drivers, then emissions of the zones that emit. One step is v[:Z] <- step[state] v, and the integral of
the concentrations over the step is integral[state] v, both exact for inputs constant over the step.
What enters through the inputs is worked out anew only where the state or the inputs change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Booleans, Floats, Integers

Indices = NDArray[np.int32]
"""Whole numbers of a step, short because every step reads them."""
LANES = 4
_F = TypeVar("_F", bound=Callable[..., object])
FAN_STATE_COUNT = 3
ON_ABOVE, OFF_BELOW, SHORTEST, LONGEST, SAMPLING, EARLY_FIRST, EARLY_LAST, EARLY_COLDER, CAP = range(9)
"""Columns of a rule."""
FAN_STARTS, REQUESTS, BY_RULE, EVENT_HOURS, COVERED_HOURS = range(3, 8)
"""Columns of a tally after the seconds in the three fan states."""
_TERMS = 18
_SMALL = 0.5
_SECONDS_PER_HOUR = 3600.0


def _compiled(function: _F) -> _F:
    return cast(_F, numba.njit(cache=True, error_model="numpy")(function))


def _compiled_parallel(function: _F) -> _F:
    return cast(_F, numba.njit(cache=True, error_model="numpy", parallel=True)(function))


@contextmanager
def lane_instructions() -> Iterator[None]:
    """Let the compiler merge the four lanes into vector instructions; no result changes by it.

    The setting is the compiler's own and matters only while a kernel is compiled, at its first call.
    """
    compiler: Any = numba.config
    before = compiler.SLP_VECTORIZE
    compiler.SLP_VECTORIZE = 1
    try:
        yield
    finally:
        compiler.SLP_VECTORIZE = before


@_compiled
def _fill(out: Floats, value: float) -> None:
    for i in range(out.shape[0]):
        for j in range(out.shape[1]):
            out[i, j] = value


@_compiled
def _copy(source: Floats, out: Floats) -> None:
    """Copy the rows of the shorter, element by element: quick to compile, unlike slices."""
    for i in range(min(source.shape[0], out.shape[0])):
        for j in range(out.shape[1]):
            out[i, j] = source[i, j]


@_compiled
def _multiply(a: Floats, b: Floats, out: Floats) -> None:
    size = a.shape[0]
    for i in range(size):
        for j in range(size):
            out[i, j] = 0.0
        for k in range(size):
            factor = a[i, k]
            for j in range(size):
                out[i, j] += factor * b[k, j]


@_compiled
def _add_doubled(first: Floats, second: Floats, scale: float, product: Floats) -> None:
    """``first += scale * second + product`` element by element, in place."""
    size = first.shape[0]
    for i in range(size):
        for j in range(size):
            first[i, j] += scale * second[i, j] + product[i, j]


@_compiled
def _propagate(rate: Floats, step: float, phi: Floats, psi: Floats, omega: Floats) -> None:
    """Fill exp(A h), its integral over the step, and the integral of that integral.

    A = B - q I with B non-negative, so every term of exp(A h) = exp(-q h) exp(B h) is non-negative
    and nothing cancels; short steps by series, then doubled. Integrals of s^k/k! exp(-q s) by
    backward recurrence, which is stable.
    """
    size = rate.shape[0]
    largest = 0.0
    for i in range(size):
        largest = max(largest, -rate[i, i])
        for j in range(size):
            if not np.isfinite(rate[i, j]):
                _fill(phi, np.nan)
                _fill(psi, np.nan)
                _fill(omega, np.nan)
                return
    doublings = 0
    short = step
    while largest * short > _SMALL:
        short *= 0.5
        doublings += 1
    power = np.zeros((size, size))
    shifted = np.empty((size, size))
    _copy(rate, shifted)
    for i in range(size):
        power[i, i] = 1.0
        shifted[i, i] += largest
    decay = np.exp(-largest * short)
    weight = np.empty(_TERMS + 2)
    term = np.empty(_TERMS + 2)
    term[0] = 1.0
    for k in range(1, _TERMS + 2):
        term[k] = term[k - 1] * short / k
    weight[_TERMS + 1] = decay * term[_TERMS + 1] * short / (_TERMS + 2)
    for k in range(_TERMS, -1, -1):
        weight[k] = largest * weight[k + 1] + decay * term[k + 1]
    product = np.empty((size, size))
    _fill(phi, 0.0)
    _fill(psi, 0.0)
    _fill(omega, 0.0)
    for k in range(_TERMS):
        for i in range(size):
            for j in range(size):
                phi[i, j] += decay * term[k] * power[i, j]
                psi[i, j] += weight[k] * power[i, j]
                omega[i, j] += (short * weight[k] - (k + 1) * weight[k + 1]) * power[i, j]
        _multiply(power, shifted, product)
        _copy(product, power)
    for _ in range(doublings):
        _multiply(phi, omega, product)
        _add_doubled(omega, psi, short, product)
        _multiply(phi, psi, product)
        _add_doubled(psi, product, 0.0, product)
        _multiply(phi, phi, product)
        _copy(product, phi)
        short *= 2.0


@_compiled_parallel
def propagators(rate: Floats, step: float, phi: Floats, psi: Floats, omega: Floats) -> None:
    """Fill exp(A h), its first and second integrals for a stack of rate matrices (M, Z, Z)."""
    for m in numba.prange(rate.shape[0]):
        _propagate(rate[m], step, phi[m], psi[m], omega[m])


@_compiled
def _apply(matrix: Floats, vector: Floats, first: int, last: int, base: Floats, out: Floats) -> None:
    """Fill ``out`` = ``base`` + matrix (Z, N, 4) times the rows first to last of the vector, each lane by itself."""
    for z in range(matrix.shape[0]):
        a = base[z, 0]
        b = base[z, 1]
        c = base[z, 2]
        d = base[z, 3]
        for j in range(first, last):
            a += matrix[z, j, 0] * vector[j, 0]
            b += matrix[z, j, 1] * vector[j, 1]
            c += matrix[z, j, 2] * vector[j, 2]
            d += matrix[z, j, 3] * vector[j, 3]
        out[z, 0] = a
        out[z, 1] = b
        out[z, 2] = c
        out[z, 3] = d


@_compiled
def _load(inputs: Floats, vector: Floats, zones: int) -> None:
    """Put the inputs that now begin to hold into the vector."""
    for i in range(inputs.shape[0]):
        for lane in range(LANES):
            vector[zones + i, lane] = inputs[i, lane]


@_compiled
def _book(vector: Floats, count: float, zones: int, total: Floats) -> None:
    """Add inputs that held for ``count`` steps to the running total of their state."""
    if count > 0.0:
        for j in range(zones, vector.shape[0]):
            for lane in range(LANES):
                total[j, lane] += count * vector[j, lane]


@_compiled
def _move(advanced: Floats, vector: Floats, total: Floats) -> None:
    """Book the concentrations the step began with, then put the advanced ones in their place."""
    for z in range(advanced.shape[0]):
        for lane in range(LANES):
            total[z, lane] += vector[z, lane]
            vector[z, lane] = advanced[z, lane]


@_compiled
def _advance_open(
    step: Floats,
    integral: Floats,
    states: Indices,
    rows: Floats,
    row: Indices,
    start: Floats,
    finish: Floats,
    total: Floats,
    ends: NDArray[np.float32],
    means: Floats,
    block: int,
) -> None:
    """Advance one draw; see :func:`open_loop` for the arrays."""
    zones, length = step.shape[1], step.shape[2]
    none = np.zeros((zones, LANES))
    advanced = np.empty((zones, LANES))
    entering = np.empty((zones, LANES))
    entering_integral = np.empty((zones, LANES))
    vector = np.zeros((length, LANES))
    _copy(start, vector)
    keeps_ends = ends.shape[0] > 0
    keeps_means = means.shape[0] > 0
    s, r, count = np.int32(0), np.int32(-1), 0.0
    for t in range(states.shape[0]):
        if states[t] != s or row[t] != r:
            _book(vector, count, zones, total[s])
            s, r, count = states[t], row[t], 0.0
            _load(rows[r], vector, zones)
            _apply(step[s], vector, zones, length, none, entering)
            if keeps_means:
                _apply(integral[s], vector, zones, length, none, entering_integral)
        count += 1.0
        if keeps_means:
            _apply(integral[s], vector, 0, zones, entering_integral, advanced)
            for z in range(zones):
                for lane in range(LANES):
                    means[t // block, z, lane] += advanced[z, lane]
        _apply(step[s], vector, 0, zones, entering, advanced)
        _move(advanced, vector, total[s])
        if keeps_ends:
            for z in range(zones):
                for lane in range(LANES):
                    ends[t, z, lane] = advanced[z, lane]
    _book(vector, count, zones, total[s])
    _copy(vector, finish)


@_compiled_parallel
def open_loop(
    step: Floats,
    integral: Floats,
    states: Indices,
    rows: Floats,
    row: Indices,
    start: Floats,
    finish: Floats,
    total: Floats,
    ends: NDArray[np.float32],
    means: Floats,
    block: int,
) -> None:
    """Advance every draw through given states.

    ``step``, ``integral`` (D, S, Z, N, 4); ``states`` (T,); ``rows`` (D or 1, U, N - Z, 4) different inputs and
    ``row`` (T,) which one holds; ``start`` (D, Z, 4). Filled: ``finish`` (D, Z, 4); ``total`` (D, S, N, 4) sums of
    v by state; ``ends`` (D, T or 0, Z, 4) values at the end of each step; ``means`` (D, B or 0, Z, 4) sums of
    integrals over blocks.
    """
    for d in numba.prange(step.shape[0]):
        _advance_open(
            step[d],
            integral[d],
            states,
            rows[min(np.int64(d), rows.shape[0] - 1)],
            row,
            start[d],
            finish[d],
            total[d],
            ends[d],
            means[d],
            block,
        )


@_compiled
def _is_sampling(second_of_hour: float, offsets: Floats, duration: float) -> bool:
    """Whether one of the sampling runs of the hour covers this second; NaN offsets are unused."""
    for k in range(offsets.shape[0]):
        since = second_of_hour - offsets[k]
        if since < 0.0:
            since += _SECONDS_PER_HOUR
        if since < duration:
            return True
    return False


@_compiled
def _is_early(second_of_day: float, first: float, last: float) -> bool:
    """Whether a second of the day lies in a window that may pass midnight."""
    if first <= last:
        return first <= second_of_day < last
    return second_of_day >= first or second_of_day < last


@_compiled
def _ask_by_clock(rule: Floats, offsets: Floats, now: NDArray[np.float32]) -> bool:
    """Whether hourly sampling or the early-run window asks; ``now`` is a row of the clock."""
    if _is_sampling(now[2], offsets, rule[SAMPLING]):
        return True
    return bool(now[1] < rule[EARLY_COLDER] and _is_early(now[0], rule[EARLY_FIRST], rule[EARLY_LAST]))


@_compiled
def _ask_by_level(
    rule: Floats, blocked: bool, is_known: bool, held: float, asked: bool, run: float
) -> tuple[bool, float, bool]:
    """Return whether the level asks, how long it has, and whether the held reading still counts.

    After the longest run the reading is dropped: a new request needs a new sample.
    """
    if not asked:
        return (not blocked) and is_known and held > rule[ON_ABOVE], 0.0, is_known
    if blocked or (run >= rule[SHORTEST] and is_known and held < rule[OFF_BELOW]):
        return False, 0.0, is_known
    if run >= rule[LONGEST]:
        return False, 0.0, False
    return True, run, is_known


@_compiled
def _note_fan(
    tally: Floats, fan: int, fan_before: int, asks: bool, asked_before: bool, demanded: int, step_length: float
) -> None:
    tally[fan] += step_length
    if fan > 0 and fan_before == 0:
        tally[FAN_STARTS] += 1.0
    if asks and not asked_before:
        tally[REQUESTS] += 1.0
    if asks and demanded == 0:
        tally[BY_RULE] += step_length


@_compiled
def _note_hour(tally: Floats, has_event: bool, is_covered: bool) -> None:
    if has_event:
        tally[EVENT_HOURS] += 1.0
        if is_covered:
            tally[COVERED_HOURS] += 1.0


@_compiled
def _reads(weights: Floats, vector: Floats, first: int, last: int) -> float:
    """Return what rows first to last of the vector add to a reading with no lag."""
    a = 0.0
    b = 0.0
    c = 0.0
    d = 0.0
    for j in range(first, last):
        a += weights[j, 0] * vector[j, 0]
        b += weights[j, 1] * vector[j, 1]
        c += weights[j, 2] * vector[j, 2]
        d += weights[j, 3] * vector[j, 3]
    return (a + b) + (c + d)


@_compiled
def _advance_closed(
    step: Floats,
    weights: Floats,
    conditions: Indices,
    demand: Indices,
    slots: Indices,
    rows: Floats,
    row: Indices,
    clock: NDArray[np.float32],
    lockout: Booleans,
    hour: Indices,
    is_event: Booleans,
    sensor: Floats,
    rule: Floats,
    offsets: Floats,
    step_length: float,
    start: Floats,
    finish: Floats,
    total: Floats,
    tally: Floats,
    trace_states: Integers,
    trace_asks: Booleans,
    trace_readings: Floats,
) -> None:
    """Advance one draw under one rule; see :func:`closed_loop` for the arrays."""
    zones, length = step.shape[1], step.shape[2]
    lag, purge, hold, needs_fan = sensor[0], sensor[1], sensor[2], sensor[3] > 0.0
    presence_count = total.shape[0] // step.shape[0]
    none = np.zeros((zones, LANES))
    advanced = np.empty((zones, LANES))
    entering = np.empty((zones, LANES))
    vector = np.zeros((length, LANES))
    _copy(start, vector)
    slot, r, count, reads_outside = np.int64(0), np.int32(-1), 0.0, 0.0
    follow = 1.0 - np.exp(-step_length / lag) if lag > 0.0 else 1.0
    traces = trace_states.shape[0] > 0
    is_known, held, age = False, 0.0, 0.0
    signal, signal_starts = 0.0, True
    level_asks, level_run, asked_before = False, 0.0, False
    fan_before, fan_run = 0, 0.0
    hour_now, hour_has_event, hour_is_covered = np.int64(-1), False, False
    for t in range(conditions.shape[0]):
        blocked = lockout[t] or (is_known and held > rule[CAP])
        level_asks, level_run, is_known = _ask_by_level(
            rule, blocked, is_known, held, level_asks, level_run + step_length
        )
        asks = level_asks or (not blocked and _ask_by_clock(rule, offsets, clock[t]))
        fan = max(demand[t], 1) if asks else demand[t]
        _note_fan(tally, fan, fan_before, asks, asked_before, demand[t], step_length)
        if traces:
            trace_asks[t] = asks
            trace_readings[t] = held if is_known else np.nan
            trace_states[t] = conditions[t] * FAN_STATE_COUNT + fan

        s = conditions[t] * FAN_STATE_COUNT + fan
        if s * presence_count + slots[t] != slot or row[t] != r:
            _book(vector, count, zones, total[slot])
            slot, r, count = s * presence_count + slots[t], row[t], 0.0
            _load(rows[r], vector, zones)
            _apply(step[s], vector, zones, length, none, entering)
            reads_outside = _reads(weights[s], vector, zones, weights.shape[1])
        count += 1.0
        _apply(step[s], vector, 0, zones, entering, advanced)
        _move(advanced, vector, total[slot])

        fan_run = fan_run + step_length if fan > 0 else 0.0
        age += step_length
        is_known = is_known and age <= hold
        is_valid = not needs_fan or (fan > 0 and fan_run >= purge)
        if fan > 0 or not needs_fan:
            true_reading = reads_outside + _reads(weights[s], vector, 0, zones)
            signal = true_reading if signal_starts else signal + follow * (true_reading - signal)
            signal_starts = False
        if is_valid:
            is_known, held, age = True, signal, 0.0
        if hour[t] != hour_now:
            _note_hour(tally, hour_has_event, hour_is_covered)
            hour_now, hour_has_event, hour_is_covered = hour[t], False, False
        hour_has_event = hour_has_event or is_event[t]
        hour_is_covered = hour_is_covered or is_valid
        fan_before = fan
        asked_before = asks
    _note_hour(tally, hour_has_event, hour_is_covered)
    _book(vector, count, zones, total[slot])
    _copy(vector, finish)


@_compiled_parallel
def closed_loop(
    step: Floats,
    weights: Floats,
    conditions: Indices,
    demand: Indices,
    slots: Indices,
    rows: Floats,
    row: Indices,
    clock: NDArray[np.float32],
    lockout: Booleans,
    hour: Indices,
    is_event: Booleans,
    sensor: Floats,
    rules: Floats,
    offsets: Floats,
    step_length: float,
    start: Floats,
    finish: Floats,
    total: Floats,
    tally: Floats,
    trace_states: Integers,
    trace_asks: Booleans,
    trace_readings: Floats,
) -> None:
    """Run every rule against every draw.

    ``step`` (D, S, Z, N, 4) with S = conditions x fan states; ``weights`` (D, S, M, 4) sensor weights on the first
    M rows of the vector; ``slots`` (T,) presence pattern; ``rows``, ``row`` as in the open loop; ``clock`` (T, 3)
    local second of day, outdoor temperature, second of hour; ``hour`` (T,) number of the clock hour; ``sensor``
    (4,) lag, purge, hold, needs fan; ``rules`` (N, 9); ``offsets`` (N, M). Filled: ``finish`` (N, D, Z, 4);
    ``total`` (N, D, S x K, N, 4) sums of v by state and presence; ``tally`` (N, D, 8) seconds off, circulating,
    heating, fan starts, requests, seconds run by the rule alone, event hours, covered event hours; traces
    (N, D, T or 0).
    """
    draws = step.shape[0]
    for pair in numba.prange(rules.shape[0] * draws):
        n = np.int64(pair) // draws
        d = np.int64(pair) % draws
        _advance_closed(
            step[d],
            weights[d],
            conditions,
            demand,
            slots,
            rows[min(d, rows.shape[0] - 1)],
            row,
            clock,
            lockout,
            hour,
            is_event,
            sensor,
            rules[n],
            offsets[n],
            step_length,
            start[d],
            finish[n, d],
            total[n, d],
            tally[n, d],
            trace_states[n, d],
            trace_asks[n, d],
            trace_readings[n, d],
        )
