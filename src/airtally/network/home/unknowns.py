"""What is not known about a house's leaks, ducts and blower before its gauges are read, with priors and their sources.

Every unknown has a prior from the survey or from the trade; readings of visits then move it
(:mod:`airtally.network.home.calibrate`). A number that nobody measured stays as wide as its prior.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

from airtally.estimates import Estimate
from airtally.house.parts import AirHandler, Appliance, ApplianceKind, Exhaust, ExhaustKind, House, Zone, ZoneKind
from airtally.network.home.from_survey import newest, present
from airtally.network.spread import spread
from airtally.parameters import Parameter, Prior
from airtally.physics.constants import TRADE_DENSITY
from airtally.physics.leaks.openings import orifice_flow
from airtally.physics.leaks.power_law import DUCT_LEAKAGE_EXPONENT
from airtally.visits.parts import HandlerMode, Visit

INTERVAL = 1.6448536269514722
"""Half of a 90 % interval over its standard deviation. [-]"""
DOOR_EXPONENT = 0.5
"""Undercuts, grilles and open doors flow as orifices. [-]"""
TEST_PRESSURE = 25.0
"""Pressure of a duct leakage test. [Pa]"""
CFM = 4.719474e-4
"""One cubic foot a minute. [m3/s]"""
MODES = (HandlerMode.HEATING, HandlerMode.COOLING, HandlerMode.CIRCULATE)
"""Blower speeds, the one that gauges are usually read at first."""
BUFFERS = (ZoneKind.GARAGE, ZoneKind.CRAWLSPACE, ZoneKind.ATTIC)
SHARE_OF_LEAKAGE: dict[ZoneKind, tuple[float, float, str]] = {
    ZoneKind.GARAGE: (
        0.13,
        0.5,
        "mean 13 %, 5 to 25 % of house leakage to an attached garage, field studies as the trade cites them",
    ),
    ZoneKind.CRAWLSPACE: (0.15, 0.6, "floor over a crawlspace as a share of house leakage: judgement, no source"),
    ZoneKind.ATTIC: (0.25, 0.5, "ceiling under an attic as a share of house leakage: judgement, no source"),
}
"""Median, spread of the logarithm and source of each buffer's share of the house leakage. [-]"""
OUTER_OVER_INNER = (8.0, 0.7, "vents and doors of a buffer space over its leaks to the house: judgement, no source")
UNDERCUT = (0.0100, 0.8, "a shut door's undercut and frame, 100 cm2 (30 to 370): judgement, no source")
"""Area [m2] of what a shut inside door leaves open, spread of the logarithm, source."""
ORIFICE = float(orifice_flow(1.0, 1.0, TRADE_DENSITY))
"""Flow of a square metre at 1 Pa. [m3/(s Pa^0.5)]"""
SHUT_OFF: dict[str, tuple[float, float, str]] = {
    "PSC": (
        1.0,
        0.35,
        "PSC blower: a falling quadratic with shut-off at twice the measured static (1.6 to 2.8): judgement",
    ),
    "ECM": (6.0, 0.6, "ECM blower: holds its flow, as a quadratic with shut-off at seven times the static: judgement"),
    "unknown": (1.3, 0.7, "motor not known: shut-off at 1.4 to 5 times the measured static: judgement"),
}
"""Shut-off pressure over measured static less one, by motor: median, spread, source. [-]"""
LEAST_FLOW = 1e-6
"""Stands for an exhaust that was read as moving nothing. [m3/s]"""
CEILING = 2.5
"""Height of rooms where none is surveyed. [m]"""
FIRE_FLOW_SPREAD = 0.27
"""Spread of an open fire's draw where the survey gives 250 to 600 cfm burning. [-]"""
INSIDE_LEAK = (60.0 * CFM, 1.2, "duct leakage into the house at 25 Pa, 60 cfm (8 to 430): judgement, no source")
USUAL_STATIC = (
    125.0,
    0.5,
    "total external static 0.5 inH2O (0.22 to 1.1), no gauge was read: common practice, no source",
)
RETURN_PART = (0.45, 0.30, "part of the duct loss that falls on the return side: judgement, no source")
FILTER_PART = (0.35, 0.45, "filter's part of the total static where nobody measured it: judgement, no source")
WET_COIL = (
    50.0,
    0.20,
    "wet coil 0.2 inH2O (0.15 to 0.3) at the cooling airflow: budgets of 0.15 to 0.25 read (GBA-Filter), ends common practice",
)
"""Drop [Pa] of a coil that nobody measured, spread of its logarithm, source."""
WET_OVER_DRY = (1.3, 0.12, "wet coil over dry at one airflow, 1.3 (1.1 to 1.6): from memory")
JUDGED = frozenset(
    one[2] for one in (USUAL_STATIC, RETURN_PART, FILTER_PART, WET_COIL, WET_OVER_DRY, *SHUT_OFF.values())
)
"""Sources of what stands in blower and ducts where nobody measured it."""
COIL, WET = "coil drop", "wet coil over dry"


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Which spaces and devices a house's network has.

    Attributes
    ----------
    inside : tuple of Zone
        Rooms and basements.
    buffers : tuple of Zone
        Garage, crawlspace, attic.
    main : str
        Id of the main body, the largest lived-in zone: where open doors lead and central returns draw.
    handler_zone : str
        Id of the zone that the air handler stands in: that of the furnace, else the main body.
    handler : AirHandler or None
    mode_flow : tuple of (HandlerMode, Estimate)
        Surveyed flow at each blower speed that the survey names. [m3/s]
    exhausts : tuple of Exhaust
    appliances : tuple of Appliance
    """

    inside: tuple[Zone, ...]
    buffers: tuple[Zone, ...]
    main: str
    handler_zone: str
    handler: AirHandler | None
    mode_flow: tuple[tuple[HandlerMode, Estimate], ...]
    exhausts: tuple[Exhaust, ...]
    appliances: tuple[Appliance, ...]

    @property
    def side_rooms(self) -> tuple[str, ...]:
        """Return the ids of the inside zones other than the main body: each has a door to it."""
        return tuple(zone.id for zone in self.inside if zone.id != self.main)

    @property
    def supplied(self) -> tuple[tuple[str, float], ...]:
        """Return the zones with supply registers and their part of the supply air [-]: lived-in zones, by volume.

        Nobody surveys where registers are; utility and storage rooms seldom have one (common practice, no source).
        """
        zones = [zone for zone in self.inside if zone.is_occupied] or list(self.inside)
        whole = sum(zone.volume.value for zone in zones)
        return tuple((zone.id, zone.volume.value / whole) for zone in zones)

    def share_of_volume(self, zone: str) -> float:
        """Return a zone's part of the inside volume. [-]"""
        by_id = {one.id: one.volume.value for one in self.inside}
        return by_id[zone] / sum(by_id.values())


