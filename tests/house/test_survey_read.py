"""A survey's text becomes a house in SI; what is left open gets a cited default."""

from __future__ import annotations

from pathlib import Path

import pytest
from numpy.testing import assert_allclose
from survey_texts import SMALL, added, changed, example, only, read_text, sentences

from airtally.errors import Severity
from airtally.estimates import Basis
from airtally.house import problems as code
from airtally.house.parts import Affects, AirSide, ApplianceKind, ExhaustKind, RunsWith, Venting, ZoneKind
from airtally.house.survey import read_survey, survey_from_bytes, survey_problems

CFM = 0.3048**3 / 60.0


def test_the_example_of_the_page_is_read_without_a_warning() -> None:
    house = read_text(example())
    assert sentences(house, Severity.FATAL, Severity.WARNING) == []


def test_the_example_of_the_page_arrives_whole() -> None:
    house = read_text(example())
    assert [z.id for z in house.zones] == ["main", "bedrooms", "lower", "utility", "garage"]
    assert house.is_invented
    # 3,200 ft and 17,200 ft3 (four inside zones), one foot being 0.3048 m exactly
    assert_allclose(house.elevation, 3200 * 0.3048, rtol=1e-12)
    inside = [z.volume.value for z in house.zones if z.kind is not ZoneKind.GARAGE]
    assert_allclose(sum(inside), 17200 * 0.3048**3, rtol=1e-12)
    assert house.air_handler is not None
    assert [s.name for s in house.air_handler.speeds] == ["heating", "heating", "circulate"]
    assert_allclose(house.air_handler.speeds[0].flow.value, 940 * CFM, rtol=1e-12)
    assert [f.rating for f in house.air_handler.filters] == ["MERV 8", "MERV 13", "MERV 13", "MERV 13"]
    assert house.cleaners[0].runs_with is RunsWith.AIR_HANDLER
    assert {e.kind for e in house.exhausts} == set(ExhaustKind) - {ExhaustKind.OTHER}
    assert house.appliances[0].kind is ApplianceKind.FURNACE
    assert [a.shares_flue_with for a in house.appliances[:3]] == ["water-heater", None, None]
    assert house.appliances[3].venting is Venting.OPEN_CHIMNEY
    assert house.placements[4].air_side is AirSide.AFTER_FILTER
    assert house.logs[2].columns == (("dust", "pm25 ug/m3"), ("smell", "voc index"))
    assert house.changes[0].affects[0] is Affects.FILTER
    assert [d.is_on for d in house.trial] == [True, False, True, False, True, False]
    assert_allclose(house.rule_settings[1].sampling_seconds_per_hour, 960.0)
    assert house.rule_settings[1].early_run == "05:30 to 07:00 below 274.82 K"
    assert dict(house.measures[0].settings)["flow"] == pytest.approx(60 * CFM, rel=1e-12)
    assert (house.measures[0].price_low, house.measures[0].price_high) == (1400.0, 2200.0)
    assert house.target is not None
    assert_allclose(house.target.value, 10e-9, rtol=1e-12)
    assert house.energy_price is not None
    assert_allclose(house.energy_price.value, 0.16 / 3.6e6, rtol=1e-12)


def test_local_dates_are_read_in_the_homes_zone_and_offsets_as_written() -> None:
    lines = '[[change]]\nid = "a"\ntime = "2025-09-30 08:00"\naffects = ["filter"]\n'
    local = added(lines).changes[0].time
    offset = added(lines.replace("08:00", "08:00-06:00")).changes[0].time
    toml = added(lines.replace('"2025-09-30 08:00"', "2025-09-30T14:00:00Z")).changes[0].time
    # Denver keeps mountain daylight time, UTC-6, on 30 September
    assert local == offset == toml == 1759240800.0


def test_an_interval_written_is_kept_and_a_usual_one_taken_elsewhere() -> None:
    house = read_text(SMALL)
    assert house.air_handler is not None
    flow = house.air_handler.speeds[0].flow
    assert_allclose([flow.low, flow.high], [880 * CFM, 1000 * CFM], rtol=1e-12)
    blower_door = house.envelopes[0].flow_at_50
    assert blower_door is not None
    assert_allclose(blower_door.high / blower_door.value, 1.07, rtol=1e-12)
    assert blower_door.basis is Basis.SURVEYED
    assert blower_door.source == "survey.toml, envelope[no. 1].flow_at_50"


def test_what_is_left_open_gets_a_default_with_a_source_and_is_listed() -> None:
    house = changed('bypass = "15 % (5 to 30)"', 'bypass = "not measured"')
    assert house.air_handler is not None
    bypass = house.air_handler.filters[0].bypass
    assert (bypass.basis, bypass.low, bypass.high) == (Basis.DEFAULT, 0.02, 0.25)
    assert bypass.source
    assert "air_handler.filter[one-inch].bypass = 8 % (2 to 25)" in only(house, code.DEFAULTS_USED)


