"""Fires during which a pressure was logged, and which fires and burners were tested burning at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.estimates import Basis, Estimate
from airtally.house.burners import can_spill, is_fire
from airtally.house.parts import DiaryEntry, ExhaustKind, House
from airtally.network import present
from airtally.quantities import Quantity
from airtally.readings.log import Log
from airtally.safety.carbon_monoxide import USUAL_ENTRY
from airtally.safety.log_series import between
from airtally.safety.places import appliances_now, is_outdoors, zone_of
from airtally.safety.states import readings_of, stale_before
from airtally.visits.parts import Visit

SHORTEST_BURN = 1200.0
"""A pressure log of a fire shorter than this shows nothing of its die-down. [s] Judgement."""
BURN, FIRED = "burn_pressure_change", ("draft", "spillage_time")
"""Readings of visits that were taken through a whole fire, and while an appliance was fired."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Burn:
    """Pressure of one fire: ``start`` of its deepest ten minutes [s], ``change`` and ``as_read`` [Pa].

    ``placement`` is the logger's, or the room that a visit names; ``as_read`` None where only the change was noted.
    """

    placement: str
    start: float
    change: Estimate
    as_read: Estimate | None


def logged_burns(house: House, log: Log) -> tuple[Burn, ...]:
    """Return the fires of the diary during which an indoor pressure against outdoors was logged.

    The deepest running mean of ten minutes counts; its change is taken from the median of the 24 hours around, in
    which fans and fires are mostly off, so that stack and wind drop out.
    """
    burns = []
    fires = [entry for entry in house.diary if _is_fire_entry(entry)]
    for stream in log.find(Quantity.PRESSURE_DIFFERENCE):
        if is_outdoors(house, stream.placement):
            continue
        time, value = log.series(stream)
        for fire in fires:
            end = fire.end if fire.end is not None else fire.start + USUAL_ENTRY
            inside = (time >= fire.start) & (time <= end)
            if np.count_nonzero(inside) < 3 or float(np.ptp(time[inside])) < SHORTEST_BURN:
                continue
            middle = (fire.start + end) / 2.0
            usual = float(np.median(between(time, value, middle - 43200.0, middle + 43200.0)))
            deepest, at = _deepest_mean(time[inside], value[inside], 600.0)
            burns.append(
                Burn(
                    placement=stream.placement,
                    start=at,
                    change=_pressure(deepest - usual, 0.5, "pressure log, change from the day's median"),
                    as_read=_pressure(deepest, 0.3, "pressure log, stack and wind included"),
                )
            )
    return tuple(burns)


def visited_burns(house: House, visits: tuple[Visit, ...]) -> tuple[Burn, ...]:
    """Return the whole fires logged on visits since works last changed the pressures of the house."""
    since = stale_before(house, BURN)
    return tuple(
        Burn(placement=reading.place, start=reading.time, change=reading.estimate, as_read=None)
        for _, reading in readings_of(visits, BURN)
        if reading.estimate is not None and reading.reference == "outdoors" and reading.time >= since
    )


def burns_of(house: House, visits: tuple[Visit, ...], log: Log) -> tuple[Burn, ...]:
    """Return every fire of which the pressure is known, from the log and from visits."""
    return (*logged_burns(house, log), *visited_burns(house, visits))


def fires_tested(house: House, visits: tuple[Visit, ...], log: Log) -> frozenset[str]:
    """Return the ids of the fires and burners that somebody tested burning.

    A fire counts where a burn was logged in its room, or anywhere if it is the only one; a burner where its draft or
    spillage was read since works last moved them.
    """
    hearths = [(one.id, one.zone) for one in appliances_now(house) if is_fire(one)]
    hearths += [(one.id, one.zone) for one in present(house.exhausts) if one.kind is ExhaustKind.FIREPLACE]
    rooms = {zone_of(house, burn.placement) for burn in burns_of(house, visits, log)}
    is_only = len({zone for _, zone in hearths}) == 1
    found = {name for name, zone in hearths if rooms and (zone in rooms or is_only)}
    for one in appliances_now(house):
        if can_spill(one) and any(
            reading.time >= stale_before(house, key) for key in FIRED for _, reading in readings_of(visits, key, one.id)
        ):
            found.add(one.id)
    return frozenset(found)


def _is_fire_entry(entry: DiaryEntry) -> bool:
    words = f"{entry.kind} {entry.text}".casefold()
    return "fire" in words or "stove" in words


def _deepest_mean(time: Floats, value: Floats, width: float) -> tuple[float, float]:
    """Return the lowest mean over a width [s] and where it begins [s]; the plain mean if the series is shorter."""
    last = np.searchsorted(time, time + width, side="left")
    full = np.flatnonzero(time + width <= time[-1] + 1.0)
    if full.size == 0:
        return float(value.mean()), float(time[0])
    total = np.concatenate(([0.0], np.cumsum(value)))
    means = (total[last[full]] - total[full]) / np.maximum(last[full] - full, 1)
    best = int(np.argmin(means))
    return float(means[best]), float(time[full[best]])


def _pressure(value: float, half: float, source: str) -> Estimate:
    return Estimate(value=value, low=value - half, high=value + half, unit="Pa", basis=Basis.MEASURED, source=source)
