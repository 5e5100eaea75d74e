"""Drafts of a surveyed house: its law against the network itself, laws of draft, what was read, what is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.network.passages_house import CLIMATE, FLUES, Table, changed, network, survey, visit
from tests.network.sheet_house import sheet

from airtally.estimates import Basis, Estimate
from airtally.house.parts import House
from airtally.network.flues.flue import Firing
from airtally.network.flues.flue_changes import ChangeKind
from airtally.network.flues.flue_draft import LOGGED, NOT_TESTED, Stage
from airtally.network.flues.hearth_drafts import HearthDraft, hearth_drafts
from airtally.network.flues.hearth_law import hearth_case
from airtally.network.home.calibrate import calibrate
from airtally.network.home.house_network import AirState
from airtally.network.home.house_pressure import NamedFlow
from airtally.visits.parts import Doors, HandlerMode, HouseState, Reading, Visit

CFM = 0.3048**3 / 60.0
STILL, FANS = "every fan off, doors open", "every exhaust fan, doors open"


def sure(value: float, unit: str) -> Estimate:
    return Estimate(value=value, low=value, high=value, unit=unit, basis=Basis.MEASURED, source="test")


def drafts(
    house: House | None = None, visits: tuple[Visit, ...] = (), tested: frozenset[str] = frozenset()
) -> tuple[dict[str, HearthDraft], list[str]]:
    calibrated, worst = network()
    found, problems = hearth_drafts(house or survey(), visits, calibrated, worst, tested=tested)
    return {one.hearth.appliance or one.hearth.name: one for one in found}, [one.code for one in problems]


def state(draft: HearthDraft, name: str):  # type: ignore[no-untyped-def]
    return next(one for one in draft.answer.states if one.state == name)


def test_the_law_of_a_hearth_is_the_network_at_flows_between_its_own() -> None:
    """Second method: the network solved at that very flow, with and without a fan, and with supply air."""
    calibrated, _ = network()
    air = AirState(
        handler=HandlerMode.HEATING, shut=frozenset({"bedrooms"}), exhausts=frozenset({"hood", "dryer", "fire"})
    )
    fans = tuple(NamedFlow(name=name, flow=sure(-0.05, "m3/s")) for name in ("hood", "dryer", "bath-1"))
    case, law = hearth_case(calibrated, "main", "one", air, fans, fire="fire", most=0.3)
    assert [one.name for one in case.flows] == ["hood", "dryer"]
    quiet, _ = calibrated.solve((AirState(shut=air.shut), air))
    for on, draw, supply in ((("hood", "dryer"), 0.13, 0.0), (("dryer",), 0.22, 0.0), (("hood", "dryer"), 0.07, 0.04)):
        exact = replace(air, exhausts=frozenset(on), drawn=(("main", draw), ("main", -supply)))
        (solved,) = calibrated.solve((exact,))
        flows = (
            *(one for one in fans if one.name in on),
            NamedFlow(name="fire", flow=sure(-draw, "m3/s"), is_fire=True),
        )
        if supply:
            flows = (*flows, NamedFlow(name="supply air", flow=sure(supply, "m3/s")))
        expected = float((solved.pressure("main") - quiet.pressure("main"))[0])
        assert_allclose(law(flows).value, expected, atol=0.03)


def test_a_fan_that_always_runs_is_in_the_baseline_and_not_in_the_change() -> None:
    vent = '[[ventilation]]\nid = "v"\nkind = "exhaust"\nflow = "100 cfm"\n'
    always = calibrate(survey(more=vent), (), draws=4)
    assert always is not None
    for air in (AirState(), AirState(shut=frozenset({"bedrooms"}))):
        case, _ = hearth_case(always, "main", "still", air, (), fire="fire", most=0.3)
        assert_allclose((case.pressure.value, case.pressure.low, case.pressure.high), 0.0, atol=1e-6)


def test_available_draft_is_pull_less_losses_less_suction_in_every_state_and_stage() -> None:
    """Available = theoretical - losses - house depressurisation, check values section 6 (read); wind is 0 in the middle."""
    found, _ = drafts()
    for one in found.values():
        for flue in one.answer.states:
            for stage in flue.stages:
                by_hand = stage.own.theoretical.value - stage.own.losses.value + stage.house_pressure.value
                assert_allclose(stage.available.value, by_hand, atol=1e-9)


def test_every_fire_has_the_states_of_its_own_room_and_the_worst_stands_first() -> None:
    found, problems = drafts()
    assert problems == ["network-draft-weather-assumed"] * 2  # no visit read a temperature
    assert set(found) == {"fire", "water-heater"}
    assert found["water-heater"].hearth.firing is Firing.DRAFT_HOOD
    for one in found.values():
        names = [flue.state for flue in one.answer.states]
        assert {STILL, FANS} < set(names)
        margins = [flue.weakest.margin.value for flue in one.answer.states]
        assert margins == sorted(margins)
        assert one.answer.worst.state not in (STILL, FANS)
    assert any("open fire lit" in flue.state for flue in found["water-heater"].answer.states)
    assert not any("fire lit" in flue.state for flue in found["fire"].answer.states)  # its own fire comes by stage


def test_the_fires_own_draw_follows_the_stage() -> None:
    """An open fire takes far more air while it burns than as it dies: the room goes lower."""
    found, _ = drafts()
    still = state(found["fire"], STILL)
    steady, embers = still.at(Stage.STEADY), still.at(Stage.EMBERS)
    assert steady.own.flow.value > 1.2 * embers.own.flow.value
    assert steady.house_pressure.value < embers.house_pressure.value < still.at(Stage.IDLE).house_pressure.value


def test_colder_air_pulls_more() -> None:
    cold = {**CLIMATE, "design_temperature": '"-10 degF"'}
    found, _ = drafts(survey(climate=cold))
    for one in found.values():
        mild, freezing = (weather.stage.own.theoretical.value for weather in one.weathers)
        assert [weather.weather for weather in one.weathers] == ["on a mild day", "on the place's cold day"]
        assert freezing > mild
        # and the house pulls harder on its own hearth: check values section 2
        assert one.weathers[1].stage.house_pressure.value < one.weathers[0].stage.house_pressure.value
    no_cold, _ = drafts(survey(climate={"heated_to": '"70 degF"'}))
    assert [weather.weather for weather in no_cold["fire"].weathers] == ["on a mild day"]


@pytest.mark.parametrize("name", ["fire", "water-heater"])
def test_more_suction_leaves_less_draft(name: str) -> None:
    found, _ = drafts()
    fans, still = state(found[name], FANS), state(found[name], STILL)
    for stage in Stage:
        assert fans.at(stage).house_pressure.value < still.at(stage).house_pressure.value
        assert fans.at(stage).available.value < still.at(stage).available.value


@pytest.mark.parametrize(
    ("flue", "keys", "what", "sign"),
    [
        ("chimney", {"height": '"30 ft"'}, "theoretical", 1),
        ("vent", {"rise": '"5 ft"'}, "theoretical", 1),
        ("chimney", {"place": '"on an exterior wall"'}, "theoretical", -1),
        ("vent", {"wall": '"insulated metal"'}, "theoretical", 1),
        ("vent", {"bends": "6"}, "losses", 1),
        ("chimney", {"width": '"9 in"'}, "losses", 1),
    ],
)
def test_what_the_survey_says_of_a_flue_moves_its_draft_the_right_way(
    flue: str, keys: Table, what: str, sign: int
) -> None:
    name = {"chimney": "fire", "vent": "water-heater"}[flue]
    before, _ = drafts()
    after, _ = drafts(survey(changed(FLUES, flue, **keys)))
    values = [getattr(state(one[name], STILL).at(Stage.STEADY).own, what).value for one in (before, after)]
    assert sign * (values[1] - values[0]) > 0.0


def test_a_flue_that_nobody_measured_has_a_wider_band_and_one_without_an_entry_none() -> None:
    measured, _ = drafts()
    open_, problems = drafts(survey({"vent": {"serves": '"water-heater"'}}))
    assert set(open_) == {"water-heater"}
    assert "network-flue-not-sized" in problems  # the fire's
    assert "network-flue-wall-assumed" in problems
    wide = state(open_["water-heater"], STILL).at(Stage.STEADY).available
    narrow = state(measured["water-heater"], STILL).at(Stage.STEADY).available
    assert wide.high - wide.low > 1.2 * (narrow.high - narrow.low)


def test_the_manuals_draft_is_what_is_asked_for() -> None:
    found, _ = drafts()
    steady = state(found["water-heater"], STILL).at(Stage.STEADY)
    assert_allclose(steady.margin.value, steady.available.value - 4.0, atol=1e-9)
    usual, _ = drafts(survey(changed(FLUES, "vent", wanted_draft=None)))
    assert state(usual["water-heater"], STILL).at(Stage.STEADY).needed.value != 4.0


def test_the_opening_finds_the_air_of_a_fire_that_nobody_measured_and_doubts_one_that_does_not_fit() -> None:
    """0.8 ft/s across the opening (handbook figure, from memory): 7 ft2 draw 336 cfm; a 40 ft2 one 1920."""
    fire = '[[exhaust]]\nid = "draw"\nkind = "open fireplace"\nzone = "family"\nflow = "{}"\n'
    flue = {"own": {**FLUES["chimney"], "serves": '"draw"'}}
    found, _ = drafts(survey(flue, more=fire.format("not measured")))
    draw = found["draw"].answer.flue.burning_flow
    assert_allclose(draw.value / CFM, 0.24 * 7 * 0.3048**2 / CFM, rtol=1e-9)
    assert_allclose(draw.value / CFM, 0.8 * 60.0 * 7.0, rtol=0.03)
    kept, problems = drafts()
    assert_allclose(kept["fire"].answer.flue.burning_flow.value / CFM, 400.0, rtol=1e-9)
    assert "network-fire-flow-disagrees" not in problems
    huge, problems = drafts(survey(changed(FLUES, "chimney", opening='"40 ft2"')))
    assert_allclose(huge["fire"].answer.flue.burning_flow.value / CFM, 400.0, rtol=1e-9)
    assert "network-fire-flow-disagrees" in problems


def test_flue_gas_that_was_read_stands_for_the_default_of_a_stove_and_not_of_a_draft_hood() -> None:
    """Before a draft hood the gas is far hotter than in the vent behind it; a stove's collar is the flue's foot."""
    stove = (
        '[[appliance]]\nid = "stove"\nkind = "solid-fuel stove"\nzone = "family"\nventing = "closed door, chimney"\n'
    )
    flues = {**FLUES, "pipe": {"serves": '"stove"', "height": '"20 ft"', "width": '"6 in"'}}
    read = visit(
        *(Reading(key="flue_temperature", place=place, state=HouseState(), value=sure(520.0, "K"), time=2e9)
          for place in ("stove", "water-heater"))
    )  # fmt: skip
    found, _ = drafts(survey(flues, more=stove), (read,))
    assert found["stove"].answer.flue.burning_temperature.value == 520.0
    assert found["water-heater"].answer.flue.burning_temperature.basis is Basis.DEFAULT


def test_until_a_burn_was_logged_every_figure_says_that_nobody_tested_it() -> None:
    found, _ = drafts()
    logged, _ = drafts(tested=frozenset({"fire"}))
    assert {one.answer.standing for one in found.values()} == {NOT_TESTED}
    assert logged["fire"].answer.standing == logged["fire"].course.standing == LOGGED
    assert {flue.standing for flue in logged["fire"].answer.states} == {LOGGED}
    assert logged["water-heater"].answer.standing == NOT_TESTED


def test_single_changes_are_replayed_and_the_one_that_moves_most_is_named() -> None:
    found, _ = drafts()
    answer = found["fire"].answer
    changes = {one.name: one for one in answer.changes_at(answer.worst.weakest.stage)}
    assert {"hood off", "bath-1 off", "bath-2 off", "dryer off", "every exhaust fan off"} < set(changes)
    assert answer.most is not None
    things = [one for one in changes.values() if one.kind is not ChangeKind.HOUSE_LEVEL]
    assert answer.most.gain.value == max(one.gain.value for one in things)
    assert changes["every exhaust fan off"].gain.value > changes["dryer off"].gain.value
    # a fan in its own room, doors shut, does less at the hearth than one as large that stands there
    assert changes["hood off"].gain.value > 0.0
    sized = '[[measure]]\nid = "m"\nkind = "supply ventilation"\nname = "own fan"\nsettings = { flow = "120 cfm" }\n'
    larger, _ = drafts(survey(more=sized))
    gains = [
        next(
            one.gain.value
            for one in each.answer.changes
            if one.kind is ChangeKind.SUPPLY_AIR and one.stage is Stage.EMBERS
        )
        for each in (found["fire"], larger["fire"])
    ]
    assert gains[1] > 1.5 * gains[0]


def draft_read(value: float, outdoors: float | None = 283.15) -> Visit:
    condition = HouseState(
        doors=Doors.OPEN, air_handler=HandlerMode.OFF, exhausts_on=(), fires_lit=(),
        outdoor_temperature=None if outdoors is None else sure(outdoors, "K"),
    )  # fmt: skip
    reading = Reading(key="draft", place="water-heater", state=condition, value=sure(value, "Pa"), time=2e9)
    return visit(reading)


def test_a_draft_that_was_read_is_held_against_the_estimate_of_its_own_state_and_weather() -> None:
    found, problems = drafts(visits=(draft_read(-4.0),))
    assert "network-draft-disagrees" not in problems
    for value in (-40.0, 15.0):
        assert "network-draft-disagrees" in drafts(visits=(draft_read(value),))[1]
    replaced = survey(changed(FLUES, "vent", since='"2034-01-01"'))
    assert "network-draft-disagrees" not in drafts(replaced, (draft_read(-40.0),))[1]  # read in another flue
    assert found["water-heater"].answer.states


def test_a_flue_that_serves_nothing_any_more_is_reported_and_a_shared_one_serves_both() -> None:
    gone = '[[appliance]]\nid = "old"\nkind = "boiler"\nzone = "utility"\nventing = "natural draft"\nuntil = "2025-01-01"\n'
    flues = {**FLUES, "old": {"serves": '"old"', "width": '"6 in"'}}
    found, problems = drafts(survey(flues, more=gone))
    assert problems.count("network-flue-unused") == 1
    assert set(found) == {"fire", "water-heater"}
    mate = gone.replace('until = "2025-01-01"', 'shares_flue_with = "water-heater"')
    both, problems = drafts(survey(more=mate))
    assert both["old"].answer.flue.width == both["water-heater"].answer.flue.width
    assert "network-flue-unused" not in problems


def test_without_a_house_leakage_the_house_is_taken_at_rest_and_nothing_of_it_is_replayed() -> None:
    house = survey()
    found, _ = hearth_drafts(house, (), None)
    for one in found:
        assert [flue.state for flue in one.answer.states] == ["every fan off"]
        kinds = {change.kind for change in one.answer.changes}
        assert not kinds & {ChangeKind.EXHAUST_OFF, ChangeKind.EXHAUSTS_OFF, ChangeKind.SUPPLY_AIR}


def test_a_burner_in_the_garage_is_asked_about_with_the_house_at_rest() -> None:
    heater = '[[appliance]]\nid = "out"\nkind = "water heater"\nzone = "garage"\nventing = "natural draft"\n'
    found, _ = drafts(survey({"own": {**FLUES["vent"], "serves": '"out"'}}, more=heater))
    assert [flue.state for flue in found["out"].answer.states] == ["every fan off"]


def test_the_course_of_a_burn_runs_from_lighting_past_its_last_load_within_its_band() -> None:
    found, _ = drafts()
    course = found["fire"].course
    assert course.time[0] == 0.0
    assert_allclose(course.burning_until, 3 * 3600.0)
    assert course.time[-1] > course.burning_until
    band = course.available
    assert np.all((band.low <= band.value) & (band.value <= band.high))
    steady = found["fire"].answer.worst.at(Stage.STEADY).available.value
    at_end = float(np.interp(course.burning_until, course.time, band.value))
    assert_allclose(at_end, steady, atol=1.0)


def test_a_survey_without_flues_says_of_each_fire_that_its_draft_is_not_known() -> None:
    house, visits = sheet()
    found, problems = hearth_drafts(house, visits, *network())
    assert found == ()
    assert [one.code for one in problems] == ["network-flue-not-sized"] * 2
