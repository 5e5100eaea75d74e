"""The folder that a demo job is: same seed same bytes, seven shapes of table, read without a doubt, marked invented."""

from __future__ import annotations

import json
import re
import time
import tomllib
from hashlib import sha256
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from airtally.demo import ALL_QUIRKS, Quirk, write_demo
from airtally.errors import InputError, Severity
from airtally.house.survey import read_survey
from airtally.quantities import Quantity
from airtally.readings.read import read_log
from airtally.readings.source import Source, Stamp
from airtally.visits.read import read_visits

LOGS = ("bedroom", "blower", "in-duct", "living", "north-eave", "public-outdoor", "utility", "workshop")
NOBODY = frozenset[Quirk]()


def digests(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_the_same_seed_writes_the_same_bytes_and_another_seed_does_not(tmp_path: Path) -> None:
    for name, seed in (("a", 5), ("b", 5), ("c", 6)):
        write_demo(tmp_path / name, seed=seed, weeks=2)
    first, again, other = (digests(tmp_path / name) for name in "abc")
    assert first == again
    assert set(first) == {".truth.json", "INVENTED.txt", "survey.toml", "visits.toml", *(f"logs/{n}.csv" for n in LOGS)}
    assert all(first[name] != other[name] for name in first if name not in ("INVENTED.txt", "visits.toml"))


def test_a_job_is_written_in_seconds(job: Path, tmp_path: Path) -> None:
    assert job.exists()  # the kernel is compiled
    start = time.process_time()
    write_demo(tmp_path, seed=3)
    assert time.process_time() - start < 10.0  # about three on an idle core


@pytest.mark.parametrize("weeks", [0, 11])
def test_a_length_out_of_range_is_refused(tmp_path: Path, weeks: int) -> None:
    with pytest.raises(InputError, match=f"weeks must be 1 to 10; got {weeks}"):
        write_demo(tmp_path, weeks=weeks)


def test_a_negative_seed_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="seed must not be negative; got -1"):
        write_demo(tmp_path, seed=-1)


@pytest.mark.parametrize(
    ("seed", "quirks", "weeks"),
    [
        (1, ALL_QUIRKS, 10),
        (7, ALL_QUIRKS, 10),
        (8, NOBODY, 10),
        (2, ALL_QUIRKS | {Quirk.NO_WORK}, 10),
        (3, ALL_QUIRKS, 3),
        (4, ALL_QUIRKS - {Quirk.MONITOR_MOVED}, 6),
    ],
)
def test_survey_and_visits_are_read_without_a_warning(
    tmp_path: Path, seed: int, quirks: frozenset[Quirk], weeks: int
) -> None:
    from airtally.demo.quirks import effective
    from airtally.demo.simulate import make_world
    from airtally.demo.survey_text import survey_text
    from airtally.demo.visits_text import visits_text

    world = make_world(seed, effective(quirks), weeks)
    (tmp_path / "survey.toml").write_text(survey_text(world))
    (tmp_path / "visits.toml").write_text(visits_text(world))
    (tmp_path / "logs").mkdir()
    for name in LOGS:
        (tmp_path / "logs" / f"{name}.csv").touch()
    house = read_survey(tmp_path / "survey.toml")
    visits, problems = read_visits(tmp_path / "visits.toml", house.time_zone)
    doubts = [p.sentence() for p in (*house.problems, *problems) if p.severity is not Severity.NOTE]
    assert doubts == []
    assert house.is_invented
    assert len(house.logs) == len(house.placements)
    assert len(visits) == (4 if weeks == 10 and Quirk.NO_WORK not in quirks else {3: 0, 6: 3, 10: 3}[weeks])


def without_middle(path: Path) -> bytes:
    """Return a table's head and its last four days or so."""
    lines = path.read_bytes().splitlines(keepends=True)
    return b"".join(lines[:9] + lines[max(len(lines) - 6000, 9) :])


