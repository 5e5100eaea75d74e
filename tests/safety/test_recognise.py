"""Gates and what is left to others; rooms, returns, handler, leakage and the household's own words."""

from __future__ import annotations

from dataclasses import replace

import pytest
from safety_houses import (
    CFM,
    DAY,
    EMPTY,
    FIREPLACE,
    FURNACE,
    HEATING,
    START,
    TEST_IN,
    TEST_OUT,
    WORST,
    about,
    appliance,
    house,
    log,
    minutes,
    quiet_co,
    reading,
    visit,
)

from airtally.estimates import Missing
from airtally.house.parts import Affects, Change, DiaryEntry, House, Venting
from airtally.quantities import Quantity
from airtally.safety import Grade, HandOver, SafetyVerdict, Standing, Topic, assess, fill
from airtally.visits import Answer, Doors, HandlerMode, Visit, VisitAction, VisitKind

OUT = VisitKind.TEST_OUT
SEALING = Change(
    id="works", time=START + 21 * DAY, ends=START + 22 * DAY, name="sealing", affects=(Affects.ENVELOPE,),
    begins_phase=True,
)  # fmt: skip


def outdoors():  # type: ignore[no-untyped-def]
    return reading("co_ambient", about(0.0, "mol/mol", 1e-6), "outdoors")


def done(about_what: str) -> VisitAction:
    return VisitAction(about=about_what, status="done", time=TEST_OUT, by="licensed firm")


def forms(verdict: SafetyVerdict) -> set[str]:
    return {one.form for one in verdict.blocked_forms}


# ---- gates -----------------------------------------------------------------------------------------------------------


def test_an_emergency_of_an_earlier_visit_stays_until_someone_cleared_it() -> None:
    earlier, later = visit(gates={"gas_smell": Answer.YES}), visit(outdoors(), kind=OUT)
    verdict = assess(house(), (earlier, later), EMPTY)
    (finding,) = verdict.find("safety-emergency")
    assert (finding.standing, finding.grade) == (Standing.UNKNOWN, Grade.STOP)
    assert verdict.verdict is HandOver.DO_NOT
    cleared = replace(later, actions=(done("gas_smell"),))
    assert assess(house(), (earlier, cleared), EMPTY).find("safety-emergency")[0].standing is Standing.DONE


def test_a_gate_that_nobody_asked_restricts() -> None:
    unasked = visit(outdoors(), kind=OUT, gates={"symptoms_clear_outdoors": Answer.UNKNOWN})
    verdict = assess(house(), (unasked,), EMPTY)
    assert verdict.find("safety-gate-not-asked")[0].grade is Grade.RESTRICT
    assert verdict.verdict is HandOver.WITH_RESTRICTIONS


def test_a_material_once_found_blocks_the_pressure_form_until_others_worked_on_it() -> None:
    found, denied = visit(gates={"vermiculite": Answer.YES}), visit(outdoors(), kind=OUT)
    assert "blower door" in forms(assess(house(), (found, denied), EMPTY))
    cleared = replace(denied, actions=(done("vermiculite"),))
    assert "blower door" not in forms(assess(house(), (found, cleared), EMPTY))


def test_a_worst_case_reading_through_a_material_gate_is_referred() -> None:
    pressed = visit(
        reading("spillage_time", about(40.0, "s", 5.0), "water-heater"), gates={"vermiculite": Answer.YES}, kind=OUT
    )
    (finding,) = assess(house(appliance()), (pressed,), EMPTY).find("safety-blocked-form-filled")
    assert finding.grade is Grade.REFER
    easy = replace(WORST, doors=Doors.OPEN)
    gentle = visit(
        reading("spillage_time", about(40.0, "s", 5.0), "water-heater", easy), gates={"vermiculite": Answer.YES}
    )
    assert assess(house(appliance()), (gentle,), EMPTY).find("safety-blocked-form-filled") == ()


def test_a_gas_leak_found_with_the_sniffer_is_an_emergency() -> None:
    leak = visit(outdoors(), kind=OUT, checks={"gas_leak_found": Answer.YES})
    verdict = assess(house(), (leak,), EMPTY)
    assert verdict.findings[0].code == "safety-emergency"
    assert "touch no switch" in verdict.findings[0].action
    mended = replace(visit(outdoors(), kind=OUT, checks={"gas_leak_found": Answer.NO}), time=TEST_OUT + DAY)
    assert assess(house(), (leak, mended), EMPTY).find("safety-emergency") == ()


