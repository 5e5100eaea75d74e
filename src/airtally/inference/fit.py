"""The Fit: weighted draws of what a house does to its air, the room series behind the readings, the events.

Every later answer (shares, forecasts, rules, proof) is computed on these draws, so that numbers cannot
differ between pages.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Floats, Integers
from airtally.errors import Problem
from airtally.house.dates import Phase
from airtally.house.parts import House, ZoneKind
from airtally.inference.emissions import implied_emission, march
from airtally.inference.events import EVENT_KINDS, Event, Source, classify, draw_quiet_kinds, drawn_kinds, find_spans
from airtally.inference.identify import NotIdentified, what_is_not_identified
from airtally.inference.likelihood import Physics, joined, score_by_block, smooth
from airtally.inference.model import physics_of, prior_of
from airtally.inference.prepare import MICRO, Prepared, prepare
from airtally.inference.search import Posterior, draw, find_posterior, mirrored
from airtally.parameters import Prior, Values
from airtally.readings.log import Log

DRAWS = 41
MODEL_ERROR_ONE_ROOM, MODEL_ERROR_ROOMS = 0.07, 0.12
"""Standard deviation of the logarithm of each removal rate beyond what the one-volume model's own
curvature and day-to-day scatter allow, in a house of one room and of several: rooms are not mixed, filters load,
aerosols differ. Set from recovery runs, see docs/recovery.md: the demo's houses of several rooms err by 4 to 15 %."""
RESPONSE_ERROR = 0.30
"""Standard deviation of the logarithm of what the monitors make of a source over what it gives off. Optical monitors
set side by side agree in that air; by aerosol they read 0.6 to 1.8 of the mass (handbook range of the trade, from smoke
to dust; 27 indoor events in one study 0 to 3), which as nine chances in ten would be 0.33, in part common to all air;
and one source stands nearer to the monitors than another. Own choice within that."""
USUAL_RESPONSE = {Source.SOLID_FUEL: 1.2, Source.HOBBY: 0.8, Source.RESUSPENSION: 0.8}
"""Middle of that response where it is not one: optical monitors over-read smoke and under-read dust (Barkjohn 2021 and
Holder 2020 for smoke); the size is own choice. [-]"""
KIND_DOUBT = 1.0
"""Standard deviation of a shift in the log odds of a kind that all events of a draw share: the weights behind the odds
are rules of thumb, and where they are wrong they are wrong every evening. Own choice, as large as the weights. [-]"""
MODEL_ERROR_ON = ("air_exchange", "settling", "settling_with_fan", "filter/", "cleaner/")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """What was learnt about a house; arrays lead with draws, the first draw being the most probable.

    Attributes
    ----------
    prepared : Prepared
        Grid, drivers and readings.
    prior, posterior : Prior, Posterior
    values : Values
        Parameter draws in natural units.
    physics : Physics
        The same as rates by regime. [ug/m3, 1/h]
    rate : float64 array, shape (draws, steps)
        Emission into the rooms over their volume, steady sources included. [kg/(m3 s)]
    level : float64 array, shape (draws, steps)
        Room mean PM2.5. [kg/m3]
    band : float64 array, shape (steps,)
        Variance of the room mean given one set of parameters. [(kg/m3)2]
    events : tuple of Event
    kind : int64 array, shape (draws, events)
        Drawn kind of each event, index into ``EVENT_KINDS``.
    quiet_kind : int8 array, shape (draws, hours)
        Drawn kind of what is given off outside events, hour by hour, index into ``EVENT_KINDS``.
    response : float64 array, shape (draws, kinds)
        What the monitors read of each kind of source over what it gives off, outdoor air being 1. [-]
    not_identified : tuple of NotIdentified
    problems : tuple of Problem
    """

    prepared: Prepared
    prior: Prior
    posterior: Posterior
    values: Values
    physics: Physics
    rate: Floats
    level: Floats
    band: Floats
    events: tuple[Event, ...]
    kind: Integers
    quiet_kind: NDArray[np.int8]
    response: Floats
    not_identified: tuple[NotIdentified, ...]
    problems: tuple[Problem, ...]

    @property
    def draws(self) -> int:
        """Return the number of draws."""
        return int(self.level.shape[0])

    @property
    def house(self) -> House:
        """Return the house as surveyed."""
        return self.prepared.house


