"""Published limits: transcribed rightly, in one unit, and the stricter governs without hiding the other."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from airtally.errors import InputError
from airtally.limits import (
    Basis,
    IndexEdition,
    MervEdition,
    Sense,
    Status,
    VentilationEdition,
    action_levels,
    alarm_windows,
    all_limits,
    draft_lines,
    filter_classes,
    flue_action_levels,
    governing,
    index_table,
    limits_on,
    make_up_air_factors,
    merv_table,
    ventilation_rate,
)

CFM = 0.3048**3 / 60.0
REFERENCES = Path(__file__).parents[2] / "docs" / "references.md"
SQUARE_FOOT = 0.3048**2
PRINTED = {
    "ppm": 1e-6,
    "mg/m3": 24.465e-6 / 28.01,  # carbon monoxide at 25 degC
    "ug/m3": 1e-9,
    "Pa": 1.0,
    "inH2O": 249.08891,
    "fpm": 0.3048 / 60.0,
    "cfm": CFM,
    "W/cfm": 1.0 / CFM,
    "cfm/100 ft2": CFM / SQUARE_FOOT / 100.0,
    "cfm/ft2": CFM / SQUARE_FOOT,
    "h ft2 F/Btu": 0.17611018,
    "min": 60.0,
    "ft": 0.3048,
    "cfm/ton": CFM / (12000.0 * 1055.05585262 / 3600.0),  # a ton is 12,000 Btu (international table) an hour
    "pCi/L": 37.0,
    "Bq/m3": 1.0,
    "%": 0.01,
}
"""SI value of what the sources print; independent of the package."""


def _in_si(printed):
    """Return the last figure of a printed limit, with its unit, in SI."""
    found = re.search(r"(-?[0-9.]+)\s*(%|[A-Za-z][A-Za-z0-9/ ]*?)(?: or less)?$", printed)
    assert found, printed
    return float(found.group(1)) * PRINTED[found.group(2)]


@pytest.mark.parametrize("limit", all_limits(), ids=lambda limit: limit.key)
def test_a_limit_in_si_is_what_its_source_prints(limit):
    if limit.key == "pressure-auditor-sealed":
        assert limit.value == -25.0  # a range is printed, its stricter end stands
        assert "-25 to -50" in limit.printed
        return
    assert_allclose(abs(limit.value), abs(_in_si(limit.printed)), rtol=6e-4)


def test_every_limit_says_who_when_where_and_whether_it_was_read():
    limits = all_limits()
    assert len({limit.key for limit in limits}) == len(limits)
    for limit in limits:
        assert limit.edition, limit.key
        assert limit.jurisdiction, limit.key
        assert limit.source, limit.key
        assert limit.basis in Basis, limit.key


def test_suction_limits_are_negative_and_the_smaller_magnitude_governs():
    """Check values, airflow section 6 and trap 3: -3 Pa is stricter than -5 Pa."""
    for limit in limits_on("house pressure"):
        assert limit.value < 0.0
        assert limit.sense is Sense.AT_LEAST
    induced = governing(limits_on("house pressure", applies_to="induced draft"))
    assert induced.limit.value == -5.0
    assert [other.value for other in induced.others] == [-15.0]
    assert induced.editions_disagree
    assert induced.limit.is_met_by(-4.9)
    assert not induced.limit.is_met_by(-5.1)


@pytest.mark.parametrize(
    ("applies_to", "value"),
    [
        ("natural-draft water heater alone", -2.0),
        ("natural-draft appliances sharing a flue", -3.0),
        ("natural-draft furnace or boiler alone, or sharing with a vent damper", -5.0),
        ("power vented", -15.0),
        ("sealed combustion", -25.0),
        ("fireplace or solid-fuel stove", -5.0),
    ],
)
def test_the_governing_suction_limit_is_that_of_the_read_lists(applies_to, value):
    """Check values, airflow section 6, auditor's list and Northwest checklist, read."""
    assert governing(limits_on("house pressure", applies_to=applies_to)).limit.value == value


def test_the_stricter_particle_guideline_governs_and_the_national_one_stays_beside_it():
    """WHO 2021: 5 and 15; national 2024: 9.0 (before: 12.0) and 35 ug/m3, read."""
    year = governing(limits_on("PM2.5", averaging_time=31_557_600))
    assert_allclose(year.limit.value, 5e-9)
    assert sorted(other.printed for other in year.others) == ["10 ug/m3", "12.0 ug/m3", "9.0 ug/m3"]
    day = governing(limits_on("PM2.5", averaging_time=86_400))
    assert_allclose(day.limit.value, 15e-9)
    assert any(other.printed == "35 ug/m3" for other in day.others)


