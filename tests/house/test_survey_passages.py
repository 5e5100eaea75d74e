"""Flues, duct runs, the bypass loop and the climate: what is written, what is taken, what is reported."""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose
from survey_texts import SMALL, added, example, read_text

from airtally.errors import Severity
from airtally.estimates import Basis
from airtally.house import problems as code
from airtally.house.parts import House
from airtally.house.passages import Discharge, DuctSide, FluePlace, FlueWall, Insulation

INCH, FOOT = 0.0254, 0.3048
STOVE = """
[[appliance]]
id = "stove"
kind = "solid-fuel stove"
zone = "main"
venting = "closed door, chimney"
"""
HEARTH = """
[[appliance]]
id = "hearth"
kind = "fireplace"
zone = "main"
venting = "open chimney"
"""
FURNACE = """
[[appliance]]
id = "furnace"
kind = "furnace"
zone = "main"
venting = "induced draft"
"""


def flue(serves: str, *lines: str) -> str:
    return "\n".join(("", "[[flue]]", 'id = "f"', f'serves = "{serves}"', *lines, ""))


def duct(*lines: str, side: str = "supply") -> str:
    return "\n".join(("", "[[duct_run]]", 'id = "d"', f'side = "{side}"', 'zone = "garage"', *lines, ""))


def codes(house: House, *ignored: str) -> set[str]:
    usual = {code.DEFAULTS_USED, code.QUANTITIES_ABSENT, code.LOG_FILE_MISSING, code.RETURN_LEAK_OPEN}
    return {one.code for one in house.problems} - usual - set(ignored)


def test_the_example_of_the_page_arrives_with_flues_ducts_loop_and_climate() -> None:
    """By hand: 21 ft, 11 in, 6400 degF day of 5/9 K and 86400 s each, 1.40 USD for 1e5 Btu of 1055.05585262 J."""
    house = read_text(example())
    chimney, vent = house.flues
    assert (chimney.serves, chimney.wall, chimney.place) == ("fireplace", FlueWall.MASONRY, FluePlace.EXTERIOR)
    assert_allclose(chimney.height.value, 21 * FOOT, rtol=1e-12)
    assert chimney.rise.value == 0.0
    assert chimney.depth is not None
    assert_allclose(chimney.depth.value, 11 * INCH, rtol=1e-12)
    assert (vent.depth, vent.opening, vent.bends) == (None, None, 2.0)
    assert vent.height.basis is Basis.DEFAULT
    trunk, branch = house.duct_runs
    assert (trunk.side, trunk.insulation, trunk.insulation_thickness) == (DuctSide.RETURN, Insulation.BARE, None)
    assert (branch.depth, branch.around_heating, branch.humidity_around) == (None, None, None)
    assert house.bypass is not None
    assert house.bypass.discharge is Discharge.RETURN
    assert house.bypass.straight_after is None
    assert house.climate is not None
    assert_allclose(house.climate.heating_degree_days.value, 6400 * 86400 / 1.8, rtol=1e-12)
    assert_allclose(house.climate.degree_day_base, (65 + 459.67) / 1.8, rtol=1e-12)
    assert house.heat_price is not None
    assert_allclose(house.heat_price.value, 1.40 / (1e5 * 1055.05585262), rtol=1e-12)


@pytest.mark.parametrize(
    ("appliance", "serves", "diameter", "rise"),
    [(STOVE, "stove", 6 * INCH, 1.5 * FOOT), (HEARTH, "hearth", 11 * INCH, 0.0)],
)
def test_an_entry_without_sizes_takes_the_usual_of_its_fire_with_a_wide_interval(
    appliance: str, serves: str, diameter: float, rise: float
) -> None:
    house = added(appliance + flue(serves, 'width = "not measured"', 'height = "not accessible"'))
    (found,) = house.flues
    assert_allclose((found.width.value, found.rise.value), (diameter, rise), rtol=1e-12)
    assert found.width.basis is found.height.basis is found.rise.basis is Basis.DEFAULT
    assert found.width.low < 0.85 * found.width.value < 1.2 * found.width.value < found.width.high
    assert (found.wall, found.place) == (FlueWall.UNKNOWN, FluePlace.UNKNOWN)
    (defaults,) = [one.found for one in house.problems if one.code == code.DEFAULTS_USED]
    assert "flue[f].height" in defaults
    assert "flue[f].width" in defaults


