"""Where a naive tool is wrong or dangerous: each trap of the trade with what must be said instead.

Numbers in the docstrings are those of the trade's worked traps; where they are common practice it is said so.
"""

from __future__ import annotations

from dataclasses import replace

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
from tests.network.hookup_parts import HOOKUP

from airtally.fanrules.search import CAP, DEFAULT_TARGET
from airtally.house.parts import (
    Affects,
    AirHandler,
    Change,
    Cleaner,
    ExhaustKind,
    FanSpeed,
    House,
    RuleSetting,
    RunsWith,
    Venting,
)
from airtally.house.suction_limits import pressure_limits
from airtally.limits import Status, governing, limits_on
from airtally.network import NamedFlow, house_pressure
from airtally.network.ducts.hookup import design_hookup
from airtally.physics.filters.loop import TapOrder, loop_clean_air_rate, loop_recirculation
from airtally.quantities import Quantity
from airtally.record.of_answers import _rule
from airtally.safety import Grade, HandOver, SafetyVerdict, Standing, alarm_sentence, assess, fill
from airtally.safety.compare import compare_all
from airtally.scenario.mapping import AVERAGING, least_sampling_seconds, purge_seconds
from airtally.visits import Answer, Doors, HouseState, Visit, VisitKind

OUT = VisitKind.TEST_OUT
BETWEEN = VisitKind.BETWEEN_WORKS
SEALING = Change(
    id="sealing", time=START + 21 * DAY, ends=START + 22 * DAY, name="returns sealed", affects=(Affects.RETURN_LEAK,),
    begins_phase=True,
)  # fmt: skip
INCH = 249.08891


def pascal(value: float, half: float = 0.1):  # type: ignore[no-untyped-def]
    return about(value, "Pa", half)


def ppm(value: float):  # type: ignore[no-untyped-def]
    return about(value * 1e-6, "mol/mol", 0.5e-6)


def within_limits() -> Visit:
    """Return a test-out in which the lone water heater passes in the worst state."""
    return visit(
        reading("worst_case_pressure_change", pascal(-0.5)),
        reading("spillage_time", about(40.0, "s", 5.0), "water-heater"),
        reading("co_flue", ppm(5.0), "water-heater"),
        reading("co_ambient", ppm(0.0)),
        reading("co_ambient", ppm(0.0), "main"),
        reading("co_ambient", ppm(0.0), "outdoors"),
        kind=OUT,
    )


def forms(verdict: SafetyVerdict) -> set[str]:
    return {one.form for one in verdict.blocked_forms}


# ---- trap 4: a bypass that short-circuits, or has no blower to carry its air ------------------------------------------


def test_trap_4_half_the_discharge_drawn_again_halves_the_label_and_a_still_blower_leaves_nothing() -> None:
    """Label 250 cfm; share drawn again 0.5 halves it; blower off, a return-to-return loop cleans its own air."""
    label = 250 * CFM
    assert_allclose(loop_clean_air_rate(label, 1.0, 0.5), 0.5 * label, rtol=1e-12)
    assert loop_recirculation(0.0, label, TapOrder.TAKE_OFF_FIRST) == 1.0
    assert loop_clean_air_rate(label, 0.97, 1.0) == 0.0
    design = design_hookup(HOOKUP)
    assert design.blower_off.recirculated.low > 0.75  # a little still comes through the stopped blower
    assert design.blower_off.clean_air.high < 0.2 * label
    assert design.design.clean_air.value > 0.7 * label


def with_cleaner() -> House:
    loop = Cleaner(
        id="bypass", name="bypass", flow=about(250 * CFM, "m3/s"), efficiency=about(0.97, "-"),
        recirculated=about(0.1, "-", 0.05), runs_with=RunsWith.AIR_HANDLER, since=START + 25 * DAY,
    )  # fmt: skip
    return replace(house(), cleaners=(loop,))


