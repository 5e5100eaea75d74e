"""What each measure would do: the latest weeks replayed with it added to the latest house."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Floats
from airtally.errors import Problem
from airtally.estimates import Estimate
from airtally.house.dates import Phase
from airtally.house.measure_kinds import measures_of
from airtally.inference.fit import Fit
from airtally.inference.prepare import FAN_STATES
from airtally.network.answers import PressureAnswers
from airtally.proposals.measures import Measure, measure_of
from airtally.proposals.propose import no_measure
from airtally.proposals.scenarios import scenario_of
from airtally.scenario.baseline import Baseline
from airtally.scenario.law import fan_of
from airtally.scenario.replay import Contrast, Replay, Span, replay
from airtally.scenario.scenario import FanPlan, Scenario

WEEKS = 4
DRAWS = 24
"""Draws of the fit that each measure is replayed on."""
DAY = 86400.0
REDRAWN = 3.0 * 3600.0
"""The latest weeks are redrawn by means over this: a fire or a meal still shows, and two lines can be told apart. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """A measure and the contrast of the latest weeks with and without it.

    ``added_power`` is the mean electric power it adds over those weeks [W]; ``window`` the stretch replayed.
    ``time`` [s, POSIX UTC] begins each stretch of three hours, shape (stretches,); ``without`` and ``with_it`` are the
    room means over it, shape (draws, stretches) [kg/m3].
    """

    measure: Measure
    change: Contrast
    added_power: float
    window: Phase
    time: Floats
    without: Floats
    with_it: Floats


def forecasts(
    fit: Fit, baseline: Baseline, flows: Mapping[str, Estimate] | None = None
) -> tuple[tuple[Forecast, ...], tuple[Problem, ...]]:
    """Return a forecast for every measure of the survey (or the usual ones), and those that could not be replayed.

    ``flows`` is the airflow with a measure over that as found, by measure id, where the network has it [-].
    """
    prepared = fit.prepared
    end = float(prepared.time[-1])
    latest = prepared.epochs[-1].house
    window = _window(fit)
    steps = slice(window[0], window[1])
    phase = Phase(id="", name="latest weeks", start=float(prepared.time[steps.start]), end=end)
    latest_house = Scenario(name="latest house", house_as_of=end)
    today = replay(fit, baseline, latest_house, window=steps, draws=DRAWS, keep_level=True)
    time = prepared.time[steps] - 0.5 * prepared.step
    problems: list[Problem] = []
    found: list[Forecast] = []
    for priced in measures_of(fit.house):
        measure = measure_of(latest, priced)
        if isinstance(measure, str):
            problems.append(no_measure(priced, measure))
            continue
        scenario = scenario_of(measure, end, (flows or {}).get(priced.id))
        if isinstance(scenario, str):
            problems.append(no_measure(priced, scenario))
            continue
        with_it = replay(fit, baseline, scenario, window=steps, draws=DRAWS, keep_level=True)
        found.append(
            Forecast(
                measure=measure,
                change=_whole(today.spans, with_it.spans),
                added_power=_added_power(fit, measure, scenario.fan, steps),
                window=phase,
                time=_stretches(time[None], prepared.step)[0] - 0.5 * (REDRAWN - prepared.step),
                without=_redrawn(today, prepared.step),
                with_it=_redrawn(with_it, prepared.step),
            )
        )
    return tuple(found), tuple(problems)


def airflow_ratios(answers: PressureAnswers) -> dict[str, Estimate]:
    """Return the airflow with each measure over that as found at the blower's first speed, by measure id. [-]"""
    found: dict[str, Estimate] = {}
    for row in answers.budgets:
        change = row.flow_change
        ratio = replace(change, value=1.0 + change.value, low=1.0 + change.low, high=1.0 + change.high)
        found.setdefault(row.plan, ratio)
    return found


def _redrawn(run: Replay, step: float) -> Floats:
    """Return a replay's room means over three hours each. Shape (draws, stretches). [kg/m3]"""
    if run.level is None:  # asked for above
        raise AssertionError
    return _stretches(run.level, step)


def _stretches(series: NDArray[np.floating], step: float) -> Floats:
    """Return means over three hours each; what is left at the end falls away. Shape (rows, stretches)."""
    per = max(round(REDRAWN / step), 1)
    count = series.shape[1] // per
    return np.asarray(series[:, : count * per].reshape(series.shape[0], count, per).mean(axis=2, dtype=np.float64))


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


def _added_power(fit: Fit, measure: Measure, fan: FanPlan, steps: slice) -> float:
    """Return the mean power that a measure adds. [W]

    A continuous fan adds its own hours; other measures draw power in the fan states they run in.
    """
    recorded = fan_of(fit, FanPlan.RECORDED)[steps]
    if fan is FanPlan.ALWAYS:
        return float(np.mean(recorded == 0) * measure.watts[0])
    share = np.bincount(recorded, minlength=FAN_STATES) / recorded.size
    return float(share @ np.array(measure.watts))
