"""Replays: the recorded weeks run again with a scenario in place, and contrasts of two replays."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Booleans, Floats
from airtally.house.dates import Phase
from airtally.inference.events import Source
from airtally.inference.fit import Fit
from airtally.scenario.baseline import (
    COARSE_SHARE,
    OUTDOOR_COARSE_SHARE,
    PM25_WEIGHT,
    Baseline,
    by_source,
    class_split,
)
from airtally.scenario.law import Law, law_of
from airtally.scenario.scenario import Scenario
from airtally.tally.engine import Store, run

CHUNK = 12
"""Draws run at a time: bounds memory."""
PARTICLES = 3
DAY = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """What became of one stretch in a replay; arrays lead with draws.

    Attributes
    ----------
    name : str
        Phase id, or empty between phases.
    first, last : int
        Steps, half-open.
    mean : float64 array, shape (draws,)
        Room PM2.5. [kg/m3]
    inlets : float64 array, shape (draws, paths)
        PM2.5 brought in by each path. [kg/s]
    emitted : float64 array, shape (draws,)
        PM2.5 released indoors. [kg/s]
    removed : float64 array, shape (draws, sinks)
        PM2.5 taken by each sink. [kg/s]
    stored : float64 array, shape (draws,)
        Change of what is in the air. [kg/s]
    """

    name: str
    first: int
    last: int
    mean: Floats
    inlets: Floats
    emitted: Floats
    removed: Floats
    stored: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Replay:
    """A scenario run over the record.

    ``level`` is the room PM2.5 at the end of each step, shape (draws, steps) [kg/m3], or None if it
    was not kept; ``spans`` the stretches in order; ``path_names`` and ``sink_names`` what their columns are.
    """

    spans: tuple[Span, ...]
    path_names: tuple[str, ...]
    sink_names: tuple[str, ...]
    level: NDArray[np.float32] | None

    def of(self, phase: Phase) -> Span:
        """Return the stretch of a phase, its parts joined."""
        parts = [s for s in self.spans if s.name == phase.id]
        lengths = np.array([p.last - p.first for p in parts], dtype=np.float64)
        share = lengths / lengths.sum()

        def mean(values: list[Floats]) -> Floats:
            return np.asarray(sum(w * v for w, v in zip(share, values, strict=True)))

        return Span(
            name=phase.id,
            first=parts[0].first,
            last=parts[-1].last,
            mean=mean([p.mean for p in parts]),
            inlets=mean([p.inlets for p in parts]),
            emitted=mean([p.emitted for p in parts]),
            removed=mean([p.removed for p in parts]),
            stored=mean([p.stored for p in parts]),
        )


def replay(
    fit: Fit,
    baseline: Baseline,
    scenario: Scenario,
    *,
    only: frozenset[Source] | None = None,
    keep_level: bool = False,
    law: Law | None = None,
    window: slice | None = None,
    draws: int | None = None,
) -> Replay:
    """Run a scenario over the recorded weeks.

    Parameters
    ----------
    fit : Fit
    baseline : Baseline
        The record as emissions.
    scenario : Scenario
    only : frozenset of Source, optional
        Run these sources alone: as the account is linear, the parts add up to the whole.
    keep_level : bool
        Keep the room series.
    law : Law, optional
        The scenario's law, if already made.
    window : slice, optional
        Steps to run; all if not given. Starts from the recorded level.
    draws : int, optional
        Run only so many of the fit's draws, the first ones.
    """
    law = law or law_of(fit, scenario)
    steps = window or slice(0, fit.prepared.steps)
    spans = _spans(fit, steps)
    factor, paths = _sources(fit, baseline, scenario, only, law)
    split = class_split(COARSE_SHARE)[:PARTICLES]
    drivers = fit.prepared.outdoor[:, None, None] * class_split(OUTDOOR_COARSE_SHARE)[None, :PARTICLES, None]
    coefficients = law.coefficients.species(slice(0, PARTICLES))
    weight = PM25_WEIGHT[:PARTICLES]
    gains = coefficients.gains * paths[None, None, None, :, None]
    count = fit.draws if draws is None else min(draws, fit.draws)
    level = np.empty((count, steps.stop - steps.start), dtype=np.float32) if keep_level else None
    pieces: list[list[Span]] = [[] for _ in spans]
    for begin in range(0, count, CHUNK):
        some = slice(begin, min(begin + CHUNK, count))
        own = coefficients.take(some)
        own = type(own)(**{name: getattr(own, name) for name in own.__slots__ if name != "gains"}, gains=gains[some])
        volume = own.volume[:, :1]
        everything = only is None
        first_level = baseline.start[some] if steps.start == 0 else fit.level[some, steps.start - 1]
        now = (first_level[:, None, None] * split[None, :, None]) if everything else None
        for index, (name, first, last) in enumerate(spans):
            emission = baseline.emission[some, first:last]
            if factor is not None:
                emission = emission * factor[some, first:last]
            given = emission[:, :, None, None] * split[None, None, :, None] * volume[:, :, None, None]
            result = run(
                own,
                law.states[first:last],
                drivers[first:last],
                given,
                now,
                fit.prepared.step,
                store=Store.STEP_ENDS if keep_level else Store.NOTHING,
            )
            now = result.end
            if level is not None and result.series is not None:
                level[some, first - steps.start : last - steps.start] = result.series[:, :, :, 0] @ weight
            account = result.account
            pieces[index].append(
                Span(
                    name=name,
                    first=first,
                    last=last,
                    mean=result.mean[:, :, 0] @ weight,
                    inlets=np.einsum("dcp,c->dp", account.inlets[..., 0], weight) / result.duration,
                    emitted=account.emitted[..., 0] @ weight / result.duration,
                    removed=np.einsum("dck,c->dk", account.removed[..., 0], weight) / result.duration,
                    stored=account.stored[..., 0] @ weight / result.duration,
                )
            )
    return Replay(
        spans=tuple(_joined(parts) for parts in pieces),
        path_names=law.coefficients.path_names,
        sink_names=law.coefficients.sink_names,
        level=level,
    )


def _joined(parts: list[Span]) -> Span:
    arrays = {
        name: np.concatenate([getattr(p, name) for p in parts])
        for name in ("mean", "inlets", "emitted", "removed", "stored")
    }
    return Span(name=parts[0].name, first=parts[0].first, last=parts[0].last, **arrays)


def _spans(fit: Fit, window: slice) -> list[tuple[str, int, int]]:
    """Return name, first and last step of each stretch of one phase, gaps between phases included."""
    marks = np.full(fit.prepared.steps, -1, dtype=np.int64)
    for index, phase in enumerate(fit.prepared.phases):
        marks[fit.prepared.phase_steps(phase)] = index
    inside = marks[window]
    edges = np.flatnonzero(np.diff(inside)) + 1
    bounds = [0, *edges.tolist(), inside.size]
    names = [phase.id for phase in fit.prepared.phases]
    return [
        (names[inside[a]] if inside[a] >= 0 else "", a + window.start, b + window.start)
        for a, b in pairwise(bounds)
        if b > a
    ]


SOURCE_OF_PATHS = Source.OUTDOOR
"""What paths carry. Garage, crawlspace and attic are counted as ways that outdoor air takes: nobody measured
what is given off there, and their level is a ratio of the outdoor one."""


def _sources(
    fit: Fit, baseline: Baseline, scenario: Scenario, only: frozenset[Source] | None, law: Law
) -> tuple[Floats | None, Floats]:
    """Return the factor on each step's emission (draws, steps) or None, and on each path."""
    scale = dict(scenario.scale)
    for source in scenario.without:
        scale[source] = 0.0
    if only is not None:
        for source in Source:
            if source not in only:
                scale[source] = 0.0
    paths = np.full(len(law.coefficients.path_names), scale.get(SOURCE_OF_PATHS, 1.0))
    masks: dict[Source, Booleans] = by_source(fit, baseline) if scale else {}
    factor: Floats | None = None
    if any(scale.get(source, 1.0) != 1.0 for source in masks):
        factor = np.ones(baseline.emission.shape)
        for source, mask in masks.items():
            if source in scale:
                factor[mask] = scale[source]
    return factor, paths


def sources_present(fit: Fit, baseline: Baseline) -> tuple[Source, ...]:
    """Return the sources that can matter in this record, outdoors first."""
    return tuple(s for s in Source if s is SOURCE_OF_PATHS or s in by_source(fit, baseline))


@dataclass(frozen=True, slots=True, kw_only=True)
class Contrast:
    """Two replays compared over the same steps; arrays shape (draws,) [kg/m3]."""

    without: Floats
    with_it: Floats

    @property
    def absolute(self) -> Floats:
        """Return with minus without. [kg/m3]"""
        return np.asarray(self.with_it - self.without)

    @property
    def relative(self) -> Floats:
        """Return with minus without, over without. [-]"""
        return np.asarray(self.with_it / np.maximum(self.without, 1e-15) - 1.0)


def contrast(fit: Fit, without: Replay, with_it: Replay, phase: Phase) -> Contrast:
    """Return the change of the room's mean over a phase from one replay to the other, draw by draw."""
    if without.of(phase).mean.size != fit.draws or with_it.of(phase).mean.size != fit.draws:
        raise AssertionError
    return Contrast(without=without.of(phase).mean, with_it=with_it.of(phase).mean)
