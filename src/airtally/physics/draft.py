"""Chimney draft. Screening only: it clears no appliance and lifts no block."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.air import DRY_AIR_CONSTANT, GRAVITY, HEAT_CAPACITY, STANDARD_PRESSURE


def theoretical_draft(
    height: Number, outdoor_temperature: Number, flue_temperature: Number, pressure: Number = STANDARD_PRESSURE
) -> Number:
    r"""Return the draft that a column of hot gas would make with no losses.

    .. math:: D = \frac{g H p}{R} \left(\frac1{T_o} - \frac1{T_f}\right)

    Parameters
    ----------
    height : float or array
        Height of the flue above the appliance, H. [m]
    outdoor_temperature : float or array
        Absolute outdoor temperature, T_o. [K]
    flue_temperature : float or array
        Absolute mean temperature of the gas over the height, T_f. [K]
    pressure : float or array, optional
        Absolute air pressure, p; lower at altitude. [Pa]

    Returns
    -------
    draft : float or array
        Suction at the foot of the flue, positive when it draws. [Pa]

    Raises
    ------
    InputError
        If a temperature or the pressure is not above zero.

    Notes
    -----
    Valid: flue gas taken as air, so 1 to 3 % off; losses and wind are not in it. Temperatures must be absolute:
    with Celsius the result is about three times too high.
    Departs from the source: SI, and the source's rounded 0.52 replaced by its physics.
    Checked against: Steam, 100 ft, 60 and 500 F, 0.67 in.w.c., read; check values, airflow section 6.
    NaN in, NaN out.

    References
    ----------
    .. [Steam] docs/references.md, eq. 24 and its example.

    Examples
    --------
    >>> print(f"{theoretical_draft(5.0, 273.15, 473.15):.1f} Pa")
    26.8 Pa
    """
    require_positive(outdoor_temperature=outdoor_temperature, flue_temperature=flue_temperature, pressure=pressure)
    return GRAVITY * height * pressure / DRY_AIR_CONSTANT * (1.0 / outdoor_temperature - 1.0 / flue_temperature)


def cooling_length(
    mass_flow: Number, heat_transfer_coefficient: Number, perimeter: Number, heat_capacity: Number = HEAT_CAPACITY
) -> Number:
    r"""Return the height over which flue gas loses 63 % of its excess temperature through the wall.

    .. math:: L = \dot m c_p / (U P)

    Parameters
    ----------
    mass_flow : float or array
        Mass flow of gas, m. [kg/s]
    heat_transfer_coefficient : float or array
        Heat that passes the wall per inside area and degree, films included, U. [W/(m2 K)]
    perimeter : float or array
        Inside perimeter of the flue, P. [m]
    heat_capacity : float or array, optional
        Heat capacity of the gas, c_p; air's by default, flue gas is up to 8 % above. [J/(kg K)]

    Returns
    -------
    cooling_length : float or array
        L; the longer, the warmer the gas that leaves. [m]

    Raises
    ------
    InputError
        If a flow, coefficient, perimeter or heat capacity is not above zero.

    Notes
    -----
    Valid: steady flow in a wall that has reached its own temperature; while masonry warms up, U is larger.
    Departs from the source: the standard's cooling number is K = H/L.
    Checked against: the duct of check values, airflow section 7, which cools by the same law.
    NaN in, NaN out.

    References
    ----------
    .. [EN13384] docs/references.md, from memory.
    .. [DuctLoss] docs/references.md, derivation read.

    Examples
    --------
    >>> print(f"{cooling_length(0.02, 3.0, 0.48):.1f} m")
    14.0 m
    """
    require_positive(
        mass_flow=mass_flow,
        heat_transfer_coefficient=heat_transfer_coefficient,
        perimeter=perimeter,
        heat_capacity=heat_capacity,
    )
    return mass_flow * heat_capacity / (heat_transfer_coefficient * perimeter)


def flue_temperature_at(
    height: Number, inlet_temperature: Number, ambient_temperature: Number, cooling_length: Number
) -> Number:
    r"""Return how hot the gas still is at a height in the flue.

    .. math:: T(z) = T_a + (T_i - T_a) \, e^{-z/L}

    Parameters
    ----------
    height : float or array
        Height above the flue's inlet, z. [m]
    inlet_temperature : float or array
        Absolute temperature of the gas where it enters, T_i. [K]
    ambient_temperature : float or array
        Absolute temperature around the flue, T_a. [K]
    cooling_length : float or array
        See cooling_length, L. [m]

    Returns
    -------
    temperature : float or array
        Absolute temperature of the gas. [K]

    Raises
    ------
    InputError
        If a temperature or the cooling length is not above zero.

    Notes
    -----
    Valid: as cooling_length; one ambient temperature along the flue.
    Departs from the source: not at all.
    Checked against: check values, airflow section 7 (exit of the 8 in duct, R 1 and R 6).
    NaN in, NaN out.

    References
    ----------
    .. [EN13384] docs/references.md, from memory.
    .. [DuctLoss] docs/references.md, derivation read.

    Examples
    --------
    >>> print(f"{flue_temperature_at(5.0, 473.15, 273.15, 14.0):.1f} K")
    413.1 K
    """
    require_positive(
        inlet_temperature=inlet_temperature, ambient_temperature=ambient_temperature, cooling_length=cooling_length
    )
    temperature: Number = ambient_temperature + (inlet_temperature - ambient_temperature) * np.exp(
        -height / cooling_length
    )
    return temperature


def mean_flue_temperature(
    height: Number, inlet_temperature: Number, ambient_temperature: Number, cooling_length: Number
) -> Number:
    r"""Return the mean temperature of the gas over the height of the flue.

    .. math:: T_m = T_a + (T_i - T_a) \, \frac{1 - e^{-K}}{K}, \quad K = H/L

    Parameters
    ----------
    height : float or array
        Height of the flue above its inlet, H. [m]
    inlet_temperature : float or array
        Absolute temperature of the gas where it enters, T_i. [K]
    ambient_temperature : float or array
        Absolute temperature around the flue, T_a. [K]
    cooling_length : float or array
        See cooling_length, L. [m]

    Returns
    -------
    temperature : float or array
        Absolute mean temperature; it gives the heat through the wall exactly, the draft within 1 %. [K]

    Raises
    ------
    InputError
        If a height, a temperature or the cooling length is not above zero.

    Notes
    -----
    Valid: as cooling_length.
    Departs from the source: not at all.
    Checked against: the heat loss of check values, airflow section 7, divided by surface and resistance.
    NaN in, NaN out.

    References
    ----------
    .. [EN13384] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{mean_flue_temperature(5.0, 473.15, 273.15, 14.0):.1f} K")
    441.3 K
    """
    require_positive(
        height=height,
        inlet_temperature=inlet_temperature,
        ambient_temperature=ambient_temperature,
        cooling_length=cooling_length,
    )
    cooling: Number = height / cooling_length
    mean: Number = ambient_temperature - (inlet_temperature - ambient_temperature) * np.expm1(-cooling) / cooling
    return mean


def cooled_draft(
    height: Number,
    outdoor_temperature: Number,
    inlet_temperature: Number,
    ambient_temperature: Number,
    cooling_length: Number,
    pressure: Number = STANDARD_PRESSURE,
) -> Number:
    r"""Return the draft of a flue whose gas cools on its way up, with no losses.

    .. math:: D = \frac{g p}{R} \left[\frac{H}{T_o} - \int_0^H \frac{dz}{T(z)}\right], \quad
        \int_0^H \frac{dz}{T} = \frac{1}{T_a} \left[H + L \ln \frac{T(H)}{T_i}\right]

    Parameters
    ----------
    height : float or array
        Height of the flue above its inlet, H. [m]
    outdoor_temperature : float or array
        Absolute outdoor temperature, T_o. [K]
    inlet_temperature : float or array
        Absolute temperature of the gas where it enters, T_i. [K]
    ambient_temperature : float or array
        Absolute temperature around the flue, T_a: indoors for an inside chimney, outdoors for an exterior one. [K]
    cooling_length : float or array
        See cooling_length, L. [m]
    pressure : float or array, optional
        Absolute air pressure, p; lower at altitude. [Pa]

    Returns
    -------
    draft : float or array
        Suction at the foot of the flue, positive when it draws. [Pa]

    Raises
    ------
    InputError
        If a temperature, the cooling length or the pressure is not above zero.

    Notes
    -----
    Valid: as theoretical_draft and cooling_length. It is an estimate of what the column would pull, and clears nothing.
    Departs from the source: the column is integrated instead of taken at its mean temperature.
    Checked against: numerical integration; check values, airflow section 11 (E10), reached when nothing cools.
    NaN in, NaN out.

    References
    ----------
    .. [EN13384] docs/references.md, from memory.
    .. [Steam] docs/references.md, eq. 24, the uncooled column.

    Examples
    --------
    >>> print(f"{cooled_draft(5.0, 273.15, 473.15, 273.15, 14.0):.1f} Pa")
    24.1 Pa
    """
    require_positive(
        outdoor_temperature=outdoor_temperature,
        inlet_temperature=inlet_temperature,
        ambient_temperature=ambient_temperature,
        cooling_length=cooling_length,
        pressure=pressure,
    )
    # with T(z) written out, 1 + (T_i/T_a - 1) e^(-z/L) keeps its digits also when hardly anything cools
    excess = inlet_temperature / ambient_temperature - 1.0
    cooled = cooling_length * np.log1p(excess * np.expm1(-height / cooling_length) / (1.0 + excess))
    column: Number = (height + cooled) / ambient_temperature
    return GRAVITY * pressure / DRY_AIR_CONSTANT * (height / outdoor_temperature - column)


def available_draft(draft: Number, flue_losses: Number, house_pressure: Number) -> Number:
    r"""Return what is left of the draft after losses and the suction of the house.

    .. math:: D_a = D - \Delta p_l + p_{house}

    Parameters
    ----------
    draft : float or array
        Theoretical draft, D. [Pa]
    flue_losses : float or array
        Friction and fittings of flue and connector, as a positive number. [Pa]
    house_pressure : float or array
        Appliance room minus outdoors at the level of the appliance, negative under suction. [Pa]

    Returns
    -------
    draft : float or array
        Draft left; at or below zero the flue may reverse. [Pa]

    Notes
    -----
    Valid: as a screening figure; only a reading on the appliance says what it does.
    Departs from the source: signed house pressure.
    Checked against: an LBNL speaker's statement of the sum, read.
    NaN in, NaN out.

    References
    ----------
    .. [LBNL-Draft] docs/references.md.

    Examples
    --------
    >>> print(f"{available_draft(4.3, 0.0, -5.0):.1f} Pa")
    -0.7 Pa
    """
    return draft - flue_losses + house_pressure


def least_gas_vent_draft(outdoor_temperature: Number) -> Number:
    r"""Return the weakest draft that an older audit standard accepts in a gas vent.

    .. math:: p[\mathrm{Pa}] = T[\mathrm{^\circ F}]/40 - 2.75

    Parameters
    ----------
    outdoor_temperature : float or array
        Absolute outdoor temperature, T. [K]

    Returns
    -------
    vent_pressure : float or array
        Pressure in the vent minus that of the room, negative when it draws. [Pa]

    Raises
    ------
    InputError
        If a temperature is not above zero.

    Notes
    -----
    Valid: 10 to 90 F; outside the standard prints constants (-2.5 and -0.5 Pa), which are returned.
    Departs from the source: clipped at both ends as the standard's table is, from memory.
    Checked against: nothing read; from memory, to be looked up in the edition that applies.
    NaN in, NaN out.

    References
    ----------
    .. [BPI2005] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{least_gas_vent_draft(272.039):.2f} Pa")
    -2.00 Pa
    """
    require_positive(outdoor_temperature=outdoor_temperature)
    fahrenheit = outdoor_temperature * 1.8 - 459.67
    limit: Number = np.clip(fahrenheit / 40.0 - 2.75, -2.5, -0.5)
    return limit
