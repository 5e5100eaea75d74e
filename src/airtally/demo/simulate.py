"""Bring plan, weather and household together and run the house: as it was, and as it would have been."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.demo import kernel
from airtally.demo.aerosols import OPTICAL_RESPONSE, PENETRATION, SETTLING, SOURCES, TAGS, outdoor_bins, source_bins
from airtally.demo.dates import MINUTE, TRIAL_DAYS, TRIAL_FIRST, Dates, generator, make_dates
from airtally.demo.household import Household, make_household
from airtally.demo.instruments import Errors, make_errors, outdoor_smoke_request, read_particles
from airtally.demo.plan import HEAT_OUTPUT, OCCUPIED, ROOM_SHARES, Epoch, Plan, make_plan
from airtally.demo.quirks import Quirk
from airtally.demo.weather import Weather, make_weather

OUTDOOR_CO2, OUTDOOR_CO, OUTDOOR_VOC = 424.0, 0.15, 45.0
V1_FIRST, V2_FIRST = (35, 0.0), (39, 12.0)
MAPPED_ON, MAPPED_OFF = 5.0, 3.3
"""Thresholds behind the filter that stand for 15 and 10 in the room. [ug/m3]"""
CARBON_NEW = 0.85
FIRST_INDOOR = 20.5
"""Indoor temperature before the first minute. [degC]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """Everything that is given to the house from outside, for one seed and one set of quirks."""

    seed: int
    quirks: frozenset[Quirk]
    dates: Dates
    plan: Plan
    weather: Weather
    household: Household
    errors: dict[str, Errors]
    time: Floats
    """Begin of each minute. [s, POSIX UTC]"""
    m5: Floats
    """What the outdoor monitor shows. [ug/m3]"""
    rules: Floats
    drivers: Floats
    outdoor: Floats
    noise: Floats
    rows: Integers

    def index(self, time: float) -> int:
        """Return the minute that holds an instant [s, POSIX UTC], inside the logs."""
        return int(np.clip(round((time - self.dates.start) / MINUTE), 0, self.time.size))


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What a run of the house gives, by minute; see :func:`airtally.demo.kernel.run_house`."""

    span: tuple[int, int]
    out: Floats
    rooms: Floats
    tagged: Floats
    gas: Floats
    flows: Floats

    def occupied(self, plan: Plan) -> Floats:
        """Return the volume-weighted PM2.5 of the occupied rooms. Shape (minutes,) [ug/m3]."""
        weight = plan.volume[list(OCCUPIED)]
        return np.asarray(self.tagged[:, list(OCCUPIED), :].sum(axis=2) @ weight / weight.sum())


def make_world(seed: int, quirks: frozenset[Quirk], weeks: int) -> World:
    """Return the world of a seed."""
    dates = make_dates(seed, quirks, weeks)
    plan = make_plan(seed, quirks, dates)
    weather = make_weather(seed, quirks, dates)
    household = make_household(seed, quirks, dates, plan)
    errors = make_errors(seed, quirks)
    time = dates.minutes()
    optics = outdoor_bins(plan.outdoor_coarse) @ OPTICAL_RESPONSE
    m5 = read_particles(weather.at_house * optics, weather.humidity, errors["M5"], generator(seed, "reading M5"))
    drivers, rows = _drivers(quirks, dates, plan, weather, household, m5, time)
    outdoor = np.zeros((time.size, kernel.BINS + 4))
    outdoor[:, : kernel.BINS] = weather.at_house[:, None] * outdoor_bins(plan.outdoor_coarse)
    outdoor[:, kernel.BINS : kernel.BINS + 3] = OUTDOOR_CO2, OUTDOOR_CO, OUTDOOR_VOC
    outdoor[:, kernel.BINS + 3] = weather.vapour
    rng = generator(seed, "reading M4")
    noise = np.column_stack(
        [errors["M4"].noise * rng.standard_normal(time.size), errors["M4"].share * rng.standard_normal(time.size)]
    )
    return World(
        seed=seed,
        quirks=quirks,
        dates=dates,
        plan=plan,
        weather=weather,
        household=household,
        errors=errors,
        time=time,
        m5=m5,
        rules=_rules(quirks),
        drivers=drivers,
        outdoor=outdoor,
        noise=noise,
        rows=rows,
    )


def _rules(quirks: frozenset[Quirk]) -> Floats:
    """Return the two fan rules as set. Shape (2, 8)."""
    table = np.zeros((2, 8))
    table[:, kernel.ON_ABOVE], table[:, kernel.OFF_BELOW] = MAPPED_ON, MAPPED_OFF
    table[:, kernel.SAMPLES_MINUTES], table[:, kernel.SAMPLES_TWICE] = 8.0, 1.0
    table[:, kernel.MINIMUM_RUN], table[:, kernel.MAXIMUM_RUN], table[:, kernel.PURGE] = 10.0, 240.0, 5.0
    if Quirk.WRONG_THRESHOLD in quirks:
        table[0, kernel.ON_ABOVE], table[0, kernel.OFF_BELOW] = 15.0, 8.0
    if Quirk.SHORT_SAMPLING in quirks:
        table[0, kernel.SAMPLES_MINUTES], table[0, kernel.SAMPLES_TWICE], table[0, kernel.PURGE] = 3.0, 0.0, 2.0
    return table


def carbon_efficiency(time: Floats, dates: Dates, quirks: frozenset[Quirk]) -> Floats:
    """Return what the cleaner's carbon takes of VOC in one pass. Shape (minutes,) [-]."""
    age = np.maximum(time - dates.at(31, 12.0), 0.0) / 86400.0
    fading = np.exp(-age / 9.0) if Quirk.CARBON_FADES in quirks else np.ones(time.size)
    return np.asarray(CARBON_NEW * fading)


