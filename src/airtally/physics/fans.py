"""Fans: affinity, power, operating point with added resistance, airflow by heat rise, face velocity."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.air import HEAT_CAPACITY
from airtally.physics.guards import require_not_negative
from airtally.physics.ranges import DefaultRange

_PER_CFM = 60.0 / 0.3048**3
SPLIT_CAPACITOR_EXPONENT = 0.56
"""Power of a split-capacitor blower over flow, both against clean: exponent. [-]; from the pairs of LBNL6144E, read"""
STANDARD_AIR_DENSITY = 0.075 * 0.45359237 / 0.3048**3
"""Density that a 'standard' cubic foot has, 0.075 lb/ft3. [kg/m3], exact by definition"""
FIELD_SPECIFIC_POWER = {
    "split capacitor": DefaultRange(
        low=0.39 * _PER_CFM,
        value=0.5 * _PER_CFM,
        high=0.59 * _PER_CFM,
        unit="W s/m3",
        source="LBNL-Blower, 10 to 15 % overall at 0.5 inH2O, read; 0.5 W/cfm from memory",
    ),
    "electronically commutated": DefaultRange(
        low=0.15 * _PER_CFM,
        value=0.35 * _PER_CFM,
        high=0.50 * _PER_CFM,
        unit="W s/m3",
        source="HomeEnergyPros, 2 to 6.5 cfm per watt in 55 systems, read; 0.3 to 0.4 W/cfm from memory",
    ),
}
"""Electric power per flow of furnace blowers as found, by motor; a rating or a reading goes before it."""


def affinity_flow(flow: Number, speed_ratio: Number) -> Number:
    r"""Return a fan's flow at another speed in the same system.

    .. math:: Q_2 = Q_1 \, (N_2/N_1)

    Parameters
    ----------
    flow : float or array
        Volume flow at the first speed, Q1. [m3/s]
    speed_ratio : float or array
        New speed over old, N2/N1. [-]

    Returns
    -------
    flow : float or array
        Volume flow at the new speed. [m3/s]

    Notes
    -----
    Valid: a system whose pressure goes with the square of the flow; a media filter moves it by a few percent.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3 (80 % speed).
    NaN in, NaN out.

    References
    ----------
    .. [FanLaws] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{affinity_flow(1.0, 0.8):.2f}")
    0.80
    """
    return flow * speed_ratio


def affinity_pressure(pressure_rise: Number, speed_ratio: Number, density_ratio: Number = 1.0) -> Number:
    r"""Return a fan's pressure at another speed or density in the same system.

    .. math:: p_2 = p_1 \, (N_2/N_1)^2 \, (\rho_2/\rho_1)

    Parameters
    ----------
    pressure_rise : float or array
        Fan pressure at the first speed, p1. [Pa]
    speed_ratio : float or array
        New speed over old. [-]
    density_ratio : float or array, optional
        New air density over old. [-]

    Returns
    -------
    pressure_rise : float or array
        Fan pressure at the new speed and density. [Pa]

    Notes
    -----
    Valid: as affinity_flow.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3 (80 % speed).
    NaN in, NaN out.

    References
    ----------
    .. [FanLaws] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{affinity_pressure(1.0, 0.8):.2f}")
    0.64
    """
    return pressure_rise * speed_ratio**2 * density_ratio


def affinity_power(power: Number, speed_ratio: Number, density_ratio: Number = 1.0) -> Number:
    r"""Return a fan's power at another speed or density in the same system.

    .. math:: P_2 = P_1 \, (N_2/N_1)^3 \, (\rho_2/\rho_1)

    Parameters
    ----------
    power : float or array
        Shaft power at the first speed, P1. [W]
    speed_ratio : float or array
        New speed over old. [-]
    density_ratio : float or array, optional
        New air density over old. [-]

    Returns
    -------
    power : float or array
        Shaft power at the new speed and density. [W]

    Notes
    -----
    Valid: the shaft; motors lose efficiency at low speed, so electric power falls less.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3 (80 % speed).
    NaN in, NaN out.

    References
    ----------
    .. [FanLaws] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{affinity_power(1.0, 0.8):.3f}")
    0.512
    """
    return power * speed_ratio**3 * density_ratio


def fan_power(flow: Number, pressure_rise: Number, efficiency: Number = 1.0) -> Number:
    r"""Return the power that moving air against a pressure takes.

    .. math:: P = Q \, \Delta p / \eta

    Parameters
    ----------
    flow : float or array
        Volume flow, Q. [m3/s]
    pressure_rise : float or array
        Total pressure the fan makes, dp. [Pa]
    efficiency : float or array, optional
        Overall efficiency, fan and motor; 1 gives the power of the air. [-]

    Returns
    -------
    power : float or array
        Power taken, P. [W]

    Raises
    ------
    InputError
        If an efficiency is not above zero.

    Notes
    -----
    Valid: always; furnace blowers in the field reach 0.10 to 0.15 overall.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3; the 2 cfm per watt of LBNL-Blower, read.
    NaN in, NaN out.

    References
    ----------
    .. [LBNL-Blower] docs/references.md.

    Examples
    --------
    >>> print(f"{fan_power(0.5663, 124.5, 0.12):.0f} W")
    588 W
    """
    require_positive(efficiency=efficiency)
    return flow * pressure_rise / efficiency


def specific_fan_power(power: Number, flow: Number) -> Number:
    r"""Return the electric power that a fan takes for each unit of flow.

    .. math:: S = P / Q

    Parameters
    ----------
    power : float or array
        Electric power measured or rated, P. [W]
    flow : float or array
        Volume flow, Q. [m3/s]

    Returns
    -------
    specific_power : float or array
        S; also the pressure over the overall efficiency. [W s/m3]

    Raises
    ------
    InputError
        If a flow is not above zero.

    Notes
    -----
    Valid: always; it is a definition.
    Departs from the source: SI; 0.58 W/cfm is 1229 W s/m3.
    Checked against: HomeEnergyPros, 2 cfm/W is 0.50 W/cfm, read; check values, airflow section 3 (0.49 W/cfm).
    NaN in, NaN out.

    References
    ----------
    .. [HomeEnergyPros] docs/references.md.
    .. [CaliforniaFan] docs/references.md, the limit in these units.

    Examples
    --------
    >>> print(f"{specific_fan_power(600.0, 0.5663):.0f}")
    1060
    """
    require_positive(flow=flow)
    return power / flow


def split_capacitor_power(power: Number, flow_ratio: Number) -> Number:
    r"""Return what a split-capacitor blower draws after something in line has lowered its flow.

    .. math:: P_2 = P_1 (Q_2/Q_1)^{0.56}

    Parameters
    ----------
    power : float or array
        Electric power at the first flow, P1. [W]
    flow_ratio : float or array
        New flow over first flow, Q2/Q1. [-]

    Returns
    -------
    power : float or array
        Electric power at the new flow: it falls, but less than the flow. [W]

    Raises
    ------
    InputError
        If a ratio is below zero.

    Notes
    -----
    Valid: ratios from 0.7 to 1 at one speed tap; further down the power is understated.
    Departs from the source: one exponent through three pairs, which it meets within 1 %.
    Checked against: LBNL6144E, flows 0.93, 0.85, 0.73 and powers 0.96, 0.91, 0.84, read.
    NaN in, NaN out.

    References
    ----------
    .. [LBNL6144E] docs/references.md, pairs as implemented in a public source file.

    Examples
    --------
    >>> print(f"{split_capacitor_power(500.0, 0.85):.0f} W")
    457 W
    """
    require_not_negative(flow_ratio=flow_ratio)
    changed: Number = power * flow_ratio**SPLIT_CAPACITOR_EXPONENT
    return changed


def constant_flow_power(power: Number, pressure_ratio: Number) -> Number:
    r"""Return what a blower draws that holds its flow, after the static pressure has changed.

    .. math:: P_2 = P_1 \, p_2/p_1

    Parameters
    ----------
    power : float or array
        Electric power at the first static pressure, P1. [W]
    pressure_ratio : float or array
        New total external static pressure over the first, p2/p1. [-]

    Returns
    -------
    power : float or array
        Electric power at the new static pressure: it rises. [W]

    Raises
    ------
    InputError
        If a ratio is below zero.

    Notes
    -----
    Valid: up to the motor's limit, beyond which the flow falls; overall efficiency taken as unchanged.
    Departs from the source: the power of air at one flow and one efficiency.
    Checked against: check values, airflow section 3 (0.392 W/cfm at 0.5 inH2O and 15 % is 0.643 at the 0.82 found in
    homes); the sign of LBNL6144E, where a tighter filter raises the power by 10 to 20 %, read.
    NaN in, NaN out.

    References
    ----------
    .. [LBNL-Blower] docs/references.md.
    .. [LBNL6144E] docs/references.md, as implemented in a public source file.

    Examples
    --------
    >>> print(f"{constant_flow_power(250.0, 1.2):.0f} W")
    300 W
    """
    require_not_negative(pressure_ratio=pressure_ratio)
    return power * pressure_ratio


def operating_flow(
    shutoff_pressure: Number,
    fan_droop: Number,
    system_resistance: Number,
    added_resistance: Number = 0.0,
    added_linear_resistance: Number = 0.0,
) -> Number:
    r"""Return the flow at which a fan and its ducts agree, with something added in line.

    The root of :math:`p_0 - a Q^2 = (b + d) Q^2 + c Q`.

    Parameters
    ----------
    shutoff_pressure : float or array
        Fan pressure at no flow, p0. [Pa]
    fan_droop : float or array
        Fall of the fan curve, a. [Pa s2/m6]
    system_resistance : float or array
        Resistance of ducts, coil and filter, b. [Pa s2/m6]
    added_resistance : float or array, optional
        Added resistance that goes with the square of the flow, d. [Pa s2/m6]
    added_linear_resistance : float or array, optional
        Added resistance that goes with the flow, as of a media filter, c. [Pa s/m3]

    Returns
    -------
    flow : float or array
        Volume flow at the operating point. [m3/s]

    Raises
    ------
    InputError
        If a pressure or the sum of droop and resistances is not above zero.

    Notes
    -----
    Valid: a fan curve that is a falling parabola; real curves belong to the network.
    Departs from the source: derived here.
    Checked against: check values, airflow section 4 and section 11 (E9).
    NaN in, NaN out.

    References
    ----------
    .. [FanLaws] docs/references.md.

    Examples
    --------
    >>> print(f"{1200 * operating_flow(1.0, 0.5, 0.5, 0.0, 1.2):.0f}")
    679
    """
    square = fan_droop + system_resistance + added_resistance
    require_positive(shutoff_pressure=shutoff_pressure, droop_and_resistance=square)
    require_not_negative(added_linear_resistance=added_linear_resistance)
    half = 0.5 * added_linear_resistance
    flow: Number = shutoff_pressure / (half + np.sqrt(half**2 + square * shutoff_pressure))
    return flow


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


def standard_flow(flow: Number, air_density: Number) -> Number:
    r"""Return the flow of standard air that carries as much mass as a flow of air at its own density.

    .. math:: Q_s = Q \, \rho / 1.2014

    Parameters
    ----------
    flow : float or array
        Volume flow as it passes, Q. [m3/s]
    air_density : float or array
        Density of that air, rho. [kg/m3]

    Returns
    -------
    flow : float or array
        Flow in standard cubic metres, Q_s. [m3/s]

    Raises
    ------
    InputError
        If a density is not above zero.

    Notes
    -----
    Valid: always; it is a definition. Heat and mass go with it, velocity and fan tables with the actual flow.
    Departs from the source: SI.
    Checked against: check values, airflow section 10: 16.5 % less mass at 1500 m, 0.0623 against 0.075 lb/ft3 at 5000 ft.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md, standard air.

    Examples
    --------
    >>> print(f"{standard_flow(1.0, 1.00487):.3f}")
    0.836
    """
    require_positive(air_density=air_density)
    return flow * air_density / STANDARD_AIR_DENSITY


def face_velocity(flow: Number, area: Number) -> Number:
    r"""Return the speed of air at the face of a filter, a coil or a grille.

    .. math:: v = Q / A

    Parameters
    ----------
    flow : float or array
        Volume flow, Q. [m3/s]
    area : float or array
        Face area, A. [m2]

    Returns
    -------
    velocity : float or array
        Mean face velocity, v. [m/s]

    Raises
    ------
    InputError
        If an area is not above zero.

    Notes
    -----
    Valid: always; the flow through is seldom even.
    Departs from the source: not at all.
    Checked against: check values, airflow sections 3 and 4 (144, 346, 173 fpm).
    NaN in, NaN out.

    References
    ----------
    .. [GBA-Filter] docs/references.md.

    Examples
    --------
    >>> print(f"{face_velocity(0.18878, 0.25806):.3f}")
    0.732
    """
    require_positive(area=area)
    return flow / area
