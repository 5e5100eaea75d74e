"""What was emitted, by source, so that the three-class tally follows the fitted room series.

A PM2.5 reading does not tell size classes. Emissions are split by a stated prior
(:data:`~airtally.inference.model.PM25_SPLIT`), and the total is then solved step by step so that the
tally's PM2.5 equals the fit's. What monitors make of each kind of source is doubted
(:data:`~airtally.inference.fit.RESPONSE_ERROR`): in every draw but the most probable each kind gives off more or
less than was read, and the rooms hold more or less of it. Replays differ from the record only by what was edited.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp

import numpy as np
from numba import njit, prange

from airtally.arrays import Booleans, Floats, Integers
from airtally.inference.events import EVENT_KINDS, Source
from airtally.inference.fit import Fit
from airtally.inference.model import PM25_PART, PM25_SPLIT
from airtally.scenario.law import Law, law_of

COARSE_SHARE = 0.5
"""Mass emitted between 3 and 10 um over that below 2.5 um; weak, no source; changes no PM2.5 number."""
OUTDOOR_COARSE_SHARE = 0.4
"""The same for outdoor air; weak, no source."""
OUTDOOR_CO2 = 420e-6
"""Carbon dioxide outdoors [mol/mol]; present-day background, from memory."""


def class_split(coarse: float) -> Floats:
    """Return mass in each species for unit PM2.5: three classes, then no carbon dioxide. Shape (species,)."""
    return np.array([PM25_SPLIT[0] / PM25_PART[0], PM25_SPLIT[1] / PM25_PART[1], coarse, 0.0])


PM25_WEIGHT = np.array([*PM25_PART, 0.0])
"""Share of each species that counts as PM2.5. Shape (species,)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """The record as emissions.

    Attributes
    ----------
    law : Law
        The recorded house's linear law over all epochs.
    emission : float64 array, shape (draws, steps)
        PM2.5 emitted into the rooms over their volume. [kg/(m3 s)]
    event_at : int64 array, shape (steps,)
        Index of the event a step belongs to, -1 for none.
    start : float64 array, shape (draws,)
        PM2.5 level before the first step. [kg/m3]
    """

    law: Law
    emission: Floats
    event_at: Integers
    start: Floats


def baseline_of(fit: Fit) -> Baseline:
    """Return the emissions behind a fit's room series; see :class:`Baseline`."""
    law = law_of(fit)
    start = fit.level[:, 0].copy()
    event_at = np.full(fit.prepared.steps, -1, dtype=np.int64)
    for index, event in enumerate(fit.events):
        event_at[event.first : event.last + 1] = index
    read = Baseline(law=law, emission=_follow(fit, law, start), event_at=event_at, start=start)
    given = read.emission.copy()
    for kind, mask in by_source(fit, read).items():
        given /= np.where(mask, fit.response[:, EVENT_KINDS.index(kind), None], 1.0)
    return replace(read, emission=given)


@njit(cache=True, parallel=True)
def _follow_path(level, start, rate, gain, outdoor, states, split, outdoor_split, weight, step):  # pragma: no cover
    draws, steps = level.shape
    species = split.size
    emission = np.empty((draws, steps))
    for d in prange(draws):
        amount = np.empty(species)
        for c in range(species):
            amount[c] = start[d] * split[c]
        count = rate.shape[1]
        fade = np.empty((count, species))
        part = np.empty((count, species))
        entry = np.empty((count, species))
        for s in range(count):
            for c in range(species):
                k = -rate[d, s, c]
                fade[s, c] = exp(-k * step)
                part[s, c] = (1.0 - fade[s, c]) / k if k > 0.0 else step
                entry[s, c] = 0.0
                for p in range(gain.shape[3]):
                    entry[s, c] += gain[d, s, c, p]
        for t in range(steps):
            s = states[t]
            without = 0.0
            response = 0.0
            for c in range(species):
                amount[c] = fade[s, c] * amount[c] + part[s, c] * entry[s, c] * outdoor[t] * outdoor_split[c]
                without += weight[c] * amount[c]
                response += weight[c] * part[s, c] * split[c]
            now = (level[d, t] - without) / response
            emission[d, t] = now
            for c in range(species):
                amount[c] += part[s, c] * split[c] * now
    return emission


def _follow(fit: Fit, law: Law, start: Floats) -> Floats:
    c = 3  # carbon dioxide plays no part here
    return np.asarray(
        _follow_path(
            fit.level,
            start,
            np.ascontiguousarray(law.coefficients.rate[:, :, :c, 0, 0]),
            np.ascontiguousarray(law.coefficients.gains[:, :, :c, :, 0]),
            fit.prepared.outdoor,
            law.states,
            class_split(COARSE_SHARE)[:c].copy(),
            class_split(OUTDOOR_COARSE_SHARE)[:c].copy(),
            PM25_WEIGHT[:c].copy(),
            fit.prepared.step,
        )
    )


def by_source(fit: Fit, baseline: Baseline) -> dict[Source, Booleans]:
    """Return, for each indoor source, which steps are its own in each draw. Each shape (draws, steps)."""
    steps_event = baseline.event_at
    inside = steps_event >= 0
    found: dict[Source, Booleans] = {}
    hour = (np.arange(steps_event.size) * fit.prepared.step / 3600.0).astype(np.int64)
    kinds = fit.quiet_kind[:, hour]
    if fit.kind.shape[1]:
        kinds[:, inside] = fit.kind[:, steps_event[inside]]
    for code, kind in enumerate(EVENT_KINDS):
        mask = kinds == code
        if mask.any():
            found[kind] = mask
    return found
