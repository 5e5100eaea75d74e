"""An invented house, its visits and its log, small enough to see through."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from airtally.arrays import Floats
from airtally.estimates import Basis, Estimate
from airtally.house.parts import (
    AirHandler,
    AirSide,
    Appliance,
    ApplianceKind,
    DiaryEntry,
    Envelope,
    Exhaust,
    ExhaustKind,
    FanSpeed,
    House,
    Placement,
    Venting,
    Zone,
    ZoneKind,
)
from airtally.quantities import Quantity
from airtally.readings.log import Flag, Log, Stream
from airtally.visits import (
    ALL,
    GATES,
    Answer,
    Doors,
    HandlerMode,
    HouseState,
    Missing,
    Reading,
    VentStart,
    Visit,
    VisitKind,
)

CFM = 0.3048**3 / 60.0
DAY = 86400.0
START = 1_756_684_800.0  # 2025-09-01 00:00 UTC
TEST_IN, TEST_OUT = START + 20.0 * DAY, START + 32.0 * DAY


def about(value: float, unit: str, half: float = 0.0) -> Estimate:
    return Estimate(value=value, low=value - half, high=value + half, unit=unit, basis=Basis.MEASURED, source="test")


def appliance(
    name: str = "water-heater",
    kind: ApplianceKind = ApplianceKind.WATER_HEATER,
    venting: Venting = Venting.NATURAL_DRAFT,
    zone: str = "utility",
) -> Appliance:
    return Appliance(id=name, kind=kind, zone=zone, venting=venting, fuel="natural gas")


FIREPLACE = appliance("fireplace", ApplianceKind.FIREPLACE, Venting.OPEN_CHIMNEY, "main")
FURNACE = appliance("furnace", ApplianceKind.FURNACE, Venting.INDUCED_DRAFT)


def house(
    *appliances: Appliance, cfm50: float = 2190.0, hood: float = 165.0, diary: tuple[DiaryEntry, ...] = ()
) -> House:
    return House(
        home_id="invented", name="invented", is_invented=True, time_zone="America/Denver", elevation=0.0,
        currency="USD", zones=(
            Zone(id="main", name="main", kind=ZoneKind.ROOM, volume=about(300.0, "m3"), is_occupied=True),
            Zone(id="utility", name="utility", kind=ZoneKind.ROOM, volume=about(30.0, "m3"), is_occupied=False),
            Zone(id="garage", name="garage", kind=ZoneKind.GARAGE, volume=about(100.0, "m3"), is_occupied=False),
        ),
        envelopes=(
            Envelope(
                flow_at_50=about(cfm50 * CFM, "m3/s"), exponent=about(0.65, "-"), height=about(5.0, "m"),
                floor_area=about(200.0, "m2"), storeys=2.0, shelter_class=4,
            ),
        ),
        air_handler=AirHandler(speeds=(FanSpeed(name="heating", flow=about(1000 * CFM, "m3/s")),), filters=()),
        exhausts=(
            Exhaust(id="hood", kind=ExhaustKind.HOOD, zone="main", flow=about(hood * CFM, "m3/s")),
            Exhaust(id="dryer", kind=ExhaustKind.DRYER, zone="utility", flow=about(140 * CFM, "m3/s")),
        ),
        appliances=appliances,
        placements=(
            Placement(id="m6", instrument="m6", air_side=AirSide.ROOM, zone="utility"),
            Placement(id="m1", instrument="m1", air_side=AirSide.ROOM, zone="main"),
            Placement(id="m5", instrument="m5", air_side=AirSide.OUTDOOR, zone=None),
        ),
        diary=diary,
    )  # fmt: skip


WORST = HouseState(
    doors=Doors.WORST_CASE, air_handler=HandlerMode.HEATING, exhausts_on=ALL, fires_lit=(), vent=VentStart.COLD
)
HEATING = HouseState(doors=Doors.OPEN, air_handler=HandlerMode.HEATING, exhausts_on=(), fires_lit=())


def reading(
    key: str, value: Estimate | Missing, place: str = "utility", state: HouseState = WORST, time: float = TEST_IN
) -> Reading:
    return Reading(key=key, place=place, state=state, value=value, time=time, reference="outdoors")


NO_TO_ALL = tuple((gate, Answer.NO) for gate in GATES)


def visit(
    *readings: Reading,
    kind: VisitKind = VisitKind.TEST_IN,
    gates: Mapping[str, Answer] | None = None,
    checks: Mapping[str, Answer] | None = None,
) -> Visit:
    time = TEST_IN if kind is VisitKind.TEST_IN else TEST_OUT
    return Visit(
        id=kind.value, kind=kind, time=time, by="technician", state=WORST,
        readings=tuple(replace(one, time=time) for one in readings),
        gates=tuple({**dict(NO_TO_ALL), **(gates or {})}.items()),
        checks=tuple({"co_alarms_present": Answer.YES, **(checks or {})}.items()),
    )  # fmt: skip


def looks(*readings: Reading) -> Visit:
    """Return a test-out with readings of their own times."""
    return replace(visit(kind=VisitKind.TEST_OUT), readings=readings)


def log(series: Mapping[tuple[str, Quantity], tuple[Floats, Floats]]) -> Log:
    streams = tuple(Stream(placement=place, quantity=quantity) for place, quantity in series)
    times = [time for time, _ in series.values()]
    values = [value for _, value in series.values()]
    size = sum(time.size for time in times)
    return Log(
        streams=streams,
        files=(),
        stream=np.concatenate([np.full(t.size, k, dtype=np.int64) for k, t in enumerate(times)])
        if times
        else np.zeros(0, dtype=np.int64),
        file=np.zeros(size, dtype=np.int64),
        line=np.arange(size, dtype=np.int64),
        time=np.concatenate(times) if times else np.zeros(0),
        value=np.concatenate(values) if values else np.zeros(0),
        flag=np.full(size, Flag.KEPT, dtype=np.uint8),
    )


EMPTY = log({})


def minutes(days: float) -> Floats:
    return START + np.arange(0.0, days * DAY, 60.0)


def quiet_co(time: Floats, seed: int = 1) -> Floats:
    """Return a whole-ppm meter in clean air: mostly 0, sometimes 1 ppm. [mol/mol]."""
    return np.random.default_rng(seed).integers(0, 2, time.size).astype(float) * 1e-6


def with_event(value: Floats, time: Floats, start: float, duration: float, low: float, high: float) -> Floats:
    """Return a stream with readings between two levels over a stretch of time."""
    inside = (time >= start) & (time < start + duration)
    changed = value.copy()
    changed[inside] = np.round(np.linspace(low, high, int(inside.sum())) * 1e6) / 1e6
    return changed
