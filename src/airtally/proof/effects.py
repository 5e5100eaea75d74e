"""Did it work: loss rates at equal conditions, and the same days in the house as it was before."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from airtally.arrays import Floats
from airtally.house.dates import Phase, house_at
from airtally.house.parts import House
from airtally.inference.fit import Fit
from airtally.inference.prepare import FAN_CIRCULATE, FAN_HEATING, FAN_OFF
from airtally.inference.rates import epoch_rates
from airtally.inference.regimes import SINKS
from airtally.proof.days import Adjusted, Days, Placebo, adjusted_change, days_of, placebo_dates, raw_change
from airtally.scenario.baseline import Baseline
from airtally.scenario.replay import Contrast, contrast, replay
from airtally.scenario.scenario import AS_RECORDED, Scenario


class Verdict(StrEnum):
    """What a comparison shows; each verdict rests on a 95 % interval."""

    SHOWN = "shown"
    NOT_SHOWN = "not shown"
    NOT_SEPARABLE = "not separable"
    WORSE = "worse"


def verdict_of(change: Floats, *, better_is_lower: bool) -> Verdict:
    """Return the verdict on draws of a change: shown if all but 2.5 % lie on the better side, worse on the other."""
    values = change[np.isfinite(change)]
    if values.size == 0:
        return Verdict.NOT_SEPARABLE
    low, high = np.quantile(values, [0.025, 0.975])
    if not better_is_lower:
        low, high = -high, -low
    if high < 0.0:
        return Verdict.SHOWN
    if low > 0.0:
        return Verdict.WORSE
    return Verdict.NOT_SHOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class RateChange:
    """Loss rate before and after at equal weather and fan state, by draw. [1/s]"""

    fan_on: bool
    before: Floats
    after: Floats
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """All comparisons of one change.

    ``rates`` loss rates at equal conditions; ``like_for_like`` the after-period in the old and in the new
    house; ``adjusted`` the comparison by days; ``placebo`` what it claims at dates when nothing was done;
    ``raw`` plain means before and after [kg/m3], refused as evidence; ``smoke_days`` how many days of
    either side had smoke outdoors.
    """

    change_id: str
    name: str
    before: Phase
    after: Phase
    rates: tuple[RateChange, ...]
    like_for_like: Contrast
    like_for_like_verdict: Verdict
    adjusted: Adjusted | None
    adjusted_verdict: Verdict
    placebo: Placebo | None
    raw: tuple[float, float]
    smoke_days: int


def prove(fit: Fit, baseline: Baseline, rng: np.random.Generator) -> tuple[Proof, ...]:
    """Return one proof for each change that begins a phase, earliest first; and the whole job where there are several."""
    days = days_of(fit)
    phases = fit.prepared.phases
    pairs = [(phases[i], phases[i + 1], phases[i + 1].id) for i in range(len(phases) - 1)]
    if len(phases) > 2:
        pairs.append((phases[0], phases[-1], "whole_job"))
    return tuple(_proof(fit, baseline, days, pair, rng) for pair in pairs)


def _proof(
    fit: Fit,
    baseline: Baseline,
    days: Days,
    pair: tuple[Phase, Phase, str],
    rng: np.random.Generator,
) -> Proof:
    before, after, change_id = pair
    phases = fit.prepared.phases
    index = [phases.index(before), phases.index(after)]
    # Both are run from the same start, so that a change which changes nothing differs by exactly nothing.
    window = fit.prepared.phase_steps(after)
    undone = Scenario(name=f"house before: {after.name}", house_as_of=before.end - 1.0)
    old = replay(fit, baseline, undone, window=window)
    like = contrast(fit, old, replay(fit, baseline, AS_RECORDED, window=window), after)
    is_judged = rests_on_readings(fit, before, after)
    adjusted = adjusted_change(days, index[0], index[1], rng)
    inside = (days.phase == index[0]) | (days.phase == index[1])
    real = float(np.median(adjusted.difference)) if adjusted is not None else float("nan")
    rates = tuple(_rate_change(fit, before, after, fan_on=on, is_judged=is_judged) for on in (True, False))
    return Proof(
        change_id=change_id,
        name="the whole job" if change_id == "whole_job" else after.name,
        before=before,
        after=after,
        rates=tuple(r for r in rates if r is not None),
        like_for_like=like,
        like_for_like_verdict=verdict_of(like.absolute, better_is_lower=True) if is_judged else Verdict.NOT_SEPARABLE,
        adjusted=adjusted,
        adjusted_verdict=Verdict.NOT_SEPARABLE
        if adjusted is None
        else verdict_of(adjusted.difference, better_is_lower=True),
        placebo=placebo_dates(days, index[0], real) if adjusted is not None else None,
        raw=raw_change(days, before, after, phases),
        smoke_days=int((days.smoke & inside).sum()),
    )


def rests_on_readings(fit: Fit, before: Phase, after: Phase) -> bool:
    """Return whether the readings judge what changed between two phases, or nothing changed.

    Return leaks, ventilation, blower speeds and the envelope keep their surveyed values in the fit. A change
    of these alone moves every draw one way by assumption, which proves nothing.
    """
    learnt = {p.name for p in fit.prior.parameters if p.is_learnt}
    then, now = (_parts(house_at(fit.house, phase.end - 1.0)) for phase in (before, after))
    changed = {name for name in then.keys() | now.keys() if then.get(name) != now.get(name)}
    return not changed or bool(changed & learnt)


def _parts(house: House) -> dict[str, object]:
    """Return the parts of a house at one moment by the name of their parameter."""
    handler = house.air_handler
    parts: dict[str, object] = {f"cleaner/{c.id}": c for c in house.cleaners}
    parts |= {f"ventilation/{v.id}": v for v in house.ventilation} | {"envelope": house.envelopes}
    if handler is not None:
        parts |= {f"filter/{f.id}": f for f in handler.filters} | {f"leak/{k.id}": k for k in handler.return_leaks}
        parts["speeds"] = handler.speeds
    return parts


def _rate_change(fit: Fit, before: Phase, after: Phase, *, fan_on: bool, is_judged: bool) -> RateChange | None:
    """Return both houses' loss rates at one weather (the record's mean) and one fan state."""
    if fan_on and fit.house.air_handler is None:
        return None
    totals = []
    for phase in (before, after):
        # The house as it stood in the last step of the phase.
        step = int(np.clip(np.searchsorted(fit.prepared.time, phase.end) - 1, 0, fit.prepared.steps - 1))
        epoch = next(e for e in fit.prepared.epochs if e.first <= step < e.last)
        fan = FAN_OFF
        if fan_on:
            fan = FAN_CIRCULATE if np.any(fit.prepared.fan == FAN_CIRCULATE) else FAN_HEATING
        rates = epoch_rates(epoch, fan, fit.values, 1.0)
        totals.append(np.sum([rates[name] for name in SINKS], axis=0))
    return RateChange(
        fan_on=fan_on,
        before=np.asarray(totals[0]),
        after=np.asarray(totals[1]),
        verdict=verdict_of(np.asarray(totals[1] - totals[0]), better_is_lower=False)
        if is_judged
        else Verdict.NOT_SEPARABLE,
    )