def test_every_table_is_read_in_full_and_means_what_was_simulated(job: Path) -> None:
    house = read_survey(job / "survey.toml")
    places = {place.id: place for place in house.placements}
    wanted = [log for log in house.logs if not log.placement.startswith(("table", "return"))]
    log = read_log(
        [
            Source(
                content=without_middle(job / entry.file),
                name=entry.file,
                placement=entry.placement,
                time_zone=entry.time_zone,
                stamps=Stamp(entry.stamps),
                interval=entry.interval,
                day_first=entry.day_first,
                since=places[entry.placement].since,
                until=places[entry.placement].until,
            )
            for entry in wanted
        ]
    )
    assert [p.sentence() for p in log.problems if p.severity is not Severity.NOTE] == []
    truth = json.loads((job / ".truth.json").read_text())
    streams = {stream.name: log.series(stream) for stream in log.streams}
    expected = {
        "living-shelf": ("pm25", "co2", "temperature", "relative_humidity"),
        "bedroom": ("pm25", "voc", "co2", "temperature", "relative_humidity"),
        "workshop-wall": ("pm25", "pm10", "temperature", "relative_humidity"),
        "after-cleaner": ("pm25", "voc", "temperature", "relative_humidity"),
        "north-eave": ("pm25", "temperature", "relative_humidity"),
        "utility-wall": ("co", "spill_temperature", "pressure_difference"),
        "blower": ("fan_current", "filter_pressure_drop"),
        "public-feed": ("pm25",),
    }
    assert set(streams) == {f"{place}/{Quantity(name).value}" for place, names in expected.items() for name in names}
    assert 285.0 < streams["bedroom/temperature"][1].mean() < 297.0
    assert 400e-6 < streams["living-shelf/co2"][1].min() < 500e-6
    assert 250.0 < streams["utility-wall/spill_temperature"][1].min() < 310.0
    mean = streams["living-shelf/pm25"][1].mean() * 1e9
    assert_allclose(mean, truth["weeks"][-1]["living_mean"], rtol=0.6)  # its last days; optics weigh each aerosol
    assert 3.8 < streams["blower/fan_current"][1].max() < 4.5
    assert 20.0 < streams["blower/filter_pressure_drop"][1].max() < 60.0


def test_the_seven_loggers_write_seven_shapes(job: Path) -> None:
    heads = {name: (job / "logs" / f"{name}.csv").read_text(encoding="utf-8").splitlines()[:8] for name in LOGS}
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:00Z,\d+\.\d,\d+,-?\d+\.\d,\d+", heads["living"][1])
    assert heads["bedroom"][0].startswith("\ufeff")
    assert re.fullmatch(r"\d\d\.\d\d\.\d{4};\d\d:\d\d:00;\d+,\d;\d+;\d+;\d+,\d\d;\d+,\d", heads["bedroom"][1])
    newest, older = heads["workshop"][1:3]
    assert newest > older
    assert re.search(r"-0[67]:00,", newest)
    assert re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d,\d.*", heads["in-duct"][1])
    assert heads["north-eave"][4] == ""
    assert heads["north-eave"][5].startswith("Time UTC")
    assert re.fullmatch(r"\d{10},\d+,-?\d+\.\d,-?\d+\.\d", heads["utility"][1])
    assert [line.split(",")[1] for line in heads["blower"][1:3]] == ["Fan current", "Filter drop"]
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:00:00Z,\d+\.\d", heads["public-outdoor"][1])


def test_everything_says_that_it_is_invented_and_the_survey_does_not_give_the_truth_away(job: Path) -> None:
    survey = (job / "survey.toml").read_text()
    content = tomllib.loads(survey)
    assert content["home"]["is_invented"] is True
    assert "(invented)" in content["home"]["name"]
    assert "(invented)" in content["home"]["contractor"]
    assert (job / "visits.toml").read_text().startswith("# Invented")
    assert "INVENTED" in (job / "INVENTED.txt").read_text()
    assert json.loads((job / ".truth.json").read_text())["invented"] is True
    assert [f["rating"] for f in content["air_handler"]["filter"]] == ["MERV 8", "MERV 13"]
    for word in ("quirk", "planted", "truth", "wrong", "wrong-size"):
        assert word not in survey.lower()
    capitals = set(re.findall(r"\b[A-Z][a-z]{3,}\b", survey))
    known = {"Invented", "Sample", "Lane", "Quillfork", "America", "Denver", "Example", "Contractor", "Smoke"}
    assert capitals <= known, capitals - known


def test_three_diary_times_are_wrong_and_the_rest_are_right(job: Path) -> None:
    truth = json.loads((job / ".truth.json").read_text())
    assert len(truth["diary_wrong_times"]) == 3
    fires = [event["start"] for event in truth["events"] if event["kind"] == "fire"]
    entries = [e for e in tomllib.loads((job / "survey.toml").read_text())["diary"] if e["kind"] == "fire"]
    assert len(entries) == len(fires)
    assert all(one["true"][:10] in {start[:10] for start in fires} for one in truth["diary_wrong_times"])
