"""The appliance-zone test: steps in order, smallest appliance first, flues that are shared or left alone."""

from __future__ import annotations

from dataclasses import replace

import pytest
from safety_houses import (
    EMPTY,
    FIREPLACE,
    FURNACE,
    START,
    TEST_OUT,
    WORST,
    about,
    appliance,
    house,
    reading,
    visit,
)

from airtally.house.burners import flue_mates
from airtally.house.parts import Appliance, House
from airtally.safety import Grade, Standing, StepState, assess, zone_sequence
from airtally.safety.flues import firing_order, is_orphaned
from airtally.visits import Answer, Doors, Reading, VentStart, Visit, VisitKind

OUT = VisitKind.TEST_OUT
SMALL = replace(appliance(), output=about(9000.0, "W"))
LARGE = replace(FURNACE, output=about(19000.0, "W"))


def spilled(name: str, minutes_later: float, value: float = 40.0) -> Reading:
    return reading("spillage_time", about(value, "s", 5.0), name, time=TEST_OUT + 60.0 * minutes_later)


def at_own_times(*readings: Reading, checks: dict[str, Answer] | None = None) -> Visit:
    """Return a test-out whose readings keep their own times."""
    made = visit(*readings, kind=OUT, checks=checks)
    return replace(made, readings=readings)


def states(home: House, made: Visit) -> dict[tuple[str, str], StepState]:
    return {(step.key, step.place): step.state for step in zone_sequence(home, (made,), "utility").steps}


def test_the_smallest_output_is_fired_first_and_an_unread_plate_has_no_place() -> None:
    ordered, unknown = firing_order(house(LARGE, SMALL), "utility")
    assert ([one.id for one in ordered], unknown) == (["water-heater", "furnace"], ())
    ordered, unknown = firing_order(house(LARGE, appliance()), "utility")
    assert ([one.id for one in ordered], [one.id for one in unknown]) == (["furnace"], ["water-heater"])
    (asked, _) = assess(house(LARGE, appliance()), (), EMPTY).find("safety-spillage-not-tested")
    assert "read the plates" in asked.action
    (asked, _) = assess(house(LARGE, SMALL), (), EMPTY).find("safety-spillage-not-tested")
    assert "water heater (natural draft), then furnace (induced draft)" in asked.action


def test_the_steps_come_in_the_order_of_the_trade_and_none_is_done_without_a_visit() -> None:
    """Common practice of audit programmes: ambient CO, venting, baseline, worst state, then fire, CO again."""
    sequence = zone_sequence(house(LARGE, SMALL, FIREPLACE), (), "utility")
    assert [step.key for step in sequence.steps] == [
        "co_ambient", "co_ambient", "venting_inspected", "baseline_pressure", "worst_case_pressure_change",
        "spillage_time", "draft", "co_flue", "spillage_time", "draft", "co_flue", "co_ambient", "spillage_time",
    ]  # fmt: skip
    assert [step.place for step in sequence.steps][5:11] == ["water-heater"] * 3 + ["furnace"] * 3
    assert {step.state for step in sequence.steps} == {StepState.NOT_DONE, StepState.NOT_NEEDED}
    first = sequence.next_step
    assert first is not None
    assert first.place == "outdoors"


def test_a_larger_appliance_fired_first_on_the_same_flue_is_out_of_order() -> None:
    shared = house(replace(LARGE, shares_flue_with="water-heater"), SMALL)
    wrong = at_own_times(spilled("furnace", 0.0), spilled("water-heater", 20.0))
    right = at_own_times(spilled("water-heater", 0.0), spilled("furnace", 20.0))
    assert states(shared, wrong)["spillage_time", "water-heater"] is StepState.OUT_OF_ORDER
    (finding,) = assess(shared, (wrong,), EMPTY).find("safety-firing-order")
    assert (finding.grade, finding.standing) == (Grade.RESTRICT, Standing.OPEN)
    assert states(shared, right)["spillage_time", "water-heater"] is StepState.DONE
    assert assess(shared, (right,), EMPTY).find("safety-firing-order") == ()
    alone = house(replace(LARGE, shares_flue_with="none"), replace(SMALL, shares_flue_with="none"))
    assert assess(alone, (wrong,), EMPTY).find("safety-firing-order") == ()  # flues of their own


