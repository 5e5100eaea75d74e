"""What a reading is held against, limit by limit, so that a form can show it beside the reading when it is entered."""

from __future__ import annotations

from collections.abc import Callable

from airtally.estimates import Estimate
from airtally.house.burners import can_spill, is_fire
from airtally.house.parts import ExhaustKind, House, ZoneKind
from airtally.house.suction_limits import pressure_limits
from airtally.limits import Sense, action_levels, limits_on
from airtally.network import present
from airtally.safety.appliances import draft_held, flue_held, spillage_limits
from airtally.safety.compare import compare, compare_all, compare_by_kind, compare_level
from airtally.safety.handler import COOLING, flow_per_capacity, plate_limit, static_limits
from airtally.safety.leakage import MAKE_UP, duct_limits, floor_area, over_floor
from airtally.safety.parts import LimitComparison
from airtally.safety.places import appliances_at
from airtally.safety.returns import CLOSED, DISTANCE, share_of_handler
from airtally.safety.rooms import DOOR, is_closed_door, magnitude
from airtally.safety.states import readings_of
from airtally.safety.words import show_plain
from airtally.visits.parts import HandlerMode, Reading, Visit

Held = tuple[LimitComparison, ...]


def limits_beside(house: House, visits: tuple[Visit, ...], reading: Reading) -> Held:
    """Return a reading held against every published limit and plate that speaks about it.

    Parameters
    ----------
    house : House
        The survey: which appliance stands where, floor area, plate.
    visits : tuple of Visit
        Up to and with the reading's own; plates are taken from them.
    reading : Reading
        One reading; a missing one is held against nothing.

    Returns
    -------
    held : tuple of LimitComparison
        As the findings hold it, so that a form and the record never say two things; empty where nothing is known.
    """
    value = reading.estimate
    speaks = SPEAKS.get(reading.key)
    return speaks(house, visits, reading, value) if speaks is not None and value is not None else ()


def limit_words(one: LimitComparison) -> str:
    """Return a comparison in words: the limit with its document and edition, and on which side the reading lies."""
    what, _, asked = one.what.partition(": ")
    status = "" if one.status == "current" else f", {one.status}"
    document = f"{one.edition}, {one.jurisdiction}, {one.basis}{status}"
    if asked:
        reached = f"reached. {asked[:1].upper()}{asked[1:]}." if one.is_crossed else "not reached."
        return f"Action level {one.printed} ({document}), {what}: {reached}"
    side = "not below" if one.sense == Sense.AT_LEAST else "not above"
    said = {True: "beyond it", False: "within it", None: "too close to tell"}[one.is_crossed]
    governs = ", the strictest, which governs" if one.governs else ""
    figure = f"; read as {show_plain(one.value)}" if one.value.unit in OVER else ""
    return f"Limit: {side} {one.printed} ({document}){governs}. For {what}{figure}: {said}."


OVER = ("m/s", "-", "m3/s per W")
"""Units of figures that are a reading over something else."""


def _room_co(_: House, __: tuple[Visit, ...], ___: Reading, value: Estimate) -> Held:
    return tuple(compare_level(value, level, "air of a room") for level in action_levels())


def _flue(_: House, __: tuple[Visit, ...], reading: Reading, value: Estimate) -> Held:
    return flue_held(reading, value)


def _spillage(_: House, __: tuple[Visit, ...], reading: Reading, value: Estimate) -> Held:
    return compare_by_kind(value, spillage_limits(reading.state.vent), "spillage time")


def _draft(house: House, _: tuple[Visit, ...], reading: Reading, value: Estimate) -> Held:
    here = next((one for one in appliances_at(house, reading.time) if one.id == reading.place), None)
    return draft_held(here, reading, value) if here is not None else ()