def test_trap_4_a_loop_asks_for_an_interlock_that_was_tried_after_it_was_fitted() -> None:
    before = visit(looked_at(), checks={"interlock_works": Answer.YES})  # from before the cleaner was there
    after = visit(looked_at(), kind=OUT)
    (finding,) = assess(with_cleaner(), (before, after), EMPTY).find("safety-interlock")
    assert finding.standing is Standing.UNKNOWN
    assert "cleans its own air again" in finding.sentence
    fails = visit(looked_at(), kind=OUT, checks={"interlock_works": Answer.NO})
    assert assess(with_cleaner(), (fails,), EMPTY).find("safety-interlock")[0].standing is Standing.OPEN
    works = visit(looked_at(), kind=OUT, checks={"interlock_works": Answer.YES})
    assert assess(with_cleaner(), (works,), EMPTY).find("safety-interlock") == ()


def looked_at():  # type: ignore[no-untyped-def]
    """Return a reading that shows that a visit measured something."""
    return reading("co_ambient", ppm(0.0), "outdoors")


# ---- trap 5: a hood that cleans the kitchen and stalls the flue --------------------------------------------------------


def with_a_fire() -> House:
    hood = house().exhausts[0]
    fire = replace(hood, id="fire", kind=ExhaustKind.FIREPLACE, flow=about(400 * CFM, "m3/s"))
    return replace(house(FIREPLACE), exhausts=(hood, fire))


def test_trap_5_hood_and_fire_alone_pass_the_limit_and_dryer_and_bath_fans_nearly_double_it() -> None:
    """165 + 400 cfm at CFM50 2,190 is about 6 Pa; with dryer 140 and two baths of 42 about 10 Pa (power law, n 0.65)."""
    leakage = (about(2190 * CFM, "m3/s"), about(0.65, "-"))
    for flows, expected in (((165.0, 400.0), -6.2), ((165.0, 400.0, 140.0, 84.0), -10.3)):
        out = tuple(NamedFlow(name=f"{cfm:.0f}", flow=about(-cfm * CFM, "m3/s")) for cfm in flows)
        assert_allclose(house_pressure("all", out, *leakage).pressure.value, expected, atol=0.1)
    (finding,) = assess(with_a_fire(), (), EMPTY).find("safety-not-tested-with-fire")
    assert -12.0 < dict(finding.figures)["change"].value < -5.0
    assert any(one.governs and one.printed == "at most -5 Pa" for one in finding.limits)


def test_trap_5_no_proposal_raises_exhaust_until_the_appliance_zone_was_tested() -> None:
    raising = "proposal that raises exhaust or takes relief air away"
    assert raising in forms(assess(house(appliance()), (visit(looked_at(), kind=OUT),), EMPTY))
    assert raising not in forms(assess(house(appliance()), (within_limits(),), EMPTY))
    stronger = Change(
        id="hood", time=START + 33 * DAY, name="stronger hood", affects=(Affects.EXHAUST,), begins_phase=True
    )
    later = replace(house(appliance()), changes=(stronger,))  # the hood came after the test
    verdict = assess(later, (within_limits(),), EMPTY)
    assert raising in forms(verdict)
    assert verdict.verdict is HandOver.DO_NOT


# ---- trap 7: sealing a return, and calling it done ---------------------------------------------------------------------


def gauges(tesp: float, cfm: float, rise: float, fan: float, kind: VisitKind) -> Visit:
    """Return statics [inH2O], airflow [cfm], heat rise [F] and fan-on minus fan-off [Pa] of one visit."""
    return visit(
        reading("tesp", about(tesp * INCH, "Pa", 2.0), "air handler", HEATING),
        reading("airflow", about(cfm * CFM, "m3/s", 20 * CFM), "air handler", HEATING),
        reading("heat_rise", about(rise / 1.8, "K", 0.2), "air handler", HEATING),
        reading("plate_rise_low", about(40 / 1.8, "K"), "air handler"),
        reading("plate_rise_high", about(70 / 1.8, "K"), "air handler"),
        reading("house_pressure_fan_on_minus_off", pascal(fan, 0.05), "house", HEATING),
        kind=kind,
    )


