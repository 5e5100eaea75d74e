"""What each source brings and by which way, at recorded equipment states, all in one pass.

The account is linear, so the room's level is the sum of what each source alone would make of it. Running
each alone through the engine gives the same numbers (a test holds the two together); this pass steps the
one-volume classes of all sources side by side, as a page needs a dozen of them at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import exp

import numpy as np
from numba import njit, prange

from airtally.arrays import Floats, Integers
from airtally.house.dates import Phase
from airtally.inference.events import EVENT_KINDS, Source
from airtally.inference.fit import Fit
from airtally.scenario.baseline import (
    COARSE_SHARE,
    OUTDOOR_COARSE_SHARE,
    PM25_WEIGHT,
    Baseline,
    by_source,
    class_split,
)
from airtally.scenario.law import PATH_OF_DRIVER
from airtally.scenario.replay import PARTICLES, SOURCE_OF_PATHS


class Way(StrEnum):
    """How particles reach the rooms."""

    ROOM_SIDE = "room side"
    ENVELOPE = "leaks of the house, windows, fans"
    GARAGE_LEAK = "return leak from a garage"
    BUFFER_LEAK = "return leak from a crawlspace or attic"


WAY_OF_PATH = {PATH_OF_DRIVER[1]: Way.GARAGE_LEAK, PATH_OF_DRIVER[2]: Way.BUFFER_LEAK}
LINES = (
    *((source, Way.ROOM_SIDE) for source in EVENT_KINDS),
    (SOURCE_OF_PATHS, Way.ENVELOPE),
    (SOURCE_OF_PATHS, Way.GARAGE_LEAK),
    (SOURCE_OF_PATHS, Way.BUFFER_LEAK),
)
"""Source and way of each line that the account is told apart into."""
Line = tuple[Source, Way]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contributions:
    """Each line's part, by phase, source and way; arrays shape (draws,).

    ``mean`` of the room's PM2.5 [kg/m3] and ``brought`` into the rooms [kg/s]; ``start`` is the part of what
    was in the air before the first step [kg/m3].
    """

    mean: dict[tuple[str, Line], Floats]
    brought: dict[tuple[str, Line], Floats]
    start: dict[str, Floats]

    def of(self, phase: str, source: Source) -> Floats | None:
        """Return what a source adds to the rooms' mean by all its ways [kg/m3], None if nothing."""
        parts = [mean for (name, line), mean in self.mean.items() if name == phase and line[0] is source]
        return np.asarray(sum(parts)) if parts else None


@njit(cache=True, parallel=True)
def _separate(  # noqa: C901 - one pass over the steps  # pragma: no cover - compiled
    emission,
    owner,
    rate,
    gain,
    path_line,
    sources,
    outdoor,
    states,
    phase,
    phases,
    start,
    split,
    outdoor_split,
    weight,
    step,
):
    """Return sums over the steps of each phase: level by line and mass in by line, both (draws, phases, lines + 1)."""
    draws, steps = emission.shape
    classes = split.size
    level_sum = np.zeros((draws, phases, sources + 1))
    mass_sum = np.zeros((draws, phases, sources + 1))
    for d in prange(draws):
        count = rate.shape[1]
        fade = np.empty((count, classes))
        part = np.empty((count, classes))
        mean_part = np.empty((count, classes))
        entry = np.zeros((count, classes, sources))
        for s in range(count):
            for c in range(classes):
                k = -rate[d, s, c]
                fade[s, c] = exp(-k * step)
                part[s, c] = (1.0 - fade[s, c]) / k if k > 0.0 else step
                mean_part[s, c] = (step - part[s, c]) / k / step if k > 0.0 else 0.5 * step
                for p in range(gain.shape[3]):
                    entry[s, c, path_line[p]] += gain[d, s, c, p]
        amount = np.zeros((sources + 1, classes))
        for c in range(classes):
            amount[sources, c] = start[d] * split[c]
        for t in range(steps):
            s = states[t]
            f = phase[t]
            mine = owner[d, t]
            for q in range(sources + 1):
                level = 0.0
                for c in range(classes):
                    drive = 0.0
                    if q < sources:
                        drive = entry[s, c, q] * outdoor[t] * outdoor_split[c]
                    if q == mine:
                        drive += emission[d, t] * split[c]
                    level += weight[c] * (amount[q, c] * part[s, c] / step + drive * mean_part[s, c])
                    amount[q, c] = fade[s, c] * amount[q, c] + part[s, c] * drive
                    if f >= 0:
                        mass_sum[d, f, q] += weight[c] * drive
                if f >= 0:
                    level_sum[d, f, q] += level
    return level_sum, mass_sum


def way_of_path(name: str) -> Way:
    """Return the way in that an inlet path of a law belongs to."""
    return WAY_OF_PATH.get(name.partition(":")[0], Way.ENVELOPE)


def contributions(fit: Fit, baseline: Baseline) -> Contributions:
    """Return each line's part of the rooms' level and of what came in, for every phase of the record."""
    prepared = fit.prepared
    law = baseline.law
    owner = np.full(baseline.emission.shape, LINES.index((Source.OTHER, Way.ROOM_SIDE)), dtype=np.int64)
    masks = by_source(fit, baseline)
    for kind in EVENT_KINDS:
        if kind in masks:
            owner[masks[kind]] = LINES.index((kind, Way.ROOM_SIDE))
    phase = np.full(prepared.steps, -1, dtype=np.int64)
    for index, span in enumerate(prepared.phases):
        phase[prepared.phase_steps(span)] = index
    path_line: Integers = np.array(
        [LINES.index((SOURCE_OF_PATHS, way_of_path(name))) for name in law.coefficients.path_names], dtype=np.int64
    )
    level, mass = _separate(
        baseline.emission,
        owner,
        np.ascontiguousarray(law.coefficients.rate[:, :, :PARTICLES, 0, 0]),
        np.ascontiguousarray(law.coefficients.gains[:, :, :PARTICLES, :, 0]),
        path_line,
        len(LINES),
        prepared.outdoor,
        law.states,
        phase,
        len(prepared.phases),
        baseline.start,
        class_split(COARSE_SHARE)[:PARTICLES].copy(),
        class_split(OUTDOOR_COARSE_SHARE)[:PARTICLES].copy(),
        PM25_WEIGHT[:PARTICLES].copy(),
        prepared.step,
    )
    volume = fit.values["volume"]
    return _by_phase(
        prepared.phases, np.bincount(phase[phase >= 0], minlength=len(prepared.phases)), level, mass, volume
    )


def _by_phase(phases: tuple[Phase, ...], steps: Integers, level: Floats, mass: Floats, volume: Floats) -> Contributions:
    mean: dict[tuple[str, Line], Floats] = {}
    brought: dict[tuple[str, Line], Floats] = {}
    start: dict[str, Floats] = {}
    for index, phase in enumerate(phases):
        if steps[index] == 0:
            continue
        start[phase.id] = np.asarray(level[:, index, len(LINES)] / steps[index])
        for number, line in enumerate(LINES):
            here = mass[:, index, number] / steps[index] * volume
            if np.any(level[:, index, number] != 0.0):  # what came before a phase is still in its air
                mean[phase.id, line] = np.asarray(level[:, index, number] / steps[index])
                brought[phase.id, line] = np.asarray(here)
    return Contributions(mean=mean, brought=brought, start=start)
