"""Time the tally engine against slower methods in one run, and write the figures to benchmarks/results.md.

``python -m benchmarks.engine [--year-days 365]``. All houses are invented. The slower methods run the same
rule, sensor and inputs; their time is measured on fewer days and scaled, which the table says.
"""

from __future__ import annotations

import argparse
import datetime
import os
import platform
import time
from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import partial
from pathlib import Path
from typing import Any, cast
from unittest import mock

import numba
import numpy as np
import scipy
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from airtally.house.parts import AirSide
from airtally.tally import closed_loop, kernels
from airtally.tally.closed_loop import run_with_rule
from airtally.tally.coefficients import Coefficients, coefficients
from airtally.tally.engine import Store, run
from airtally.tally.house_air import HouseAir
from airtally.tally.rules import Course, RuleValues, Sensor
from airtally.tally.sensing import View, view_of
from airtally.tally.stepping import inputs_of, steps_of

Floats = NDArray[np.float64]
ZONES, CLASSES, MINUTE, DAY, UG = 6, 3, 60.0, 1440, 1e-9
WEIGHT = np.array([1.0, 1.0, 0.3])
RESULTS = Path(__file__).with_name("results.md")


def house_air(draws: int = 1) -> HouseAir:
    """Return an invented six-zone house with leak, bypass cleaner, portable, doors and a window."""
    rng = np.random.default_rng(20)
    species = CLASSES + 1
    doors = rng.uniform(0.0, 0.05, (draws, 1, ZONES, ZONES)) * (1.0 - np.eye(ZONES))
    doors = np.repeat(doors + np.swapaxes(doors, -1, -2), 3, axis=1)
    even = np.full((draws, ZONES), 1.0 / ZONES)
    return HouseAir(
        volume=rng.uniform(40.0, 110.0, (draws, ZONES)),
        infiltration=rng.uniform(0.002, 0.012, (draws, 1, ZONES)),
        penetration=np.full((draws, species), 0.8),
        settling=np.tile(np.array([0.2, 0.4, 1.5, 0.0]) / 3600.0, (draws, 3, 1)),
        handler_flow=np.tile([0.0, 0.35, 0.5], (draws, 1)),
        return_share=np.tile(np.eye(ZONES)[0] * 0.7 + np.eye(ZONES)[3] * 0.3, (draws, 1)),
        supply_share=even,
        return_leak=np.full((draws, 1), 0.1),
        supply_leak=np.full(draws, 0.04),
        leak_driver=np.array([1]),
        leak_before_filter=np.array([False]),
        filter_efficiency=np.tile([0.3, 0.6, 0.85, 0.0], (draws, 1)),
        cleaner_flow=np.tile([0.1, 0.08], (draws, 1)),
        cleaner_efficiency=np.full((draws, 2, species), 0.95),
        cleaner_recirculated=np.full((draws, 2), 0.1),
        cleaner_runs=np.array([[0.0, 1.0, 1.0], [0.5, 0.5, 0.5]]),
        cleaner_zone=np.array([-1, 2]),
        cleaner_is_portable=np.array([False, True]),
        ventilation_flow=np.zeros((draws, 0)),
        ventilation_efficiency=np.zeros((draws, 0, species)),
        ventilation_runs=np.zeros((0, 3)),
        ventilation_zone=np.zeros(0, dtype=np.int64),
        ventilation_kind=(),
        door_flow=doors,
        other_outdoor_flow=np.zeros((draws, 1, ZONES)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """An invented stretch of days: what the rule does not choose, drivers and emissions."""

    course: Course
    drivers: Floats
    emissions: Floats


def case_of(days: int, species: int) -> Case:
    """Return days with an outdoor series, cooking in zone 1, a stove in zone 3, heating cycles and a family."""
    rng = np.random.default_rng(7)
    steps = days * DAY
    minute = np.arange(steps)
    hourly = np.exp(np.cumsum(rng.normal(0.0, 0.1, days * 24)) * 0.5 + np.log(8.0)).clip(1.0, 120.0)
    drivers = np.repeat(np.stack([hourly, hourly * 0.4 + 3.0], axis=1), 60, axis=0)[:, None, :] * UG
    emissions = np.zeros((steps, species, ZONES))
    for begin in rng.integers(0, steps - 30, days * 3):
        emissions[begin : begin + rng.integers(5, 30), :, 1] = rng.uniform(2.0, 60.0) * UG
    evening = (minute % DAY > 1020) & (rng.uniform(size=steps) < 0.03)
    emissions[evening, :, 3] = 50.0 * UG
    presence = np.repeat(np.where((np.arange(days * 24) % 24 < 8) | (np.arange(days * 24) % 24 > 16), 1.0, 0.0), 60)
    return Case(
        course=Course(
            conditions=np.zeros(steps, dtype=np.int64),
            demand=np.where(rng.uniform(size=days * 144) < 0.2, 2, 0).repeat(10),
            local_seconds=np.asarray((minute % DAY) * MINUTE, dtype=float),
            outdoor_temperature=np.full(steps, 275.0),
            presence=np.tile(presence[:, None], (1, ZONES)),
            lockout=np.zeros(steps, dtype=bool),
            is_event=np.asarray(emissions.any(axis=(1, 2)), dtype=np.bool_),
        ),
        drivers=np.repeat(drivers, species, axis=1),
        emissions=emissions,
    )


def rules_of(count: int) -> RuleValues:
    """Return rules whose threshold runs from 5 to 40 ug/m3 at the sensor."""
    on = np.linspace(5.0, 40.0, count) * UG if count > 1 else np.array([12.0 * UG])
    same: Callable[[float], Floats] = lambda value: np.full(count, value)  # noqa: E731
    return RuleValues(
        on_above=on,
        off_below=0.7 * on,
        minimum_run=same(600.0),
        maximum_run=same(7200.0),
        sampling_seconds=same(480.0),
        sampling_offsets=np.zeros((count, 1)),
        early_first=same(0.0),
        early_last=same(0.0),
        early_colder_than=same(-np.inf),
        cap=same(1000.0 * UG),
    )


def sensor_of(house: HouseAir, species: int) -> Sensor:
    """Return a duct sensor ahead of the filter."""
    view = view_of(house, AirSide.RETURN_BEFORE_FILTER, driver_count=2)
    kept = View(zones=view.zones[:, :, :species], drivers=view.drivers[:, :, :species], needs_fan=True)
    weight = np.concatenate([WEIGHT, np.zeros(species - CLASSES)])
    return Sensor(view=kept, species_weight=weight, gain=np.ones(1), response_time=60.0, purge=180.0)


def best_of(function: Callable[[], Any], repeats: int) -> float:
    """Return the shortest of several runs. [s]."""
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        function()
        times.append(time.perf_counter() - begin)
    return min(times)


def by_hand(
    advance: Callable[[int, int, Floats], Floats], case: Case, sensor: Sensor, rules: RuleValues
) -> tuple[Floats, list[int]]:
    """Run the first rule step by step in Python around any ``advance(step, fan, state (C, Z))``; return series."""
    now = np.zeros((CLASSES, ZONES))
    on, off = float(rules.on_above[0]), float(rules.off_below[0])
    shortest, longest, sampling = rules.minimum_run[0], rules.maximum_run[0], rules.sampling_seconds[0]
    zone_weight = sensor.view.zones[0] * sensor.species_weight[:, None]
    driver_weight = sensor.view.drivers[0] * sensor.species_weight[:, None]
    follow = 1.0 - np.exp(-MINUTE / sensor.response_time)
    asks, ran, known, held, age, signal, fan_ran = False, 0.0, False, 0.0, 0.0, None, 0.0
    series, fans = [], []
    for t, demand in enumerate(case.course.demand):
        blocked = known and held > rules.cap[0]
        if asks:
            ran += MINUTE
            if blocked or (ran >= shortest and known and held < off):
                asks = False
            elif ran >= longest:
                asks, known = False, False
        elif not blocked and known and held > on:
            asks, ran = True, 0.0
        wants = asks or (not blocked and case.course.local_seconds[t] % 3600.0 < sampling)
        fan = max(int(demand), 1) if wants else int(demand)
        now = advance(t, fan, now)
        fan_ran = fan_ran + MINUTE if fan else 0.0
        age += MINUTE
        known = known and age <= sensor.hold
        if fan:
            true = float((zone_weight[fan] * now).sum() + (driver_weight[fan] * case.drivers[t]).sum())
            signal = true if signal is None else signal + follow * (true - signal)
            if fan_ran >= sensor.purge:
                known, held, age = True, signal, 0.0
        series.append(now)
        fans.append(fan)
    return np.array(series), fans


def numpy_stepper(law: Coefficients, case: Case) -> Callable[[int, int, Floats], Floats]:
    """Return the exact step as NumPy products, matrices kept per state."""
    inputs = inputs_of(case.drivers[:1], case.emissions[:1] + 1.0)
    steps = steps_of(law, inputs, MINUTE)
    matrix = np.ascontiguousarray(np.moveaxis(steps.step[0], -1, 1)[:, :CLASSES])

    def advance(t: int, fan: int, now: Floats) -> Floats:
        whole = np.concatenate([now, case.drivers[t], case.emissions[t]], axis=1)
        return np.asarray((matrix[fan] @ whole[:, :, None])[:, :, 0])

    return advance


def solver_stepper(law: Coefficients, case: Case, **choices: Any) -> Callable[[int, int, Floats], Floats]:
    """Return a step by solve_ivp, restarted each minute so that the rule can act."""
    size = CLASSES * ZONES
    blocks = np.zeros((3, size, size))
    for fan in range(3):
        for c in range(CLASSES):
            block = slice(c * ZONES, (c + 1) * ZONES)
            blocks[fan, block, block] = law.rate[0, fan, c]
    volume = law.volume[0]

    def advance(t: int, fan: int, now: Floats) -> Floats:
        entering = np.einsum("cp,cpz->cz", case.drivers[t][:, law.path_driver], law.gains[0, fan])
        entering = (entering + case.emissions[t] / volume).ravel()
        matrix = blocks[fan]
        solved = solve_ivp(lambda _, y: matrix @ y + entering, (0.0, MINUTE), now.ravel(), **choices)
        return np.asarray(solved.y[:, -1]).reshape(CLASSES, ZONES)

    return advance


def year_rows(days: int) -> list[tuple[str, str, str]]:
    """Time one home-year in closed loop and the slower methods on fewer days."""
    house = house_air()
    law = coefficients(house).species(slice(0, CLASSES))
    sensor, rules = sensor_of(house, CLASSES), rules_of(1)
    case = case_of(days, CLASSES)
    begin = time.perf_counter()
    inputs = inputs_of(case.drivers, case.emissions)
    packing = time.perf_counter() - begin
    go = partial(run_with_rule, law, case.course, inputs, None, MINUTE, rules=rules, sensor=sensor)
    begin = time.perf_counter()
    go()
    first = time.perf_counter() - begin
    whole = best_of(go, 7)
    compiled = compiled_seconds(go)
    with_gas = coefficients(house)
    four = case_of(days, CLASSES + 1)
    packed = inputs_of(four.drivers, four.emissions)
    gas_sensor = sensor_of(house, CLASSES + 1)
    with_gas_time = best_of(
        lambda: run_with_rule(with_gas, four.course, packed, None, MINUTE, rules=rules, sensor=gas_sensor), 5
    )

    per_year = 365.0 * DAY
    week = part_of(case, 7)
    begin = time.perf_counter()
    looped, _ = by_hand(numpy_stepper(law, week), week, sensor, rules)
    numpy_year = (time.perf_counter() - begin) / (7 * DAY) * per_year
    one = part_of(case, 1)
    begin = time.perf_counter()
    solved, _ = by_hand(solver_stepper(law, one, method="LSODA", rtol=1e-6, atol=1e-16), one, sensor, rules)
    solver_year = (time.perf_counter() - begin) / DAY * per_year
    truth, fans = by_hand(solver_stepper(law, one, method="DOP853", rtol=1e-12, atol=1e-24), one, sensor, rules)
    fast = run_with_rule(
        law, one.course, inputs_of(one.drivers, one.emissions), None, MINUTE, rules=rules, sensor=sensor, traces=True
    )
    assert fast.states is not None  # noqa: S101 - traces were asked for
    same = bool(np.array_equal(fast.states[0, 0], fans))
    series = run(
        law, fast.states[0, 0], one.drivers, one.emissions, None, MINUTE, store=Store.BLOCK_MEANS, block_steps=1
    )
    ends = run(law, fast.states[0, 0], one.drivers, one.emissions, None, MINUTE, store=Store.STEP_ENDS)
    assert ends.series is not None  # noqa: S101
    assert series.series is not None  # noqa: S101
    engine_error = np.abs(ends.series[0] - truth).max() / UG
    end_error = np.abs(fast.end[0, 0] - truth[-1]).max() / UG
    scaled = year_scale(days)
    return [
        (
            "one home-year, 6 zones x 3 classes, 1 minute, closed loop: compiled loop",
            ms(compiled * scaled),
            "aim 20 ms",
        ),
        ("same, whole call with matrices, account and exposure", ms(whole * scaled), "inputs packed before"),
        ("same, 3 classes and CO2, whole call", ms(with_gas_time * scaled), "species run in lanes of four"),
        ("packing a year of drivers and emissions, once", ms(packing * scaled), "shared by all rules and draws"),
        ("first call in this process", ms(first), "compiles, or loads the compiler's cache"),
        (
            "per-step NumPy loop, same exact step and rule",
            f"{numpy_year:.1f} s",
            "measured on 7 days, scaled to a year",
        ),
        (
            "solve_ivp LSODA rtol 1e-6, restarted each minute",
            f"{solver_year:.1f} s",
            "measured on 1 day, scaled to a year",
        ),
        ("ratio to the NumPy loop, compiled / whole call", ratio(numpy_year, compiled, whole, scaled), "aim 50"),
        ("ratio to solve_ivp, compiled / whole call", ratio(solver_year, compiled, whole, scaled), "aim 1,000"),
        (
            "largest error over a day against DOP853 rtol 1e-12",
            f"{engine_error:.1e} ug/m3",
            f"single-precision series; end of day in double {end_error:.1e}; peak {truth.max() / UG:.0f} ug/m3",
        ),
        ("same, NumPy loop", f"{np.abs(looped[:DAY] - truth).max() / UG:.1e} ug/m3", "double precision"),
        ("same, solve_ivp LSODA", f"{np.abs(solved - truth).max() / UG:.1e} ug/m3", ""),
        ("all methods chose the same fan states that day", "yes" if same else "NO", ""),
    ]


def compiled_seconds(go: Callable[[], Any]) -> float:
    """Return the shortest time that the compiled loop itself took within several whole calls, in [s]."""
    times: list[float] = []

    def timed(*arguments: Any) -> None:
        begin = time.perf_counter()
        kernels.closed_loop(*arguments)
        times.append(time.perf_counter() - begin)

    with mock.patch.object(closed_loop, "closed_loop", timed):
        for _ in range(9):
            go()
    return min(times)


def _add_up(count: int) -> float:
    """Return a sum whose every addition waits for the one before."""
    total = 0.0
    for _ in range(count):
        total += 1.25
    return total


def machine_row() -> tuple[str, str, str]:
    """Return how fast the core is at this moment, so that times of different days can be compared."""
    add_up = cast(Callable[[int], float], numba.njit(cast(Any, _add_up)))
    add_up(10)
    seconds = best_of(partial(add_up, 10**8), 3)
    return ("one dependent float addition on this core, now", f"{seconds * 10:.2f} ns", "scale for the times below")


def part_of(case: Case, days: int) -> Case:
    """Return the first days of a case."""
    count = days * DAY
    course = Course(**{field.name: getattr(case.course, field.name)[:count] for field in fields(Course)})
    return Case(course=course, drivers=case.drivers[:count], emissions=case.emissions[:count])


def batch_rows() -> list[tuple[str, str, str]]:
    """Time many rules on four weeks, and many draws in the open loop."""
    house = house_air()
    law = coefficients(house).species(slice(0, CLASSES))
    case = case_of(28, CLASSES)
    inputs = inputs_of(case.drivers, case.emissions)
    sensor, rules = sensor_of(house, CLASSES), rules_of(500)
    go = partial(run_with_rule, law, case.course, inputs, None, MINUTE, rules=rules, sensor=sensor)
    many = best_of(go, 3)
    steps = 500 * 28 * DAY
    draws = house_air(200)
    wide = coefficients(draws)
    weeks = case_of(14, CLASSES + 1)  # stands for ten weeks at five minutes: 20,160 steps
    packed = inputs_of(weeks.drivers, weeks.emissions)
    states = np.where(weeks.course.demand > 0, 2, 0)
    replay = best_of(lambda: run(wide, states, packed, None, None, 300.0), 3)
    cores = numba.get_num_threads()
    return [
        (
            "500 rules x 4 weeks at 1 minute, closed loop",
            f"{many:.2f} s",
            f"{many / steps * cores * 1e9:.0f} ns a step and core, {cores} cores",
        ),
        (
            "200 draws x 10 weeks at 5 minutes, open loop, 3 classes and CO2",
            f"{replay:.2f} s",
            "with matrices and account",
        ),
    ]


def year_scale(days: int) -> float:
    """Return what turns the measured days into a year."""
    return 365.0 / days


def ms(seconds: float) -> str:
    """Return milliseconds as text."""
    return f"{seconds * 1e3:.1f} ms"


def ratio(slow: float, compiled: float, whole: float, scaled: float) -> str:
    """Return both ratios as text."""
    return f"{slow / (compiled * scaled):,.0f} / {slow / (whole * scaled):,.0f}"


def main() -> None:
    """Run everything and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--year-days", type=int, default=365, help="days of the closed-loop case, scaled to a year")
    days = parser.parse_args().year_days
    rows = [machine_row(), *year_rows(days), *batch_rows()]
    today = datetime.datetime.now(tz=datetime.UTC).date()
    machine = f"{platform.machine()}, {os.cpu_count()} cores, {platform.system()}, Python {platform.python_version()}"
    versions = f"numpy {np.__version__}, numba {numba.__version__}, scipy {scipy.__version__}"
    lines = [
        "# Benchmarks of the tally engine",
        "",
        f"{today}; {machine}; {versions}. Written by `python -m benchmarks.engine`. The house and its days are invented.",
        f"Closed loop measured on {days} days. Best of several runs; cores may have been shared with other work, so read",
        "every time as an upper value.",
        "",
        "| what | figure | remark |",
        "|---|---|---|",
        *(f"| {what} | {figure} | {remark} |" for what, figure, remark in rows),
        "",
    ]
    RESULTS.write_text("\n".join(lines), encoding="utf-8")
    print("\n".join(lines))  # noqa: T201 - a benchmark talks to the terminal


if __name__ == "__main__":
    main()