def test_zero_and_not_measured_are_two_things() -> None:
    zero = added(duct('insulation_thickness = "0 in"', 'length = "0 ft"'))
    (found,) = zero.duct_runs
    assert found.insulation_thickness is not None
    assert (found.insulation_thickness.value, found.length.value) == (0.0, 0.0)
    (open_,) = added(duct('insulation_thickness = "not measured"', 'length = "not measured"')).duct_runs
    assert open_.insulation_thickness is None
    assert open_.length.basis is Basis.DEFAULT
    assert open_.length.value > 0.0


@pytest.mark.parametrize(
    ("text", "where"),
    [
        (STOVE + flue("stove", 'opening = "5 ft2"'), "flue[f].opening"),
        (HEARTH + flue("hearth", 'wanted_draft = "12 Pa"'), "flue[f].wanted_draft"),
        (duct('humidity_around = "80 %"', side="return"), "duct_run[d].humidity_around"),
        ('[bypass]\nflex_compression = "10 %"\n', "bypass.flex_compression"),
        ('[bypass]\ntrunk_height = "8 in"\n', "bypass.trunk_height"),
    ],
)
def test_a_key_that_has_no_meaning_there_is_reported(text: str, where: str) -> None:
    found = [one for one in added(text).problems if one.code == code.KEY_UNUSED]
    assert [one.where for one in found] == [f"survey.toml, {where}"]
    assert found[0].severity is Severity.NOTE


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (FURNACE + flue("furnace"), code.KEY_UNUSED),
        (STOVE + flue("oven"), code.REFERENCE_UNKNOWN),
        (STOVE + flue("stove", 'since = "2025-02-01"', 'until = "2025-01-01"'), code.DATES_REVERSED),
    ],
)
def test_a_flue_that_cannot_be_used_is_set_aside_with_its_reason(text: str, expected: str) -> None:
    house = added(text)
    assert house.flues == ()
    assert {expected, code.PART_SET_ASIDE} <= codes(house)


def test_a_flue_may_serve_an_open_fire_that_is_an_exhaust_only() -> None:
    fire = '\n[[exhaust]]\nid = "draw"\nkind = "open fireplace"\nzone = "main"\n'
    (found,) = added(fire + flue("draw", 'opening = "6 ft2"')).flues
    assert found.serves == "draw"
    assert found.opening is not None
    hood = '\n[[exhaust]]\nid = "hood"\nkind = "range hood"\nzone = "main"\n'
    assert added(hood + flue("hood")).flues == ()


def test_a_duct_in_no_known_space_is_set_aside_and_outdoors_is_one() -> None:
    text = duct().replace('zone = "garage"', 'zone = "outdoors"')
    assert added(text).duct_runs[0].zone == "outdoors"
    assert added(text.replace("outdoors", "loft")).duct_runs == ()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('[climate]\ndesign_temperature = "4"\n', code.QUANTITY_UNREADABLE),
        ('[climate]\nheating_degree_days = "6400"\n', code.QUANTITY_UNREADABLE),
        ('[climate]\nweather_factor = "0.6 Pa"\n', code.QUANTITY_UNREADABLE),
        ('[bypass]\ndiameter = "8 ft"\n', code.QUANTITY_IMPOSSIBLE),
        ('[bypass]\ndischarge = "attic"\n', code.CHOICE_UNKNOWN),
        (STOVE + flue("stove", 'wall = "brick"'), code.CHOICE_UNKNOWN),
        (STOVE + flue("stove", "bends = 1.5"), code.WRONG_FORM),
    ],
)
def test_what_cannot_be_read_is_said_and_loses_nothing_else(text: str, expected: str) -> None:
    house = added(text)
    assert expected in codes(house)
    assert code.PART_SET_ASIDE not in codes(house)


def test_a_survey_without_a_climate_has_the_usual_one_and_says_so() -> None:
    house = read_text(SMALL)
    assert house.climate is not None
    assert house.climate.heating_degree_days.basis is Basis.DEFAULT
    assert house.climate.design_temperature is house.climate.cooled_to is house.climate.weather_factor is None
    assert any("climate.heating_degree_days" in one.found for one in house.problems if one.code == code.DEFAULTS_USED)
