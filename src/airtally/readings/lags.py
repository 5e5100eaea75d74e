"""By how much one logger's clock is off another's, told from events that both see."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from airtally.arrays import Booleans, Floats, Integers
from airtally.readings.coverage import usual_step

LARGEST_GRID = 400_000
"""Steps of the grid on which onsets are compared."""
CLIP = 8.0
"""An onset counts for at most this many spreads, so that one event does not decide. [-]"""
LEAST_SPREAD = 0.75
"""Spread of the match at unrelated lags, smoothed over three: 0.61 for unrelated steps, 1 for steps that drift. [-]"""
CHANCE = 1e-3
"""A best lag that unrelated series would show more often than this tells nothing. [-] Judgement."""
CHANCE_OF_PART = 1e-6
"""The same for a part of a series whose bounds were chosen after looking. [-] Judgement."""
FEW_EVENTS = 5
"""Fewer common onsets than this tell nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockOffset:
    """By how much the second series lags behind the first, response time included."""

    offset: float
    """Positive: the second shows an event later. NaN if nothing can be told. [s]"""
    confidence: float
    """0 if the best lag may be chance, else one minus the ratio of the second best lag's match to the best's. [-]"""
    events: int
    """Onsets of the first series that were compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetChange:
    """A jump of the lag between two series: a clock was set, or a doubled hour went unnoticed."""

    time: float
    """Around this instant on the first series' clock. [s, POSIX UTC]"""
    before: float
    """Lag before it. [s]"""
    after: float
    """Lag after it. [s]"""
    confidence: float
    """Lower of the confidences of the two lags. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Onsets:
    """Onsets of two series on one grid of time, and the match at each lag."""

    start: float
    step: float
    first: Floats
    second: Floats
    lags: Integers


def clock_offset(time_a: Floats, value_a: Floats, time_b: Floats, value_b: Floats, window: float) -> ClockOffset:
    """Return by how much series b lags behind series a.

    Parameters
    ----------
    time_a, value_a : float array, shape (readings a,)
        The series that leads, or is trusted, in order of time: a fan's current or state, a reference, outdoor air.
        [s, POSIX UTC] [any unit]
    time_b, value_b : float array, shape (readings b,)
        The series whose clock is looked at. [s, POSIX UTC] [any unit]
    window : float
        Largest lag looked for, to either side. [s]

    Returns
    -------
    offset : ClockOffset
        To a fraction of the coarser series' step.

    Notes
    -----
    Rises of a are compared with rises, and with falls, of b at every lag within the window, on a grid of the
    coarser step; the lag with the best match counts. Rises are measured in robust spreads and clipped.
    NaN in either series is left out.
    """
    onsets = _onsets(time_a, value_a, time_b, value_b, window)
    if onsets is None:
        return ClockOffset(offset=math.nan, confidence=0.0, events=0)
    best = ClockOffset(offset=math.nan, confidence=0.0, events=0)
    best_height = 0.0
    for sign in (1.0, -1.0):
        match = _match(onsets.first, _rises(sign * onsets.second), onsets.lags)
        offset, height, confidence = _peak(match, onsets)
        if height > best_height:
            events = int(np.count_nonzero(_rises(onsets.first) > 1.0))
            best_height = height
            best = ClockOffset(offset=offset, confidence=confidence if events >= FEW_EVENTS else 0.0, events=events)
    return best


def offset_changes(
    time_a: Floats,
    value_a: Floats,
    time_b: Floats,
    value_b: Floats,
    window: float,
    block: float = 43200.0,
    smallest: float = 600.0,
) -> tuple[OffsetChange, ...]:
    """Return the jumps of the lag of series b behind series a.

    Parameters
    ----------
    time_a, value_a, time_b, value_b, window
        As for :func:`clock_offset`.
    block : float, optional
        The lag is taken to be constant within blocks of this length; the jump is then placed more finely. [s]
    smallest : float, optional
        Jumps below this are not looked for. [s]

    Notes
    -----
    The match at each lag is summed by block; the path of lags with the greatest total match is found where each
    jump costs as much as chance could gain by one. A jump is reported if the lag on each side stands by itself.
    """
    onsets = _onsets(time_a, value_a, time_b, value_b, window)
    if onsets is None:
        return ()
    signs = [_rises(sign * onsets.second) for sign in (1.0, -1.0)]
    heights = [_peak(_match(onsets.first, one, onsets.lags), onsets)[1] for one in signs]
    second = signs[int(np.argmax(heights))]
    first = _rises(onsets.first)
    per_block = max(int(block / onsets.step), 1)
    score = _block_scores(first, second, onsets.lags, per_block)
    path = _best_path(score)
    edges = np.flatnonzero(np.abs(np.diff(path)) * onsets.step >= smallest) + 1
    bounds = [0, *edges.tolist(), path.size]
    changes = []
    for index in range(1, len(bounds) - 1):
        left, at, right = bounds[index - 1], bounds[index], bounds[index + 1]
        before, after = int(onsets.lags[path[at - 1]]), int(onsets.lags[path[at]])
        turn = _place_jump(first, second, before, after, (left, at, right), per_block)
        sides = [
            _segment_offset(first, second, onsets, left * per_block, turn),
            _segment_offset(first, second, onsets, turn, right * per_block),
        ]
        confidence = min(side[1] for side in sides)
        if confidence > 0.0 and abs(sides[1][0] - sides[0][0]) >= smallest:
            changes.append(
                OffsetChange(
                    time=float(onsets.start + turn * onsets.step),
                    before=sides[0][0],
                    after=sides[1][0],
                    confidence=confidence,
                )
            )
    return tuple(changes)


def _onsets(time_a: Floats, value_a: Floats, time_b: Floats, value_b: Floats, window: float) -> _Onsets | None:
    """Return the changes of both series from step to step of a common grid; None if they cannot be compared."""
    series = []
    for time, value in ((time_a, value_a), (time_b, value_b)):
        good = np.isfinite(time) & np.isfinite(value)
        order = np.argsort(time[good], kind="stable")
        series.append((time[good][order], value[good][order]))
    if min(one[0].size for one in series) < 20 or not window > 0.0:
        return None
    start = max(one[0][0] for one in series) - window
    end = min(one[0][-1] for one in series) + window
    switched = [np.unique(value[:5000]).size <= 3 for _, value in series]
    steps = [usual_step(time) for time, _ in series]
    step = max([one for one, is_switch in zip(steps, switched, strict=True) if not is_switch] or [min(steps)])
    step = max(step, (end - start) / LARGEST_GRID)
    if not (end > start and 0.0 < step < window):
        return None
    count = int((end - start) / step) + 1
    grids = [
        _switched_on_grid(time, value, start, step, count) if is_switch else _on_grid(time, value, start, step, count)
        for (time, value), is_switch in zip(series, switched, strict=True)
    ]
    reach = int(window / step)
    return _Onsets(
        start=float(start),
        step=float(step),
        first=_changes(grids[0]),
        second=_changes(grids[1]),
        lags=np.arange(-reach, reach + 1, dtype=np.int64),
    )


def _on_grid(time: Floats, value: Floats, start: float, step: float, count: int) -> Floats:
    """Return means by grid step, NaN where there is no reading."""
    cell = np.floor((time - start) / step).astype(np.int64)
    inside = (cell >= 0) & (cell < count)
    number = np.bincount(cell[inside], minlength=count)
    total = np.bincount(cell[inside], weights=value[inside], minlength=count)
    return np.asarray(np.where(number > 0, total / np.maximum(number, 1), np.nan), dtype=np.float64)


def _switched_on_grid(time: Floats, value: Floats, start: float, step: float, count: int) -> Floats:
    """Return the state that holds at the end of each grid step."""
    last = np.searchsorted(time, start + step * np.arange(1, count + 1), side="left") - 1
    return np.asarray(np.where(last >= 0, value[np.clip(last, 0, None)], np.nan), dtype=np.float64)


def _changes(grid: Floats) -> Floats:
    """Return changes from step to step in robust spreads, 0 where unknown.

    A grid step without reading between two with readings is bridged, for the two steps rarely fit exactly.
    """
    filled = grid.copy()
    lone = np.flatnonzero(np.isnan(grid[1:-1]) & np.isfinite(grid[:-2]) & np.isfinite(grid[2:])) + 1
    filled[lone] = grid[lone - 1]
    change = np.diff(filled, prepend=filled[:1])
    change[~np.isfinite(change)] = 0.0
    moving = np.abs(change[change != 0.0])
    if not moving.size:
        return np.zeros(grid.size)
    usual = float(np.median(moving))
    scale = max(3.0 * usual, float(np.quantile(moving, 0.8)) / 2.0)
    if float(moving.max()) <= 2.0 * usual and moving.size < 0.5 * change.size:
        scale = 0.5 * usual  # a switch: still in between, and every change of it is an onset
    return np.asarray(np.clip(change / scale, -CLIP, CLIP), dtype=np.float64)


def _rises(change: Floats) -> Floats:
    return np.asarray(np.maximum(change, 0.0), dtype=np.float64)


def _match(change: Floats, second: Floats, lags: Integers) -> Floats:
    """Return the sum of products of rises at each lag, by Fourier transform, over its spread were there no relation."""
    first = _rises(change)
    unrelated = math.sqrt(
        float(np.sum((first - first.mean()) ** 2) * np.sum((second - second.mean()) ** 2)) / first.size
    )
    if unrelated == 0.0:
        return np.zeros(lags.size)
    size = 1 << int(np.ceil(np.log2(2 * first.size)))
    spectrum = np.conj(np.fft.rfft(first - first.mean(), size)) * np.fft.rfft(second - second.mean(), size)
    return np.asarray(np.fft.irfft(spectrum, size)[lags] / unrelated, dtype=np.float64)


def _peak(match: Floats, onsets: _Onsets, least_chance: float = CHANCE) -> tuple[float, float, float]:
    """Return the best lag [s], its height in robust spreads, and the confidence in it."""
    smooth = np.convolve(match, [0.25, 0.5, 0.25], mode="same")
    best = int(smooth.argmax())
    near: Booleans = np.abs(np.arange(smooth.size) - best) <= max(3, smooth.size // 20)
    rest = smooth[~near]
    if rest.size < 5:
        return math.nan, 0.0, 0.0
    level = float(np.median(rest))
    spread = max(1.4826 * float(np.median(np.abs(rest - level))), LEAST_SPREAD)
    height = (float(smooth[best]) - level) / spread
    # chance of so high a point among all lags, were the matches normally distributed
    chance = smooth.size * 0.5 * math.erfc(height / math.sqrt(2.0))
    second = max(float(rest.max()) - level, 0.0) / max(float(smooth[best]) - level, 1e-300)
    confidence = max(0.0, 1.0 - second) if chance < least_chance else 0.0
    shift = 0.0
    if 0 < best < smooth.size - 1:
        left, middle, right = smooth[best - 1 : best + 2]
        bend = left - 2.0 * middle + right
        shift = 0.5 * float((left - right) / bend) if bend < 0.0 else 0.0
    return (float(onsets.lags[best]) + shift) * onsets.step, height, confidence


def _block_scores(first: Floats, second: Floats, lags: Integers, per_block: int) -> Floats:
    """Return the match of each block at each lag in robust spreads. Shape (blocks, lags)."""
    first, second = first - first.mean(), second - second.mean()
    edges = np.arange(0, first.size, per_block)
    padded = np.pad(second, (-int(lags[0]), int(lags[-1])))
    score = np.empty((edges.size, lags.size))
    for index in range(lags.size):
        score[:, index] = np.add.reduceat(first * padded[index : index + first.size], edges)
    score = np.apply_along_axis(lambda row: np.convolve(row, [0.25, 0.5, 0.25], mode="same"), 1, score)
    spread = float(np.std(score)) or 1.0  # blocks without events are quiet: a robust spread could be zero
    return np.asarray(score / spread, dtype=np.float64)


def _best_path(score: Floats) -> Integers:
    """Return the lag index of each block along the path of greatest total match, where a jump has its price."""
    price = 2.0 * math.sqrt(2.0 * math.log(score.size)) + 2.0
    total = score[0].copy()
    came_from = np.zeros(score.shape, dtype=np.int64)
    stay = np.arange(score.shape[1])
    for block in range(1, score.shape[0]):
        top = int(total.argmax())
        jumps = total[top] - price > total
        came_from[block] = np.where(jumps, top, stay)
        total = np.where(jumps, total[top] - price, total) + score[block]
    path = np.empty(score.shape[0], dtype=np.int64)
    path[-1] = int(total.argmax())
    for block in range(score.shape[0] - 1, 0, -1):
        path[block - 1] = came_from[block, path[block]]
    return path


def _place_jump(
    first: Floats, second: Floats, before: int, after: int, bounds: tuple[int, int, int], per_block: int
) -> int:
    """Return the grid step of a jump: where matches at the lag before give way to matches at the lag after."""
    left, at, right = bounds
    low, high = max(left, at - 2) * per_block, min(min(right, at + 2) * per_block, first.size)
    steps = np.arange(low, high)
    gain = np.zeros(steps.size)
    for lag, sign in ((before, 1.0), (after, -1.0)):
        partner = steps + lag
        inside = (partner >= 0) & (partner < second.size)
        gain += sign * first[steps] * np.where(inside, second[np.clip(partner, 0, second.size - 1)], 0.0)
    total = np.cumsum(gain)
    best = np.flatnonzero(total >= total.max() - 1e-9)
    return int(low + 1 + (best[0] + best[-1]) // 2)


def _segment_offset(first: Floats, second: Floats, onsets: _Onsets, start: int, end: int) -> tuple[float, float]:
    """Return lag and confidence over a part of the grid; partners may lie outside it."""
    only = np.zeros(first.size)
    only[start:end] = first[start:end]
    if np.count_nonzero(only > 1.0) < FEW_EVENTS:
        return math.nan, 0.0
    offset, _, confidence = _peak(_match(only, second, onsets.lags), onsets, CHANCE_OF_PART)
    return offset, confidence
