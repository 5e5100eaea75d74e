"""Cutting the record of a decay test or an event into rises, decays and the rest, without being told times."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from airtally.arrays import Floats
from airtally.errors import FitError, InputError

RESOLVED_STEPS = 20.0
"""Level, in steps of the sensor, at which one step is 5 % of the reading. [-]"""


class Phase(StrEnum):
    """What a stretch of a record is."""

    RISE = "rise"
    NATURAL = "natural decay"
    DEVICE = "device decay"
    DECAY = "decay"
    """The only rate of its fall: nothing in the record tells whether a device ran."""
    BEND = "bend"
    """Short passage between two rates: mixing, averaging of the sensor, or a compressed reading."""
    TAIL = "tail"
    """What is left after a decay: background, leftovers, steps of the sensor."""
    STEADY = "steady"
    CEILING = "ceiling"
    FLOOR = "floor"


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorScale:
    """What a record shows of its sensor: ``step`` between readings, ``ceiling`` where they clip [unit as given]."""

    step: float
    ceiling: float = float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class DecayWindow:
    """One stretch of a record.

    Attributes
    ----------
    phase : Phase
        What the stretch is.
    start, stop : float
        First and last instant. [s]
    level_start, level_stop : float
        Level of its straight line at both ends. [unit of the readings]
    rate : float
        Slope of log level with the sign turned: positive while it falls. [1/s]
    backgrounds : tuple of float
        Quiet levels before the rise and after the fall, where the record shows them. [unit of the readings]
    """

    phase: Phase
    start: float
    stop: float
    level_start: float
    level_stop: float
    rate: float
    backgrounds: tuple[float, ...] = ()

    @property
    def is_decay(self) -> bool:
        """Return whether a loss rate can be read from the stretch."""
        return self.phase in (Phase.NATURAL, Phase.DEVICE, Phase.DECAY)


def sensor_scale(value: Floats) -> SensorScale:
    """Return the step of the readings and the level at which they clip, as the record shows them.

    Parameters
    ----------
    value : float64 array, shape (readings,)
        Readings. [any unit]
    """
    finite = value[np.isfinite(value)]
    if finite.size == 0:
        raise InputError("a record without a finite reading has no scale")
    distinct = np.unique(finite)
    top = float(distinct[-1])
    gaps = np.diff(distinct)
    gaps = gaps[gaps > 1e-9 * max(abs(top), 1e-300)]
    step = float(np.min(gaps)) if gaps.size else 0.0
    at_top = np.concatenate([[0], (finite >= top).astype(np.int64), [0]])
    edges = np.flatnonzero(np.diff(at_top))
    longest = int(np.max(edges[1::2] - edges[::2]))
    # Five equal readings in a row at the very top, far above the step, do not happen by chance.
    return SensorScale(step=step, ceiling=top if longest >= 5 and top >= 100.0 * step else float("inf"))


def running_median(value: Floats, width: int = 9) -> Floats:
    """Return the median over ``width`` neighbours, ends held. Shape and unit as given."""
    half = min(width, value.size) // 2
    if half == 0:
        return value
    padded = np.pad(value, half, mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1))


def straight_pieces(time: Floats, height: Floats, variance: Floats, *, penalty: float, fewest: int = 3) -> list[int]:
    """Cut a line into straight pieces: exact least squares with a price for each piece.

    Parameters
    ----------
    time, height, variance : float64 arrays, shape (points,)
        Instants [s], heights [-] and their variance [-].
    penalty : float
        Price of one piece, in units of squared residual over variance.
    fewest : int
        Fewest points a piece may hold.

    Returns
    -------
    list of int
        First index of each piece, and the number of points at the end.
    """
    points = time.size
    weight = 1.0 / variance
    x = time - time[0]
    sums = np.zeros((6, points + 1))
    for row, term in enumerate((np.ones(points), x, x * x, height, x * height, height * height)):
        sums[row, 1:] = np.cumsum(weight * term)
    best = np.full(points + 1, np.inf)
    best[0] = -penalty
    last = np.zeros(points + 1, dtype=np.int64)
    for stop in range(fewest, points + 1):
        starts = np.arange(0, stop - fewest + 1)
        s, sx, sxx, sy, sxy, syy = sums[:, [stop]] - sums[:, starts]
        spread = np.maximum(sxx - sx * sx / s, 1e-300)
        cost = syy - sy * sy / s - (sxy - sx * sy / s) ** 2 / spread
        total = best[starts] + np.maximum(cost, 0.0) + penalty
        choice = int(np.argmin(total))
        best[stop], last[stop] = total[choice], starts[choice]
    cuts = [points]
    while cuts[-1] > 0:
        cuts.append(int(last[cuts[-1]]))
    return cuts[::-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    start: float
    stop: float
    rate: float
    level_start: float
    level_stop: float
    level: float
    phase: Phase


def _describe(time: Floats, log_level: Floats, level: Floats, scale: SensorScale) -> _Piece:
    slope, height = np.polyfit(time - time[0], log_level, 1)
    start, stop = float(time[0]), float(time[-1])
    change = float(slope) * (stop - start)
    phase = Phase.STEADY
    if np.mean(level >= scale.ceiling) > 0.5:
        phase = Phase.CEILING
    elif np.median(level) <= 3.0 * scale.step:
        phase = Phase.FLOOR
    elif change > 0.1:
        phase = Phase.RISE
    elif change < -0.05:
        # A fall that begins under 20 steps is the sensor's stairs, not a rate.
        phase = Phase.DECAY if np.exp(height) > RESOLVED_STEPS * scale.step else Phase.TAIL
    return _Piece(
        start=start,
        stop=stop,
        rate=-float(slope),
        level_start=float(np.exp(height)),
        level_stop=float(np.exp(height + change)),
        level=float(np.median(level)),
        phase=phase,
    )


def _join(pieces: list[_Piece], phase: Phase) -> _Piece:
    first, final = pieces[0], pieces[-1]
    rate = float(np.log(first.level_start / final.level_stop)) / max(final.stop - first.start, 1e-300)
    return _Piece(
        start=first.start,
        stop=final.stop,
        rate=rate,
        level_start=first.level_start,
        level_stop=final.level_stop,
        level=final.level,
        phase=phase,
    )


def _differ(before: _Piece, after: _Piece, switch_ratio: float) -> bool:
    return max(after.rate, before.rate) > switch_ratio * min(after.rate, before.rate)


def _merge_alike(falls: list[_Piece], switch_ratio: float) -> list[_Piece]:
    """Merge neighbours whose rates as a whole are alike: a wiggle at their border is no switch."""
    while len(falls) > 1:
        alike = [i for i in range(len(falls) - 1) if not _differ(falls[i], falls[i + 1], switch_ratio)]
        if not alike:
            break
        first = alike[0]
        falls = [*falls[:first], _join(falls[first : first + 2], Phase.DECAY), *falls[first + 2 :]]
    return falls


def _name_fall(pieces: list[_Piece], switch_ratio: float, lowest: float) -> list[_Piece]:
    """Group the falling pieces of one fall by rate and say which group is what."""
    groups: list[list[_Piece]] = [[pieces[0]]]
    for before, after in pairwise(pieces):
        if _differ(before, after, switch_ratio):
            groups.append([after])
        else:
            groups[-1].append(after)
    falls = _merge_alike([_join(group, Phase.DECAY) for group in groups], switch_ratio)
    # Only a fall by half above the lowest level that the sensor resolves counts as a rate.
    fastest = max(falls, key=lambda p: p.rate if p.level_start > 2.0 * max(p.level_stop, lowest) else 0.0)
    where = falls.index(fastest)
    named: list[_Piece] = []
    for index, piece in enumerate(falls):
        lasts = (piece.stop - piece.start) * fastest.rate >= 2.0
        if index == where:
            earlier = any(p.phase is Phase.NATURAL for p in named)
            phase = Phase.DEVICE if earlier else Phase.DECAY
        elif index < where:
            phase = Phase.NATURAL if lasts and piece.rate * switch_ratio < fastest.rate else Phase.BEND
        else:
            phase = Phase.TAIL
        named.append(_join([piece], phase))
    return named


def find_decay_windows(
    time: Floats,
    value: Floats,
    *,
    scale: SensorScale | None = None,
    switch_ratio: float = 2.0,
    bins: int = 400,
) -> tuple[DecayWindow, ...]:
    """Cut a record of a test or an event into rises, natural decays, device decays and the rest.

    The log of the readings is cut into straight pieces. A device is taken to be switched on where one
    falling piece gives way to another that falls ``switch_ratio`` times faster, the slower one having
    lasted two time constants of the faster (a shorter passage is a bend). Written for one test or event
    of up to some thousand readings; longer logs are to be cut by :func:`find_rises` first.

    Parameters
    ----------
    time : float64 array, shape (readings,)
        Instants, ascending. [s]
    value : float64 array, shape (readings,)
        Readings; NaN rows are left out. [any unit]
    scale : SensorScale, optional
        Step and ceiling; read off the record where not given.
    switch_ratio : float
        Ratio of two slopes that counts as a switch. [-]
    bins : int
        Most points that the cutting works on.
    """
    keep = np.isfinite(time) & np.isfinite(value)
    time, value = time[keep], value[keep]
    if time.size < 8:
        raise FitError(f"a decay needs at least 8 readings; the record holds {time.size}")
    if np.any(np.diff(time) < 0.0):
        raise InputError("time must ascend")
    scale = scale or sensor_scale(value)
    smallest = max(0.5 * scale.step, 1e-6 * float(np.max(value)), 1e-300)
    size = -(-time.size // bins)
    cuts = np.arange(0, time.size, size)
    centre = np.array([np.mean(part) for part in np.split(time, cuts[1:])])
    level = np.array([np.median(part) for part in np.split(value, cuts[1:])])
    height = np.log(np.maximum(level, smallest))
    bumps = np.abs(np.diff(height, 2)) / 6.0**0.5 if height.size > 2 else np.zeros(1)
    # Optical sensors repeat within a tenth (common practice, no source): a half of that is no change of slope.
    noise = max(0.05, 1.4826 * float(np.median(bumps)))
    variance = noise**2 + (scale.step**2 / 12.0) / np.maximum(level, smallest) ** 2
    # Three numbers a piece, and neighbours that share their noise: three times what independent ones would ask.
    edges = straight_pieces(centre, height, variance, penalty=9.0 * float(np.log(centre.size)))
    pieces = [_describe(centre[a:b], height[a:b], level[a:b], scale) for a, b in pairwise(edges)]
    return _with_background(_name_pieces(pieces, switch_ratio, RESOLVED_STEPS * scale.step))


def _name_pieces(pieces: list[_Piece], switch_ratio: float, lowest: float) -> list[_Piece]:
    named: list[_Piece] = []
    index = 0
    while index < len(pieces):
        stop = index
        while stop < len(pieces) and pieces[stop].phase is pieces[index].phase:
            stop += 1
        run = pieces[index:stop]
        is_fall = run[0].phase is Phase.DECAY
        named.extend(_name_fall(run, switch_ratio, lowest) if is_fall else [_join(run, run[0].phase)])
        index = stop
    return named


def _with_background(pieces: list[_Piece]) -> tuple[DecayWindow, ...]:
    """Give each decay the quiet levels next to its event: before its rise and after its fall."""
    quiet = (Phase.STEADY, Phase.FLOOR)
    windows: list[DecayWindow] = []
    for piece in pieces:
        before = [p.level for p in pieces if p.phase in quiet and p.stop <= piece.start]
        after: list[float] = []
        for later in (p for p in pieces if p.start >= piece.stop):
            if later.phase is Phase.RISE:
                break
            # Only what ends the fall for good: a pause in mid-fall is followed by more falling.
            after = [later.level] if later.phase in quiet else []
        # A plateau high on the event is no background; a fifth of the opening level is taken as the limit.
        seen = [level for level in (*before[-1:], *after) if level < 0.2 * piece.level_start]
        windows.append(
            DecayWindow(
                phase=piece.phase,
                start=piece.start,
                stop=piece.stop,
                level_start=piece.level_start,
                level_stop=piece.level_stop,
                rate=piece.rate,
                backgrounds=tuple(seen),
            )
        )
    return tuple(windows)
