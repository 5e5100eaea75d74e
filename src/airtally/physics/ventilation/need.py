"""Ventilation that the standards ask for: total rate and fan flow."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.limits.tables import VentilationEdition, ventilation_rate
from airtally.physics.guards import require_fraction

LARGEST_CREDIT_OF_NEW_HOMES = 2.0 / 3.0
"""Share of Qtot that the 2013 edition lets infiltration take off in a new home. [-]; a public source file, read"""


class PrintedUnits(StrEnum):
    """Which printed coefficients of a ventilation standard are meant: the two sets differ by about 1.4 %."""

    INCH_POUND = "inch-pound"
    SI = "SI"


def total_ventilation(
    floor_area: Number,
    bedrooms: Number,
    edition: VentilationEdition = VentilationEdition.E2019,
    printed_units: PrintedUnits = PrintedUnits.INCH_POUND,
) -> Number:
    r"""Return the total ventilation that an edition of the standard asks for.

    .. math:: Q_{tot} = a A_f + b (N_{br} + 1)

    Parameters
    ----------
    floor_area : float or array
        Conditioned floor area, A_f. [m2]
    bedrooms : float or array
        Number of bedrooms, N_br; less than 1 counts as 1. [-]
    edition : VentilationEdition, optional
        Edition whose coefficients apply. [-]
    printed_units : PrintedUnits, optional
        Whose rounding applies; the two differ by about 1.4 %. [-]

    Returns
    -------
    flow : float or array
        Qtot; in the 2010 edition the fan flow itself, its infiltration credit being built in. [m3/s]

    Notes
    -----
    Valid: dwellings; the authority having jurisdiction says which edition holds.
    Departs from the source: not at all.
    Checked against: the table of TX-Mech, read; check values, airflow section 11, E2.
    NaN in, NaN out.

    References
    ----------
    .. [TX-Mech] docs/references.md, table 4.1a.
    .. [ASHRAE62.2-2019] docs/references.md, eq. 4-1.
    .. [ASHRAE62.2-2010] docs/references.md.

    Examples
    --------
    >>> print(f"{total_ventilation(185.806, 3) * 1000:.1f} L/s")
    42.5 L/s
    """
    rate = ventilation_rate(edition)
    if printed_units == PrintedUnits.SI:
        per_area, per_person = rate.per_area_si, rate.per_person_si
    else:
        per_area, per_person = rate.per_area_ip, rate.per_person_ip
    people: Number = np.maximum(bedrooms, 1.0) + 1.0
    return per_area * floor_area + per_person * people


def required_fan_flow(
    total_flow: Number,
    infiltration: Number,
    is_balanced: bool,
    exterior_share: Number = 1.0,
    edition: VentilationEdition = VentilationEdition.E2019,
    is_existing_home: bool = True,
) -> Number:
    r"""Return the fan flow left to provide after the credit for air that comes in by itself.

    .. math:: Q_{fan} = Q_{tot} - \varphi \, Q_{inf} A_{ext}, \quad \varphi = 1 \text{ or } Q_{inf}/Q_{tot}

    Parameters
    ----------
    total_flow : float or array
        Qtot. [m3/s]
    infiltration : float or array
        Effective infiltration, Qinf. [m3/s]
    is_balanced : bool
        Whether supply and exhaust fans match; else the 2019 edition lowers the credit. [-]
    exterior_share : float or array, optional
        Share of the envelope that faces outdoors, A_ext; 1 for a detached house. [-]
    edition : VentilationEdition, optional
        Edition whose credit applies. [-]
    is_existing_home : bool, optional
        Whether the house stood before the work; the 2013 edition caps the credit of a new one at two thirds. [-]

    Returns
    -------
    flow : float or array
        Fan flow to provide, not below zero. [m3/s]

    Raises
    ------
    InputError
        If the total is not above zero or a share lies outside 0 to 1.

    Notes
    -----
    Valid: dwellings; whether editions after 2013 keep its cap for new homes is to be looked up, so it is not applied there.
    Departs from the source: never below zero, phi never above 1; the 2010 edition returns the total, its credit being built in.
    Checked against: check values, airflow section 11, E2.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE62.2-2019] docs/references.md, eqs. 4-1b, 4-2, 4-3 as quoted in a public source file.
    .. [NREL-SWS] docs/references.md, full credit of the 2013 edition and its limit for new homes.

    Examples
    --------
    >>> print(f"{required_fan_flow(90.0, 57.64, False):.1f}")
    53.1
    """
    require_positive(total_flow=total_flow)
    require_fraction(exterior_share=exterior_share)
    credit_rule = ventilation_rate(edition).credit
    credit: Number
    if credit_rule == "built in":
        credit = 0.0 * infiltration * exterior_share
    elif credit_rule == "by balance" and not is_balanced:
        credit = np.minimum(infiltration / total_flow, 1.0) * infiltration * exterior_share
    else:
        credit = infiltration * exterior_share
    if credit_rule == "in full" and not is_existing_home:
        credit = np.minimum(credit, LARGEST_CREDIT_OF_NEW_HOMES * total_flow)
    flow: Number = np.maximum(total_flow - credit, 0.0)
    return flow
