"""Fan rules judged by replaying them in closed loop over the recorded weeks, on several draws of the fit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.estimates import Estimate
from airtally.house.parts import AirSide, RuleSetting, RunsWith
from airtally.inference.drivers import mixed_volume
from airtally.inference.fit import Fit
from airtally.inference.model import PM25_PART
from airtally.inference.prepare import FAN_HEATING, FAN_OFF, FAN_STATES
from airtally.scenario.baseline import COARSE_SHARE, OUTDOOR_COARSE_SHARE, Baseline, class_split
from airtally.scenario.law import Law, law_of
from airtally.scenario.mapping import Mapping, least_sampling_seconds, mapping_at, purge_seconds, usual_outdoor
from airtally.scenario.scenario import Scenario
from airtally.tally.closed_loop import run_with_rule
from airtally.tally.rules import Course, RuleRun, RuleValues, Sensor
from airtally.tally.sensing import View
from airtally.tally.stepping import inputs_of

PARTICLES = 3
DRAWS = 8
WEEKS = 4
DEFAULT_TARGET = 15e-9
"""Room PM2.5 a rule aims below where the survey names none [kg/m3]; a working figure, not a limit; common practice, no source."""
CAP = 1000e-9
"""Above this a rule asks for nothing: it may be a fire, and a fan spreads smoke [kg/m3]; common practice, no source."""
NEVER = 1.0
"""A threshold no air reaches. [kg/m3]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleOutcome:
    """A rule and what became of it in the replay; arrays shape (draws,).

    ``exposure`` room PM2.5 [kg/m3]; ``fan_hours`` all fan time a day [h]; ``rule_hours`` what the rule
    itself asked for [h/day]; ``starts`` fan starts a day; ``energy`` of the whole fan time [J/day];
    ``coverage`` share of event hours with a valid sample [-].
    """

    setting: RuleSetting
    exposure: Floats
    fan_hours: Floats
    rule_hours: Floats
    starts: Floats
    energy: Floats | None
    coverage: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleAnswer:
    """The rule proposed, the rule as set, and the two ends: fan only when equipment asks, fan always on.

    ``duct_threshold`` is what the room target reads at the sensor, shape (all draws,) [kg/m3];
    ``regret`` is exposure over the best rule replayed, shape (draws,) [kg/m3].
    """

    target: float
    placement: str
    mapping: Mapping
    duct_threshold: Floats
    least_sampling: float
    chosen: RuleOutcome
    as_set: RuleOutcome | None
    idle: RuleOutcome
    always: RuleOutcome
    by_sampling: tuple[RuleOutcome, ...]
    regret: Floats


def answer(fit: Fit, baseline: Baseline) -> RuleAnswer | None:
    """Return the fan rule for the house as it stands at the end of the record; None if no sensor could run one."""
    end = float(fit.prepared.time[-1])
    as_set = next((r for r in reversed(fit.house.rule_settings) if r.since <= end < r.until), None)
    placement = as_set.placement if as_set is not None else _best_placement(fit)
    mapping = mapping_at(fit, placement, end) if placement else None
    if mapping is None or fit.house.air_handler is None:
        return None
    target = fit.house.target.value if fit.house.target is not None else DEFAULT_TARGET
    outdoor = usual_outdoor(fit)
    threshold = mapping.threshold(target, outdoor)
    latest = fit.prepared.epochs[-1].house
    instrument = _instrument_of(fit, placement)
    least = least_sampling_seconds(latest, mixed_volume(fit.house), instrument)
    in_duct = mapping.side is not AirSide.ROOM
    settings = _candidates(placement, float(np.median(threshold)), target, least, in_duct=in_duct)
    stage = _Stage.of(fit, baseline, mapping, instrument)
    outcomes = stage.run([*settings, *([as_set] if as_set is not None else [])])
    replayed = outcomes[: len(settings)]
    idle, always = replayed[0], replayed[1]
    ruled = replayed[2:]
    best = min(float(np.median(o.exposure)) for o in ruled)
    chosen = _choose(ruled, float(np.median(idle.exposure)), best)
    floor = np.min(np.stack([o.exposure for o in ruled]), axis=0)
    return RuleAnswer(
        target=target,
        placement=placement,
        mapping=mapping,
        duct_threshold=threshold,
        least_sampling=least,
        chosen=chosen,
        as_set=outcomes[-1] if as_set is not None else None,
        idle=idle,
        always=always,
        by_sampling=tuple(o for o in ruled if o.setting.on_above == float(np.median(threshold))),
        regret=np.asarray(chosen.exposure - floor),
    )


