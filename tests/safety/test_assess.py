"""Gates, readings against limits, what lifts a block, outages, fires, the verdict and its words."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from math import inf

import numpy as np
import pytest
from numpy.testing import assert_allclose
from safety_houses import (
    CFM,
    DAY,
    EMPTY,
    FIREPLACE,
    FURNACE,
    HEATING,
    START,
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
    with_event,
)

from airtally.errors import InputError
from airtally.house.parts import Affects, Change, DiaryEntry, House, ReturnLeak, Venting
from airtally.house.suction_limits import pressure_limits
from airtally.network import HousePressure
from airtally.quantities import Quantity
from airtally.safety import (
    CAUTIONS,
    FINDINGS,
    Grade,
    HandOver,
    SafetyVerdict,
    Standing,
    Topic,
    assess,
    fill,
    safety_outages,
)
from airtally.visits import GATES, Answer, Doors, HandlerMode, VentStart, Visit, VisitAction, VisitKind

OUT = VisitKind.TEST_OUT
WORKS = Change(
    id="works", time=START + 29 * DAY, ends=START + 31 * DAY, name="sealing",
    affects=(Affects.RETURN_LEAK, Affects.EXHAUST), begins_phase=True,
)  # fmt: skip


def pascal(value: float, half: float = 0.2):  # type: ignore[no-untyped-def]
    return about(value, "Pa", half)


def seconds(value: float, half: float = 10.0):  # type: ignore[no-untyped-def]
    return about(value, "s", half)


def ppm(value: float):  # type: ignore[no-untyped-def]
    return about(value * 1e-6, "mol/mol", 0.5e-6)


def worked(home: House) -> House:
    return replace(home, changes=(WORKS,))


def looked_at():  # type: ignore[no-untyped-def]
    """Return a reading that shows that a visit measured something."""
    return reading("co_ambient", ppm(0.0), "outdoors")


def passed(*more: object) -> Visit:
    """Return a test-out in which the lone water heater passes everything that blocks."""
    return visit(
        reading("worst_case_pressure_change", pascal(-0.5)),
        reading("spillage_time", seconds(40.0), "water-heater"),
        reading("co_flue", ppm(5.0), "water-heater"),
        reading("draft", pascal(-4.0), "water-heater"),
        reading("co_ambient", ppm(0.0), "main"),
        reading("co_ambient", ppm(0.0)),
        reading("co_ambient", ppm(0.0), "outdoors"),
        *more,  # type: ignore[arg-type]
        kind=OUT,
    )


def co_log(event_at: float | None = None, days: float = 40.0):  # type: ignore[no-untyped-def]
    time = minutes(days)
    co = quiet_co(time)
    if event_at is not None:
        co = with_event(co, time, event_at, 1500.0, 11e-6, 19e-6)
    return log({("m6", Quantity.CO): (time, co)})


# ---- gates -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gate", ["alarm_sounding", "gas_smell", "symptoms_clear_outdoors"])
def test_an_emergency_gate_blocks_every_form_and_forbids_the_hand_over(gate: str) -> None:
    verdict = assess(
        house(appliance()), (passed(), replace(visit(gates={gate: Answer.YES}), time=TEST_OUT + 1)), co_log()
    )
    assert verdict.verdict is HandOver.DO_NOT
    assert verdict.findings[0].code == "safety-emergency"
    blocked = [one for one in verdict.blocked_forms if one.form == "every form"]
    assert "Everyone out" in blocked[0].do


@pytest.mark.parametrize(
    ("gate", "form"),
    [
        ("fire_or_ash_within_24_h", "blower door"),
        ("vermiculite", "worst-case depressurisation"),
        ("suspect_wrap", "duct leakage test"),
    ],
)
def test_a_gate_answered_yes_or_not_at_all_blocks_its_forms_and_no_answer_lifts_it(gate: str, form: str) -> None:
    for answer, expected in ((Answer.YES, True), (Answer.UNKNOWN, True), (Answer.NO, False)):
        verdict = assess(house(), (visit(gates={gate: answer}),), EMPTY)
        assert (form in {one.form for one in verdict.blocked_forms}) is expected, answer


def test_a_reading_taken_through_a_closed_gate_is_told() -> None:
    pressed = visit(reading("cfm50", about(1.0, "m3/s", 0.1), "house"), gates={"vermiculite": Answer.UNKNOWN})
    (finding,) = assess(house(), (pressed,), EMPTY).find("safety-blocked-form-filled")
    assert "cfm50" in finding.sentence


def test_without_a_visit_every_gate_is_unknown_and_nothing_is_cleared() -> None:
    verdict = assess(house(), (), EMPTY)
    assert {one.answer for one in verdict.gates} == {Answer.UNKNOWN}
    assert len(verdict.gates) == len(GATES)
    assert verdict.verdict is HandOver.NOT_ASSESSED


# ---- limits ----------------------------------------------------------------------------------------------------------


def test_stricter_limit_governs_and_every_programme_shows() -> None:
    """Induced draft: the older audit table prints -15 Pa, an auditor's list -5 Pa; at -8 Pa the stricter is crossed."""
    test = visit(reading("worst_case_pressure_change", pascal(-8.0)), kind=OUT)
    (finding,) = assess(house(FURNACE), (test,), co_log()).find("safety-depressurisation")
    by_printed = {one.printed: one for one in finding.limits}
    assert set(by_printed) == {"-5 Pa", "-15 Pa"}
    assert (by_printed["-5 Pa"].governs, by_printed["-5 Pa"].is_crossed) == (True, True)
    assert (by_printed["-15 Pa"].governs, by_printed["-15 Pa"].is_crossed) == (False, False)
    assert finding.grade is Grade.STOP


