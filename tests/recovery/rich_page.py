"""The rich homes' part of the recovery page: one row a quantity and design, with its bar and whether it holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from tests.recovery.measure import Answer, Score, score_of
from tests.recovery.rich import RichResult
from tests.recovery.rich_homes import Loggers

from airtally.proof.effects import Verdict

COVERED = 0.85
"""Least share of homes whose 90 % interval holds the truth: 170 of 200."""
OVER_ORACLE = 1.5
"""Largest interval score over that of the fit that was told fan states and event times."""
LEFT_OPEN = 0.20
"""Largest share of homes in which a quantity may be called not identified."""
CLAIMED = 0.075
"""Largest share of homes in which a change is claimed though nothing was done: 15 of 200."""


@dataclass(frozen=True)
class Row:
    """One row of the table.

    Attributes
    ----------
    name, answer : str
        As shown; the key of the answers.
    unit : str
        ``%`` of the home's truth, or a unit of absolute errors: ``m3/h``, ``points`` of a hundred.
    bars : dict
        Largest error by design, in ``unit``.
    is_mean : bool
        The error is a mean over homes, not a median.
    is_covered : bool
        Over both designs coverage, "not identified" and the oracle have bars too.
    chosen : callable
        Which homes count.
    """

    name: str
    answer: str
    unit: str
    bars: dict[Loggers, float]
    is_mean: bool = False
    is_covered: bool = False
    chosen: Callable[[RichResult], bool] = lambda _: True


def _both(bar: float) -> dict[Loggers, float]:
    return dict.fromkeys(Loggers, bar)


SHARES = ("outdoor", "cooking", "solid fuel", "candle incense", "garage", "other")
ROWS = (
    Row("loss, fan off", "loss, fan off", "%", _both(12.0), is_covered=True),
    Row("loss, fan on", "loss, fan on", "%", _both(9.0), is_covered=True),
    Row("cleaner", "cleaner", "m3/h", {}, is_covered=True),
    Row("cleaner that works", "cleaner", "%", _both(20.0), chosen=lambda r: not r.is_short_circuited),
    Row("short-circuited cleaner", "cleaner", "m3/h", _both(60.0), chosen=lambda r: r.is_short_circuited),
    Row("air exchange", "air exchange", "%", {Loggers.ROOM_LOGGER: 15.0}),
    Row("filter", "filter", "%", _both(22.0)),
    Row("phase mean", "phase mean", "%", {Loggers.ROOM_LOGGER: 10.0, Loggers.IN_DUCT: 14.0}, is_covered=True),
    Row("change by the works", "change", "points of percent", {}, is_covered=True),
    *(
        Row(f"{name} share", f"{name} share", "points", _both(6.0), is_mean=True, is_covered=name == "outdoor")
        for name in SHARES
    ),
)
SERIES_BARS = {Loggers.ROOM_LOGGER: 14.0, Loggers.IN_DUCT: 30.0}
EVENT_BARS = {"recall": 85.0, "precision": 80.0, "kind": 80.0}
HEAD = (
    "\n| design | quantity | unit | error | bias | coverage of 90 % | half width | interval score | over oracle | said open "
    "| bar | holds |\n|---|---|---|---:|---:|---:|---:|---:|---:|---:|---:|---|\n"
)


def rich_tables(done: dict[Loggers, list[RichResult]], nothing_done: dict[Loggers, list[RichResult]]) -> str:
    """Return the tables of homes with work done, and of what was claimed of homes without."""
    parts = [HEAD]
    for design, found in done.items():
        for row in ROWS:
            chosen = [r for r in found if row.chosen(r)]
            if chosen:
                parts.append(_row(design, row, chosen))
        series = 100.0 * float(np.median([r.series_error for r in found]))
        bar = SERIES_BARS[design]
        held = _holds(series <= bar)
        parts.append(f"| {design} | hourly room series | % of mean | {series:.1f} | | | | | | | {bar:.0f} | {held} |\n")
    parts.append(_intervals([r for found in done.values() for r in found]))
    parts += ["\n| design | events of 10 ug/m3 and more | share | of | bar | holds |\n|---|---|---:|---:|---:|---|\n"]
    for design, found in done.items():
        for name, part, whole in _event_shares(found):
            share = 100.0 * part / max(whole, 1)
            held = _holds(share >= EVENT_BARS[name])
            parts.append(f"| {design} | {name} | {share:.0f} % | {whole} | {EVENT_BARS[name]:.0f} % | {held} |\n")
    parts += [
        "\n| design | homes | loss rate with the fan on | claimed | of | bar | holds |\n"
        "|---|---|---|---:|---:|---:|---|\n"
    ]
    for label, homes in (("work done", done), ("nothing done", nothing_done)):
        for design, found in homes.items():
            claims = sum(r.rate in (Verdict.SHOWN, Verdict.WORSE) for r in found)
            bar = f"{CLAIMED * len(found):.1f}" if label == "nothing done" else ""
            held = _holds(claims <= CLAIMED * len(found)) if bar else ""
            parts.append(f"| {design} | {label} | shown or worse | {claims} | {len(found)} | {bar} | {held} |\n")
    return "".join(parts)


def _event_shares(found: list[RichResult]) -> tuple[tuple[str, int, int], ...]:
    total = {name: sum(getattr(r.events, name) for r in found) for name in ("true", "seen", "named", "found", "real")}
    return (
        ("recall", total["seen"], total["true"]),
        ("precision", total["real"], total["found"]),
        ("kind", total["named"], total["seen"]),
    )


def _row(design: Loggers, row: Row, found: list[RichResult]) -> str:
    answers = [r.answers[row.answer] for r in found]
    score = _score(row, answers)
    factor = 1.0 if row.unit in ("m3/h", "points of percent") else 100.0
    error = factor * (score.mean_error if row.is_mean else score.median_error)
    over = _over_oracle(row, found)
    bar = row.bars.get(design)
    return (
        f"| {design} | {row.name} | {row.unit} | {error:.1f} | {factor * score.bias:+.1f} "
        f"| {round(score.coverage * len(answers))} of {len(answers)} | {factor * score.half_width:.1f} "
        f"| {factor * score.interval_score:.1f} | {'' if over is None else f'{over:.2f}'} "
        f"| {100.0 * score.left_open:.0f} % | {' | ' if bar is None else f'{bar:.0f} | {_holds(error <= bar)}'} |\n"
    )


def _intervals(found: list[RichResult]) -> str:
    """Return the table of what holds over both designs, a case being a home."""
    parts = [
        "\n| both designs | 90 % interval holds | of | bar | said open | bar | over oracle | bar | holds |\n"
        "|---|---:|---:|---:|---:|---:|---:|---:|---|\n"
    ]
    for row in (row for row in ROWS if row.is_covered):
        score = _score(row, [r.answers[row.answer] for r in found])
        over = _over_oracle(row, found)
        failed = [
            name
            for name, is_failed in (
                ("coverage", score.coverage < COVERED),
                ("open", score.left_open > LEFT_OPEN),
                ("oracle", over is not None and over > OVER_ORACLE),
            )
            if is_failed
        ]
        parts.append(
            f"| {row.name} | {round(score.coverage * len(found))} | {len(found)} | {COVERED * len(found):.0f} "
            f"| {100.0 * score.left_open:.0f} % | {100.0 * LEFT_OPEN:.0f} % | {'' if over is None else f'{over:.2f}'} "
            f"| {OVER_ORACLE} | {_holds(not failed, ', '.join(failed))} |\n"
        )
    return "".join(parts)


def _score(row: Row, answers: list[Answer]) -> Score:
    truth = np.array([a.truth for a in answers])
    return score_of(answers, np.abs(truth) if row.unit == "%" else np.ones(truth.size))


def _over_oracle(row: Row, found: list[RichResult]) -> float | None:
    """Return the interval score over the oracle's in the homes that have both; None where there are none."""
    both = [r for r in found if r.oracle]
    if not both:
        return None
    own, told = (
        _score(row, [part[row.answer] for part in parts])
        for parts in zip(*[(r.answers, r.oracle) for r in both], strict=True)
    )
    return own.interval_score / told.interval_score


def _holds(held: bool, failed: str = "") -> str:
    return "yes" if held else f"**no** {failed}".strip()
