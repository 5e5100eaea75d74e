"""Measuring in a duct: where a traverse may stand, how long to purge, what to discard."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.guards import require_not_negative

TRAVERSE_DIAMETERS = 7.5
"""Straight duct wanted upstream of a traverse, in diameters. [-]; UFGS15951, read"""


def purge_time(volume: Number, flow: Number) -> Number:
    r"""Return how long a flow needs to push one volume out.

    .. math:: t = V / Q

    Parameters
    ----------
    volume : float or array
        Volume of duct or tube, V. [m3]
    flow : float or array
        Volume flow, Q. [m3/s]

    Returns
    -------
    duration : float or array
        Time of one purge volume. [s]

    Raises
    ------
    InputError
        If a flow is not above zero.

    Notes
    -----
    Valid: plug flow; three volumes are a usual margin.
    Departs from the source: not at all.
    Checked against: check values, airflow section 8.
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{purge_time(0.0989, 0.118):.2f} s")
    0.84 s
    """
    require_positive(flow=flow)
    return volume / flow


def discard_time(purge_duration: Number, sensor_time_constant: Number, fan_start: Number = 0.0) -> Number:
    r"""Return how long after the fan starts a duct sensor's reading is not yet of the air it should show.

    .. math:: t = \max(3 \, t_p, \; 3 \, \tau, \; t_f)

    Parameters
    ----------
    purge_duration : float or array
        Time of one purge volume, see purge_time, t_p. [s]
    sensor_time_constant : float or array
        Time in which the sensor closes 63 % of a step, tau. [s]
    fan_start : float or array, optional
        Time the fan needs to its full speed, t_f. [s]

    Returns
    -------
    duration : float or array
        Time to set readings aside, t. [s]

    Raises
    ------
    InputError
        If a time is below zero.

    Notes
    -----
    Valid: plug flow and a sensor of first order: 5 % of the step is then left.
    Departs from the source: not at all.
    Checked against: check values, airflow section 8: with a 60 s sensor the sensor dominates; from memory.
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{discard_time(0.84, 60.0, 10.0):.0f} s")
    180 s
    """
    require_not_negative(purge_duration=purge_duration, sensor_time_constant=sensor_time_constant, fan_start=fan_start)
    slowest: Number = np.maximum(3.0 * np.maximum(purge_duration, sensor_time_constant), fan_start)
    return slowest


def traverse_distance(diameter: Number, diameters: float = TRAVERSE_DIAMETERS) -> Number:
    r"""Return how far after a disturbance a flow should be measured.

    Parameters
    ----------
    diameter : float or array
        Inside or equivalent diameter. [m]
    diameters : float, optional
        Straight run wanted, in diameters. [-]

    Returns
    -------
    length : float or array
        Straight duct between disturbance and measuring plane. [m]

    Notes
    -----
    Valid: pitot traverses; lists differ between 7.5 and 8 diameters.
    Departs from the source: not at all.
    Checked against: check values, airflow section 8 (5 ft at 8 in).
    NaN in, NaN out.

    References
    ----------
    .. [UFGS15951] docs/references.md, read.

    Examples
    --------
    >>> print(f"{traverse_distance(0.2032):.2f} m")
    1.52 m
    """
    return diameters * diameter