def test_a_test_out_without_any_reading_tests_nothing() -> None:
    verdict = assess(house(), (visit(kind=OUT),), EMPTY)
    assert verdict.verdict is HandOver.NOT_ASSESSED
    assert verdict.reasons[0] == "The test-out holds no reading."
    unread = visit(reading("tesp", Missing.NOT_ACCESSIBLE, "air handler", HEATING), kind=OUT)
    assert assess(house(), (unread,), EMPTY).verdict is HandOver.NOT_ASSESSED


# ---- others' work ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("check", "topic", "who"),
    [
        ("mould_seen", Topic.HAZARDOUS_MATERIALS, "licensed firm"),
        ("lead_paint_suspected", Topic.HAZARDOUS_MATERIALS, "certified firm"),
        ("electrical_hazard_seen", Topic.ELECTRICITY, "licensed electrician"),
        ("refrigerant_leak_suspected", Topic.REFRIGERANT, "certified technician"),
    ],
)
def test_what_is_others_work_is_recognised_and_referred(check: str, topic: Topic, who: str) -> None:
    seen = visit(outdoors(), kind=OUT, checks={check: Answer.YES})
    verdict = assess(house(), (seen,), EMPTY)
    found = [one for one in verdict.findings if one.id.endswith(check)]
    assert [(one.grade, one.standing, one.topic) for one in found] == [(Grade.REFER, Standing.OPEN, topic)]
    assert who in found[0].action
    assert verdict.verdict is HandOver.WITH_RESTRICTIONS
    assert not any(one.id.endswith(check) for one in assess(house(), (visit(outdoors(), kind=OUT),), EMPTY).findings)


def test_radon_is_raised_where_work_moved_pressures_and_no_test_is_on_file_since() -> None:
    """US action level 4 pCi/L (read), lower levels still carry risk; WHO 100 Bq/m3 from memory."""
    worked = replace(house(), changes=(SEALING,))
    (finding,) = assess(worked, (visit(outdoors(), kind=OUT),), EMPTY).find("safety-radon")
    assert (finding.grade, finding.standing, finding.topic) == (Grade.REFER, Standing.UNKNOWN, Topic.RADON)
    assert "4 pCi/L" in finding.sentence
    assert "from memory" in finding.sentence
    old = visit(outdoors(), checks={"radon_tested": Answer.YES})
    assert "older than that" in assess(worked, (old,), EMPTY).find("safety-radon")[0].sentence
    new = visit(outdoors(), kind=OUT, checks={"radon_tested": Answer.YES})
    assert assess(worked, (old, new), EMPTY).find("safety-radon") == ()
    other = replace(SEALING, affects=(Affects.FILTER,))  # a filter moves no pressure that radon follows
    assert assess(replace(house(), changes=(other,)), (), EMPTY).find("safety-radon") == ()


def test_a_permit_nobody_asked_for_is_said_and_a_missing_one_restricts() -> None:
    worked = replace(house(), changes=(SEALING,))
    silent = assess(worked, (visit(outdoors(), kind=OUT),), EMPTY).find("safety-permit")[0]
    assert (silent.grade, silent.standing) == (Grade.NOTE, Standing.UNKNOWN)
    without = visit(outdoors(), kind=OUT, checks={"permit_checked": Answer.NO})
    assert assess(worked, (without,), EMPTY).find("safety-permit")[0].grade is Grade.RESTRICT
    asked = visit(outdoors(), kind=OUT, checks={"permit_checked": Answer.YES})
    assert assess(worked, (asked,), EMPTY).find("safety-permit") == ()


# ---- draft and flue --------------------------------------------------------------------------------------------------


def draft(pull: float, degrees_f: float | None = 32.0) -> Visit:
    outdoor = None if degrees_f is None else about((degrees_f + 459.67) / 1.8, "K")
    state = replace(WORST, outdoor_temperature=outdoor)
    return visit(reading("draft", about(-pull, "Pa", 0.05), "water-heater", state), kind=OUT)


