"""Pairing before with after: only like states, and nothing goes missing."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from airtally.estimates import Basis, Estimate
from airtally.visits import (
    ALL,
    READING_KINDS,
    Doors,
    HandlerMode,
    HouseState,
    Missing,
    Pairing,
    Reading,
    StatePart,
    VentStart,
    Visit,
    VisitKind,
    pair_like_states,
)


def kelvin(value: float) -> Estimate:
    return Estimate(value=value, low=value, high=value, unit="K", basis=Basis.MEASURED, source="test")


def pascal(value: float, half: float = 0.5) -> Estimate:
    return Estimate(value=value, low=value - half, high=value + half, unit="Pa", basis=Basis.MEASURED, source="test")


STATE = HouseState(
    doors=Doors.OPEN,
    air_handler=HandlerMode.HEATING,
    exhausts_on=ALL,
    fires_lit=(),
    vent=VentStart.COLD,
    wind_speed=replace(kelvin(1.0), unit="m/s"),
    outdoor_temperature=kelvin(280.0),
    indoor_temperature=kelvin(293.0),
)


def reading(
    key: str = "zone_pressure", place: str = "utility", state: HouseState = STATE, value: object = None
) -> Reading:
    found = pascal(-3.0) if value is None else value
    assert isinstance(found, Estimate | Missing)
    return Reading(key=key, place=place, state=state, value=found, time=0.0, reference="outdoors")


def visit(kind: VisitKind, *readings: Reading) -> Visit:
    return Visit(id=kind.value, kind=kind, time=0.0, by="technician", state=STATE, readings=readings)


def pairing_of(before: Reading, *after: Reading) -> Pairing:
    return pair_like_states(visit(VisitKind.TEST_IN, before), visit(VisitKind.TEST_OUT, *after))


@pytest.mark.parametrize(
    ("part", "other", "words"),
    [
        (StatePart.DOORS, {"doors": Doors.CLOSED}, "doors open before, closed after"),
        (StatePart.AIR_HANDLER, {"air_handler": HandlerMode.OFF}, "air handler heating before, off after"),
        (StatePart.EXHAUSTS, {"exhausts_on": ("hood",)}, "exhausts on all before, hood after"),
        (StatePart.FIRES, {"fires_lit": ("stove",)}, "fires lit none before, stove after"),
        (StatePart.DOORS, {"doors": Doors.UNKNOWN}, "doors not recorded"),
        (StatePart.FIRES, {"fires_lit": None}, "fires lit not recorded"),
        (
            StatePart.WEATHER,
            {"outdoor_temperature": kelvin(260.0)},
            "indoor minus outdoor temperature 13 K before, 33 K",
        ),
        (StatePart.WEATHER, {"wind_speed": None}, "wind not recorded"),
        (StatePart.WEATHER, {"wind_speed": replace(kelvin(8.0), unit="m/s")}, "wind 1 m/s before, 8 m/s after"),
    ],
)
def test_readings_in_unlike_states_do_not_pair_and_say_why(
    part: StatePart, other: dict[str, object], words: str
) -> None:
    assert part in READING_KINDS["zone_pressure"].depends_on
    result = pairing_of(reading(), reading(state=replace(STATE, **other)))  # type: ignore[arg-type]
    assert result.pairs == ()
    (lost,) = result.not_retested
    assert words in lost.why
    assert len(result.only_after) == 1


def test_a_key_ignores_the_parts_of_the_state_it_does_not_depend_on() -> None:
    result = pairing_of(reading("tesp"), reading("tesp", state=replace(STATE, doors=Doors.CLOSED, fires_lit=None)))
    assert len(result.pairs) == 1


def test_change_is_after_minus_before_with_half_widths_in_quadrature() -> None:
    result = pairing_of(reading(value=pascal(-3.7, 0.3)), reading(value=pascal(-0.5, 0.4)))
    change = result.pairs[0].change
    assert_allclose((change.value, change.low, change.high), (3.2, 2.7, 3.7), rtol=1e-12)


def test_a_one_sided_reading_gives_a_one_sided_change() -> None:
    open_end = Estimate(value=300.0, low=300.0, high=inf, unit="s", basis=Basis.MEASURED, source="test")
    closed = Estimate(value=120.0, low=110.0, high=130.0, unit="s", basis=Basis.MEASURED, source="test")
    result = pairing_of(reading("spillage_time", value=open_end), reading("spillage_time", value=closed))
    change = result.pairs[0].change
    assert change.low == -inf
    assert change.high == pytest.approx(-170.0)


def test_a_plate_is_no_test_and_is_never_called_not_retested() -> None:
    result = pairing_of(reading("rated_static"))
    assert result.not_retested == ()


def test_what_is_missing_afterwards_says_in_which_way() -> None:
    result = pairing_of(reading("draft"), reading("draft", value=Missing.NOT_ACCESSIBLE))
    assert result.not_retested[0].why == "not accessible at test-out"
    assert pairing_of(reading("draft")).not_retested[0].why == "no such reading at test-out"


_states = st.builds(
    HouseState,
    doors=st.sampled_from(Doors),
    air_handler=st.sampled_from(HandlerMode),
    exhausts_on=st.sampled_from([None, (), ALL]),
    fires_lit=st.sampled_from([None, (), ("stove",)]),
)
_readings = st.builds(
    reading,
    key=st.sampled_from(["tesp", "zone_pressure_change", "co_ambient", "exhaust_flow"]),
    place=st.sampled_from(["a", "b"]),
    state=_states,
    value=st.one_of(st.sampled_from(Missing), st.floats(0, 50).map(pascal)),
)


@given(before=st.lists(_readings, max_size=8), after=st.lists(_readings, max_size=8))
def test_every_reading_is_accounted_for_exactly_once(before: list[Reading], after: list[Reading]) -> None:
    result = pair_like_states(visit(VisitKind.TEST_IN, *before), visit(VisitKind.TEST_OUT, *after))
    assert len(result.pairs) + len(result.not_retested) + len(result.not_measured_before) == len(before)
    assert len(result.pairs) + len(result.only_after) == sum(r.estimate is not None for r in after)
    for pair in result.pairs:
        for part in READING_KINDS[pair.key].depends_on:
            if part is not StatePart.WEATHER:
                assert getattr(pair.before.state, part.value) == getattr(pair.after.state, part.value)


@given(readings=st.lists(_readings, max_size=8))
def test_a_visit_paired_with_itself_changes_nothing(readings: list[Reading]) -> None:
    result = pair_like_states(visit(VisitKind.TEST_IN, *readings), visit(VisitKind.TEST_OUT, *readings))
    assert all(pair.change.low <= 0.0 <= pair.change.high for pair in result.pairs if pair.before == pair.after)
