"""Rich homes fitted and put beside their truth, quantity by quantity."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from time import perf_counter

import numpy as np
from tests.recovery.measure import Answer
from tests.recovery.oracle import oracle_fit
from tests.recovery.rich_events import Burst, EventCount, count_events, true_bursts
from tests.recovery.rich_homes import RichHome

from airtally.arrays import Floats
from airtally.demo.aerosols import SOURCES
from airtally.house.dates import Phase
from airtally.inference.events import Source
from airtally.inference.fit import Fit, fit_house
from airtally.inference.rates import phase_rates
from airtally.proof.effects import Proof, Verdict, prove
from airtally.record.of_fit import NOT_TOLD_APART, Shares, shares_of
from airtally.scenario.baseline import baseline_of

FIT_SEED = 1
UGM3 = 1e9
PER_HOUR = 3600.0
TAGS = {
    Source.OUTDOOR: ("outdoor",),
    Source.COOKING: ("cooking",),
    Source.SOLID_FUEL: ("solid_fuel",),
    Source.CANDLE_INCENSE: ("candle_incense",),
    Source.GARAGE: ("garage",),
    Source.OTHER: ("resuspension", "workshop", "works"),
}
"""The record's shares and the simulation's tags in each."""
FILTERS = {"start": "one-inch", "install": "four-inch"}
"""The surveyed filter of each phase."""


@dataclass(frozen=True)
class RichResult:
    """One rich home: answers beside the truth, hourly series, events, and the verdict on its works.

    ``oracle`` holds the answers of a fit that was told fan states and event times, nothing where none was made;
    ``series_error`` the root mean square of hourly errors of the room mean over its true mean [-];
    ``rate`` the verdict on the loss rate with the fan on, at equal conditions.
    """

    answers: dict[str, Answer]
    oracle: dict[str, Answer]
    series_error: float
    events: EventCount
    rate: Verdict
    is_short_circuited: bool
    seconds: float


def judge_rich(home: RichHome, *, with_oracle: bool = False) -> RichResult:
    """Fit a home as a job does, without its pressures, and put the answers of its phase beside the truth."""
    begun = perf_counter()
    fit = fit_house(home.house, home.log, home.phases, home.fan, rng=np.random.default_rng(FIT_SEED))
    assert isinstance(fit, Fit), fit
    answers, proof = answers_of(home, fit)
    return RichResult(
        answers=answers,
        oracle=answers_of(home, oracle_fit(home, seed=FIT_SEED))[0] if with_oracle else {},
        series_error=series_error(home, fit),
        events=_events(home, fit),
        rate=proof.rates[0].verdict,
        is_short_circuited=home.has_works and home.variety.recirculated is not None,
        seconds=perf_counter() - begun,
    )


def answers_of(home: RichHome, fit: Fit) -> tuple[dict[str, Answer], Proof]:
    """Return every quantity with an interval beside its truth, and the proof of the works."""
    baseline = baseline_of(fit)
    proof = prove(fit, baseline, np.random.default_rng(FIT_SEED + 1))[0]
    change = home.truth["effects"]["works"]["change_percent"]
    answers = _rates(home, fit) | _levels(home, fit, shares_of(fit, baseline))
    return answers | {"change": _answer(100.0 * proof.like_for_like.relative, change, "change", fit)}, proof


def _answer(draws: Floats, truth: float, key: str, fit: Fit) -> Answer:
    low, middle, high = np.quantile(draws, [0.05, 0.5, 0.95])
    return Answer(
        truth=float(truth),
        middle=float(middle),
        low=float(low),
        high=float(high),
        is_open=key in {item.quantity for item in fit.not_identified},
    )


def _rates(home: RichHome, fit: Fit) -> dict[str, Answer]:
    """Return loss rates and air exchange of the home's phase [1/h], its filter [-], the cleaner [m3/h]."""
    phase, works = home.phase, home.phases[1]
    real = home.truth["phases"][phase.id]["rates_per_h"]
    by_fan = {on: _rates_of(fit, phase, fan_on=on) for on in (False, True)}
    cleaner = _rates_of(fit, works, fan_on=True)["cleaner"] * fit.values["volume"]
    filter_id = f"filter/{FILTERS[phase.id]}"
    return {
        "loss, fan off": _answer(by_fan[False]["total"], real["fan_off"]["total"], f"phases/{phase.id}/fan_off", fit),
        "loss, fan on": _answer(by_fan[True]["total"], real["fan_on"]["total"], f"phases/{phase.id}/fan_on", fit),
        "air exchange": _answer(by_fan[False]["air_exchange"], real["fan_off"]["air_exchange"], "air_exchange", fit),
        "filter": _answer(fit.values[filter_id], _filter_truth(home, phase), filter_id, fit),
        "cleaner": _answer(
            cleaner,
            home.truth["phases"][works.id]["clean_air_m3_per_h"]["fan_on"]["cleaner"],
            "cleaner/bypass",
            fit,
        ),
    }