def test_signs_are_pressures_not_magnitudes() -> None:
    """-3 Pa is stricter than -5 Pa, and no suction or a house above outdoors crosses nothing."""
    alone = pressure_limits(appliance(), (appliance(),))
    shared = pressure_limits(appliance(), (appliance(), FURNACE))
    assert {one.value for one in alone} == {-2.0}
    assert {one.value for one in shared} == {-2.0, -3.0, -5.0}
    for value in (0.0, 4.0, -1.0):
        test = visit(reading("worst_case_pressure_change", pascal(value)), kind=OUT)
        assert assess(house(appliance()), (test,), co_log()).find("safety-depressurisation") == ()


def test_a_reading_whose_interval_holds_the_limit_is_too_close_to_call() -> None:
    test = visit(reading("worst_case_pressure_change", pascal(-2.1, 0.5)), kind=OUT)
    (finding,) = assess(house(appliance()), (test,), co_log()).find("safety-depressurisation")
    assert finding.limits[0].is_crossed is None
    assert finding.grade is Grade.RESTRICT


def test_a_pressure_against_another_room_is_not_held_against_a_limit_to_outdoors() -> None:
    wrong = replace(reading("worst_case_pressure_change", pascal(-9.0)), reference="main")
    verdict = assess(house(appliance()), (visit(wrong, kind=OUT),), co_log())
    assert verdict.find("safety-depressurisation") == ()
    assert verdict.find("safety-depressurisation-not-tested")


def test_a_calculation_is_shown_and_lifts_nothing() -> None:
    verdict = assess(house(appliance(), cfm50=20000.0), (visit(looked_at(), kind=OUT),), co_log())
    (finding,) = verdict.find("safety-depressurisation-not-tested")
    assert all(one.is_crossed is False for one in finding.limits)  # computed far within the limit
    assert finding.standing is Standing.UNKNOWN
    assert verdict.verdict is HandOver.WITH_RESTRICTIONS


