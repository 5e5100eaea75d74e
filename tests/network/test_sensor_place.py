"""Places of the in-duct sensor against the trade's printed table, published distances and worked purge times."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from tests.network.hookup_parts import CFM, FOOT, INCH, about, sure

from airtally.network.ducts.sensor_place import (
    Candidate,
    DuctAir,
    SensorSpot,
    candidates_of,
    duct_level,
    place_sensor,
    view_of_place,
)
from airtally.physics.ducts.sections import equivalent_diameter

AIR = DuctAir(
    flow=sure(1000 * CFM, "m3/s"),
    filter_efficiency=about(0.65, 0.10),
    filter_bypass=about(0.02, 0.02),
    leak_before=about(0.02, 0.01),
    leak_after=about(0.03, 0.01),
    leak_over_room=about(0.5, 0.2),
    after_re_entry=about(0.79, 0.04),
)
TRUNK = float(equivalent_diameter(20 * INCH, 8 * INCH))
DROP = Candidate(spot=SensorSpot.RETURN_DROP, diameter=TRUNK, is_past_all_branches=True)


@pytest.mark.parametrize(
    ("efficiency", "bypass", "leak", "printed"),
    [
        (0.20, 0.0, 0.12, (9.2, 11.3, 18.3, 25.4)),
        (0.45, 0.0, 0.12, (6.5, 8.0, 12.8, 17.7)),
        (0.65, 0.0, 0.03, (4.3, 5.3, 8.7, 12.1)),
        (0.65, 0.2, 0.03, (5.8, 7.2, 11.8, 16.5)),
    ],
    ids=["MERV 8", "MERV 11", "MERV 13", "MERV 13 with gaps"],
)
def test_level_behind_the_filter_is_the_printed_table(
    efficiency: float, bypass: float, leak: float, printed: tuple[float, ...]
) -> None:
    """Printed table of the trade: room 12, 15, 25, 35, crawlspace 6; efficiencies of 0.20, 0.45, 0.65 stand behind it."""
    found = [duct_level(room, 6.0, leak, efficiency, bypass) for room in (12.0, 15.0, 25.0, 35.0)]
    assert_allclose(found, printed, atol=0.08)


def test_trap_sensor_behind_the_filter_reads_a_third_and_its_threshold_drowns_in_noise() -> None:
    """Trade trap: MERV 13, 3 % leak, room 15 reads about 5: choose another trigger near the sensor's own error."""
    air = replace(
        AIR, leak_before=sure(0.0), leak_after=sure(0.03), filter_efficiency=sure(0.65), filter_bypass=sure(0.0),
        leak_over_room=sure(6.0 / 15.0), after_re_entry=None,
    )  # fmt: skip
    after = view_of_place(
        replace(DROP, spot=SensorSpot.AFTER_FILTER),
        air,
        room_threshold=sure(15e-9, "kg/m3"),
        noise=sure(5.5e-9, "kg/m3"),
    )
    assert after.threshold is not None
    assert_allclose(after.threshold.value * 1e9, 5.3, atol=0.05)
    assert after.can_invert is False
    assert "own error" in after.why
    at_35 = view_of_place(replace(DROP, spot=SensorSpot.AFTER_FILTER), air, room_threshold=sure(35e-9, "kg/m3"))
    assert at_35.can_invert is True
    before = view_of_place(DROP, air, room_threshold=sure(15e-9, "kg/m3"))
    assert before.can_invert is True
    assert_allclose(before.over_room.value, 1.0)


def test_a_place_that_loses_four_fifths_of_the_room_inverts_no_threshold() -> None:
    """Rule of the trade: only where (1 - f)(1 - eta) exceeds about 0.2; open where the interval spans it."""
    dense = replace(AIR, filter_efficiency=sure(0.95), filter_bypass=sure(0.0))
    spot = replace(DROP, spot=SensorSpot.AFTER_FILTER)
    assert view_of_place(spot, dense).can_invert is False
    quarter = replace(AIR, filter_efficiency=sure(0.75), filter_bypass=sure(0.0), leak_before=sure(0.0),
                      leak_after=sure(0.0), after_re_entry=None)  # fmt: skip
    assert view_of_place(spot, quarter).can_invert is True
    fifth = replace(quarter, filter_efficiency=sure(0.81))
    assert view_of_place(spot, fifth).can_invert is False
    open_one = replace(AIR, filter_efficiency=about(0.72, 0.15), after_re_entry=None)
    view = view_of_place(spot, open_one)
    assert view.can_invert is None
    assert view.room_share.low < 0.2 < view.room_share.high


def test_each_place_sees_its_own_part_by_hand() -> None:
    """By mixing: before 0.98 + 0.02 x 0.5; re-entry x 0.79; filter x 0.97 x 0.363 + 0.03 x 0.5."""
    air = replace(
        AIR, filter_efficiency=sure(0.65), filter_bypass=sure(0.02), leak_before=sure(0.02), leak_after=sure(0.03),
        leak_over_room=sure(0.5), after_re_entry=sure(0.79),
    )  # fmt: skip
    before = 0.98 + 0.02 * 0.5
    behind = 0.97 * (1.0 - 0.65 * 0.98) * 0.79 * before + 0.03 * 0.5
    expected = {
        SensorSpot.RETURN_DROP: before,
        SensorSpot.TAKE_OFF_ELBOW: before,
        SensorSpot.AFTER_RE_ENTRY: 0.79 * before,
        SensorSpot.AFTER_FILTER: behind,
        SensorSpot.SUPPLY_PLENUM: behind,
        SensorSpot.BESIDE_LEAK: 0.5 + 0.5 * 0.5,
    }
    for spot, ratio in expected.items():
        assert_allclose(view_of_place(replace(DROP, spot=spot), air).over_room.value, ratio, rtol=1e-9, err_msg=spot)


