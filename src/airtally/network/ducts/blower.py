"""The operating point of a blower through its measured point, and what an added or removed resistance does to it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from math import isnan, sqrt

from airtally.errors import InputError, Problem, Severity, require_positive
from airtally.estimates import Basis, Estimate
from airtally.network.ducts.fan_curves import (
    ECM_POWER_EXPONENT,
    HELD_FLOW_DROOP,
    POWER_LIMIT_RATIO,
    PSC_POWER_EXPONENT,
    PSC_SHUT_OFF_RATIO,
    FallingQuadratic,
    FanCurve,
    FanTable,
    HeldFlow,
    MotorKind,
    ScaledCurve,
    TableCurve,
    at_density,
    curve_from_table,
    default_power,
    flow_from_table,
    flow_words,
    limit_pressure_ratio,
    meeting_flow,
    power_ratio,
    speed_through,
)
from airtally.network.spread import default, spread
from airtally.physics.constants import STANDARD_AIR_DENSITY

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
class Blower:
    """What is known of a blower at one speed.

    Attributes
    ----------
    name : str
        The speed: heating, cooling, circulate.
    flow, static : Estimate
        Measured airflow [m3/s] and total external static pressure [Pa].
    motor : MotorKind
        PSC, ECM or unknown.
    power : Estimate or None
        Electric power at that point [W]; None where nobody measured it.
    filter_drop : Estimate or None
        Part of the static that the filter takes, linear in flow. [Pa]
    table : FanTable or None
        The fan table of this speed.
    density : float
        Density of the air in the blower. [kg/m3]
    shut_off_ratio, power_limit : Estimate or None
        Shut-off over measured static [-]; most power of a motor that holds its flow [W]; None takes the default.
    """

    name: str
    flow: Estimate
    static: Estimate
    motor: MotorKind = MotorKind.UNKNOWN
    power: Estimate | None = None
    filter_drop: Estimate | None = None
    table: FanTable | None = None
    density: float = STANDARD_AIR_DENSITY
    shut_off_ratio: Estimate | None = None
    power_limit: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """Where fan and system meet: ``flow`` [m3/s], ``static`` [Pa], ``flow_change`` over the measured flow [-].

    ``power`` [W] is electric power there; ``problems`` what was found about the fan table; ``assumed`` the numbers in
    it that nobody measured, in words.
    """

    name: str
    flow: Estimate
    static: Estimate
    flow_change: Estimate
    added_pressure: Estimate
    """What the added resistance takes at the new flow. [Pa]"""
    method: str = "quadratic fan through the measured point"
    power: Estimate | None = None
    problems: tuple[Problem, ...] = ()
    assumed: tuple[str, ...] = ()


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

    The short door to :func:`settle`: a falling quadratic, motor unknown.

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
    blower = Blower(name=change.name, flow=flow, static=static, shut_off_ratio=shut_off_ratio)
    return replace(_on_quadratic(blower, change), name=change.name)


def settle(blower: Blower, change: Resistance) -> OperatingPoint | Problem:
    """Return where a blower settles when a resistance is added (or, negative, removed): flow, static and power.

    The curve comes from the fan table, carried through the measured point by the fan laws, where there is one; else
    from the motor kind. The system is the measured static, the filter's part linear in flow, the rest square.

    Parameters
    ----------
    blower : Blower
        What is known of it at one speed.
    change : Resistance
        What is added, by its pressure at the measured flow.

    Returns
    -------
    point : OperatingPoint or Problem
        A fatal Problem where the point falls past the fan table's ends or in a span of it that was levelled.

    Raises
    ------
    InputError
        If more resistance is taken away than there is.
    """
    if blower.table is not None:
        curve, problems = curve_from_table(blower.table)
        if curve is not None:
            return _on_table(blower, change, curve, problems)
        point = settle(replace(blower, table=None), change)
        return point if isinstance(point, Problem) else replace(point, problems=problems)
    return _on_held_flow(blower, change) if blower.motor is MotorKind.ECM else _on_quadratic(blower, change)


def flow_by_table(table: FanTable, static: Estimate, density: float = STANDARD_AIR_DENSITY) -> Estimate | Problem:
    """Return the airflow [m3/s] that a fan table gives for a measured static [Pa], a Problem where it gives none.

    ``density`` of the air in the blower [kg/m3]. The table itself is taken to hold within 7 %: blower and cabinet
    as installed differ from the test rig (common practice, no source).
    """
    curve, problems = curve_from_table(table)
    if curve is None:
        return problems[0]
    if isnan(flow_from_table(curve, static.value, density)):
        return _past_table(table.name, f"{static.value:.0f} Pa", curve)

    def flow(pressure: float) -> float:
        found = flow_from_table(curve, pressure, density)
        if not isnan(found):
            return found
        return curve.flows[0] if pressure > static.value else curve.flows[-1]

    return spread(flow, static, unit="m3/s", source=f"{table.source}, by measured static", method_share=0.07)


def _on_quadratic(blower: Blower, change: Resistance) -> OperatingPoint:
    usual = PSC_SHUT_OFF_RATIO if blower.motor is MotorKind.PSC else SHUT_OFF_RATIO
    shut_off = blower.shut_off_ratio or usual
    require_positive(shut_off_ratio_minus_one=shut_off.low - 1.0)

    def curve(flow: float, static: float, ratio: float) -> FanCurve:
        return FallingQuadratic(flow=flow, pressure=static, shut_off_ratio=ratio)

    return _met(blower, change, curve, (shut_off,), "quadratic fan through the measured point", ("fan curve", shut_off))


def _on_held_flow(blower: Blower, change: Resistance) -> OperatingPoint:
    limit = POWER_LIMIT_RATIO
    if blower.power_limit is not None and blower.power is not None:
        limit = spread(
            lambda most, now: most / now,
            blower.power_limit,
            blower.power,
            unit="-",
            source="motor's limit over measured",
        )

    def curve(flow: float, static: float, droop: float, most: float) -> FanCurve:
        at_limit = limit_pressure_ratio(most, ECM_POWER_EXPONENT.value)
        return HeldFlow(flow=flow, pressure=static, droop=droop, limit_ratio=at_limit)

    said = "motor that holds its flow until its power limit"
    return _met(blower, change, curve, (HELD_FLOW_DROOP, limit), said, ("fan curve", HELD_FLOW_DROOP), ("limit", limit))


def _on_table(
    blower: Blower, change: Resistance, printed: TableCurve, problems: tuple[Problem, ...]
) -> OperatingPoint | Problem:
    """Return the point on a fan table that the fan laws carried through the measured point; else its Problem."""
    here = at_density(printed, blower.density / printed.density)

    def curve(flow: float, static: float) -> FanCurve:
        ratio = speed_through(here, flow, static)
        return ScaledCurve(curve=here, speed_ratio=1.0 if isnan(ratio) else ratio)

    ratio = speed_through(here, blower.flow.value, blower.static.value)
    if isnan(ratio):
        return _past_table(printed.name, "the measured flow and static", printed)
    point = _met(blower, change, curve, (), f"{printed.name}, through the measured point by the fan laws")
    on_table = point.flow.value / ratio
    if printed.is_altered_at(on_table) or _meets_twice(printed, blower, change, ratio):
        return _in_altered_part(printed, on_table)
    if not printed.flows[0] <= on_table <= printed.flows[-1]:
        return _past_table(printed.name, flow_words(on_table), printed)
    if abs(ratio - 1.0) > 0.05:
        problems += (_disagrees(blower, printed, ratio),)
    return replace(point, problems=problems)


def _system(change: Resistance, flow: float, static: float, drop: float) -> Callable[[float], float]:
    """Return what ducts, filter and the change take [Pa] at a flow [m3/s]."""
    linear = min(drop, static)

    def taken(through: float) -> float:
        x = through / flow
        return (linear + change.linear) * x + (static - linear + change.square) * x * abs(x)

    return taken


def _met(
    blower: Blower,
    change: Resistance,
    curve: Callable[..., FanCurve],
    shape: tuple[Estimate, ...],
    method: str,
    *named: tuple[str, Estimate],
) -> OperatingPoint:
    """Return where a curve through the measured point meets the changed system, every input carried along."""
    drop = blower.filter_drop or _none("Pa")

    @cache
    def ratio(flow: float, static: float, filter_drop: float, *rest: float) -> float:
        fan, system = curve(flow, static, *rest), _system(change, flow, static, filter_drop)
        found = meeting_flow(fan, system, flow)
        if isnan(found):
            raise InputError(f"more resistance is taken away than there is; square {change.square:g} Pa")
        return found / flow

    def pressure(flow: float, static: float, filter_drop: float, *rest: float) -> float:
        x = ratio(flow, static, filter_drop, *rest)
        return _system(change, flow, static, filter_drop)(x * flow)

    def added(*inputs: float) -> float:
        x = ratio(*inputs)
        return change.linear * x + change.square * x * x

    inputs = (blower.flow, blower.static, drop, *shape)
    said = "; ".join((change.name, *(f"{name}: {one.source}" for name, one in named))) if named else change.name
    flow = spread(lambda q, *rest: q * ratio(q, *rest), *inputs, unit="m3/s", source=said)
    power, assumed = _power(blower, inputs, ratio, pressure, said)
    return OperatingPoint(
        name=blower.name,
        flow=flow,
        static=spread(pressure, *inputs, unit="Pa", source=said),
        flow_change=spread(lambda *all_of: ratio(*all_of) - 1.0, *inputs, unit="-", source=said),
        added_pressure=spread(added, *inputs, unit="Pa", source=said),
        method=method,
        power=power,
        assumed=(*assumed_words(dict(named)), *assumed),
    )


def assumed_words(numbers: Mapping[str, Estimate | None]) -> tuple[str, ...]:
    """Return, for each number that nobody measured, its name and source: what a reader must know was assumed."""
    return tuple(
        f"{name}: {one.source}" for name, one in numbers.items() if one is not None and one.basis is Basis.DEFAULT
    )


def _power(
    blower: Blower,
    inputs: tuple[Estimate, ...],
    ratio: Callable[..., float],
    pressure: Callable[..., float],
    said: str,
) -> tuple[Estimate, tuple[str, ...]]:
    """Return electric power at the new point [W] and what of it was assumed; a motor unknown spans both kinds."""
    count = len(inputs)
    kinds = (blower.motor,) if blower.motor is not MotorKind.UNKNOWN else (MotorKind.PSC, MotorKind.ECM)
    now = blower.power
    per_flow = default_power(blower.motor)
    found = []
    for motor in kinds:
        exponent = ECM_POWER_EXPONENT if motor is MotorKind.ECM else PSC_POWER_EXPONENT

        def watts(*all_of: float, kind: MotorKind = motor) -> float:
            x = ratio(*all_of[:count])
            y = max(pressure(*all_of[:count]), 1e-9) / all_of[1]
            base = all_of[count] if now is not None else all_of[count] * all_of[0]
            return float(base * power_ratio(kind, x, y, all_of[count + 1]))

        found.append(spread(watts, *inputs, now or per_flow, exponent, unit="W", source=said))
    whole = replace(
        found[0],
        value=sum(one.value for one in found) / len(found),
        low=min(one.low for one in found),
        high=max(one.high for one in found),
    )
    named = {"blower power": per_flow if now is None else None, "power at another flow": exponent}
    return whole, assumed_words(named)


def _none(unit: str) -> Estimate:
    return Estimate(value=0.0, low=0.0, high=0.0, unit=unit, basis=Basis.COMPUTED, source="not told apart")


def _meets_twice(printed: TableCurve, blower: Blower, change: Resistance, ratio: float) -> bool:
    """Return whether the system crosses the table as printed more than once: then the blower may settle at either."""
    if not printed.altered:
        return False
    drop = blower.filter_drop.value if blower.filter_drop is not None else 0.0
    system = _system(change, blower.flow.value, blower.static.value, drop)
    scale = ratio**2 * blower.density / printed.density
    over = [
        scale * pressure > system(flow * ratio) for flow, pressure in zip(printed.flows, printed.printed, strict=True)
    ]
    return sum(first != second for first, second in pairwise(over)) > 1


def _in_altered_part(printed: TableCurve, flow: float) -> Problem:
    spans = ", ".join(f"{flow_words(low)} to {flow_words(high)}" for low, high in printed.altered)
    return Problem(
        code="network-fan-point-altered",
        where=f"fan table {printed.name}",
        found=f"an operating point at {flow_words(flow)}, where the table rises with flow: {spans}",
        wanted="a point on the falling part of the table",
        remedy="No answer is given: the blower may settle at more than one flow there. Measure flow and static.",
        severity=Severity.FATAL,
    )


def _past_table(name: str, where: str, curve: TableCurve) -> Problem:
    return Problem(
        code="network-fan-point-outside",
        where=f"fan table {name}",
        found=f"{where}, past the table's ends ({flow_words(curve.flows[0])} to {flow_words(curve.flows[-1])}, "
        f"{curve.pressures[-1]:.0f} to {curve.pressures[0]:.0f} Pa)",
        wanted="a point between its ends, at the speed it is for",
        remedy="Check the speed tap and the pairs; a table is not carried past its ends.",
        severity=Severity.FATAL,
    )


def _disagrees(blower: Blower, printed: TableCurve, ratio: float) -> Problem:
    here = flow_from_table(printed, blower.static.value, blower.density)
    by_flow = (
        "" if isnan(here) else f", where the table gives {flow_words(here)}: {blower.flow.value / here - 1.0:+.0%}"
    )
    return Problem(
        code="network-fan-table-disagrees",
        where=f"fan table {printed.name}, {blower.name}",
        found=f"{flow_words(blower.flow.value)} measured at {blower.static.value:.0f} Pa{by_flow}",
        wanted="a measured point near the table of the same speed",
        remedy=f"The measured point is used, the table moved to it as by {ratio - 1.0:+.0%} speed. Check the tap, the "
        "wheel for dirt and both readings.",
    )