def layout_of(house: House, time: float) -> Layout | None:
    """Return the spaces of a house at a time [s, POSIX UTC]; None without any room."""
    inside = tuple(zone for zone in house.zones if zone.kind not in BUFFERS) or _whole_house(house, time)
    if not inside:
        return None
    lived_in = [zone for zone in inside if zone.is_occupied] or list(inside)
    main = max(lived_in, key=lambda zone: zone.volume.value).id
    appliances = present(house.appliances, time)
    furnace = next((one.zone for one in appliances if one.kind is ApplianceKind.FURNACE), main)
    handler = house.air_handler
    speeds = {speed.name: speed.flow for speed in present(handler.speeds, time)} if handler is not None else {}
    ids = {zone.id for zone in inside}
    return Layout(
        inside=inside,
        buffers=tuple(zone for zone in house.zones if zone.kind in BUFFERS),
        main=main,
        handler_zone=furnace if furnace in ids else main,
        handler=handler,
        mode_flow=tuple((m, speeds[m.value]) for m in MODES if m.value in speeds and speeds[m.value].value > 0.0),
        exhausts=present(house.exhausts, time),
        appliances=appliances,
    )


def _whole_house(house: House, time: float) -> tuple[Zone, ...]:
    """Return one zone of the envelope's size for a survey without rooms."""
    envelope = next(iter(present(house.envelopes, time)), None)
    if envelope is None:
        return ()
    volume = spread(
        lambda area: CEILING * area, envelope.floor_area, unit="m3", source="floor area times 2.5 m", method_share=0.1
    )
    return (Zone(id="house", name="house", kind=ZoneKind.ROOM, volume=volume, is_occupied=True),)