def _zone(house: House, _: tuple[Visit, ...], reading: Reading, value: Estimate) -> Held:
    if is_closed_door(reading) and reading.key != "worst_case_pressure_change":
        return compare_all(magnitude(value), limits_on(DOOR), "across a closed door, either sign")
    if reading.reference != "outdoors":
        return ()
    others = appliances_at(house, reading.time)
    known = {
        limit.key: limit
        for one in others
        if one.zone == reading.place and (can_spill(one) or is_fire(one))
        for limit in pressure_limits(one, others)
    }
    return compare_by_kind(value, known.values(), f"suction on {reading.place}")


def _heat_rise(_: House, visits: tuple[Visit, ...], __: Reading, value: Estimate) -> Held:
    held = []
    for key, sense in (("plate_rise_low", Sense.AT_LEAST), ("plate_rise_high", Sense.AT_MOST)):
        plate = readings_of(visits, key)
        held += [compare(value, plate_limit(plate[-1][1], sense), "heat rise", governs=True)] if plate else []
    return tuple(held)


def _static(house: House, visits: tuple[Visit, ...], _: Reading, value: Estimate) -> Held:
    return compare_all(value, static_limits(house, visits), "total external static")


def _part(_: House, __: tuple[Visit, ...], reading: Reading, value: Estimate) -> Held:
    quantity = PARTS[reading.key]
    return compare_all(value, limits_on(quantity), quantity)


PARTS = {"filter_drop": "filter pressure drop", "coil_drop": "coil pressure drop"}
"""What the documents call a part of the static pressure."""


def _cooling(_: House, visits: tuple[Visit, ...], reading: Reading, value: Estimate) -> Held:
    capacity = readings_of(visits, "cooling_capacity")
    size = capacity[-1][1].estimate if capacity else None
    if reading.state.air_handler is not HandlerMode.COOLING or size is None or size.value <= 0.0:
        return ()
    return compare_all(flow_per_capacity(value, size), limits_on(COOLING), COOLING)


def _ducts(house: House, _: tuple[Visit, ...], reading: Reading, value: Estimate) -> Held:
    area = floor_area(house)
    if area is None or area.low <= 0.0:
        return ()
    return compare_all(over_floor(value, area, reading.key), duct_limits(reading.key), "duct leakage over floor area")


def _garage_leak(house: House, _: tuple[Visit, ...], reading: Reading, __: Estimate) -> Held:
    garages = {zone.id for zone in house.zones if zone.kind is ZoneKind.GARAGE} | {"garage"}
    share = share_of_handler(house, reading) if reading.place in garages else None
    return compare_all(share, limits_on(CLOSED), "leak at the garage over handler flow") if share is not None else ()


def _exhaust(house: House, _: tuple[Visit, ...], reading: Reading, value: Estimate) -> Held:
    is_hearth = any(one.id == reading.place and one.kind is ExhaustKind.FIREPLACE for one in present(house.exhausts))
    return () if is_hearth else compare_all(value, limits_on(MAKE_UP), f"exhaust {reading.place}")


def _distance(_: House, __: tuple[Visit, ...], ___: Reading, value: Estimate) -> Held:
    return compare_all(value, limits_on(DISTANCE), DISTANCE)


SPEAKS: dict[str, Callable[[House, tuple[Visit, ...], Reading, Estimate], Held]] = {
    "co_ambient": _room_co,
    "co_flue": _flue,
    "co_flue_as_measured": _flue,
    "spillage_time": _spillage,
    "draft": _draft,
    "zone_pressure": _zone,
    "zone_pressure_change": _zone,
    "worst_case_pressure_change": _zone,
    "heat_rise": _heat_rise,
    "tesp": _static,
    "filter_drop": _part,
    "coil_drop": _part,
    "airflow": _cooling,
    "cfm25_total": _ducts,
    "cfm25_outside": _ducts,
    "cfm25_return": _garage_leak,
    "exhaust_flow": _exhaust,
    "return_distance": _distance,
}
"""How a reading of each key is held; a key that no document speaks about is left out."""
