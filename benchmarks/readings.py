"""Time the reading and screening of a large log against the csv module alone, and write benchmarks/readings.md.

``python -m benchmarks.readings [--rows 500000]``. The log is invented: a year of minutes, four quantities that
wander like a room's. Each form of it is read by both sides in turn, so that the ratio holds on a busy machine.
"""

from __future__ import annotations

import argparse
import csv
import datetime
import io
import os
import platform
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from airtally.readings import Source, read_log, screen_log

RESULTS = Path(__file__).with_name("readings.md")
AIM = 6.0
"""[s]"""
HEADER = ("Time", "PM2.5 (ug/m3)", "CO2 (ppm)", "Temp (C)", "RH (%)")


def stamps_of(rows: int, form: str) -> list[str]:
    """Return one stamp a minute from New Year on."""
    first = datetime.datetime(2025, 1, 1)
    return [f"{first + datetime.timedelta(minutes=row):{form}}" for row in range(rows)]


def series_of(rows: int) -> list[list[str]]:
    """Return four quantities as text, with the decimals that loggers print."""
    generator = np.random.default_rng(1)

    def wander(middle: float, spread: float, decimals: int) -> list[str]:
        noise: NDArray[np.float64] = generator.standard_normal(rows)
        slow = np.convolve(noise, np.exp(-np.arange(300.0) / 60.0))[:rows]
        return [f"{value:.{decimals}f}" for value in np.abs(middle + spread * (slow / 5.0 + 0.2 * noise)).tolist()]

    return [wander(9.0, 5.0, 1), wander(700.0, 150.0, 0), wander(21.0, 1.0, 2), wander(45.0, 6.0, 1)]


def text_of(columns: list[list[str]], delimiter: str = ",", quote: str = "", head: tuple[str, ...] = HEADER) -> bytes:
    """Return columns as a logger's file."""
    between = f"{quote}{delimiter}{quote}"
    rows = (f"{quote}{between.join(cells)}{quote}" for cells in (head, *zip(*columns, strict=True)))
    return ("\n".join(rows) + "\n").encode()


def forms_of(rows: int) -> dict[str, bytes]:
    """Return the same log in the forms that loggers write."""
    series, iso = series_of(rows), stamps_of(rows, "%Y-%m-%dT%H:%M:%SZ")
    commas = [[cell.replace(".", ",") for cell in column] for column in series]
    dates, clocks = stamps_of(rows, "%d.%m.%Y"), stamps_of(rows, "%H:%M:%S")
    few = rows // 4
    names = [name for name in HEADER[1:] for _ in range(few)]
    values = [cell for column in series for cell in column[:few]]
    return {
        "ISO stamps in UTC, commas": text_of([iso, *series]),
        "the same, every cell in quotes": text_of([iso, *series], quote='"'),
        "local time, month first, 12 hours": text_of([stamps_of(rows, "%m/%d/%Y %I:%M:%S %p"), *series]),
        "date and time apart, decimal commas, semicolons": text_of(
            [dates, clocks, *commas], ";", head=("Date", *HEADER)
        ),
        "name of a device before the stamp": text_of([["A1"] * rows, iso, *series], head=("Device", *HEADER)),
        "one quantity a row": text_of([iso[:few] * 4, names, values], head=("Time", "Parameter", "Value")),
    }


def whole(content: bytes) -> None:
    """Recognise, read and screen a log."""
    log = screen_log(read_log([Source(content=content, name="log", placement="room", time_zone="America/Denver")]))
    share = float(log.kept.mean())
    assert share > 0.95, log.counts()  # noqa: S101 - a fast reader that sets readings aside has won nothing


def alone(content: bytes, delimiter: str) -> None:
    """Cut a log with the csv module and read the last cells of each row, four or one, as numbers; stamps stay text."""
    rows = csv.reader(io.StringIO(content.decode()), delimiter=delimiter)
    first = -1 if "Value" in next(rows) else -4
    for row in rows:
        for cell in row[first:]:
            float(cell.replace(",", "."))


def seconds(go: Callable[[], None]) -> float:
    """Return how long a call keeps the processor: other work on the machine does not count. [s]"""
    begun = time.process_time()
    go()
    return time.process_time() - begun


def row_of(form: str, content: bytes) -> str:
    """Return one line of the table: best of three, both sides in turn."""
    delimiter = ";" if "semicolons" in form else ","
    pairs = [(seconds(lambda: whole(content)), seconds(lambda: alone(content, delimiter))) for _ in range(3)]
    ours, bare = (min(one) for one in zip(*pairs, strict=True))
    return f"| {form} | {len(content) / 1e6:.0f} | {ours:.2f} | {bare:.2f} | {ours / bare:.1f} |"


def main() -> None:
    """Run everything and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=500_000)
    rows = parser.parse_args().rows
    machine = f"{platform.machine()}, {os.cpu_count()} cores, {platform.system()}, Python {platform.python_version()}"
    lines = [
        "# Benchmarks of the readings",
        "",
        f"{datetime.datetime.now(tz=datetime.UTC).date()}; {machine}; numpy {np.__version__}. Written by",
        f"`python -m benchmarks.readings`. An invented log of {rows:,} rows and five columns: recognised, read and screened,",
        f"against `csv.reader` and `float` alone on the same bytes. Aim: under {AIM:g} s on a quiet machine. Processor seconds,",
        "best of three, both sides in turn; cores may have been shared, so read the ratios.",
        "",
        "| form | MB | whole: s | csv and float: s | ratio |",
        "|---|---|---|---|---|",
        *(row_of(form, content) for form, content in forms_of(rows).items()),
        "",
    ]
    RESULTS.write_text("\n".join(lines), encoding="utf-8")
    print("\n".join(lines))  # noqa: T201 - a benchmark talks to the terminal


if __name__ == "__main__":
    main()
