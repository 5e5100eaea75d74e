"""The record's numbers, moments and file."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from airtally.errors import InputError
from airtally.estimates import Basis, Estimate
from airtally.record import JobRecord, moment, plain, quantity, read_record, seconds, write_record


def test_an_estimate_becomes_a_number_with_interval_unit_basis_and_source() -> None:
    estimate = Estimate(value=2.0, low=1.0, high=4.0, unit="1/h", basis=Basis.FITTED, source="decays")
    assert quantity(estimate) == {
        "value": 2.0,
        "low": 1.0,
        "high": 4.0,
        "level": 0.9,
        "unit": "1/h",
        "basis": "fitted",
        "source": "decays",
    }


def test_a_number_that_could_not_be_had_is_null_and_never_zero() -> None:
    assert quantity(float("nan"), low=float("nan"), high=float("inf"), unit="Pa")["value"] is None


@pytest.mark.parametrize(
    "arguments",
    [
        {"value": 1.0},
        {"value": 1.0, "unit": "Pa", "low": 0.5},
        {"value": 1.0, "unit": "Pa", "low": 2.0, "high": 3.0},
    ],
)
def test_a_number_without_unit_or_with_a_wrong_interval_is_refused(arguments: dict[str, float | str]) -> None:
    with pytest.raises(InputError, match=r"unit|interval"):
        quantity(**arguments)  # type: ignore[arg-type]


def test_moments_are_written_in_utc_and_come_back() -> None:
    # POSIX time 1 000 000 000 s is 2001-09-09 01:46:40 UTC (worked example in the GNU coreutils manual, from memory).
    assert moment(1_000_000_000.0) == "2001-09-09T01:46:40Z"
    assert seconds("2001-09-09T01:46:40Z") == 1_000_000_000.0
    assert seconds("2001-09-08T19:46:40-06:00") == 1_000_000_000.0


def test_a_moment_without_offset_is_refused() -> None:
    with pytest.raises(InputError, match="offset"):
        seconds("2001-09-09T01:46:40")


def test_arrays_tuples_and_words_become_plain_and_gaps_become_null() -> None:
    given = {"a": np.array([1.0, np.nan]), "b": (np.int64(3), Basis.DEFAULT), "c": np.bool_(True), "d": {"z", "a"}}
    assert plain(given) == {"a": [1.0, None], "b": [3, "default"], "c": True, "d": ["a", "z"]}


def test_a_record_comes_back_from_its_file_as_it_was(tmp_path: Path) -> None:
    record = JobRecord(
        document={
            "schema": 1,
            "provenance": {"version": "9", "seed": 4, "digests": {"a": "f" * 64}},
            "µ": "\N{MINUS SIGN}",
        }
    )
    write_record(record, tmp_path / "record.json")
    back = read_record(tmp_path / "record.json")
    assert back == record
    assert (back.version, back.seed, back.digests) == ("9", 4, {"a": "f" * 64})
    assert back.digest == record.digest
    assert [path.name for path in tmp_path.iterdir()] == ["record.json"]


def test_the_digest_does_not_hang_on_the_order_of_keys() -> None:
    one = JobRecord(document={"a": 1, "b": 2})
    other = JobRecord(document={"b": 2, "a": 1})
    changed = JobRecord(document={"b": 3, "a": 1})
    assert one.digest == other.digest
    assert one.digest != changed.digest


@pytest.mark.parametrize("text", ["", "[1]", "{}", '{"schema": 2}', "\x00"])
def test_what_is_no_record_of_this_schema_is_refused_in_words(tmp_path: Path, text: str) -> None:
    path = tmp_path / "record.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"record\.json"):
        read_record(path)


def test_nan_never_reaches_the_file(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="JSON"):
        write_record(JobRecord(document={"schema": 1, "x": float("nan")}), tmp_path / "record.json")
    assert json.loads("null") is None
    assert not (tmp_path / "record.json").exists()
