"""The same fit told what a fit has to find out: when the fan ran, and when something was given off."""

from __future__ import annotations

from dataclasses import replace
from unittest.mock import patch

import numpy as np
from tests.recovery.rich_events import true_bursts
from tests.recovery.rich_homes import RichHome

from airtally.inference import fit as fit_room
from airtally.inference.events import SMALLEST_RISE
from airtally.inference.fit import Fit, fit_prepared
from airtally.inference.likelihood import Physics
from airtally.inference.model import physics_of
from airtally.inference.prepare import Prepared, prepare
from airtally.parameters import Values

SURE, NEVER = 30.0, 1e-6
"""Rates of large pulses while an event lasts, and while none does. [1/h]"""


def oracle_fit(home: RichHome, *, seed: int) -> Fit:
    """Return the fit of a home to which the true fan states and the true times of events are given.

    Hours of the day are told apart twice over: with an event under way, in which a large pulse is as good as
    sure, and without, in which none comes. How much is given off stays open, as do all rates.
    """
    prepared = prepare(home.house, home.log, home.phases, home.true_fan)
    assert isinstance(prepared, Prepared), prepared
    busy = np.zeros(prepared.steps, dtype=np.int64)
    for burst in true_bursts(home.truth["events"], home.time, home.by_source):
        if burst.rise >= SMALLEST_RISE:
            first, last = np.searchsorted(prepared.time, (burst.start, burst.end))
            busy[first : last + 1] = 1
    evidence = prepared.evidence
    classes = 1 + int(evidence.hour_class.max())
    prepared = replace(prepared, evidence=replace(evidence, hour_class=evidence.hour_class + classes * busy))

    def told(given: Prepared, values: Values) -> Physics:
        physics = physics_of(given, values)
        pulses = np.concatenate([physics.pulse_rate, physics.pulse_rate], axis=2)
        pulses[:, 1, :classes], pulses[:, 1, classes:] = NEVER, SURE
        return replace(physics, steady=np.concatenate([physics.steady, physics.steady], axis=1), pulse_rate=pulses)

    with patch.object(fit_room, "physics_of", told):
        return fit_prepared(prepared, home.log, rng=np.random.default_rng(seed))
