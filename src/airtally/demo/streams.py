"""What each monitor's channels show, minute by minute, made from the simulated air."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Booleans, Floats
from airtally.demo import kernel
from airtally.demo.aerosols import OPTICAL_RESPONSE, OPTICAL_RESPONSE_PM10
from airtally.demo.dates import generator
from airtally.demo.instruments import lagged, read_particles, voc_index
from airtally.demo.plan import BEDROOMS, CFM, EXPONENT, LIVING, UTILITY, WORKSHOP
from airtally.demo.quirks import Quirk
from airtally.demo.simulate import Run, World
from airtally.demo.weather import saturation_vapour

PLACED = (-1, 18.0)
"""Day and hour at which the monitors went from the table to their places."""
WATER_HEATER = (60, 12.0)
"""When the water heater was replaced."""
WARMER = {LIVING: 0.3, BEDROOMS: -0.9, WORKSHOP: -2.4, UTILITY: 1.2}
Channels = dict[str, Floats]


def make_streams(world: World, run: Run) -> dict[str, Channels]:
    """Return each monitor's channels in field units, by minute; the public feed by hour under ``public``."""
    on_table = world.time < world.dates.at(*PLACED)
    room = {
        "M1": np.full(world.time.size, LIVING),
        "M2": np.where(on_table, LIVING, BEDROOMS),
        "M3": np.where(on_table, LIVING, WORKSHOP),
    }
    streams = {name: _room_monitor(world, run, name, zones) for name, zones in room.items()}
    streams["M4"] = _duct_monitor(world, run, on_table)
    streams["M5"] = {
        "pm25": world.m5,
        "temperature": _noisy(world, "M5 t", world.weather.temperature, 0.1),
        "humidity": np.clip(_noisy(world, "M5 rh", world.weather.humidity * 100.0, 0.5), 3.0, 99.0),
    }
    streams["M6"] = _safety_monitor(world, run)
    streams["M7"] = _blower_monitor(world, run)
    hours = world.weather.pm25[: world.time.size // 60 * 60].reshape(-1, 60).mean(axis=1)
    rng = generator(world.seed, "public feed")
    streams["public"] = {"pm25": np.maximum(hours * (1.0 + 0.03 * rng.standard_normal(hours.size)), 0.5)}
    return streams


def _noisy(world: World, purpose: str, values: Floats, size: float) -> Floats:
    return values + size * generator(world.seed, purpose).standard_normal(values.size)


def _climate(run: Run, zones: Floats) -> tuple[Floats, Floats]:
    """Return temperature [degC] and relative humidity [0..1] where a monitor hangs."""
    warmer = np.array([WARMER.get(z, -0.8) for z in range(kernel.ZONES)])
    temperature = lagged(run.out[:, kernel.INDOOR_TEMPERATURE], 900.0) + warmer[zones]
    vapour = run.gas[np.arange(zones.size), zones, kernel.VAPOUR]
    return temperature, np.clip(vapour / saturation_vapour(temperature), 0.03, 0.97)


def _room_monitor(world: World, run: Run, name: str, zones: Floats) -> Channels:
    rng = generator(world.seed, f"reading {name}")
    rows = np.arange(zones.size)
    bins = run.rooms[rows, zones]
    temperature, humidity = _climate(run, zones)
    channels = {"pm25": read_particles(bins @ OPTICAL_RESPONSE, humidity, world.errors[name], rng)}
    if name == "M3":
        channels["pm10"] = read_particles(bins @ OPTICAL_RESPONSE_PM10, humidity, world.errors[name], rng)
    if name == "M2":
        channels["voc"] = voc_index(lagged(run.gas[rows, zones, kernel.VOC], 90.0), temperature, humidity, rng)
    if name in ("M1", "M2"):
        offset = float(rng.uniform(-25.0, 25.0))
        channels["co2"] = (
            lagged(run.gas[rows, zones, kernel.CO2], 90.0) + offset + 9.0 * rng.standard_normal(zones.size)
        )
    channels["temperature"] = temperature + 0.06 * rng.standard_normal(zones.size)
    channels["humidity"] = 100.0 * humidity + 0.3 * rng.standard_normal(zones.size)
    return channels


def _duct_monitor(world: World, run: Run, on_table: Booleans) -> Channels:
    """Return M4: on the table with the others at first, then in the duct.

    The first two minutes of a run push past it what gathered in the far end of the ducts.
    """
    rng = generator(world.seed, "channels M4")
    living = np.full(world.time.size, LIVING)
    temperature, humidity = _climate(run, living)
    table = read_particles(run.rooms[:, LIVING] @ OPTICAL_RESPONSE, humidity, world.errors["M4"], rng)
    duct = run.out[:, kernel.DUCT_TEMPERATURE]
    moist = np.clip(run.gas[:, LIVING, kernel.VAPOUR] / saturation_vapour(duct), 0.03, 0.97)
    shown = np.where(on_table, temperature, duct)
    wet = np.where(on_table, humidity, moist)
    fan = run.out[:, kernel.FAN] > 0.0
    since_start = np.where(fan & ~np.roll(fan, 1), 0.45, 0.0)
    purge = since_start + 0.4 * np.roll(since_start, 1)
    voc = np.where(on_table, run.gas[:, LIVING, kernel.VOC], run.out[:, kernel.DUCT_VOC] * (1.0 + purge))
    return {
        "pm25": np.where(on_table, table, run.out[:, kernel.DUCT_READING]),
        "voc": voc_index(voc, shown, wet, rng),
        "temperature": shown + 0.06 * rng.standard_normal(living.size),
        "humidity": 100.0 * wet + 0.3 * rng.standard_normal(living.size),
    }


def room_pressure(world: World, run: Run) -> Floats:
    """Return the utility room's pressure with respect to outdoors, before noise. [Pa]

    Stack at the bottom of the house, the house's unbalanced flow over its leaks, and the return's pull on
    the room behind its shut door.
    """
    plan, drivers = world.plan, world.drivers
    row = world.rows[:, 0]
    pick = {
        name: np.array([getattr(epoch, name) for epoch in plan.epochs])[row]
        for name in ("leak_coefficient", "leak", "supply_leak", "utility_leak", "hood_flow", "heating_flow")
    }
    flow = run.out[:, kernel.FLOW]
    out = pick["hood_flow"] * drivers[:, kernel.HOOD] + plan.fireplace_flow * drivers[:, kernel.FIRE]
    out += 42.0 * CFM * drivers[:, kernel.BATH] + 140.0 * CFM * drivers[:, kernel.DRYER]
    unbalanced = flow * (pick["leak"] - pick["supply_leak"]) - out
    house = np.sign(unbalanced) * (np.abs(unbalanced) / pick["leak_coefficient"]) ** (1.0 / EXPONENT)
    stack = 1.06 * 9.81 * 6.0 * (run.out[:, kernel.INDOOR_TEMPERATURE] - world.weather.temperature) / 280.0
    pull = -4.0 * pick["utility_leak"] / 0.05 * (flow / pick["heating_flow"]) ** 2
    return np.asarray(house - 0.28 * stack + pull)


def _safety_monitor(world: World, run: Run) -> Channels:
    """Return M6: CO to whole ppm, temperature at the draft hood, room pressure with respect to outdoors."""
    rng = generator(world.seed, "reading M6")
    household, size = world.household, world.time.size
    room = run.out[:, kernel.INDOOR_TEMPERATURE] + WARMER[UTILITY]
    is_old = world.time < world.dates.at(*WATER_HEATER)
    firing = np.where(household.burner > 0.0, 30.0 + 4.0 * np.sin(world.time / 7.3e4), 3.0)
    target = room + np.where(is_old, np.where(household.spill > 0.0, 74.0, firing), 2.0)
    gusts = 0.10 * world.weather.wind**2 * rng.standard_normal(size)
    pressure = room_pressure(world, run) + lagged(gusts, 90.0) + 0.15 * rng.standard_normal(size)
    carbon_monoxide = lagged(run.gas[:, UTILITY, kernel.CO], 60.0) - 0.15 + 0.25 * rng.standard_normal(size)
    return {
        "co": np.maximum(np.rint(carbon_monoxide), 0.0),
        "spill_temperature": lagged(target, 150.0) + 0.3 * rng.standard_normal(size),
        "pressure": pressure,
    }


def _blower_monitor(world: World, run: Run) -> Channels:
    """Return M7: blower current, and filter drop at the flow of the moment."""
    rng = generator(world.seed, "reading M7")
    fan, flow = run.out[:, kernel.FAN], run.out[:, kernel.FLOW]
    row, epochs = world.rows[:, 0], world.plan.epochs
    new = np.array([epoch.heating_drop for epoch in epochs])[row]
    rise = np.array([epoch.dust_rise for epoch in epochs])[row]
    heating = np.array([epoch.heating_flow for epoch in epochs])[row]
    drop = (new + rise * run.out[:, kernel.FAN_HOURS] / 100.0) * (flow / heating) ** 1.5
    current = np.where(fan == 2, 4.05, np.where(fan == 1, 2.65, 0.12))
    return {
        "fan_current": np.maximum(current + 0.04 * rng.standard_normal(fan.size), 0.0),
        "filter_drop": drop + 0.003 * rng.standard_normal(fan.size),
    }


def present(world: World, monitor: str) -> Booleans:
    """Return the minutes that a monitor's file holds: all but its outages."""
    rng = generator(world.seed, f"gaps {monitor}")
    kept = np.ones(world.time.size, dtype=np.bool_)
    if Quirk.LOGGER_GAP in world.quirks and monitor in ("M4", "M6", "M7"):
        kept &= (world.time < world.dates.gap[0]) | (world.time >= world.dates.gap[1])
    if monitor in ("M1", "M2", "M3", "M5"):
        for begin in rng.integers(0, world.time.size, size=3):
            kept[begin : begin + int(rng.integers(3, 18))] = False
    if monitor in ("M6", "M7"):
        kept &= world.time >= world.dates.at(*PLACED)
    return kept