def test_trap_7_sealing_asks_for_static_airflow_heat_rise_dominance_and_the_appliance_zone_again() -> None:
    home = replace(house(appliance(), FURNACE), changes=(SEALING,))
    before = gauges(0.86, 940, 71, 0.3, VisitKind.TEST_IN)
    (finding,) = assess(home, (before,), EMPTY).find("safety-not-remeasured")
    asked = ("total external static", "airflow", "heat rise", "dominates", "appliance zone", "spillage")
    assert [word for word in asked if word not in finding.sentence] == []
    assert (finding.standing, finding.grade) == (Standing.UNKNOWN, Grade.RESTRICT)
    whole = visit(
        *gauges(0.62, 1010, 66, -0.1, OUT).readings, *within_limits().readings, kind=OUT,
    )  # fmt: skip
    assert assess(home, (before, whole), EMPTY).find("safety-not-remeasured") == ()
    partly = visit(*gauges(0.62, 1010, 66, -0.1, OUT).readings, kind=OUT)
    (finding,) = assess(home, (before, partly), EMPTY).find("safety-not-remeasured")
    assert "total external static" not in finding.action
    assert "appliance zone" in finding.action


def test_trap_7_static_that_rose_with_the_sealing_restricts_whatever_the_particles_did() -> None:
    """The worked job: sealing alone took TESP from 0.86 to 0.93 inH2O and airflow from 940 to 900 cfm."""
    home = replace(house(appliance(), FURNACE), changes=(SEALING,))
    before = gauges(0.86, 940, 71, 0.3, VisitKind.TEST_IN)
    sealed = gauges(0.93, 900, 74, -0.1, OUT)
    verdict = assess(home, (before, sealed), EMPTY)
    (rose,) = verdict.find("safety-static-rose")
    assert rose.grade is Grade.RESTRICT
    assert "940 cfm to 900 cfm" in fill(rose)
    assert "return or filter area" in rose.action
    (turned,) = verdict.find("safety-dominance-turned")
    assert turned.is_open  # the appliance zone was not tested since
    assert any(one.rule.startswith("Fit no denser filter") for one in verdict.restrictions)
    mended = gauges(0.62, 1010, 66, 0.1, OUT)
    assert assess(home, (before, mended), EMPTY).find("safety-static-rose") == ()
    assert assess(home, (before, mended), EMPTY).find("safety-dominance-turned") == ()


# ---- trap 9: sampling too short to see anything ------------------------------------------------------------------------


@pytest.mark.parametrize(("duct_ft3", "response"), [(80.0, 60.0), (150.0, 60.0), (80.0, 120.0)])
def test_trap_9_three_minutes_an_hour_never_hold_a_valid_sample(duct_ft3: float, response: float) -> None:
    """Purge, ramp, three responses of the monitor and a two-minute mean leave nothing of three minutes."""
    handler = AirHandler(
        speeds=(FanSpeed(name="circulate", flow=about(640 * CFM, "m3/s")),), filters=(),
        duct_volume=about(duct_ft3 * 0.3048**3, "m3"),
    )  # fmt: skip
    home = replace(house(), air_handler=handler)
    least = least_sampling_seconds(home, 487.0, response)
    assert least >= purge_seconds(home, 487.0) + 3.0 * response + AVERAGING - 1e-9
    assert least > 2.0 * 180.0
    assert least_sampling_seconds(home, 487.0, response + 60.0) > least


# ---- trap 10: a limit that was passed on paper, or a wrong constant ----------------------------------------------------