def _drivers(
    quirks: frozenset[Quirk],
    dates: Dates,
    plan: Plan,
    weather: Weather,
    household: Household,
    m5: Floats,
    time: Floats,
) -> tuple[Floats, Integers]:
    """Return the drivers by minute and the rows of epoch, rule and recorded fan that hold in each."""
    clock, day = dates.hour_of_day(time), dates.day_index(time)
    rule = np.where(time >= dates.at(*V2_FIRST), 1, np.where(time >= dates.at(*V1_FIRST), 0, -1))
    if Quirk.NO_WORK in quirks:
        rule[:] = -1
    in_trial = (day >= TRIAL_FIRST) & (day < TRIAL_FIRST + TRIAL_DAYS)
    drawn = np.array(dates.rule_days)[np.clip(day - TRIAL_FIRST, 0, TRIAL_DAYS - 1)]
    offered = (rule >= 0) & (~in_trial | (drawn == 1))
    if Quirk.LOGGER_GAP in quirks:
        offered &= ~((time >= dates.gap[0]) & (time < dates.gap[1]))
    drivers = np.zeros((time.size, kernel.DRIVER_COLUMNS))
    setpoint = np.where((clock >= 5.75) & (clock < 22.25), 20.5, 18.0)
    columns = {
        kernel.OUT_TEMPERATURE: weather.temperature,
        kernel.WIND: weather.wind,
        kernel.OUT_VAPOUR: weather.vapour,
        kernel.HOOD: household.hood,
        kernel.DRYER: household.dryer,
        kernel.BATH: household.bath,
        kernel.FIRE: household.fire,
        kernel.WINDOW: household.window,
        kernel.DOOR_SHUT: household.door_shut,
        kernel.GARAGE_OPEN: household.garage_open,
        kernel.SETPOINT: setpoint,
        kernel.SMOKE_REQUEST: outdoor_smoke_request(m5, offered & (rule == 1)),
        kernel.IS_OFFERED: offered,
        kernel.MINUTE_OF_HOUR: np.mod(np.floor(clock * 60.0 + 1e-6), 60.0),
        kernel.CARBON: carbon_efficiency(time, dates, quirks),
        kernel.SPILL: household.spill,
        kernel.INDOOR_RECORDED: np.full(time.size, np.nan),
        kernel.DUCT_TEMPERATURE_OFF: 0.6 * 18.5 + 0.4 * np.maximum(weather.temperature, 4.0),
    }
    for column, values in columns.items():
        drivers[:, column] = values
    since = np.array([epoch.since for epoch in plan.epochs])
    epoch_row = np.maximum(np.searchsorted(since, time, side="right") - 1, 0)
    rows = np.column_stack([epoch_row, rule, np.full(time.size, -1)]).astype(np.int64)
    return drivers, rows


def epoch_table(world: World) -> Floats:
    """Return the epochs as the kernel reads them. Shape (epochs, 32)."""
    moved = world.dates.at(31, 12.0) if Quirk.MONITOR_MOVED in world.quirks else -np.inf
    table = np.zeros((len(world.plan.epochs), kernel.EPOCH_COLUMNS))
    for row, epoch in zip(table, world.plan.epochs, strict=True):
        row[:14] = _epoch_scalars(epoch, is_after=epoch.since >= moved)
        row[kernel.RETURNS : kernel.RETURNS + 5] = epoch.returns
        row[kernel.SUPPLIES : kernel.SUPPLIES + 5] = epoch.supplies
        row[kernel.EFFICIENCY : kernel.EFFICIENCY + 8] = epoch.efficiency
    return table


