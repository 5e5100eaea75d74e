"""What a survey asks of a bypass cleaner's hookup: laid out, half laid out, or not at all."""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose
from tests.network.passages_house import BYPASS, HEATING, Table, survey, visit

from airtally.estimates import Basis, Estimate
from airtally.house.passages import Discharge
from airtally.network.ducts.hookup_answer import HookupAnswer, hookup_answer
from airtally.network.ducts.hookup_request import hookup_request
from airtally.network.ducts.hookup_survey import HookupRequest
from airtally.physics.filters.loop import TapOrder
from airtally.visits.parts import Reading

CFM, INCH, FOOT = 0.3048**3 / 60.0, 0.0254, 0.3048


def asked(*readings: Reading, **keys: str | None) -> HookupAnswer:
    table = {key: value for key, value in (BYPASS | keys).items() if value is not None}
    house = survey(bypass=table)
    found = hookup_answer(house, (visit(*readings),) if readings else (), hookup_request(house))
    assert found is not None
    return found


def flow(answer: HookupAnswer) -> float:
    return answer.design.design.loop_flow.value


def read(key: str, value: float) -> Reading:
    estimate = Estimate(value=value, low=value - 1.0, high=value + 1.0, unit="Pa", basis=Basis.MEASURED, source="test")
    return Reading(key=key, place="air handler", state=HEATING, value=estimate, time=2e9)


def test_a_survey_without_a_loop_asks_for_the_usual() -> None:
    assert hookup_request(survey(bypass={})) == HookupRequest()


def test_the_loop_arrives_as_it_is_laid_out() -> None:
    answer = asked()
    loop, trunk = answer.design.hookup.loop, answer.design.hookup.trunk
    assert_allclose(loop.diameter, 8 * INCH, rtol=1e-12)
    assert_allclose(loop.rigid_length.value, 8 * FOOT, rtol=1e-12)
    assert loop.flex_compression is not None
    assert not loop.is_proposed
    assert {one.name: one.count for one in loop.fittings}["smooth 90 degree bend, r/D 1.5"] == 3
    assert (trunk.is_round, trunk.is_assumed, trunk.order) == (False, False, TapOrder.TAKE_OFF_FIRST)
    assert trunk.tap_distance is not None
    assert not any("the loop itself" in text or "section of the return" in text for text in answer.not_measured)
    assert answer.design.wanted_flow is not None
    round_trunk = asked(trunk_height=None).design.hookup.trunk
    assert round_trunk.is_round
    assert_allclose(round_trunk.diameter, 20 * INCH, rtol=1e-12)


@pytest.mark.parametrize(
    ("keys", "sign"),
    [
        ({"rigid_length": '"40 ft"'}, -1), ({"flex_length": '"20 ft"'}, -1), ({"flex_compression": '"30 %"'}, -1),
        ({"bends": "8"}, -1), ({"bends": "0"}, 1), ({"backdraft_dampers": "0"}, 1), ({"hand_dampers": "0"}, 1),
        ({"diameter": '"10 in"'}, 1), ({"shut_off": '"1.5 inH2O"'}, 1), ({"free_flow": '"400 cfm"'}, 1),
        ({"flex_length": '"0 ft"'}, 1),
    ],
)  # fmt: skip
def test_longer_and_more_crooked_loops_move_less_and_stronger_fans_more(keys: Table, sign: int) -> None:
    assert sign * (flow(asked(**keys)) - flow(asked())) > 0.0


def test_a_loop_whose_diameter_nobody_chose_takes_the_smallest_that_serves_and_stays_a_proposal() -> None:
    small = asked(diameter=None, wanted_clean_air='"60 cfm"').design
    large = asked(diameter=None, wanted_clean_air='"190 cfm"').design
    assert small.hookup.loop.diameter < large.hookup.loop.diameter
    assert small.hookup.loop.is_proposed
    assert_allclose(small.hookup.loop.rigid_length.value, 8 * FOOT, rtol=1e-12)
    assert asked(diameter='"8 in"', wanted_clean_air='"60 cfm"').design.hookup.loop.diameter == 8 * INCH


def test_what_is_left_out_is_taken_as_usual_and_named() -> None:
    half = asked(rigid_length=None, trunk_width=None, tap_distance=None)
    assert half.design.hookup.loop.rigid_length.basis is Basis.DEFAULT
    assert half.design.hookup.loop.is_proposed
    assert any("section of the return" in text for text in half.not_measured)
    assert any("distance between the taps" in text for text in half.not_measured)


def test_taps_the_wrong_way_round_are_reported() -> None:
    assert "network-hookup-taps-reversed" in {one.code for one in asked(is_take_off_first="false").problems}
    assert "network-hookup-taps-reversed" not in {one.code for one in asked().problems}


def test_statics_that_a_visit_read_at_the_taps_say_what_the_trunk_lends() -> None:
    """By hand: 20 Pa between the taps with the cleaner off; the loop running takes a little of it away."""
    guessed, known = asked(), asked(read("take_off_static", 40.0), read("re_entry_static", 60.0))
    assert flow(known) > flow(guessed)
    lent = known.design.lent
    assert 8.0 < lent.value < 20.0
    assert lent.high - lent.low < 12.0
    named = [text for text in known.not_measured if text.endswith("at heating")]
    assert not any("take-off" in text or "re-entry" in text for text in named)


def test_a_discharge_in_the_supply_plenum_needs_its_statics_and_stands_first() -> None:
    supply = '"supply plenum"'
    unread = asked(discharge=supply)
    assert unread.discharge is Discharge.SUPPLY
    assert "network-hookup-supply-statics" in {one.code for one in unread.problems}
    statics = (read("take_off_static", 40.0), read("supply_static", 60.0))
    answer = asked(*statics, discharge=supply)
    assert "network-hookup-supply-statics" not in {one.code for one in answer.problems}
    assert answer.numbers[0].key.startswith("supply_side")
    assert answer.sentences[0].startswith("Asked for with its discharge in the supply plenum")
    usual = asked(*statics)
    assert usual.numbers[0].key == "loop_flow"
    assert {(one.key, one.state) for one in usual.numbers} == {(one.key, one.state) for one in answer.numbers}
