"""The operating point of a blower through its measured point, and what an added or removed resistance does to it."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from airtally.errors import InputError, require_positive
from airtally.estimates import Estimate
from airtally.network.spread import default, spread

SHUT_OFF_RATIO = default(
    2.0, 1.4, 4.0, "-", "default: shut-off pressure over the measured total static; no fan table was given"
)
"""A falling quadratic through the measured point; 2 is a fan of 1.0 inH2O shut-off at 0.5 inH2O. [-]

The interval is judgement: 1.4 is a fan near stall, 4 a motor that holds its flow.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistance:
    """Pressure that a change adds at the measured flow [Pa]: a part linear in flow and a part in its square.

    Filters are near linear, ducts and fittings near square (from memory). Negative takes away.
    """

    name: str
    linear: float = 0.0
    square: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """Where fan and system meet: ``flow`` [m3/s], ``static`` [Pa], ``flow_change`` over the measured flow [-]."""

    name: str
    flow: Estimate
    static: Estimate
    flow_change: Estimate
    added_pressure: Estimate
    """What the added resistance takes at the new flow. [Pa]"""
    method: str = "quadratic fan through the measured point"


def flow_ratio(shut_off_ratio: float, linear_share: float, square_share: float) -> float:
    r"""Return the new flow over the measured flow after a resistance was added.

    With the measured static as the unit of pressure and x = Q/Qm, the fan gives r - (r - 1) x^2 and the system
    takes x^2 + a x + b x^2, so

    .. math:: (r + b) x^2 + a x - r = 0

    Parameters
    ----------
    shut_off_ratio : float
        Shut-off pressure over measured static, r; above 1. [-]
    linear_share, square_share : float
        Added resistance at the measured flow over measured static, a and b. [-]

    Returns
    -------
    ratio : float
        x. [-]

    Raises
    ------
    InputError
        If r is not above 1 or the resistance taken away is more than the fan and system hold.

    Notes
    -----
    Valid: near the measured point, one motor speed; a motor that holds its flow loses less (r large).
    Checked against: worked example E9 (analytic).
    """
    require_positive(shut_off_ratio_minus_one=shut_off_ratio - 1.0)
    if shut_off_ratio + square_share <= 0.0:
        raise InputError(f"more resistance is taken away than there is; square share {square_share:g}")
    a, b, r = linear_share, square_share, shut_off_ratio
    return (-a + sqrt(a * a + 4.0 * (r + b) * r)) / (2.0 * (r + b))


def operating_point(
    flow: Estimate, static: Estimate, change: Resistance, shut_off_ratio: Estimate = SHUT_OFF_RATIO
) -> OperatingPoint:
    """Return where a blower with a known point settles when a resistance is added (or, negative, removed).

    Parameters
    ----------
    flow, static : Estimate
        Measured airflow [m3/s] and total external static [Pa] at the same speed.
    change : Resistance
        What is added, by its pressure at the measured flow.
    shut_off_ratio : Estimate, optional
        From a fan table where there is one; the default is stated in the result's source.

    Raises
    ------
    InputError
        As :func:`flow_ratio`.
    """

    def ratio(pressure: float, shut_off: float) -> float:
        return flow_ratio(shut_off, change.linear / pressure, change.square / pressure)

    def new_static(pressure: float, shut_off: float) -> float:
        return pressure * (shut_off - (shut_off - 1.0) * ratio(pressure, shut_off) ** 2)

    def added(pressure: float, shut_off: float) -> float:
        x = ratio(pressure, shut_off)
        return change.linear * x + change.square * x * x

    said = f"{change.name}; fan curve: {shut_off_ratio.source}"
    return OperatingPoint(
        name=change.name,
        flow=spread(lambda q, p, r: q * ratio(p, r), flow, static, shut_off_ratio, unit="m3/s", source=said),
        static=spread(new_static, static, shut_off_ratio, unit="Pa", source=said),
        flow_change=spread(lambda p, r: ratio(p, r) - 1.0, static, shut_off_ratio, unit="-", source=said),
        added_pressure=spread(added, static, shut_off_ratio, unit="Pa", source=said),
    )