def test_a_network_that_refuses_the_readings_takes_no_finding_away(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise InputError("an airflow of nothing fits no fan")

    test = visit(reading("spillage_time", seconds(400.0), "water-heater"), kind=OUT)
    monkeypatch.setattr(sys.modules["airtally.safety.assess"], "worst_cases", refuse)
    verdict = assess(house(appliance()), (test,), co_log())
    assert verdict.find("safety-spillage")[0].is_open
    assert verdict.find("safety-depressurisation-not-tested")


@pytest.mark.parametrize("is_tested", [True, False])
@pytest.mark.parametrize("depth", [-40.0, -3.0, 0.0, 5.0])
def test_no_computed_pressure_moves_a_grade_a_standing_or_the_verdict(depth: float, is_tested: bool) -> None:
    case = HousePressure(state="all exhaust fans", pressure=pascal(depth), flows=(), method="network")
    lit = replace(case, state="with a fire", has_fire_lit=True)
    home, tests = house(appliance(), FIREPLACE), (passed() if is_tested else visit(looked_at(), kind=OUT),)
    without, beside = assess(home, tests, co_log(), ()), assess(home, tests, co_log(), (case, lit))
    assert (without.verdict, without.reasons) == (beside.verdict, beside.reasons)
    kept = [[(one.id, one.grade, one.standing) for one in verdict.findings] for verdict in (without, beside)]
    assert kept[0] == kept[1]


@pytest.mark.parametrize(
    ("value", "vent", "grade"),
    [
        (seconds(40.0), VentStart.COLD, None),
        (seconds(180.0), VentStart.WARM, Grade.STOP),
        (seconds(180.0), VentStart.COLD, Grade.STOP),
        (seconds(120.0), VentStart.COLD, Grade.RESTRICT),
        (about(300.0, "s"), VentStart.COLD, Grade.STOP),
    ],
)
def test_spillage_is_held_against_both_editions_and_the_stricter_governs(
    value: object, vent: VentStart, grade: Grade | None
) -> None:
    """2 min from a warm vent, 5 min from a cold one, 2 min in other editions; from memory, so marked."""
    state = replace(WORST, vent=vent)
    test = visit(reading("spillage_time", value, "water-heater", state), kind=OUT)  # type: ignore[arg-type]
    found = assess(house(appliance()), (test,), co_log()).find("safety-spillage")
    assert [one.grade for one in found] == ([] if grade is None else [grade])
    assert all(limit.basis == "from memory" for one in found for limit in one.limits)


def test_a_pass_noted_at_the_time_of_the_failure_lifts_nothing() -> None:
    both = visit(
        reading("spillage_time", seconds(400.0), "water-heater"),
        reading("spillage_time", seconds(20.0), "water-heater"),
        kind=OUT,
    )
    assert assess(house(appliance()), (both,), co_log(), ()).find("safety-spillage")[0].is_open
    parted = replace(both, readings=(both.readings[0], replace(both.readings[1], time=TEST_OUT + 3600.0)))
    assert not assess(house(appliance()), (parted,), co_log(), ()).find("safety-spillage")[0].is_open


def test_spillage_counts_whatever_the_pressure_was() -> None:
    value = replace(seconds(300.0), high=inf)
    test = visit(
        reading("worst_case_pressure_change", pascal(0.0)), reading("spillage_time", value, "water-heater"), kind=OUT
    )
    verdict = assess(house(appliance()), (test,), co_log())
    assert verdict.verdict is HandOver.DO_NOT
    assert verdict.find("safety-spillage")[0].is_open


def test_heat_rise_outside_the_plate_is_found_on_both_sides_and_done_by_a_later_reading() -> None:
    """The invented job: 71 F at test-in and 66 F at test-out on a plate of 40 to 70 F; 35 F would be too low."""

    def rise(value: float, kind: VisitKind) -> Visit:
        plate = (
            reading("plate_rise_low", about(40 / 1.8, "K"), "air handler"),
            reading("plate_rise_high", about(70 / 1.8, "K"), "air handler"),
        )
        return visit(reading("heat_rise", about(value / 1.8, "K", 0.2), "air handler", HEATING), *plate, kind=kind)

    (found,) = assess(house(), (rise(71.0, VisitKind.TEST_IN),), EMPTY).find("safety-heat-rise")
    assert found.standing is Standing.OPEN
    (found,) = assess(house(), (rise(71.0, VisitKind.TEST_IN), rise(66.0, OUT)), EMPTY).find("safety-heat-rise")
    assert (found.standing, found.done_by, found.done_on) == (Standing.DONE, "technician", TEST_OUT)
    assert assess(house(), (rise(35.0, OUT),), EMPTY).find("safety-heat-rise")[0].is_open
    assert assess(house(), (rise(55.0, OUT),), EMPTY).find("safety-heat-rise") == ()


def test_cooling_airflow_is_held_against_flow_per_ton() -> None:
    """300 and 350 cfm/ton (California, read): 2.5 ton at 700 cfm is 280, at 800 cfm 320, at 1,000 cfm 400."""
    cooling = replace(HEATING, air_handler=HandlerMode.COOLING)
    for cfm, grade in ((700, Grade.RESTRICT), (800, Grade.NOTE), (1000, None)):
        test = visit(
            reading("airflow", about(cfm * CFM, "m3/s"), "air handler", cooling),
            reading("cooling_capacity", about(2.5 * 3516.8528, "W"), "air handler"),
            kind=OUT,
        )
        found = assess(house(), (test,), EMPTY).find("safety-cooling-airflow")
        assert [one.grade for one in found] == ([] if grade is None else [grade])


@pytest.mark.parametrize(("co", "grade"), [(1.0, None), (4.0, Grade.RESTRICT), (12.0, Grade.STOP), (80.0, Grade.STOP)])
def test_room_co_is_held_against_outdoors_and_the_action_levels(co: float, grade: Grade | None) -> None:
    test = visit(reading("co_ambient", ppm(co)), reading("co_ambient", ppm(0.0), "outdoors"), kind=OUT)
    found = assess(house(appliance()), (test,), co_log()).find("safety-co-room")
    assert [one.grade for one in found] == ([] if grade is None else [grade])


def test_return_inlet_near_a_hearth_is_held_against_the_code_distance() -> None:
    """10 ft in the same space, model residential code (read)."""
    near = visit(reading("return_distance", about(6 * 0.3048, "m"), "main"), kind=OUT)
    far = visit(reading("return_distance", about(12 * 0.3048, "m"), "main"), kind=OUT)
    assert assess(house(FIREPLACE), (near,), EMPTY).find("safety-return-near-appliance")
    assert assess(house(FIREPLACE), (far,), EMPTY).find("safety-return-near-appliance") == ()


# ---- only a reading lifts a block ------------------------------------------------------------------------------------


def leaky(until: float = inf) -> House:
    home = house()
    leak = ReturnLeak(id="trunk", zone="garage", fraction=about(0.1, "-", 0.03), is_before_filter=True, until=until)
    assert home.air_handler is not None
    return replace(home, air_handler=replace(home.air_handler, return_leaks=(leak,)))


def test_garage_air_in_the_return_is_a_co_finding_until_a_reading_shows_it_closed() -> None:
    open_leak = assess(leaky(), (visit(kind=OUT),), EMPTY).find("safety-garage-return")[0]
    assert (open_leak.grade, open_leak.standing, open_leak.topic) == (Grade.STOP, Standing.OPEN, Topic.CARBON_MONOXIDE)
    sealed = leaky(until=START + 31 * DAY)
    said = assess(sealed, (visit(kind=OUT),), EMPTY)
    assert said.find("safety-garage-return")[0].standing is Standing.UNKNOWN
    assert said.verdict is HandOver.DO_NOT
    tight = visit(reading("cfm25_return", about(5 * CFM, "m3/s", CFM), "garage"), kind=OUT)
    assert assess(sealed, (tight,), EMPTY).find("safety-garage-return")[0].standing is Standing.DONE
    loose = visit(reading("cfm25_return", about(60 * CFM, "m3/s", CFM), "garage"), kind=OUT)
    assert assess(sealed, (loose,), EMPTY).find("safety-garage-return")[0].is_open


def test_a_reading_from_before_the_sealing_lifts_nothing() -> None:
    early = visit(reading("cfm25_return", about(5 * CFM, "m3/s", CFM), "garage"))
    assert assess(leaky(until=START + 31 * DAY), (early,), EMPTY).find("safety-garage-return")[0].is_open


def carbon_monoxide_is_open(home: House, test: Visit, event_at: float) -> bool:
    return assess(home, (test,), co_log(event_at)).find("safety-co-event")[0].is_open


def test_co_event_is_lifted_by_later_readings_in_the_worst_state_and_by_nothing_else() -> None:
    home = house(appliance())
    before, after = START + 10 * DAY, START + 35 * DAY
    assert assess(home, (), co_log(before)).find("safety-co-event")[0].is_open
    cleared = assess(home, (passed(),), co_log(before)).find("safety-co-event")[0]
    assert (cleared.standing, cleared.done_by) == (Standing.DONE, "technician")
    assert assess(home, (passed(),), co_log(after)).find("safety-co-event")[0].is_open  # the event came later
    easy = visit(
        reading("co_ambient", ppm(0.0), state=HEATING),
        reading("spillage_time", seconds(40.0), "water-heater"),
        kind=OUT,
    )
    assert assess(home, (easy,), co_log(before)).find("safety-co-event")[0].is_open  # not in the worst state
    only_co = visit(reading("co_ambient", ppm(0.0)), kind=OUT)
    assert assess(home, (only_co,), co_log(before)).find("safety-co-event")[0].is_open  # spillage not tested
    ajar = replace(WORST, doors=Doors.OPEN)
    doors = visit(
        reading("co_ambient", ppm(0.0), state=ajar), reading("spillage_time", seconds(40.0), "water-heater"), kind=OUT
    )
    assert assess(home, (doors,), co_log(before)).find("safety-co-event")[0].is_open  # doors not in the worst state
    old_test = visit(reading("spillage_time", seconds(40.0), "water-heater"))
    between = co_log(START + 25 * DAY)
    assert assess(home, (old_test, only_co), between).find("safety-co-event")[0].is_open  # spillage tested too early
    no_burner = house()  # nothing that could spill: the CO reading alone must still be the later one
    assert carbon_monoxide_is_open(no_burner, only_co, START + 35 * DAY)
    assert not carbon_monoxide_is_open(no_burner, only_co, before)


def test_a_changed_appliance_alone_lifts_no_co_event() -> None:
    old = replace(appliance(), until=START + 20 * DAY)
    new = replace(appliance("new", venting=Venting.POWER_VENTED), since=START + 20 * DAY)
    event = assess(house(old, new), (), co_log(START + 10 * DAY)).find("safety-co-event")[0]
    assert event.is_open
    assert "an appliance was changed since; no reading shows what that did" in event.evidence


def test_works_after_the_last_spillage_test_stop_the_hand_over_until_it_is_repeated() -> None:
    early = visit(
        reading("spillage_time", seconds(40.0), "water-heater"), reading("worst_case_pressure_change", pascal(-1.0))
    )
    verdict = assess(worked(house(appliance())), (early,), co_log())
    assert verdict.find("safety-spillage-not-tested")[0].grade is Grade.STOP
    assert assess(worked(house(appliance())), (early, passed()), co_log()).find("safety-spillage-not-tested") == ()


# ---- fires and outages -----------------------------------------------------------------------------------------------


def test_a_hearth_without_a_logged_burn_is_not_tested_with_a_fire() -> None:
    verdict = assess(house(FIREPLACE), (visit(looked_at(), kind=OUT),), co_log())
    (finding,) = verdict.find("safety-not-tested-with-fire")
    assert finding.title == "Not tested with a fire"
    assert finding.standing is Standing.UNKNOWN
    assert any(one.rule.startswith("No large exhaust with a fire lit") for one in verdict.restrictions)
    assert verdict.verdict is HandOver.WITH_RESTRICTIONS


def burning(depth: float):  # type: ignore[no-untyped-def]
    time = minutes(12.0)
    start = START + 8.0 * DAY + 18.0 * 3600.0
    pressure = -1.5 + 0.2 * np.random.default_rng(3).standard_normal(time.size)
    pressure[(time >= start) & (time < start + 10800.0)] += depth
    series = {("m6", Quantity.CO): (time, quiet_co(time)), ("m6", Quantity.PRESSURE_DIFFERENCE): (time, pressure)}
    return DiaryEntry(start=start, end=start + 10800.0, kind="fire"), log(series)


def test_a_logged_burn_is_held_against_the_limits_as_a_change_from_that_days_baseline() -> None:
    """Worst-case figures are changes: 1.5 Pa of stack stands in the reading and not in the comparison."""
    fire, logged = burning(-8.0)
    (finding,) = assess(house(FIREPLACE, FURNACE, diary=(fire,)), (visit(kind=OUT),), logged).find("safety-fire-logged")
    figures = dict(finding.figures)
    assert_allclose(figures["change"].value, -8.0, atol=0.3)
    assert_allclose(figures["read"].value, -9.5, atol=0.3)
    assert finding.grade is Grade.STOP
    assert any(one.printed == "at most -5 Pa" and one.is_crossed for one in finding.limits)
    mild, logged = burning(-1.0)
    (finding,) = assess(house(FIREPLACE, diary=(mild,)), (visit(kind=OUT),), logged).find("safety-fire-logged")
    assert finding.grade is Grade.RESTRICT
    assert not any(one.is_crossed for one in finding.limits)


def test_a_silent_co_logger_is_reported_with_its_hours_and_other_loggers_do_not_fill_it() -> None:
    time = minutes(20.0)
    gap = (time >= START + 10 * DAY) & (time < START + 10 * DAY + 43.25 * 3600.0)
    series = {
        ("m6", Quantity.CO): (time[~gap], quiet_co(time)[~gap]),
        ("m6", Quantity.SPILL_TEMPERATURE): (time[~gap], np.full(int((~gap).sum()), 313.0)),
        ("m1", Quantity.PM25): (time, np.full_like(time, 1e-8)),
    }
    (outage,) = safety_outages(house(appliance()), log(series))
    assert_allclose(outage.duration / 3600.0, 43.25, atol=0.05)
    assert len(outage.streams) == 2
    (finding,) = assess(house(appliance()), (), log(series)).find("safety-logger-outage")
    assert "43 h" in fill(finding)


def test_a_logger_that_never_came_back_is_open_and_pauses_the_fan_rule() -> None:
    time = minutes(20.0)
    dead = time < START + 15 * DAY
    series = {
        ("m6", Quantity.CO): (time[dead], quiet_co(time)[dead]),
        ("m1", Quantity.PM25): (time, np.full_like(time, 1e-8)),
    }
    verdict = assess(house(appliance()), (), log(series))
    assert verdict.outages[0].is_at_the_end
    assert verdict.find("safety-logger-outage")[0].is_open
    assert "Keep the fan rule off while the CO and spill logger is silent." in {
        one.rule for one in verdict.restrictions
    }


# ---- verdict, words --------------------------------------------------------------------------------------------------


def test_a_job_that_was_tested_within_all_limits_is_handed_over_and_says_for_when() -> None:
    verdict = assess(house(appliance()), (passed(),), co_log())
    assert verdict.verdict is HandOver.HAND_OVER
    assert "for the days and conditions of the tests only" in verdict.reasons[0]
    assert verdict.was_checked


def test_what_was_measured_before_and_not_after_in_a_like_state_restricts() -> None:
    before = visit(
        reading("worst_case_pressure_change", pascal(-0.6)),
        reading("zone_pressure_change", pascal(-0.5), state=HEATING),
    )
    verdict = assess(house(appliance()), (before, passed()), co_log())
    assert [one.key for one in verdict.not_retested] == ["zone_pressure_change"]
    assert verdict.verdict is HandOver.WITH_RESTRICTIONS
    assert any("not re-tested" in reason for reason in verdict.reasons)


def test_recognised_materials_are_referred_and_an_action_does_not_close_them() -> None:
    seen = visit(gates={"vermiculite": Answer.YES}, kind=OUT)
    (finding,) = assess(house(), (seen,), EMPTY).find("safety-hazardous-material")
    assert (finding.grade, finding.standing) == (Grade.REFER, Standing.OPEN)
    assert "licensed" in finding.action
    later = replace(visit(kind=OUT), time=TEST_OUT + DAY)  # answers no, with nobody having done anything
    assert assess(house(), (seen, later), EMPTY).find("safety-hazardous-material")[0].is_open
    done = VisitAction(about="vermiculite", status="done", time=TEST_OUT + DAY, by="licensed firm")
    cleared = assess(house(), (seen, replace(later, actions=(done,))), EMPTY).find("safety-hazardous-material")[0]
    assert cleared.standing is Standing.DONE


def every_word(verdict: SafetyVerdict) -> str:
    words = [verdict.verdict.value, *verdict.reasons, *verdict.was_checked, *verdict.not_checked]
    for one in verdict.findings:
        words += [one.title, fill(one), one.action, one.lifted_by, *one.evidence, *(limit.what for limit in one.limits)]
    words += [part for one in verdict.blocked_forms for part in (one.form, one.because, one.do, one.lifted_by)]
    words += [part for one in verdict.restrictions for part in (one.rule, one.lifted_by)]
    words += [one.text for one in verdict.cautions]
    return "\n".join(words)


def busy() -> SafetyVerdict:
    fire, logged = burning(-8.0)
    before = visit(
        reading("worst_case_pressure_change", pascal(-5.6)),
        reading("spillage_time", replace(seconds(300.0), high=inf), "water-heater"),
        reading("co_ambient", ppm(12.0)),
        reading("co_flue", ppm(150.0), "water-heater"),
        reading("draft", pascal(1.0), "water-heater"),
        reading("heat_rise", about(45.0, "K", 0.5), "air handler", HEATING),
        reading("plate_rise_high", about(39.0, "K"), "air handler"),
        reading("tesp", pascal(214.0, 5.0), "air handler", HEATING),
        gates={"vermiculite": Answer.YES, "suspect_wrap": Answer.UNKNOWN},
        checks={"visible_soot": Answer.YES, "co_alarms_present": Answer.NO, "return_in_garage": Answer.YES},
    )
    return assess(worked(house(appliance(), FURNACE, FIREPLACE, diary=(fire,))), (before, visit(kind=OUT)), logged)


def test_nothing_shown_ever_uses_the_forbidden_word_and_every_slot_is_filled() -> None:
    words = every_word(busy()) + "\n".join(CAUTIONS.values()) + "\n".join(FINDINGS.values())
    assert not re.search(r"\bsafe(ly)?\b", words, re.IGNORECASE)
    assert "{" not in words
    assert "}" not in words


def test_a_place_with_braces_in_its_name_makes_no_traceback() -> None:
    test = visit(reading("co_ambient", ppm(12.0), "utility {0} {peak!r}"), kind=OUT)
    (finding,) = assess(house(), (test,), EMPTY).find("safety-co-room")
    assert "the air of utility {0} {peak!r} held 12 ppm" in fill(finding)


def test_every_finding_has_a_known_code_an_action_and_an_id_of_its_own() -> None:
    verdict = busy()
    assert len(verdict.findings) >= 10
    assert len({one.id for one in verdict.findings}) == len(verdict.findings)
    for one in verdict.findings:
        assert one.code in FINDINGS
        assert one.action
        assert one.lifted_by or one.standing is Standing.DONE or one.grade is Grade.NOTE
    stops = [index for index, one in enumerate(verdict.findings) if one.grade is Grade.STOP and one.is_open]
    rest = [index for index, one in enumerate(verdict.findings) if one.grade is not Grade.STOP and one.is_open]
    assert max(stops) < min(rest)


def test_order_of_visits_does_not_matter() -> None:
    one, two = visit(reading("spillage_time", seconds(300.0), "water-heater")), passed()
    home = house(appliance())
    assert assess(home, (one, two), co_log()) == assess(home, (two, one), co_log())


def test_combustion_cautions_come_with_combustion_and_codes_and_data_always() -> None:
    with_burner = {one.topic for one in assess(house(appliance()), (), EMPTY).cautions}
    without = {one.topic for one in assess(replace(house(), air_handler=None), (), EMPTY).cautions}
    assert Topic.COMBUSTION in with_burner
    assert Topic.COMBUSTION not in without
    assert {Topic.PERMITS, Topic.DATA, Topic.CARBON_MONOXIDE} <= without
    assert set(CAUTIONS) == set(Topic)