def _rates_of(fit: Fit, phase: Phase, *, fan_on: bool) -> dict[str, Floats]:
    rates = phase_rates(fit.prepared, fit.values, phase, fan_on=fan_on)
    assert rates is not None
    return {name: rate * PER_HOUR for name, rate in rates.items()}


def _filter_truth(home: RichHome, phase: Phase) -> float:
    """Return the mean single-pass efficiency of what sat in the handler over a phase, by time. [-]"""
    since = [datetime.fromisoformat(one["since"]).timestamp() for one in home.truth["filters"]]
    held = [
        max(min(after, phase.end) - max(begin, phase.start), 0.0)
        for begin, after in zip(since, [*since[1:], np.inf], strict=True)
    ]
    return float(np.average([one["pm25_efficiency"] for one in home.truth["filters"]], weights=held))


def _levels(home: RichHome, fit: Fit, shares: Shares) -> dict[str, Answer]:
    """Return mean level [ug/m3] and source shares [-] over the minutes of the phase that the fit covers."""
    phase = home.phase
    steps = fit.prepared.phase_steps(phase)
    inside = (home.time >= fit.prepared.time[steps.start] - 30.0) & (home.time < fit.prepared.time[steps.stop - 1])
    total = shares.recorded.of(phase).mean
    tagged = home.by_source[inside].mean(axis=0)
    found = {"phase mean": _answer(total * UGM3, float(home.room[inside].mean()), "room level", fit)}
    for source, tags in TAGS.items():
        names = NOT_TOLD_APART if source is Source.OTHER else (source,)
        parts = [part for name in names if (part := shares.parts.of(phase.id, name)) is not None]
        share = np.clip(np.sum(parts, axis=0) / total, 0.0, 1.0) if parts else np.zeros(fit.draws)
        real = float(sum(tagged[SOURCES.index(tag)] for tag in tags) / tagged.sum())
        found[f"{source.value.replace('_', ' ')} share"] = _answer(share, real, "share", fit)
    return found


def series_error(home: RichHome, fit: Fit) -> float:
    """Return the root mean square error of the hourly room series, median of the draws, over the true mean. [-]"""
    prepared = fit.prepared
    per = round(3600.0 / prepared.step)
    first = int(np.searchsorted(home.time, prepared.start - 1.0))
    hours = min(prepared.steps, home.time.size - first) // per
    found = np.median(fit.level[:, : hours * per].reshape(fit.draws, hours, per).mean(axis=2), axis=0) * UGM3
    real = home.room[first : first + hours * per].reshape(hours, per).mean(axis=1)
    return float(np.sqrt(np.mean((found - real) ** 2)) / real.mean())


def _events(home: RichHome, fit: Fit) -> EventCount:
    found = [
        Burst(start=e.start, end=e.start + e.duration, rise=e.rise * UGM3, kinds=(e.kinds[0][0],)) for e in fit.events
    ]
    true = true_bursts(home.truth["events"], home.time, home.by_source)
    prepared = fit.prepared
    return count_events(true, found, prepared.start, prepared.start + prepared.steps * prepared.step)
