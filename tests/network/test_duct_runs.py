"""Ducts outside the rooms of a surveyed house: the published run, dew points, what was read and what is taken."""

from __future__ import annotations

from dataclasses import replace

import psychrolib
import pytest
from numpy.testing import assert_allclose
from tests.network.passages_house import CLIMATE, DUCTS, HEATING, Table, changed, survey, visit

from airtally.estimates import Basis, Estimate
from airtally.house.parts import House
from airtally.network.ducts.duct_heat import RESISTANCE_PER_R
from airtally.network.ducts.duct_runs import DuctRunAnswer, RunSeason, Season, duct_runs
from airtally.visits.parts import Reading, Visit

CFM, BTU_PER_H = 0.3048**3 / 60.0, 1055.05585262 / 3600.0
RISE = Reading(
    key="heat_rise", place="air handler", state=HEATING, time=2e9,
    value=Estimate(value=50 / 1.8, low=50 / 1.8, high=50 / 1.8, unit="K", basis=Basis.MEASURED, source="test"),
)  # fmt: skip


def run(house: House | None = None, *visits: Visit) -> DuctRunAnswer:
    (found,), _ = duct_runs(house or survey(), visits)
    return found


def season(answer: DuctRunAnswer, which: Season = Season.HEATING) -> RunSeason:
    return next(one for one in answer.seasons if one.season is which)


def other(**keys: str | None) -> House:
    return survey(ducts=changed(DUCTS, "branch", **keys))


@pytest.mark.parametrize(
    ("label", "exit_temperature", "loss"),
    [("bare metal", 103.39, 4485.0), ("R-4.2", 115.69, 1164.0), ("R-6", 116.96, 822.0), ("R-8", 117.71, 619.0)],
)
def test_the_published_run_comes_out_of_the_survey(label: str, exit_temperature: float, loss: float) -> None:
    """Check values section 7 (computed): 8 in x 30 ft, 250 cfm, 120 F in, crawlspace 40 F; 1.08 is sea-level air.

    70 F in the rooms and a heat rise of 50 F make 120 F; dry air of 70 F is 0.2 % thinner than the table's.
    """
    low = survey(ducts=changed(DUCTS, "branch", insulation=f'"{label}"'))
    answer = run(replace(low, elevation=0.0), visit(RISE))
    heat = season(answer).heat.found
    assert_allclose(heat.run.inlet_temperature.value * 1.8 - 459.67, 120.0, atol=1e-6)
    assert_allclose(heat.exit_temperature.value * 1.8 - 459.67, exit_temperature, atol=0.06)
    assert_allclose(heat.heat_loss.value / BTU_PER_H, loss, rtol=5e-3)


def test_wrapping_the_bare_run_saves_the_difference_of_the_table() -> None:
    """Same table: 4485 bare, 619 at R-8."""
    bare = replace(other(insulation='"bare metal"'), elevation=0.0)
    assert_allclose(season(run(bare, visit(RISE))).heat.saved.value / BTU_PER_H, 4485.0 - 619.0, rtol=5e-3)


