"""Electric power of fans: by efficiency, as found in homes, after flow or static has changed."""

from __future__ import annotations

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.guards import require_not_negative
from airtally.physics.ranges import DefaultRange

_PER_CFM = 60.0 / 0.3048**3
SPLIT_CAPACITOR_EXPONENT = 0.56
"""Power of a split-capacitor blower over flow, both against clean: exponent. [-]; from the pairs of LBNL6144E, read"""
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


def split_capacitor_power(
    power: Number, flow_ratio: Number, power_exponent: Number = SPLIT_CAPACITOR_EXPONENT
) -> Number:
    r"""Return what a split-capacitor blower draws after something in line has lowered its flow.

    .. math:: P_2 = P_1 (Q_2/Q_1)^k

    Parameters
    ----------
    power : float or array
        Electric power at the first flow, P1. [W]
    flow_ratio : float or array
        New flow over first flow, Q2/Q1. [-]
    power_exponent : float or array, optional
        k. [-]

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
    changed: Number = power * flow_ratio**power_exponent
    return changed


def constant_flow_power(power: Number, pressure_ratio: Number, power_exponent: Number = 1.0) -> Number:
    r"""Return what a blower draws that holds its flow, after the static pressure has changed.

    .. math:: P_2 = P_1 (p_2/p_1)^k

    Parameters
    ----------
    power : float or array
        Electric power at the first static pressure, P1. [W]
    pressure_ratio : float or array
        New total external static pressure over the first, p2/p1. [-]
    power_exponent : float or array, optional
        k; 1 is one overall efficiency, less is one that grows with the static. [-]

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
    Valid: up to the motor's limit, beyond which the flow falls; with k = 1 overall efficiency does not change.
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
    changed: Number = power * pressure_ratio**power_exponent
    return changed
