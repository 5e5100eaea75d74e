"""Decays of a controlled test or a natural event: which stretch, which rate, how sure.

One rule serves every record. It needs no times and no knowledge of the sensor beyond what the
record shows of itself: the step its readings move in and the level at which they clip.

Why this rule. A first-order loss is a straight line of log concentration over time. Both ends of
that line are bent by things that are not loss: above by mixing and by a sensor that compresses or
clips, below by steps, background and leftovers. Nobody can say from one record where the straight
part begins, so the widest window that the record itself supports gives the value, and narrower ones
give the interval:

- it opens when the reading has left its highest level by a tenth, the repeatability that makers of
  low-cost optical sensors state (common practice, no source), so that the fall is surely seen;
- it closes at 20 steps of the sensor, where one step is 5 % of the reading, or at a fiftieth of
  the opening level above background, where a hundredth of leftover aerosol would halve the slope,
  or at the end of the record;
- samples are taken between the first crossings of these levels by a running median, never by the
  level of each sample: picking low samples out of noise bends the line;
- the same fit is repeated for openings down to a seventh of the peak, for closings up to four
  times higher, for each background that the record admits, and once for a sensor that compresses
  high readings. The interval is that of the mixture of all these fits, each with its own noise from
  a jackknife over contiguous blocks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.errors import FitError
from airtally.estimates import Basis, Estimate
from airtally.inference.clean_air import SensorDisagreement, clean_air_rate, compare_sensors
from airtally.inference.decay_windows import (
    RESOLVED_STEPS,
    DecayWindow,
    Phase,
    SensorScale,
    find_decay_windows,
    running_median,
    sensor_scale,
)
from airtally.inference.rises import Rise, find_rises

__all__ = [
    "DecayFit",
    "DecayWindow",
    "Phase",
    "Rise",
    "SensorDisagreement",
    "SensorScale",
    "WindowRule",
    "clean_air_rate",
    "compare_sensors",
    "decay_rate",
    "find_decay_windows",
    "find_rises",
    "fit_decay",
    "largest_fall",
    "mixture_interval",
    "sensor_scale",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowRule:
    """The one rule by which a decay's window is cut; see the module's text for the reasons.

    Attributes
    ----------
    openings : tuple of float
        Shares of the peak above background at which a window opens; the first gives the value. [-]
    closings : tuple of float
        Factors on the closing level; the first gives the value. [-]
    steps : float
        Closing level in steps of the sensor. [-]
    deepest : float
        Closing level as a share of the opening level. [-]
    fewest_readings : int
        A window with fewer is not fitted.
    least_fall : float
        A window over which the reading falls by a smaller factor is not fitted. [-]
    blocks : int
        Contiguous blocks of the jackknife.
    """

    openings: tuple[float, ...] = (0.9, 0.7, 0.5, 0.35, 0.25, 0.15)
    closings: tuple[float, ...] = (1.0, 2.0, 4.0)
    steps: float = RESOLVED_STEPS
    deepest: float = 0.02
    fewest_readings: int = 8
    least_fall: float = 1.5
    blocks: int = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class DecayFit:
    """A loss rate with what stands behind it.

    Attributes
    ----------
    rate : Estimate
        Loss rate with 90 % interval. [1/s]
    window : DecayWindow
        Where it was read.
    readings : int
        Readings in the widest window.
    windows : int
        Fits in the ensemble.
    noise_sd : float
        Standard deviation of the rate from noise alone, widest window. [1/s]
    choice_sd : float
        Standard deviation between the windows of the ensemble. [1/s]
    bend : float
        Rate of the lower half of the fall over that of the upper half. Above 1 the sensor compresses high
        readings (no loss process does that); below 1 background, coagulation or a mix of sizes. [-]
    """

    rate: Estimate
    window: DecayWindow
    readings: int
    windows: int
    noise_sd: float
    choice_sd: float
    bend: float


def largest_fall(windows: tuple[DecayWindow, ...], *phases: Phase) -> DecayWindow | None:
    """Return the window of the given phases over which the level falls by the largest factor, or None."""
    found = [window for window in windows if window.phase in phases]
    return max(found, key=lambda window: window.rate * (window.stop - window.start)) if found else None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    rate: float
    noise_sd: float
    readings: int


def _fit_line(time: Floats, above: Floats, blocks: int) -> _Line:
    """Fit log level on time; the noise is a jackknife over contiguous blocks, which keeps autocorrelation whole."""
    x, y = time - np.mean(time), np.log(above)
    owner = (np.arange(x.size) * blocks) // x.size
    sums = np.array([np.bincount(owner, weights=w, minlength=blocks) for w in (np.ones(x.size), x, x * x, y, x * y)])
    left = np.column_stack([sums.sum(axis=1), sums.sum(axis=1)[:, None] - sums])
    n, sx, sxx, sy, sxy = left
    slopes = (sxy - sx * sy / n) / (sxx - sx * sx / n)
    dropped = slopes[1:]
    noise = float(np.sqrt((blocks - 1) / blocks * np.sum((dropped - np.mean(dropped)) ** 2)))
    return _Line(rate=-float(slopes[0]), noise_sd=noise, readings=x.size)


def _free_background(time: Floats, value: Floats) -> float:
    """Return the background, from none to nine tenths of the lowest level, that makes the log line straightest."""
    from scipy.optimize import minimize_scalar

    x = time - np.mean(time)

    lowest = float(np.min(value))

    def misfit(share: float) -> float:
        above = value - share * lowest
        y = np.log(above)
        slope = float(np.sum(x * y) / np.sum(x * x))
        # Residuals in readings' own share, so that subtracting more does not by itself look worse or better.
        return float(np.sum((above * (y - np.mean(y) - slope * x) / value) ** 2))

    found = minimize_scalar(misfit, bounds=(0.0, 0.9), method="bounded")
    return lowest * float(found.x) if misfit(float(found.x)) < misfit(0.0) else 0.0


def _decompressed(time: Floats, above: Floats) -> Floats:
    """Return the levels that make the log line straightest if the sensor reads ``C / (1 + C / S)``, S free.

    The law of a counter that misses particles in coincidence, in its simplest form; S runs down to a
    tenth above the highest reading. Where the line is straight or bends the other way, nothing changes.
    """
    from scipy.optimize import minimize_scalar

    x = time - np.mean(time)
    top = float(np.max(above))

    def misfit(share: float) -> float:
        left = 1.0 - share * above / top
        y = np.log(above / left)
        slope = float(np.sum(x * y) / np.sum(x * x))
        # Noise of the reading grows by 1 / left on the way to the level; weighted back.
        return float(np.sum((left * (y - np.mean(y) - slope * x)) ** 2))

    found = minimize_scalar(misfit, bounds=(0.0, 0.9), method="bounded")
    share = float(found.x) if misfit(float(found.x)) < misfit(0.0) else 0.0
    return np.asarray(above / (1.0 - share * above / top))


def _cut(smooth: Floats, background: float, opening: float, closing: float) -> slice:
    below = np.flatnonzero(smooth - background <= opening)
    if below.size == 0:
        return slice(0, 0)
    start = int(below[0])
    low = np.flatnonzero(smooth[start:] - background <= closing)
    return slice(start, start + int(low[0]) if low.size else smooth.size)


def fit_decay(
    time: Floats,
    value: Floats,
    window: DecayWindow,
    *,
    rule: WindowRule | None = None,
    scale: SensorScale | None = None,
    backgrounds: tuple[float, ...] | None = None,
) -> DecayFit:
    """Fit the loss rate of one decay over the ensemble of windows and backgrounds.

    Parameters
    ----------
    time, value : float64 arrays, shape (readings,)
        The whole record. [s], [any unit]
    window : DecayWindow
        Stretch to fit, from :func:`find_decay_windows`.
    rule : WindowRule, optional
        How windows are cut.
    scale : SensorScale, optional
        Step and ceiling; read off the whole record where not given.
    backgrounds : tuple of float, optional
        Levels the decay may run towards, the likeliest first; where not given, what the record shows, else
        none and the one that makes the line straightest. [unit of the readings]

    Raises
    ------
    FitError
        Where no window holds enough readings over enough of a fall.
    """
    rule = rule or WindowRule()
    keep = np.isfinite(time) & np.isfinite(value)
    time, value = time[keep], value[keep]
    scale = scale or sensor_scale(value)
    inside = (time >= window.start) & (time <= window.stop) & (value < scale.ceiling)
    time, value = time[inside], value[inside]
    if time.size < rule.fewest_readings:
        raise FitError(
            f"the {window.phase.value} holds {time.size} readings below the ceiling; {rule.fewest_readings} are needed"
        )
    smooth = running_median(value)
    lines: list[_Line] = []
    widest: tuple[Floats, Floats] | None = None
    for opening in rule.openings:
        for factor in rule.closings:
            for treatment in _treatments(backgrounds or (), window):
                # Compression shows only over a wide fall from high readings.
                if treatment.decompress and (opening < 0.5 or factor > rule.closings[0]):
                    continue
                cut = _window(time, value, smooth, treatment, opening, factor, rule, scale)
                if cut is None:
                    continue
                if widest is None:
                    widest = cut
                lines.append(_fit_line(*cut, rule.blocks))
    if widest is None:
        raise FitError(
            f"the {window.phase.value} falls by less than {rule.least_fall:g} times or holds fewer than "
            f"{rule.fewest_readings} readings between its first tenth of fall and the sensor's {rule.steps:g} steps"
        )
    rates = np.array([line.rate for line in lines])
    noises = np.array([line.noise_sd for line in lines])
    low, high = mixture_interval(rates, noises)
    half = widest[0].size // 2
    upper, lower = (np.polyfit(widest[0][s], np.log(widest[1][s]), 1)[0] for s in (slice(0, half), slice(half, None)))
    return DecayFit(
        rate=Estimate(
            value=lines[0].rate,
            low=min(low, lines[0].rate),
            high=max(high, lines[0].rate),
            unit="1/s",
            basis=Basis.FITTED,
            source=f"{window.phase.value}, {len(lines)} windows of {lines[0].readings} readings and fewer",
        ),
        window=window,
        readings=lines[0].readings,
        windows=len(lines),
        noise_sd=lines[0].noise_sd,
        choice_sd=float(np.std(rates)),
        bend=float(lower / upper) if upper != 0.0 else float("nan"),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Treatment:
    """How a reading is turned into aerosol: less a background (None: the straightest), as it stands or decompressed."""

    background: float | None
    decompress: bool = False


def _treatments(given: tuple[float, ...], window: DecayWindow) -> tuple[_Treatment, ...]:
    levels: tuple[float | None, ...] = (0.0, None)
    if given:
        levels = given
    elif window.backgrounds:
        levels = (*window.backgrounds, 0.5 * min(window.backgrounds))
    straight = tuple(_Treatment(background=level) for level in levels)
    return (*straight, _Treatment(background=levels[0], decompress=True))


def _window(
    time: Floats,
    value: Floats,
    smooth: Floats,
    treatment: _Treatment,
    opening: float,
    factor: float,
    rule: WindowRule,
    scale: SensorScale,
) -> tuple[Floats, Floats] | None:
    """Return instants and levels above background of one window, or None where it is too small."""
    level = treatment.background or 0.0
    peak = float(np.max(smooth)) - level
    closing = factor * max(rule.steps * scale.step, rule.deepest * opening * peak)
    part = _cut(smooth, level, opening * peak, closing)
    x, reading = time[part], value[part]
    if x.size < rule.fewest_readings:
        return None
    ends = running_median(reading, 5)
    if ends[-1] <= 0.0 or ends[0] / ends[-1] < rule.least_fall:
        return None
    # A reading at or under the background has no log; a small one keeps it as "low" without dropping it.
    smallest = max(0.5 * scale.step, 1e-3 * peak)
    if treatment.background is None:
        level = _free_background(x, np.maximum(reading, 0.5 * scale.step))
    above = np.maximum(reading - level, smallest)
    return x, _decompressed(x, above) if treatment.decompress else above


def decay_rate(
    time: Floats,
    value: Floats,
    window: DecayWindow,
    *,
    rule: WindowRule | None = None,
    scale: SensorScale | None = None,
    backgrounds: tuple[float, ...] | None = None,
) -> Estimate:
    """Return the loss rate of one decay [1/s]; its interval holds noise and choice of window. See :func:`fit_decay`."""
    return fit_decay(time, value, window, rule=rule, scale=scale, backgrounds=backgrounds).rate


def mixture_interval(centre: Floats, spread: Floats, level: float = 0.90) -> tuple[float, float]:
    """Return the central interval of an equal mixture of normal distributions.

    Parameters
    ----------
    centre, spread : float64 arrays, shape (members,)
        Mean and standard deviation of each member. [any unit]
    level : float
        Probability inside. [-]
    """
    from scipy.optimize import brentq
    from scipy.special import ndtr

    spread = np.maximum(spread, 1e-12 * np.max(np.abs(centre)) + 1e-300)
    ends = (float(np.min(centre - 9.0 * spread)), float(np.max(centre + 9.0 * spread)))

    def quantile(probability: float) -> float:
        return float(brentq(lambda x: float(np.mean(ndtr((x - centre) / spread))) - probability, *ends))

    return quantile(0.5 - level / 2.0), quantile(0.5 + level / 2.0)
