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
from tests.recovery.measure import DESIGNS, QUANTITIES, SEED, Design, HomeResult, claimed, results, score_of

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


def main() -> None:
    """Run all designs and write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--homes", type=int, default=200, help="homes of each design")
    parser.add_argument("--page", type=Path, default=PAGE, help="where the page goes")
    given = parser.parse_args()
    done: dict[Design, list[HomeResult]] = {}
    for design in DESIGNS:
        found = []
        for number, result in enumerate(results(design, given.homes, time.perf_counter)):
            found.append(result)
            sys.stderr.write(f"\r{design.name}: {number + 1} of {given.homes}   ")
        done[design] = found
        sys.stderr.write("\n")
    given.page.write_text(page(done, datetime.now(tz=UTC)), encoding="utf-8")


def page(done: dict[Design, list[HomeResult]], today: datetime) -> str:
    """Return the page as text."""
    homes = len(next(iter(done.values())))
    working = [r.answers["cleaner"].truth for d, found in done.items() if d.works for r in found]
    seconds = np.median([r.seconds_of_fit for found in done.values() for r in found])
    parts = [
        INTRODUCTION,
        f"\n{homes} homes of each design, seed {SEED}; airtally {airtally.__version__}, Python "
        f"{platform.python_version()}, NumPy {np.__version__}, {platform.machine()}; {today:%Y-%m-%d}. "
        f"A fit took {seconds:.1f} s at the median.\n",
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


def _row(design: Design, name: str, answers: list) -> str:  # type: ignore[type-arg]
    truth = np.array([a.truth for a in answers])
    if name == "cleaner":
        unit, scale, factor = "m3/h", np.ones(truth.size), 1.0
    elif name == "outdoor share":
        unit, scale, factor = "points", np.ones(truth.size), 100.0
    else:
        unit, scale, factor = "%", truth, 100.0
    score = score_of(answers, scale)
    return (
        f"| {design.name} | {name} | {unit} | {factor * score.rmse:.1f} | {factor * score.bias:+.1f} | "
        f"{100.0 * score.coverage:.0f} % | {factor * score.half_width:.1f} | {100.0 * score.left_open:.0f} % |\n"
    )


if __name__ == "__main__":
    main()