def test_trap_10_minus_three_is_stricter_than_minus_five_and_a_magnitude_would_not_see_it() -> None:
    """-4 Pa keeps -5 Pa and breaks -3 Pa; the same numbers taken as magnitudes and 'at least' would say the reverse."""
    rows = limits_on("house pressure")
    three = next(one for one in rows if one.printed == "-3 Pa")
    five = next(one for one in rows if one.printed == "-5 Pa")
    held = compare_all(pascal(-4.0), (five, three), "zone")
    assert [(one.printed, one.governs, one.is_crossed) for one in held] == [
        ("-3 Pa", True, True),
        ("-5 Pa", False, False),
    ]
    assert governing((replace(five, applies_to=""), replace(three, applies_to=""))).limit.value == -3.0
    assert three.is_met_by(4.0)  # pushed above outdoors it breaks no suction limit, however large the figure
    assert three.is_met_by(-4.0) is not three.is_met_by(4.0)


def test_trap_10_a_shared_flue_has_its_own_limit_and_an_unknown_one_the_strictest() -> None:
    heater = appliance()
    shared = replace(heater, shares_flue_with="furnace")
    natural = replace(FURNACE, venting=Venting.NATURAL_DRAFT)

    def strictest(one, *others):  # type: ignore[no-untyped-def]
        return max(limit.value for limit in pressure_limits(one, (one, *others)))

    assert strictest(replace(heater, shares_flue_with="none"), FURNACE) == -2.0
    assert strictest(heater, FURNACE) == -2.0  # the survey does not say
    assert strictest(shared, FURNACE) == -5.0  # induced draft with a water heater
    assert strictest(shared, natural) == -3.0
    assert strictest(shared) == -2.0  # its mate was taken out
    assert {one.applies_to for one in pressure_limits(FURNACE, (shared, FURNACE))} == {
        "induced draft",
        "induced draft sharing a flue with a natural-draft water heater",
    }


def test_trap_10_any_spillage_past_its_time_fails_whatever_the_pressure_was() -> None:
    spills = visit(
        *within_limits().readings[:1],
        reading("spillage_time", about(310.0, "s", 5.0), "water-heater"),
        kind=OUT,
    )
    verdict = assess(house(appliance()), (spills,), EMPTY)
    assert verdict.find("safety-depressurisation") == ()  # the paper says pass
    assert verdict.verdict is HandOver.DO_NOT
    assert verdict.findings[0].code == "safety-spillage"


def test_trap_10_a_passed_worst_case_with_the_fireplace_shut_is_not_tested_with_a_fire() -> None:
    verdict = assess(house(appliance(), FIREPLACE), (within_limits(),), EMPTY)
    (finding,) = verdict.find("safety-not-tested-with-fire")
    assert finding.standing is Standing.UNKNOWN
    assert "standard worst-case test shuts it" in finding.sentence
    assert verdict.verdict is HandOver.WITH_RESTRICTIONS


def test_trap_10_the_figure_that_an_edition_dropped_stays_and_says_so() -> None:
    dropped = [
        one
        for one in limits_on("house pressure", applies_to="fireplace or solid-fuel stove")
        if one.status is Status.DROPPED
    ]
    assert [one.jurisdiction for one in dropped] == ["Canada"]
    (finding,) = assess(with_a_fire(), (), EMPTY).find("safety-not-tested-with-fire")
    assert {one.status for one in finding.limits} >= {"current", "dropped by a later edition"}


@pytest.mark.parametrize(
    "easy",
    [
        replace(WORST, doors=Doors.OPEN, exhausts_on=()),
        replace(WORST, doors=Doors.OPEN),
        replace(WORST, exhausts_on=()),
        replace(WORST, exhausts_on=None),
    ],
)
def test_trap_10_an_easier_state_clears_nothing(easy: HouseState) -> None:
    gentle = visit(
        reading("zone_pressure_change", pascal(-0.3), state=easy),
        reading("spillage_time", about(20.0, "s", 5.0), "water-heater", easy),
        kind=OUT,
    )
    verdict = assess(house(appliance()), (gentle,), EMPTY)
    assert "easier state" in verdict.find("safety-depressurisation-not-tested")[0].sentence
    assert "easier state" in verdict.find("safety-spillage-not-tested")[0].sentence
    failed = visit(
        reading("worst_case_pressure_change", pascal(-6.0)),
        reading("spillage_time", about(400.0, "s", 5.0), "water-heater"),
    )
    verdict = assess(house(appliance()), (failed, gentle), EMPTY)
    assert verdict.find("safety-depressurisation")[0].is_open
    assert verdict.find("safety-spillage")[0].is_open


