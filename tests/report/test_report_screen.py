"""The answer on one screen."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from invented_record import build_record, survey_only

from airtally.record import JobRecord, plain
from airtally.report import words
from airtally.report.screen import answer_screen


def screen(document: dict[str, Any]) -> str:
    """Return the screen of a document."""
    return answer_screen(JobRecord(document=plain(document)), report="job/report.pdf")


def joined(text: str) -> str:
    """Return the text with its line breaks and columns closed up."""
    return " ".join(text.split())


def test_the_answer_fits_the_screen_and_keeps_the_order() -> None:
    text = screen(build_record())
    lines = text.splitlines()
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 100
    order = ["SAFETY", "Fireplace", "Water heater", "Main source", "COMES IN", "Effect of", "Fan rule", "Report"]
    places = [text.index(word) for word in order]
    assert places == sorted(places)
    assert "INVENTED" in lines[0]
    assert words.forbidden_claims(text) == []


def test_each_number_on_the_screen_is_the_records() -> None:
    document = build_record()
    text = joined(screen(document))
    account = document["phases"]["after"]["account"]
    effect = document["effects"]["whole_job"]
    wanted = [
        words.amount(account["in"][0]["grams_per_day"], unit="mg/day"),
        words.amount(document["phases"]["after"]["source_share"]["outdoor"]),
        words.amount(document["fan_rule"]["energy"]),
        words.change_text(effect["percent"]),
        effect["question"],
        words.value_text(account["total"], unit="mg/day") + " " + words.interval_text(account["total"], unit="mg/day"),
    ]
    assert [part for part in wanted if part not in text] == []


def test_a_changed_number_changes_the_screen() -> None:
    document = build_record()
    document["phases"]["after"]["account"]["in"][0]["grams_per_day"] |= {"value": 0.0601}
    assert "60 mg a day" in screen(document)
    assert "60 mg a day" not in screen(build_record())


def test_both_columns_end_in_the_same_figure() -> None:
    line = next(line for line in screen(build_record()).splitlines() if "goes out, and stored" in line)
    left, right = line.split("||")
    assert left.split()[-4:] == right.split()[-4:] == ["112", "101", "to", "123"]


def test_a_survey_alone_gives_safety_pressures_and_proposals() -> None:
    text = screen(survey_only())
    assert "no readings yet" in text
    assert "cannot be told" in text
    assert "Pressures" in text
    assert "Proposals" in text
    assert len(text.splitlines()) <= 40


def test_nothing_is_said_of_invented_numbers_for_a_real_house() -> None:
    document = build_record()
    document["job"]["is_invented"] = False
    assert "INVENTED NUMBERS" not in screen(document)


@pytest.mark.parametrize("copies", [1, 8, 40])
def test_a_long_record_still_fits_and_counts_what_it_leaves_out(copies: int) -> None:
    document = build_record()
    findings = document["safety"]["findings"]
    document["safety"]["findings"] = [copy.deepcopy(findings[0]) for _ in range(copies)]
    document["safety"]["findings"][-1]["what"] = "A very long finding. " * 40
    document["job"]["home"] = "A house with a very long name " * 8
    document["fan_rule"]["rule"]["placement"] = "somewhere " * 60
    text = screen(document)
    assert len(text.splitlines()) <= 40
    assert max(map(len, text.splitlines())) <= 100
    assert text.index("SAFETY") < text.index("Main source")
    if copies > 3:
        assert "more in the report" in text
