"""Survey tables to the air handler with its speeds, filters and return leaks, and to cleaners."""

from __future__ import annotations

from typing import Any

from airtally.estimates import Estimate
from airtally.house import problems as code
from airtally.house.defaults import (
    CIRCULATE_OVER_FULL,
    FLOW_PER_COOLING,
    FLOW_PER_HEATING,
    HANDLER_FLOW,
    HEATING_OVER_COOLING,
    MOTOR_POWER,
    default_estimate,
    filter_efficiency,
    read_rating,
    scaled,
)
from airtally.house.entries import Entry
from airtally.house.fields import COMMON_PRACTICE
from airtally.house.gathering import Gathering, show
from airtally.house.parts import (
    ALWAYS_BEFORE,
    STILL_THERE,
    AirHandler,
    Appliance,
    ApplianceKind,
    Cleaner,
    FanSpeed,
    Filter,
    ReturnLeak,
    RunsWith,
)
from airtally.house.sections_equipment import BYPASS
from airtally.units import BRITISH_THERMAL_UNIT, CUBIC_FOOT_PER_MINUTE, INCH_OF_WATER, Kind, to_field

TON = 12000.0 * BRITISH_THERMAL_UNIT / 3600.0
"""Twelve thousand Btu an hour. [W]"""
NOMINAL_FLOW = 400.0 * CUBIC_FOOT_PER_MINUTE / TON
"""Nominal 400 cfm a ton of cooling; common practice, no source. [m3/(s W)]"""
MOST_OVER_NOMINAL, LEAST_OVER_NOMINAL = 2.0, 0.4
LEAST_STATIC = 0.1 * INCH_OF_WATER
"""A ducted system has more; common practice, no source. [Pa]"""


def full_flow(capacity: Estimate | None, appliances: tuple[Appliance, ...]) -> Estimate:
    """Return the heating or cooling flow of a handler that nobody measured, from its capacity. [m3/s]."""
    if capacity is not None:
        per_ton = CUBIC_FOOT_PER_MINUTE / TON
        middle, low, high = (factor * per_ton for factor in FLOW_PER_COOLING)
        words = f"350 cfm (220 to 420) a ton of cooling: {COMMON_PRACTICE}"
        return scaled(capacity, (middle, low, high), words, unit="m3/s")
    for appliance in appliances:
        if appliance.kind is ApplianceKind.FURNACE and appliance.output is not None:
            per_heat = CUBIC_FOOT_PER_MINUTE / (10000.0 * BRITISH_THERMAL_UNIT / 3600.0)
            middle, low, high = (factor * per_heat for factor in FLOW_PER_HEATING)
            words = f"145 cfm (90 to 180) for 10 kBtu/h of furnace output: {COMMON_PRACTICE}"
            return scaled(appliance.output, (middle, low, high), words, unit="m3/s")
    return default_estimate(HANDLER_FLOW, Kind.FLOW)


def build_handler(
    entry: Entry,
    speeds: list[Entry],
    filters: tuple[Filter, ...],
    leaks: tuple[ReturnLeak, ...],
    appliances: tuple[Appliance, ...],
) -> AirHandler:
    """Return the air handler; what is left open gets its default.

    Parameters
    ----------
    entry : Entry
        The section ``[air_handler]``.
    speeds : list of Entry
        Its blower speeds, still to be read.
    filters : tuple of Filter
        Its filters; without any, one of unknown rating is taken.
    leaks : tuple of ReturnLeak
        Its return leaks.
    appliances : tuple of Appliance
        For the flow that the furnace's output calls for.
    """
    motor = entry.choice("motor", "unknown")
    capacity = entry.written("cooling_capacity")
    if not filters:
        efficiency = filter_efficiency("unknown")
        bypass = default_estimate(BYPASS, Kind.FRACTION)
        filters = (Filter(id="filter", rating="unknown", efficiency=efficiency, bypass=bypass),)
        entry.gathering.took_default(f"{entry.where}.filter[filter].efficiency[1]", efficiency[0], Kind.FRACTION)
    return AirHandler(
        speeds=_speeds(speeds, motor, full_flow(capacity, appliances), capacity, entry.gathering),
        filters=filters,
        return_leaks=leaks,
        supply_leak_outside=entry.quantity("supply_leak_outside"),
        duct_volume=entry.quantity("duct_volume"),
        rated_static=entry.quantity("rated_static"),
        cooling_capacity=capacity,
        motor=motor,
    )


def _speeds(
    entries: list[Entry], motor: str, full: Estimate, capacity: Estimate | None, gathering: Gathering
) -> tuple[FanSpeed, ...]:
    """Return the blower speeds, circulating last; heating and circulating always stand."""
    named = [(entry.choice("name"), entry) for entry in entries]
    known: list[FanSpeed] = []
    for name, entry in sorted(named, key=lambda pair: ("cooling", "heating", "circulate", "").index(pair[0])):
        speed = _speed(entry, name, motor, _flow_from(known, name, full), capacity)
        if speed is None:
            entry.set_aside()
        else:
            known.append(speed)
    for name in ("heating", "circulate"):
        if any(speed.name == name for speed in known):
            continue
        flow = _flow_from(known, name, full)
        power = default_estimate(MOTOR_POWER[motor, name == "circulate"], Kind.POWER)
        known.append(FanSpeed(name=name, flow=flow, power=power))
        gathering.took_default(f"air_handler.speed[{name}].flow", flow, Kind.FLOW)
        gathering.took_default(f"air_handler.speed[{name}].power", power, Kind.POWER)
    return tuple(known)


