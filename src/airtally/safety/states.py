"""Which house states are hard enough for a reading to lift a block."""

from __future__ import annotations

from airtally.house.parts import Affects, ExhaustKind, House
from airtally.network import present
from airtally.visits.parts import Doors, HouseState, Reading, Visit

CHANGES_PRESSURE = frozenset(
    {
        Affects.ENVELOPE,
        Affects.RETURN_LEAK,
        Affects.EXHAUST,
        Affects.VENTILATION,
        Affects.CLEANER,
        Affects.APPLIANCE,
    }
)
"""Works after which pressures and spillage have to be tested again."""
CHANGES_AIRFLOW = frozenset({Affects.RETURN_LEAK, Affects.FILTER, Affects.CLEANER})
"""Works after which static, airflow and heat rise have to be measured again."""


_AIRFLOW = (
    "tesp",
    "airflow",
    "heat_rise",
    "filter_drop",
    "coil_drop",
    "return_static",
    "supply_static",
    "blower_power",
)
_LEAKS = ("cfm25_total", "cfm25_outside", "cfm25_return", "cfm25_supply")
_ZONES = (
    "worst_case_pressure_change", "zone_pressure_change", "zone_pressure", "baseline_pressure", "spillage_time", "draft",
    "co_ambient", "burn_pressure_change",
)  # fmt: skip
MOVED_BY: dict[str, frozenset[Affects]] = {
    **dict.fromkeys(_AIRFLOW, CHANGES_AIRFLOW),
    **dict.fromkeys(_LEAKS, frozenset({Affects.RETURN_LEAK})),
    **dict.fromkeys(_ZONES, CHANGES_PRESSURE),
    "house_pressure_fan_on_minus_off": frozenset({Affects.ENVELOPE, Affects.RETURN_LEAK, Affects.CLEANER}),
    "cfm50": frozenset({Affects.ENVELOPE}),
    "exhaust_flow": frozenset({Affects.EXHAUST}),
    "co_flue": frozenset({Affects.APPLIANCE}),
}
"""Which works move which reading."""


def stale_before(house: House, key: str) -> float:
    """Return when the last works ended that move a reading of a key [s], minus infinity if none did."""
    return last_change(house, MOVED_BY.get(key, frozenset()))


def is_worst_state(state: HouseState, house: House) -> bool:
    """Return whether a state is the worst one: doors set to the worst case and exhausts running, if there are any."""
    motors = [one for one in present(house.exhausts) if one.kind is not ExhaustKind.FIREPLACE]
    return state.doors is Doors.WORST_CASE and (bool(state.exhausts_on) or not motors)


def is_as_hard(later: HouseState, before: HouseState, house: House) -> bool:
    """Return whether a later state is at least as hard on a vent as an earlier one.

    The worst state is; so is the same state again, every part of it recorded.
    """
    if is_worst_state(later, house):
        return True
    same = (later.doors, later.air_handler, later.exhausts_on, later.fires_lit) == (
        before.doors,
        before.air_handler,
        before.exhausts_on,
        before.fires_lit,
    )
    known = "unknown" not in (later.doors, later.air_handler) and None not in (later.exhausts_on, later.fires_lit)
    return same and known


def last_change(house: House, affects: frozenset[Affects] = CHANGES_PRESSURE) -> float:
    """Return when works that affect any of these last ended [s], minus infinity if never."""
    times = [
        change.ends if change.ends is not None else change.time
        for change in house.changes
        if affects & set(change.affects)
    ]
    return max(times, default=float("-inf"))


def readings_of(visits: tuple[Visit, ...], key: str, place: str | None = None) -> list[tuple[Visit, Reading]]:
    """Return the measured readings of a key with their visits, oldest first."""
    found = [(visit, reading) for visit in visits for reading in visit.find(key, place) if reading.estimate is not None]
    return sorted(found, key=lambda pair: pair[1].time)


def in_order(visits: tuple[Visit, ...]) -> tuple[Visit, ...]:
    """Return visits oldest first."""
    return tuple(sorted(visits, key=lambda one: one.time))
