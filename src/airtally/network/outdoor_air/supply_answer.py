"""Supply air that a surveyed house asks for, by pressure and by ventilation, and what a year of it takes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from airtally.errors import Problem
from airtally.estimates import Estimate, Missing
from airtally.house.burners import can_spill, is_fire
from airtally.house.parts import ExhaustKind, House
from airtally.house.suction_limits import FIRE_KIND, QUANTITY, pressure_limits
from airtally.limits import Limit, limits_on
from airtally.limits.choose import BINDING
from airtally.network.flues.flue_state import tabled_law
from airtally.network.home.calibrate import Calibrated
from airtally.network.home.from_survey import LATEST, exhaust_flows, present
from airtally.network.home.house_network import fires_of
from airtally.network.home.house_pressure import NamedFlow
from airtally.network.home.pressures import WorstState, estimate_of, state_words
from airtally.network.outdoor_air.conditioning import ConditioningCost, DegreeDays, Prices, conditioning_cost
from airtally.network.outdoor_air.conditioning_supply import SupplyBalance, supply_balance, supply_with_network
from airtally.network.outdoor_air.ventilation_need import VentilationNeed
from airtally.network.spread import default
from airtally.physics.air.moist import pressure_at_altitude
from airtally.visits.parts import HandlerMode, Visit

POINTS = 6
"""Supply flows for which the network is solved. [-]"""
LEAST_TRIED = 0.05
"""The largest flow that is tried is at least this. [m3/s]"""
WITH_EXHAUSTS = default(
    0.08, 0.02, 0.25, "-", "exhausts and fires run half an hour to six hours a day: judgement, nobody logged them"
)
"""Share of the year that make-up air runs which starts and stops with the exhausts. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldZone:
    """A room held above the strictest limit on its suction.

    Attributes
    ----------
    zone : str
    limit : Limit
        The strictest of those in force that speak about what burns there, whoever issued it.
    state : str
        The worst state found, in words.
    has_fire_lit : bool
    pressure : Estimate
        Change of the room's pressure in it, without supply air. [Pa]
    flow : Estimate or None
        Supply air into the main body that holds the limit; None where no flow that was tried does. [m3/s]
    """

    zone: str
    limit: Limit
    state: str
    has_fire_lit: bool
    pressure: Estimate
    flow: Estimate | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyAnswer:
    """Supply air of a house.

    Attributes
    ----------
    zones : tuple of HeldZone
        One a room in which something burns that a limit speaks about.
    balance : SupplyBalance
        The largest of their flows beside what ventilation lacks.
    always, with_exhausts : ConditioningCost or None
        A year of the governing flow from a fan that runs always, and of the pressure's flow from one that runs with
        the exhausts; None where there is nothing to condition.
    unknown : tuple of str
        What the survey does not say and a figure therefore lacks.
    problems : tuple of Problem
    """

    zones: tuple[HeldZone, ...]
    balance: SupplyBalance
    always: ConditioningCost | None
    with_exhausts: ConditioningCost | None
    unknown: tuple[str, ...]
    problems: tuple[Problem, ...]


def supply_answer(
    house: House,
    visits: tuple[Visit, ...],
    calibrated: Calibrated | None,
    worst: tuple[WorstState, ...],
    need: VentilationNeed,
    time: float = LATEST,
) -> SupplyAnswer:
    """Return the supply air that pressure and ventilation ask for and what a year of it takes.

    Parameters
    ----------
    house, visits
        As read.
    calibrated : Calibrated or None
        The house's network; without it the pressure asks for nothing that is known.
    worst : tuple of WorstState
        Worst states of the rooms in which something burns.
    need : VentilationNeed
        What ventilation lacks.
    time : float, optional
        When. [s, POSIX UTC]
    """
    zones: list[HeldZone] = []
    problems: tuple[Problem, ...] = ()
    for one in worst if calibrated is not None else ():
        limit = zone_limit(house, one.zone, with_fire=one.with_fire, time=time)
        if limit is not None and calibrated is not None:
            held, more = _held(house, visits, calibrated, one, limit, time)
            zones.append(held)
            problems += more
    balance = supply_balance(_most(zones), need.lacking)
    return SupplyAnswer(
        zones=tuple(zones),
        balance=balance,
        always=_cost(house, balance.flow),
        with_exhausts=_cost(house, balance.for_pressure, WITH_EXHAUSTS),
        unknown=_unknown(house),
        problems=problems,
    )


