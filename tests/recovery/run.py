"""The recovery runs: ``python -m tests.recovery.run`` simulates homes, fits them and writes docs/recovery.md.

Seeds are fixed in :mod:`tests.recovery.measure`; the same number of homes gives the same table, whatever
the machine, up to its arithmetic.
"""

from __future__ import annotations

import argparse
import platform
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from tests.recovery.measure import DESIGNS, QUANTITIES, SEED, Answer, Design, HomeResult, claimed, results, score_of
from tests.recovery.rich import FIRST_SEED, RichResult, rich_results

import airtally
from airtally.arrays import Floats
from airtally.proof.effects import Verdict

PAGE = Path(__file__).parents[2] / "docs" / "recovery.md"

INTRODUCTION = """# Recovery runs

Simulated one-zone homes with known truth, made without the engine (`tests/recovery/homes.py`: ten-second
steps, its own events, fans and sensors), surveyed with typical values and not their own, fitted as a job
fits them. Made by `make recovery`; not edited by hand.

Each home has 400 m3, four weeks of outdoor readings by the hour and one monitor every five minutes, and a
cleaner on the return in weeks three and four. An in-duct monitor sees the rooms only while the fan runs.
Unseen pulses are about one small emission an hour beside the meals.
"""

READING = """
Errors are of the middle of the draws, over the home's own truth in percent; those of the cleaner's clean air
are in m3/h (a working one gives {cleaner:.0f} on average), those of the outdoor share in points of a hundred.
Coverage is how often the 90 % interval held the truth; half width is the median half of that interval.
"Said open" is how often the fit said that its readings do not tell the quantity.
"""

RICH_HEADING = "\n## The demo's houses\n"
RICH_INTRODUCTION = """
The invented demo job under other seeds: five rooms and a garage, its own size bins and time stepper, sensors
with faults, dated quirks; read, fitted and judged by the whole job from its folder. The hidden truth is the
simulation's own. Houses in which nothing was done carry the same dated change in their survey.
"""


