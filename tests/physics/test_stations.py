"""The weather factor from a year of hours against the published one of the same station.

The hours are typical meteorological years of NREL (TMY3), open data: they are looked for in the folder that
AIRTALLY_OPEN_DATA names, then in ../shared/data beside the repository. The published factors are those of the ventilation
standard's appendix B, read in a public data file of a building-energy library (WSFTable).
"""

from __future__ import annotations

import csv
import math
import os
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from airtally.physics.infiltration.weather import WEATHER_FACTORS, weather_factor

ROOT = Path(__file__).parents[2]
LAST_DIGIT = 0.005


def hours_of(name):
    """Return outdoor temperature in kelvin and wind of every hour of a typical year, or skip."""
    folders = [Path(one) for one in (os.environ.get("AIRTALLY_OPEN_DATA"), ROOT.parent / "shared" / "data") if one]
    path = next((folder / "weather-tmy" / name for folder in folders if (folder / "weather-tmy" / name).exists()), None)
    if path is None:
        pytest.skip("typical years are not here; name the folder of the open data sets in AIRTALLY_OPEN_DATA")
    with path.open(newline="", encoding="utf-8") as file:
        next(file)
        rows = [(float(row["Dry-bulb (C)"]), float(row["Wspd (m/s)"])) for row in csv.DictReader(file)]
    celsius, wind = np.array(rows).T
    return celsius + 273.15, wind


@pytest.mark.open_data
@pytest.mark.parametrize(
    ("name", "station", "published"), [("703165TY.csv", 703165, 0.80), ("723170TYA.CSV", 723170, 0.43)]
)
def test_a_typical_year_gives_the_published_weather_factor_to_its_last_digit(name, station, published):
    temperature, wind = hours_of(name)
    assert temperature.size == 8760
    assert_allclose(weather_factor(temperature, wind) * 3600.0, published, atol=LAST_DIGIT)
    assert_allclose(WEATHER_FACTORS[station] * 3600.0, published, rtol=1e-12)


def test_the_method_of_the_weather_factors_written_out_hour_by_hour_gives_the_same():
    """LBNL5795E as read, in plain arithmetic: 0.074 m2, 185 m2, 2.5 m, n 0.67, 0.069, 0.142, 0.7 x 0.48, 1 m/s at least, 22 degC."""
    celsius = [2.0, -8.0, 15.0, 22.0, 30.0, 5.0, -20.0, 10.0]
    wind = [4.0, 0.0, 9.0, 0.4, 2.0, 12.0, 1.0, 6.0]
    coefficient = 0.074 * (2.0 / 1.2) ** 0.5 * 4.0 ** (0.5 - 0.67)
    turnover, total = None, 0.0
    for outdoors, speed in zip(celsius, wind, strict=True):
        stack = coefficient * 0.069 * abs(22.0 - outdoors) ** 0.67
        blown = coefficient * 0.142 * (0.7 * 0.48 * max(speed, 1.0)) ** (2.0 * 0.67)
        changes = 3600.0 * (stack**2 + blown**2) ** 0.5 / (2.5 * 185.0)
        before = 1.0 / changes if turnover is None else turnover
        turnover = (1.0 - math.exp(-changes)) / changes + before * math.exp(-changes)
        total += turnover
    expected = 185.0 / 0.074 / (1000.0 * total / len(celsius))
    found = weather_factor(np.array(celsius) + 273.15, np.array(wind)) * 3600.0
    assert_allclose(found, expected, rtol=1e-9)


@pytest.mark.open_data
def test_a_cold_windy_coast_has_a_larger_factor_than_a_mild_inland_place():
    coast, inland = (weather_factor(*hours_of(name)) for name in ("703165TY.csv", "723170TYA.CSV"))
    assert coast > 1.5 * inland


def test_the_factors_held_are_the_published_ones():
    """WSFTable, read; check values, airflow 1: all within the table's least 0.29 and largest 1.56."""
    printed = {
        727930: 0.56, 726980: 0.52, 727850: 0.64, 725300: 0.60, 726580: 0.63, 725090: 0.66, 722190: 0.46,
        722780: 0.43, 722020: 0.41, 725650: 0.59, 702730: 0.71, 703165: 0.80, 723170: 0.43,
    }  # fmt: skip
    assert {one: round(factor * 3600.0, 6) for one, factor in WEATHER_FACTORS.items()} == printed
    assert all(0.29 <= factor <= 1.56 for factor in printed.values())
