"""Findings from decay tests: a room's own loss rate, the clean air of a device, two sensors of one run.

What was tested stands in the diary: an entry of kind ``decay test`` whose text names the aerosol and, by
id or name, each cleaner that ran, parted by commas (``"incense, cleaner-a"``). Without an entry a run gives
its rates and, where the record itself shows a switch from a slow to a fast decay, the difference of the two.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.errors import AirtallyError, FitError
from airtally.estimates import Basis, Estimate
from airtally.findings.parts import Finding, Standing
from airtally.findings.raw_series import Run, short_runs, slug, zone_name
from airtally.house.parts import Cleaner, House
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
from airtally.readings.log import Log

DECAY_TEST = "decay test"
"""Kind of a diary entry that says what a run tested."""
UNNAMED = "aerosol not named"
COMPRESSES = 1.25
"""From this ratio of late over early rate a sensor compresses high readings (own choice, from the open chamber runs). [-]"""
OTHER_SESSION = 2.0
"""Loss without a device differs by up to this factor between sessions whose air is stirred differently (the note of
the open chamber runs). [-]"""
OTHER_LOSS = 3.0
"""A slow phase near the sensor's ceiling, or too short for the rule, may hide a loss this many times larger. [-]"""
REPEATABILITY = 0.10
"""Two sensors whose rates differ by more disagree: low-cost optical sensors repeat within a tenth (common practice,
no source). [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Test:
    """A run with what the diary says of it and what its record gave. ``device`` None: nobody said."""

    run: Run
    aerosol: str
    device: tuple[Cleaner, ...] | None
    fit: DecayFit
    slow: Estimate | None
    """Loss before the switch in the same run. [1/s]"""


def decay_tests(house: House, log: Log) -> tuple[Finding, ...]:
    """Return what the short test runs of a job say; nothing where it holds none."""
    tests = [test for run in short_runs(house, log) if (test := _measured(house, run)) is not None]
    groups: dict[tuple[str, str, tuple[str, ...] | None], list[_Test]] = {}
    for test in tests:
        device = None if test.device is None else tuple(c.id for c in test.device)
        groups.setdefault((test.run.placement, test.aerosol, device), []).append(test)
    findings = []
    for (_, _, device), group in groups.items():
        if device is None:
            findings.append(_unstated(house, group))
        elif device:
            findings.append(_device(house, group, tests))
        else:
            findings.append(_natural(house, group))
    return (*findings, *_disagreements(house, tests))


def _stated(house: House, run: Run) -> tuple[str, tuple[Cleaner, ...] | None]:
    """Return aerosol and cleaners that the diary names for a run."""
    for entry in house.diary:
        end = entry.end if entry.end is not None else entry.start
        if entry.kind != DECAY_TEST or end < run.start - 600.0 or entry.start > run.stop:
            continue
        words = [word.strip() for word in entry.text.split(",") if word.strip()]
        device = [c for c in house.cleaners if {c.id.lower(), c.name.lower()} & {w.lower() for w in words}]
        names = {name.lower() for c in device for name in (c.id, c.name)}
        return ", ".join(w for w in words if w.lower() not in names) or UNNAMED, tuple(device)
    return UNNAMED, None


def _measured(house: House, run: Run) -> _Test | None:
    """Return the run's decay, or None where its record holds none."""
    aerosol, device = _stated(house, run)
    try:
        windows = find_decay_windows(run.time, run.value)
        if device == ():
            fall = largest_fall(windows, Phase.DECAY, Phase.NATURAL)
        else:
            switched = [w for w in windows if w.phase is Phase.DEVICE]
            fall = switched[-1] if switched else largest_fall(windows, Phase.DECAY)
        if fall is None:
            return None
        fit = fit_decay(run.time, run.value, fall)
    except AirtallyError:
        return None
    earlier = [w for w in windows if w.phase is Phase.NATURAL and w.stop <= fall.start]
    slow = _slow_phase(run, earlier[-1]) if earlier and device != () else None
    return _Test(run=run, aerosol=aerosol, device=device, fit=fit, slow=slow)


