"""What an instrument sees: the true level at its place as a linear sum of rooms, outdoors and buffer spaces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.errors import InputError
from airtally.house.parts import AirSide
from airtally.tally.duct import Duct, duct_of
from airtally.tally.house_air import HouseAir


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Level at a place = zones . rooms + drivers . outdoors and buffers, by draw, state and species.

    NaN where the place cannot be seen: a duct while the fan is off.
    """

    zones: Floats
    """(D, S, C, Z) weight of each zone. [-]"""
    drivers: Floats
    """(D, S, C, R) weight of each driver. [-]"""
    needs_fan: bool
    """Whether the place shows house air only while the fan runs."""


def view_of(house_air: HouseAir, side: AirSide, *, zone: int | None = None, driver_count: int = 1) -> View:
    """Return what an instrument on the given air side sees.

    Parameters
    ----------
    house_air : HouseAir
        The house.
    side : AirSide
        Room (with ``zone``, or all rooms by volume), outdoor, return before filter, after filter, supply.
    zone : int, optional
        Index of the room.
    driver_count : int
        Drivers R; at least one more than the largest leak driver is kept.

    Raises
    ------
    InputError
        For a place on equipment, or a zone that does not exist.

    Notes
    -----
    Before the filter: rooms, leaks ahead of the filter and ducted outdoor air, mixed, ahead of the on-duct
    cleaner. After the filter, and in the supply: C = (1 - f)(1 - eta) C_return + f C_leak, leaks behind the
    filter included. Source: mixing balance, common practice.
    """
    largest = int(house_air.leak_driver.max()) if len(house_air.leak_driver) else 0
    count = max(driver_count, largest + 1)
    draws, states, species = house_air.draw_count, house_air.state_count, house_air.species_count
    if zone is not None and not 0 <= zone < house_air.zone_count:
        raise InputError(f"zone {zone} does not exist; the house has {house_air.zone_count}")
    if side in (AirSide.ROOM, AirSide.OUTDOOR):
        zones = np.zeros((draws, states, species, house_air.zone_count))
        drivers = np.zeros((draws, states, species, count))
        if side is AirSide.OUTDOOR:
            drivers[..., 0] = 1.0
        elif zone is None:
            zones[:] = (house_air.volume / house_air.volume.sum(axis=1, keepdims=True))[:, None, None, :]
        else:
            zones[..., zone] = 1.0
        return View(zones=zones, drivers=drivers, needs_fan=False)
    if side not in (AirSide.RETURN_BEFORE_FILTER, AirSide.AFTER_FILTER, AirSide.SUPPLY):
        raise InputError(f"an instrument on {side.value} sees no house air")
    by_fan = _duct_view(house_air, duct_of(house_air), count, is_before=side is AirSide.RETURN_BEFORE_FILTER)
    return View(zones=_by_state(by_fan[0], house_air), drivers=_by_state(by_fan[1], house_air), needs_fan=True)


def sensor_map(
    house_air: HouseAir,
    side: AirSide,
    *,
    zone: int | None = None,
    driver_over_room: Floats | None = None,
    zone_over_room: Floats | None = None,
) -> Floats:
    """Return the true level at an instrument over the room mean, (D, S, C), in [-].

    Parameters
    ----------
    house_air, side, zone
        As in :func:`view_of`.
    driver_over_room : array (..., C, R), optional
        Outdoors and buffer spaces over the room mean; nothing comes from them where not given. [-]
    zone_over_room : array (..., C, Z), optional
        Zones over the room mean (volume-weighted); even rooms where not given. [-]

    Notes
    -----
    NaN for a duct while the fan is off. The instrument's own gain is not in it.
    """
    species = house_air.species_count
    outside = np.zeros((species, 1)) if driver_over_room is None else np.asarray(driver_over_room, dtype=float)
    rooms = np.ones((species, house_air.zone_count)) if zone_over_room is None else np.asarray(zone_over_room)
    view = view_of(house_air, side, zone=zone, driver_count=outside.shape[-1])
    padded = np.zeros((*outside.shape[:-1], view.drivers.shape[-1]))
    padded[..., : outside.shape[-1]] = outside
    seen = np.einsum("dscz,...cz->dsc", view.zones, np.broadcast_to(rooms, (*rooms.shape[:-2], *view.zones.shape[2:])))
    return np.asarray(seen + np.einsum("dscr,...cr->dsc", view.drivers, padded))


def _duct_view(house_air: HouseAir, duct: Duct, count: int, *, is_before: bool) -> tuple[Floats, Floats]:
    """Return weights (D, F, C, Z) and (D, F, C, R) of the air in the duct; NaN where it does not move."""
    draws, fans, zones = duct.room_return.shape
    species = house_air.species_count
    rooms = np.broadcast_to(duct.room_return[:, :, None, :], (draws, fans, species, zones)).copy()
    outside = np.zeros((draws, fans, species, count))
    own = 1.0 - np.array(house_air.ventilation_efficiency, dtype=float)
    own[:, :, -1] = 1.0
    outside[..., 0] = np.einsum("dfv,dvc->dfc", duct.ducted_outdoor, own)
    behind = np.zeros_like(outside)
    for leak, driver in enumerate(house_air.leak_driver):
        target = outside if house_air.leak_before_filter[leak] else behind
        target[..., driver] += duct.leak_flow[:, :, leak, None]
    flow = duct.filter_flow
    if not is_before:
        rooms *= duct.passage[..., None]
        outside = outside * duct.passage[..., None] + behind
        flow = house_air.handler_flow
    moving = np.where(flow > 0.0, flow, np.nan)[:, :, None, None]
    return rooms / moving, outside / moving


def _by_state(by_fan: Floats, house_air: HouseAir) -> Floats:
    """Repeat (D, F, C, X) over weather levels and openings to (D, S, C, X)."""
    conditions = house_air.weather_count * house_air.opening_count
    return np.tile(by_fan, (1, conditions, 1, 1))
