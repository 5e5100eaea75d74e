"""The whole job on the open sets: copied, run, and held against what their authors published."""

from __future__ import annotations

import shutil
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from open_sets import CLEANER_A_RUNS, CLEANER_A_TRUTH_M3_H, JOBS, NATURAL_TRUTH_PER_H, whole_set

from airtally.jobs.run import run_job
from airtally.record.checks import validate
from airtally.record.documents import JobRecord

pytestmark = pytest.mark.open_data
AEROSOLS = tuple(NATURAL_TRUTH_PER_H)


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory):
    """Return a function that gives the record of a job by its name, each run once."""
    done: dict[str, dict[str, Any]] = {}

    def document(name: str) -> dict[str, Any]:
        if name not in done:
            folder = tmp_path_factory.mktemp("open") / name
            shutil.copytree(JOBS / name, folder)
            if name == "smoke-bedroom":
                whole = whole_set(name)
                if whole is None:
                    pytest.skip(
                        "the smoke bedroom's logs are CC BY-SA and do not travel; name them in AIRTALLY_OPEN_DATA"
                    )
                for file in whole.glob("*.csv"):
                    (folder / "logs").mkdir(exist_ok=True)
                    shutil.copyfile(file, folder / "logs" / file.name)
            record = run_job(folder, seed=3, progress=lambda _: None)
            assert isinstance(record, JobRecord)
            done[name] = record.document
        return done[name]

    return document


def finding(document: dict[str, Any], identifier: str) -> dict[str, Any]:
    found = {entry["id"]: entry for entry in document["findings"]}
    assert identifier in found, sorted(found)
    return found[identifier]


def quantity(entry: dict[str, Any], name: str, unit: str) -> dict[str, Any]:
    found = next(n["quantity"] for n in entry["numbers"] if n["name"] == name)
    assert found["unit"] == unit
    return found


@pytest.mark.parametrize("name", ["chamber-tent", "kitchen-home", "office-room", "smoke-bedroom"])
def test_every_open_job_gives_a_valid_record_with_findings(run, name: str) -> None:
    document = run(name)
    assert validate(document) == []
    assert document["findings"]


# ---- chamber: Wissmann 2022, values fitted in the notebook of the runs' repository


@pytest.mark.parametrize("aerosol", AEROSOLS)
def test_natural_loss_of_the_record_is_the_authors_within_five_percent(run, aerosol: str) -> None:
    entry = finding(run("chamber-tent"), f"loss-{aerosol}-tent-sensor1")
    rate = quantity(entry, f"loss without a device, {aerosol}", "1/h")
    assert_allclose(rate["value"], NATURAL_TRUTH_PER_H[aerosol], rtol=0.05)
    assert rate["low"] <= NATURAL_TRUTH_PER_H[aerosol] <= rate["high"]


@pytest.mark.parametrize("aerosol", AEROSOLS)
def test_clean_air_of_the_record_is_the_authors_within_twelve_percent(run, aerosol: str) -> None:
    entry = finding(run("chamber-tent"), f"clean-air-cleaner-a-{aerosol}-tent-sensor1")
    mean = quantity(entry, f"clean air, cleaner A, highest speed, {aerosol}", "m3/h")
    truth = CLEANER_A_TRUTH_M3_H[aerosol]
    assert_allclose(mean["value"], truth, rtol=0.12)
    assert mean["low"] <= truth <= mean["high"]
    runs = [n for n in entry["numbers"] if n["name"].startswith("clean air, run")]
    assert len(runs) == len(CLEANER_A_RUNS[aerosol])
    assert_allclose(np.mean([n["quantity"]["value"] for n in runs]), mean["value"], rtol=1e-9)


def test_the_other_sensors_say_the_same_of_cleaner_a_within_their_intervals(run) -> None:
    # 419.1 m3/h by the author with the first sensor; "k within about 10 %" between sensors 2 and 3 (the set's note).
    document = run("chamber-tent")
    third = finding(document, "clean-air-cleaner-a-saltmesh-tent-sensor3")
    mean = quantity(third, "clean air, cleaner A, highest speed, saltmesh", "m3/h")
    assert mean["low"] <= 419.1 <= mean["high"]
    pair = finding(document, "two-sensors-tent-sensor2-tent-sensor3")
    assert 0.88 < quantity(pair, "rate of the second over the first", "1")["value"] < 1.0
    assert "less loss than tent-sensor2 in the same run" in pair["for"][0]


