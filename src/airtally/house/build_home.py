"""Survey tables to the building's nouns: zones, envelope, occupants, combustion and exhausts."""

from __future__ import annotations

from airtally.errors import Severity
from airtally.estimates import Basis, Estimate
from airtally.house import problems as code
from airtally.house.defaults import (
    EXHAUST_FLOW,
    HEIGHT_PER_STOREY,
    HOOD_CAPTURE,
    default_estimate,
    leakage_from_stock,
)
from airtally.house.entries import Entry
from airtally.house.parts import (
    ALWAYS_BEFORE,
    STILL_THERE,
    Appliance,
    ApplianceKind,
    Climate,
    Envelope,
    Exhaust,
    ExhaustKind,
    Occupants,
    RunsWith,
    Ventilation,
    VentilationKind,
    Venting,
    Zone,
    ZoneKind,
)
from airtally.house.sections_home import BUFFER_VOLUME
from airtally.units import FOOT, Kind, to_field

BUFFERS = (ZoneKind.GARAGE, ZoneKind.CRAWLSPACE, ZoneKind.ATTIC)
MOST_DIFFERENCE = 0.25
"""Volume against area times height, area against area: more than this is reported. [-]"""


def build_zone(entry: Entry) -> Zone | None:
    """Return a zone, or None where it cannot be used."""
    identifier = entry.id(reserved=("outdoors",))
    kind = entry.word("kind", ZoneKind, ZoneKind.ROOM)
    area = entry.written("floor_area")
    volume = _zone_volume(entry, kind, area)
    if entry.is_broken or volume is None:
        return None
    return Zone(
        id=identifier,
        name=entry.text("name", identifier),
        kind=kind,
        volume=volume,
        is_occupied=entry.fact("is_occupied", kind is ZoneKind.ROOM),
        floor_area=area,
    )


def _zone_volume(entry: Entry, kind: ZoneKind, area: Estimate | None) -> Estimate | None:
    """Return a zone's volume: as written, from area and height, or the default of a buffer. [m3]."""
    volume = entry.written("volume")
    height = entry.written("ceiling_height")
    if volume is not None:
        if area is not None and height is not None:
            _compare_volume(entry, volume, area.value * height.value)
        elif height is not None:
            entry.unused("ceiling_height", "floor_area beside it, so that it can check the volume")
        return volume
    if area is not None:
        height = entry.quantity("ceiling_height")
        if height is not None:
            return Estimate(
                value=area.value * height.value,
                low=area.low * height.low,
                high=area.high * height.high,
                unit="m3",
                basis=height.basis,
                source=f"floor area times height, {entry.where}",
            )
    if kind in BUFFERS:
        return entry.quantity("volume", BUFFER_VOLUME)
    entry.is_broken = True
    entry.problem(
        code.KEY_MISSING,
        "volume",
        "neither volume nor floor_area is given",
        "the volume in ft3 or m3, or the floor area and ceiling_height",
        "Measure the floor area at least; without it no flow can be turned into a rate.",
        Severity.FATAL,
    )
    return None


def _compare_volume(entry: Entry, volume: Estimate, product: float) -> None:
    """Report a volume that area and height contradict."""
    if abs(volume.value - product) <= MOST_DIFFERENCE * max(volume.value, product):
        return
    written, _ = to_field(volume.value, Kind.VOLUME)
    found, _ = to_field(product, Kind.VOLUME)
    entry.problem(
        code.VOLUME_AREA_DIFFER,
        "volume",
        f"the volume is {written:.0f} ft3, floor area times height is {found:.0f} ft3",
        "the two within 25 %",
        "Check all three; the volume is used as written.",
    )


def build_envelope(entry: Entry, zones: tuple[Zone, ...]) -> Envelope | None:
    """Return an envelope entry, or None where its dates are wrong."""
    storeys = entry.count("storeys", 1.0) or 1.0
    middle, low, high = HEIGHT_PER_STOREY
    height = entry.quantity(
        "height",
        Estimate(
            value=storeys * middle,
            low=storeys * low,
            high=storeys * high,
            unit="m",
            basis=Basis.DEFAULT,
            source="9 ft (8 to 12) a storey: judgement",
        ),
    )
    area = entry.quantity("floor_area", _area_of(zones))
    exponent = entry.quantity("exponent")
    shelter = entry.count("shelter_class", 3.0, is_whole=True)
    bedrooms = entry.count("bedrooms", is_whole=True)
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    if entry.is_broken or height is None or area is None or exponent is None:
        return None
    return Envelope(
        flow_at_50=entry.quantity("flow_at_50", leakage_from_stock(area, height)),
        exponent=exponent,
        height=height,
        floor_area=area,
        storeys=storeys,
        shelter_class=int(shelter or 3),
        bedrooms=None if bedrooms is None else int(bedrooms),
        since=since,
        until=until,
    )


