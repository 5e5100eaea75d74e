"""A high-efficiency filter in line against the same on a bypass loop, on this blower, at each speed."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.errors import InputError, Problem
from airtally.estimates import Estimate
from airtally.network.ducts.blower import Blower, OperatingPoint, Resistance, assumed_words, settle
from airtally.network.ducts.hookup import HookupDesign
from airtally.network.ducts.plate import Plate, against_plate
from airtally.network.spread import default, spread, total
from airtally.physics.fans.heat_rise import temperature_rise_by_flow

HEATING, COOLING = "heating", "cooling"
IN_LINE_DROP = default(
    180.0,
    112.1,
    249.1,
    "Pa",
    "default: clean HEPA at its rated flow, 0.45 inH2O (mini-pleat) to 1.0 (limit of the name)",
)
"""The ends were read in public copies, the middle is judgement. [Pa]"""
CLEANER_POWER = default(90.0, 40.0, 180.0, "W", "default: power of a bypass cleaner; judgement")


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterInLine:
    """A filter to put in the whole airflow. ``rated_drop`` [Pa] at ``rated_flow`` [m3/s], linear between; ``efficiency`` [-].

    Several frames side by side: give the flow of all together.
    """

    name: str
    rated_flow: Estimate
    efficiency: Estimate
    rated_drop: Estimate = IN_LINE_DROP


@dataclass(frozen=True, slots=True, kw_only=True)
class AirflowFigures:
    """What one choice makes of one blower speed.

    Attributes
    ----------
    flow : Estimate
        Through the blower. [m3/s]
    flow_change : Estimate
        Over the flow as it is. [-]
    static : Estimate
        Total external static, an in-line filter included. [Pa]
    clean_air : Estimate or None
        While the blower runs, the trunk's own filter not counted; None as it is. [m3/s]
    power : Estimate or None
        Electric, blower and cleaner together. [W]
    heat_rise : Estimate or None
        At the heating speed. [K]
    rise_against_plate : str
        ``within the plate``, ``above the plate``, ``below the plate``, ``cannot be told``, or empty.
    flow_per_capacity : Estimate or None
        Airflow over cooling capacity at the cooling speed. [m3/J]
    """

    flow: Estimate
    flow_change: Estimate
    static: Estimate
    clean_air: Estimate | None
    power: Estimate | None
    heat_rise: Estimate | None = None
    rise_against_plate: str = ""
    flow_per_capacity: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedComparison:
    """One blower speed as it is, with the filter in line, and with the bypass cleaner.

    ``in_line`` or ``bypass`` is a Problem where the fan table gives no point there; ``assumed`` names every number
    in the row that nobody measured; ``cleaner_share_in_line`` is the in-line clean air over the bypass's [-].
    """

    name: str
    as_is: AirflowFigures
    in_line: AirflowFigures | Problem
    bypass: AirflowFigures | Problem
    in_line_over_bypass: Estimate | None
    assumed: tuple[str, ...]


def compare_cleaners(
    blowers: tuple[Blower, ...], in_line: FilterInLine, design: HookupDesign, plate: Plate | None = None
) -> tuple[SpeedComparison, ...]:
    """Return, for each blower speed that the hookup was worked out for, filter in line against bypass.

    Parameters
    ----------
    blowers : tuple of Blower
        One a speed, by the names of the design's states.
    in_line : FilterInLine
        The filter for the whole airflow.
    design : HookupDesign
        The bypass, as designed.
    plate : Plate, optional
        For heat rise and airflow over cooling capacity.

    Raises
    ------
    InputError
        If a blower's speed is no state of the design.

    Notes
    -----
    Valid: filters clean; a filter's pressure linear in flow. Checked against: worked example E9 (679 cfm).
    """
    return tuple(_speed(blower, in_line, design, plate or Plate()) for blower in blowers)


def _speed(blower: Blower, in_line: FilterInLine, design: HookupDesign, plate: Plate) -> SpeedComparison:
    state = next((one for one in design.states if one.name == blower.name), None)
    if state is None:
        raise InputError(f"the hookup has no state {blower.name!r}; it has {', '.join(s.name for s in design.states)}")
    as_is = settle(blower, Resistance(name="as it is"))
    added = spread(lambda drop, rated, q: drop * q / rated, in_line.rated_drop, in_line.rated_flow, blower.flow,
                   unit="Pa", source=in_line.rated_drop.source)  # fmt: skip
    with_filter = _settle_with(blower, in_line.name, added)
    beside = settle(blower, Resistance(name="loop beside the trunk", square=state.stretch_change.value))
    cleaner = design.hookup.cleaner.power or CLEANER_POWER
    now = as_is if isinstance(as_is, OperatingPoint) else None
    inside: AirflowFigures | Problem = with_filter if isinstance(with_filter, Problem) else _figures(
        blower, with_filter, plate, with_filter.power,
        spread(lambda q, eta: q * eta, with_filter.flow, in_line.efficiency, unit="m3/s", source="in line"),
    )  # fmt: skip
    loop: AirflowFigures | Problem = beside if isinstance(beside, Problem) else _figures(
        blower, beside, plate, _sum_power(beside.power, cleaner), state.clean_air
    )  # fmt: skip
    ratio = None
    if isinstance(inside, AirflowFigures) and inside.clean_air is not None and state.clean_air.low > 0.0:
        ratio = spread(lambda a, b: a / b, inside.clean_air, state.clean_air, unit="-", source="in line over bypass")
    assumed = assumed_words(
        {
            "in-line filter": in_line.rated_drop,
            "in-line flow": in_line.rated_flow,
            "in-line efficiency": in_line.efficiency,
            "cleaner's power": cleaner,
            "heat output": plate.heat_output,
        }
    )
    if now is None:
        now = OperatingPoint(
            name=blower.name, flow=blower.flow, static=blower.static, flow_change=_no_change(), power=blower.power,
            added_pressure=_no_change("Pa"), method="as measured",
        )  # fmt: skip
    points = tuple(one for one in (with_filter, now) if isinstance(one, OperatingPoint))
    return SpeedComparison(
        name=blower.name,
        as_is=_figures(blower, _as_measured(blower, now), plate, now.power, None),
        in_line=inside,
        bypass=loop,
        in_line_over_bypass=ratio,
        assumed=tuple(dict.fromkeys((*(word for point in points for word in point.assumed), *assumed))),
    )


def _settle_with(blower: Blower, name: str, added: Estimate) -> OperatingPoint | Problem:
    """Return the blower's point with a filter whose own pressure is unsure: its two ends widen the point's interval."""
    points = [
        settle(blower, Resistance(name=name, linear=pressure)) for pressure in (added.value, added.low, added.high)
    ]
    middle, least, most = points
    if isinstance(middle, Problem):
        return middle
    if isinstance(least, Problem):
        return least
    if isinstance(most, Problem):
        return most

    def widened(of: str) -> Estimate:
        own, other, third = (getattr(point, of) for point in (middle, least, most))
        moves = (other.value - own.value, third.value - own.value)
        low = own.value - ((own.value - own.low) ** 2 + min(*moves, 0.0) ** 2) ** 0.5
        high = own.value + ((own.high - own.value) ** 2 + max(*moves, 0.0) ** 2) ** 0.5
        return Estimate(
            value=own.value, low=low, high=high, unit=own.unit, basis=own.basis, source=own.source, level=own.level
        )

    return OperatingPoint(
        name=name, flow=widened("flow"), static=widened("static"), flow_change=widened("flow_change"),
        added_pressure=widened("added_pressure"), method=middle.method,
        power=widened("power") if middle.power is not None else None,
        problems=middle.problems, assumed=middle.assumed,
    )  # fmt: skip


def _as_measured(blower: Blower, point: OperatingPoint) -> OperatingPoint:
    return OperatingPoint(
        name=point.name, flow=blower.flow, static=blower.static, flow_change=_no_change(), power=point.power,
        added_pressure=_no_change("Pa"), method="as measured", assumed=point.assumed,
    )  # fmt: skip


def _figures(
    blower: Blower, point: OperatingPoint, plate: Plate, power: Estimate | None, clean_air: Estimate | None
) -> AirflowFigures:
    rise, says, per_capacity = None, "", None
    if blower.name == HEATING and plate.heat_output is not None:
        rise = spread(
            lambda heat, q: float(temperature_rise_by_flow(heat, q, blower.density)),
            plate.heat_output, point.flow, unit="K", source="heat output over airflow",
        )  # fmt: skip
        says = against_plate(rise, plate)
    if blower.name == COOLING and plate.cooling_capacity is not None:
        per_capacity = spread(
            lambda q, watts: q / watts, point.flow, plate.cooling_capacity, unit="m3/J", source="airflow over capacity"
        )
    return AirflowFigures(
        flow=point.flow, flow_change=point.flow_change, static=point.static, clean_air=clean_air, power=power,
        heat_rise=rise, rise_against_plate=says, flow_per_capacity=per_capacity,
    )  # fmt: skip


def _sum_power(blower: Estimate | None, cleaner: Estimate) -> Estimate | None:
    return None if blower is None else total((blower, cleaner), unit="W", source="blower and cleaner")


def _no_change(unit: str = "-") -> Estimate:
    return spread(lambda: 0.0, unit=unit, source="as measured")


def comparison_words(rows: tuple[SpeedComparison, ...]) -> tuple[str, ...]:
    """Return sentences that say which numbers of the comparison are assumed, each once, and what was left out."""
    assumed = tuple(dict.fromkeys(word for row in rows for word in row.assumed))
    first = (
        "Every number in this comparison was measured."
        if not assumed
        else f"Assumed, not measured: {'; '.join(assumed)}."
    )
    return (
        first,
        "Both filters are taken as clean; a loaded one takes more pressure. The trunk's own filter is not counted.",
        "In line the whole airflow passes the filter; on the bypass only the loop's share does, and none with the blower off.",
    )
