"""Made houses and logs for tests of findings: one room, one outdoor place, streams as the readings room leaves them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from airtally.estimates import Basis, Estimate
from airtally.house.parts import (
    AirSide,
    Cleaner,
    DiaryEntry,
    House,
    Placement,
    RunsWith,
    Ventilation,
    VentilationKind,
    Zone,
    ZoneKind,
)
from airtally.quantities import Quantity
from airtally.readings.log import Flag, Log, LogFile, Stream

START = 1.7e9
HOUR = 3600.0


def known(value: float, unit: str, spread: float = 0.0) -> Estimate:
    """Return a surveyed number, its interval ``spread`` wide to either side [-]."""
    low, high = sorted((value * (1.0 - spread), value * (1.0 + spread)))
    return Estimate(value=value, low=low, high=high, unit=unit, basis=Basis.SURVEYED, source="made")


def room(volume: float = 50.0) -> Zone:
    return Zone(id="room", name="room", kind=ZoneKind.ROOM, volume=known(volume, "m3", 0.05), is_occupied=True)


def place(name: str, side: AirSide = AirSide.ROOM) -> Placement:
    return Placement(
        id=name, instrument=f"{name}-device", air_side=side, zone=None if side is AirSide.OUTDOOR else "room"
    )


def made_house(**parts: object) -> House:
    """Return a house of one room with two room monitors, one outdoors and one on equipment."""
    given: dict[str, object] = {
        "home_id": "made",
        "name": "made house",
        "is_invented": True,
        "time_zone": "UTC",
        "elevation": 0.0,
        "currency": "USD",
        "zones": (room(),),
        "envelopes": (),
        "air_handler": None,
        "placements": (
            place("first"),
            place("second"),
            place("garden", AirSide.OUTDOOR),
            place("machine", AirSide.EQUIPMENT),
        ),
    }
    return House(**(given | parts))  # type: ignore[arg-type]


@dataclass(frozen=True)
class Part:
    """Readings of one stream in one file: instants [s] and values [SI]."""

    placement: str
    quantity: Quantity
    time: np.ndarray
    value: np.ndarray
    flag: int = int(Flag.KEPT)
    file: str = field(default="log.csv")


def made_log(*parts: Part) -> Log:
    """Return a log of these parts."""
    streams = tuple(dict.fromkeys(Stream(placement=p.placement, quantity=p.quantity) for p in parts))
    names = tuple(dict.fromkeys(p.file for p in parts))
    size = [p.time.size for p in parts]
    return Log(
        streams=streams,
        files=tuple(LogFile(name=n, sha256="0" * 64, rows=0, cells=0, layout="made") for n in names),
        stream=np.repeat([streams.index(Stream(placement=p.placement, quantity=p.quantity)) for p in parts], size),
        file=np.repeat([names.index(p.file) for p in parts], size),
        line=np.arange(sum(size)),
        time=np.concatenate([np.asarray(p.time, dtype=np.float64) for p in parts] or [np.empty(0)]),
        value=np.concatenate([np.asarray(p.value, dtype=np.float64) for p in parts] or [np.empty(0)]),
        flag=np.repeat(np.array([p.flag for p in parts], dtype=np.uint8), size),
    )


def cleaner(**parts: object) -> Cleaner:
    given_parts: dict[str, object] = {
        "id": "box",
        "name": "the box",
        "flow": known(0.05, "m3/s"),
        "efficiency": known(0.9, "-"),
        "recirculated": known(0.0, "-"),
        "runs_with": RunsWith.OWN_SWITCH,
        "is_portable": True,
        "zone": "room",
    }
    return Cleaner(**(given_parts | parts))  # type: ignore[arg-type]


def diary_of(at: float, text: str) -> DiaryEntry:
    return DiaryEntry(start=at, end=at + HOUR, kind="decay test", text=text)


def fan(flow_m3_h: float) -> Ventilation:
    return Ventilation(
        id="fan",
        kind=VentilationKind.SUPPLY,
        flow=known(flow_m3_h / HOUR, "m3/s", 0.1),
        efficiency=known(0.0, "-"),
        runs_with=RunsWith.ALWAYS,
        zone="room",
    )