# ---- trap 11: an alarm that was silent ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("level", "hours"), [(29.0, 24.0), (15.0, 1.0), (60.0, 3.0)])
def test_trap_11_a_silent_alarm_is_never_a_reading(level: float, hours: float) -> None:
    """UL 2034 (summaries read): silent at 30 ppm for 30 days; at 70 ppm up to four hours."""
    said = alarm_sentence(level * 1e-6, hours * 3600.0)
    assert "That it was silent says nothing." in said


def test_trap_11_a_rise_far_below_any_alarm_beside_an_appliance_stops_its_use() -> None:
    time = minutes(10.0)
    low = with_event(quiet_co(time), time, START + 5 * DAY, 1500.0, 5e-6, 8e-6)  # below every published level
    verdict = assess(house(appliance()), (within_limits(),), log({("m6", Quantity.CO): (time, low)}))
    (event,) = verdict.find("safety-co-event")
    assert not any(one.is_crossed for one in event.limits if "peak" in one.what)
    assert event.grade is Grade.STOP
    assert "Stop using what burned" in event.action
    assert "call" in event.action


# ---- trap 12: smoke of a fire that starts the fan ----------------------------------------------------------------------


def test_trap_12_the_rule_states_its_cap_and_holds_the_fan_off_above_it_and_with_a_smoke_alarm() -> None:
    setting = RuleSetting(
        id="rule", placement="m1", on_above=15e-9, off_below=10e-9, sampling_seconds_per_hour=0.0, minimum_run=600.0,
        maximum_run=3600.0,
    )  # fmt: skip
    lockouts = " ".join(_rule(house(), setting)["lockouts"])
    assert f"above {CAP * 1e9:.0f} ug/m3" in lockouts
    assert "smoke alarm" in lockouts
    assert lockouts.count("an alert") >= 2
    assert 10.0 * DEFAULT_TARGET < CAP < 100.0 * DEFAULT_TARGET  # far above cooking that a rule should clear


# ---- trap 17: cleaning hides a source ----------------------------------------------------------------------------------


def test_trap_17_particles_that_fell_by_nine_tenths_change_no_word_about_safety() -> None:
    time = minutes(30.0)
    co = with_event(quiet_co(time), time, START + 25 * DAY, 1500.0, 11e-6, 19e-6)
    dirty = np.full_like(time, 40e-9)
    cleaned = np.where(time < START + 15 * DAY, 40e-9, 4e-9)
    verdicts = [
        assess(
            house(appliance()),
            (within_limits(),),
            log({("m6", Quantity.CO): (time, co), ("m1", Quantity.PM25): (time, particles)}),
        )
        for particles in (dirty, cleaned)
    ]
    assert verdicts[0] == verdicts[1]
    assert verdicts[1].find("safety-co-event")[0].standing is Standing.DONE  # by tests after the event, not by the air
    untested = assess(
        house(appliance()), (), log({("m6", Quantity.CO): (time, co), ("m1", Quantity.PM25): (time, cleaned)})
    )
    assert untested.find("safety-co-event")[0].is_open


def test_trap_17_garage_air_is_a_co_finding_before_anything_about_particles() -> None:
    spills = reading("spillage_time", about(400.0, "s", 5.0), "water-heater")
    noted = visit(looked_at(), spills, kind=OUT, checks={"return_in_garage": Answer.YES})
    verdict = assess(house(appliance()), (noted,), EMPTY)
    assert verdict.find("safety-spillage")[0].is_open
    first = verdict.findings[0]
    assert first.code == "safety-garage-return"
    assert first.topic.value == "carbon monoxide alarms"
    assert verdict.verdict is HandOver.DO_NOT
    assert "Particles say nothing" in first.sentence
