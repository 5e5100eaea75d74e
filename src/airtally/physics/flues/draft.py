"""Chimney draft. Screening only: it clears no appliance and lifts no block."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.constants import DRY_AIR_CONSTANT, GRAVITY, STANDARD_PRESSURE


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
