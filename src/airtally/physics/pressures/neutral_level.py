"""Neutral level: the height at which inside and outside pressure are equal."""

from __future__ import annotations

from airtally.arrays import Number
from airtally.errors import require_positive


def neutral_level_orifices(
    low_area: Number, high_area: Number, outdoor_temperature: Number, indoor_temperature: Number
) -> Number:
    r"""Return where between two openings the pressure inside equals that outside.

    .. math:: z/h = 1 / [1 + (A_1/A_2)^2 \, T_i/T_o]

    Parameters
    ----------
    low_area : float or array
        Area of the lower opening, A1. [m2]
    high_area : float or array
        Area of the upper opening, A2. [m2]
    outdoor_temperature : float or array
        Absolute outdoor temperature, T_o. [K]
    indoor_temperature : float or array
        Absolute indoor temperature, T_i. [K]

    Returns
    -------
    neutral_fraction : float or array
        Height of the neutral level above the lower opening over the height between the two. [-]

    Raises
    ------
    InputError
        If an area or a temperature is not above zero.

    Notes
    -----
    Valid: indoors warmer than outdoors, two sharp openings alike in discharge coefficient.
    Departs from the source: not at all.
    Checked against: check values, airflow section 11, E4.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 16, from memory; derived from the mass balance.

    Examples
    --------
    >>> print(f"{5.0 * neutral_level_orifices(0.02, 0.02, 273.15, 293.15):.3f} m")
    2.412 m
    """
    require_positive(
        low_area=low_area,
        high_area=high_area,
        outdoor_temperature=outdoor_temperature,
        indoor_temperature=indoor_temperature,
    )
    return 1.0 / (1.0 + (low_area / high_area) ** 2 * indoor_temperature / outdoor_temperature)


def neutral_level_leaks(low_coefficient: Number, high_coefficient: Number, leakage_exponent: Number) -> Number:
    r"""Return where between two leaks the pressure inside equals that outside.

    .. math:: z/h = 1 / [1 + (C_1/C_2)^{1/n}]

    Parameters
    ----------
    low_coefficient : float or array
        Flow of the lower leak at 1 Pa, C1. [m3/(s Pa^n)]
    high_coefficient : float or array
        Flow of the upper leak at 1 Pa, C2. [m3/(s Pa^n)]
    leakage_exponent : float or array
        Exponent that both share, n. [-]

    Returns
    -------
    neutral_fraction : float or array
        Height of the neutral level above the lower leak over the height between the two. [-]

    Raises
    ------
    InputError
        If a coefficient or an exponent is not above zero.

    Notes
    -----
    Valid: volume flows balanced, so the small difference in density is left out.
    Departs from the source: not at all.
    Checked against: symmetry, and neutral_level_orifices at n = 0.5 and equal temperatures.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 16; derived from the volume balance.

    Examples
    --------
    >>> print(f"{neutral_level_leaks(1.0, 1.0, 0.65):.2f}")
    0.50
    """
    require_positive(
        low_coefficient=low_coefficient, high_coefficient=high_coefficient, leakage_exponent=leakage_exponent
    )
    fraction: Number = 1.0 / (1.0 + (low_coefficient / high_coefficient) ** (1.0 / leakage_exponent))
    return fraction
