"""Time the answer in the driveway as a whole process, and write the figures to benchmarks/start.md.

``python -m benchmarks.start``. The job is the invented demo house without any log: survey and visits alone. The
yardstick, run in turn with it, is a process that only imports NumPy and Numba and readies Numba's own tables,
which nothing that solves a compiled network can do without.
"""

from __future__ import annotations

import datetime
import os
import platform
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from airtally.demo import write_demo

RESULTS = Path(__file__).with_name("start.md")
ROUNDS = 7
FLOOR = "import numpy, numba, numba.np.arraymath; from numba.core.registry import cpu_target as c; c.target_context.refresh()"


def seconds_of(command: list[str]) -> float:
    """Return how long a process takes that must end well. [s]."""
    begun = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # noqa: S603 - our own program
    return time.perf_counter() - begun


def main() -> None:
    """Run both in turn and write the page."""
    program = Path(sys.executable).with_name("airtally")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_demo(folder)
        shutil.rmtree(folder / "logs")
        answer = [str(program), "pressures", str(folder)]
        seconds_of(answer)  # compiles the kernels where no run did before
        runs = [(seconds_of(answer), seconds_of([sys.executable, "-c", FLOOR])) for _ in range(ROUNDS)]
    ours, floor = (min(side) for side in zip(*runs, strict=True))
    share = ", ".join(f"{a:.2f} / {b:.2f}" for a, b in runs)
    RESULTS.write_text(
        f"# The answer in the driveway\n\n"
        f"`airtally pressures` on the demo house without logs, as a whole process from start to end, against a process "
        f"that only\nimports NumPy and Numba. Made by `make bench`; not edited by hand.\n\n"
        f"Python {platform.python_version()}, {os.cpu_count()} cores, {platform.machine()}; "
        f"{datetime.datetime.now(tz=datetime.UTC):%Y-%m-%d}; shortest of {ROUNDS}, both sides in turn; cores may have "
        f"been shared,\nso read the ratio.\n\n"
        f"| answer: s | imports alone: s | ratio |\n|---|---|---|\n| {ours:.2f} | {floor:.2f} | {ours / floor:.1f} |\n\n"
        f"All runs, answer / imports [s]: {share}.\n",
        encoding="utf-8",
    )
    sys.stdout.write(RESULTS.read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
