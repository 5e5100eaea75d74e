"""A simulated home as the nouns the fit takes: a surveyed House and a Log, as a contractor would have them."""

from __future__ import annotations

import numpy as np
from tests.recovery.homes import VOLUME, SimulatedHome

from airtally.arrays import Floats, Integers
from airtally.estimates import Basis, Estimate
from airtally.house.dates import Phase
from airtally.house.parts import (
    AirHandler,
    AirSide,
    Cleaner,
    Envelope,
    FanSpeed,
    Filter,
    House,
    Instrument,
    Placement,
    RunsWith,
    Zone,
    ZoneKind,
)
from airtally.quantities import Quantity
from airtally.readings.log import Log, LogFile, Stream

START = 1756684800.0
CUBIC_FEET = 0.00047194745


def survey(value: float, low: float, high: float, unit: str) -> Estimate:
    """Return a surveyed quantity."""
    return Estimate(value=value, low=low, high=high, unit=unit, basis=Basis.SURVEYED, source="simulated survey")


def as_house(home: SimulatedHome) -> tuple[House, tuple[Phase, ...]]:
    """Return what a survey would say of the home: typical values, not its truth."""
    change = START + home.cleaner_from * 60.0
    end = START + home.minutes.size * 60.0
    flow = home.truth["flow"] / 3600.0
    house = House(
        home_id="simulated",
        name="simulated home",
        is_invented=True,
        time_zone="UTC",
        elevation=0.0,
        currency="USD",
        zones=(
            Zone(id="all", name="rooms", kind=ZoneKind.ROOM, volume=survey(VOLUME, 380, 420, "m3"), is_occupied=True),
        ),
        envelopes=(
            Envelope(
                flow_at_50=survey(0.75, 0.7, 0.8, "m3/s"),
                exponent=survey(0.65, 0.6, 0.7, "-"),
                height=survey(5.0, 4.5, 5.5, "m"),
                floor_area=survey(160, 150, 170, "m2"),
                storeys=2.0,
                shelter_class=4,
            ),
        ),
        air_handler=AirHandler(
            speeds=(FanSpeed(name="circulate", flow=survey(flow, 0.93 * flow, 1.07 * flow, "m3/s")),),
            filters=(
                Filter(
                    id="one-inch",
                    rating="MERV 8",
                    efficiency=(
                        survey(0.20, 0.08, 0.40, "-"),
                        survey(0.45, 0.3, 0.7, "-"),
                        survey(0.75, 0.7, 0.85, "-"),
                    ),
                    bypass=survey(0.05, 0.0, 0.2, "-"),
                ),
            ),
        ),
        cleaners=(
            Cleaner(
                id="bypass",
                name="bypass cleaner",
                flow=survey(200 * CUBIC_FEET, 140 * CUBIC_FEET, 260 * CUBIC_FEET, "m3/s"),
                efficiency=survey(0.99, 0.97, 1.0, "-"),
                recirculated=survey(0.02, 0.0, 0.2, "-"),
                runs_with=RunsWith.AIR_HANDLER,
                since=change,
            ),
        ),
        instruments=(Instrument(id="M1", gain=survey(1.0, 0.85, 1.17, "-")),),
        placements=(
            Placement(
                id="M1",
                instrument="M1",
                air_side=AirSide.RETURN_BEFORE_FILTER if home.in_duct else AirSide.ROOM,
                zone=None if home.in_duct else "all",
            ),
            Placement(id="out", instrument="M2", air_side=AirSide.OUTDOOR, zone=None),
        ),
    )
    phases = (
        Phase(id="before", name="before", start=START, end=change),
        Phase(id="after", name="after", start=change, end=end),
    )
    return house, phases


def as_log(home: SimulatedHome) -> tuple[Log, tuple[Floats, Floats, Integers]]:
    """Return the readings, in-duct ones already masked by the fan, and the fan's runs."""
    time = START + (home.minutes + 0.5) * 60.0
    rows = np.flatnonzero(np.isfinite(home.observed))
    hourly = np.arange(30, home.minutes.size, 60)
    value = np.concatenate([home.observed[rows], home.outdoor.reshape(-1, 60).mean(axis=1)]) * 1e-9
    stream = np.repeat([0, 1], [rows.size, hourly.size])
    log = Log(
        streams=(Stream(placement="M1", quantity=Quantity.PM25), Stream(placement="out", quantity=Quantity.PM25)),
        files=(LogFile(name="m1.csv", sha256="", rows=rows.size, cells=rows.size, layout=""),) * 2,
        stream=stream,
        file=stream,
        line=np.arange(stream.size),
        time=np.concatenate([time[rows], time[hourly]]),
        value=value,
        flag=np.zeros(stream.size, dtype=np.uint8),
    )
    edges = np.flatnonzero(np.diff(np.r_[False, home.fan_on, False].astype(int)))
    begin, finish = START + edges[::2] * 60.0, START + edges[1::2] * 60.0
    return log, (begin, finish, np.ones(begin.size, dtype=np.int64))