def test_published_diameters_judge_the_straight_duct() -> None:
    """7.5 diameters after a disturbance (UFGS15951, read): 8.4 ft on a 20 x 8 in trunk; least 2 and 0.5 (NC02D2604)."""
    assert_allclose(7.5 * TRUNK / FOOT, 8.4, atol=0.05)
    for feet, words in ((8.5, "as published"), (4.0, "location"), (1.0, "less than the least accepted")):
        view = view_of_place(
            replace(DROP, straight_before=sure(feet * FOOT, "m"), straight_after=sure(3 * FOOT, "m")), AIR
        )
        assert words in view.straight
        assert view.diameters_before is not None
        assert_allclose(view.diameters_before.value, feet * FOOT / TRUNK, rtol=1e-12)
    crowded = replace(DROP, straight_before=sure(9 * FOOT, "m"), straight_after=sure(0.1, "m"))
    assert "least accepted" in view_of_place(crowded, AIR).straight
    assert "not measured" in view_of_place(DROP, AIR).straight


def test_purge_and_sampling_minutes_are_the_worked_ones() -> None:
    """Trade examples: 80 ft3 at 1,000 cfm 4.8 s; 150 ft3 at 250 cfm 36 s, three volumes 108 s; 5 min at least."""
    quick = view_of_place(replace(DROP, volume_before=sure(80 * FOOT**3, "m3")), AIR)
    assert quick.purge is not None
    assert_allclose(quick.purge.value, 4.8, rtol=1e-6)
    assert_allclose(quick.least_sampling.value, max(3 * 4.8 + 60.0 + 180.0 + 90.0, 300.0), rtol=1e-6)
    slow = view_of_place(
        replace(DROP, volume_before=sure(150 * FOOT**3, "m3")), replace(AIR, flow=sure(250 * CFM, "m3/s"))
    )
    assert slow.purge is not None
    assert_allclose(slow.purge.value, 36.0, rtol=1e-6)
    assert_allclose(slow.least_sampling.value, 108.0 + 60.0 + 180.0 + 90.0, rtol=1e-6)
    fast = view_of_place(replace(DROP, volume_before=sure(0.1, "m3")), AIR, response_time=sure(5.0, "s"))
    assert_allclose(fast.least_sampling.value, 300.0)


def test_trap_sampling_too_short_is_named_with_both_minutes() -> None:
    """Trade trap: 3 minutes minus purge, ramp, settling and a mean leave nothing."""
    places = (replace(DROP, volume_before=sure(150 * FOOT**3, "m3")),)
    placing = place_sensor(places, replace(AIR, flow=sure(250 * CFM, "m3/s")), sampling=180.0)
    assert [problem.code for problem in placing.problems] == ["network-sensor-sampling-short"]
    assert placing.problems[0].found == "3 minutes of fan for a sample"
    assert placing.problems[0].wanted.startswith("7 minutes")
    assert place_sensor(places, AIR, sampling=600.0).problems == ()


def test_return_drop_past_all_branches_comes_first_and_the_leak_last() -> None:
    """Common practice: well-mixed return, after all branches, before the filter and any re-entry."""
    straight = {spot: sure(9 * FOOT, "m") for spot in SensorSpot}
    candidates = tuple(replace(one, is_past_all_branches=True) for one in candidates_of(TRUNK, straight=straight))
    placing = place_sensor(candidates, AIR, room_threshold=sure(15e-9, "kg/m3"))
    order = [view.candidate.spot for view in placing.views]
    assert order[0] is SensorSpot.RETURN_DROP
    assert order[-1] is SensorSpot.BESIDE_LEAK
    assert placing.best is placing.views[0]
    assert set(order) == set(SensorSpot)
    assert {one.spot for one in candidates_of(TRUNK, has_loop=False, has_leak=False)} == {
        SensorSpot.RETURN_DROP, SensorSpot.AFTER_FILTER, SensorSpot.SUPPLY_PLENUM,
    }  # fmt: skip


def test_a_branch_that_joins_behind_the_sensor_is_said_and_ranks_below() -> None:
    behind = replace(DROP, is_past_all_branches=False)
    placing = place_sensor((behind, DROP), AIR)
    assert placing.views[0].candidate is DROP
    late = placing.views[1]
    assert "misses their rooms" in late.mixing
    assert "rooms whose return joins after it" in late.misses


def test_no_place_that_inverts_sends_to_a_room_monitor() -> None:
    placing = place_sensor((replace(DROP, spot=SensorSpot.BESIDE_LEAK),), AIR)
    assert placing.best is None
    assert any("use a room monitor" in sentence for sentence in placing.sentences)
    assert place_sensor((), AIR).views == ()


def test_every_place_says_what_it_sees_and_what_it_misses() -> None:
    for one in candidates_of(TRUNK):
        view = view_of_place(one, AIR)
        assert view.sees
        assert "everything while the blower is off" in view.misses
        assert view.over_room.low <= view.over_room.value <= view.over_room.high


@given(
    eta=st.floats(0.0, 0.95), more=st.floats(0.0, 0.05), bypass=st.floats(0.0, 0.9), leak=st.floats(0.0, 0.5),
    room=st.floats(1.0, 100.0),
)  # fmt: skip
def test_better_filter_never_reads_more_and_a_gap_never_less(
    eta: float, more: float, bypass: float, leak: float, room: float
) -> None:
    base = duct_level(room, 5.0, leak, eta, bypass)
    assert duct_level(room, 5.0, leak, eta + more, bypass) <= base + 1e-12
    assert duct_level(room, 5.0, leak, eta, min(bypass + more, 1.0)) >= base - 1e-12
    assert duct_level(room, room, leak, 0.0, bypass) == pytest.approx(room)
