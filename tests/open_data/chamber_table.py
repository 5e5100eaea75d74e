"""Measures all chamber runs by the one window rule and writes ``docs/chamber-decays.md``.

Run from the repository's root: ``.venv/bin/python tests/open_data/chamber_table.py``.
"""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from open_sets import (
    CHAMBER_VOLUME_M3,
    CLEANER_A_RUNS,
    CLEANER_A_TRUTH_M3_H,
    NATURAL_RUNS,
    NATURAL_TRUTH_PER_H,
    read_chamber,
    whole_set,
)

from airtally.errors import FitError
from airtally.estimates import Basis, Estimate
from airtally.inference.decays import (
    DecayFit,
    DecayWindow,
    Phase,
    clean_air_rate,
    compare_sensors,
    find_decay_windows,
    fit_decay,
    largest_fall,
    sensor_scale,
)

PAGE = Path(__file__).resolve().parents[2] / "docs" / "chamber-decays.md"


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run: what its name says, and what the record gave."""

    name: str
    sensor: str
    aerosol: str
    run: str
    device: str
    decay: DecayFit | None
    natural: Estimate | None
    natural_from: str
    note: str

    @property
    def clean_air(self) -> Estimate | None:
        """Return the clean air of a device run. [m3/s]"""
        if self.decay is None or self.natural is None or self.device == "none":
            return None
        return clean_air_rate(self.natural, self.decay.rate, chamber_volume())


def chamber_volume() -> Estimate:
    value, low, high = CHAMBER_VOLUME_M3
    return Estimate(value=value, low=low, high=high, unit="m3", basis=Basis.SURVEYED, source="author, tape measure")


def _loose(rate: float, low: float, high: float, source: str) -> Estimate:
    return Estimate(value=rate, low=low * rate, high=high * rate, unit="1/s", basis=Basis.FITTED, source=source)


def natural_in_run(time: np.ndarray, value: np.ndarray, window: DecayWindow) -> tuple[Estimate, str]:
    """Return the natural loss of a device run from its own slow phase.

    In the upper half of a scale that clips a sensor compresses, and a phase too short for the rule has
    only a slope: there the loss may be three times what is seen.
    """
    clips = window.level_stop > 0.5 * sensor_scale(value).ceiling
    try:
        rate = fit_decay(time, value, window).rate
    except FitError:
        return _loose(window.rate, 0.5, 3.0, "slope of a short slow phase"), "same run, slope only"
    if not clips:
        return rate, "same run"
    wide = Estimate(
        value=rate.value,
        low=rate.low,
        high=max(rate.high, 3.0 * rate.value),
        unit="1/s",
        basis=rate.basis,
        source=rate.source,
    )
    return wide, "same run, near the ceiling"


def measure(name: str, time: np.ndarray, value: np.ndarray, sessions: dict[tuple[str, str], Estimate]) -> Run:
    """Measure one run; ``sessions`` holds the natural loss of runs without device by sensor and aerosol."""
    sensor, aerosol, rest = name.split("_", 2)
    device = rest.split("-", 1)[-1]
    device = "none" if device == "nodevice" else re.sub(r"-[a-g]$", "", device)
    windows = find_decay_windows(time, value)
    fall = largest_fall(windows, Phase.DEVICE, Phase.DECAY) if device == "none" else _device_fall(windows)
    fit, note = None, ""
    if fall is None:
        note = "no decay found"
    else:
        try:
            fit = fit_decay(time, value, fall)
        except FitError as problem:
            note = str(problem)
    natural, source = None, ""
    if device != "none" and fall is not None:
        slow = [w for w in windows if w.phase is Phase.NATURAL and w.stop <= fall.start]
        if slow:
            natural, source = natural_in_run(time, value, slow[-1])
        else:
            natural = sessions.get((sensor, aerosol)) or sessions.get(("", aerosol))
            source = "session without device"
    if fit is not None and fit.bend > 1.25:
        note = "bends as a sensor does that compresses; the upper end is the likelier"
    return Run(
        name=name,
        sensor=sensor,
        aerosol=aerosol,
        run=rest,
        device=device,
        decay=fit,
        natural=natural,
        natural_from=source,
        note=note,
    )


def _device_fall(windows: tuple[DecayWindow, ...]) -> DecayWindow | None:
    """Return the fall of the device: the last that a switch parts from a slow phase, else the largest."""
    switched = [w for w in windows if w.phase is Phase.DEVICE]
    return switched[-1] if switched else largest_fall(windows, Phase.DECAY)


def measure_all(folder: Path) -> list[Run]:
    """Measure every run of a folder, those without device first."""
    names = sorted(p.stem for p in folder.glob("sensor*.csv"))
    runs: list[Run] = []
    sessions: dict[tuple[str, str], Estimate] = {}
    for name in sorted(names, key=lambda n: (not n.endswith("nodevice"), n)):
        run = measure(name, *read_chamber(folder / f"{name}.csv"), sessions)
        runs.append(run)
        if run.device == "none" and run.decay is not None:
            rate = run.decay.rate
            # The mixing fan differs between sessions and with it the loss, by up to twice (the set's own note).
            borrowed = Estimate(
                value=rate.value,
                low=0.5 * rate.low,
                high=2.0 * rate.high,
                unit="1/s",
                basis=rate.basis,
                source=rate.source,
            )
            sessions.setdefault((run.sensor, run.aerosol), borrowed)
            sessions.setdefault(("", run.aerosol), borrowed)
    return runs


def _text(estimate: Estimate | None, digits: int = 1) -> tuple[str, str]:
    if estimate is None:
        return "", ""
    value, low, high = (3600.0 * x for x in (estimate.value, estimate.low, estimate.high))
    return f"{value:.{digits}f}", f"{low:.{digits}f} to {high:.{digits}f}"


def page(runs: list[Run]) -> str:
    """Return the page as text."""
    by_name = {run.name: run for run in runs}
    lines = [
        "# Chamber decays: every run by one rule",
        "",
        "158 open records of aerosol decay in a tent of 4.153 m3 (MIT licence, see NOTICE), measured by the window rule of",
        "`airtally.inference.decays`, the same for all of them; made by `tests/open_data/chamber_table.py`, not by hand.",
        "Rates are per hour, clean air in m3/h, intervals 90 %: they hold noise, choice of window, background, compression",
        "of the sensor and, for clean air, the volume (4.08 to 4.23 m3) and the natural loss. They do not hold what all",
        "runs of one sensor share: its response to this aerosol.",
        "",
        "## Against the author's own figures",
        "",
        "| quantity | author | here | difference |",
        "|---|--:|--:|--:|",
    ]
    for aerosol, name in NATURAL_RUNS.items():
        truth, fit = NATURAL_TRUTH_PER_H[aerosol], by_name[name].decay
        value, interval = _text(fit.rate if fit else None, 2)
        lines.append(
            f"| natural loss, {aerosol} | {truth} | {value} ({interval}) | {100 * (float(value) / truth - 1):+.1f} % |"
        )
    for aerosol, names in CLEANER_A_RUNS.items():
        truth = CLEANER_A_TRUTH_M3_H[aerosol]
        rates = [3600.0 * c.value for n in names if (c := by_name[n].clean_air) is not None]
        lines.append(
            f"| clean air of cleaner A, {aerosol}, mean of {len(rates)} | {truth} | {np.mean(rates):.0f} | "
            f"{100 * (np.mean(rates) / truth - 1):+.1f} % |"
        )
    lines += [
        "",
        "## Two sensors, one run",
        "",
        *_pairs(runs),
        "",
        "## All runs",
        "",
        "`bend` is the rate of the lower half of the fall over that of the upper half: above 1 the sensor compresses, below 1",
        "background, coagulation or a mix of sizes.",
        "",
        "| run | sensor | aerosol | device | rate | interval | readings | bend | natural loss | from | clean air | interval | note |",
        "|---|---|---|---|--:|---|--:|--:|--:|---|--:|---|---|",
    ]
    for run in sorted(runs, key=lambda r: r.name):
        rate, interval = _text(run.decay.rate if run.decay else None, 2)
        clean, clean_interval = _text(run.clean_air, 0)
        readings, bend = (str(run.decay.readings), f"{run.decay.bend:.2f}") if run.decay else ("", "")
        lines.append(
            f"| {run.run} | {run.sensor} | {run.aerosol} | {run.device} | {rate} | {interval} | {readings} | {bend} | "
            f"{_text(run.natural)[0]} | {run.natural_from} | {clean} | {clean_interval} | {run.note} |"
        )
    return "\n".join(lines) + "\n"


def pairs(runs: list[Run]) -> list[tuple[Run, Run]]:
    """Return the runs that two sensors logged at once: same run name, different sensor."""
    by_run: dict[tuple[str, str], list[Run]] = {}
    for run in runs:
        by_run.setdefault((run.aerosol, run.run), []).append(run)
    return [(a, b) for group in by_run.values() for a in group for b in group if a.sensor < b.sensor]


def _pairs(runs: list[Run]) -> list[str]:
    rows = ["| run | first | second | second over first | intervals meet |", "|---|---|---|--:|---|"]
    ratios = []
    for first, second in sorted(pairs(runs), key=lambda p: (p[0].sensor, p[1].sensor, p[0].run)):
        if first.decay is None or second.decay is None:
            continue
        found = compare_sensors(first.sensor, first.decay.rate, second.sensor, second.decay.rate)
        ratios.append(found.ratio)
        meet = "yes" if found.intervals_meet else "no"
        rows.append(f"| {first.run} | {first.sensor} | {second.sensor} | {found.ratio:.2f} | {meet} |")
    low, middle, high = np.quantile(ratios, (0.05, 0.5, 0.95))
    head = (
        f"{len(ratios)} pairs; second over first {middle:.2f} on the median, nine tenths from {low:.2f} to {high:.2f}."
    )
    return [head, "", *rows]


if __name__ == "__main__":
    found = whole_set("chamber-decay")
    if found is None:
        sys.exit("the chamber runs are not here; name the folder of the sets in AIRTALLY_OPEN_DATA")
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text(page(measure_all(found)), encoding="utf-8")