def test_a_superseded_edition_governs_only_when_asked():
    hour = limits_on("carbon monoxide", averaging_time=3600)
    assert governing(hour).limit.printed == "35 mg/m3"
    assert governing(hour, with_superseded=True).limit.printed == "25 ppm"


def test_carbon_monoxide_over_eight_hours_is_governed_by_the_stricter_of_who_and_nation():
    eight = governing(limits_on("carbon monoxide", averaging_time=28_800))
    assert eight.limit.jurisdiction == "WHO"
    assert {other.printed for other in eight.others} == {"9 ppm", "10 ppm"}


def test_on_a_shared_flue_another_suction_limit_holds():
    """Older audit table, from memory: -3 Pa for two natural-draft appliances, -5 Pa for induced draft with a water heater."""
    shared = governing(limits_on("house pressure", applies_to="natural-draft appliances sharing a flue"))
    mixed = governing(
        limits_on("house pressure", applies_to="induced draft sharing a flue with a natural-draft water heater")
    )
    assert (shared.limit.value, mixed.limit.value) == (-3.0, -5.0)
    assert mixed.limit.basis is Basis.FROM_MEMORY


def test_the_stricter_edition_governs_spillage_from_a_cold_vent_and_the_other_stays_beside_it():
    cold = governing(limits_on("spillage time", applies_to="cold vent"))
    assert (cold.limit.value, [other.value for other in cold.others]) == (120.0, [300.0])
    assert cold.editions_disagree


@pytest.mark.parametrize("degrees_f", [-20.0, 10.0, 32.0, 50.0, 90.0, 110.0])
def test_least_draft_follows_the_audit_tables_line_and_stays_level_beyond_its_ends(degrees_f):
    """Check values, airflow section 6: draft[Pa] = T[F]/40 - 2.75 between 10 and 90 F, from memory."""
    (line,) = draft_lines()
    limit = line.least_pull((degrees_f + 459.67) / 1.8)
    assert_allclose(-limit.value, min(max(degrees_f, 10.0), 90.0) / 40.0 - 2.75, atol=1e-4)
    assert limit.basis is Basis.FROM_MEMORY
    assert limit.status is Status.DROPPED


def test_flue_levels_meet_without_gap_and_say_what_they_print():
    """Check values, airflow section 6: 26, 100, 400 ppm, older audit standard, from memory."""
    levels = flue_action_levels()
    assert [level.lower for level in levels] == [26e-6, 100e-6, 400e-6]
    for one, following in itertools.pairwise(levels):
        assert one.upper == following.lower
    for level in levels:
        assert float(re.findall(r"[0-9]+", level.printed)[0]) * 1e-6 == pytest.approx(level.lower)
        assert level.basis is Basis.FROM_MEMORY


def test_every_source_of_a_limit_stands_in_the_list_of_references():
    listed = set(re.findall(r"(?m)^\| (\S+) \|", REFERENCES.read_text(encoding="utf-8")))
    used = {
        one.source for one in (*all_limits(), *action_levels(), *flue_action_levels(), *draft_lines(), *alarm_windows())
    }
    assert sorted(used - listed) == []


def test_limits_on_different_things_are_not_ranked():
    with pytest.raises(InputError, match="not about one thing"):
        governing(limits_on("PM2.5"))
    with pytest.raises(InputError, match="no limit in force"):
        governing(())


def test_an_unknown_value_neither_keeps_nor_breaks_a_limit():
    assert all_limits()[0].is_met_by(float("nan")) is None


def test_alarm_windows_are_those_of_the_standard():
    """UL 2034, summaries read: 70 ppm 60-240 min, 150 ppm 10-50, 400 ppm 4-15, silent at 30 ppm for 30 days."""
    windows = {window.printed: (window.earliest / 60.0, window.latest / 60.0) for window in alarm_windows()}
    assert windows["70 ppm"] == (60.0, 240.0)
    assert windows["150 ppm"] == (10.0, 50.0)
    assert windows["400 ppm"] == (4.0, 15.0)
    assert windows["30 ppm"][0] == 30.0 * 24.0 * 60.0
    for window in alarm_windows():
        assert_allclose(window.level, float(window.printed.split()[0]) * 1e-6)


