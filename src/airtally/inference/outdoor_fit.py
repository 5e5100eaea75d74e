"""Infiltration from an indoor and an outdoor series while nothing indoors emits.

Two models of one room, outdoor level ``Co`` taken as straight between its readings:

- one number: ``dC/dt = k (Co - C)``. Its ``k`` is air exchange only if particles neither stick in the
  gaps nor settle; otherwise it mixes penetration and loss, and it runs to the outdoor level.
- two numbers: ``dC/dt = g Co - L C`` with gain ``g`` (air exchange times penetration) and total loss
  ``L`` (air exchange, settling, filters). ``g / L`` is the infiltration factor.

For a given ``L`` both are linear in what is left, so the fit is a line search over ``L``; no start
value can lead it astray. Intervals come from a delete-one jackknife over contiguous blocks of readings,
which keeps the autocorrelation of what the model leaves unexplained.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from airtally.arrays import Booleans, Floats
from airtally.errors import FitError
from airtally.estimates import Basis, Estimate

FEWEST_READINGS = 16
"""Two a block for the usual eight blocks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InfiltrationFit:
    """Both models fitted to the same readings.

    Attributes
    ----------
    one_rate : Estimate
        ``k`` of the one-number model. [1/s]
    gain, loss : Estimate
        ``g`` and ``L`` of the two-number model. [1/s]
    factor : Estimate
        Infiltration factor ``g / L``: indoor over outdoor level in the long run. [-]
    readings : int
        Readings behind the fit, one a refresh of the sensor.
    rows : int
        Rows the log held for them.
    one_rate_misfit, two_rate_misfit : float
        Sum of squared residuals of each model. [square of the readings' unit]
    """

    one_rate: Estimate
    gain: Estimate
    loss: Estimate
    factor: Estimate
    readings: int
    rows: int
    one_rate_misfit: float
    two_rate_misfit: float

    @property
    def is_settled(self) -> bool:
        """Return whether the record tells gain and loss apart: each known to within a factor of two either way."""
        return all(e.low > 0.5 * e.value and e.high < 2.0 * e.value for e in (self.gain, self.loss))

    def sentences(self) -> tuple[str, ...]:
        """Return what the fit says and does not say, in plain words."""
        k, g, loss = _per_hour(self.one_rate), _per_hour(self.gain), _per_hour(self.loss)
        factor = self.factor
        lines = [
            f"One number, {k[0]:.3f} per h ({k[1]:.3f} to {k[2]:.3f}), mixes penetration and loss: "
            "it is the air exchange only if particles neither stay in the gaps nor settle in the room.",
            f"Two numbers part them: gain {g[0]:.3f} per h ({g[1]:.3f} to {g[2]:.3f}), air exchange times penetration; "
            f"loss {loss[0]:.3f} per h ({loss[1]:.3f} to {loss[2]:.3f}), air exchange, settling and filters together.",
            f"In the long run the room would hold {factor.value:.0%} ({factor.low:.0%} to {factor.high:.0%}) "
            "of the outdoor level.",
            f"{self.rows} rows hold {self.readings} readings; the intervals count readings.",
        ]
        if not self.is_settled:
            lines.append("The record does not settle the two numbers apart; only their effect together is known.")
        return tuple(lines)


def _per_hour(estimate: Estimate) -> tuple[float, float, float]:
    return estimate.value * 3600.0, estimate.low * 3600.0, estimate.high * 3600.0


