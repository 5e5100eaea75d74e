"""Proposals obey safety: what each measure waits for, what lifts it, and that nothing computed ever does."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest
from tests.network.sheet_house import READINGS, sheet
from tests.network.test_budget import line

from airtally.estimates import Basis, Estimate
from airtally.house.measure_kinds import MeasureKind
from airtally.house.parts import House, PricedMeasure
from airtally.network.answers import PressureAnswers, pressure_answers
from airtally.proposals.propose import Proposal, propose
from airtally.proposals.waits import DUCT_WORK
from airtally.readings.log import Log
from airtally.safety import assess
from airtally.safety.gates import DUCT_FORMS, EXHAUST_FORM, FAN_RULE_FORM, WORST_CASE_FORM
from airtally.visits.parts import Answer, Visit, VisitKind

sys.path.insert(0, str(Path(__file__).parents[1] / "safety"))
from safety_houses import EMPTY

CFM = 4.719474e-4
LISTED = (
    line(MeasureKind.SOURCE_CAPTURE, flow=165.0 * CFM),
    line(MeasureKind.RETURN_SEALING),
    line(MeasureKind.BETTER_FILTER),
    line(MeasureKind.BYPASS_CLEANER, stage=2),
    line(MeasureKind.IN_LINE_HEPA, stage=2),
    line(MeasureKind.SUPPLY_VENTILATION, stage=3),
    line(MeasureKind.CONTINUOUS_FAN, stage=3),
)
"""Every kind of measure."""
WITHIN = (
    'key = "worst_case_pressure_change", value = "-0.4 Pa", place = "utility", reference = "outdoors", '
    'air_handler = "heating", doors = "worst case", exhausts_on = "all"',
    'key = "spillage_time", value = "20 s", place = "furnace", air_handler = "heating", doors = "worst case", '
    'exhausts_on = "all"',
)


def proposals_of(
    house: House, visits: tuple[Visit, ...], log: Log = EMPTY, answers: PressureAnswers | None = None
) -> dict[MeasureKind, Proposal]:
    found = answers or pressure_answers(house, visits)
    listed = house if house.measures else replace(house, measures=LISTED)
    proposals, problems = propose(listed, visits, assess(house, visits, log, found.cases), found)
    assert not problems
    return {one.measure.kind: one for one in proposals}


def job(*readings: str, gates: dict[str, Answer] | None = None) -> tuple[House, tuple[Visit, ...]]:
    house, visits = sheet((*READINGS, *readings))
    answered = tuple({**dict(visits[0].gates), **(gates or {})}.items())
    return replace(house, measures=LISTED), (replace(visits[0], gates=answered),)


def harmless(*readings: str, gates: dict[str, Answer] | None = None) -> tuple[House, tuple[Visit, ...]]:
    """Return the job without anything that burns."""
    house, visits = job(*readings, gates=gates)
    exhausts = tuple(one for one in house.exhausts if one.id != "fire")
    return replace(house, appliances=(), exhausts=exhausts), visits


def little(*readings: str) -> tuple[House, tuple[Visit, ...]]:
    """Return the job with one bath fan for exhaust and a furnace that a fan vents."""
    calm = tuple(one for one in READINGS if "utility" not in one)
    house, visits = sheet((*calm, *readings))
    exhausts = tuple(one for one in house.exhausts if one.id == "bath-1")
    furnace = tuple(one for one in house.appliances if one.id == "furnace")
    return replace(house, measures=LISTED, exhausts=exhausts, appliances=furnace), visits


def words(proposal: Proposal) -> str:
    return "; ".join(f"{one.what} | {one.because} | {one.lifted_by}" for one in proposal.waits)


# ---- never dropped, never offered --------------------------------------------------------------------------------------


def test_every_measure_is_shown_whatever_stands_in_its_way() -> None:
    for house, visits in (job(), job(gates={"gas_smell": Answer.YES}), (job()[0], ()), harmless()):
        assert set(proposals_of(house, visits)) == set(MeasureKind)


def test_nothing_is_offered_before_a_first_visit() -> None:
    house, _ = harmless()
    for proposal in proposals_of(house, ()).values():
        assert proposal.waits
        assert "every gate answered on a visit" in words(proposal)


def test_a_house_where_nothing_burns_and_every_gate_says_no_has_no_wait() -> None:
    """But for garage air in the return, which keeps the fan from running all day."""
    house, visits = harmless()
    found = proposals_of(house, visits)
    waiting = {kind for kind, proposal in found.items() if proposal.waits}
    assert waiting == {MeasureKind.CONTINUOUS_FAN}
    assert FAN_RULE_FORM in words(found[MeasureKind.CONTINUOUS_FAN])
    assert "cfm25_return at the garage" in words(found[MeasureKind.CONTINUOUS_FAN])
    assert house.air_handler is not None
    tight = replace(house, air_handler=replace(house.air_handler, return_leaks=()))
    assert not proposals_of(tight, visits)[MeasureKind.CONTINUOUS_FAN].waits


@pytest.mark.parametrize("gate", ["alarm_sounding", "gas_smell", "symptoms_clear_outdoors"])
def test_an_emergency_stops_every_measure_and_so_does_a_question_nobody_asked(gate: str) -> None:
    for proposal in proposals_of(*harmless(gates={gate: Answer.YES})).values():
        assert "the emergency to be over" in words(proposal)
    for proposal in proposals_of(*harmless(gates={gate: Answer.UNKNOWN})).values():
        assert "a blocked form: every form" in words(proposal)


@pytest.mark.parametrize("answer", [Answer.YES, Answer.UNKNOWN])
def test_old_duct_wrap_stops_the_work_on_ducts_and_no_other(answer: Answer) -> None:
    """Practice notes 1.16 and 3.3: what to leave to licensed firms; suspect wrap is not disturbed."""
    found = proposals_of(*harmless(gates={"suspect_wrap": answer}))
    for kind, proposal in found.items():
        assert (DUCT_FORMS[1] in words(proposal)) is (kind in DUCT_WORK), kind
    assert not found[MeasureKind.SUPPLY_VENTILATION].waits


@pytest.mark.parametrize("gate", ["fire_or_ash_within_24_h", "vermiculite"])
def test_warm_ash_and_vermiculite_hold_what_must_be_tested_under_suction(gate: str) -> None:
    """No suction on a house with warm ash or vermiculite: so nothing that needs the worst-case test after it is begun."""
    found = proposals_of(*job(gates={gate: Answer.YES}))
    held = {kind for kind, proposal in found.items() if WORST_CASE_FORM in words(proposal)}
    assert held == set(MeasureKind) - {MeasureKind.IN_LINE_HEPA}, "a filter that lets more air through draws harder too"
    assert not any(WORST_CASE_FORM in words(one) for one in proposals_of(*harmless(gates={gate: Answer.YES})).values())


# ---- suction -----------------------------------------------------------------------------------------------------------


def test_trap_5_a_hood_beside_an_open_flue_waits_with_both_figures_and_the_limit() -> None:
    """Trap 5: show both on one page; block the option until the appliance zone was tested again."""
    hood = proposals_of(*job())[MeasureKind.SOURCE_CAPTURE]
    (wait,) = [one for one in hood.waits if one.what == "room in the worst case of utility"]
    figures = dict(wait.figures)
    assert figures["with it, computed"].value < figures["as found, computed"].value < 0.0
    assert wait.limit is not None
    assert wait.limit.limit == -2.0, "the strictest of the published ones for a natural-draft water heater"
    assert "worst_case_pressure_change at utility" in wait.lifted_by
    assert any(one.what == "room in the worst case of main with a fire" for one in hood.waits)
    assert EXHAUST_FORM in words(hood)


def test_what_deepens_an_appliance_zone_waits_and_what_relieves_it_does_not() -> None:
    found = proposals_of(*job())
    beyond = {k for k, p in found.items() if any(w.what == "room in the worst case of utility" for w in p.waits)}
    assert beyond == {MeasureKind.SOURCE_CAPTURE, MeasureKind.BETTER_FILTER, MeasureKind.CONTINUOUS_FAN}
    assert not found[MeasureKind.SUPPLY_VENTILATION].waits, "supply air relieves every zone"
    assert not found[MeasureKind.BYPASS_CLEANER].waits, "a loop beside the trunk moves no pressure"
    sealing = found[MeasureKind.RETURN_SEALING]
    assert any("main with a fire" in one.what for one in sealing.waits), (
        "the zone it draws down, not the one it relieves"
    )


def test_a_hood_waits_for_a_logged_fire_wherever_a_fire_can_burn() -> None:
    """Practice notes 1.11: the standard test shuts the fireplace; only a burn that was logged speaks of it."""
    house, visits = harmless()
    lit, _ = job()
    hearth = replace(house, exhausts=lit.exhausts)
    found = proposals_of(hearth, visits)
    assert "Not tested with a fire" in words(found[MeasureKind.SOURCE_CAPTURE])
    assert "a logged fire from light-up to die-down" in words(found[MeasureKind.SOURCE_CAPTURE])
    assert "Not tested with a fire" not in words(proposals_of(house, visits)[MeasureKind.SOURCE_CAPTURE])


def test_a_source_that_no_exhaust_catches_asks_for_no_test_of_pressures() -> None:
    house, visits = job()
    candles = replace(line(MeasureKind.SOURCE_CAPTURE), settings=(("source", "candle_incense"),))
    (found,) = proposals_of(replace(house, measures=(candles,)), visits).values()
    assert not found.waits
    assert found.measure.must_retest == ()


def test_what_draws_an_appliance_zone_down_is_tested_there_after_it() -> None:
    found = proposals_of(*job())
    assert "spillage and draft of every vented appliance" in found[MeasureKind.BETTER_FILTER].measure.must_retest
    assert "spillage and draft of every vented appliance" not in found[MeasureKind.IN_LINE_HEPA].measure.must_retest


def test_a_worst_case_nobody_measured_keeps_exhaust_and_sealing_waiting_however_harmless_it_computes() -> None:
    """A calculation never lifts: a leaky house in which nothing computes near a limit, and no worst case was read."""
    house, visits = job()
    unread = tuple(r for r in visits[0].readings if r.key != "worst_case_pressure_change" and r.place != "utility")
    unlit = tuple(one for one in house.exhausts if one.id != "fire")
    leaky = Estimate(value=6.0, low=5.7, high=6.3, unit="m3/s", basis=Basis.MEASURED, source="test")
    open_house = replace(
        house, exhausts=unlit, envelopes=(replace(house.envelopes[0], flow_at_50=leaky),),
        appliances=tuple(a for a in house.appliances if a.id == "furnace"),
    )  # fmt: skip
    readings = tuple(replace(r, value=leaky) if r.key == "cfm50" else r for r in unread)
    found = proposals_of(open_house, (replace(visits[0], readings=readings),))
    assert not any("room in the worst case" in words(one) for one in found.values()), (
        "computed, nothing is near its limit"
    )
    for kind in (MeasureKind.SOURCE_CAPTURE, MeasureKind.RETURN_SEALING):
        assert EXHAUST_FORM in words(found[kind])
        assert "worst_case_pressure_change at utility" in words(found[kind])


def test_only_a_reading_lifts_the_wait() -> None:
    """The worst case read within the limit and no spillage; then the form is free."""
    assert EXHAUST_FORM in words(proposals_of(*little())[MeasureKind.RETURN_SEALING])
    assert EXHAUST_FORM in words(proposals_of(*little(WITHIN[1]))[MeasureKind.RETURN_SEALING]), "half of the test"
    assert EXHAUST_FORM not in words(proposals_of(*little(*WITHIN))[MeasureKind.RETURN_SEALING])


def test_without_the_house_leakage_what_could_deepen_waits_for_it() -> None:
    house, visits = job()
    blind = replace(house, envelopes=(replace(house.envelopes[0], flow_at_50=None),))
    unread = tuple(r for r in visits[0].readings if r.key != "cfm50")
    found = proposals_of(blind, (replace(visits[0], readings=unread),))
    for kind, proposal in found.items():
        asked = any(one.what == "the house leakage" for one in proposal.waits)
        assert asked is (kind not in (MeasureKind.BYPASS_CLEANER, MeasureKind.SUPPLY_VENTILATION)), kind


# ---- airflow -----------------------------------------------------------------------------------------------------------

PLATE = 'place = "air handler", air_handler = "heating"'
HOT = (
    f'key = "heat_rise", value = "78 F", {PLATE}',
    f'key = "plate_rise_low", value = "40 F", {PLATE}',
    f'key = "plate_rise_high", value = "70 F", {PLATE}',
    f'key = "heat_output", value = "64 kBtu/h", {PLATE}',
)


def test_trap_7_with_the_heat_rise_outside_the_plate_nothing_that_may_lower_the_airflow_is_offered() -> None:
    """Trap 7 and the sheet: 71 F before, 74 F after sealing alone, on a plate of 40 to 70."""
    found = proposals_of(*harmless(*HOT))
    held = {kind for kind, proposal in found.items() if "heat_rise within the plate" in words(proposal)}
    assert held == {MeasureKind.RETURN_SEALING, MeasureKind.IN_LINE_HEPA}
    sealing = found[MeasureKind.RETURN_SEALING]
    (wait,) = [one for one in sealing.waits if "airflow" in one.what]
    assert all(number.high < 0.0 for _, number in wait.figures)
    rise = next(one for one in sealing.checks if one.name == "heat rise, heating")
    assert rise.number.value * 1.8 > 70.0
    assert rise.outcome in ("over limit", "cannot tell")


def test_a_later_heat_rise_within_the_plate_lifts_it() -> None:
    house, (hot,) = harmless(*HOT)
    _, (fine,) = harmless(HOT[0].replace("78 F", "62 F"), *HOT[1:])
    later = tuple(replace(one, time=one.time + 86400.0) for one in fine.readings)
    after = replace(fine, id="test-out", kind=VisitKind.TEST_OUT, time=fine.time + 86400.0, readings=later)
    assert any("heat_rise within" in words(one) for one in proposals_of(house, (hot,)).values())
    assert not any("heat_rise within" in words(one) for one in proposals_of(house, (hot, after)).values())


# ---- checks and order --------------------------------------------------------------------------------------------------


def test_each_proposal_carries_statics_airflow_heat_rise_rooms_and_zones() -> None:
    found = proposals_of(*job())
    for kind in (MeasureKind.RETURN_SEALING, MeasureKind.BETTER_FILTER, MeasureKind.IN_LINE_HEPA):
        names = {one.name for one in found[kind].checks}
        for speed in ("heating", "circulate"):
            assert {f"total external static, {speed}", f"airflow, {speed}"} <= names
        assert {
            "heat rise, heating",
            "house against outdoors, air handler on, doors open",
            "worst state of utility",
        } <= names
        assert any("against the main body, its door shut" in name for name in names)
    assert any(one.name == "worst state of main, a fire lit" for one in found[MeasureKind.SOURCE_CAPTURE].checks)


def test_a_computed_suction_is_never_called_within_its_limit() -> None:
    zones = [
        check
        for house, visits in (job(), little(*WITHIN))
        for proposal in proposals_of(house, visits).values()
        for check in proposal.checks
        if "worst state" in check.name
    ]
    assert {one.outcome for one in zones} == {"over limit", "cannot tell", "not tested"}
    assert all(one.number.basis is Basis.COMPUTED for one in zones)


def test_the_order_is_source_path_filters_ventilation_within_the_contractors_stages() -> None:
    shuffled = tuple(replace(one, stage=1) for one in reversed(LISTED))
    house, visits = harmless()
    found = [one.measure.kind for one in proposals_of(replace(house, measures=shuffled), visits).values()]
    assert found == [
        MeasureKind.SOURCE_CAPTURE,
        MeasureKind.RETURN_SEALING,
        MeasureKind.BETTER_FILTER,
        MeasureKind.BYPASS_CLEANER,
        MeasureKind.IN_LINE_HEPA,
        MeasureKind.SUPPLY_VENTILATION,
        MeasureKind.CONTINUOUS_FAN,
    ]
    staged = (line(MeasureKind.CONTINUOUS_FAN, stage=1), line(MeasureKind.SOURCE_CAPTURE, stage=2))
    assert list(proposals_of(replace(house, measures=staged), visits)) == [one.kind for one in staged]


def test_a_line_that_is_no_measure_is_said_and_the_rest_stands() -> None:
    house, visits = harmless()
    odd = PricedMeasure(id="odd", kind="ozone machine", name="odd", stage=1, price_low=1.0, price_high=2.0)
    answers = pressure_answers(house, visits)
    found, problems = propose(
        replace(house, measures=(odd, *LISTED)), visits, assess(house, visits, EMPTY, answers.cases), answers
    )
    assert len(found) == len(LISTED)
    assert [one.code for one in problems] == ["measure-not-replayed"]
    assert "ozone machine" in problems[0].found
