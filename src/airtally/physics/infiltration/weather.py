"""Weather factors: a year's wind and cold as one air-change rate."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats
from airtally.errors import InputError
from airtally.physics.constants import TRADE_DENSITY
from airtally.physics.infiltration.stack_and_wind import power_law_infiltration
from airtally.physics.leaks.tightness import REFERENCE_HEIGHT

WEATHER_FACTORS = {
    702730: 0.71 / 3600.0,
    703165: 0.80 / 3600.0,
    722020: 0.41 / 3600.0,
    722190: 0.46 / 3600.0,
    722780: 0.43 / 3600.0,
    723170: 0.43 / 3600.0,
    725090: 0.66 / 3600.0,
    725300: 0.60 / 3600.0,
    725650: 0.59 / 3600.0,
    726580: 0.63 / 3600.0,
    726980: 0.52 / 3600.0,
    727850: 0.64 / 3600.0,
    727930: 0.56 / 3600.0,
}
"""Published weather factors of some stations by their WMO number. [1/s]; WSFTable, read. Others: weather_factor."""


def weather_factor(outdoor_temperature: Floats, wind_speed: Floats, indoor_temperature: float = 295.15) -> float:
    r"""Return the weather-and-shielding factor of a place from its hourly weather.

    A reference house is ventilated by the weather; the mean turnover time of its air, tau, gives

    .. math:: wsf = \frac{A_f / A_L}{1000 \, \bar\tau}

    Parameters
    ----------
    outdoor_temperature : array
        Absolute outdoor temperature of each hour. [K]
    wind_speed : array
        Wind speed at the station in each hour. [m/s]
    indoor_temperature : float, optional
        Absolute indoor temperature. [K]

    Returns
    -------
    weather_factor : float
        wsf, per unit of normalised leakage. [1/s]

    Raises
    ------
    InputError
        If the two series differ in length or are empty.

    Notes
    -----
    Valid: a whole year of hours; a season gives that season's factor.
    Departs from the source: the first turnover time is the steady one of the first hour.
    Checked against: the published 0.80 and 0.43 of two stations whose typical year is open data; check values,
    airflow section 1, constant weather gives 0.815 per hour.
    NaN in, NaN out.

    References
    ----------
    .. [LBNL5795E] docs/references.md, as implemented in a public source file.

    Examples
    --------
    >>> print(f"{weather_factor(np.full(48, 275.15), np.full(48, 4.0)) * 3600:.3f}")
    0.815
    """
    temperature = np.atleast_1d(np.asarray(outdoor_temperature, dtype=float))
    wind = np.atleast_1d(np.asarray(wind_speed, dtype=float))
    if temperature.size == 0 or temperature.shape != wind.shape:
        raise InputError(f"weather_factor needs two series of one length; given {temperature.size} and {wind.size}")
    leakage_area, floor_area, exponent = 0.074, 185.0, 0.67
    coefficient = leakage_area * np.sqrt(2.0 / TRADE_DENSITY) * 4.0 ** (0.5 - exponent)
    flow = power_law_infiltration(coefficient, exponent, indoor_temperature - temperature, np.maximum(wind, 1.0))
    changes = np.asarray(flow) * 3600.0 / (REFERENCE_HEIGHT * floor_area)  # per hour, the step of the method
    kept = np.exp(-changes)
    turnover = 1.0 / changes[0]
    total = 0.0
    for change, share in zip(changes, kept, strict=True):
        turnover = (1.0 - share) / change + turnover * share
        total += turnover
    mean_turnover = total / changes.size * 3600.0
    return float(floor_area / leakage_area / (1000.0 * mean_turnover))