def one_reading_per_refresh(time: Floats, value: Floats) -> tuple[Floats, Floats]:
    """Return one reading for each time the sensor looked, where a logger repeats the last one in between.

    The usual hold is the length of the run of equal rows in which the median row stands. Values that
    change again within half a hold belong to one look of a sensor that is waking up; the last one
    counts. A run of several holds is several looks that found the same. Where rows are not held the
    series is returned as it is.

    Parameters
    ----------
    time, value : float64 arrays, shape (rows,)
        Ascending instants [s] and finite readings [any unit].

    Returns
    -------
    (time, value) : float64 arrays, shape (looks,)
        Instant [s] and reading [unit as given] of each look.
    """
    if time.size < 3:
        return time, value
    starts = np.concatenate([[0], np.flatnonzero(np.diff(value) != 0.0) + 1])
    rows = np.diff(np.append(starts, time.size))
    order = np.argsort(rows, kind="stable")
    usual = rows[order[np.searchsorted(np.cumsum(rows[order]), 0.5 * time.size)]]
    if usual < 4:
        # Two or three equal rows come by chance where a sensor counts in whole steps.
        return time, value
    hold = float(usual) * float(np.median(np.diff(time)))
    at = time[starts]
    last_of_look = np.append(np.diff(at) >= 0.5 * hold, True)
    at, level = at[last_of_look], value[starts[last_of_look]]
    until = np.append(at[1:], time[-1])
    looks = np.maximum(1, np.round((until - at) / hold)).astype(np.int64)
    looks[-1] = max(1, int((until[-1] - at[-1]) // hold))
    spaced = [a + (b - a) * np.arange(n) / n for a, b, n in zip(at, until, looks, strict=True)]
    return np.concatenate(spaced), np.repeat(level, looks)


def response_to_outdoors(loss: float, time: Floats, outdoor_time: Floats, outdoor: Floats) -> Floats:
    """Return the indoor level of a room that starts clean, per unit of gain: ``dR/dt = Co - loss R``.

    Exact for an outdoor level that is straight between its readings and held beyond its ends.

    Parameters
    ----------
    loss : float
        Total loss rate. [1/s]
    time, outdoor_time : float64 arrays, shapes (readings,) and (outdoor readings,)
        Ascending instants. [s]
    outdoor : float64 array, shape (outdoor readings,)
        Outdoor level. [any unit]

    Returns
    -------
    float64 array, shape (readings,)
        Level per gain. [unit of ``outdoor`` times s]
    """
    inside = (outdoor_time > time[0]) & (outdoor_time < time[-1])
    grid = np.union1d(outdoor_time[inside], time)
    level = np.interp(grid, outdoor_time, outdoor)
    step = np.diff(grid)
    stays = np.exp(-loss * step)
    fills = -np.expm1(-loss * step) / loss
    slope = np.diff(level) / step
    added = level[:-1] * fills + slope * (step - fills) / loss
    response = np.zeros(grid.size)
    for index in range(step.size):
        response[index + 1] = response[index] * stays[index] + added[index]
    return response[np.searchsorted(grid, time)]


def fit_infiltration(
    time: Floats,
    indoor: Floats,
    outdoor_time: Floats,
    outdoor: Floats,
    *,
    blocks: int = 8,
    longest: float = 1e6,
    shortest: float = 100.0,
) -> InfiltrationFit:
    """Fit both models to a stretch without indoor events.

    The one-number model starts at the first reading, so that ``k`` is its only unknown; the two-number
    model fits its start as well.

    Parameters
    ----------
    time, indoor : float64 arrays, shape (rows,)
        Ascending instants [s] and indoor readings [any unit]; held rows and NaN are dealt with here.
    outdoor_time, outdoor : float64 arrays, shape (outdoor rows,)
        Ascending instants [s] and outdoor readings [unit of ``indoor``].
    blocks : int
        Contiguous blocks of the jackknife.
    longest, shortest : float
        Time constants between which the loss is sought. [s]
    """
    keep = np.isfinite(time) & np.isfinite(indoor)
    rows = int(np.count_nonzero(keep))
    known = np.isfinite(outdoor_time) & np.isfinite(outdoor)
    outdoor_time, outdoor = outdoor_time[known], outdoor[known]
    if rows == 0 or outdoor.size == 0:
        raise FitError("infiltration needs an indoor and an outdoor series; one of them holds no reading")
    x, y = one_reading_per_refresh(time[keep], indoor[keep])
    fewest = max(FEWEST_READINGS, 2 * blocks)
    if x.size < fewest:
        raise FitError(f"infiltration needs {fewest} indoor readings; {rows} rows hold {x.size}")
    if outdoor_time[0] - x[0] > 3600.0 or x[-1] - outdoor_time[-1] > 3600.0:
        raise FitError("the outdoor series leaves more than an hour of the indoor record without a reading")
    losses = np.geomspace(1.0 / longest, 1.0 / shortest, 60)
    search = _Search(x, y, outdoor_time, outdoor, losses)
    owner = (np.arange(x.size) * blocks) // x.size
    everything = np.ones(x.size, dtype=np.bool_)
    one, one_misfit = search.one(everything)
    gain, loss, two_misfit = search.two(everything)
    left_out = [owner != block for block in range(blocks)]
    ones = np.array([search.one(use)[0] for use in left_out])
    twos = np.array([search.two(use)[:2] for use in left_out])
    method = f"{x.size} readings, jackknife over {blocks} blocks"
    return InfiltrationFit(
        one_rate=_jackknifed(one, ones, "1/s", f"one-number infiltration model, {method}"),
        gain=_jackknifed(gain, twos[:, 0], "1/s", f"two-number infiltration model, {method}"),
        loss=_jackknifed(loss, twos[:, 1], "1/s", f"two-number infiltration model, {method}"),
        factor=_jackknifed(gain / loss, twos[:, 0] / twos[:, 1], "-", f"two-number infiltration model, {method}"),
        readings=int(x.size),
        rows=rows,
        one_rate_misfit=one_misfit,
        two_rate_misfit=two_misfit,
    )


class _Search:
    """Line search over the loss, with the responses of a coarse grid kept for all jackknife rounds."""

    def __init__(self, time: Floats, indoor: Floats, outdoor_time: Floats, outdoor: Floats, losses: Floats) -> None:
        self._time, self._indoor = time, indoor
        self._outdoor_time, self._outdoor = outdoor_time, outdoor
        self._losses = losses
        self._shapes = {float(loss): self._shape(float(loss)) for loss in losses}

    def _shape(self, loss: float) -> tuple[Floats, Floats]:
        response = response_to_outdoors(loss, self._time, self._outdoor_time, self._outdoor)
        return response, np.exp(-loss * (self._time - self._time[0]))

    def one(self, use: Booleans) -> tuple[float, float]:
        """Return ``k`` and its misfit over the readings used."""

        def misfit(loss: float) -> float:
            response, start = self._shapes.get(loss) or self._shape(loss)
            left = self._indoor - loss * response - self._indoor[0] * start
            return float(np.sum(left[use] ** 2))

        return self._least(misfit)

    def two(self, use: Booleans) -> tuple[float, float, float]:
        """Return gain, loss and misfit over the readings used."""

        def solve(loss: float) -> tuple[float, float]:
            columns = np.column_stack(self._shapes.get(loss) or self._shape(loss))[use]
            # Columns differ in size by the length of the record; scaled, so that the solution keeps its digits.
            size = np.linalg.norm(columns, axis=0)
            numbers, *_ = np.linalg.lstsq(columns / size, self._indoor[use], rcond=None)
            left = self._indoor[use] - columns @ (numbers / size)
            return float(numbers[0] / size[0]), float(np.sum(left**2))

        loss, least = self._least(lambda value: solve(value)[1])
        return solve(loss)[0], loss, least

    def _least(self, misfit: Callable[[float], float]) -> tuple[float, float]:
        from scipy.optimize import minimize_scalar

        values = [misfit(float(loss)) for loss in self._losses]
        best = int(np.argmin(values))
        low = np.log(self._losses[max(best - 1, 0)])
        high = np.log(self._losses[min(best + 1, self._losses.size - 1)])
        found = minimize_scalar(
            lambda log_loss: misfit(float(np.exp(log_loss))),
            bounds=(low, high),
            method="bounded",
            options={"xatol": 1e-7},
        )
        return float(np.exp(found.x)), float(found.fun)


def _jackknifed(value: float, without: Floats, unit: str, source: str) -> Estimate:
    """Return the 90 % interval from estimates that each leave one block out, by Student's t.

    Losses and gains are positive, so the spread is taken of their logarithms.
    """
    from scipy.stats import t as student

    count = without.size
    if value <= 0.0 or np.any(without <= 0.0):
        spread = float(np.sqrt((count - 1) / count * np.sum((without - np.mean(without)) ** 2)))
        half = float(student.ppf(0.95, count - 1)) * spread
        low, high = value - half, value + half
    else:
        logs = np.log(without)
        spread = float(np.sqrt((count - 1) / count * np.sum((logs - np.mean(logs)) ** 2)))
        half = float(student.ppf(0.95, count - 1)) * spread
        low, high = value * float(np.exp(-half)), value * float(np.exp(half))
    return Estimate(value=value, low=low, high=high, unit=unit, basis=Basis.FITTED, source=source)
