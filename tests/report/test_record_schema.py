"""The published schema and the program's own check, against a reference validator (jsonschema, JSON Schema 2020-12)."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import jsonschema
import pytest
from invented_record import build_record, survey_only

from airtally.record import plain, published_schema, validate

Document = dict[str, Any]


def reference(document: Document) -> bool:
    """Return whether the reference validator takes the document."""
    return jsonschema.Draft202012Validator(published_schema()).is_valid(document)


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(published_schema())
    assert published_schema()["properties"]["schema"]["const"] == 1


@pytest.mark.parametrize("build", [build_record, survey_only])
def test_invented_records_are_records(build: Callable[[], Document]) -> None:
    document = plain(build())
    assert reference(document)
    assert validate(document) == []


def _set(document: Document, path: str, value: Any) -> None:
    place: Any = document
    *parents, last = path.split("/")
    for part in parents:
        place = place[int(part)] if isinstance(place, list) else place[part]
    if isinstance(place, list):
        place[int(last)] = value
    else:
        place[last] = value


WRONG_SHAPES = [
    ("schema", 2),
    ("job/is_invented", "yes"),
    ("job/period/start", "1 Sep 2025"),
    ("job/currency", "dollars"),
    ("phases/after/mean_pm25/basis", "guessed"),
    ("phases/after/mean_pm25/unit", ""),
    ("phases/after/mean_pm25/level", 90.0),
    ("phases/after/mean_pm25/value", "7.0"),
    ("phases/after/rates/fan_on/sunlight", {}),
    ("phases/after/source_share/neighbour", {}),
    ("safety/findings/0/status", "passed"),
    ("safety/findings/0/limit", {"value": 1.0, "unit": "Pa"}),
    ("proof/rows/0/verdict", "true"),
    ("forecasts/fire-doors/stage", 1.5),
    ("provenance/digests/survey.toml", "abc"),
    ("provenance/counts/read", -1),
    ("job/streams/0/kept", 1.5),
    ("visit_readings/rows/0/test_in", 4.0),
    ("findings/0/for", "a reason"),
    ("extra", 1),
]


@pytest.mark.parametrize(("path", "value"), WRONG_SHAPES)
def test_both_validators_refuse_the_same_wrong_shapes(path: str, value: Any) -> None:
    document = plain(build_record())
    _set(document, path, value)
    assert not reference(document)
    problems = validate(document)
    assert problems
    assert all(problem.code == "record-shape" for problem in problems)


@pytest.mark.parametrize("key", ["schema", "job", "safety", "provenance"])
def test_both_validators_miss_a_missing_part(key: str) -> None:
    document = plain(build_record())
    del document[key]
    assert not reference(document)
    assert validate(document)


@pytest.mark.parametrize(
    ("path", "value", "code"),
    [
        ("phases/after/mean_pm25/low", 9.0, "record-interval"),
        ("phases/after/mean_pm25/low", None, "record-interval"),
        ("job/streams/0/kept", 5, "record-counts"),
        ("provenance/counts/by_reason/stuck", 1, "record-counts"),
        ("phases/after/account/total/value", 0.111, "record-account"),
        ("phases/after/account/stored/value", 0.0005, "record-account"),
        ("room_pm25/outdoor", [1.0], "record-series"),
    ],
)
def test_what_a_schema_cannot_say_is_checked(path: str, value: Any, code: str) -> None:
    document = copy.deepcopy(plain(build_record()))
    _set(document, path, value)
    assert reference(document)
    assert {problem.code for problem in validate(document)} == {code}