@pytest.mark.parametrize(
    ("pull", "degrees_f", "grade"),
    [(2.2, 32.0, None), (1.5, 32.0, Grade.RESTRICT), (1.5, 60.0, None), (0.4, 95.0, Grade.RESTRICT), (-1.0, 32.0, Grade.STOP)],
)  # fmt: skip
def test_draft_of_a_gas_flue_is_held_against_the_table_by_outdoor_temperature(
    pull: float, degrees_f: float, grade: Grade | None
) -> None:
    """T/40 - 2.75 Pa (older audit table, from memory): -1.95 Pa at 32 F, -1.25 at 60, -0.5 above 90."""
    found = assess(house(appliance()), (draft(pull, degrees_f),), EMPTY).find("safety-draft")
    assert [one.grade for one in found] == ([] if grade is None else [grade])
    assert all(limit.basis == "from memory" for one in found for limit in one.limits)


def test_a_draft_without_outdoor_temperature_and_one_nobody_read_are_not_checked() -> None:
    bare = assess(house(appliance()), (draft(3.0, None),), EMPTY)
    assert "held against nothing" in bare.find("safety-draft-not-tested")[0].title
    unread = visit(reading("draft", Missing.NOT_ACCESSIBLE, "water-heater"), kind=OUT)
    verdict = assess(house(appliance()), (unread,), EMPTY)
    assert "not accessible" in verdict.find("safety-draft-not-tested")[0].sentence
    assert any("Draft of the water heater" in line for line in verdict.not_checked)


@pytest.mark.parametrize(
    ("key", "level", "grade"),
    [
        ("co_flue", 20.0, None),
        ("co_flue", 60.0, Grade.RESTRICT),
        ("co_flue", 150.0, Grade.STOP),
        ("co_flue", 500.0, Grade.STOP),
        ("co_flue_as_measured", 150.0, Grade.STOP),
    ],
)
def test_flue_co_is_held_against_every_rung(key: str, level: float, grade: Grade | None) -> None:
    """26, 100 and 400 ppm in the undiluted flue (older audit standard, from memory)."""
    test = visit(reading(key, about(level * 1e-6, "mol/mol", 1e-6), "water-heater"), kind=OUT)
    verdict = assess(house(appliance()), (test,), EMPTY)
    assert [one.grade for one in verdict.find("safety-co-flue")] == ([] if grade is None else [grade])
    if level > 400.0:
        assert "shut it off at its valve" in verdict.find("safety-co-flue")[0].action
    diluted_only = key == "co_flue_as_measured"
    assert bool(verdict.find("safety-co-flue-not-tested")) is diluted_only


def test_a_low_reading_in_a_diluted_flue_clears_nothing() -> None:
    high = visit(reading("co_flue", about(150e-6, "mol/mol", 1e-6), "water-heater"))
    low = visit(reading("co_flue_as_measured", about(5e-6, "mol/mol", 1e-6), "water-heater"), kind=OUT)
    assert assess(house(appliance()), (high, low), EMPTY).find("safety-co-flue")[0].is_open
    right = visit(reading("co_flue", about(5e-6, "mol/mol", 1e-6), "water-heater"), kind=OUT)
    assert not assess(house(appliance()), (high, right), EMPTY).find("safety-co-flue")[0].is_open


# ---- rooms and returns -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("value", "grade"), [(-2.0, None), (-4.5, Grade.NOTE), (4.5, Grade.RESTRICT)])
def test_a_room_behind_a_shut_door_counts_by_size_and_a_hearth_on_the_lower_side_restricts(
    value: float, grade: Grade | None
) -> None:
    """3 Pa across a closed door is the usual level of concern (common practice, no source); either sign."""
    shut = replace(HEATING, doors=Doors.CLOSED)
    test = visit(
        replace(reading("zone_pressure_change", about(value, "Pa", 0.2), "utility", shut), reference="main"), kind=OUT
    )
    found = assess(house(FIREPLACE), (test,), EMPTY).find("safety-closed-door")  # the hearth is in main
    assert [one.grade for one in found] == ([] if grade is None else [grade])
    still = replace(shut, air_handler=HandlerMode.OFF)
    off = replace(test, readings=tuple(replace(one, state=still) for one in test.readings))
    assert assess(house(FIREPLACE), (off,), EMPTY).find("safety-closed-door") == ()


