"""The visit: gates before all, state taken over, like states at test-out, each field kept once (PRACTICE 1.11, 1.17)."""

from __future__ import annotations

import threading
import tomllib
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from airtally.limits import limits_on
from airtally.safety.cautions import CAUTIONS
from airtally.safety.gates import DO
from airtally.safety.parts import Topic
from airtally.store.edits import text_of
from airtally.visits.kinds import CHECKS, GATES, READING_KINDS
from airtally.web.visit.steps import STEPS

from .test_survey_page import sent_by
from .visit_jobs import GATES_CLEAR, TEST_IN, TEST_OUT, Site, group, groups, site

VALUE = {"": "0.5", ":unit": "inH2O", ":is": ""}


def test_every_kind_of_reading_stands_in_a_step() -> None:
    asked = [key for step in STEPS for key in step.keys]
    assert set(asked) == set(READING_KINDS)
    assert [key for key in asked if asked.count(key) > 1] == [
        "baseline_pressure"
    ] * 2  # appliance zones apart from rooms


def test_a_double_tap_begins_one_visit_in_the_clock_of_the_home(tmp_path: Path) -> None:
    home = site(tmp_path, visits="")
    sent = {"kind": "test-in", "time": "2025-09-23T09:30", "by": "lead", "based_on": str(home.revision()), "post": "p"}
    answers = [home.post("/begin", sent) for _ in range(2)]
    assert [one.headers["location"] for one in answers] == [f"/job/{home.job}/visit/test-in/gates"] * 2
    assert home.visits() == [{"id": "test-in", "kind": "test-in", "time": "2025-09-23 09:30", "by": "lead"}]
    assert "America/Denver" in home.get("")


def test_a_visit_takes_over_the_gauges_of_the_one_before(tmp_path: Path) -> None:
    gauge = '[[visit.instrument]]\nid = "gauge"\nkind = "manometer"\n'
    home = site(tmp_path, TEST_IN + gauge)
    sent = {"kind": "test-in", "time": "2025-09-24T09:30", "by": "lead", "based_on": str(home.revision()), "post": "p"}
    assert home.post("/begin", sent).status_code == 303
    assert home.visits()[1]["id"] == "test-in-2"
    assert home.visits()[1]["instrument"] == [{"id": "gauge", "kind": "manometer"}]


def test_a_kind_that_was_not_chosen_keeps_what_was_typed(tmp_path: Path) -> None:
    home = site(tmp_path, visits="")
    answer = home.post("/begin", {"time": "2025-09-23T09:31", "based_on": str(home.revision()), "post": "p"})
    assert answer.status_code == 422
    assert "2025-09-23T09:31" in answer.text


def unasked(folder: Path) -> Site:
    """Return a home whose gates nobody asked."""
    return site(folder, TEST_IN.replace(GATES_CLEAR, ""))


def test_gates_that_nobody_asked_block_every_form(tmp_path: Path) -> None:
    home = unasked(tmp_path)
    page = unescape(home.get("/test-in/statics"))
    assert "Blocked: every form" in page
    assert GATES["alarm_sounding"] in page
    assert "the gate answered no on the day of the test" in page
    assert not [place for place in groups(page) if "|tesp|" in place]
    assert "0.86 inH2O" in page  # what was read before stays to be seen


def test_a_post_into_a_blocked_form_is_refused_and_changes_nothing(tmp_path: Path) -> None:
    home = unasked(tmp_path)
    before = home.revision()
    answer = home.keep("/test-in/statics", "visit.0.blank.tesp.air~20handler.circulate", VALUE, "p")
    assert answer.status_code == 422
    assert "locked (every form)" in answer.json()["note"]
    assert home.revision() == before


