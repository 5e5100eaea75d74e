"""The return duct while the fan runs: who is drawn, in which order the air is cleaned, what is left.

Order along the air: room returns, leaks ahead of the filter and ducted outdoor air; the on-duct
cleaner; the filter; leaks behind the filter; blower; supplies. So the cleaner is named for what it
takes, and the filter for what it takes of the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats, Number
from airtally.house.parts import VentilationKind
from airtally.tally.house_air import ON_RETURN_DUCT, HouseAir


def clean_air(flow: Number, efficiency: Number, recirculated: Number) -> Number:
    """Return the clean air of a cleaner that draws part of its own discharge again, in [m3/s].

    Parameters
    ----------
    flow : float or array
        q, flow of its own fan. [m3/s]
    efficiency : float or array
        eta, single pass. [-]
    recirculated : float or array
        r, share of its intake that is its own discharge. [-]

    Notes
    -----
    q eta (1 - r) / (1 - r (1 - eta)), from the balance around the loop; nothing is removed at r = 1.
    Valid: one well-mixed intake. NaN: travels.
    Checked against: q 250, eta 0.5, r 0.1 ... 0.9 -> 118.4 ... 22.7 (derived table of the trade check values).
    """
    passed = 1.0 - np.asarray(recirculated) * (1.0 - np.asarray(efficiency))
    divisor = np.where(passed > 0.0, passed, 1.0)
    cleaned = np.asarray(flow) * efficiency * (1.0 - np.asarray(recirculated)) / divisor
    return np.asarray(np.where(passed == 0.0, 0.0, cleaned), dtype=float)


@dataclass(frozen=True, slots=True, kw_only=True)
class Duct:
    """Flows and passages of the return duct for each draw and fan state."""

    room_return: Floats
    """(D, F, Z) air drawn from each zone, in [m3/s]."""
    leak_flow: Floats
    """(D, F, L) air drawn through each leak, in [m3/s]."""
    ducted_outdoor: Floats
    """(D, F, V) outdoor air that a ventilation fan brings to the return duct, in [m3/s]."""
    spilled_outdoor: Floats
    """(D, F, V) ducted outdoor air that the handler does not take; it leaves through the supplies, in [m3/s]."""
    filter_flow: Floats
    """(D, F) air through the filter, in [m3/s]."""
    cleaner_passage: Floats
    """(D, F, C) share that survives the on-duct cleaners, in [-]."""
    filter_passage: Floats
    """(D, F, C) share that survives the filter, in [-]."""

    @property
    def passage(self) -> Floats:
        """(D, F, C) share of the returned air's load that comes back to the rooms, in [-]."""
        return self.cleaner_passage * self.filter_passage


def duct_of(house_air: HouseAir) -> Duct:
    """Return the flows and passages of the return duct.

    Notes
    -----
    Room return is handler flow less leaks less ducted outdoor air; where ducted outdoor air exceeds what
    the handler can take, the rest leaves through the supplies unfiltered. A loop that draws more than
    the duct carries draws its own air again: r is at least 1 - Q/q, so its clean air never exceeds Q and
    is zero with the handler off.
    Source: balance of the duct, derived; series form Q [1 - (1 - eta_b q/Q) (1 - eta_f)].
    """
    handler = house_air.handler_flow[:, :, None]
    leak_flow = house_air.return_leak[:, None, :] * handler
    room_side = np.maximum(handler[:, :, 0] - leak_flow.sum(axis=2), 0.0)
    offered = _ducted_supply(house_air)
    total = offered.sum(axis=2)
    share = np.minimum(1.0, np.divide(room_side, total, out=np.ones_like(total), where=total > 0.0))
    ducted = offered * share[:, :, None]
    from_rooms = np.maximum(room_side - ducted.sum(axis=2), 0.0)
    ahead = leak_flow[:, :, house_air.leak_before_filter].sum(axis=2)
    filter_flow = from_rooms + ahead + ducted.sum(axis=2)
    filter_passage = np.repeat(1.0 - house_air.filter_efficiency[:, None, :], handler.shape[1], axis=1)
    filter_passage[:, :, -1] = 1.0
    return Duct(
        room_return=from_rooms[:, :, None] * house_air.return_share[:, None, :],
        leak_flow=leak_flow,
        ducted_outdoor=ducted,
        spilled_outdoor=offered - ducted,
        filter_flow=filter_flow,
        cleaner_passage=_cleaner_passage(house_air, filter_flow),
        filter_passage=filter_passage,
    )


def running_ventilation(house_air: HouseAir) -> Floats:
    """Return the mean outdoor air of each ventilation fan by fan state, (D, F, V), in [m3/s]."""
    return house_air.ventilation_flow[:, None, :] * house_air.ventilation_runs.T[None, :, :]


def _ducted_supply(house_air: HouseAir) -> Floats:
    flow = running_ventilation(house_air)
    for fan, kind in enumerate(house_air.ventilation_kind):
        if house_air.ventilation_zone[fan] != ON_RETURN_DUCT or kind is VentilationKind.EXHAUST:
            flow[:, :, fan] = 0.0
    return flow


def _cleaner_passage(house_air: HouseAir, filter_flow: Floats) -> Floats:
    draws, states = filter_flow.shape
    passage = np.ones((draws, states, house_air.species_count))
    carried = np.where(filter_flow > 0.0, filter_flow, 1.0)[:, :, None]
    for unit in np.flatnonzero(np.asarray(house_air.cleaner_zone) == ON_RETURN_DUCT):
        flow = house_air.cleaner_flow[:, None, unit, None]
        drawn = np.where(flow > 0.0, flow, 1.0)
        own = np.where(flow > 0.0, 1.0 - filter_flow[:, :, None] / drawn, 0.0)
        again = np.maximum(house_air.cleaner_recirculated[:, None, unit, None], own)
        cleaned = clean_air(flow, house_air.cleaner_efficiency[:, None, unit, :], again)
        share = house_air.cleaner_runs[unit][None, :, None] * cleaned / carried
        passage *= 1.0 - np.where(filter_flow[:, :, None] > 0.0, share, 0.0)
    passage[:, :, -1] = 1.0
    return passage