def test_rooms_without_a_co_reading_are_named_and_one_with_a_burner_restricts() -> None:
    (finding,) = assess(house(appliance()), (visit(outdoors(), kind=OUT),), EMPTY).find("safety-co-room-not-read")
    assert "main, utility" in finding.sentence
    assert finding.grade is Grade.RESTRICT
    some = visit(outdoors(), reading("co_ambient", about(0.0, "mol/mol", 1e-6)), kind=OUT)
    (finding,) = assess(house(appliance()), (some,), EMPTY).find("safety-co-room-not-read")
    assert finding.grade is Grade.NOTE


def test_returns_nobody_followed_are_said_to_be_unknown() -> None:
    blind = assess(house(appliance(), FIREPLACE), (visit(outdoors(), kind=OUT),), EMPTY)
    (finding,) = blind.find("safety-return-not-looked-at")
    assert all(word in finding.sentence for word in ("garage", "vented appliance", "hearth"))
    looked = visit(
        reading("return_distance", about(5.0, "m", 0.1), "main"),
        checks={"return_in_garage": Answer.NO, "return_in_appliance_zone": Answer.NO},
        kind=OUT,
    )
    assert assess(house(appliance(), FIREPLACE), (looked,), EMPTY).find("safety-return-not-looked-at") == ()


# ---- air handler and leakage -----------------------------------------------------------------------------------------


def test_heat_rise_and_cooling_airflow_that_nobody_measured_are_not_checked() -> None:
    plate = reading("cooling_capacity", about(8792.0, "W"), "air handler")
    verdict = assess(house(FURNACE), (visit(outdoors(), plate, kind=OUT),), EMPTY)
    assert verdict.find("safety-heat-rise-not-tested")[0].standing is Standing.UNKNOWN
    assert verdict.find("safety-cooling-airflow-not-tested")
    bare = visit(reading("heat_rise", about(35.0, "K", 0.5), "air handler", HEATING), kind=OUT)
    (finding,) = assess(house(FURNACE), (bare,), EMPTY).find("safety-heat-rise-not-tested")
    assert "plate was not read" in finding.sentence


def test_duct_leakage_is_held_against_the_floor_area_and_large_exhausts_against_the_make_up_rule() -> None:
    """4 cfm per 100 ft2 (2018 model code, read); make-up air above 400 cfm (model mechanical code, read)."""
    area_ft2 = 200.0 / 0.3048**2
    for per_100, expected in ((6.5, 1), (3.0, 0)):
        leak = visit(reading("cfm25_total", about(per_100 * area_ft2 / 100 * CFM, "m3/s"), "ducts"), kind=OUT)
        found = assess(house(), (leak,), EMPTY).find("safety-duct-leakage")
        assert len(found) == expected
        assert all("6.5 cfm/100 ft2" in fill(one) for one in found)
    assert assess(house(hood=450.0), (), EMPTY).find("safety-make-up-air")[0].topic is Topic.PERMITS
    assert assess(house(hood=350.0), (), EMPTY).find("safety-make-up-air") == ()


def test_both_editions_stand_in_the_sentence_where_they_differ() -> None:
    test = visit(reading("worst_case_pressure_change", about(-8.0, "Pa", 0.2)), kind=OUT)
    (finding,) = assess(house(FURNACE), (test,), EMPTY).find("safety-depressurisation")
    assert "-5 Pa (auditor's list, United States, practice, read) is the stricter and governs" in finding.sentence
    assert "-15 Pa (older audit table, United States, audit programme, from memory, dropped" in finding.sentence
    lone = visit(reading("worst_case_pressure_change", about(-8.0, "Pa", 0.2)), kind=OUT)
    (finding,) = assess(house(appliance()), (lone,), EMPTY).find("safety-depressurisation")
    assert "Editions differ" not in finding.sentence  # both lists print -2 Pa


# ---- re-tests --------------------------------------------------------------------------------------------------------