def prior_of_network(
    visits: tuple[Visit, ...], layout: Layout, leakage: tuple[Estimate, Estimate], time: float
) -> Prior:
    """Return every unknown of a house's network with its prior; ``leakage`` at 50 Pa [m3/s] and exponent [-]."""
    at_50, exponent = leakage
    found = [
        Parameter(
            name="envelope leakage at 50 Pa",
            centre=at_50.value,
            spread=0.3,
            unit="m3/s",
            source="near the house leakage, of which duct leaks to outside are a part",
        ),
        Parameter(
            name="exponent",
            centre=exponent.value,
            spread=max(exponent.relative_sd, 0.005) if exponent.low > 0.0 else 0.05,
            unit="-",
            source=exponent.source,
        ),
    ]
    for zone in layout.buffers:
        share, spread, source = SHARE_OF_LEAKAGE[zone.kind]
        found += [
            Parameter(name=f"share of leakage/{zone.id}", centre=share, spread=spread, unit="-", source=source, ceiling=0.6),
            Parameter(name=f"outer leaks/{zone.id}", centre=OUTER_OVER_INNER[0], spread=OUTER_OVER_INNER[1], unit="-",
                      source=OUTER_OVER_INNER[2]),
        ]  # fmt: skip
    for room in layout.side_rooms:
        found.append(
            Parameter(name=f"shut door/{room}", centre=UNDERCUT[0], spread=UNDERCUT[1], unit="m2", source=UNDERCUT[2])
        )
    for exhaust in layout.exhausts:
        found.append(_exhaust(exhaust, visits, time))
    if layout.handler is not None and layout.mode_flow:
        found += _duct_unknowns(visits, layout, time)
    return Prior(parameters=tuple(found))


def _exhaust(exhaust: Exhaust, visits: tuple[Visit, ...], time: float) -> Parameter:
    reading = newest(visits, "exhaust_flow", time=time, place=exhaust.id)
    flow = reading.estimate if reading is not None and reading.estimate is not None else exhaust.flow
    least = FIRE_FLOW_SPREAD if exhaust.kind is ExhaustKind.FIREPLACE else 0.05
    return Parameter(
        name=f"exhaust/{exhaust.id}",
        centre=max(flow.value, LEAST_FLOW),
        spread=max(flow.relative_sd if flow.low > 0.0 else 0.3, least),
        unit="m3/s",
        source=flow.source,
    )


def _duct_unknowns(visits: tuple[Visit, ...], layout: Layout, time: float) -> list[Parameter]:
    """Return the unknowns of blower, filter, ducts and their leaks."""
    handler = layout.handler
    if handler is None:
        raise AssertionError
    first, flow = layout.mode_flow[0]
    static, static_spread, static_source = _static(visits, layout, time)
    drop, drop_spread, drop_source = _filter_drop(visits, layout, static, time)
    coil = _coil(visits, layout, time)
    ducts = max(static - drop - (coil[0].centre if coil else 0.0), 0.15 * static)
    ratio, ratio_spread, ratio_source = SHUT_OFF[handler.motor]
    found = [
        Parameter(name="blower static", centre=static, spread=static_spread, unit="Pa", source=static_source),
        Parameter(name="blower flow", centre=flow.value, spread=0.3, unit="m3/s", source="near the flow that was measured or surveyed"),
        Parameter(name="shut-off over static", centre=ratio, spread=ratio_spread, unit="-", source=ratio_source),
        Parameter(name="filter drop", centre=drop, spread=drop_spread, unit="Pa", source=drop_source),
        Parameter(name="return duct drop", centre=RETURN_PART[0] * ducts, spread=RETURN_PART[1], unit="Pa", source=RETURN_PART[2]),
        Parameter(name="supply duct drop", centre=(1.0 - RETURN_PART[0]) * ducts, spread=RETURN_PART[1], unit="Pa",
                  source=RETURN_PART[2]),
        *coil,
    ]  # fmt: skip
    for mode, other in layout.mode_flow[1:]:
        found.append(
            Parameter(name=f"speed/{mode.value}", centre=other.value / flow.value, spread=0.3, unit="-",
                      source=f"near {mode.value} flow over {first.value} flow")
        )  # fmt: skip
    pull = max(0.5 * RETURN_PART[0] * ducts, 5.0)
    for leak in present(handler.return_leaks, time):
        at_25 = max(leak.fraction.value, 1e-3) * flow.value * (TEST_PRESSURE / pull) ** DUCT_LEAKAGE_EXPONENT
        spread = (
            0.5 * log(leak.fraction.high / max(leak.fraction.low, 1e-3)) / INTERVAL if leak.fraction.high > 0.0 else 1.0
        )
        found.append(
            Parameter(name=f"return leak/{leak.id}", centre=at_25, spread=min(max(spread, 0.3), 1.2), unit="m3/s",
                      source=f"survey's share: {leak.fraction.source}")
        )  # fmt: skip
    push = max(0.5 * (1.0 - RETURN_PART[0]) * ducts, 5.0)
    lost = handler.supply_leak_outside
    share = lost.value if lost is not None else 0.04
    found += [
        Parameter(
            name="supply leak outside",
            centre=max(share, 1e-3) * flow.value * (TEST_PRESSURE / push) ** DUCT_LEAKAGE_EXPONENT,
            spread=0.8 if lost is not None else 1.2,
            unit="m3/s",
            source=lost.source if lost is not None else "4 % (0.6 to 28) of the handler's flow: judgement, no source",
        ),
        Parameter(name="return leak inside", centre=INSIDE_LEAK[0], spread=INSIDE_LEAK[1], unit="m3/s", source=INSIDE_LEAK[2]),
        Parameter(name="supply leak inside", centre=INSIDE_LEAK[0], spread=INSIDE_LEAK[1], unit="m3/s", source=INSIDE_LEAK[2]),
        Parameter(name="return leak in the handler's room", centre=0.3, spread=1.0, unit="-", ceiling=1.0,
                  source="part of the return's leakage into the house that draws from the handler's own room: judgement, no source"),
    ]  # fmt: skip
    return found