def _best_placement(fit: Fit) -> str:
    """Return the sensor to trigger from: a room monitor first, else one in the duct."""
    ordered = sorted(fit.prepared.sensors, key=lambda s: s.side is not AirSide.ROOM)
    return ordered[0].placements[0] if ordered else ""


def _instrument_of(fit: Fit, placement: str) -> float:
    owner = {p.id: p.instrument for p in fit.house.placements}
    times = {i.id: i.response_time for i in fit.house.instruments}
    return times.get(owner.get(placement, ""), 60.0)


def _candidates(placement: str, threshold: float, target: float, least: float, *, in_duct: bool) -> list[RuleSetting]:
    def rule(name: str, on: float, sampling: float, release: float = 0.67) -> RuleSetting:
        return RuleSetting(
            id=name,
            placement=placement,
            on_above=on,
            off_below=release * on,
            sampling_seconds_per_hour=sampling,
            minimum_run=600.0,
            maximum_run=4 * 3600.0,
            room_on=target,
        )

    found = [rule("equipment only", NEVER, 0.0), rule("always circulating", NEVER, 3600.0)]
    for share in (0.7, 1.0, 1.4):
        # A room monitor needs no fan to see; one in the duct is blind without it.
        for sampling in sorted({180.0, 300.0, least, 2 * least, 900.0}) if in_duct else [0.0]:
            found.append(rule(f"on at {share:.0%} of the mapped target", share * threshold, sampling))
    return found