@pytest.mark.parametrize("gate", ["alarm_sounding", "gas_smell", "symptoms_clear_outdoors"])
def test_yes_at_a_gate_to_leave_by_hides_the_rest_of_the_visit(tmp_path: Path, gate: str) -> None:
    home = site(tmp_path)
    page = home.get("/test-in/gates")
    kept = home.keep("/test-in/gates", group(page, gate), {"": "yes"}, "p")
    assert kept.status_code == 200
    for step in STEPS[1:]:
        shown = unescape(home.get(f"/test-in/{step.path}"))
        assert DO[gate] in shown
        assert "data-place" not in shown
    note = home.keep("/test-in/notes", "visit.0.note", {"": "words"}, "q")
    assert note.status_code == 422
    assert "note" not in home.visits()[0]


def test_suspect_wrap_blocks_suction_on_house_and_ducts_and_nothing_else(tmp_path: Path) -> None:
    home = site(tmp_path, TEST_IN.replace('suspect_wrap = "no"', 'suspect_wrap = "yes"'))
    leakage = unescape(home.get("/test-in/leakage"))
    assert {f"Blocked: {one}" in leakage for one in ("blower door", "pressure pan", "duct leakage test")} == {True}
    assert "licensed firm's work recorded as done" in leakage
    assert not [place for place in groups(leakage) if "cfm" in place or "pan" in place]
    assert [place for place in groups(home.get("/test-in/statics")) if "|tesp|" in place]


def test_a_worst_case_reading_is_blocked_by_the_doors_it_is_sent_with(tmp_path: Path) -> None:
    home = site(tmp_path, TEST_IN.replace('fire_or_ash_within_24_h = "no"', 'fire_or_ash_within_24_h = "yes"'))
    name = group(home.get("/test-in/zone"), "|draft|", "water-heater")
    sent = {"": "-2", ":unit": "Pa", ":is": "", ":reference": "utility"}
    assert home.keep("/test-in/zone", name, sent | {":doors": "worst case"}, "p").status_code == 422
    assert home.keep("/test-in/zone", name, sent | {":doors": "open"}, "q").status_code == 200


def test_a_new_reading_takes_the_house_state_over_and_is_then_changed_in_its_place(tmp_path: Path) -> None:
    home = site(tmp_path)
    based = home.revision()
    page = home.get("/test-in/co")
    name = group(page, "|co_ambient|", "utility")
    sent = {"": "3", ":unit": "ppm", ":is": "", ":doors": "open", ":air_handler": "off", ":exhausts_on": "none"}
    told = home.keep("/test-in/co", name, sent | {":fires_lit": "none"}, "p", based).json()
    assert home.readings()[2] == {
        "key": "co_ambient", "place": "utility", "value": "3 ppm", "doors": "open", "air_handler": "off",
        "exhausts_on": "none", "fires_lit": "none",
    }  # fmt: skip
    again = home.keep("/test-in/co", told["at"], {"": "4", ":unit": "ppm", ":is": ""}, "q", told["revision"])
    assert again.status_code == 200
    assert [one["value"] for one in home.readings()[2:]] == ["4 ppm"]


def test_the_same_post_again_makes_no_second_reading(tmp_path: Path) -> None:
    home = site(tmp_path)
    based, name = home.revision(), group(home.get("/test-in/statics"), "|tesp|", "circulate")
    told = [home.keep("/test-in/statics", name, VALUE, "p", based).json() for _ in range(2)]
    assert [one["at"] for one in told] == ["visit.0.reading.2"] * 2
    assert len(home.readings()) == 3
    assert home.readings()[2]["air_handler"] == "circulate"  # of the blank's own speed, though the post left it out


def test_posts_at_the_same_moment_make_one_reading(tmp_path: Path) -> None:
    home = site(tmp_path)
    based, name = home.revision(), group(home.get("/test-in/statics"), "|tesp|", "circulate")
    threads = [
        threading.Thread(target=home.keep, args=("/test-in/statics", name, VALUE, f"p{number}", based))
        for number in range(4)
    ]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(home.readings()) == 3


