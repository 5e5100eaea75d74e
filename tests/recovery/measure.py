"""What one simulated home's fit says beside its truth, and how many homes together did."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from tests.recovery.as_job import as_house, as_log
from tests.recovery.homes import VOLUME, SimulatedHome, simulate_home

from airtally.arrays import Floats
from airtally.inference.events import Source
from airtally.inference.fit import Fit, fit_house
from airtally.inference.rates import phase_rates
from airtally.proof.effects import Proof, Verdict, prove
from airtally.scenario.baseline import baseline_of
from airtally.scenario.replay import replay
from airtally.scenario.scenario import AS_RECORDED

SEED = 20250911


@dataclass(frozen=True)
class Design:
    """One kind of simulated home; ``options`` go to :func:`simulate_home`."""

    name: str
    options: tuple[tuple[str, int | bool], ...]
    works: bool = True


DESIGNS = (
    Design("in-duct, 15 min/h", (("in_duct", True),)),
    Design("room monitor", (("in_duct", False),)),
    Design("in-duct, 15 min/h, unseen pulses", (("in_duct", True), ("unseen_pulses", True))),
    Design("room monitor, unseen pulses", (("in_duct", False), ("unseen_pulses", True))),
    Design("in-duct, 20 min/h", (("in_duct", True), ("fan_minutes_per_hour", 20))),
    Design("nothing done, in-duct, 15 min/h", (("in_duct", True), ("cleaner_works", False)), works=False),
    Design("nothing done, room monitor", (("in_duct", False), ("cleaner_works", False)), works=False),
)

QUANTITIES = (
    ("loss, fan off", "1/h", "phases/before/fan_off"),
    ("loss, fan on", "1/h", "phases/before/fan_on"),
    ("cleaner", "m3/h", "cleaner/bypass"),
    ("outdoor share", "1", ""),
    ("phase mean", "ug/m3", "room level"),
)
"""Name, unit and the key under which the fit would say that it is not identified."""


@dataclass(frozen=True)
class Answer:
    """One quantity of one home: middle and 90 % interval beside the truth."""

    truth: float
    middle: float
    low: float
    high: float
    is_open: bool
    """The fit said that the readings do not tell it."""


@dataclass(frozen=True)
class HomeResult:
    """All answers of one home and what the proof claimed."""

    answers: dict[str, Answer]
    rate: Verdict
    like_for_like: Verdict
    by_days: Verdict
    seconds_of_fit: float


def results(design: Design, homes: int, clock: Callable[[], float]) -> Iterator[HomeResult]:
    """Simulate, fit and judge homes of a design, one after another; ``clock`` tells seconds."""
    for number in range(homes):
        rng = np.random.default_rng([SEED, DESIGNS.index(design), number])
        home = simulate_home(rng, **dict(design.options))  # type: ignore[arg-type]
        yield judge(home, rng, clock)


def judge(home: SimulatedHome, rng: np.random.Generator, clock: Callable[[], float]) -> HomeResult:
    """Fit one home as a job would and put the answers beside the truth."""
    house, phases = as_house(home)
    log, fan = as_log(home)
    begun = clock()
    fit = fit_house(house, log, phases, fan, rng=rng)
    took = clock() - begun
    assert isinstance(fit, Fit)
    baseline = baseline_of(fit)
    recorded = replay(fit, baseline, AS_RECORDED)
    outdoors = replay(fit, baseline, AS_RECORDED, only=frozenset({Source.OUTDOOR}))
    before, after = phases
    rates = {(p.id, on): _total(fit, p, fan_on=on) for p in phases for on in (False, True)}
    share = outdoors.of(before).mean / recorded.of(before).mean
    drawn = {
        "loss, fan off": (rates["before", False], home.truth["loss_off"]),
        "loss, fan on": (rates["before", True], home.truth["loss_on"]),
        "cleaner": ((rates["after", True] - rates["before", True]) * VOLUME, home.truth["cleaner"]),
        "outdoor share": (share, home.truth["outdoor_share_before"]),
        "phase mean": (recorded.of(after).mean * 1e9, home.truth["mean_after"]),
    }
    left_open = {item.quantity for item in fit.not_identified}
    answers = {}
    for name, _, key in QUANTITIES:
        draws, truth = drawn[name]
        low, high = np.quantile(draws, [0.05, 0.95])
        answers[name] = Answer(
            truth=truth, middle=float(np.median(draws)), low=float(low), high=float(high), is_open=key in left_open
        )
    proof: Proof = prove(fit, baseline, rng)[0]
    return HomeResult(
        answers=answers,
        rate=proof.rates[0].verdict,
        like_for_like=proof.like_for_like_verdict,
        by_days=proof.adjusted_verdict,
        seconds_of_fit=took,
    )


def _total(fit: Fit, phase, *, fan_on: bool) -> Floats:
    rates = phase_rates(fit.prepared, fit.values, phase, fan_on=fan_on)
    assert rates is not None
    return np.asarray(rates["total"] * 3600.0)


@dataclass(frozen=True)
class Score:
    """How a quantity did over many homes; errors, widths and the interval score are over ``scale``.

    ``median_error`` and ``mean_error`` are of absolute errors. ``interval_score`` is the median over homes of
    width plus 20 times what the truth lies outside of the 90 % interval (Gneiting and Raftery 2007, from memory).
    """

    rmse: float
    median_error: float
    mean_error: float
    bias: float
    coverage: float
    half_width: float
    interval_score: float
    left_open: float


def score_of(answers: list[Answer], scale: Floats) -> Score:
    """Return a quantity's score with errors over ``scale``, shape (homes,): its truth, or 1 for absolute errors."""
    error = np.array([a.middle - a.truth for a in answers]) / scale
    width = np.array([a.high - a.low for a in answers]) / scale
    outside = np.array([max(a.low - a.truth, a.truth - a.high, 0.0) for a in answers]) / scale
    return Score(
        rmse=float(np.sqrt(np.mean(error**2))),
        median_error=float(np.median(np.abs(error))),
        mean_error=float(np.mean(np.abs(error))),
        bias=float(error.mean()),
        coverage=float(np.mean([a.low <= a.truth <= a.high for a in answers])),
        half_width=float(np.median(width / 2.0)),
        interval_score=float(np.median(width + 20.0 * outside)),
        left_open=float(np.mean([a.is_open for a in answers])),
    )


CLAIMS = (Verdict.SHOWN, Verdict.WORSE)


def claimed(verdicts: list[Verdict]) -> tuple[int, int, int]:
    """Return how many verdicts were shown, worse, and neither."""
    shown = sum(v is Verdict.SHOWN for v in verdicts)
    worse = sum(v is Verdict.WORSE for v in verdicts)
    return shown, worse, len(verdicts) - shown - worse