def test_action_levels_of_one_programme_meet_without_gap():
    tiers = [level for level in action_levels() if level.source == "BPI1200"]
    assert [tier.lower for tier in tiers] == [9e-6, 36e-6, 70e-6]
    assert [tier.upper for tier in tiers[:-1]] == [tier.lower for tier in tiers[1:]]


@pytest.mark.parametrize("edition", list(IndexEdition))
def test_index_rows_follow_each_other_without_gap(edition):
    rows = index_table(edition).rows
    assert rows[0].low == 0
    assert rows[-1].index_high == 500
    for one, following in itertools.pairwise(rows):
        assert following.low == one.high + 1
        assert following.index_low == one.index_high + 1


def test_the_new_index_table_does_not_end_where_the_old_one_did():
    """Check values, particles section 6: a public file pairs the new table with a top of 500.4, which is wrong."""
    assert index_table(IndexEdition.E2024).rows[-1].high == 3254
    assert index_table(IndexEdition.E2012).rows[-1].high == 5004


@pytest.mark.parametrize("edition", list(MervEdition))
def test_merv_minima_never_fall_as_the_rating_rises(edition):
    rows = merv_table(edition)
    assert [row.merv for row in rows] == list(range(5, 17))
    for size in range(3):
        least = [row.minimum[size] or 0.0 for row in rows]
        assert least == sorted(least)


def test_the_final_resistances_are_those_read_in_the_old_table():
    """MERV-old, read: 0.6, 1.0, 1.4 inches of water for MERV 5-8, 9-12, 13-16."""
    expected = [0.6] * 4 + [1.0] * 4 + [1.4] * 4
    assert_allclose([row.final_resistance / 249.08891 for row in merv_table(MervEdition.OLD)], expected, rtol=1e-3)


def test_the_two_merv_tables_disagree_where_the_collection_says():
    """Check values, particles section 1.1: MERV 13 small particles and MERV 9 coarse."""
    old = {row.merv: row for row in merv_table(MervEdition.OLD)}
    new = {row.merv: row for row in merv_table(MervEdition.CURRENT)}
    assert (old[13].minimum[0], new[13].minimum[0]) == (None, 0.50)
    assert (old[9].minimum[2], new[9].minimum[2]) == (0.85, 0.75)
    assert all(row.basis is Basis.FROM_MEMORY for row in new.values())


def test_filter_classes_are_those_read():
    """Check values, particles section 1.2."""
    found = {(one.name, one.standard): one.least_efficiency for one in filter_classes()}
    assert found["HEPA", "US DOE / ASME"] == 0.9997
    assert found["HEPA", "ISO / European"] == 0.9995
    assert [found[name, "EN 1822"] for name in ("E10", "E11", "E12", "H13", "H14")] == [
        0.85,
        0.95,
        0.995,
        0.9995,
        0.99995,
    ]
    assert all(found[name, "ISO 16890"] == 0.5 for name in ("ePM1", "ePM2.5", "ePM10"))


@pytest.mark.parametrize("edition", list(VentilationEdition))
def test_ventilation_rates_are_the_printed_ones(edition):
    rate = ventilation_rate(edition)
    per_area, per_person, area_si, person_si = (float(x) for x in re.findall(r"([0-9.]+) (?:cfm|L)", rate.printed))
    assert_allclose(rate.per_area_ip, per_area * CFM / SQUARE_FOOT, rtol=1e-9)
    assert_allclose(rate.per_person_ip, per_person * CFM, rtol=1e-6)
    assert_allclose([rate.per_area_si, rate.per_person_si], [area_si * 1e-3, person_si * 1e-3], rtol=1e-9)


def test_make_up_air_factors_are_the_printed_ones():
    """MN501.4.1, read: 0.15, 0.09, 0.06, 0.03 cfm per square foot."""
    for factor in make_up_air_factors():
        assert_allclose(factor.per_area, _in_si(factor.printed), rtol=1e-9)


def test_a_dropped_figure_is_marked_so():
    stove = governing(limits_on("house pressure", applies_to="fireplace or solid-fuel stove"))
    statuses = {limit.key: limit.status for limit in (stove.limit, *stove.others)}
    assert statuses["pressure-f300-22-stove"] is Status.DROPPED
    assert statuses["pressure-cmhc-chimney"] is Status.EVIDENCE