def test_a_second_tab_is_refused_with_both_versions_and_may_then_keep_its_own(tmp_path: Path) -> None:
    home = site(tmp_path)
    based, name = home.revision(), group(home.get("/test-in/statics"), "|tesp|", "circulate")
    home.keep("/test-in/statics", name, VALUE, "first", based)
    answer = home.keep("/test-in/statics", name, VALUE | {"": "0.7"}, "second", based)
    assert answer.status_code == 409
    told = answer.json()
    assert (told["both"]["yours"], told["both"]["theirs"]) == ("0.7 inH2O", "0.5 inH2O")
    assert ["", "0.5"] in told["both"]["sends"]
    assert [one["value"] for one in home.readings()[2:]] == ["0.5 inH2O"]
    kept = home.keep("/test-in/statics", told["at"], VALUE | {"": "0.7"}, "third", told["revision"])
    assert kept.status_code == 200
    assert [one["value"] for one in home.readings()[2:]] == ["0.7 inH2O"]


def test_another_house_state_is_another_reading(tmp_path: Path) -> None:
    home = site(tmp_path)
    based, name = home.revision(), group(home.get("/test-in/co"), "|co_ambient|", "utility")
    value = {"": "2", ":unit": "ppm", ":is": ""}
    home.keep("/test-in/co", name, value | {":doors": "open"}, "p", based)
    assert home.keep("/test-in/co", name, value | {":doors": "worst case", "": "9"}, "q", based).status_code == 200
    assert [one["value"] for one in home.readings()[2:]] == ["2 ppm", "9 ppm"]


def test_spillage_is_held_against_its_documents_when_it_is_entered(tmp_path: Path) -> None:
    home = site(tmp_path)
    name = group(home.get("/test-in/zone"), "|spillage_time|", "furnace")
    sent = {"": "6", ":unit": "min", ":is": "", ":bound": "at least", ":vent": "cold"}
    note = home.keep("/test-in/zone", name, sent, "p").json()["note"]
    assert home.readings()[2]["value"] == "at least 6 min"
    strictest = min(limits_on("spillage time", applies_to="cold vent"), key=lambda one: one.value)
    assert {strictest.printed in note, strictest.edition in note, strictest.basis.value in note} == {True}
    assert "beyond it" in note
    shown = unescape(home.get("/test-in/zone"))
    for limit in limits_on("spillage time", applies_to="cold vent"):
        assert limit.edition in shown


def test_cautions_stand_on_every_step_that_shows_draft_or_carbon_monoxide(tmp_path: Path) -> None:
    home = site(tmp_path)
    steps = [step for step in STEPS if any(key == "draft" or key.startswith("co_") for key in step.keys)]
    assert len(steps) == 2
    for step in steps:
        shown = unescape(home.get(f"/test-in/{step.path}"))
        assert {CAUTIONS[topic] in shown for topic in (Topic.COMBUSTION, Topic.CARBON_MONOXIDE)} == {True}


def test_appliances_are_asked_for_in_the_order_of_firing(tmp_path: Path) -> None:
    shown = site(tmp_path).get("/test-in/zone")
    assert "the smallest first: water-heater, then furnace" in shown
    assert shown.index("|spillage_time|water-heater|") < shown.index("|spillage_time|furnace|")


def test_test_out_shows_each_reading_of_test_in_until_a_like_one_stands_beside_it(tmp_path: Path) -> None:
    home = site(tmp_path, TEST_IN + TEST_OUT)
    page = unescape(home.get("/test-out/zone"))
    assert "Test-in: at least 5 min" in page
    assert "not re-tested: no such reading at test-out" in page
    assert "would not count as a re-test: doors worst case before, open after" in page
    name = group(page, "|spillage_time|", "water-heater")
    easy = {"": "1", ":unit": "min", ":is": "", ":doors": "open", ":air_handler": "off", ":exhausts_on": "none"}
    home.keep("/test-out/zone", name, easy | {":fires_lit": "none", ":vent": "cold"}, "p")
    assert "not re-tested: only in another state: doors worst case before" in unescape(home.get("/test-out/zone"))
    assert "2 of test-in not re-tested" in home.get("")
    name = group(home.get("/test-out/zone"), "|spillage_time|", "water-heater")
    told = home.keep("/test-out/zone", name, easy, "q")
    hard = {
        ":doors": "worst case",
        ":air_handler": "heating",
        ":exhausts_on": "all",
        ":fires_lit": "none",
        ":vent": "cold",
    }
    assert home.keep("/test-out/zone", told.json()["at"], easy | hard, "r").status_code == 200
    assert "re-tested in the like state" in home.get("/test-out/zone")