def test_dew_point_around_the_run_is_psychrolibs_and_of_the_check_values() -> None:
    """25 C at 50 %: 13.864 C, check values section 10."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    found = season(run(), Season.COOLING).sweating
    assert found is not None
    assert_allclose(found.dew_point.value - 273.15, 13.864, atol=0.01)
    damp = season(run(other(around_cooling='"86 degF"', humidity_around='"80 %"')), Season.COOLING).sweating
    assert damp is not None
    assert_allclose(damp.dew_point.value - 273.15, psychrolib.GetTDewPointFromRelHum(30.0, 0.80), atol=0.01)


def test_the_outside_of_a_cold_run_lies_between_its_air_and_the_air_around_by_the_films_share() -> None:
    """By hand: R-6 with its films 1.0567 m2 K/W, film 0.12: the outside is 11.4 % of the way from around to inside."""
    found = season(run(), Season.COOLING)
    assert found.sweating is not None
    around, inlet = 298.15, found.heat.found.run.inlet_temperature.value
    outside = around - (around - inlet) * 0.12 / (6.0 * RESISTANCE_PER_R)
    assert_allclose(found.sweating.over_dew_point.value, outside - (13.864 + 273.15), atol=0.01)
    assert found.sweating.wrapped.value > found.sweating.over_dew_point.value


def test_bare_cold_ducts_sweat_in_damp_air_and_wrapped_ones_less() -> None:
    cases = []
    for label in ('"bare metal"', '"R-4.2"', '"R-8"'):
        found = season(run(other(insulation=label, humidity_around='"85 %"')), Season.COOLING).sweating
        assert found is not None
        cases.append(found.over_dew_point.value)
    assert cases[0] < 0.0 < cases[2]
    assert cases == sorted(cases)


@pytest.mark.parametrize(
    ("keys", "sign"),
    [
        ({"length": '"60 ft"'}, 1), ({"width": '"12 in"'}, 1), ({"depth": '"14 in"'}, 1), ({"around_heating": '"10 degF"'}, 1),
        ({"around_heating": '"60 degF"'}, -1), ({"insulation": '"R-8"'}, -1), ({"insulation_thickness": '"3 in"'}, -1),
        ({"insulation_thickness": '"0 in"'}, 1), ({"length": '"0 ft"'}, -1),
    ],
)  # fmt: skip
def test_longer_wider_barer_and_colder_runs_lose_more(keys: Table, sign: int) -> None:
    before, after = season(run()).heat.found.heat_loss.value, season(run(other(**keys))).heat.found.heat_loss.value
    assert sign * (after - before) > 0.0
    if keys.get("length") == '"0 ft"':
        assert after == 0.0


def test_no_thickness_of_wrap_is_bare_metal_and_an_unmeasured_one_is_not() -> None:
    none = season(run(other(insulation='"insulation not known"', insulation_thickness='"0 in"'))).heat.found.run
    bare = season(run(other(insulation='"bare metal"'))).heat.found.run
    assert_allclose(none.resistance.value, bare.resistance.value, rtol=1e-12)
    open_ = season(run(other(insulation=None, insulation_thickness='"not measured"'))).heat.found.run
    assert open_.resistance.high - open_.resistance.low > 5.0 * (none.resistance.high - none.resistance.low)


def test_a_wrap_that_its_label_belies_is_doubted_and_its_thickness_counts() -> None:
    thin = other(insulation='"R-8"', insulation_thickness='"0.2 in"')
    (answer,), problems = duct_runs(thin, ())
    assert [one.code for one in problems] == ["network-duct-insulation-disagrees"]
    assert season(answer).heat.found.run.resistance.value < 3.0 * RESISTANCE_PER_R
    fitting = other(insulation='"R-6"', insulation_thickness='"1.5 in"')
    assert duct_runs(fitting, ())[1] == ()


def test_air_and_surroundings_that_nobody_read_are_taken_wide_and_named() -> None:
    bare = survey(ducts={"branch": {"side": '"return"', "zone": '"garage"'}})
    answer = run(bare)
    heat = season(answer).heat.found
    assert heat.run.flow.basis is heat.run.ambient_temperature.basis is Basis.DEFAULT
    assert heat.run.flow.high <= 1010 * CFM  # no more than the air handler moves, 940 cfm and 7 %
    assert heat.run.inlet_temperature.value == pytest.approx((70 + 459.67) / 1.8)  # a return takes room air
    assert season(answer, Season.COOLING).sweating is None
    assert any("garage" in text for text in answer.assumed)
    assert any("run not measured" in text for text in answer.assumed)
    cold, mild = (
        season(
            run(survey(ducts={"branch": {"side": '"return"', "zone": f'"{zone}"'}}))
        ).heat.found.run.ambient_temperature
        for zone in ("outdoors", "garage")
    )
    assert cold.value == pytest.approx((10 + 459.67) / 1.8)
    assert cold.value < mild.value < (70 + 459.67) / 1.8


def test_supply_air_is_as_warm_as_the_furnace_makes_it_where_nobody_read_the_rise() -> None:
    """By hand: 64 kBtu/h over 940 cfm of 3,200 ft air (0.888 of the trade's 1.08): 71 F, as the sheet's heat rise has it."""
    rise = season(run()).heat.found.run.inlet_temperature.value * 1.8 - 459.67 - 70.0
    assert_allclose(rise, 64000.0 / (1.08 * 0.888 * 940.0), rtol=0.01)
    unknown = replace(survey(), appliances=())
    wide = season(run(unknown)).heat.found.run.inlet_temperature
    assert wide.basis is Basis.DEFAULT
    assert wide.high - wide.low > 20.0


def test_a_house_that_is_not_cooled_has_no_summer_and_says_what_it_left_out() -> None:
    no_cooling = {key: value for key, value in CLIMATE.items() if key != "cooled_to"}
    house = survey(climate=no_cooling)
    (answer,), problems = duct_runs(house, ())
    assert [one.season for one in answer.seasons] == [Season.HEATING]
    assert [one.code for one in problems] == ["network-duct-not-cooled"]
    for keys, expected in (
        ({"around_cooling": None, "humidity_around": None}, 0), ({"around_cooling": None}, 1), ({"humidity_around": None}, 1)
    ):  # fmt: skip
        part = survey(ducts=changed(DUCTS, "branch", **keys), climate=no_cooling)
        assert len(duct_runs(part, ())[1]) == expected
