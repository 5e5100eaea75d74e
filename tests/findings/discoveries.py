"""Which planted quirks of the invented house are found, and which are claimed where they were left out.

Twelve demo seeds, fixed before the detectors were tried on them; each quirk stands in six, drawn so that no
two quirks always go together.
"""

from __future__ import annotations

import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from airtally.demo import Quirk, write_demo
from airtally.findings.look import look
from airtally.inference.fit import Fit, fit_house
from airtally.jobs.inputs import read_inputs
from airtally.safety.assess import assess
from airtally.scenario.baseline import baseline_of

SEEDS = tuple(range(201, 213))
FOUND_AS = {
    Quirk.SMOKE_WEEK: "smoke-outdoors",
    Quirk.COLOCATION_GAIN: "gain-",
    Quirk.MONITOR_MOVED: "monitor-moved",
    Quirk.WRONG_THRESHOLD: "threshold-misplaced",
    Quirk.SHORT_SAMPLING: "sampling-too-short",
    Quirk.LOGGER_GAP: "safety-logger-outage",
    Quirk.CO_SPILL: "safety-spill-temperature",
    Quirk.GARAGE_PATH: "garage-air-at-fan-starts",
    Quirk.WORKSHOP_GRILLE: "workshop-shared-dust",
    Quirk.FILTER_GAP: "filter-gap",
    Quirk.CLOCK_FOLD: "clock-moved",
    Quirk.FOG_BIAS: "fog-on-outdoor-monitor",
    Quirk.UNBALANCED_DRAW: "uneven-draw",
}
"""The finding by which each quirk counts as found; safety findings by their code."""


def planted(seed: int) -> frozenset[Quirk]:
    """Return the quirks that stand in a seed's house: each in six of the twelve."""
    rng = np.random.default_rng(7)
    chosen = set()
    for quirk in FOUND_AS:
        order = rng.permutation(len(SEEDS))
        if order[SEEDS.index(seed)] < len(SEEDS) // 2:
            chosen.add(quirk)
    return frozenset(chosen)


def claims(seed: int) -> tuple[int, frozenset[str]]:
    """Return the seed and the ids of everything claimed about its house."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_demo(folder, seed=seed, quirks=planted(seed))
        inputs = read_inputs(folder, lambda _: None)
        verdict = assess(inputs.house, inputs.visits, inputs.log)
        fit = fit_house(inputs.house, inputs.log, inputs.phases, inputs.fan, rng=np.random.default_rng(seed), draws=24)
        assert isinstance(fit, Fit)
        found = look(inputs.house, inputs.log, fit, baseline_of(fit), inputs.clock_jumps)
    return seed, frozenset({f.id for f in found} | {f.code for f in verdict.findings})


def table(seeds: tuple[int, ...] = SEEDS) -> dict[Quirk, tuple[int, int, int]]:
    """Return for each quirk: found where planted, planted in how many, claimed where it was left out."""
    # Started afresh, not forked: a fork of a process whose threads have run breaks the compiled loops.
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        everything = dict(pool.map(claims, seeds))
    counts = {}
    for quirk, name in FOUND_AS.items():
        with_it = [s for s in seeds if quirk in planted(s)]
        without = [s for s in seeds if quirk not in planted(s)]
        counts[quirk] = (
            sum(any(c.startswith(name) for c in everything[s]) for s in with_it),
            len(with_it),
            sum(any(c.startswith(name) for c in everything[s]) for s in without),
        )
    return counts


if __name__ == "__main__":
    for one, (hit, of, wrong) in table().items():
        sys.stdout.write(f"{one.value:20} found {hit} of {of}, claimed without it in {wrong} of {len(SEEDS) - of}\n")