def test_what_cannot_be_read_is_said_and_kept_nowhere(tmp_path: Path) -> None:
    home = site(tmp_path)
    name = group(home.get("/test-in/statics"), "|tesp|", "circulate")
    answer = home.keep("/test-in/statics", name, VALUE | {"": "about half"}, "p")
    assert answer.status_code == 422
    assert "about half" in answer.json()["note"]
    assert len(home.readings()) == 2


def test_an_emptied_reading_asks_why_there_is_no_number(tmp_path: Path) -> None:
    home = site(tmp_path)
    answer = home.keep("/test-in/statics", "visit.0.reading.0", VALUE | {"": ""}, "p")
    assert answer.status_code == 422
    assert home.readings()[0]["value"] == "0.86 inH2O"
    gone = home.keep("/test-in/statics", "visit.0.reading.0", VALUE | {"": "", ":is": "not accessible"}, "q")
    assert gone.status_code == 200
    assert home.readings()[0]["value"] == "not accessible"


def test_a_reading_is_taken_away_by_its_button_only(tmp_path: Path) -> None:
    home = site(tmp_path)
    sent = {"path": "visit.0.reading.0", "based_on": str(home.revision()), "post": "p"}
    assert home.post("/test-in/statics/take", sent | {"path": "visit.0.gates"}).status_code == 404
    assert home.post("/test-in/statics/take", sent).status_code == 303
    assert [one["key"] for one in home.readings()] == ["spillage_time"]


def test_a_whole_form_without_scripts_sends_only_what_changed(tmp_path: Path) -> None:
    home = site(tmp_path)
    sent = sent_by(home.get("/test-in/statics"))
    assert home.post("/test-in/statics", sent).headers["location"].endswith("said=Nothing%20was%20changed.")
    name = group(home.get("/test-in/statics"), "|tesp|", "circulate")
    sent |= {name: ["0.4"], "visit.0.reading.0": ["0.9"]}
    assert "Saved%202%20changes" in home.post("/test-in/statics", sent).headers["location"]
    assert [one["value"] for one in home.readings()] == ["0.9 inH2O", "at least 5 min", "0.4 inH2O"]


def test_a_whole_form_shows_both_versions_and_keeps_the_one_chosen(tmp_path: Path) -> None:
    home = site(tmp_path)
    sent = sent_by(home.get("/test-in/statics"))
    name = group(home.get("/test-in/statics"), "|tesp|", "circulate")
    home.keep("/test-in/statics", name, VALUE, "other tab")
    answer = home.post("/test-in/statics", sent | {name: ["0.4"], "visit.0.reading.0": ["0.9"]})
    assert answer.status_code == 409
    assert {"0.4 inH2O, yours" in answer.text, "0.5 inH2O, by" in answer.text} == {True}
    assert home.readings()[0]["value"] == "0.9 inH2O"  # the field beside it was kept
    chosen = sent_by(answer.text) | {f"{name}:keep": ["yours"]}
    assert home.post("/test-in/statics", chosen).status_code == 303
    assert [one["value"] for one in home.readings()] == ["0.9 inH2O", "at least 5 min", "0.4 inH2O"]


