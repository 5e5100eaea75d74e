"""The slow second method: flow by flow in plain Python, integrated by SciPy; shares no code with the engine."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.integrate import solve_ivp

from airtally.house.parts import VentilationKind
from airtally.tally.house_air import HouseAir


def derivative(  # noqa: C901 - one flow after another, on purpose
    house: HouseAir, *, draw: int, weather: int, opening: int, fan: int, species: int
) -> Callable[[np.ndarray, np.ndarray, np.ndarray], np.ndarray]:
    """Return f(concentration (Z,), drivers (R,), emission (Z,)) -> dC/dt, from the words of the contract."""
    zones = house.zone_count
    is_gas = species == house.species_count - 1
    volume = house.volume[draw]
    handler = house.handler_flow[draw, fan]
    leaks = house.return_leak[draw] * handler
    eta = 0.0 if is_gas else house.filter_efficiency[draw, species]
    penetration = 1.0 if is_gas else house.penetration[draw, species]
    vents = house.ventilation_flow[draw] * house.ventilation_runs[:, fan]
    is_ducted = [
        zone == -1 and kind is not VentilationKind.EXHAUST
        for zone, kind in zip(house.ventilation_zone, house.ventilation_kind, strict=True)
    ]
    ducted = float(sum(vents[is_ducted]))
    room_side = handler - leaks.sum()
    through = min(ducted, room_side)
    through_share = through / ducted if ducted > 0 else 0.0
    from_rooms = (room_side - through) * house.return_share[draw]
    at_filter = from_rooms.sum() + leaks[house.leak_before_filter].sum() + through

    passes = 1.0 - eta
    for unit in range(len(house.cleaner_zone)):
        if house.cleaner_zone[unit] == -1 and at_filter > 0 and not is_gas:
            q, e = house.cleaner_flow[draw, unit], house.cleaner_efficiency[draw, unit, species]
            r = max(house.cleaner_recirculated[draw, unit], 1.0 - at_filter / q)
            passes *= 1.0 - house.cleaner_runs[unit, fan] * q * e * (1 - r) / (1 - r * (1 - e)) / at_filter

    # A fan without a match keeps out half its flow of what comes in by itself, at most all of it; an exhaust
    # draws in the rest of its own through the same leaks.
    leaky = house.infiltration[draw, weather]
    inward = leaks.sum() + sum(f for f, k in zip(vents, house.ventilation_kind, strict=True) if k == "supply")
    exhausts = sum(f for f, k in zip(vents, house.ventilation_kind, strict=True) if k == "exhaust")
    lost = house.supply_leak[draw]
    net_fan = inward - exhausts - lost * (handler + ducted - through)
    cracks = max(leaky.sum() - net_fan / 2.0, -net_fan, 0.0)
    drawn_in = min(max(-net_fan, 0.0), exhausts) * leaky / leaky.sum()
    natural = cracks * leaky / leaky.sum() - drawn_in

    def rate(concentration: np.ndarray, drivers: np.ndarray, emission: np.ndarray) -> np.ndarray:  # noqa: C901
        change = np.array(emission, dtype=float)
        net = np.zeros(zones)
        entered = natural + house.other_outdoor_flow[draw, opening]
        change += (natural + drawn_in) * penetration * drivers[0]
        net += drawn_in
        change += house.other_outdoor_flow[draw, opening] * drivers[0]
        change -= entered * concentration
        duct_load = float(from_rooms @ concentration)
        for leak, flow in enumerate(leaks):
            if house.leak_before_filter[leak]:
                duct_load += flow * drivers[house.leak_driver[leak]]
        supply = house.supply_share[draw] * (1.0 - lost)
        drawn = from_rooms.copy()
        net += handler * supply
        behind = spilled = 0.0
        for leak, flow in enumerate(leaks):
            if not house.leak_before_filter[leak]:
                behind += flow * drivers[house.leak_driver[leak]]
        for v, kind in enumerate(house.ventilation_kind):
            own = 1.0 if is_gas else 1.0 - house.ventilation_efficiency[draw, v, species]
            zone, flow = int(house.ventilation_zone[v]), vents[v]
            if is_ducted[v]:
                duct_load += flow * through_share * own * drivers[0]
                spilled += flow * (1 - through_share) * own * drivers[0]
                net += flow * (1 - through_share) * supply
            elif kind is not VentilationKind.EXHAUST:
                change[zone] += flow * own * drivers[0]
                net[zone] += flow
            if kind is not VentilationKind.SUPPLY:
                drawn += flow * (house.return_share[draw] if zone == -1 else np.eye(zones)[zone])
        change += supply * (duct_load * passes + behind + spilled)
        change -= drawn * concentration
        net -= drawn
        gives, wants = np.clip(net, 0, None), np.clip(-net, 0, None)
        short = max(wants.sum() - gives.sum(), 0.0)
        for i in range(zones):
            stays = natural[i] / natural.sum() * short if short else 0.0
            for j in range(zones):
                part = wants[j] / wants.sum() if wants.sum() > 0 else 0.0
                moved = gives[i] * part * min(1.0, wants.sum() / gives.sum()) if gives.sum() > 0 else 0.0
                moved += stays * part + house.door_flow[draw, fan, i, j]
                change[i] -= moved * concentration[i]
                change[j] += moved * concentration[i]
            leaving = gives[i] * (1 - min(wants.sum() / gives.sum(), 1.0)) if gives.sum() > 0 else 0.0
            change[i] -= (leaving - stays) * concentration[i]
        if not is_gas:
            change -= house.settling[draw, fan, species] * volume * concentration
            for unit, zone in enumerate(house.cleaner_zone):
                if zone >= 0:
                    q, e = house.cleaner_flow[draw, unit], house.cleaner_efficiency[draw, unit, species]
                    r = house.cleaner_recirculated[draw, unit]
                    clean = house.cleaner_runs[unit, fan] * q * e * (1 - r) / (1 - r * (1 - e))
                    change[zone] -= clean * concentration[zone]
        return change / volume

    return rate


def integrate(
    house: HouseAir,
    *,
    draw: int,
    species: int,
    states: np.ndarray,
    drivers: np.ndarray,
    emissions: np.ndarray,
    dt: float,
) -> tuple[np.ndarray, np.ndarray]:
    """Integrate step by step with DOP853 at rtol 1e-12; return ends (T, Z) and the time integral (Z,)."""
    zones = house.zone_count
    now = np.zeros(2 * zones)
    ends = []
    for t, state in enumerate(states):
        condition, fan = divmod(int(state), 3)
        weather, opening = divmod(condition, house.opening_count)
        law = derivative(house, draw=draw, weather=weather, opening=opening, fan=fan, species=species)
        x, e = drivers[t, species], emissions[t, species]
        solved = solve_ivp(
            lambda _, y, law=law, x=x, e=e: np.concatenate([law(y[:zones], x, e), y[:zones]]),
            (0.0, dt),
            now,
            method="DOP853",
            rtol=1e-12,
            atol=1e-22,
        )
        now = solved.y[:, -1]
        ends.append(now[:zones].copy())
    return np.array(ends), now[zones:]