def test_short_tests_of_a_chamber_make_no_account_of_a_house(run) -> None:
    # Before this rule the tent had a kitchen.
    document = run("chamber-tent")
    assert "phases" not in document
    assert [p["code"] for p in document["problems"]].count("only-short-tests") == 1


# ---- smoke bedroom: Farrell 2023


def test_one_number_of_the_record_is_the_published_rate_and_says_what_it_mixes(run) -> None:
    entry = finding(run("smoke-bedroom"), "infiltration-bedroom")
    rate = quantity(entry, "one number: air exchange, penetration and loss mixed", "1/h")
    assert_allclose(rate["value"], 0.0785, rtol=0.03)
    assert rate["low"] <= 0.0785 <= rate["high"]
    assert any("mixes penetration and loss" in line for line in entry["for"])


def test_two_numbers_of_the_record_hold_the_first_look(run) -> None:
    # The set's first look: gain 0.108, loss 0.173 per h, factor 0.62.
    entry = finding(run("smoke-bedroom"), "infiltration-bedroom")
    for name, unit, value in (
        ("gain: air exchange times penetration", "1/h", 0.108),
        ("loss: air exchange, settling and filters", "1/h", 0.173),
        ("indoor over outdoor level in the long run", "1", 0.62),
    ):
        found = quantity(entry, name, unit)
        assert found["low"] <= value <= found["high"], name


def test_the_room_cleaner_takes_95_to_99_percent(run) -> None:
    # Source: the same post; the set's first look: 129 to 4.1 ug/m3, -97 %.
    entry = finding(run("smoke-bedroom"), "cleaner-effect-room-cleaner-bedroom")
    assert 0.95 <= quantity(entry, "level at rest, lower by", "1")["value"] <= 0.99
    assert_allclose(quantity(entry, "indoor level before", "ug/m3")["value"], 129.0, rtol=0.1)
    assert entry["verdict"] == "supported"


# ---- office room: Windesheim University of Applied Sciences, CC BY 4.0


def test_the_stuck_valve_of_the_office_is_reported(run) -> None:
    # The set's first look: about 0.12 air changes per h in the evening; the valve stands at 0.68 of 240 m3/h for 75 m3.
    document = run("office-room")
    entry = finding(document, "recorded-ventilation-room")
    assert "stood still" in entry["title"]
    assert_allclose(quantity(entry, "air exchange that the air shows", "1/h")["value"], 0.12, rtol=0.25)
    assert_allclose(quantity(entry, "recorded ventilation over volume", "1/h")["value"], 0.68 * 240.0 / 75.0, rtol=0.01)
    assert quantity(entry, "time for which the recorded value stood still", "min")["value"] > 12 * 60.0
    codes = [p["code"] for p in document["problems"]]
    assert {"record-against-air", "co2-meters-disagree", "co2-below-outdoors", "co2-dropped-out"} <= set(codes)


def test_without_particle_readings_the_office_says_so_and_still_answers(run) -> None:
    document = run("office-room")
    assert "no-indoor-particles" in [p["code"] for p in document["problems"]]
    meters = finding(document, "meters-disagree-room-wall-desk")
    # About 200 ppm low by the set's first look; nearer 150 on all matched readings.
    assert -250.0 < quantity(meters, "desk less room-wall", "ppm")["value"] < -100.0


# ---- kitchen: Gould et al. 2024


def test_cooking_is_the_main_indoor_source_of_the_kitchen(run) -> None:
    document = run("kitchen-home")
    (account,) = [phase["account"] for phase in document["phases"].values()]
    indoor = [row for row in account["in"] if row["source"] != "outdoor"]
    assert max(indoor, key=lambda row: row["grams_per_day"]["value"])["source"] == "cooking"
    # Nobody measured outdoors, so the outdoor share is an assumption, and that is said.
    assert "no-outdoor-particles" in [p["code"] for p in document["problems"]]


def test_seven_spells_of_one_kitchen_do_not_settle_chance(run) -> None:
    # No published hit rate: over the whole set rises meet cooking far beyond chance (test_kitchens); one home is few.
    entry = finding(run("kitchen-home"), "cooking-rises-cook")
    rates = [quantity(entry, name, "1")["value"] for name in ("spells with a rise", "shifted spells with a rise")]
    assert rates[0] > rates[1]
    chance = quantity(entry, "share of shifts that meet as many", "1")["value"]
    assert (entry["verdict"] == "supported") == (chance <= 0.05)
