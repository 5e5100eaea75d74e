"""The recovery runs: ``python -m tests.recovery.run`` simulates homes, fits them and writes docs/recovery.md.

Seeds are fixed in :mod:`tests.recovery.measure`; the same number of homes gives the same table, whatever
the machine, up to its arithmetic.
"""

from __future__ import annotations

import argparse
import pickle
import platform
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from tests.recovery.measure import DESIGNS, QUANTITIES, SEED, Answer, Design, HomeResult, claimed, results, score_of
from tests.recovery.rich import RichResult, judge_rich
from tests.recovery.rich_homes import Loggers, loggers_of, simulate_rich_home
from tests.recovery.rich_page import rich_tables

import airtally

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

BARS = {
    ("in-duct, 15 min/h", "loss, fan off"): 6.0,
    ("in-duct, 15 min/h", "loss, fan on"): 5.0,
    ("in-duct, 15 min/h", "cleaner, of its own"): 5.0,
    ("room monitor", "loss, fan off"): 2.0,
    ("room monitor", "loss, fan on"): 1.0,
    ("room monitor", "cleaner, of its own"): 2.5,
}
"""Largest root mean square error where the model is the truth, by design and quantity. [%]"""
FIRST_RICH_SEED = 801
RICH_HEADING = "\n## Rich homes\n"
RICH_INTRODUCTION = """
The demo's simulation with other houses in it (`tests/recovery/rich_homes.py`): five rooms and a garage, eight
size bins, its own time stepper and sensors with faults, by seed with its own sizes, leaks, filters, flows, cleaner,
people, outdoor air, minutes of fan and traps. Read, screened and fitted as a job does, without its pressures.
In homes with an odd seed an in-duct monitor is all there is indoors; the others have three room loggers beside it.
Each home is judged on one phase, by seed the one as found or the one after the works.

Errors are the median over homes of what the middle of the draws is off, for source shares the mean; bias is the mean.
What counts as an event, a match and a right kind: `tests/recovery/rich_events.py`. Interval score: the width of
the 90 % interval and 20 times what the truth lies outside of it, median over homes; over the oracle's: that of the
same fit which is told when the fan ran and when something was given off. Bars: the errors' beside each row; at least
85 % of homes covered, at most 20 % left open, at most 1.5 times the oracle's score where any of these is asked.
"""


def main() -> None:
    """Run all designs and write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--homes", type=int, default=200, help="homes of each design")
    parser.add_argument("--rich", type=int, default=200, help="rich homes with work done, and as many without")
    parser.add_argument("--told", type=int, default=60, help="of these, how many get an oracle's fit beside their own")
    parser.add_argument("--keep", type=Path, help="folder for the rich homes' results; a broken run goes on from it")
    parser.add_argument("--page", type=Path, default=PAGE, help="where the page goes; a part of 0 homes stays as it is")
    given = parser.parse_args()
    today = datetime.now(tz=UTC)
    old = given.page.read_text(encoding="utf-8") if given.page.exists() else ""
    first, _, second = old.partition(RICH_HEADING)
    if given.homes:
        first = page(run_homes(given.homes), today)
    if given.rich:
        with tempfile.TemporaryDirectory() as name:
            keep = given.keep or Path(name)
            keep.mkdir(parents=True, exist_ok=True)
            done = run_rich(given.rich, given.told, keep, has_works=True)
            second = rich_part(done, run_rich(given.rich, 0, keep, has_works=False), today)
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


def run_rich(count: int, told: int, keep: Path, *, has_works: bool) -> dict[Loggers, list[RichResult]]:
    """Return the results of rich homes by design, telling standard error how far it is.

    The first ``told`` homes are also fitted with fan states and event times given. Results lie in ``keep``, so that
    a run that was broken off goes on where it stopped; they are those of the code that made them.
    """
    found: dict[Loggers, list[RichResult]] = {loggers: [] for loggers in Loggers}
    for number, seed in enumerate(range(FIRST_RICH_SEED, FIRST_RICH_SEED + count)):
        path = keep / f"{seed}-{'works' if has_works else 'nothing-done'}.pickle"
        if not path.exists():
            result = judge_rich(simulate_rich_home(seed, has_works=has_works), with_oracle=number < told)
            path.write_bytes(pickle.dumps(result))
        kept = pickle.loads(path.read_bytes())  # noqa: S301 - of this run's own making
        found[loggers_of(seed)].append(kept)
        sys.stderr.write(f"\rrich homes{'' if has_works else ', nothing done'}: {number + 1} of {count}   ")
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
        "\n| design | quantity | unit | RMSE | bias | coverage of 90 % | half width | said open | bar | holds |\n",
        "|---|---|---|---:|---:|---:|---:|---:|---:|---|\n",
    ]
    for design, found in done.items():
        for name, _, _ in QUANTITIES:
            answers = [r.answers[name] for r in found]
            parts.append(_row(design, name, answers))
            if name == "cleaner" and design.works:
                parts.append(_row(design, "cleaner, of its own", answers))
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


def rich_part(
    done: dict[Loggers, list[RichResult]], nothing_done: dict[Loggers, list[RichResult]], today: datetime
) -> str:
    """Return the part of the page about the rich homes."""
    counts = [sum(len(found) for found in homes.values()) for homes in (done, nothing_done)]
    seconds = np.median([r.seconds for homes in (done, nothing_done) for found in homes.values() for r in found])
    return (
        f"{RICH_INTRODUCTION}\n{counts[0]} homes with work done and {counts[1]} without, seeds from {FIRST_RICH_SEED}; "
        f"{_made_with(today)}. A fit with its replays took {seconds:.1f} s at the median.\n{rich_tables(done, nothing_done)}"
    )


def _row(design: Design, name: str, answers: list[Answer]) -> str:
    truth = np.array([a.truth for a in answers])
    if name == "cleaner":
        unit, scale, factor = "m3/h", np.ones(truth.size), 1.0
    elif name == "outdoor share":
        unit, scale, factor = "points", np.ones(truth.size), 100.0
    else:
        unit, scale, factor = "%", truth, 100.0
    score = score_of(answers, scale)
    bar = BARS.get((design.name, name))
    held = ("", "") if bar is None else (f"{bar:.1f}", "yes" if factor * score.rmse <= bar else "**no**")
    return (
        f"| {design.name} | {name} | {unit} | {factor * score.rmse:.1f} | {factor * score.bias:+.1f} "
        f"| {100.0 * score.coverage:.0f} % | {factor * score.half_width:.1f} | {100.0 * score.left_open:.0f} % "
        f"| {held[0]} | {held[1]} |\n"
    )


if __name__ == "__main__":
    main()
