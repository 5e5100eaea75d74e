"""From survey and visits to a hookup: blower by speed, trunk by its statics, the cleaner as found, labelled or usual."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from airtally.estimates import Basis, Estimate
from airtally.house.parts import AirHandler, Cleaner, FanSpeed, House
from airtally.house.passages import Discharge
from airtally.network.ducts.blower import Blower
from airtally.network.ducts.fan_curves import FanTable, MotorKind
from airtally.network.ducts.hookup_compare import FilterInLine
from airtally.network.ducts.hookup_parts import CleanerFan, Hookup, LoopDuct, Trunk, TrunkState, usual_loop
from airtally.network.ducts.plate import Plate, plate_of
from airtally.network.ducts.sensor_place import DuctAir
from airtally.network.home.from_survey import LATEST, newest, present
from airtally.network.spread import default, spread, total
from airtally.physics.air.gas import air_viscosity
from airtally.physics.air.moist import air_density, pressure_at_altitude
from airtally.visits.parts import HandlerMode, Visit

SPEEDS = (HandlerMode.HEATING, HandlerMode.COOLING, HandlerMode.CIRCULATE)
RETURN_TEMPERATURE = 294.15
"""Air in the return. [K]"""
USUAL_DIAMETER = 0.2032
"""8 inch, where a design starts. [m]"""
USUAL_TRUNK = Trunk(width=0.508, height=0.2032, is_assumed=True)
"""20 by 8 inch, where nobody measured the trunk."""
USUAL_FLOW = default(0.118, 0.094, 0.142, "m3/s", "default: bypass cleaners of 200 to 300 cfm; from memory")
USUAL_EFFICIENCY = default(
    0.97, 0.85, 0.999, "-", "default: filter of HEPA class with its seals as installed; judgement"
)
LABEL_SPREAD = 0.10
"""Half width of a label's flow over itself. [-]; judgement"""
FREE_OVER_INSTALLED = default(
    1.15, 1.0, 1.4, "-", "default: cleaner's flow with nothing attached over its flow as installed; judgement"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HookupRequest:
    """What a contractor adds to survey and visits for a hookup; everything left out is taken as found or as usual.

    Attributes
    ----------
    loop : LoopDuct or None
        As laid out; None starts from a usual loop and takes the smallest duct that holds the wanted flow.
    is_size_open : bool
        Whether a loop that is laid out takes that duct too: nobody chose its diameter.
    trunk : Trunk or None
        Section and lengths at the taps.
    cleaner : CleanerFan or None
    free_flow, shut_off : Estimate or None
        Two ends of the curve of whichever cleaner it is, where its label or data sheet was read. [m3/s], [Pa]
    efficiency : Estimate or None
        Of the cleaner, single pass. [-]
    fan_tables : mapping of str to FanTable
        Blower tables by speed: ``heating``, ``cooling``, ``circulate``.
    wanted_clean_air : Estimate or None
        At the first speed. [m3/s]
    in_line : FilterInLine or None
        The filter to compare with.
    discharge : Discharge
        Where the cleaner is to blow to.
    """

    loop: LoopDuct | None = None
    trunk: Trunk | None = None
    is_size_open: bool = False
    cleaner: CleanerFan | None = None
    free_flow: Estimate | None = None
    shut_off: Estimate | None = None
    efficiency: Estimate | None = None
    fan_tables: Mapping[str, FanTable] = field(default_factory=dict)
    wanted_clean_air: Estimate | None = None
    in_line: FilterInLine | None = None
    discharge: Discharge = Discharge.RETURN


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyedHookup:
    """A hookup with what the comparison and the sensor need beside it. ``blowers`` are the speeds with a static."""

    hookup: Hookup
    blowers: tuple[Blower, ...]
    plate: Plate
    in_line: FilterInLine
    duct_air: DuctAir


def surveyed_hookup(
    house: House, visits: tuple[Visit, ...], request: HookupRequest | None = None, time: float = LATEST
) -> SurveyedHookup | None:
    """Return the hookup that survey and visits describe at a time, None without an air handler whose flow is known.

    Visits govern over the survey. The cleaner is the request's, else the one found on the duct, else one that the
    survey's measures propose, else a usual one; each is marked with its basis.
    """
    request = request or HookupRequest()
    handler = house.air_handler
    if handler is None:
        return None
    pressure = float(pressure_at_altitude(house.elevation))
    density = float(air_density(RETURN_TEMPERATURE, 0.4, pressure))
    found = next((one for one in present(house.cleaners, time) if one.zone is None and not one.is_portable), None)
    states, blowers = [], []
    for mode in SPEEDS:
        state = _trunk_state(handler, visits, request, mode, time, density)
        if state is None:
            continue
        if found is not None:
            state = replace(state, measured_loop_flow=_measured(visits, "cleaner_flow", time, mode))
        states.append(state)
        if state.blower is not None:
            blowers.append(state.blower)
    if not states:
        return None
    cleaner, efficiency, own_air = _cleaner(house, visits, request, found, time)
    cleaner = replace(
        cleaner, free_flow=request.free_flow or cleaner.free_flow, shut_off=request.shut_off or cleaner.shut_off
    )
    if found is not None and states[0].measured_loop_flow is None and found.flow.basis is not Basis.DEFAULT:
        states[0] = replace(states[0], measured_loop_flow=found.flow)
    hookup = Hookup(
        cleaner=cleaner, efficiency=efficiency, loop=request.loop or usual_loop(USUAL_DIAMETER),
        trunk=request.trunk or USUAL_TRUNK, states=tuple(states), wanted_clean_air=request.wanted_clean_air,
        mixed_back=own_air, density=density, viscosity=float(air_viscosity(RETURN_TEMPERATURE)),
        measured_off_flow=_measured(visits, "cleaner_flow", time, HandlerMode.OFF) if found is not None else None,
    )  # fmt: skip
    in_line = request.in_line or FilterInLine(
        name="in-line HEPA",
        rated_flow=_assumed_flow(states[0].flow),
        efficiency=USUAL_EFFICIENCY,
    )
    return SurveyedHookup(
        hookup=hookup, blowers=tuple(blowers), plate=plate_of(house, visits, time), in_line=in_line,
        duct_air=_duct_air(handler, states, time),
    )  # fmt: skip


def _trunk_state(
    handler: AirHandler,
    visits: tuple[Visit, ...],
    request: HookupRequest,
    mode: HandlerMode,
    time: float,
    density: float,
) -> TrunkState | None:
    """Return the trunk at one speed, None where neither visits nor survey give its flow."""
    speed = next((one for one in present(handler.speeds, time) if one.name == mode.value), None)
    flow = _measured(visits, "airflow", time, mode) or (speed.flow if speed is not None else None)
    if flow is None:
        return None
    drop = _measured(visits, "filter_drop", time, mode)
    back = _measured(visits, "return_static", time, mode)
    front = _measured(visits, "supply_static", time, mode)
    whole = _measured(visits, "tesp", time, mode)
    if whole is None and back is not None and front is not None:
        whole = total((back, front), unit="Pa", source="return plus supply static")
    if whole is None and speed is not None:
        whole = speed.static
    if whole is None:
        whole = _from_another_speed(handler, visits, mode, time, flow)
    take_off = _measured(visits, "take_off_static", time, mode)
    if take_off is None and back is not None:
        lost = (drop,) if drop is not None else ()
        take_off = spread(
            lambda static, *filters: max(static - sum(filters), 0.0), back, *lost, unit="Pa",
            source="return static less filter drop, not read at the tap", method_share=0.2,
        )  # fmt: skip
    blower = None
    if whole is not None:
        blower = Blower(
            name=mode.value, flow=flow, static=whole, motor=MotorKind(handler.motor), power=_power(visits, speed, mode, time),
            filter_drop=drop, table=request.fan_tables.get(mode.value), density=density,
        )  # fmt: skip
    return TrunkState(
        name=mode.value, flow=flow, take_off_static=take_off, re_entry_static=_measured(visits, "re_entry_static", time, mode),
        supply_static=front, total_static=whole, filter_drop=drop, blower=blower,
    )  # fmt: skip


def _from_another_speed(
    handler: AirHandler, visits: tuple[Visit, ...], mode: HandlerMode, time: float, flow: Estimate
) -> Estimate | None:
    """Return the total static of a speed nobody read it at, from one where it was read: same ducts, other flow.

    The filter's part goes with the flow, the rest with its square; a wet coil or a shut register breaks that. [Pa]
    """
    for other in SPEEDS:
        if other is mode:
            continue
        speed = next((one for one in present(handler.speeds, time) if one.name == other.value), None)
        known = _measured(visits, "airflow", time, other) or (speed.flow if speed is not None else None)
        static = _measured(visits, "tesp", time, other) or (speed.static if speed is not None else None)
        if known is None or static is None:
            continue
        drop = _measured(visits, "filter_drop", time, other)
        lost = (drop,) if drop is not None else ()

        def carried(here: float, there: float, whole: float, *filters: float) -> float:
            ratio, linear = here / there, sum(filters)
            return linear * ratio + (whole - linear) * ratio * ratio

        return spread(
            carried, flow, known, static, *lost, unit="Pa", source=f"static read at {other.value}, carried to this flow",
            method_share=0.1,
        )  # fmt: skip
    return None


def _power(visits: tuple[Visit, ...], speed: FanSpeed | None, mode: HandlerMode, time: float) -> Estimate | None:
    """Return measured power, or the survey's where somebody wrote it; a default leaves it to the motor kind."""
    measured = _measured(visits, "blower_power", time, mode)
    if measured is not None or speed is None or speed.power is None:
        return measured
    return speed.power if speed.power.basis is not Basis.DEFAULT else None


def _cleaner(
    house: House, visits: tuple[Visit, ...], request: HookupRequest, found: Cleaner | None, time: float
) -> tuple[CleanerFan, Estimate, Estimate | None]:
    """Return the cleaner's fan, its efficiency, and own air taken in again where somebody stated it."""
    own_air = None
    efficiency = request.efficiency or USUAL_EFFICIENCY
    if found is not None:
        efficiency = request.efficiency or found.efficiency
        own_air = found.recirculated if found.recirculated.basis is not Basis.DEFAULT else None
    if request.cleaner is not None:
        return request.cleaner, efficiency, own_air
    if found is not None:
        installed = _measured(visits, "cleaner_flow", time, None) or found.flow
        free = spread(
            lambda q, k: q * k, installed, FREE_OVER_INSTALLED, unit="m3/s", source=FREE_OVER_INSTALLED.source
        )
        return CleanerFan(name=found.name, free_flow=_marked(free), power=found.power), efficiency, own_air
    proposed = next((one for one in house.measures if one.kind == "bypass cleaner"), None)
    if proposed is not None:
        label = dict(proposed.settings).get("flow")
        if isinstance(label, float):
            said = "default: flow on the label of the proposed cleaner, taken as its flow with nothing attached"
            flow = default(label, label * (1.0 - LABEL_SPREAD), label * (1.0 + LABEL_SPREAD), "m3/s", said)
            return CleanerFan(name=proposed.name, free_flow=flow), efficiency, own_air
    return CleanerFan(name="bypass cleaner", free_flow=USUAL_FLOW), efficiency, own_air


def _marked(number: Estimate) -> Estimate:
    """Return a number that rests on a default, marked so."""
    return replace(number, basis=Basis.DEFAULT)


def _assumed_flow(flow: Estimate) -> Estimate:
    """Return the flow that an in-line filter is taken to be rated for: the blower's own."""
    return default(
        flow.value, flow.value, flow.value, "m3/s", "default: in-line filter chosen for the blower's airflow"
    )


def _duct_air(handler: AirHandler, states: list[TrunkState], time: float) -> DuctAir:
    """Return what happens to the air on its way; the smallest size class stands for smoke, the lowest speed samples."""
    nothing = Estimate(value=0.0, low=0.0, high=0.0, unit="-", basis=Basis.SURVEYED, source="none surveyed")
    fitted = next(iter(present(handler.filters, time)), None)
    sides = {
        before: tuple(one.fraction for one in present(handler.return_leaks, time) if one.is_before_filter is before)
        for before in (True, False)
    }
    leaks = {
        before: total(parts, unit="-", source="return leaks") if parts else nothing for before, parts in sides.items()
    }
    slowest = min(states, key=lambda state: state.flow.value)
    return DuctAir(
        flow=slowest.flow,
        filter_efficiency=fitted.efficiency[0] if fitted is not None else nothing,
        filter_bypass=fitted.bypass if fitted is not None else nothing,
        leak_before=leaks[True],
        leak_after=leaks[False],
    )


def _measured(visits: tuple[Visit, ...], key: str, time: float, mode: HandlerMode | None) -> Estimate | None:
    reading = newest(visits, key, time=time, mode=mode)
    return None if reading is None else reading.estimate
