"""The static-pressure budget at each blower speed, as found and with each measure: what the blower gives, draws and loses where."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from airtally.arrays import Floats
from airtally.estimates import Basis, Estimate
from airtally.house.parts import House
from airtally.network.ducts.blower import assumed_words
from airtally.network.ducts.fan_curves import (
    ECM_POWER_EXPONENT,
    PSC_POWER_EXPONENT,
    MotorKind,
    default_power,
    power_ratio,
)
from airtally.network.ducts.plate import Plate, against_band, against_plate, plate_of
from airtally.network.home.calibrate import Calibrated
from airtally.network.home.from_survey import LATEST, newest, present
from airtally.network.home.house_network import (
    BLOWER,
    FILTER,
    FILTERED,
    PLENUM,
    RETURN,
    ROOM_TEMPERATURE,
    SUPPLY_DUCT,
    AirState,
)
from airtally.network.home.plans import Plan
from airtally.network.home.pressures import estimate_of
from airtally.network.home.solved import Solved
from airtally.network.home.unknowns import JUDGED
from airtally.network.home.works import AS_FOUND, Works, draws_of
from airtally.physics.air.moist import air_density, pressure_at_altitude
from airtally.physics.fans.heat_rise import temperature_rise_by_flow
from airtally.visits.parts import HandlerMode, Visit

INDOOR_HUMIDITY = 0.4
"""Of the air whose density the heat rise is told at. [-]; judgement, it moves the density by a few parts in a thousand"""
NOW = "as found"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedBudget:
    """What the blower does at one speed, doors open, as found or with one plan; filters clean where a plan brings one.

    Attributes
    ----------
    plan, works : str
        Id of the measure (empty as found) and its name.
    mode : HandlerMode
        Blower speed.
    flow, flow_change : Estimate
        Airflow [m3/s] and its change over as found [-].
    static : Estimate
        Total external static pressure. [Pa]
    parts : tuple of (str, Estimate)
        Where it goes: filter, filter in line, return ducts, coil, supply ducts; they add up to it. [Pa]
    over_rated : Estimate or None
        Total over the plate's highest external static, minus one; None where the plate was not read. [-]
    power : Estimate
        Electric, blower and what the plan adds. [W]
    heat_rise : Estimate or None
        At the heating speed, where the heat output is known. [K]
    rise_against_plate : str
        How it stands to the plate's range, empty at other speeds.
    flow_per_capacity : Estimate or None
        Airflow over cooling capacity at the cooling speed. [m3/J]
    flow_against_band : str
        How it stands to the trade's band, empty at other speeds.
    assumed : tuple of str
        What nobody measured in it.
    """

    plan: str
    works: str
    mode: HandlerMode
    flow: Estimate
    flow_change: Estimate
    static: Estimate
    parts: tuple[tuple[str, Estimate], ...]
    over_rated: Estimate | None
    power: Estimate
    heat_rise: Estimate | None
    rise_against_plate: str
    flow_per_capacity: Estimate | None
    flow_against_band: str
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Blower:
    """What is known of the blower at one speed besides its curve: electric power or power over flow, motor, plate."""

    power: Estimate | None
    motor: MotorKind
    plate: Plate
    density: float


def budgets(
    house: House, visits: tuple[Visit, ...], calibrated: Calibrated, plans: tuple[Plan, ...], time: float = LATEST
) -> tuple[SpeedBudget, ...]:
    """Return the budget at every surveyed speed, as found and with each plan that changes what the blower meets or draws.

    Parameters
    ----------
    house, visits
        For motor, power and plates.
    calibrated : Calibrated
        Ducts, leaks and blower curve, draw by draw.
    plans : tuple of Plan
    time : float
        Parts that stand and readings taken up to then. [s, POSIX UTC]

    Returns
    -------
    budgets : tuple of SpeedBudget
        Empty where the house has no air handler whose flow is known.

    Notes
    -----
    Valid: doors open; the blower's curve is a parabola through its point, steep for a motor that holds its flow.
    Power: a split-capacitor blower's falls with its flow, that of one that holds its flow rises with the static (LBNL6144E).
    """
    network, handler = calibrated.network, house.air_handler
    if not network.leak_zones or handler is None:
        return ()
    modes = [mode for mode, _ in network.layout.mode_flow]
    states = tuple(AirState(handler=mode) for mode in modes)
    density = float(air_density(ROOM_TEMPERATURE, INDOOR_HUMIDITY, pressure_at_altitude(house.elevation)))
    plate = plate_of(house, visits, time)
    as_found = calibrated.solve(states)
    assumed = tuple(f"{one.name}: {one.source}" for one in calibrated.prior.parameters if one.source in JUDGED)
    asked = [plan for plan in plans if plan.moves_the_blower or plan.power is not None]
    found = []
    for plan in (None, *asked):
        solved = calibrated.solve(states, plan.works) if plan is not None and plan.moves_the_blower else as_found
        for mode, base, one in zip(modes, as_found, solved, strict=True):
            speed = next((s for s in present(handler.speeds, time) if s.name == mode.value), None)
            read = newest(visits, "blower_power", time=time, mode=mode)
            power = read.estimate if read is not None else (speed.power if speed is not None else None)
            known = power if power is not None and power.basis is not Basis.DEFAULT else None
            blower = _Blower(power=known, motor=MotorKind(handler.motor), plate=plate, density=density)
            row = _budget(calibrated, blower, plan, mode, base, one)
            found.append(replace(row, assumed=(*assumed, *row.assumed)))
    return tuple(found)


def _budget(
    calibrated: Calibrated, blower: _Blower, plan: Plan | None, mode: HandlerMode, base: Solved, one: Solved
) -> SpeedBudget:
    works = plan.works if plan is not None else AS_FOUND
    flow, static = one.flow(BLOWER), _static(one)
    plate = blower.plate
    rise = per_capacity = over = None
    if mode is HandlerMode.HEATING and plate.heat_output is not None:
        heat = draws_of(plate.heat_output, flow.size)
        rise = estimate_of(np.asarray(temperature_rise_by_flow(heat, flow, blower.density)), "K")
    if mode is HandlerMode.COOLING and plate.cooling_capacity is not None:
        per_capacity = estimate_of(flow / draws_of(plate.cooling_capacity, flow.size), "m3/J")
    if plate.rated_static is not None:
        over = estimate_of(static / plate.rated_static.value - 1.0, "-")
    power, assumed = _power(blower, plan, flow / base.flow(BLOWER), static / _static(base), base.flow(BLOWER))
    return SpeedBudget(
        plan=plan.id if plan is not None else "",
        works=plan.name if plan is not None else NOW,
        mode=mode,
        flow=estimate_of(flow, "m3/s"),
        flow_change=estimate_of(flow / base.flow(BLOWER) - 1.0, "-"),
        static=estimate_of(static, "Pa"),
        parts=_parts(calibrated, works, one),
        over_rated=over,
        power=power,
        heat_rise=rise,
        rise_against_plate=against_plate(rise, plate) if rise is not None else "",
        flow_per_capacity=per_capacity,
        flow_against_band=against_band(per_capacity) if per_capacity is not None else "",
        assumed=assumed,
    )


def _static(one: Solved) -> Floats:
    return np.asarray(one.pressure(PLENUM) - one.pressure(FILTERED))


def _parts(calibrated: Calibrated, works: Works, one: Solved) -> tuple[tuple[str, Estimate], ...]:
    """Return where the static goes; filter in line and coil are told apart from what stands in series with them."""
    network, main = calibrated.network, calibrated.network.layout.main
    through = one.pressure(RETURN) - one.pressure(FILTERED)
    in_line = network.in_line_drop(calibrated.values, works, one.flow(FILTER))
    coil = network.coil_drop(calibrated.values, one.state.handler, one.flow(SUPPLY_DUCT))
    parts = {
        "filter": through - in_line,
        "filter in line": in_line,
        "return ducts": one.pressure(main) - one.pressure(RETURN),
        "coil": coil,
        "supply ducts": one.pressure(PLENUM) - one.pressure(main) - coil,
    }
    return tuple((name, estimate_of(part, "Pa")) for name, part in parts.items() if part.any())


def _power(
    blower: _Blower, plan: Plan | None, flow_ratio: Floats, static_ratio: Floats, base_flow: Floats
) -> tuple[Estimate, tuple[str, ...]]:
    """Return electric power with what the plan adds [W], and what of it nobody measured; an unknown motor spans both kinds."""
    count = flow_ratio.size
    per_flow = default_power(blower.motor)
    base = draws_of(blower.power, count) if blower.power is not None else draws_of(per_flow, count) * base_flow
    is_moved = bool((flow_ratio != 1.0).any())
    kinds = (blower.motor,) if blower.motor is not MotorKind.UNKNOWN else (MotorKind.PSC, MotorKind.ECM)
    exponents = [ECM_POWER_EXPONENT if kind is MotorKind.ECM else PSC_POWER_EXPONENT for kind in kinds]
    by_kind = [
        base * power_ratio(kind, flow_ratio, static_ratio, draws_of(exponent, count))
        for kind, exponent in zip(kinds, exponents, strict=True)
    ]
    middle = np.mean([draws[:1] for draws in by_kind], axis=0)
    added = plan.power if plan is not None else None
    draws = np.concatenate([middle, *(draws[1:] for draws in by_kind)])
    if added is not None:
        draws = draws + np.concatenate([draws_of(added, count)[:1], *(draws_of(added, count)[1:] for _ in kinds)])
    said = {"blower power": per_flow if blower.power is None else None, "power that the measure adds": added}
    said |= {
        f"power at another flow, {kind.value}": one for kind, one in zip(kinds, exponents, strict=True) if is_moved
    }
    return estimate_of(draws, "W"), assumed_words(said)