def _epoch_scalars(epoch: Epoch, *, is_after: bool) -> list[float]:
    return [
        epoch.leak_coefficient,
        epoch.leak,
        epoch.utility_leak,
        epoch.supply_leak,
        epoch.heating_flow,
        epoch.circulate_flow,
        epoch.hood_flow,
        epoch.grille_flow,
        epoch.hood_capture,
        float(epoch.filter_number),
        epoch.bypass,
        epoch.cleaner_flow,
        epoch.recirculated,
        float(is_after),
    ]


def run(
    world: World,
    *,
    span: tuple[int, int] | None = None,
    follow: Run | None = None,
    is_fan_by_heat_only: bool = False,
    rows: Integers | None = None,
    without: str | None = None,
    is_tagged: bool = True,
) -> Run:
    """Run the house through the minutes of ``span``.

    Parameters
    ----------
    world : World
        What is given.
    span : pair of int or None
        First minute and first minute after; None for all. The days before a late begin are not known to it.
    follow : Run or None
        Run whose fan states and indoor temperature are taken; None lets thermostat and rule decide.
    is_fan_by_heat_only : bool
        Of the states to follow, only heating.
    rows : Integers or None
        Rows of epoch and rule in place of the true ones, shape (minutes, 3).
    without : str or None
        A source whose emissions, or outdoor particles, are left out.
    is_tagged : bool
        Whether sources are carried apart; if not, all are under tag 0.
    """
    size = world.time.size
    begin, end = (0, size) if span is None else span
    chosen = np.array(world.rows if rows is None else rows)
    drivers = world.drivers
    if follow is not None:
        fan = follow.out[:, kernel.FAN].astype(np.int64)
        chosen[:, 2] = np.where(fan == 2, 2, 0) if is_fan_by_heat_only else fan
        drivers = drivers.copy()
        indoor = follow.out[:, kernel.INDOOR_TEMPERATURE]
        drivers[:, kernel.INDOOR_RECORDED] = np.concatenate([[FIRST_INDOOR], indoor[:-1]])
    outdoor, particles = world.outdoor, world.household.particles
    if without is not None:
        particles = particles.copy()
        particles[:, :, SOURCES.index(without)] = 0.0
    if without == "outdoor":
        outdoor = outdoor.copy()
        outdoor[:, : kernel.BINS] = 0.0
    tags = TAGS if is_tagged else 1
    gas = kernel.BINS * tags
    air = np.zeros((kernel.ZONES, gas + kernel.GASES))
    air[:, :gas:tags] = 0.45 * outdoor[begin, : kernel.BINS]
    air[:, gas:] = np.array([600.0, 0.3, 420.0, 7.0])
    curves = np.ones((4, gas + kernel.GASES))
    curves[0, gas:] = 0.0
    curves[0, :gas] = np.repeat(SETTLING * world.plan.settling_factor / 3600.0, tags)
    curves[1, :gas] = np.repeat(PENETRATION, tags)
    curves[2, : kernel.BINS], curves[3, : kernel.BINS] = world.plan.cleaner_efficiency, OPTICAL_RESPONSE
    result = Run(
        span=(begin, end),
        out=np.zeros((size, kernel.OUT_COLUMNS)),
        rooms=np.zeros((size, kernel.ZONES, kernel.BINS)),
        tagged=np.zeros((size, kernel.ZONES, tags)),
        gas=np.zeros((size, kernel.ZONES, kernel.GASES)),
        flows=np.zeros((size, 6, kernel.ZONES)),
    )
    tag_of = np.arange(TAGS) if is_tagged else np.zeros(TAGS, dtype=np.int64)
    kernel.run_house(
        drivers, outdoor, particles, world.household.gases, world.noise, epoch_table(world), world.rules,
        chosen, house_constants(world), world.plan.volume, curves, ROOM_SHARES, source_bins(), tag_of, (begin, end), air,
        result.out, result.rooms, result.tagged, result.gas, result.flows,
    )  # fmt: skip
    return result


def house_constants(world: World) -> Floats:
    """Return the constants as the kernel reads them. Shape (11,)."""
    plan, errors = world.plan, world.errors["M4"]
    return np.array(
        [
            plan.stack_factor,
            plan.wind_factor,
            plan.garage_share,
            float(plan.leak_is_garage),
            plan.fan_settling,
            plan.duct_volume,
            plan.heat_loss,
            plan.fireplace_flow,
            HEAT_OUTPUT,
            errors.gain,
            errors.offset,
        ]
    )
