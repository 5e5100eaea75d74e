"""From a house to the linear law of its air: rates, sinks and inlets for every draw, state and species."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.house.parts import VentilationKind
from airtally.physics.infiltration.superposition import through_cracks
from airtally.tally.duct import Duct, clean_air, duct_of, running_ventilation
from airtally.tally.house_air import ON_RETURN_DUCT, HouseAir

SINKS = ("air_exchange", "settling", "filter", "cleaner", "portable")
"""Names along the sink axis K."""
AIR_EXCHANGE, SETTLING, FILTER, CLEANER, PORTABLE = range(len(SINKS))


@dataclass(frozen=True, slots=True, kw_only=True)
class Coefficients:
    """dC/dt = rate C + sum over paths of gain x driver + emission / volume.

    Axes: D draws, S states, C species, Z zones, K sinks, P inlet paths. Removal by a sink in a zone is
    sink x volume x concentration; what filter and on-duct cleaner take is booked to the zone the air was
    drawn from. An inlet is booked as it enters the rooms: leak air after the filter, where it passes it.
    """

    rate: Floats
    """(D, S, C, Z, Z) row zone gains from column zone, in [1/s]."""
    sinks: Floats
    """(D, S, C, K, Z) removal of each named sink, in [1/s]."""
    gains: Floats
    """(D, S, C, P, Z) gain of each zone from the driver of each path, in [1/s]."""
    volume: Floats
    """(D, Z) [m3]"""
    path_driver: Integers
    """(P,) index of the driver behind each path."""
    path_names: tuple[str, ...]
    """(P,) name of each path."""
    opening_count: int
    """Number of other outdoor openings in the state index."""
    sink_names: tuple[str, ...] = SINKS

    def take(self, draws: Integers | Sequence[int] | slice) -> Coefficients:
        """Return the coefficients of the chosen draws."""
        chosen = draws if isinstance(draws, slice) else np.asarray(draws, dtype=np.int64)
        return replace(
            self, rate=self.rate[chosen], sinks=self.sinks[chosen], gains=self.gains[chosen], volume=self.volume[chosen]
        )

    def species(self, chosen: Sequence[int] | slice) -> Coefficients:
        """Return the coefficients of the chosen species, for work that needs no CO2 or one class only."""
        picked = chosen if isinstance(chosen, slice) else list(chosen)
        return replace(
            self, rate=self.rate[:, :, picked], sinks=self.sinks[:, :, picked], gains=self.gains[:, :, picked]
        )

    def total_loss(self) -> Floats:
        """Return removal over mass in the rooms where all zones stand at one level, (D, S, C), in [1/s]."""
        share = self.volume / self.volume.sum(axis=1, keepdims=True)
        return np.asarray(np.einsum("dsckz,dz->dsc", self.sinks, share))


def coefficients(house_air: HouseAir) -> Coefficients:
    """Return the linear law of a house's air.

    Volume flow closes in every zone: what supplies and fans bring beyond what returns and fans draw flows
    through the house to zones that draw more than they get, in proportion, and the rest leaves outdoors.
    Infiltration leaves from the zone it entered. What fans bring in or take out without a match is leant on
    the leaks of the whole house by halves (:func:`~airtally.physics.infiltration.superposition.through_cracks`): it keeps out
    half its flow of natural infiltration, and an exhaust draws the rest of its own through the envelope
    where infiltration enters, with the envelope's penetration.

    Departs from the source: buffer spaces are drivers and are not changed by the rooms.
    """
    return _assemble(house_air, duct_of(house_air))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ventilated:
    """Outdoor air by leaks (D, W, F, Z) and by fans (D, W, F, V, Z); what fans draw out (D, F, Z)."""

    natural: Floats
    enters: Floats
    drawn: Floats
    through_envelope: tuple[bool, ...]


def _ventilate(house_air: HouseAir, duct: Duct) -> _Ventilated:
    flow = running_ventilation(house_air)
    draws, fans = flow.shape[:2]
    total = house_air.infiltration.sum(axis=2, keepdims=True)
    by_volume = (house_air.volume / house_air.volume.sum(axis=1, keepdims=True))[:, None, :]
    leaky = np.where(total > 0.0, house_air.infiltration / np.where(total > 0.0, total, 1.0), by_volume)
    enters = np.zeros((draws, house_air.weather_count, fans, flow.shape[2], house_air.zone_count))
    drawn = np.zeros((draws, fans, house_air.zone_count))
    exhausted = np.zeros((draws, fans))
    for fan, kind in enumerate(house_air.ventilation_kind):
        zone = int(house_air.ventilation_zone[fan])
        if kind is not VentilationKind.SUPPLY:
            if zone == ON_RETURN_DUCT:
                drawn += flow[:, :, fan, None] * house_air.return_share[:, None, :]
            else:
                drawn[:, :, zone] += flow[:, :, fan]
        if kind is VentilationKind.EXHAUST:
            exhausted += flow[:, :, fan]
        elif zone != ON_RETURN_DUCT:
            enters[:, :, :, fan, zone] = flow[:, None, :, fan]
    pushed = _supplied(house_air, duct) - duct.room_return.sum(axis=2)
    unbalanced = pushed + enters[:, 0].sum(axis=(2, 3)) - drawn.sum(axis=2)
    cracks = through_cracks(total, unbalanced[:, None, :])
    for_exhausts = np.clip(-unbalanced, 0.0, exhausted)
    share = np.divide(for_exhausts, exhausted, out=np.zeros_like(exhausted), where=exhausted > 0.0)
    for fan, kind in enumerate(house_air.ventilation_kind):
        if kind is VentilationKind.EXHAUST:
            enters[:, :, :, fan] = (flow[:, :, fan] * share)[:, None, :, None] * leaky[:, :, None, :]
    return _Ventilated(
        natural=np.maximum(cracks - for_exhausts[:, None, :], 0.0)[..., None] * leaky[:, :, None, :],
        enters=enters,
        drawn=drawn,
        through_envelope=tuple(kind is VentilationKind.EXHAUST for kind in house_air.ventilation_kind),
    )


def _supplied(house_air: HouseAir, duct: Duct) -> Floats:
    """Return what the supply ducts bring to the rooms, their own losses taken off, (D, F), in [m3/s]."""
    kept = (1.0 - np.asarray(house_air.supply_leak))[:, None]
    return np.asarray((house_air.handler_flow + duct.spilled_outdoor.sum(axis=2)) * kept)


def _transfer(house_air: HouseAir, duct: Duct, ventilated: _Ventilated) -> tuple[Floats, Floats]:
    """Return flows between zones (D, W, F, Z, Z) and outdoors (D, W, F, Z) that close the fans' flows, in [m3/s].

    Where ducts draw more from the rooms than they and the fans bring, the rest comes from what leaks into each
    zone, which then leaves outdoors by so much less.
    """
    supplied = _supplied(house_air, duct)[:, :, None] * house_air.supply_share[:, None, :]
    surplus = (supplied - duct.room_return - ventilated.drawn)[:, None] + ventilated.enters.sum(axis=3)
    gives, wants = np.maximum(surplus, 0.0), np.maximum(-surplus, 0.0)
    given, wanted = gives.sum(axis=3, keepdims=True), wants.sum(axis=3, keepdims=True)
    per_given = np.divide(1.0, given, out=np.zeros_like(given), where=given > 0.0)
    between = gives[..., :, None] * (wants * per_given)[..., None, :]
    outdoors = gives * np.maximum(1.0 - wanted * per_given, 0.0)
    short = np.maximum(wanted - given, 0.0)
    per_wanted = np.divide(1.0, wanted, out=np.zeros_like(wanted), where=wanted > 0.0)
    leaks = ventilated.natural
    all_leaks = leaks.sum(axis=3, keepdims=True)
    leaky = np.divide(leaks, all_leaks, out=np.zeros_like(leaks), where=all_leaks > 0.0)
    # What zones give is shared by those that want it; of what is missing each takes its part.
    between = between * np.where(wanted > given, given * per_wanted, 1.0)[..., None]
    between = between + leaky[..., :, None] * (wants * short * per_wanted)[..., None, :]
    return between, outdoors - leaky * short


def _assemble(house_air: HouseAir, duct: Duct) -> Coefficients:
    ventilated = _ventilate(house_air, duct)
    between, outdoors = _transfer(house_air, duct, ventilated)
    between = between + house_air.door_flow[:, None]
    draws, weathers, fans, zones = outdoors.shape
    openings, species = house_air.opening_count, house_air.species_count
    shape = (draws, weathers, openings, fans, species)
    volume = np.asarray(house_air.volume, dtype=float)

    entered = ventilated.natural[:, :, None] + house_air.other_outdoor_flow[:, None, :, None, :]
    exchange = np.maximum(
        entered + (outdoors + ventilated.drawn[:, None])[:, :, None], 0.0
    )  # rounding can leave -1e-20
    in_rooms, in_duct = _room_removal(house_air), _duct_removal(duct)
    sinks = np.broadcast_to((in_rooms + in_duct)[:, None, None], (*shape, len(SINKS), zones)).copy()
    sinks[..., AIR_EXCHANGE, :] += exchange[..., None, :]
    sinks /= volume[:, None, None, None, None, None, :]

    returned = duct.room_return[:, :, None, :] * duct.passage[:, :, :, None]
    kept = (1.0 - np.asarray(house_air.supply_leak))[:, None, None, None]
    sinks[..., AIR_EXCHANGE, :] += (returned * (1.0 - kept))[:, None, None] / volume[:, None, None, None, None, :]
    returned = returned * kept
    by_duct = returned[..., :, None] * house_air.supply_share[:, None, None, None, :]
    flow = between[:, :, None, :, None] + by_duct[:, None, None]
    flow = np.swapaxes(np.broadcast_to(flow, (*shape, zones, zones)), -1, -2).copy()
    leaves = in_rooms.sum(axis=3) + duct.room_return[:, :, None, :]
    leaves = leaves[:, None, None] + (exchange + between.sum(axis=-1)[:, :, None])[..., None, :]
    diagonal = np.arange(zones)
    flow[..., diagonal, diagonal] -= leaves
    flow /= volume[:, None, None, None, None, :, None]

    gains, drivers, names = _gains(house_air, duct, ventilated)
    states = house_air.state_count
    return Coefficients(
        rate=flow.reshape(draws, states, species, zones, zones),
        sinks=sinks.reshape(draws, states, species, len(SINKS), zones),
        gains=gains.reshape(draws, states, species, len(names), zones),
        volume=volume,
        path_driver=drivers,
        path_names=names,
        opening_count=openings,
    )


def _room_removal(house_air: HouseAir) -> Floats:
    """Return removal inside the rooms by settling and room cleaners, (D, F, C, K, Z), in [m3/s]."""
    draws, fans, species = house_air.settling.shape
    removal = np.zeros((draws, fans, species, len(SINKS), house_air.zone_count))
    removal[:, :, :, SETTLING] = house_air.settling[:, :, :, None] * house_air.volume[:, None, None, :]
    for unit, zone in enumerate(house_air.cleaner_zone):
        if zone == ON_RETURN_DUCT:
            continue
        again = house_air.cleaner_recirculated[:, unit, None]
        cleaned = clean_air(house_air.cleaner_flow[:, unit, None], house_air.cleaner_efficiency[:, unit], again)
        sink = PORTABLE if house_air.cleaner_is_portable[unit] else CLEANER
        removal[:, :, :, sink, zone] += house_air.cleaner_runs[unit][None, :, None] * np.asarray(cleaned)[:, None, :]
    removal[:, :, -1] = 0.0
    return removal


def _duct_removal(duct: Duct) -> Floats:
    """Return what the on-duct cleaner and then the filter take of room air, (D, F, C, K, Z), in [m3/s]."""
    drawn = duct.room_return[:, :, None, :]
    removal = np.zeros((*duct.passage.shape, len(SINKS), drawn.shape[-1]))
    removal[:, :, :, CLEANER] = drawn * (1.0 - duct.cleaner_passage)[..., None]
    removal[:, :, :, FILTER] = drawn * (duct.cleaner_passage * (1.0 - duct.filter_passage))[..., None]
    return removal


def _gains(house_air: HouseAir, duct: Duct, ventilated: _Ventilated) -> tuple[Floats, Integers, tuple[str, ...]]:
    """Return gains (D, W, O, F, C, P, Z) [1/s], the driver of each path and its name."""
    leak_count, fan_count = len(house_air.leak_driver), len(house_air.ventilation_kind)
    names = (
        "infiltration",
        *(f"return leak {leak + 1}" for leak in range(leak_count)),
        *(f"ventilation {fan + 1}" for fan in range(fan_count)),
        "window",
    )
    drivers = np.zeros(len(names), dtype=np.int64)
    drivers[1 : 1 + leak_count] = house_air.leak_driver
    draws, weathers, fans, _, zones = ventilated.enters.shape
    shape = (draws, weathers, house_air.opening_count, fans, house_air.species_count, len(names), zones)
    gains = np.zeros(shape)
    penetration = np.array(house_air.penetration, dtype=float)
    penetration[:, -1] = 1.0
    own_passage = 1.0 - np.array(house_air.ventilation_efficiency, dtype=float)
    own_passage[:, :, -1] = 1.0
    envelope = penetration[:, None, None, None, :, None]
    supply = (house_air.supply_share * (1.0 - np.asarray(house_air.supply_leak))[:, None])[:, None, None, :]
    gains[..., 0, :] = ventilated.natural[:, :, None, :, None, :] * envelope
    for leak in range(leak_count):
        passage = duct.passage if house_air.leak_before_filter[leak] else np.ones_like(duct.passage)
        gains[..., 1 + leak, :] = ((duct.leak_flow[:, :, leak, None] * passage)[..., None] * supply)[:, None, None]
    for fan in range(fan_count):
        own = envelope if ventilated.through_envelope[fan] else own_passage[:, None, None, None, fan, :, None]
        ducted = duct.ducted_outdoor[:, :, fan, None] * duct.passage + duct.spilled_outdoor[:, :, fan, None]
        direct = ventilated.enters[:, :, None, :, None, fan, :]
        gains[..., 1 + leak_count + fan, :] = (direct + (ducted[..., None] * supply)[:, None, None]) * own
    gains[..., -1, :] = house_air.other_outdoor_flow[:, None, :, None, None, :]
    gains /= house_air.volume[:, None, None, None, None, None, :]
    return gains, drivers, names
