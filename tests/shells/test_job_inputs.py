"""What the spine does to inputs before the fit: clocks put right, silent instruments and unread keys named."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.scenario.full_home import full_house

from airtally.house.parts import Occupants
from airtally.jobs.clocks import mend_clocks
from airtally.jobs.unread import silent_instruments, what_changes_no_number
from airtally.quantities import Quantity
from airtally.readings.log import Flag, Log, LogFile, Stream

START = 1.757e9
DAYS = 20


def duct_job(jump: float) -> tuple[Log, np.ndarray]:
    """Return a fan log and an in-duct temperature that follows it, its clock put forward on the tenth day."""
    rng = np.random.default_rng(4)
    time = START + 60.0 * np.arange(DAYS * 1440)
    fan = np.zeros(time.size)
    for first in np.cumsum(rng.integers(60, 240, DAYS * 9)):
        fan[first : first + 12] = 1.0
    warm = 290.0 + np.convolve(fan, np.exp(-np.arange(30) / 6.0) / 6.0)[: time.size] * 12.0
    warm += rng.normal(0.0, 0.1, time.size)
    stamped = time + np.where(time >= START + 10 * 86400.0, jump, 0.0)
    log = Log(
        streams=(
            Stream(placement="blower", quantity=Quantity.FAN_STATE),
            Stream(placement=IN_DUCT_PLACE, quantity=Quantity.TEMPERATURE),
        ),
        files=(LogFile(name="a.csv", sha256="", rows=time.size, cells=time.size, layout=""),) * 2,
        stream=np.repeat([0, 1], time.size),
        file=np.repeat([0, 1], time.size),
        line=np.tile(np.arange(time.size), 2),
        time=np.concatenate([time, stamped]),
        value=np.concatenate([fan, warm]),
        flag=np.zeros(2 * time.size, dtype=np.uint8),
    )
    return log, time


IN_DUCT_PLACE = next(p.id for p in full_house().placements if "filter" in p.air_side.value)


@pytest.mark.parametrize("jump", [3600.0, -3600.0])
def test_a_clock_that_jumps_by_an_hour_is_put_back_and_said(jump: float) -> None:
    log, time = duct_job(jump)
    mended, jumps = mend_clocks(full_house(), log)
    assert [j.shift for j in jumps] == [jump]
    assert any(p.code == "clock-moved" for p in mended.problems)
    mine = mended.stream == 1
    sure = mine & (mended.flag == Flag.KEPT)
    assert sure.sum() > 0.95 * time.size
    assert_allclose(mended.time[sure], np.tile(time, 2)[sure])
    assert np.array_equal(mended.value, log.value)


def test_a_steady_clock_is_left_alone() -> None:
    log, _ = duct_job(0.0)
    mended, jumps = mend_clocks(full_house(), log)
    assert jumps == ()
    assert np.array_equal(mended.time, log.time)
    assert not mended.flag.any()


def test_a_quantity_that_never_came_is_named_with_its_instrument() -> None:
    house = full_house()
    owner = next(p.instrument for p in house.placements if p.id == IN_DUCT_PLACE)
    instruments = tuple(
        replace(i, quantities=(Quantity.TEMPERATURE, Quantity.CO)) if i.id == owner else replace(i, quantities=())
        for i in house.instruments
    )
    log, _ = duct_job(0.0)
    found = silent_instruments(replace(house, instruments=instruments), log)
    assert [p.code for p in found] == ["instrument-silent"]
    assert "co" in found[0].found
    assert "temperature" not in found[0].found


def test_what_changes_no_number_is_named_when_it_is_filled_in() -> None:
    house = replace(full_house(), occupants=Occupants(count=3.0, sensitive=True))
    found = what_changes_no_number(house)
    assert "Occupants.sensitive" in found[0].found
    assert "Occupants.sensitive" not in what_changes_no_number(replace(house, occupants=None))[0].found