def test_a_repetition_from_before_the_works_is_no_re_test() -> None:
    before = visit(reading("worst_case_pressure_change", about(-0.6, "Pa", 0.1)))
    after = visit(reading("worst_case_pressure_change", about(-0.5, "Pa", 0.1)), outdoors(), kind=OUT)
    works = replace(SEALING, time=TEST_OUT + DAY, ends=TEST_OUT + 2 * DAY)
    home = house(appliance())
    assert assess(home, (before, after), EMPTY).not_retested == ()
    verdict = assess(replace(home, changes=(works,)), (before, after), EMPTY)
    assert [(one.key, one.why) for one in verdict.not_retested] == [
        ("worst_case_pressure_change", "not since works that move it")
    ]
    assert verdict.find("safety-depressurisation-not-tested")
    removed = replace(home, appliances=(replace(appliance(), until=TEST_IN + DAY),))
    flue = visit(reading("co_flue", about(5e-6, "mol/mol", 1e-6), "water-heater"))
    assert assess(removed, (flue, after), EMPTY).not_retested == ()  # nobody can test what was taken out


# ---- the household's own words ---------------------------------------------------------------------------------------


def entry(text: str, kind: str = "other", at: float = START + 5 * DAY) -> DiaryEntry:
    return DiaryEntry(start=at, end=None, kind=kind, text=text)


def with_diary(*entries: DiaryEntry) -> House:
    return house(appliance(), diary=entries)


@pytest.mark.parametrize(
    ("text", "kind", "code", "grade"),
    [
        ("the CO alarm went off at night", "other", "safety-diary-alarm", Grade.STOP),
        ("carbon monoxide alarm sounded twice", "other", "safety-diary-alarm", Grade.STOP),
        ("smoke alarm went off over the pan", "cooking", "safety-diary-alarm", Grade.RESTRICT),
        ("smell of gas in the hall", "other", "safety-diary-gas", Grade.STOP),
        ("all of us had a headache", "other", "safety-diary-unwell", Grade.RESTRICT),
        ("smoky room at light-up", "fire", "safety-diary-smoke", Grade.RESTRICT),
        ("stove puffed back", "other", "safety-diary-smoke", Grade.RESTRICT),
    ],
)
def test_what_the_household_wrote_raises_a_question(text: str, kind: str, code: str, grade: Grade) -> None:
    verdict = assess(with_diary(entry(text, kind)), (), EMPTY)
    found = [one for one in verdict.findings if one.code.startswith("safety-diary")]
    assert [(one.code, one.grade) for one in found] == [(code, grade)]
    assert text in found[0].evidence[0]
    assert "No cause is named" in found[0].sentence


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("fire in the living room", "fire"),
        ("wildfire smoke outside all day", "other"),
        ("pan smoked a bit", "cooking"),
        ("new battery in the CO alarm", "other"),
        ("filled up with gas", "car"),
        ("neighbour's chimney smoke", "fire"),
    ],
)
def test_plain_entries_raise_nothing(text: str, kind: str) -> None:
    verdict = assess(with_diary(entry(text, kind)), (), EMPTY)
    assert [one.code for one in verdict.findings if one.code.startswith("safety-diary")] == []


def test_an_entry_is_answered_by_a_later_visit_only_and_shows_what_the_logger_read() -> None:
    home = with_diary(entry("CO alarm went off"))
    time = minutes(10.0)
    co = quiet_co(time)
    co[(time > START + 5 * DAY) & (time < START + 5 * DAY + 600)] = 12e-6
    (finding,) = assess(home, (), log({("m6", Quantity.CO): (time, co)})).find("safety-diary-alarm")
    assert "12 ppm" in fill(finding)
    worst_co = reading("co_ambient", about(0.0, "mol/mol", 1e-6))
    answered = assess(home, (visit(worst_co, kind=OUT),), EMPTY).find("safety-diary-alarm")[0]
    assert (answered.standing, answered.done_by) == (Standing.DONE, "technician")
    unread = assess(home, (visit(outdoors(), kind=OUT),), EMPTY).find("safety-diary-alarm")[0]
    # outdoors was read in the worst state too, which is no room
    assert unread.is_open
    later = replace(home, diary=(entry("CO alarm went off", at=TEST_OUT + DAY),))
    assert assess(later, (visit(worst_co, kind=OUT),), EMPTY).find("safety-diary-alarm")[0].is_open


def test_sealed_burners_ask_for_no_spillage_test() -> None:
    sealed = appliance(venting=Venting.SEALED)
    codes = {one.code for one in assess(house(sealed), (visit(outdoors(), kind=OUT),), EMPTY).findings}
    assert not codes & {"safety-spillage-not-tested", "safety-co-flue-not-tested", "safety-draft-not-tested"}