def test_zero_is_not_missing() -> None:
    house = changed('fraction = "12 % (6 to 20)"', 'fraction = "0 %"')
    assert house.air_handler is not None
    assert house.air_handler.return_leaks[0].fraction.value == 0.0
    assert house.air_handler.return_leaks[0].fraction.basis is Basis.SURVEYED


def test_a_room_without_volume_takes_area_times_height() -> None:
    house = changed('volume = "12000 ft3"\n', "")
    assert_allclose(house.zones[0].volume.value, 12000 * 0.3048**3, rtol=1e-12)


def test_a_handler_without_measured_flow_takes_it_from_its_capacity() -> None:
    house = changed('flow = "940 cfm (880 to 1000)"', 'flow = "not accessible"').air_handler
    assert house is not None
    assert_allclose(house.speeds[0].flow.value, 1000 * CFM, rtol=1e-12)
    text = SMALL.replace('flow = "940 cfm (880 to 1000)"\n', "").replace(
        'motor = "PSC"', 'cooling_capacity = "2.5 ton"'
    )
    sized = read_text(text).air_handler
    assert sized is not None
    # 350 cfm a ton, lowest 220, highest 420: common practice, no source
    flow = sized.speeds[0].flow
    assert_allclose([flow.low, flow.value, flow.high], [550 * CFM, 875 * CFM, 1050 * CFM], rtol=1e-12)


def test_circulating_stands_even_where_the_survey_has_no_word_on_it() -> None:
    handler = read_text(SMALL).air_handler
    assert handler is not None
    assert [s.name for s in handler.speeds] == ["heating", "circulate"]
    assert handler.speeds[1].flow.basis is Basis.DEFAULT
    assert handler.speeds[1].flow.high == pytest.approx(1000 * CFM)


def test_a_house_without_blower_door_takes_the_range_of_the_stock() -> None:
    house = changed('flow_at_50 = "2350 cfm"\n', "")
    flow = house.envelopes[0].flow_at_50
    assert flow is not None
    assert flow.basis is Basis.DEFAULT
    # normalized leakage 1 makes the published rule of thumb ACH50 about 20 in a one-storey house of 8 ft:
    # NL = 1000 (ELA/A)(H/2.5)^0.3 with ELA per CFM50 0.3540 cm2 at n = 0.65 (LBNL leakage area relation, computed)
    area, height = 1500 * 0.3048**2, 10 * 0.3048
    leakage_area = flow.value / CFM * 0.3540e-4
    assert_allclose(1000 * leakage_area / area * (height / 2.5) ** 0.3, 0.67, rtol=2e-3)
    assert_allclose(flow.high / flow.value, 1.95 / 0.67, rtol=1e-12)


def test_a_missing_file_and_a_folder_are_read_in_words(tmp_path: Path) -> None:
    assert "the file cannot be opened" in survey_problems(tmp_path / "none.toml")[0].sentence()
    (tmp_path / "survey.toml").write_text(SMALL, encoding="utf-8")
    house = read_survey(tmp_path)
    assert house.home_id == "elm-row"
    assert '"logs/living.csv" is not in the job' in only(house, code.LOG_FILE_MISSING)
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "living.csv").write_text("time,pm25\n", encoding="utf-8")
    assert code.LOG_FILE_MISSING not in {p.code for p in read_survey(tmp_path).problems}


def test_a_byte_order_mark_does_no_harm() -> None:
    assert survey_from_bytes(b"\xef\xbb\xbf" + SMALL.encode()).home_id == "elm-row"


def test_renaming_ids_changes_nothing_but_names() -> None:
    first = read_text(SMALL)
    second = read_text(
        SMALL.replace('"main"', '"wohnraum"').replace('"M1"', '"sensor 7"').replace('"garage"\n', '"g2"\n', 1)
    )
    assert [z.volume.value for z in first.zones] == [z.volume.value for z in second.zones]
    assert second.placements[0].instrument == "sensor 7"


def test_an_interval_that_reaches_beyond_the_possible_ends_there() -> None:
    house = changed('fraction = "12 % (6 to 20)"', 'fraction = "50 % (10 to 95)"')
    assert house.air_handler is not None
    fraction = house.air_handler.return_leaks[0].fraction
    assert_allclose([fraction.low, fraction.value, fraction.high], [0.10, 0.50, 0.80], rtol=1e-12)
    assert "was cut; wanted: 0 to 80 %" in only(house, code.INTERVAL_CUT)
