"""Where the blower's pressure goes: the static-pressure budget from gauge readings."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.errors import Problem
from airtally.estimates import Estimate, Missing
from airtally.network.spread import spread, total
from airtally.visits.parts import HandlerMode, Reading, Visit


@dataclass(frozen=True, slots=True, kw_only=True)
class StaticPart:
    """One part of the total external static pressure. ``pressure`` [Pa] or why it is not known."""

    name: str
    pressure: Estimate | Missing
    is_measured: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StaticBudget:
    """The total external static pressure at one blower speed and the parts it is spent on.

    Attributes
    ----------
    mode : HandlerMode
        Blower speed.
    total : Estimate or Missing
        TESP as measured, else return plus supply static. [Pa]
    parts : tuple of StaticPart
        Filter, return ducts, coil, supply ducts; or filter, coil and the rest where the two sides were not measured.
    airflow : Estimate or Missing
        Flow at that point. [m3/s]
    rated : Estimate or Missing
        Highest external static on the plate. [Pa]
    excess : Estimate or None
        Total over rated, minus one. [-]
    problems : tuple of Problem
        Readings that contradict each other, with the size of the conflict.
    """

    mode: HandlerMode
    total: Estimate | Missing
    parts: tuple[StaticPart, ...]
    airflow: Estimate | Missing
    rated: Estimate | Missing
    excess: Estimate | None
    problems: tuple[Problem, ...] = ()


def static_budget(visit: Visit, mode: HandlerMode = HandlerMode.HEATING) -> StaticBudget:
    """Return the static-pressure budget of a visit at one blower speed.

    Return static is taken between filter and blower, supply static before the coil, so that filter and return
    ducts share the one, coil and supply ducts the other (common practice for a furnace with its coil outside;
    no source). A part that was not measured stays missing; nothing is invented.
    """
    get = {key: _at(visit, key, mode) for key in ("tesp", "return_static", "supply_static", "filter_drop", "coil_drop")}
    sides = get["return_static"], get["supply_static"]
    whole = get["tesp"]
    problems: tuple[Problem, ...] = ()
    if isinstance(sides[0], Estimate) and isinstance(sides[1], Estimate):
        added = total((sides[0], sides[1]), unit="Pa", source="return plus supply static")
        if isinstance(whole, Estimate):
            problems = _conflict(visit, "tesp", whole, added)
        else:
            whole = added
    parts = _parts(whole, get)
    rated = _at(visit, "rated_static", None)
    excess = None
    if isinstance(whole, Estimate) and isinstance(rated, Estimate):
        excess = spread(lambda t, r: t / r - 1.0, whole, rated, unit="-", source="total over rated external static")
    for part in parts:
        if isinstance(part.pressure, Estimate) and part.pressure.high < 0.0:
            problems += (_negative_part(visit, part),)
    return StaticBudget(
        mode=mode, total=whole, parts=parts, airflow=_at(visit, "airflow", mode), rated=rated, excess=excess,
        problems=problems,
    )  # fmt: skip


def _parts(whole: Estimate | Missing, get: dict[str, Estimate | Missing]) -> tuple[StaticPart, ...]:
    filter_part = StaticPart(name="filter", pressure=get["filter_drop"], is_measured=True)
    coil_part = StaticPart(name="coil", pressure=get["coil_drop"], is_measured=True)
    back, front = get["return_static"], get["supply_static"]
    if isinstance(back, Estimate) and isinstance(front, Estimate):
        return (
            filter_part,
            _rest("return ducts", back, (get["filter_drop"],)),
            coil_part,
            _rest("supply ducts", front, (get["coil_drop"],)),
        )
    return filter_part, coil_part, _rest("ducts and the rest", whole, (get["filter_drop"], get["coil_drop"]))


def _rest(name: str, whole: Estimate | Missing, taken: tuple[Estimate | Missing, ...]) -> StaticPart:
    """Return what is left of a pressure; with a part unmeasured the name says what it still holds."""
    known = [one for one in taken if isinstance(one, Estimate)]
    if not isinstance(whole, Estimate):
        return StaticPart(name=name, pressure=whole, is_measured=False)
    if len(known) < len(taken):
        name = f"{name}, unmeasured parts included"
    left = spread(lambda all_of_it, *some: all_of_it - sum(some), whole, *known, unit="Pa", source="what is left over")
    return StaticPart(name=name, pressure=left, is_measured=False)


def _at(visit: Visit, key: str, mode: HandlerMode | None) -> Estimate | Missing:
    """Return the last reading of a key at a blower speed; a reading at unknown speed does not count."""
    found: list[Reading] = [r for r in visit.find(key) if mode is None or r.state.air_handler is mode]
    measured = [r for r in found if r.estimate is not None]
    if measured:
        return measured[-1].value
    return found[-1].value if found else Missing.NOT_MEASURED


def _conflict(visit: Visit, key: str, first: Estimate, second: Estimate) -> tuple[Problem, ...]:
    if first.meets(second):
        return ()
    return (
        Problem(
            code="network-statics-disagree",
            where=f"visit {visit.id}, {key}",
            found=f"{key} {first.value:.0f} Pa, but return plus supply static make {second.value:.0f} Pa: "
            f"{abs(first.value - second.value):.0f} Pa apart, more than both gauges explain",
            wanted="a total that is the sum of its two sides",
            remedy="Measure the three again at one blower speed, probes at the equipment boundary.",
        ),
    )


def _negative_part(visit: Visit, part: StaticPart) -> Problem:
    size = part.pressure.value if isinstance(part.pressure, Estimate) else 0.0
    return Problem(
        code="network-statics-disagree",
        where=f"visit {visit.id}, {part.name}",
        found=f"the measured parts exceed their total by {-size:.0f} Pa",
        wanted="parts that add up to no more than the total",
        remedy="Measure again with the filter in place and the fan at one speed.",
    )