def test_what_runs_is_none_all_or_named_never_mixed(tmp_path: Path) -> None:
    home = site(tmp_path)
    name = "visit.0.state.exhausts_on"
    both = {name: ["", "none", "hood"], "only": name, "based_on": str(home.revision()), "post": "p"}
    assert home.post("/test-in/state", both).status_code == 422
    named = both | {name: ["", "hood"], "post": "q"}
    assert home.post("/test-in/state", named).status_code == 200
    assert home.visits()[0]["state"]["exhausts_on"] == ["hood"]


def test_a_diary_entry_of_the_visit_stands_in_the_survey(tmp_path: Path) -> None:
    home = site(tmp_path)
    assert "in the survey" in home.get("/test-in/diary")
    sent = {
        "diary.0.start": "2025-09-23T18:00", "diary.0.kind": "fire", "diary.0.text": "lit at six",
        "based_on": str(home.revision()), "post": "p",
    }  # fmt: skip
    assert home.post("/test-in/diary/add", sent).status_code == 303
    survey = tomllib.loads(text_of(home.store, home.job, "survey")[0])
    assert survey["diary"] == [{"start": "2025-09-23 18:00", "kind": "fire", "text": "lit at six"}]


def test_a_gauge_without_a_name_is_asked_for_again(tmp_path: Path) -> None:
    home = site(tmp_path)
    sent = {"visit.0.instrument.0.kind": "manometer", "based_on": str(home.revision()), "post": "p"}
    answer = home.post("/test-in/gauges/add", sent)
    assert answer.status_code == 422
    assert 'value="manometer"' in answer.text
    assert home.post("/test-in/gauges/add", sent | {"visit.0.instrument.0.id": "g1", "post": "q"}).status_code == 303
    assert home.visits()[0]["instrument"] == [{"id": "g1", "kind": "manometer"}]


def test_odd_texts_are_shown_and_not_lost(tmp_path: Path) -> None:
    odd = TEST_IN.replace("reading = [", 'reading = [ { key = "no_such", value = "1" }, { value = "2 Pa" },')
    home = site(tmp_path, odd.replace('kind = "test-in"', 'kind = "test-in"\nextra = 3'))
    assert "0.86" in home.get("/test-in/statics")
    kept = home.keep("/test-in/statics", "visit.0.reading.2", VALUE, "p")
    assert kept.status_code == 200
    assert [one.get("value") for one in home.readings()] == ["1", "2 Pa", "0.5 inH2O", "at least 5 min"]
    for broken in ('schema = 1\n[[visit]]\nid = "a/b"\n', "schema = 1\nvisit = 3\n", "visit = [1, 2]\n"):
        other = site(tmp_path / str(len(broken)), broken)
        other.get("")
    assert other.get("/no-1/gates")


def test_every_check_and_gate_is_asked(tmp_path: Path) -> None:
    home = site(tmp_path)
    assert {name.split(".")[-1] for name in groups(home.get("/test-in/gates")).values()} == set(GATES)
    assert {name.split(".")[-1] for name in groups(home.get("/test-in/looked-at")).values()} == set(CHECKS)


def test_a_reading_is_stamped_with_the_minute_it_was_typed_unless_it_was_copied_from_paper(tmp_path: Path) -> None:
    now = datetime.now(ZoneInfo("America/Denver"))
    typed = (now - timedelta(minutes=42)).astimezone(UTC).isoformat()
    today = site(tmp_path, TEST_IN.replace("2025-09-23 09:30", f"{now - timedelta(hours=1):%Y-%m-%d %H:%M}"))
    later = site(tmp_path / "paper")
    for home in (today, later):
        name = group(home.get("/test-in/statics"), "|tesp|", "circulate")
        sent = {f"{name}{suffix}": value for suffix, value in VALUE.items()}
        told = {"only": name, "based_on": str(home.revision()), "post": "p", "typed": typed}
        assert home.post("/test-in/statics", sent | told).status_code == 200
    assert today.readings()[2]["time"] == f"{now - timedelta(minutes=42):%Y-%m-%d %H:%M}"
    assert "time" not in later.readings()[2]
