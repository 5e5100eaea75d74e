"""Everything the network says about a job from survey and gauges alone, gathered for record and pages."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.errors import Problem
from airtally.estimates import Estimate
from airtally.house.parts import House
from airtally.network.ducts.duct_runs import DuctRunAnswer, duct_runs
from airtally.network.ducts.hookup_answer import HookupAnswer, hookup_answer
from airtally.network.ducts.hookup_request import hookup_request
from airtally.network.flues.hearth_drafts import HearthDraft, hearth_drafts
from airtally.network.home.budget import SpeedBudget, budgets
from airtally.network.home.calibrate import Calibrated, calibrate
from airtally.network.home.from_survey import LATEST
from airtally.network.home.house_network import AirState
from airtally.network.home.house_pressure import HousePressure
from airtally.network.home.outlooks import RoomOutlook, ZoneOutlook, room_outlooks, zone_outlooks
from airtally.network.home.plans import Plan, plans_of
from airtally.network.home.pressures import (
    LeakAir,
    RoomPressure,
    estimate_of,
    leak_air,
    room_pressures,
    supply_lost,
    worst_cases,
    worst_states,
)
from airtally.network.home.statics import StaticBudget, static_budget
from airtally.network.home.works import AS_FOUND
from airtally.network.outdoor_air.supply_answer import SupplyAnswer, supply_answer
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
    budgets : tuple of SpeedBudget
        Blower at each speed as found and with each measure.
    zones, room_outlooks : tuple of ZoneOutlook, of RoomOutlook
        Appliance zones in their worst states, house and rooms with the air handler on, with each measure.
    leaks : tuple of LeaksAfter
    hookup : HookupAnswer or None
    ventilation : VentilationNeed
    drafts : tuple of HearthDraft
        Of every fire and burner that draws by warmth and whose flue was surveyed.
    supply : SupplyAnswer
    ducts : tuple of DuctRunAnswer
    problems : tuple of Problem
    """

    calibrated: Calibrated | None
    cases: tuple[HousePressure, ...]
    rooms: tuple[RoomPressure, ...]
    budget: StaticBudget | None
    budgets: tuple[SpeedBudget, ...]
    zones: tuple[ZoneOutlook, ...]
    room_outlooks: tuple[RoomOutlook, ...]
    leaks: tuple[LeaksAfter, ...]
    hookup: HookupAnswer | None
    ventilation: VentilationNeed
    drafts: tuple[HearthDraft, ...]
    supply: SupplyAnswer
    ducts: tuple[DuctRunAnswer, ...]
    problems: tuple[Problem, ...]


def pressure_answers(
    house: House, visits: tuple[Visit, ...], time: float = LATEST, *, tested: frozenset[str] = frozenset()
) -> PressureAnswers:
    """Return every answer that needs no log, for the parts that stand and the readings taken up to a time [s, POSIX UTC].

    ``tested`` are the ids of fires and appliances that somebody tested burning; of the others it is said that nobody did.
    """
    calibrated = calibrate(house, visits, time)
    worst = worst_states(calibrated) if calibrated is not None else ()
    cases, problems = worst_cases(house, visits, time, calibrated, worst)
    measured = next((v for v in reversed(visits) if v.find("tesp") or v.find("supply_static")), None)
    budget = static_budget(measured) if measured is not None else None
    hookup = hookup_answer(house, visits, hookup_request(house), time=time)
    climate = house.climate
    need = ventilation_need(house, visits, time, weather_factor=climate.weather_factor if climate is not None else None)
    drafts, draft_problems = hearth_drafts(house, visits, calibrated, worst, tested=tested, time=time)
    supply = supply_answer(house, visits, calibrated, worst, need, time)
    ducts, duct_problems = duct_runs(house, visits, time)
    plans = plans_of(house, calibrated.network) if calibrated is not None else ()
    return PressureAnswers(
        calibrated=calibrated,
        cases=cases,
        rooms=room_pressures(calibrated) if calibrated is not None else (),
        budget=budget,
        budgets=budgets(house, visits, calibrated, plans, time) if calibrated is not None else (),
        zones=zone_outlooks(calibrated, plans) if calibrated is not None else (),
        room_outlooks=room_outlooks(calibrated, plans) if calibrated is not None else (),
        leaks=leaks_after(calibrated, plans) if calibrated is not None else (),
        hookup=hookup,
        ventilation=need,
        drafts=drafts,
        supply=supply,
        ducts=ducts,
        problems=problems
        + (budget.problems if budget is not None else ())
        + (hookup.problems if hookup is not None else ())
        + need.problems
        + draft_problems
        + supply.problems
        + duct_problems,
    )


def leaks_after(calibrated: Calibrated, plans: tuple[Plan, ...]) -> tuple[LeaksAfter, ...]:
    """Return leak air and dominance as found and after each plan that touches duct leaks."""
    network = calibrated.network
    if not network.leak_zones:
        return ()
    handler = AirState(handler=network.layout.mode_flow[0][0])
    sealing = [(plan.name, plan.works) for plan in plans if plan.works.duct_leaks]
    found = []
    for name, one in (("as found", AS_FOUND), *sealing):
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
