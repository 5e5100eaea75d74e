"""What each measure would do: the latest weeks replayed with it added to the latest house."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.errors import Problem, Severity
from airtally.house.dates import Phase
from airtally.inference.fit import Fit
from airtally.inference.prepare import FAN_STATES
from airtally.proposals.measures import Measure, default_measures, measure_of
from airtally.scenario.baseline import Baseline
from airtally.scenario.law import fan_of
from airtally.scenario.replay import Contrast, Span, replay
from airtally.scenario.scenario import FanPlan, Scenario

WEEKS = 4
DRAWS = 24
"""Draws of the fit that each measure is replayed on."""
DAY = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """A measure and the contrast of the latest weeks with and without it.

    ``added_power`` is the mean electric power it adds over those weeks [W]; ``window`` the stretch replayed.
    """

    measure: Measure
    change: Contrast
    added_power: float
    window: Phase


def forecasts(fit: Fit, baseline: Baseline) -> tuple[tuple[Forecast, ...], tuple[Problem, ...]]:
    """Return a forecast for every measure of the survey (or the usual ones), and those that could not be replayed."""
    prepared = fit.prepared
    end = float(prepared.time[-1])
    latest = prepared.epochs[-1].house
    window = _window(fit)
    steps = slice(window[0], window[1])
    phase = Phase(id="", name="latest weeks", start=float(prepared.time[steps.start]), end=end)
    today = replay(fit, baseline, Scenario(name="latest house", house_as_of=end), window=steps, draws=DRAWS)
    problems: list[Problem] = []
    found: list[Forecast] = []
    for priced in fit.house.measures or default_measures(fit.house):
        measure = measure_of(latest, priced, end)
        if isinstance(measure, str):
            problems.append(
                Problem(
                    code="measure-not-replayed",
                    where=f"survey.toml, measure '{priced.id}'",
                    found=measure,
                    wanted="a measure that changes this house",
                    remedy="Change its kind, or keep it as a line without forecast.",
                    severity=Severity.NOTE,
                )
            )
            continue
        with_it = replay(fit, baseline, measure.scenario, window=steps, draws=DRAWS)
        found.append(
            Forecast(
                measure=measure,
                change=_whole(today.spans, with_it.spans),
                added_power=_added_power(fit, measure, steps),
                window=phase,
            )
        )
    return tuple(found), tuple(problems)


def _window(fit: Fit) -> tuple[int, int]:
    steps = fit.prepared.steps
    return max(0, steps - int(WEEKS * 7 * DAY / fit.prepared.step)), steps


def _whole(before: tuple[Span, ...], after: tuple[Span, ...]) -> Contrast:
    def mean(spans: tuple[Span, ...]) -> Floats:
        total = np.zeros(spans[0].mean.size)
        length = 0
        for span in spans:
            count = span.last - span.first
            total = total + count * span.mean
            length += count
        return np.asarray(total / length)

    return Contrast(without=mean(before), with_it=mean(after))


def _added_power(fit: Fit, measure: Measure, steps: slice) -> float:
    """Return the mean power that a measure adds. [W]

    A continuous fan adds its own hours; other measures draw power in the fan states they run in.
    """
    recorded = fan_of(fit, FanPlan.RECORDED)[steps]
    if measure.scenario.fan is FanPlan.ALWAYS:
        return float(np.mean(recorded == 0) * measure.watts[0])
    share = np.bincount(recorded, minlength=FAN_STATES) / recorded.size
    return float(share @ np.array(measure.watts))
