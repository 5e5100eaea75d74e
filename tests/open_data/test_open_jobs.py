"""Surveys of the open sets: read by the survey reader, their logs by the readings room, through to a first number."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from open_sets import JOBS, NATURAL_RUNS, NATURAL_TRUTH_PER_H, whole_set

from airtally.errors import Severity
from airtally.house.survey import read_survey
from airtally.inference.decays import Phase, decay_rate, find_decay_windows, largest_fall
from airtally.quantities import Quantity
from airtally.readings.log import Log
from airtally.readings.read import read_log
from airtally.readings.source import Source, Stamp

pytestmark = pytest.mark.open_data
NAMES = ("chamber-tent", "kitchen-home", "office-room", "smoke-bedroom")


def log_files(name: str) -> Path:
    """Return the folder that a job's log paths start from, or skip where its set does not travel."""
    if name != "smoke-bedroom":
        return JOBS / name / "logs"
    folder = whole_set(name)
    if folder is None:
        pytest.skip("the smoke bedroom's logs are CC BY-SA and do not travel; name their folder in AIRTALLY_OPEN_DATA")
    return folder


def read_job(name: str, only: str = "") -> Log:
    """Return the log of a job, of files whose name holds ``only``."""
    house = read_survey(JOBS / name / "survey.toml")
    folder = log_files(name)
    return read_log(
        [
            Source(
                content=folder / Path(log.file).name,
                name=log.file,
                placement=log.placement,
                time_zone=log.time_zone,
                stamps=Stamp(log.stamps),
                interval=log.interval,
                columns=log.columns,
                begins=log.begins,
                devices=log.devices,
            )
            for log in house.logs
            if only in log.file
        ]
    )


@pytest.mark.parametrize("name", NAMES)
def test_surveys_of_the_open_sets_have_no_fatal_problem(name: str) -> None:
    house = read_survey(JOBS / name / "survey.toml")
    assert [p.sentence() for p in house.problems if p.severity is Severity.FATAL] == []
    assert not house.is_invented
    assert len(house.logs) >= 1


@pytest.mark.parametrize("name", NAMES)
def test_every_reading_of_the_open_logs_is_counted(name: str) -> None:
    log = read_job(name)
    assert sum(log.counts().values()) == sum(file.cells for file in log.files)
    assert np.count_nonzero(log.kept) > 0.5 * log.time.size


@pytest.mark.parametrize("aerosol", tuple(NATURAL_RUNS))
def test_natural_loss_comes_out_alike_through_the_readings_room(aerosol: str) -> None:
    # Source: as in the chamber tests; here the gzip log goes through the product's own reader, in SI.
    log = read_job("chamber-tent", only=NATURAL_RUNS[aerosol])
    time, value = log.series(log.find(Quantity.PM25)[0])
    fall = largest_fall(find_decay_windows(time, value), Phase.DECAY, Phase.NATURAL)
    assert fall is not None
    assert_allclose(decay_rate(time, value, fall).value * 3600.0, NATURAL_TRUTH_PER_H[aerosol], rtol=0.05)


def test_office_log_parts_into_its_four_devices() -> None:
    log = read_job("office-room")
    assert {s.placement for s in log.find(Quantity.CO2)} == {"room-wall", "desk"}
    assert {s.placement for s in log.streams} == {"room-wall", "desk", "door", "observer"}
    _, valve = log.series(log.find(Quantity.VALVE_FRACTION)[0])
    assert 0.0 < np.min(valve) <= np.max(valve) <= 1.0


def test_kitchen_flags_that_are_missing_are_set_aside_not_zero() -> None:
    log = read_job("kitchen-home")
    _, cooking = log.series(log.find(Quantity.COOKING_STATE)[0])
    # 3039 gas minutes of home 16 carry a flag, 230 of them cooking; the induction period's say "-inf".
    assert cooking.size == 3039
    assert np.count_nonzero(cooking) == 230
    assert log.counts()["unreadable"] >= 3107