def _flow_from(known: list[FanSpeed], name: str, full: Estimate) -> Estimate:
    """Return the flow to take for a speed that nobody measured, from those that are known. [m3/s]."""
    by_name = {speed.name: speed.flow for speed in known}
    if name == "circulate":
        base = by_name.get("heating") or by_name.get("cooling") or full
        return scaled(base, CIRCULATE_OVER_FULL, f"fan only over full flow 0.65 (0.45 to 1): {COMMON_PRACTICE}")
    if name == "heating" and "cooling" in by_name:
        return scaled(by_name["cooling"], HEATING_OVER_COOLING, "heating over cooling flow 0.9 (0.7 to 1.1): judgement")
    return full


def _speed(entry: Entry, name: str, motor: str, usual: Estimate, capacity: Estimate | None) -> FanSpeed | None:
    """Return one blower speed, or None where it cannot be used."""
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    if entry.is_broken:
        return None
    flow = entry.quantity("flow", usual) or usual
    static = entry.quantity("static")
    if capacity is not None and name != "circulate":
        _compare_flow(entry, flow, capacity)
    if static is not None and static.value < LEAST_STATIC:
        shown, _ = to_field(static.value, Kind.PRESSURE, "inH2O")
        entry.problem(
            code.STATIC_TOO_LOW,
            "static",
            f"a total external static pressure of {shown:.3g} inH2O",
            "more than 0.1 inH2O, as a ducted system has",
            "Check unit and taps: return and supply drop are added without sign.",
        )
    power = entry.quantity("power", MOTOR_POWER[motor, name == "circulate"])
    return FanSpeed(name=name, flow=flow, power=power, static=static, since=since, until=until)


def _compare_flow(entry: Entry, flow: Estimate, capacity: Estimate) -> None:
    """Report a flow far from what the cooling capacity calls for."""
    nominal = NOMINAL_FLOW * capacity.value
    if LEAST_OVER_NOMINAL * nominal <= flow.value <= MOST_OVER_NOMINAL * nominal:
        return
    shown, _ = to_field(flow.value, Kind.FLOW)
    wanted, _ = to_field(nominal, Kind.FLOW)
    entry.problem(
        code.FLOW_FAR_FROM_NOMINAL,
        "flow",
        f"{shown:.0f} cfm against {wanted:.0f} cfm nominal for the cooling capacity",
        "between 0.4 and 2 times nominal",
        "Check flow, unit and capacity; the flow is used as written.",
    )


def build_filter(entry: Entry) -> Filter | None:
    """Return one filter, or None where it cannot be used."""
    identifier = entry.id()
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    if entry.is_broken:
        return None
    written = entry.text("rating", "unknown")
    rating = read_rating(written)
    if rating is None:
        entry.problem(
            code.CHOICE_UNKNOWN,
            "rating",
            f"{show(written)} is no rating known here; the filter counts as unknown",
            '"MERV 1" to "MERV 16", "HEPA", "none" or "unknown"',
            "Look on the frame; other scales do not convert.",
        )
    efficiency = entry.three("efficiency")
    if efficiency is None:
        efficiency = filter_efficiency("unknown" if rating is None else rating)
        for i, estimate in enumerate(efficiency):
            entry.gathering.took_default(f"{entry.path('efficiency')}[{i + 1}]", estimate, Kind.FRACTION)
    return Filter(
        id=identifier,
        rating=written,
        efficiency=efficiency,
        bypass=entry.quantity("bypass") or default_estimate(BYPASS, Kind.FRACTION),
        pressure_drop=entry.quantity("pressure_drop"),
        since=since,
        until=until,
    )


def build_leak(entry: Entry, zones: tuple[str, ...]) -> ReturnLeak | None:
    """Return one return leak, or None where it cannot be used."""
    identifier = entry.id()
    zone = entry.reference("zone", (*zones, "outdoors"))
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    fraction = None if entry.is_broken else entry.quantity("fraction")
    if zone is None or fraction is None:
        return None
    return ReturnLeak(
        id=identifier,
        zone=zone,
        fraction=fraction,
        is_before_filter=entry.fact("is_before_filter", otherwise=True),
        since=since,
        until=until,
    )


def build_cleaner(entry: Entry, zones: tuple[str, ...]) -> Cleaner | None:
    """Return an air cleaner, or None where it cannot be used."""
    identifier = entry.id()
    zone = entry.reference("zone", zones)
    is_portable = entry.fact("is_portable")
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    if is_portable and zone is None and not entry.is_broken:
        entry.is_broken = True
        entry.problem(
            code.KEY_MISSING, "zone", "a portable cleaner without a room", "the id of a zone", "Write where it stands."
        )
    if entry.is_broken:
        return None
    estimates: dict[str, Any] = {key: entry.quantity(key) for key in ("flow", "efficiency", "recirculated", "power")}
    return Cleaner(
        id=identifier,
        name=entry.text("name", identifier),
        runs_with=entry.word("runs_with", RunsWith, RunsWith.OWN_SWITCH if is_portable else RunsWith.AIR_HANDLER),
        is_portable=is_portable,
        zone=zone,
        since=since,
        until=until,
        **estimates,
    )
