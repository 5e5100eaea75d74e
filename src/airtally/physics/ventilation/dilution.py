"""Dilution: turnover, equivalent clean air, steady rise of a gas, mixed return air."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats, Number
from airtally.errors import require_positive
from airtally.physics.guards import require_fraction, require_not_negative

CO2_PER_PERSON = 5.2e-6
"""Carbon dioxide breathed out by an adult at rest. [m3/s]; ASTM-D6245, from memory"""


def turnover_time(volume: Number, flow: Number) -> Number:
    r"""Return how long a fan needs to pass a volume once.

    .. math:: \tau = V / Q

    Parameters
    ----------
    volume : float or array
        Volume of house or room, V. [m3]
    flow : float or array
        Volume flow, Q. [m3/s]

    Returns
    -------
    duration : float or array
        tau; 95 % exchanged after three of them. [s]

    Raises
    ------
    InputError
        If a flow is not above zero.

    Notes
    -----
    Valid: mixed air.
    Departs from the source: not at all.
    Checked against: check values, airflow section 9 (13.3 min).
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{turnover_time(453.07, 0.56634) / 60:.1f} min")
    13.3 min
    """
    require_positive(flow=flow)
    return volume / flow


def exchange_time(first_volume: Number, second_volume: Number, exchange_flow: Number) -> Number:
    r"""Return the time constant with which two rooms even out.

    .. math:: \tau = \frac{V_1 V_2}{(V_1 + V_2) Q}

    Parameters
    ----------
    first_volume : float or array
        Volume of one room, V1. [m3]
    second_volume : float or array
        Volume of the other, V2. [m3]
    exchange_flow : float or array
        Flow each way between them, Q. [m3/s]

    Returns
    -------
    duration : float or array
        tau. [s]

    Raises
    ------
    InputError
        If an argument is not above zero.

    Notes
    -----
    Valid: no other exchange and both rooms mixed.
    Departs from the source: derived here.
    Checked against: check values, airflow section 9 (6.67 min).
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{exchange_time(8000.0, 8000.0, 600.0):.2f}")
    6.67
    """
    require_positive(first_volume=first_volume, second_volume=second_volume, exchange_flow=exchange_flow)
    return first_volume * second_volume / ((first_volume + second_volume) * exchange_flow)


def equivalent_clean_air(outdoor_flow: Number, clean_air_rates: Floats) -> Number:
    r"""Return outdoor air and all cleaning together as one flow of clean air.

    .. math:: Q_{eq} = Q_{out} + \sum Q_{c}

    Parameters
    ----------
    outdoor_flow : float or array
        Outdoor air, Q_out. [m3/s]
    clean_air_rates : array
        Clean-air rates of filters and room cleaners, last axis summed, Q_c. [m3/s]

    Returns
    -------
    clean_air_rate : float or array
        Equivalent clean air. [m3/s]

    Notes
    -----
    Valid: particles; outdoor air counts in full only where it is itself clean.
    Departs from the source: not at all.
    Checked against: check values, particles section 2, form from memory.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE241] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{equivalent_clean_air(0.02, np.array([0.05, 0.03])):.2f}")
    0.10
    """
    total: Number = outdoor_flow + np.sum(clean_air_rates, axis=-1)
    return total


def steady_gas_rise(generation: Number, outdoor_flow: Number) -> Number:
    r"""Return how far a gas rises above outdoors in steady state.

    .. math:: \Delta x = G / Q

    Parameters
    ----------
    generation : float or array
        Gas released indoors; CO2_PER_PERSON times people for carbon dioxide, G. [m3/s]
    outdoor_flow : float or array
        Outdoor air, Q. [m3/s]

    Returns
    -------
    mole_fraction : float or array
        Rise above outdoors. [mol/mol]

    Raises
    ------
    InputError
        If a flow is not above zero.

    Notes
    -----
    Valid: several air changes after the people came; CO2 is no overall measure of air quality.
    Departs from the source: not at all.
    Checked against: check values, particles section 6 (693 ppm).
    NaN in, NaN out.

    References
    ----------
    .. [ASTM-D6245] docs/references.md.

    Examples
    --------
    >>> print(f"{steady_gas_rise(5.2e-6, 7.5e-3) * 1e6:.0f} ppm")
    693 ppm
    """
    require_positive(outdoor_flow=outdoor_flow)
    return generation / outdoor_flow


def mixed_return_concentration(leak_fraction: Number, room_concentration: Number, leak_concentration: Number) -> Number:
    r"""Return what the air handler draws in when part of its return air comes through a leak.

    .. math:: C = (1 - L) C_{room} + L C_{leak}

    Parameters
    ----------
    leak_fraction : float or array
        Share of handler flow that comes through the leak, L. [-]
    room_concentration : float or array
        Concentration of the rooms' air. [kg/m3]
    leak_concentration : float or array
        Concentration where the leak draws from. [kg/m3]

    Returns
    -------
    mass_concentration : float or array
        Concentration of the mixed return air. [kg/m3]

    Raises
    ------
    InputError
        If a share lies outside 0 to 1 or a concentration is below zero.

    Notes
    -----
    Valid: steady, mixed before the sensor or filter.
    Departs from the source: derived here.
    Checked against: check values, airflow section 5 and particles section 8 (26).
    NaN in, NaN out.

    References
    ----------
    .. [FSEC138] docs/references.md, measured leak shares.

    Examples
    --------
    >>> print(f"{mixed_return_concentration(0.1, 20.0, 80.0):.0f}")
    26
    """
    require_fraction(leak_fraction=leak_fraction)
    require_not_negative(room_concentration=room_concentration, leak_concentration=leak_concentration)
    return (1.0 - leak_fraction) * room_concentration + leak_fraction * leak_concentration
