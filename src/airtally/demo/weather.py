"""Hourly weather and outdoor particles of an invented inland valley, brought to minutes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.demo.dates import HOUR, Dates, generator
from airtally.demo.quirks import Quirk

DENSITY = 1.06
"""Air at 3,200 ft and mild temperature. [kg/m3]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Outdoor air by minute: ``temperature`` [degC], ``humidity`` [0..1], ``vapour`` [g/m3], ``wind`` [m/s], ``pm25`` [ug/m3].

    ``pm25`` is what the valley has; ``at_house`` what the house breathes.
    """

    temperature: Floats
    humidity: Floats
    vapour: Floats
    wind: Floats
    pm25: Floats
    at_house: Floats


def saturation_vapour(temperature: Floats) -> Floats:
    """Return saturation vapour density over water at ``temperature`` [degC]. [g/m3] Magnus form, from memory."""
    pressure = 611.2 * np.exp(17.62 * temperature / (243.12 + temperature))
    return np.asarray(pressure * 2.1667 / (temperature + 273.15))


def _walk(rng: np.random.Generator, count: int, persistence: float) -> Floats:
    """Return a first-order autoregressive series of unit variance. Shape (count,)."""
    noise = rng.standard_normal(count) * np.sqrt(1.0 - persistence**2)
    series = np.empty(count)
    value = float(rng.standard_normal())
    for i, step in enumerate(noise):
        value = persistence * value + step
        series[i] = value
    return series


def make_weather(seed: int, quirks: frozenset[Quirk], dates: Dates) -> Weather:
    """Return the weather of a seed from the begin to the end of the logs, by minute."""
    minutes = dates.minutes()
    hours = np.arange(dates.start, dates.end + 2.0 * HOUR, HOUR)
    rng = generator(seed, "weather")
    day = dates.day_index(hours)
    clock = dates.hour_of_day(hours)
    season = (hours - dates.at(-COOLING_FROM)) / 86400.0
    mean = 18.2 - 0.245 * (season - COOLING_FROM) + 0.2 * (dates.fold_day - 62)
    swing = np.interp(season, [0.0, 90.0], [8.0, 4.8])
    anomaly = 2.0 * _walk(rng, hours.size, 0.985)
    temperature = mean + anomaly - swing * np.cos(2.0 * np.pi * (clock - 4.5) / 24.0)
    wind = np.clip(
        1.9 + 0.9 * np.sin(2.0 * np.pi * (clock - 9.0) / 24.0) + 0.9 * _walk(rng, hours.size, 0.9), 0.2, None
    )
    dew = mean + anomaly - swing - 1.5 - 1.5 * np.abs(_walk(rng, hours.size, 0.97))
    humidity = np.clip(saturation_vapour(dew) / saturation_vapour(temperature), 0.12, 0.80)
    fog = np.zeros(hours.size)
    if Quirk.FOG_BIAS in quirks:
        fog = _nights(day, clock, dates.end_day - 2)
        humidity = np.where(fog > 0.0, humidity + (0.97 - humidity) * fog, humidity)
        wind = np.where(fog > 0.0, 0.4, wind)
    pm25 = _outdoor_particles(seed, quirks, dates, day, clock, wind)
    humidity_minutes = np.interp(minutes, hours, humidity)
    temperature_minutes = np.interp(minutes, hours, temperature)
    pm_minutes = np.interp(minutes, hours, pm25)
    local = 1.0 + 0.06 * np.interp(minutes, hours, _walk(generator(seed, "local air"), hours.size, 0.9))
    return Weather(
        temperature=temperature_minutes,
        humidity=humidity_minutes,
        vapour=humidity_minutes * saturation_vapour(temperature_minutes),
        wind=np.interp(minutes, hours, wind),
        pm25=pm_minutes,
        at_house=pm_minutes * np.clip(local, 0.7, 1.3),
    )


COOLING_FROM = 10
"""Days before the first Monday from which the season is counted."""


def _nights(day: Integers, clock: Floats, first: int) -> Floats:
    """Return 1 in the foggy hours of the nights before ``first`` and the day after, 0 outside, sloped between."""
    hours = (day - first) * 24.0 + clock
    inside = np.zeros(hours.size)
    for begin, end in ((-2.0, 9.5), (21.0, 33.0)):
        inside = np.maximum(inside, np.clip(np.minimum(hours - begin, end - hours) / 1.5, 0.0, 1.0))
    return inside


def _outdoor_particles(
    seed: int, quirks: frozenset[Quirk], dates: Dates, day: Integers, clock: Floats, wind: Floats
) -> Floats:
    """Return hourly outdoor PM2.5: background, evening wood smoke, inversions, the smoke week. [ug/m3]"""
    rng = generator(seed, "outdoor air")
    count = day.size
    background = 5.0 * np.exp(0.4 * _walk(rng, count, 0.96)) * (2.0 / (1.0 + wind)) ** 0.3
    cold = np.clip((day - 25.0) / 40.0, 0.0, 1.0)
    evening = 2.5 * cold * np.exp(-0.5 * ((np.mod(clock - 21.0 + 12.0, 24.0) - 12.0) / 3.0) ** 2)
    pm25 = background + evening
    first = int(rng.integers(36, 39)) if seed != 1 else 37
    second = int(rng.integers(52, 55)) if seed != 1 else 52
    for begin, length, size in ((first, 2, 9.0), (second, 2, 11.0), (dates.end_day - 3, 3, 8.0)):
        hours = (day - begin) * 24.0 + clock
        pm25 = pm25 + size * np.clip(np.minimum(hours, length * 24.0 - hours) / 12.0, 0.0, 1.0)
    if Quirk.SMOKE_WEEK in quirks:
        daily = np.array([45.0, 80.0, 135.0, 185.0, 150.0, 95.0, 55.0]) * np.exp(0.08 * rng.standard_normal(7))
        into = (day - 7 * dates.smoke_week) + clock / 24.0
        level = np.interp(
            into, np.concatenate([[-0.1], np.arange(7) + 0.5, [7.2]]), np.concatenate([[0.0], daily, [0.0]])
        )
        pm25 = pm25 + level * np.exp(0.22 * _walk(rng, count, 0.9))
    return np.asarray(pm25)