def _static(visits: tuple[Visit, ...], layout: Layout, time: float) -> tuple[float, float, str]:
    """Return centre, spread and source of the total external static at the first blower speed. [Pa]"""
    mode = layout.mode_flow[0][0]
    reading = newest(visits, "tesp", time=time, mode=mode)
    if reading is not None and reading.estimate is not None:
        return max(reading.estimate.value, 1.0), 0.3, "near the measured total static"
    speed = (
        next((s for s in present(layout.handler.speeds, time) if s.name == mode.value), None)
        if layout.handler
        else None
    )
    if speed is not None and speed.static is not None:
        return speed.static.value, max(speed.static.relative_sd, 0.05), speed.static.source
    return USUAL_STATIC


def _filter_drop(visits: tuple[Visit, ...], layout: Layout, static: float, time: float) -> tuple[float, float, str]:
    """Return centre, spread and source of the filter's pressure drop at the first blower speed. [Pa]"""
    reading = newest(visits, "filter_drop", time=time, mode=layout.mode_flow[0][0])
    if reading is not None and reading.estimate is not None:
        return max(reading.estimate.value, 1.0), 0.3, "near the measured filter drop"
    filters = present(layout.handler.filters, time) if layout.handler is not None else ()
    if filters and filters[0].pressure_drop is not None:
        drop = filters[0].pressure_drop
        return drop.value, max(drop.relative_sd if drop.low > 0.0 else 0.3, 0.1), drop.source
    return FILTER_PART[0] * static, FILTER_PART[1], FILTER_PART[2]


def _coil(visits: tuple[Visit, ...], layout: Layout, time: float) -> tuple[Parameter, ...]:
    """Return the dry coil's drop at the blower's first speed [Pa], and how much more a wet one takes; none where nothing cools.

    A drop that was read at another speed is carried by the square of the flow, wet at cooling speed.
    """
    handler = layout.handler
    flows = {mode: flow.value for mode, flow in layout.mode_flow}
    first = layout.mode_flow[0][0]
    readings = [(mode, newest(visits, "coil_drop", time=time, mode=mode)) for mode in (first, *flows)]
    mode, reading = next(((m, r) for m, r in readings if r is not None), (HandlerMode.COOLING, None))
    any_speed = newest(visits, "coil_drop", time=time)
    capacity = newest(visits, "cooling_capacity", time=time)
    cools = capacity is not None or (handler is not None and handler.cooling_capacity is not None)
    if not cools and any_speed is None and HandlerMode.COOLING not in flows:
        return ()
    drop, spread, source = WET_COIL
    if reading is not None and reading.estimate is not None:
        drop, spread, source = max(reading.estimate.value, 1.0), 0.3, "near the measured coil drop"
    elif any_speed is not None and any_speed.estimate is not None:
        drop, spread, source = (
            max(any_speed.estimate.value, 1.0),
            0.5,
            "a coil drop read at a speed whose flow is not known",
        )
    wet = WET_OVER_DRY[0] if mode is HandlerMode.COOLING else 1.0
    carried = drop / wet * (flows[first] / flows.get(mode, flows[first])) ** 2
    dry = Parameter(name=COIL, centre=carried, spread=spread, unit="Pa", source=source)
    if HandlerMode.COOLING not in flows:
        return (dry,)
    return dry, Parameter(name=WET, centre=WET_OVER_DRY[0], spread=WET_OVER_DRY[1], unit="-", source=WET_OVER_DRY[2])