def zone_limit(house: House, zone: str, *, with_fire: bool, time: float = LATEST) -> Limit | None:
    """Return the strictest limit in force on the suction of a room; None where none speaks about what burns there.

    With a fire lit the limits on hearths hold, without one those on appliances that can spill.
    """
    appliances = present(house.appliances, time)
    limits = [
        limit
        for one in appliances
        if one.zone == zone and (is_fire(one) if with_fire else can_spill(one))
        for limit in pressure_limits(one, appliances)
    ]
    fires = [one for one in present(house.exhausts, time) if one.kind is ExhaustKind.FIREPLACE and one.zone == zone]
    if with_fire and fires:
        limits += limits_on(QUANTITY, applies_to=FIRE_KIND)
    return max((one for one in limits if one.status in BINDING), key=lambda one: one.value, default=None)


def _held(
    house: House, visits: tuple[Visit, ...], calibrated: Calibrated, worst: WorstState, limit: Limit, time: float
) -> tuple[HeldZone, tuple[Problem, ...]]:
    layout = calibrated.network.layout
    running, _ = exhaust_flows(house, visits, time)
    drawn = sum(-one.flow.low for one in running if one.name in worst.state.exhausts)
    most = max(1.5 * drawn, LEAST_TRIED)
    grid = np.linspace(0.0, most, POINTS)
    quiet = replace(worst.state, handler=HandlerMode.OFF, exhausts=frozenset())
    states = tuple(replace(worst.state, drawn=((layout.main, -float(flow)),)) for flow in grid)
    still, *solved = calibrated.solve((quiet, *states))
    asked = tuple(estimate_of(one.pressure(worst.zone) - still.pressure(worst.zone), "Pa") for one in solved)
    law = tabled_law(grid, asked)

    def pressure_of(flow: float) -> Estimate:
        return law((NamedFlow(name="supply air", flow=default(flow, flow, flow, "m3/s", "supply air, tried")),))

    words = state_words(worst.state, worst.zone, fires_of(layout))
    flow, problems = supply_with_network(pressure_of, limit.value, most=most, where=f"{worst.zone}, {words}")
    held = HeldZone(
        zone=worst.zone, limit=limit, state=words, has_fire_lit=bool(worst.state.exhausts & fires_of(layout)),
        pressure=asked[0], flow=flow,
    )  # fmt: skip
    return held, problems


def _most(zones: list[HeldZone]) -> Estimate | Missing:
    """Return the largest flow that a room asks for; one that no flow holds makes the answer unknown. [m3/s]"""
    flows = [one.flow for one in zones]
    known = [flow for flow in flows if flow is not None]
    if not known or len(known) < len(flows):
        return Missing.UNKNOWN
    return max(known, key=lambda flow: flow.value)


def _cost(house: House, flow: Estimate | Missing, run_share: Estimate | None = None) -> ConditioningCost | None:
    climate = house.climate
    if climate is None or isinstance(flow, Missing) or not flow.high > 0.0:
        return None
    weather = DegreeDays(
        heating=climate.heating_degree_days, cooling=climate.cooling_degree_days, hours_heating=climate.heating_season,
        base=climate.degree_day_base, site_pressure=float(pressure_at_altitude(house.elevation)),
        source=climate.heating_degree_days.source,
    )  # fmt: skip
    cold = climate.design_temperature
    prices = None
    if house.heat_price is not None and house.energy_price is not None:
        prices = Prices(heat=house.heat_price, electricity=house.energy_price, currency=house.currency)
    return conditioning_cost(
        replace(flow, low=max(flow.low, 0.0)), weather, climate.heated_to, cooled_to=climate.cooled_to,
        design_temperature=None if cold is None else cold.value, run_share=run_share, prices=prices,
    )  # fmt: skip


def _unknown(house: House) -> tuple[str, ...]:
    climate = house.climate
    lacking = [
        ("degree days of the place", climate is None or climate.heating_degree_days.basis.value == "default"),
        ("outdoor temperature of a cold day", climate is None or climate.design_temperature is None),
        ("price of heat", house.heat_price is None),
        ("price of electricity", house.energy_price is None),
        ("temperature the rooms are cooled to: cooling is not in the figures", climate is None or climate.cooled_to is None),
        ("cooling degree days", climate is not None and climate.cooled_to is not None and climate.cooling_degree_days is None),
    ]  # fmt: skip
    return tuple(words for words, is_open in lacking if is_open)