def _area_of(zones: tuple[Zone, ...]) -> Estimate:
    """Return the floor area of rooms and basements, from volumes where no area is given. [m2]."""
    inside = [z for z in zones if z.kind not in BUFFERS]
    height = 8.0 * FOOT
    parts = [
        (z.floor_area.value, z.floor_area.low, z.floor_area.high)
        if z.floor_area is not None
        else (z.volume.value / height, z.volume.low / height, z.volume.high / height)
        for z in inside
    ] or [(150.0, 80.0, 300.0)]
    value, low, high = (sum(part[i] for part in parts) for i in range(3))
    return Estimate(
        value=value, low=low, high=high, unit="m2", basis=Basis.DEFAULT, source="sum over rooms and basements"
    )


def build_exhaust(entry: Entry, zones: tuple[str, ...]) -> Exhaust | None:
    """Return an exhaust, or None where it cannot be used."""
    identifier = entry.id()
    kind = entry.word("kind", ExhaustKind, ExhaustKind.OTHER)
    zone = entry.reference("zone", zones)
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    if entry.is_broken or zone is None:
        return None
    flow = entry.quantity("flow", EXHAUST_FLOW[kind])
    capture = None
    if kind is ExhaustKind.HOOD:
        capture = entry.quantity("capture", HOOD_CAPTURE)
    else:
        entry.unused("capture", "a range hood")
    return Exhaust(
        id=identifier,
        kind=kind,
        zone=zone,
        flow=flow if flow is not None else default_estimate(EXHAUST_FLOW[kind], Kind.FLOW),
        capture=capture,
        since=since,
        until=until,
    )


def build_ventilation(entry: Entry, zones: tuple[str, ...]) -> Ventilation | None:
    """Return a ventilation fan, or None where it cannot be used."""
    identifier = entry.id()
    kind = entry.word("kind", VentilationKind, VentilationKind.SUPPLY)
    zone = entry.reference("zone", zones)
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    if entry.is_broken:
        return None
    flow, efficiency = entry.quantity("flow"), entry.quantity("efficiency")
    if flow is None or efficiency is None:
        return None
    return Ventilation(
        id=identifier,
        kind=kind,
        flow=flow,
        efficiency=efficiency,
        runs_with=entry.word("runs_with", RunsWith, RunsWith.ALWAYS),
        zone=zone,
        power=entry.quantity("power"),
        since=since,
        until=until,
    )


def build_appliance(entry: Entry, zones: tuple[str, ...]) -> Appliance | None:
    """Return a combustion appliance, or None where it cannot be used."""
    identifier = entry.id()
    kind = entry.word("kind", ApplianceKind, ApplianceKind.FURNACE)
    venting = entry.word("venting", Venting, Venting.NATURAL_DRAFT)
    zone = entry.reference("zone", zones)
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    if entry.is_broken or zone is None:
        return None
    return Appliance(
        id=identifier,
        kind=kind,
        zone=zone,
        venting=venting,
        fuel=entry.text("fuel", "unknown"),
        output=entry.quantity("output"),
        shares_flue_with=entry.text("shares_flue_with") or None,
        since=since,
        until=until,
    )


def build_climate(entry: Entry) -> Climate | None:
    """Return the place's weather and what the house is held at."""
    degree_days, heated_to = entry.quantity("heating_degree_days"), entry.quantity("heated_to")
    base = entry.quantity("degree_day_base")
    if degree_days is None or heated_to is None or base is None:
        return None
    return Climate(
        heating_degree_days=degree_days,
        cooling_degree_days=entry.written("cooling_degree_days"),
        degree_day_base=base.value,
        heating_season=entry.written("heating_season"),
        design_temperature=entry.written("design_temperature"),
        weather_factor=entry.written("weather_factor"),
        heated_to=heated_to,
        cooled_to=entry.written("cooled_to"),
    )


def build_occupants(entry: Entry) -> Occupants | None:
    """Return who is in, or None where no number is given."""
    count = entry.count("count")
    if count is None:
        return None
    return Occupants(count=count, sensitive=entry.fact("sensitive"), hours_at_home=entry.quantity("hours_at_home"))