def _slow_phase(run: Run, window: DecayWindow) -> Estimate:
    """Return the loss before the switch, wider where the sensor nears its ceiling or the phase is short."""
    try:
        rate = fit_decay(run.time, run.value, window).rate
    except FitError:
        return _spread(_slope(window), 0.5, OTHER_LOSS, "slope of a short slow phase")
    if window.level_stop > 0.5 * sensor_scale(run.value).ceiling:
        return _spread(rate, 1.0, OTHER_LOSS * rate.value / rate.high, f"{rate.source}, near the sensor's ceiling")
    return rate


def _slope(window: DecayWindow) -> Estimate:
    rate = window.rate
    return Estimate(value=rate, low=rate, high=rate, unit="1/s", basis=Basis.FITTED, source=window.phase.value)


def _spread(rate: Estimate, low: float, high: float, source: str) -> Estimate:
    return Estimate(
        value=rate.value,
        low=min(low * rate.low, rate.value),
        high=max(high * rate.high, rate.high),
        unit=rate.unit,
        basis=rate.basis,
        source=source,
    )


def _mean(values: list[Estimate], source: str) -> Estimate:
    """Return the mean of several runs; ends are averaged too, as runs share volume, sensor and rule."""
    return Estimate(
        value=float(np.mean([v.value for v in values])),
        low=float(np.mean([v.low for v in values])),
        high=float(np.mean([v.high for v in values])),
        unit=values[0].unit,
        basis=Basis.FITTED,
        source=source,
    )


def _runs(count: int) -> str:
    return f"{count} {'run' if count == 1 else 'runs'}"


def _rates(group: list[_Test]) -> tuple[tuple[str, Estimate], ...]:
    return tuple((f"loss rate, run {n}", test.fit.rate) for n, test in enumerate(group, start=1))


def _remarks(group: list[_Test]) -> tuple[str, ...]:
    if any(test.fit.bend > COMPRESSES for test in group):
        return ("the fall bends as a sensor does that compresses high readings: the upper end is the likelier",)
    return ()


def _windows(group: list[_Test]) -> str:
    fits = sum(test.fit.windows for test in group)
    return f"{_runs(len(group))}, {fits} windows by one rule: the intervals hold their choice"


def _natural(house: House, group: list[_Test]) -> Finding:
    test, room = group[0], zone_name(house, group[0].run.zone)
    name = f"loss without a device, {test.aerosol}"
    mean = _mean([t.fit.rate for t in group], f"{_runs(len(group))} without a device")
    return Finding(
        id=slug("loss", test.aerosol, test.run.placement),
        title=f"In {room} particles are lost without any device: they settle, and air carries them out ({test.aerosol}).",
        source=test.aerosol,
        path=f"settling and air exchange, {room}",
        test="a second decay on another day gives another rate",
        evidence_for=(_windows(group),),
        evidence_against=_remarks(group),
        standing=Standing.SUPPORTED,
        settle="a second decay without the device, stirred alike",
        numbers=((name, mean), *(_rates(group) if len(group) > 1 else ())),
    )


def _without_device(test: _Test, tests: list[_Test]) -> Estimate | None:
    """Return the loss without device that belongs to a run: its own slow phase, else another run's, widened."""
    if test.slow is not None:
        return test.slow
    alike = [t for t in tests if t.device == () and t.aerosol == test.aerosol and t.run.zone == test.run.zone]
    same = [t for t in alike if t.run.placement == test.run.placement]
    if not alike:
        return None
    mean = _mean([t.fit.rate for t in same or alike], "decay without the device, another session")
    return _spread(mean, 1.0 / OTHER_SESSION, OTHER_SESSION, mean.source)


def _device(house: House, group: list[_Test], tests: list[_Test]) -> Finding:
    test, room = group[0], zone_name(house, group[0].run.zone)
    names = " and ".join(cleaner.name for cleaner in test.device or ())
    volume = next((z.volume for z in house.zones if z.id == test.run.zone), None)
    clean: list[tuple[str, Estimate]] = []
    for n, each in enumerate(group, start=1):
        natural = _without_device(each, tests)
        if natural is not None and volume is not None:
            clean.append((f"clean air, run {n}", clean_air_rate(natural, each.fit.rate, volume)))
    numbers = (*clean, *_rates(group))
    is_sure = False
    if clean:
        mean = _mean([value for _, value in clean], f"{_runs(len(clean))}; decay with less decay without, times volume")
        numbers = ((f"clean air, {names}, {test.aerosol}", mean), *numbers)
        is_sure = mean.low > 0.0
    lacking = () if clean else ("no decay without the device: its part of the loss cannot be told",)
    return Finding(
        id=slug("clean-air", *(c.id for c in test.device or ()), test.aerosol, test.run.placement),
        title=f"{names} takes particles out of {room} faster than they are lost without it ({test.aerosol})."
        if is_sure
        else f"What {names} takes out of {room} cannot be told from the room's own loss ({test.aerosol}).",
        source=test.aerosol,
        path=names,
        test="decays with and without the device run alike",
        evidence_for=(_windows(group),),
        evidence_against=(*lacking, *_remarks(group)),
        standing=Standing.SUPPORTED if is_sure else Standing.NOT_SEPARABLE,
        settle="two decays on one day, one without the device, stirred alike",
        numbers=numbers,
    )


