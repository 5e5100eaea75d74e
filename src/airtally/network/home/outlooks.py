"""Rooms and appliance zones with each measure: the house's lean, doors shut, and the worst state found for each burner."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from airtally.arrays import Floats
from airtally.estimates import Estimate
from airtally.house.measure_kinds import MeasureKind
from airtally.network.home.calibrate import Calibrated
from airtally.network.home.house_network import AirState, burning_zones, fires_of
from airtally.network.home.plans import Plan
from airtally.network.home.pressures import deepest_states, estimate_of, state_words
from airtally.network.home.solved import Solved
from airtally.network.home.works import AS_FOUND, Works
from airtally.visits.parts import HandlerMode


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneOutlook:
    """One appliance zone in the worst state found for it with a plan done; changes from every fan off. [Pa]

    Attributes
    ----------
    plan, works : str
        Id of the plan and its name.
    zone : str
    with_fire : bool
        Whether the open fires burn; the standard test shuts them.
    state : str
        In words.
    pressure, as_found : Estimate
        Zone minus outdoors with the plan, and without it in its own worst state.
    added : Estimate
        The one less the other, draw by draw: below zero the plan deepens the suction.
    """

    plan: str
    works: str
    zone: str
    with_fire: bool
    state: str
    pressure: Estimate
    as_found: Estimate
    added: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomOutlook:
    """House and rooms with a plan done, the air handler on its first speed; changes from every fan off. [Pa]

    ``house`` is the main body against outdoors, doors open; ``rooms`` each side room against the main body, doors shut.
    """

    plan: str
    works: str
    house: Estimate
    rooms: tuple[tuple[str, Estimate], ...]


def room_outlooks(calibrated: Calibrated, plans: tuple[Plan, ...]) -> tuple[RoomOutlook, ...]:
    """Return house and rooms with each plan that moves a pressure; empty without an air handler whose flow is known."""
    layout = calibrated.network.layout
    if not layout.mode_flow:
        return ()
    main, mode = layout.main, layout.mode_flow[0][0]
    states = (AirState(handler=mode), AirState(handler=mode, shut=frozenset(layout.side_rooms)))
    (rest,) = calibrated.solve((AirState(),))
    found = []
    for plan in plans:
        if plan.works == AS_FOUND:
            continue
        open_doors, shut = calibrated.solve(states, plan.works)
        rooms = {room: shut.pressure(room) - shut.pressure(main) for room in layout.side_rooms}
        found.append(
            RoomOutlook(
                plan=plan.id,
                works=plan.name,
                house=estimate_of(open_doors.pressure(main) - rest.pressure(main), "Pa"),
                rooms=tuple((room, estimate_of(pressure, "Pa")) for room, pressure in rooms.items()),
            )
        )
    return tuple(found)


def zone_outlooks(calibrated: Calibrated, plans: tuple[Plan, ...]) -> tuple[ZoneOutlook, ...]:
    """Return every zone with a burner, and with fires lit every zone with a fire too, with each plan that moves a pressure.

    A fan that circulates all day makes its own state the usual one: it is held against the handler at rest.
    """
    layout = calibrated.network.layout
    fires = fires_of(layout)
    burners = {appliance.zone for appliance in layout.appliances}
    (rest,) = calibrated.solve((AirState(),))
    found = []
    for with_fire in (False, True) if fires else (False,):
        zones = tuple(zone for zone in burning_zones(layout) if with_fire or zone in burners)
        look = partial(_suctions, calibrated, rest, zones, with_fire=with_fire)
        today = look()
        for plan in plans:
            before, modes = today, tuple[HandlerMode, ...]()
            if plan.kinds == (MeasureKind.CONTINUOUS_FAN,):
                before, modes = look(modes=(HandlerMode.OFF,)), _circulating(calibrated)
            elif plan.works == AS_FOUND:
                continue
            found += [
                ZoneOutlook(
                    plan=plan.id,
                    works=plan.name,
                    zone=zone,
                    with_fire=with_fire,
                    state=state_words(state, zone, fires),
                    pressure=estimate_of(pressure, "Pa"),
                    as_found=estimate_of(before[zone][1], "Pa"),
                    added=estimate_of(pressure - before[zone][1], "Pa"),
                )
                for zone, (state, pressure) in look(works=plan.works, modes=modes).items()
            ]
    return tuple(found)


def _suctions(
    calibrated: Calibrated,
    rest: Solved,
    zones: tuple[str, ...],
    *,
    with_fire: bool,
    works: Works = AS_FOUND,
    modes: tuple[HandlerMode, ...] = (),
) -> dict[str, tuple[AirState, Floats]]:
    """Return each zone's worst state and its pressure there less that with every fan off and doors open, over the draws."""
    states = deepest_states(calibrated, zones, with_fire=with_fire, works=works, modes=modes)
    solved = calibrated.solve(tuple(states.values()), works)
    return {
        zone: (state, one.pressure(zone) - rest.pressure(zone))
        for (zone, state), one in zip(states.items(), solved, strict=True)
    }


def _circulating(calibrated: Calibrated) -> tuple[HandlerMode, ...]:
    modes = [mode for mode, _ in calibrated.network.layout.mode_flow]
    return (HandlerMode.CIRCULATE,) if HandlerMode.CIRCULATE in modes else tuple(modes[:1])
