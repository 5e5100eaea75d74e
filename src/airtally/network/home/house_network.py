"""A surveyed house as a pressure-flow network: rooms, buffers, doors, ducts, blower, exhausts, in any state.

One set of links serves every state: doors, fans and fires change numbers, never links, so that many states and many
draws of what is not known are solved as one batch.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from airtally.arrays import Floats
from airtally.house.parts import ExhaustKind, House, VentilationKind, ZoneKind
from airtally.network.home.from_survey import newest, present
from airtally.network.home.unknowns import COIL, DOOR_EXPONENT, ORIFICE, TEST_PRESSURE, WET, Layout
from airtally.network.home.walls import Wall, walls_of
from airtally.network.home.works import ADDED_EXHAUST, AS_FOUND, Works, draws_of
from airtally.network.solver.graph import OUTDOORS, FixedFlow, Leak, Link, Network, Node, Resistance
from airtally.parameters import Values
from airtally.physics.air.moist import pressure_at_altitude
from airtally.physics.constants import TRADE_DENSITY
from airtally.physics.ducts.fittings import velocity_pressure
from airtally.physics.leaks.power_law import DUCT_LEAKAGE_EXPONENT
from airtally.visits.parts import HandlerMode, Visit

ROOM_TEMPERATURE = 294.15
"""Air of the rooms where nobody says. [K]"""
OPEN_DOOR_AREA = 1.6
"""A door of 2.0 by 0.8 m. [m2]"""
FILTER_LINEAR = 0.7
"""Part of a filter's drop that goes with the flow, the rest with its square; from memory. [-]"""
DUCT_SHARE = 0.8
"""Flow in a leaky duct over the blower's, for the scale of a duct's resistance only. [-]"""
RETURN, FILTERED, PLENUM = "return plenum", "behind the filter", "supply plenum"
RETURN_TRUNK, SUPPLY_TRUNK = "return trunk", "supply trunk"
"""Half way along the ducts by pressure: where their leaks are taken to lie (0.2 to 1 of the static, judgement)."""
FILTER, BLOWER = "filter", "blower"
RETURN_DUCT, SUPPLY_DUCT = ("return duct, far half", "return duct, near half"), "coil and supply duct, near half"
SHELTER = {1: 1.0, 2: 0.9, 3: 0.7, 4: 0.5, 5: 0.3}
"""Wind at the wall over wind in the open by shelter class, 1 open to 5 heavily sheltered; from memory. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirState:
    """What the house does while its pressures are asked for.

    Attributes
    ----------
    handler : HandlerMode
        Off, or a blower speed.
    shut : frozenset of str
        Rooms whose door to the main body is shut.
    exhausts : frozenset of str
        Exhausts that run; open fires are among them when lit.
    outdoor_temperature, indoor_temperature : float
        Alike, there is no stack. [K]
    wind_speed : float
        In the open, at eave height. [m/s]
    drawn : tuple of (str, float)
        Air that something else takes out of a room that has a fire or burner, or out of the main body; negative where
        it is brought in. [m3/s]
    """

    handler: HandlerMode = HandlerMode.OFF
    shut: frozenset[str] = frozenset()
    exhausts: frozenset[str] = frozenset()
    outdoor_temperature: float = ROOM_TEMPERATURE
    indoor_temperature: float = ROOM_TEMPERATURE
    wind_speed: float = 0.0
    drawn: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """Numbers of one link for N cases, or in S states for N cases: two of its law and the lift. Each shape (N,) or (S, N)."""

    first: Floats
    second: Floats
    lift: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseNetwork:
    """The links of a house and how their numbers follow from unknowns, state and works.

    ``frame`` holds nodes and links with placeholder numbers; :meth:`standing_terms` and :meth:`moving_terms` fill them in.
    """

    layout: Layout
    frame: Network
    walls: tuple[Wall, ...]
    shelter: float
    """Wind at the walls over wind in the open. [-]"""
    ventilation: tuple[tuple[str, VentilationKind, float], ...]
    leak_zones: dict[str, str] = field(default_factory=dict)
    """Where each duct leak draws from or blows to."""

    def standing_terms(self, values: Values, wind_speed: float, works: Works = AS_FOUND) -> dict[str, Terms]:
        """Return the numbers of the links that only wind [m/s] and works alter, each shape (N,)."""
        zero = np.zeros(values.count)
        found: dict[str, Terms] = {}
        self._envelope(values, wind_speed, works, found)
        for name, _, flow_of_fan in self.ventilation:
            found[name] = Terms(first=zero + flow_of_fan, second=zero, lift=zero)
        found["supply air"] = Terms(first=draws_of(works.supply_air, values.count), second=zero, lift=zero)
        if self.layout.handler is not None and self.layout.mode_flow:
            self._ducts(values, works, found)
        return found

    def moving_terms(self, values: Values, states: tuple[AirState, ...], works: Works = AS_FOUND) -> dict[str, Terms]:
        """Return the numbers of doors, exhausts, blower and coil in S states. Each shape (S, N)."""
        none = np.zeros((len(states), values.count))
        found: dict[str, Terms] = {}
        for room in self.layout.side_rooms:
            is_shut = np.array([[room in state.shut] for state in states])
            area = np.where(is_shut, values[f"shut door/{room}"], OPEN_DOOR_AREA)
            area = area + dict(works.transfer_area).get(room, 0.0)
            found[f"door {room}"] = Terms(first=ORIFICE * area, second=none + DOOR_EXPONENT, lift=none)
        new = dict(works.exhausts)
        flows = {
            one.id: draws_of(new[one.id], values.count) if one.id in new else values[f"exhaust/{one.id}"]
            for one in self.layout.exhausts
        }
        links = {name: f"exhaust {name}" for name in flows} | {ADDED_EXHAUST: ADDED_EXHAUST}
        for name, flow in (flows | {ADDED_EXHAUST: draws_of(works.added_exhaust, values.count)}).items():
            is_on = np.array([[name in state.exhausts] for state in states])
            found[links[name]] = Terms(first=is_on * flow, second=none, lift=none)
        for zone in drawn_zones(self.layout):
            drawn = np.array([[sum(flow for name, flow in state.drawn if name == zone)] for state in states])
            found[f"drawn from {zone}"] = Terms(first=none + drawn, second=none, lift=none)
        if self.layout.handler is not None and self.layout.mode_flow:
            self._blower(values, states, found)
        return found

    def _envelope(self, values: Values, wind_speed: float, works: Works, found: dict[str, Terms]) -> None:
        exponent = values["exponent"]
        whole = values["envelope leakage at 50 Pa"] * works.envelope / 50.0**exponent
        zero = np.zeros(values.count)
        rest = whole
        for zone in self.layout.buffers:
            part = whole * values[f"share of leakage/{zone.id}"]
            rest = rest - part
            found[f"to {zone.id}"] = Terms(first=part, second=exponent, lift=zero)
            outer = part * values[f"outer leaks/{zone.id}"]
            found[f"{zone.id} to outdoors"] = Terms(first=outer, second=exponent, lift=zero)
        rest = np.maximum(rest, 0.2 * whole)
        push = velocity_pressure(self.shelter * wind_speed, TRADE_DENSITY)
        for wall in self.walls:
            found[wall.name] = Terms(first=rest * wall.share, second=exponent, lift=zero + push * wall.coefficient)

    def _blower(self, values: Values, states: tuple[AirState, ...], found: dict[str, Terms]) -> None:
        none = np.zeros((len(states), values.count))
        flow, static, over = values["blower flow"], values["blower static"], values["shut-off over static"]
        first = self.layout.mode_flow[0][0]
        supply = 0.5 * values["supply duct drop"] / (DUCT_SHARE * flow) ** 2
        speed = {mode: 1.0 if mode is first else values[f"speed/{mode.value}"] for mode, _ in self.layout.mode_flow} | {
            HandlerMode.OFF: 0.0
        }
        lift = {mode: static * (1.0 + over) * of_first**2 for mode, of_first in speed.items()}
        front = {mode: supply + self.coil_drop(values, mode, np.ones(values.count)) for mode in speed}
        modes = [state.handler for state in states]
        found[BLOWER] = Terms(
            first=none, second=none + static * over / flow**2, lift=np.stack([lift[mode] for mode in modes])
        )
        found[SUPPLY_DUCT] = Terms(first=none, second=np.stack([front[mode] for mode in modes]), lift=none)

    def coil_drop(self, values: Values, mode: HandlerMode, flow: Floats) -> Floats:
        """Return what the coil takes at a speed and a flow [m3/s], wet in cooling; nothing without a coil. Shape (N,) [Pa]"""
        if COIL not in values.names:
            return np.zeros(values.count)
        wet = values[WET] if mode is HandlerMode.COOLING else 1.0
        return np.asarray(wet * values[COIL] * (flow / values["blower flow"]) ** 2)

    def in_line_drop(self, values: Values, works: Works, flow: Floats) -> Floats:
        """Return what a filter in line takes at a flow [m3/s]. Shape (N,) [Pa]"""
        return np.asarray(draws_of(works.in_line, values.count) * flow / values["blower flow"])

    def _ducts(self, values: Values, works: Works, found: dict[str, Terms]) -> None:
        zero = np.zeros(values.count)
        flow = values["blower flow"]
        drop = values["filter drop"] if works.filter_drop is None else draws_of(works.filter_drop, values.count)
        in_line = draws_of(works.in_line, values.count)
        found[FILTER] = Terms(
            first=(FILTER_LINEAR * drop + in_line) / flow, second=(1.0 - FILTER_LINEAR) * drop / flow**2, lift=zero
        )
        scale = (DUCT_SHARE * flow) ** 2
        back, supply = (0.5 * values[f"{side} duct drop"] / scale for side in ("return", "supply"))
        for name in RETURN_DUCT:
            found[name] = Terms(first=zero, second=back, lift=zero)
        for zone, share in self.layout.supplied:
            found[f"supply {zone}"] = Terms(first=zero, second=supply / share**2, lift=zero)
        pull = TEST_PRESSURE**DUCT_LEAKAGE_EXPONENT
        for name in self.leak_zones:
            at_25 = self.leak_at_25(values, name) * works.left_of(name, values.count)
            found[name] = Terms(first=np.maximum(at_25, 1e-9) / pull, second=zero + DUCT_LEAKAGE_EXPONENT, lift=zero)

    def house_leakage_at_50(self, values: Values, works: Works = AS_FOUND) -> Floats:
        """Return what a blower door would find at 50 Pa, duct leaks to outside included. Shape (N,) [m3/s]"""
        inside = {zone.id for zone in self.layout.inside}
        scale = (50.0 / TEST_PRESSURE) ** DUCT_LEAKAGE_EXPONENT
        ducts = [
            self.leak_at_25(values, name) * works.left_of(name, values.count) * scale
            for name, zone in self.leak_zones.items()
            if zone not in inside
        ]
        return np.asarray(values["envelope leakage at 50 Pa"] * works.envelope + sum(ducts))

    def leak_at_25(self, values: Values, name: str) -> Floats:
        """Return a duct leak as found at 25 Pa. Shape (N,) [m3/s]"""
        if not name.startswith("return leak inside"):
            return values[name]
        own = values["return leak in the handler's room"]
        if self.layout.handler_zone == self.layout.main:
            own = np.ones(values.count)
        part = own if name.endswith("handler's room") else 1.0 - own
        return np.asarray(values["return leak inside"] * part)


def network_of(house: House, visits: tuple[Visit, ...], layout: Layout, time: float) -> HouseNetwork:
    """Return the network of a house at a time [s, POSIX UTC], its numbers still to be filled in."""
    heights = heights_of(house, layout, time)
    links: list[Link] = []
    for zone in layout.buffers:
        where = {ZoneKind.ATTIC: max(top for _, top in heights.values()), ZoneKind.CRAWLSPACE: 0.0}.get(zone.kind, 1.0)
        links.append(_leak(f"to {zone.id}", _neighbour(layout, zone.kind, heights), zone.id, where))
        links.append(_leak(f"{zone.id} to outdoors", zone.id, OUTDOORS, where))
    walls = walls_of(layout, heights)
    links += [_leak(wall.name, OUTDOORS, wall.zone, wall.height) for wall in walls]
    links += [_leak(f"door {room}", room, layout.main, heights[room][0] + 1.0) for room in layout.side_rooms]
    for exhaust in layout.exhausts:
        zone_of = exhaust.zone if exhaust.zone in heights else layout.main
        links.append(_fixed(f"exhaust {exhaust.id}", zone_of, OUTDOORS))
    fans = _fans(house, visits, time)
    for name, kind, _ in fans:
        links.append(
            _fixed(name, layout.main, OUTDOORS)
            if kind is VentilationKind.EXHAUST
            else _fixed(name, OUTDOORS, layout.main)
        )
    links.append(_fixed("supply air", OUTDOORS, layout.main))
    links += [_fixed(f"drawn from {zone}", zone, OUTDOORS) for zone in drawn_zones(layout)]
    links.append(_fixed(ADDED_EXHAUST, layout.main, OUTDOORS))
    leaks: dict[str, str] = {}
    if layout.handler is not None and layout.mode_flow:
        leaks = _duct_leaks(layout, time)
        links += _duct_links(layout, leaks, heights)
    names = [zone.id for zone in (*layout.inside, *layout.buffers)]
    if leaks:
        names += [RETURN_TRUNK, RETURN, FILTERED, PLENUM, SUPPLY_TRUNK]
    envelope = next(iter(present(house.envelopes, time)), None)
    frame = Network(
        nodes=tuple(Node(name=name, temperature=ROOM_TEMPERATURE) for name in names),
        links=tuple(links),
        outdoor_temperature=ROOM_TEMPERATURE,
        site_pressure=float(pressure_at_altitude(house.elevation)),
    )
    return HouseNetwork(
        layout=layout,
        frame=frame,
        walls=walls,
        shelter=SHELTER.get(envelope.shelter_class if envelope is not None else 3, 0.7),
        ventilation=fans,
        leak_zones=leaks,
    )


def heights_of(house: House, layout: Layout, time: float) -> dict[str, tuple[float, float]]:
    """Return lowest and highest point of each inside zone: basements below, rooms above them. [m]"""
    envelope = next(iter(present(house.envelopes, time)), None)
    top = envelope.height.value if envelope is not None else 5.0
    storeys = max(envelope.storeys if envelope is not None else 2.0, 1.0)
    has_basement = any(zone.kind is ZoneKind.BASEMENT for zone in layout.inside)
    split = top / storeys if has_basement and storeys > 1.0 else 0.0
    return {zone.id: (0.0, split or top) if zone.kind is ZoneKind.BASEMENT else (split, top) for zone in layout.inside}


def _neighbour(layout: Layout, kind: ZoneKind, heights: dict[str, tuple[float, float]]) -> str:
    """Return the room that a buffer leaks to: the lowest over a crawlspace, else the main body."""
    if kind is not ZoneKind.CRAWLSPACE:
        return layout.main
    lowest = min(heights.values())[0]
    return layout.main if heights[layout.main][0] == lowest else min(heights, key=lambda name: heights[name][0])


def _fans(house: House, visits: tuple[Visit, ...], time: float) -> tuple[tuple[str, VentilationKind, float], ...]:
    found = []
    for fan in present(house.ventilation, time):
        if fan.kind is VentilationKind.BALANCED:
            continue
        reading = newest(visits, "ventilation_flow", time=time, place=fan.id)
        flow = reading.estimate if reading is not None and reading.estimate is not None else fan.flow
        found.append((f"ventilation {fan.id}", fan.kind, flow.value))
    return tuple(found)


def _duct_leaks(layout: Layout, time: float) -> dict[str, str]:
    """Return where each duct leak draws from or blows to."""
    if layout.handler is None:
        raise AssertionError
    buffers = {zone.id for zone in layout.buffers}
    leaks = {
        f"return leak/{leak.id}": leak.zone if leak.zone in buffers else OUTDOORS
        for leak in present(layout.handler.return_leaks, time)
    }
    leaks["return leak inside, handler's room"] = layout.handler_zone
    if layout.handler_zone != layout.main:
        leaks["return leak inside, main body"] = layout.main
    return leaks | {"supply leak outside": OUTDOORS, "supply leak inside": layout.handler_zone}


def _duct_links(layout: Layout, leaks: dict[str, str], heights: dict[str, tuple[float, float]]) -> list[Link]:
    if layout.handler is None:
        raise AssertionError
    behind = {f"return leak/{leak.id}" for leak in layout.handler.return_leaks if not leak.is_before_filter}
    low = heights[layout.main][0]
    links = [
        _resist(RETURN_DUCT[0], layout.main, RETURN_TRUNK, low),
        _resist(RETURN_DUCT[1], RETURN_TRUNK, RETURN, low),
        _resist(FILTER, RETURN, FILTERED, low),
        _resist(BLOWER, FILTERED, PLENUM, low),
        _resist(SUPPLY_DUCT, PLENUM, SUPPLY_TRUNK, low),
    ]
    links += [_resist(f"supply {zone}", SUPPLY_TRUNK, zone, low) for zone, _ in layout.supplied]
    for name, zone in leaks.items():
        if name.startswith("supply"):
            links.append(_leak(name, SUPPLY_TRUNK, zone, low))
        else:
            links.append(_leak(name, zone, FILTERED if name in behind else RETURN_TRUNK, low))
    return links


def _leak(name: str, start: str, end: str, height: float) -> Link:
    return Link(name=name, start=start, end=end, law=Leak(coefficient=1.0), height=height)


def _resist(name: str, start: str, end: str, height: float) -> Link:
    return Link(name=name, start=start, end=end, law=Resistance(linear=0.0, square=1.0), height=height)


def _fixed(name: str, start: str, end: str) -> Link:
    return Link(name=name, start=start, end=end, law=FixedFlow(flow=0.0))


def fires_of(layout: Layout) -> frozenset[str]:
    """Return the exhausts that are open fires."""
    return frozenset(one.id for one in layout.exhausts if one.kind is ExhaustKind.FIREPLACE)


def burning_zones(layout: Layout) -> tuple[str, ...]:
    """Return the rooms with a combustion appliance or an open fire."""
    fires = {one.zone for one in layout.exhausts if one.kind is ExhaustKind.FIREPLACE}
    burning = fires | {one.zone for one in layout.appliances}
    return tuple(sorted(zone.id for zone in layout.inside if zone.id in burning))


def drawn_zones(layout: Layout) -> tuple[str, ...]:
    """Return the rooms out of which a state can draw air besides: the main body and those where something burns."""
    return tuple(dict.fromkeys((layout.main, *burning_zones(layout))))