def test_an_order_nobody_recorded_is_said_and_not_guessed() -> None:
    together = at_own_times(spilled("furnace", 0.0), spilled("water-heater", 0.0))
    (finding,) = assess(house(LARGE, SMALL), (together,), EMPTY).find("safety-firing-order")
    assert (finding.grade, finding.standing) == (Grade.NOTE, Standing.UNKNOWN)
    unread = at_own_times(spilled("furnace", 0.0), spilled("water-heater", 20.0))
    (finding,) = assess(house(LARGE, appliance()), (unread,), EMPTY).find("safety-firing-order")
    assert finding.standing is Standing.UNKNOWN


def test_a_step_is_done_by_its_reading_and_the_next_one_follows() -> None:
    early = [
        reading("co_ambient", about(0.0, "mol/mol", 1e-6), "outdoors", time=TEST_OUT),
        reading("co_ambient", about(0.0, "mol/mol", 1e-6), "utility", time=TEST_OUT),
        reading("baseline_pressure", about(-1.0, "Pa", 0.1), time=TEST_OUT),
    ]
    made = at_own_times(*early, spilled("water-heater", 5.0), checks={"venting_inspected": Answer.NO})
    found = zone_sequence(house(SMALL), (made,), "utility")
    assert found.visit == "test-out"
    step = found.next_step
    assert step is not None
    assert step.key == "worst_case_pressure_change"
    assert [one.state for one in found.steps[:4]] == [StepState.DONE] * 4
    assert found.steps[-2].state is StepState.NOT_DONE  # CO was not read again after the firing


@pytest.mark.parametrize(("natural", "state"), [(False, StepState.NOT_DONE), (True, StepState.DONE)])
def test_a_failure_in_the_worst_state_asks_for_the_natural_one_which_lifts_nothing(
    natural: bool, state: StepState
) -> None:
    readings = [spilled("water-heater", 0.0, 400.0)]
    if natural:
        easy = replace(WORST, doors=Doors.OPEN, exhausts_on=(), vent=VentStart.COLD)
        readings.append(replace(spilled("water-heater", 30.0, 20.0), state=easy))
    made = at_own_times(*readings)
    sequence = zone_sequence(house(SMALL), (made,), "utility")
    assert sequence.steps[-1].state is state
    assert assess(house(SMALL), (made,), EMPTY).find("safety-spillage")[0].is_open


def test_flue_mates_are_found_from_either_side_and_in_chains() -> None:
    a, b = replace(SMALL, shares_flue_with="furnace"), LARGE
    c = replace(appliance("boiler"), shares_flue_with="water-heater")
    assert [one.id for one in flue_mates(b, (a, b)) or ()] == ["water-heater"]
    assert [one.id for one in flue_mates(b, (a, b, c)) or ()] == ["boiler", "water-heater"]
    assert flue_mates(SMALL, (SMALL, LARGE)) is None
    assert flue_mates(replace(SMALL, shares_flue_with="none"), (SMALL, LARGE)) == ()


@pytest.mark.parametrize("who", ["furnace", "water-heater"])
def test_what_is_left_alone_on_a_flue_for_two_is_referred(who: str) -> None:
    gone = replace(LARGE, until=START)
    heater = SMALL
    if who == "furnace":
        gone = replace(gone, shares_flue_with="water-heater")
    else:
        heater = replace(heater, shares_flue_with="furnace")
    home = house(gone, heater)
    assert is_orphaned(heater, home)
    (finding,) = assess(home, (), EMPTY).find("safety-orphaned-flue")
    assert finding.grade is Grade.REFER
    settled = house(gone, replace(heater, shares_flue_with="none"))
    assert assess(settled, (), EMPTY).find("safety-orphaned-flue") == ()


def test_a_fire_and_a_gas_appliance_on_one_flue_stop_both() -> None:
    hearth: Appliance = replace(FIREPLACE, shares_flue_with="water-heater")
    (finding,) = assess(house(SMALL, hearth), (), EMPTY).find("safety-shared-flue")
    assert finding.grade is Grade.STOP
    assert "from memory" in finding.sentence
    assert assess(house(SMALL, FIREPLACE), (), EMPTY).find("safety-shared-flue") == ()
