"""The record's house: its spaces by floor, where ducts run and fires burn, as far as the survey says."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from airtally.estimates import Basis
from airtally.house.dates import Dated
from airtally.house.parts import ApplianceKind, ExhaustKind, House, Zone, ZoneKind
from airtally.record.documents import Document, moment

FLOOR_BY_KIND = {
    ZoneKind.ROOM: 0,
    ZoneKind.GARAGE: 0,
    ZoneKind.BASEMENT: -1,
    ZoneKind.CRAWLSPACE: -1,
    ZoneKind.ATTIC: 1,
}
"""Floor of a space whose floor nobody wrote down: 0 is the ground."""
HEARTHS = (ApplianceKind.FIREPLACE, ApplianceKind.STOVE)


def house_document(house: House) -> Document:
    """Return the record's ``house``: zones, ducts, appliances, cleaners, and the zone each source is known to be in."""
    leaks = house.air_handler.return_leaks if house.air_handler is not None else ()
    return {
        "zones": [_zone(zone) for zone in house.zones],
        "has_air_handler": house.air_handler is not None,
        "ducts": [{"what": "return leak", "zone": leak.zone, **_dates(leak)} for leak in leaks],
        "appliances": [{"kind": one.kind.value, "zone": one.zone, **_dates(one)} for one in house.appliances],
        "cleaners": [
            {"name": one.name, "zone": one.zone, "is_portable": one.is_portable, **_dates(one)}
            for one in house.cleaners
        ],
        "sources": [{"source": source, "zone": zone} for source, zone in _sources(house)],
    }


def _zone(zone: Zone) -> Document:
    return {
        "id": zone.id,
        "name": zone.name,
        "kind": zone.kind.value,
        "is_occupied": zone.is_occupied,
        "floor": FLOOR_BY_KIND[zone.kind],
        "floor_basis": Basis.DEFAULT.value,
    }


def _dates(part: Dated) -> Document:
    """Return when a part came and went, as far as it did."""
    ends = {"since": part.since, "until": part.until}
    return {key: moment(when) for key, when in ends.items() if math.isfinite(when)}


def _sources(house: House) -> Iterator[tuple[str, str]]:
    """Yield the source and the zone it is in, for each source that the survey places; the latest part counts."""
    ranges = [one.zone for one in house.appliances if one.kind is ApplianceKind.RANGE]
    hoods = [one.zone for one in house.exhausts if one.kind is ExhaustKind.HOOD]
    hearths = [one.zone for one in house.appliances if one.kind in HEARTHS]
    open_fires = [one.zone for one in house.exhausts if one.kind is ExhaustKind.FIREPLACE]
    places: dict[str, Iterable[str]] = {
        "cooking": ranges or hoods,
        "solid_fuel": hearths or open_fires,
        # The log's events are put down to a workshop by the same word.
        "other": [zone.id for zone in house.zones if "workshop" in f"{zone.id} {zone.name}".lower()],
        "garage": [zone.id for zone in house.zones if zone.kind is ZoneKind.GARAGE],
        "buffer_space": _buffers(house),
    }
    for source, zones in places.items():
        for zone in [*zones][-1:]:
            yield source, zone


def _buffers(house: House) -> list[str]:
    """Return crawlspace and attic, the one that the return leaks into last."""
    kinds = {zone.id: zone.kind for zone in house.zones}
    found = [zone for zone, kind in kinds.items() if kind in (ZoneKind.ATTIC, ZoneKind.CRAWLSPACE)]
    leaks = house.air_handler.return_leaks if house.air_handler is not None else ()
    return [*found, *(leak.zone for leak in leaks if leak.zone in found)]
