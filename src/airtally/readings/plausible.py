"""What a reading can be at all, and readings that lie flat at the top of a scale."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Booleans, Floats
from airtally.quantities import Quantity

_PARTICLES = dict.fromkeys((Quantity.PM1, Quantity.PM25, Quantity.PM10), (-5e-09, 0.1))
_COUNTS = {quantity: (0.0, 1e13) for quantity in Quantity if quantity.value.startswith("count_")}
_SWITCHES = dict.fromkeys(
    (Quantity.FAN_STATE, Quantity.BURNER_STATE, Quantity.WINDOW_STATE, Quantity.DOOR_STATE, Quantity.COOKING_STATE),
    (0.0, 3.0),
)
POSSIBLE: dict[Quantity, tuple[float, float]] = {
    **_PARTICLES,
    **_COUNTS,
    **_SWITCHES,
    Quantity.VOC: (0.0, 1e6),
    Quantity.CO2: (150e-6, 0.1),
    Quantity.CO: (-3e-6, 0.02),
    Quantity.NO2: (-50e-9, 50e-6),
    Quantity.TEMPERATURE: (213.15, 353.15),
    Quantity.SPILL_TEMPERATURE: (213.15, 1300.0),
    Quantity.RELATIVE_HUMIDITY: (0.005, 1.05),
    Quantity.PRESSURE_DIFFERENCE: (-2500.0, 2500.0),
    Quantity.FILTER_PRESSURE_DROP: (-100.0, 2500.0),
    Quantity.BAROMETRIC_PRESSURE: (45000.0, 110000.0),
    Quantity.FAN_CURRENT: (-0.5, 200.0),
    Quantity.FAN_POWER: (-50.0, 20000.0),
    Quantity.FAN_FLOW: (-5.0, 20.0),
    Quantity.WIND_SPEED: (0.0, 90.0),
    Quantity.VALVE_FRACTION: (-0.02, 1.02),
    Quantity.OCCUPANTS: (0.0, 1000.0),
}
"""Lowest and highest value that is taken for a reading at all, SI; common practice, no source."""
TOPPED = frozenset({*_PARTICLES, *_COUNTS, Quantity.VOC, Quantity.CO2, Quantity.CO, Quantity.NO2})
"""Quantities whose sensors are known to clip."""
FINEST_SCALE = 100
"""A top below this many steps of the sensor's resolution is not taken for the end of a scale. [-]"""
LONGEST_CHANCE = 4
"""So many readings one after the other on the top are no chance. [-]"""


def impossible(quantity: Quantity, value: Floats) -> Booleans:
    """Return which values lie outside what the quantity can be; value in SI."""
    low, high = POSSIBLE[quantity]
    return np.asarray((value < low) | (value > high), dtype=np.bool_)


def railed(quantity: Quantity, value: Floats) -> Booleans:
    """Return which readings lie flat at the top of the sensor's scale.

    Parameters
    ----------
    quantity : Quantity
        Only particles, gases and VOC are looked at.
    value : float array, shape (readings,)
        Fresh readings in order of time. [SI]

    Notes
    -----
    The highest value is a rail if it stands for at least four readings one after the other, is met more often
    than any other value in the upper half of the scale, and is at least a hundred of the sensor's smallest
    steps, so that rounding does not make it flat. Judgement, no source.
    """
    nothing = np.zeros(value.size, dtype=np.bool_)
    if quantity not in TOPPED or value.size < 20:
        return nothing
    distinct, count = np.unique(value, return_counts=True)
    if distinct.size < 10 or distinct[-1] <= 0.0:
        return nothing
    steps = np.diff(distinct)
    resolution = float(np.quantile(steps[steps > 1e-9 * distinct[-1]], 0.05))
    if distinct[-1] < FINEST_SCALE * resolution:
        return nothing
    on_top = value == distinct[-1]
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on_top, [False]]).astype(np.int8)))
    longest = int((edges[1::2] - edges[::2]).max())
    upper = count[:-1][distinct[:-1] > 0.5 * distinct[-1]]
    if longest < LONGEST_CHANCE or (upper.size and count[-1] < 3 * int(upper.max())):
        return nothing
    return np.asarray(on_top, dtype=np.bool_)
