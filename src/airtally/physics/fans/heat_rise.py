"""Airflow of a heating fan from its temperature rise, and the other way round."""

from __future__ import annotations

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.constants import HEAT_CAPACITY


def flow_by_heat_rise(
    heat_output: Number, temperature_rise: Number, air_density: Number, heat_capacity: Number = HEAT_CAPACITY
) -> Number:
    r"""Return the airflow that a known heat warms by a measured temperature rise.

    .. math:: Q = H / (\rho \, c_p \, \Delta T)

    Parameters
    ----------
    heat_output : float or array
        Heat given to the air (input times efficiency), H. [W]
    temperature_rise : float or array
        Supply minus return temperature, dT. [K]
    air_density : float or array
        Density where the flow is wanted: lower at altitude, rho. [kg/m3]
    heat_capacity : float or array, optional
        Heat capacity of the air, c_p. [J/(kg K)]

    Returns
    -------
    flow : float or array
        Volume flow at that density, Q. [m3/s]

    Raises
    ------
    InputError
        If a rise, density or heat capacity is not above zero.

    Notes
    -----
    Valid: steady state and a supply probe out of sight of the heat exchanger; else the rise reads too high.
    Departs from the source: the trade's 1.08 is written out, so that altitude enters.
    Checked against: 1.08 = 60 x 0.075 x 0.24, check values, airflow section 7.
    NaN in, NaN out.

    References
    ----------
    .. [HeatRise] docs/references.md, common practice.

    Examples
    --------
    >>> print(f"{flow_by_heat_rise(17584.0, 30.86, 1.2014):.3f}")
    0.472
    """
    require_positive(temperature_rise=temperature_rise, air_density=air_density, heat_capacity=heat_capacity)
    return heat_output / (air_density * heat_capacity * temperature_rise)


def temperature_rise_by_flow(
    heat_output: Number, flow: Number, air_density: Number, heat_capacity: Number = HEAT_CAPACITY
) -> Number:
    r"""Return how much a known heat warms an airflow.

    .. math:: \Delta T = H / (\rho \, c_p \, Q)

    Parameters
    ----------
    heat_output : float or array
        Heat given to the air, the blower's own watts among it, H. [W]
    flow : float or array
        Volume flow at the density given, Q. [m3/s]
    air_density : float or array
        Density of the air where the flow is meant: lower at altitude, rho. [kg/m3]
    heat_capacity : float or array, optional
        Heat capacity of the air, c_p. [J/(kg K)]

    Returns
    -------
    temperature_rise : float or array
        Supply minus return temperature, dT. [K]

    Raises
    ------
    InputError
        If a flow, density or heat capacity is not above zero.

    Notes
    -----
    Valid: steady state.
    Departs from the source: the trade's 1.08 is written out, so that altitude enters.
    Checked against: 1.08 = 60 x 0.075 x 0.24, check values, airflow section 7; flow_by_heat_rise backwards.
    NaN in, NaN out.

    References
    ----------
    .. [HeatRise] docs/references.md, common practice.

    Examples
    --------
    >>> print(f"{temperature_rise_by_flow(17584.0, 0.472, 1.2014):.1f} K")
    30.9 K
    """
    require_positive(flow=flow, air_density=air_density, heat_capacity=heat_capacity)
    return heat_output / (air_density * heat_capacity * flow)
