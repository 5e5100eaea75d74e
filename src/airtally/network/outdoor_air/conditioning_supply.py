"""Supply or make-up air with which a house stays above a pressure, beside what ventilation asks for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from airtally.errors import Problem, require_positive
from airtally.estimates import Basis, Estimate, Missing
from airtally.network.conditioning_root import crossing
from airtally.network.home.house_pressure import CLOSED_FORM_SPREAD, NamedFlow
from airtally.network.spread import default, spread, total
from airtally.physics.leaks.power_law import DEFAULT_LEAKAGE_EXPONENT, leakage_coefficient, leakage_flow

FORMULA = default(
    1.0, 1.0 - CLOSED_FORM_SPREAD, 1.0 + CLOSED_FORM_SPREAD, "-", "one-zone formula, +-50 %: common practice, no source"
)
"""Pressure of the house over what the one-zone power law says. [-]"""


def supply_flow_for_pressure(
    unbalanced_flow: float, pressure_limit: float, flow_at_50: float, exponent: float = DEFAULT_LEAKAGE_EXPONENT
) -> float:
    r"""Return the supply air with which a house stays at or above a pressure, by the one-zone power law.

    .. math:: Q_s = \max(0, \; -Q_u + \mathrm{sign}(p) \, Q_{50} (|p| / 50)^n)

    Parameters
    ----------
    unbalanced_flow : float
        Supplied less exhausted as the house is, negative under exhausts, Q_u. [m3/s]
    pressure_limit : float
        House minus outdoors not to fall below, signed as printed, p; a change from the baseline. [Pa]
    flow_at_50, exponent : float
        Envelope leakage at 50 Pa [m3/s] and its exponent, Q_50 and n [-].

    Raises
    ------
    InputError
        If leakage or exponent is not above zero.

    Notes
    -----
    Valid: still air, doors open; the baseline of stack and wind comes on top.
    Checked against: worked example E11 (300 cfm at CFM50 1340 make 5 Pa: nothing more is wanted).
    """
    require_positive(flow_at_50=flow_at_50, exponent=exponent)
    through_leaks = float(leakage_flow(leakage_coefficient(flow_at_50, 50.0, exponent), pressure_limit, exponent))
    return max(0.0, through_leaks - unbalanced_flow)


def supply_to_hold(
    flows: tuple[NamedFlow, ...],
    pressure_limit: float,
    flow_at_50: Estimate,
    exponent: Estimate,
    *,
    baseline: Estimate | None = None,
) -> Estimate:
    """Return the supply air that holds a house above a pressure while something runs, closed form. [m3/s]

    Parameters
    ----------
    flows : tuple of NamedFlow
        What runs, positive into the house; nothing for the house at rest. [m3/s]
    pressure_limit : float
        Not to fall below, signed as printed. [Pa]
    flow_at_50, exponent : Estimate
        Envelope leakage at 50 Pa [m3/s] and its exponent [-].
    baseline : Estimate, optional
        Stack and wind at the place that is to be held; without it the limit is a change from the baseline. [Pa]

    Notes
    -----
    The doubt about the one-zone formula is carried as a factor on its pressure; low and high end of the answer are
    what serves a kind and an unkind house.
    """
    still = default(0.0, 0.0, 0.0, "m3/s", "nothing runs")
    unbalanced = total(tuple(one.flow for one in flows) or (still,), unit="m3/s", source="what runs")
    rest = baseline or default(0.0, 0.0, 0.0, "Pa", "change from the baseline")

    def needed(running: float, leakage: float, n: float, factor: float, still_pressure: float) -> float:
        return supply_flow_for_pressure(running, (pressure_limit - still_pressure) / factor, leakage, n)

    names = ", ".join(one.name for one in flows) or "nothing running"
    return spread(
        needed, unbalanced, flow_at_50, exponent, FORMULA, rest, unit="m3/s",
        source=f"supply air that holds {pressure_limit:g} Pa with {names}; {FORMULA.source}; {rest.source}",
    )  # fmt: skip


def supply_with_network(
    pressure_of: Callable[[float], Estimate], pressure_limit: float, *, most: float, where: str = "house"
) -> tuple[Estimate | None, tuple[Problem, ...]]:
    """Return the supply air that holds a pressure in a solved network, None with a Problem if none up to ``most`` does.

    Parameters
    ----------
    pressure_of : callable
        From a supply flow [m3/s] to the pressure at the place that is held [Pa]; it must not fall as the flow grows.
    pressure_limit : float
        Not to fall below, signed as printed. [Pa]
    most : float
        Largest supply flow that is tried. [m3/s]
    where : str
        Named in the Problem.

    Raises
    ------
    InputError
        If ``most`` is not above zero.

    Notes
    -----
    The middle is solved at the middle pressure, the high end at the low end of the pressure and the other way round;
    an end that even ``most`` does not hold stands at ``most``.
    """
    require_positive(most=most)
    ends = [
        _flow_for(lambda flow, pick=pick: pick(pressure_of(flow)) - pressure_limit, most)  # type: ignore[misc]
        for pick in (lambda one: one.value, lambda one: one.high, lambda one: one.low)
    ]
    if ends[0] is None:
        reached = pressure_of(most)
        return None, (
            Problem(
                code="network-supply-cannot-hold",
                where=where,
                found=f"{reached.value:.1f} Pa with {most * 3600:.0f} m3/h of supply air",
                wanted=f"{pressure_limit:g} Pa",
                remedy="Lower the exhaust, or look for a shut door or a leak between fan and room.",
            ),
        )
    value, low, high = (most if end is None else end for end in ends)
    source = f"supply air that holds {pressure_limit:g} Pa at {where}, solved network"
    if ends[2] is None:
        source += "; at the low end of the pressure even the largest flow tried does not"
    held = Estimate(
        value=value, low=min(low, value), high=max(high, value), unit="m3/s", basis=Basis.COMPUTED, source=source
    )
    return held, ()


def _flow_for(excess: Callable[[float], float], most: float) -> float | None:
    if excess(0.0) >= 0.0:
        return 0.0
    if excess(most) < 0.0:
        return None
    return crossing(excess, 0.0, most, 1e-7)


class Governs(StrEnum):
    """Which need sets the flow."""

    PRESSURE = "pressure of the house"
    VENTILATION = "ventilation"
    NEITHER = "neither: nothing is lacking"


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyBalance:
    """Supply air for the pressure and for ventilation beside each other.

    Attributes
    ----------
    for_pressure, for_ventilation : Estimate or Missing
        What each asks for. [m3/s]
    flow : Estimate or Missing
        The larger of the known ones. [m3/s]
    governs : Governs
        Which it is, by the middle values.
    surplus : Estimate or Missing
        Flow over what ventilation lacks: air that is conditioned for the sake of the pressure only. [m3/s]
    """

    for_pressure: Estimate | Missing
    for_ventilation: Estimate | Missing
    flow: Estimate | Missing
    governs: Governs
    surplus: Estimate | Missing


def supply_balance(for_pressure: Estimate | Missing, for_ventilation: Estimate | Missing) -> SupplyBalance:
    """Return which need sets the flow of a supply fan: the pressure to be held or the ventilation that is lacking.

    Parameters
    ----------
    for_pressure : Estimate or Missing
        From :func:`supply_to_hold` or :func:`supply_with_network`. [m3/s]
    for_ventilation : Estimate or Missing
        ``lacking`` of :class:`airtally.network.outdoor_air.ventilation_need.VentilationNeed`; negative where there is enough. [m3/s]
    """
    known = [one for one in (for_pressure, for_ventilation) if isinstance(one, Estimate)]
    if not known:
        return SupplyBalance(
            for_pressure=for_pressure, for_ventilation=for_ventilation, flow=Missing.UNKNOWN, governs=Governs.NEITHER,
            surplus=Missing.UNKNOWN,
        )  # fmt: skip
    flow = spread(lambda *needs: max(0.0, *needs), *known, unit="m3/s", source="the larger of the needs that are known")
    governs = Governs.NEITHER
    if flow.value > 0.0:
        is_pressure = isinstance(for_pressure, Estimate) and for_pressure.value == flow.value
        governs = Governs.PRESSURE if is_pressure else Governs.VENTILATION
    surplus: Estimate | Missing = Missing.UNKNOWN
    if isinstance(for_pressure, Estimate) and isinstance(for_ventilation, Estimate):
        surplus = spread(
            lambda press, air: max(0.0, press, air) - max(0.0, air), for_pressure, for_ventilation, unit="m3/s",
            source="supply air over what ventilation lacks",
        )  # fmt: skip
    return SupplyBalance(
        for_pressure=for_pressure, for_ventilation=for_ventilation, flow=flow, governs=governs, surplus=surplus
    )