def _choose(ruled: list[RuleOutcome], idle: float, best: float) -> RuleOutcome:
    """Return the rule with the fewest fan hours among those that reach nine tenths of what the best one gains."""
    wanted = best + 0.1 * max(idle - best, 0.0)
    good = [o for o in ruled if float(np.median(o.exposure)) <= wanted + 1e-15]
    return min(good, key=lambda o: float(np.median(o.fan_hours)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stage:
    """The last weeks made ready for closed-loop replays of the latest house."""

    fit: Fit
    law: Law
    draws: int
    window: slice
    mapping: Mapping
    response: float
    baseline: Baseline

    @classmethod
    def of(cls, fit: Fit, baseline: Baseline, mapping: Mapping, response: float) -> _Stage:
        """Prepare it once."""
        steps = fit.prepared.steps
        span = int(min(WEEKS * 7 * 86400.0 / fit.prepared.step, steps))
        law = law_of(fit, Scenario(name="latest house", house_as_of=float(fit.prepared.time[-1])))
        return cls(
            fit=fit,
            law=law,
            draws=min(DRAWS, fit.draws),
            window=slice(steps - span, steps),
            mapping=mapping,
            response=response,
            baseline=baseline,
        )

    def run(self, settings: list[RuleSetting]) -> list[RuleOutcome]:
        """Replay all settings on all draws of the stage."""
        fit, window = self.fit, self.window
        prepared = fit.prepared
        draws = slice(0, self.draws)
        law = self.law.coefficients.species(slice(0, PARTICLES)).take(draws)
        split = class_split(COARSE_SHARE)[:PARTICLES]
        outdoor_split = class_split(OUTDOOR_COARSE_SHARE)[:PARTICLES]
        drivers = prepared.outdoor[window][:, None, None] * outdoor_split[None, :, None]
        volume = law.volume[:, 0]
        emissions = (
            self.baseline.emission[draws, window][:, :, None, None]
            * split[None, None, :, None]
            * volume[:, None, None, None]
        )
        states = self.law.bases[window]
        is_event = (self.baseline.event_at[window] >= 0).astype(np.bool_)
        demand = np.where(prepared.fan[window] == FAN_HEATING, FAN_HEATING, FAN_OFF)
        course = Course(
            conditions=states // FAN_STATES,
            demand=demand.astype(np.int64),
            local_seconds=prepared.seconds_of_day[window],
            outdoor_temperature=prepared.outdoor_temperature[window],
            presence=np.ones((states.size, 1)),
            lockout=np.zeros(states.size, dtype=np.bool_),
            is_event=is_event,
        )
        level = fit.level[draws, window.start]
        result = run_with_rule(
            law,
            course,
            inputs_of(drivers, emissions),
            level[:, None, None] * split[None, :, None],
            prepared.step,
            rules=_values(settings),
            sensor=self._sensor(law.rate.shape[1]),
        )
        return self._outcomes(settings, result, states.size * prepared.step)

    def _sensor(self, states: int) -> Sensor:
        is_room = self.mapping.side is AirSide.ROOM
        slope, leak = self.mapping.slope[: self.draws], self.mapping.leak[: self.draws]
        shape = (self.draws, states, PARTICLES, 1)
        zones = np.broadcast_to(slope[:, None, None, None], shape).copy()
        drivers = np.broadcast_to(leak[:, None, None, None], shape).copy()
        if not is_room:
            still = np.arange(states) % FAN_STATES == FAN_OFF
            zones[:, still] = np.nan
            drivers[:, still] = np.nan
        return Sensor(
            view=View(zones=zones, drivers=drivers, needs_fan=not is_room),
            species_weight=np.array(PM25_PART),
            gain=np.ones(1),
            response_time=self.response,
            purge=0.0 if is_room else purge_seconds(self.fit.prepared.epochs[-1].house, mixed_volume(self.fit.house)),
        )

    def _outcomes(self, settings: list[RuleSetting], result: RuleRun, duration: float) -> list[RuleOutcome]:
        days = duration / 86400.0
        weight = np.array(PM25_PART)
        power = _power(self.fit)
        beside = _power_beside(self.fit)
        found = []
        for index, setting in enumerate(settings):
            seconds = result.fan_seconds[index]
            energy = None
            if power is not None:
                energy = (seconds[:, 1] * (power[0].value + beside) + seconds[:, 2] * (power[1].value + beside)) / days
            found.append(
                RuleOutcome(
                    setting=setting,
                    exposure=np.asarray(result.exposure[index] @ weight),
                    fan_hours=np.asarray(seconds[:, 1:].sum(axis=1) / 3600.0 / days),
                    rule_hours=np.asarray(result.rule_seconds[index] / 3600.0 / days),
                    starts=np.asarray(result.fan_starts[index] / days),
                    energy=energy,
                    coverage=np.asarray(result.covered_share[index]),
                )
            )
        return found


def _power(fit: Fit) -> tuple[Estimate, Estimate] | None:
    handler = fit.prepared.epochs[-1].house.air_handler
    if handler is None:
        return None
    by_name = {s.name: s.power for s in handler.speeds if s.power is not None}
    circulate = by_name.get("circulate") or by_name.get("heating")
    heating = by_name.get("heating") or by_name.get("circulate")
    return (circulate, heating) if circulate is not None and heating is not None else None


def _power_beside(fit: Fit) -> float:
    """Return what cleaners that run with the fan draw besides it. [W]"""
    cleaners = fit.prepared.epochs[-1].house.cleaners
    running = [c.power.value for c in cleaners if c.runs_with is RunsWith.AIR_HANDLER and c.power is not None]
    return float(sum(running))


def _values(settings: list[RuleSetting]) -> RuleValues:
    count = len(settings)
    offsets = np.zeros((count, 1))
    longest = [s.maximum_run if s.maximum_run is not None else np.inf for s in settings]
    return RuleValues(
        on_above=np.array([s.on_above for s in settings]),
        off_below=np.array([s.off_below for s in settings]),
        minimum_run=np.array([s.minimum_run for s in settings]),
        maximum_run=np.array(longest),
        sampling_seconds=np.array([s.sampling_seconds_per_hour for s in settings]),
        sampling_offsets=offsets,
        early_first=np.zeros(count),
        early_last=np.zeros(count),
        early_colder_than=np.full(count, -np.inf),
        cap=np.full(count, CAP),
    )