def fit_house(
    house: House,
    log: Log,
    phases: tuple[Phase, ...],
    fan_intervals: tuple[Floats, Floats, Integers] | None,
    *,
    rng: np.random.Generator,
    draws: int = DRAWS,
) -> Fit | Problem:
    """Fit a house to its readings.

    Parameters
    ----------
    house, log, phases, fan_intervals
        As :func:`airtally.inference.prepare.prepare` takes them.
    rng : numpy Generator
        Source of the draws.
    draws : int
        Number of draws.

    Returns
    -------
    fit : Fit, or the fatal Problem that says which readings are missing
    """
    prepared = prepare(house, log, phases, fan_intervals)
    if isinstance(prepared, Problem):
        return prepared
    return fit_prepared(prepared, log, rng=rng, draws=draws)


def fit_prepared(prepared: Prepared, log: Log, *, rng: np.random.Generator, draws: int = DRAWS) -> Fit:
    """Fit readings that are already on their grid; see :func:`fit_house`."""
    prior = prior_of(prepared)
    evidence = joined(prepared.evidence)

    def score(whitened: Floats) -> Floats:
        return score_by_block(evidence, physics_of(prepared, prior.values(whitened)))

    posterior = find_posterior(prior, score)
    whitened = draw(posterior, draws, rng)
    rooms = sum(zone.kind in (ZoneKind.ROOM, ZoneKind.BASEMENT) for zone in prepared.house.zones)
    error = MODEL_ERROR_ROOMS if rooms > 1 else MODEL_ERROR_ONE_ROOM
    # Never more than half of what was doubted before the readings: a HEPA filter stays one.
    extra = np.array(
        [min(error / p.spread, 0.5) if p.name.startswith(MODEL_ERROR_ON) else 0.0 for p in prior.parameters]
    )
    whitened[1:] += mirrored(draws - 1, extra.size, rng) * extra
    values = prior.values(whitened)
    physics = physics_of(prepared, values)
    path = smooth(prepared.evidence, physics)
    rate = implied_emission(prepared.evidence, physics, path)
    level = march(prepared.evidence, physics, rate, path.level[:, 0])
    spans = find_spans(prepared, path, rate[0], level[0])
    kinds = classify(prepared, prepared.house, log, spans)
    volume = values["volume"]
    hours = prepared.evidence.step_hours
    events = []
    doubt = rng.normal(size=(2, draws, len(EVENT_KINDS)))
    doubt[:, 0] = 0.0
    usual = np.array([USUAL_RESPONSE.get(kind, 1.0) for kind in EVENT_KINDS])
    response = usual * np.exp(RESPONSE_ERROR * doubt[0])
    drawn = drawn_kinds(kinds, KIND_DOUBT * doubt[1], rng)
    for index, ((first, last, rise), chances) in enumerate(zip(spans, kinds, strict=True)):
        read = rate[:, first : last + 1].sum(axis=1) * hours * volume / MICRO
        given = read / response[np.arange(draws), drawn[:, index]]
        events.append(
            Event(
                first=first,
                last=last,
                start=float(prepared.time[first] - prepared.step / 2),
                duration=(last - first + 1) * prepared.step,
                rise=rise / MICRO,
                mass=np.maximum(given, 0.0),
                kinds=chances,
            )
        )
    return Fit(
        prepared=prepared,
        prior=prior,
        posterior=posterior,
        values=values,
        physics=physics,
        rate=rate / MICRO / 3600.0,
        level=level / MICRO,
        band=path.variance[0] / MICRO**2,
        events=tuple(events),
        kind=drawn,
        quiet_kind=draw_quiet_kinds(drawn, tuple(e.mass for e in events), prepared.steps * prepared.step / 3600.0, rng),
        response=response,
        not_identified=what_is_not_identified(prepared, prior, values, rng),
        problems=prepared.problems,
    )
