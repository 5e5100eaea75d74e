"""What stands beside a burst: rooms, lengths, warmth and gases as the streams have them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.scenario.full_home import a_log, full_fit, full_house, made_log

from airtally.house.parts import AirSide, Appliance, ApplianceKind, Placement, Venting
from airtally.inference.event_marks import Mark, marks_of, rooms_of
from airtally.quantities import Quantity

SPAN = (4 * 1440 + 900, 4 * 1440 + 960, 40.0)
Column = tuple[str, Quantity, np.ndarray]


def mark(*columns: Column, span: tuple[int, int, float] = SPAN, **changed: object) -> Mark:
    """Return the mark of a burst with further streams of one value a minute."""
    made = made_log()
    prepared = full_fit().prepared
    time = prepared.start + 60.0 * (np.arange(prepared.steps) + 0.5)
    streams = {(s.placement, s.quantity): made.series(s) for s in made.streams}
    streams |= {(place, quantity): (time, values) for place, quantity, values in columns}
    return marks_of(prepared, replace(full_house(), **changed), a_log(streams), [span])[0]  # type: ignore[arg-type]


def bump(base: float, size: float, noise: float) -> np.ndarray:
    """Return a level by minute with a step during the burst."""
    values = base + noise * np.random.default_rng(4).normal(size=full_fit().prepared.steps)
    values[SPAN[0] : SPAN[1] + 30] += size
    return values


def test_rooms_are_known_by_their_names_and_by_what_stands_in_them() -> None:
    gas_range = Appliance(id="r", kind=ApplianceKind.RANGE, zone="living", venting=Venting.UNVENTED, fuel="gas")
    assert rooms_of(full_house()) == ({"workshop"}, set(), {"living"})
    assert rooms_of(replace(full_house(), appliances=(gas_range,))) == ({"workshop"}, {"living"}, set())
    renamed = tuple(replace(zone, name="Kitchen") if zone.id == "crawl" else zone for zone in full_house().zones)
    assert rooms_of(replace(full_house(), zones=renamed))[1] == {"crawl"}


def test_the_room_that_rose_more_is_told_by_the_ratio_of_the_rises() -> None:
    rooms = ("L", Quantity.PM25, bump(5e-9, 20e-9, 0.0)), ("W", Quantity.PM25, bump(9e-9, 60e-9, 0.0))
    assert mark(*rooms).hobby_room == pytest.approx(3.0)
    still = ("L", Quantity.PM25, bump(5e-9, 0.0, 0.0)), ("W", Quantity.PM25, bump(9e-9, 0.0, 0.0))
    assert np.isnan(mark(*still).hobby_room)
    only_living = tuple(place for place in full_house().placements if place.id != "W")
    assert np.isnan(mark(*rooms, placements=only_living).hobby_room)


def test_a_burst_lasted_no_longer_than_its_readings_show() -> None:
    at = full_fit().prepared.evidence.at
    first, last = (int(i) for i in (SPAN[0], SPAN[1]))
    inside = at[(at >= first) & (at <= last)]
    longest = np.diff(np.unique([first, *inside.tolist(), last + 1])).max()
    assert mark().minutes == pytest.approx(last + 1 - first - longest)
    alone = int(at[np.argmax(np.diff(at) > 1)]) + 1
    assert mark(span=(alone, alone, 20.0)).minutes == 0.0


def test_only_a_hearth_room_that_warms_more_than_the_others_counts_as_warmth() -> None:
    both = ("L", Quantity.TEMPERATURE, bump(294.0, 2.0, 0.05)), ("W", Quantity.TEMPERATURE, bump(292.0, 2.0, 0.0))
    hearth = ("L", Quantity.TEMPERATURE, bump(294.0, 2.0, 0.05)), ("W", Quantity.TEMPERATURE, bump(292.0, 0.0, 0.0))
    assert mark(*hearth).warmth > 10.0
    assert mark(*both).warmth < 2.0


def test_a_duct_counts_only_while_the_fan_brings_air_past_its_monitor() -> None:
    prepared = full_fit().prepared
    idle = np.full(prepared.steps, 600e-6) + 5e-6 * np.random.default_rng(2).normal(size=prepared.steps)
    idle[SPAN[0] : SPAN[1]] += np.where(prepared.fan[SPAN[0] : SPAN[1]] > 0, 0.0, 400e-6)
    assert mark(("D", Quantity.CO2, idle)).co2 < 2.5
    room = (*full_house().placements[:2], replace(full_house().placements[2], air_side=AirSide.ROOM, zone="living"))
    assert mark(("D", Quantity.CO2, idle), placements=room).co2 > 10.0


def test_carbon_monoxide_and_a_stove_rise_by_what_their_streams_say() -> None:
    stove = Placement(id="S", instrument="S", air_side=AirSide.EQUIPMENT, zone="living")
    places = (*full_house().placements, stove)
    found = mark(
        ("L", Quantity.CO, bump(1e-6, 6e-6, 0.0)),
        ("S", Quantity.TEMPERATURE, bump(295.0, 60.0, 0.0)),
        placements=places,
    )
    assert found.co == pytest.approx(6e-6)
    assert found.flue == pytest.approx(60.0)
    elsewhere = (*full_house().placements, replace(stove, zone="crawl"))
    assert np.isnan(mark(("S", Quantity.TEMPERATURE, bump(295.0, 60.0, 0.0)), placements=elsewhere).flue)