def main() -> None:
    """Run all designs and write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--homes", type=int, default=200, help="homes of each design")
    parser.add_argument("--rich", type=int, default=12, help="demo houses with work done, and as many without")
    parser.add_argument("--page", type=Path, default=PAGE, help="where the page goes; a part of 0 homes stays as it is")
    given = parser.parse_args()
    today = datetime.now(tz=UTC)
    old = given.page.read_text(encoding="utf-8") if given.page.exists() else ""
    first, _, second = old.partition(RICH_HEADING)
    if given.homes:
        first = page(run_homes(given.homes), today)
    if given.rich:
        second = rich_part({placebo: run_rich(given.rich, placebo=placebo) for placebo in (False, True)}, today)
    given.page.write_text(first.rstrip() + "\n" + RICH_HEADING + second if second else first, encoding="utf-8")


def run_homes(homes: int) -> dict[Design, list[HomeResult]]:
    """Return the results of every design, telling standard error how far it is."""
    done: dict[Design, list[HomeResult]] = {}
    for design in DESIGNS:
        found = []
        for number, result in enumerate(results(design, homes, time.perf_counter)):
            found.append(result)
            sys.stderr.write(f"\r{design.name}: {number + 1} of {homes}   ")
        done[design] = found
        sys.stderr.write("\n")
    return done


def run_rich(count: int, *, placebo: bool) -> list[RichResult]:
    """Return the results of the demo houses, telling standard error how far it is."""
    found = []
    for result in rich_results(count, placebo=placebo):
        found.append(result)
        sys.stderr.write(f"\rdemo houses{', nothing done' if placebo else ''}: {len(found)} of {count}   ")
    sys.stderr.write("\n")
    return found


def page(done: dict[Design, list[HomeResult]], today: datetime) -> str:
    """Return the page as text."""
    homes = len(next(iter(done.values())))
    working = [r.answers["cleaner"].truth for d, found in done.items() if d.works for r in found]
    seconds = np.median([r.seconds_of_fit for found in done.values() for r in found])
    parts = [
        INTRODUCTION,
        f"\n{homes} homes of each design, seed {SEED}; {_made_with(today)}. A fit took {seconds:.1f} s at the median.\n",
        "\n## What is recovered\n",
        READING.format(cleaner=float(np.mean(working))),
        "\n| design | quantity | unit | RMSE | bias | coverage of 90 % | half width | said open |\n",
        "|---|---|---|---:|---:|---:|---:|---:|\n",
    ]
    for design, found in done.items():
        parts += [_row(design, name, [r.answers[name] for r in found]) for name, _, _ in QUANTITIES]
    parts += [
        "\n## What is claimed\n\n",
        "Verdicts rest on 95 % intervals. Where nothing was done every claim is a false one.\n\n",
        "| design | question | shown | worse | neither |\n|---|---|---:|---:|---:|\n",
    ]
    for design, found in done.items():
        for question, verdicts in (
            ("loss rate, fan on", [r.rate for r in found]),
            ("same days in the old house", [r.like_for_like for r in found]),
            ("by days, adjusted", [r.by_days for r in found]),
        ):
            counts = " | ".join(f"{100.0 * n / homes:.0f} %" for n in claimed(verdicts))
            parts.append(f"| {design.name} | {question} | {counts} |\n")
    return "".join(parts)


def _made_with(today: datetime) -> str:
    return (
        f"airtally {airtally.__version__}, Python {platform.python_version()}, NumPy {np.__version__}, "
        f"{platform.machine()}; {today:%Y-%m-%d}"
    )


def rich_part(done: dict[bool, list[RichResult]], today: datetime) -> str:
    """Return the part of the page about the demo's houses; keys tell whether nothing was done."""
    count = len(done[False])
    parts = [
        RICH_INTRODUCTION,
        f"\n{count} houses with work done and {len(done[True])} without, seeds from {FIRST_SEED}, every quirk planted; "
        f"{_made_with(today)}.\n",
        "\n| houses | quantity | unit | RMSE | bias | coverage of 90 % | half width | said open |\n",
        "|---|---|---|---:|---:|---:|---:|---:|\n",
    ]
    for placebo, found in done.items():
        label = "nothing done" if placebo else "work done"
        for name in dict.fromkeys(key for result in found for key in result.answers):
            answers = [r.answers[name] for r in found if name in r.answers]
            parts.append(_rich_row(label, name, answers))
    parts += ["\n| houses | question | shown | worse | neither |\n|---|---|---:|---:|---:|\n"]
    for placebo, found in done.items():
        label = "nothing done" if placebo else "work done"
        for question in dict.fromkeys(key for result in found for key in result.verdicts):
            verdicts = [r.verdicts[question] for r in found if question in r.verdicts]
            shown, worse = verdicts.count(Verdict.SHOWN.value), verdicts.count(Verdict.WORSE.value)
            parts.append(f"| {label} | {question} | {shown} | {worse} | {len(verdicts) - shown - worse} |\n")
    return "".join(parts)


def _rich_row(label: str, name: str, answers: list[Answer]) -> str:
    truth = np.array([a.truth for a in answers])
    if " share, " in name:
        unit, scale, factor = "points", np.ones(truth.size), 100.0
    elif name.startswith("effect"):
        unit, scale, factor = "points", np.ones(truth.size), 1.0
    else:
        unit, scale, factor = "%", truth, 100.0
    return f"| {label} | {name} | {unit} | {_scored(answers, scale, factor)} |\n"


def _scored(answers: list[Answer], scale: Floats, factor: float) -> str:
    score = score_of(answers, scale)
    return (
        f"{factor * score.rmse:.1f} | {factor * score.bias:+.1f} | {100.0 * score.coverage:.0f} % | "
        f"{factor * score.half_width:.1f} | {100.0 * score.left_open:.0f} %"
    )


def _row(design: Design, name: str, answers: list[Answer]) -> str:
    truth = np.array([a.truth for a in answers])
    if name == "cleaner":
        unit, scale, factor = "m3/h", np.ones(truth.size), 1.0
    elif name == "outdoor share":
        unit, scale, factor = "points", np.ones(truth.size), 100.0
    else:
        unit, scale, factor = "%", truth, 100.0
    return f"| {design.name} | {name} | {unit} | {_scored(answers, scale, factor)} |\n"


if __name__ == "__main__":
    main()
