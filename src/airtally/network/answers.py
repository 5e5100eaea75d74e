"""Everything the network says about a job from survey and gauges alone, gathered for record and pages."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.errors import Problem
from airtally.estimates import Estimate
from airtally.house.parts import House
from airtally.network.ducts.hookup_answer import HookupAnswer, hookup_answer
from airtally.network.home.calibrate import Calibrated, calibrate
from airtally.network.home.from_survey import LATEST
from airtally.network.home.house_network import AirState, Works
from airtally.network.home.house_pressure import HousePressure
from airtally.network.home.pressures import (
    HandlerPoint,
    LeakAir,
    RoomPressure,
    estimate_of,
    handler_points,
    leak_air,
    room_pressures,
    supply_lost,
    worst_cases,
)
from airtally.network.home.statics import StaticBudget, static_budget
from airtally.network.home.works import deep_filter, seal_ducts, together, works_of
from airtally.network.outdoor_air.ventilation_need import VentilationNeed, ventilation_need
from airtally.visits.parts import Visit


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaksAfter:
    """Return leak air by space and supply air lost, as found and after some works. Shares of handler flow [-]."""

    works: str
    leaks: tuple[LeakAir, ...]
    lost: Estimate | None
    house: Estimate
    """House pressure that the air handler makes, doors open. [Pa]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureAnswers:
    """What survey and gauges answer without any log.

    Attributes
    ----------
    calibrated : Calibrated or None
        None where nobody measured or estimated the house's leakage.
    cases : tuple of HousePressure
        Worst cases, deepest first.
    rooms : tuple of RoomPressure
    budget : StaticBudget or None
        As measured at the newest visit that read statics.
    points : tuple of HandlerPoint
        Blower at each speed as found and with works.
    leaks : tuple of LeaksAfter
    hookup : HookupAnswer or None
    ventilation : VentilationNeed
    problems : tuple of Problem
    """

    calibrated: Calibrated | None
    cases: tuple[HousePressure, ...]
    rooms: tuple[RoomPressure, ...]
    budget: StaticBudget | None
    points: tuple[HandlerPoint, ...]
    leaks: tuple[LeaksAfter, ...]
    hookup: HookupAnswer | None
    ventilation: VentilationNeed
    problems: tuple[Problem, ...]


def pressure_answers(house: House, visits: tuple[Visit, ...], time: float = LATEST) -> PressureAnswers:
    """Return every answer that needs no log, for the parts that stand and the readings taken up to a time [s, POSIX UTC]."""
    calibrated = calibrate(house, visits, time)
    cases, problems = worst_cases(house, visits, time, calibrated)
    measured = next((v for v in reversed(visits) if v.find("tesp") or v.find("supply_static")), None)
    budget = static_budget(measured) if measured is not None else None
    hookup = hookup_answer(house, visits, time=time)
    need = ventilation_need(house, visits, time)
    works = named_works(house, calibrated) if calibrated is not None else ()
    return PressureAnswers(
        calibrated=calibrated,
        cases=cases,
        rooms=room_pressures(calibrated) if calibrated is not None else (),
        budget=budget,
        points=handler_points(calibrated, works) if calibrated is not None else (),
        leaks=leaks_after(calibrated, works) if calibrated is not None else (),
        hookup=hookup,
        ventilation=need,
        problems=problems
        + (budget.problems if budget is not None else ())
        + (hookup.problems if hookup is not None else ())
        + need.problems,
    )


def named_works(house: House, calibrated: Calibrated) -> tuple[tuple[str, Works], ...]:
    """Return the works a page asks about: the survey's measures, or the usual ones where it lists none."""
    network = calibrated.network
    if not network.leak_zones:
        return ()
    named = [(measure.name, works_of(network, measure)) for measure in house.measures]
    found = tuple((name, works) for name, works in named if works is not None)
    usual = (
        ("ducts sealed, nothing else", seal_ducts()),
        ("a deep filter, nothing else", deep_filter(network)),
        ("ducts sealed and a deep filter", together(seal_ducts(), deep_filter(network))),
    )
    return found or usual


def leaks_after(calibrated: Calibrated, works: tuple[tuple[str, Works], ...]) -> tuple[LeaksAfter, ...]:
    """Return leak air and dominance as found and after each works that touches ducts."""
    network = calibrated.network
    if not network.leak_zones:
        return ()
    handler = AirState(handler=network.layout.mode_flow[0][0])
    found = []
    for name, one in (("as found", Works()), *works):
        if name != "as found" and not one.duct_leaks:
            continue
        on, off = calibrated.solve((handler, AirState()), one)
        main = network.layout.main
        found.append(
            LeaksAfter(
                works=name,
                leaks=leak_air(calibrated, one),
                lost=supply_lost(calibrated, one),
                house=estimate_of(on.pressure(main) - off.pressure(main), "Pa"),
            )
        )
    return tuple(found)