def _unstated(house: House, group: list[_Test]) -> Finding:
    """Return what runs say of which nobody wrote what ran."""
    test, room = group[0], zone_name(house, group[0].run.zone)
    volume = next((z.volume for z in house.zones if z.id == test.run.zone), None)
    clean = [
        (f"clean air of what was switched on, run {n}", clean_air_rate(each.slow, each.fit.rate, volume))
        for n, each in enumerate(group, start=1)
        if each.slow is not None and volume is not None
    ]
    return Finding(
        id=slug("decays", test.run.placement),
        title=f"In {room} particles fell at these rates; nobody wrote down what was running.",
        source=UNNAMED,
        path="not stated",
        test="the diary names the device that ran",
        evidence_for=(_windows(group), *(("in some runs a slow decay gives way to a fast one",) if clean else ())),
        evidence_against=_remarks(group),
        standing=Standing.NOT_SEPARABLE,
        settle=f'write a diary entry of kind "{DECAY_TEST}" with the aerosol and the cleaner\'s id, where one ran',
        numbers=(*clean, *_rates(group)),
    )


def _disagreements(house: House, tests: list[_Test]) -> tuple[Finding, ...]:
    """Return one finding for each pair of sensors that saw runs together: how far they disagree."""
    found: dict[tuple[str, str], list[tuple[_Test, _Test]]] = {}
    for i, first in enumerate(tests):
        for second in tests[i + 1 :]:
            a, b = sorted((first, second), key=lambda t: t.run.placement)
            shared = min(a.run.stop, b.run.stop) - max(a.run.start, b.run.start)
            shorter = min(a.run.stop - a.run.start, b.run.stop - b.run.start)
            if a.run.zone == b.run.zone and a.run.placement != b.run.placement and shared > 0.5 * shorter:
                found.setdefault((a.run.placement, b.run.placement), []).append((a, b))
    findings = []
    for (first_name, second_name), pairs in found.items():
        compared = [compare_sensors(first_name, a.fit.rate, second_name, b.fit.rate) for a, b in pairs]
        ratios = np.array([each.ratio for each in compared])
        gap = abs(float(np.median(ratios)) - 1.0)
        differ = gap > REPEATABILITY or not all(each.intervals_meet for each in compared)
        findings.append(
            Finding(
                id=slug("two-sensors", first_name, second_name),
                title=f"Two monitors in {zone_name(house, pairs[0][0].run.zone)} saw the same fall at "
                + ("different rates." if differ else "rates that differ by less than such monitors repeat."),
                source="sensor",
                path="response of optical monitors to one aerosol",
                test="the two agree within a tenth in a run below the ceiling of both",
                evidence_for=tuple(each.sentence() for each in compared),
                evidence_against=(),
                standing=Standing.SUPPORTED if differ else Standing.NOT_SEPARABLE,
                settle="both beside a reference, or the same run with their places exchanged",
                numbers=(
                    ("rate of the second over the first", _ratio(ratios)),
                    *((f"rate that holds both, run {n}", c.pooled) for n, c in enumerate(compared, start=1)),
                ),
            )
        )
    return tuple(findings)


def _ratio(ratios: np.ndarray[tuple[int], np.dtype[np.float64]]) -> Estimate:
    return Estimate(
        value=float(np.median(ratios)),
        low=float(np.min(ratios)),
        high=float(np.max(ratios)),
        unit="-",
        basis=Basis.COMPUTED,
        source=f"{_runs(ratios.size)} seen by both; range",
    )
