"""Every slip in a survey is named with place, found, wanted and remedy; all at once, worst first."""

from __future__ import annotations

import pytest
from survey_texts import SMALL, added, changed, example, only, read_text, sentences

from airtally.errors import Severity
from airtally.house import problems as code
from airtally.house.checks import check_reach
from airtally.house.problems import PROBLEMS


@pytest.mark.parametrize(
    ("old", "new", "name", "words"),
    [
        ("schema = 1\n", "", code.SCHEMA_MISSING, "no schema is written; wanted: schema = 1"),
        ("schema = 1\n", "schema = 2\n", code.SCHEMA_OTHER, "written for a newer program"),
        ("schema = 1\n", "schema = 0\n", code.SCHEMA_OTHER, "No program wrote such a layout"),
        ("schema = 1\n", 'schema = "one"\n', code.SCHEMA_OTHER, 'schema = "one" is written'),
        ("schema = 1\n", "schema = true\n", code.SCHEMA_OTHER, "schema = true is written"),
        ("schema = 1\n", "schema = \n", code.SURVEY_NOT_TOML, "this is not TOML: Invalid value (at line 1, column 10)"),
        ("America/Denver", "America/Denvre", code.TIME_ZONE_UNKNOWN, '"America/Denvre" is not in the time-zone database'),
        ("America/Denver", "America", code.TIME_ZONE_UNKNOWN, "Take the nearest large city"),
        ("America/Denver", "../../etc/passwd", code.TIME_ZONE_UNKNOWN, "is not in the time-zone database"),
        ("flow_at_50 =", "flow_at50 =", code.KEY_UNKNOWN, 'Did you mean "flow_at_50"?'),
        ("[envelope]", "[envelop]", code.KEY_UNKNOWN, 'Did you mean "envelope"?'),
        ('"2350 cfm"', '"2350"', code.QUANTITY_UNREADABLE, "envelope[no. 1].flow_at_50: \"2350\" has no unit"),
        ('"2350 cfm"', "2350", code.QUANTITY_UNREADABLE, '"2350" has no unit; wanted: a number with one of the units cfm'),
        ('"2350 cfm"', '"2350 Pa"', code.QUANTITY_UNREADABLE, '"Pa" is no unit of air flow'),
        ('"2350 cfm"', '"2350 m3/s"', code.QUANTITY_IMPOSSIBLE, "is outside what it can be; it is not used; wanted: 50 to"),
        ('"2350 cfm"', "[1, 2]", code.WRONG_FORM, "a list is written; wanted: a text with number and unit (cfm, L/s, m3/h)"),
        ('"15 % (5 to 30)"', '"15 % (-5 to 30)"', code.INTERVAL_CUT, "was cut; wanted: 0 to 100 %"),
        ('kind = "room"', 'kind = "rooom"', code.CHOICE_UNKNOWN, 'Did you mean "room"?'),
        ('rating = "MERV 8"', 'rating = "MERV 18"', code.CHOICE_UNKNOWN, '"MERV 18" is no rating known here'),
        ('rating = "MERV 8"', "rating = 8", code.WRONG_FORM, "Put it in quotation marks"),
        ('id = "garage"', 'id = "outdoors"', code.ID_UNUSABLE, '"outdoors" cannot be an id'),
        ('id = "garage"', 'id = "main"', code.ID_REPEATED, '"main" names two entries; the later one is not used'),
        ('zone = "garage"', 'zone = "garrage"', code.REFERENCE_UNKNOWN, 'Did you mean "garage"?'),
        ('static = "0.86 inH2O"', 'static = "0.86 Pa"', code.STATIC_TOO_LOW, "0.00345 inH2O; wanted: more than 0.1 inH2O"),
        ('volume = "12000 ft3"', 'volume = "20000 ft3"', code.VOLUME_AREA_DIFFER, "20000 ft3, floor area times height is 12000"),
        ('floor_area = "1500 ft2"\n\n[air', 'floor_area = "2500 ft2"\n\n[air', code.AREAS_DIFFER, "2500 ft2 against 1500 ft2"),
        ('motor = "PSC"', 'cooling_capacity = "1 ton"', code.FLOW_FAR_FROM_NOMINAL, "940 cfm against 400 cfm nominal"),
        ('file = "logs/living.csv"', 'file = "../living.csv"', code.LOG_FILE_OUTSIDE, "points outside the job's folder"),
        ('file = "logs/living.csv"', 'file = "/etc/passwd"', code.LOG_FILE_OUTSIDE, "Copy the file into the folder"),
        ('fraction = "12 % (6 to 20)"', 'fraction = "70 %"', code.SHARES_TOO_LARGE, "add up to 70 % of handler flow"),
        ('currency = "USD"', 'currency = "dollars"', code.WRONG_FORM, '"dollars" is no currency code; USD is taken'),
        ('id = "M1"\n', 'id = "M1"\ngain = "1,2 x"\n', code.QUANTITY_UNREADABLE, "Write a decimal point, not a comma"),
    ],
)  # fmt: skip
def test_a_slip_is_named_with_its_place_and_remedy(old: str, new: str, name: str, words: str) -> None:
    assert words in only(changed(old, new), name)


@pytest.mark.parametrize(
    ("lines", "name", "words"),
    [
        ('[[exhaust]]\nid = "d"\nkind = "dryer"\nzone = "main"\ncapture = "50 %"', code.KEY_UNUSED, "exhaust[d].capture: this"),
        (
            '[[appliance]]\nid = "w"\nkind = "water heater"\nzone = "main"\nventing = "natural draft"\n'
            'shares_flue_with = "w"',
            code.REFERENCE_UNKNOWN,
            'appliance[w].shares_flue_with: there is no other appliance "w"',
        ),
        ('[[exhaust]]\nid = "d"\nkind = "dryer"', code.PART_SET_ASIDE, "exhaust[d]: this entry is not used"),
        ('[[exhaust]]\nid = "d"\nkind = "dryer"', code.KEY_MISSING, "exhaust[d].zone: nothing usable is written; wanted: the id"),
        ('[[cleaner]]\nid = "p"\nis_portable = true', code.KEY_MISSING, "a portable cleaner without a room"),
        ('[[instrument]]\nid = "M2"', code.PART_UNUSED, "no reading belongs to instrument M2"),
        ('[[placement]]\nid = "x"\ninstrument = "M1"\nair_side = "room"', code.KEY_MISSING, "a room's air without the room"),
        (
            '[[placement]]\nid = "x"\ninstrument = "M1"\nair_side = "outdoor"',
            code.DATES_OVERLAP,
            "placement of M1: two entries are there at once from the beginning",
        ),
        ('[[change]]\nid = "start"\ntime = "2025-01-01"\naffects = ["filter"]', code.ID_UNUSABLE, '"start" cannot be an id'),
        ('[[change]]\nid = "c"\ntime = "2025-13-01"\naffects = ["filter"]', code.DATE_UNREADABLE, "is no day or time of the"),
        ('[[change]]\nid = "c"\ntime = "next week"\naffects = ["filter"]', code.DATE_UNREADABLE, "year-month-day hour:minute"),
        ('[[change]]\nid = "c"\ntime = "2025-11-02 01:30"\naffects = ["filter"]', code.DATE_AMBIGUOUS, "occurs twice; the first"),
        ('[[change]]\nid = "c"\ntime = "2025-03-09 02:30"\naffects = ["filter"]', code.DATE_NONEXISTENT, "does not exist on local"),
        (
            '[[change]]\nid = "c"\ntime = "2025-10-02"\nends = "2025-10-01"\naffects = ["filter"]',
            code.DATES_REVERSED,
            "change[c].ends: the works end before they begin",
        ),
        (
            '[[change]]\nid = "a"\ntime = "2025-10-01"\nends = "2025-10-05"\naffects = ["filter"]\nbegins_phase = true\n'
            '[[change]]\nid = "b"\ntime = "2025-10-03"\naffects = ["filter"]\nbegins_phase = true',
            code.CHANGES_OUT_OF_ORDER,
            "change[b]: it begins at 2025-10-03 00:00, before the works of a end",
        ),
        (
            '[[rule]]\nid = "r"\nplacement = "living"\non_above = "5 ug/m3"\noff_below = "8 ug/m3"',
            code.THRESHOLDS_REVERSED,
            "the fan would stop at or above the level that starts it",
        ),
        (
            '[[rule]]\nid = "r"\nplacement = "living"\non_above = "9 ug/m3"\noff_below = "8 ug/m3"\nearly_run = "25:00 to 7:00"',
            code.WRONG_FORM,
            '"25:00 to 7:00" is no daily window; it is not used',
        ),
        ('[trial]\non = ["2025-10-13"]\noff = ["2025-10-13"]', code.TRIAL_DAY_TWICE, "2025-10-13 is listed more than once"),
        ('[trial]\non = ["2025-02-30"]\noff = []', code.DATE_UNREADABLE, '"2025-02-30" is no day of the calendar'),
        ('[[measure]]\nid = "m"\nkind = "k"\nsettings = { flw = "60 cfm" }', code.KEY_UNKNOWN, 'Did you mean "flow"?'),
        ('[[measure]]\nid = "m"\nkind = "k"\nsettings = { flow = "60 %" }', code.QUANTITY_UNREADABLE, "measure[m].settings.flow"),
        ('[[measure]]\nid = "m"\nkind = "k"\nprice = "300 EUR"', code.QUANTITY_UNREADABLE, "wanted: one of USD"),
        ('[[diary]]\nstart = "2025-10-24"\nkind = "bonfire"', code.CHOICE_UNKNOWN, '"bonfire" is not a word this key takes'),
        ('[occupants]\ncount = "three"', code.WRONG_FORM, "Write a plain number, without quotation marks"),
        ('[occupants]\ncount = 1e9', code.QUANTITY_IMPOSSIBLE, "occupants.count: 1000000000.0 is not possible"),
        ('[occupants]\ncount = nan', code.QUANTITY_IMPOSSIBLE, "occupants.count: nan is not possible"),
        ('[occupants]\ncount = 2\nsensitive = "yes"', code.WRONG_FORM, "Write true or false, without quotation marks"),
        ('[[log]]\nfile = "b.csv"\nplacement = "living"\ntime_zone = "MT"', code.TIME_ZONE_UNKNOWN, '"MT" is no time zone known'),
        (
            '[[log]]\nfile = "b.csv"\nplacement = "living"\ncolumns = { "dust" = "pm2.5 ug/m3" }',
            code.CHOICE_UNKNOWN,
            'Did you mean "pm25"?',
        ),
    ],
)  # fmt: skip
def test_a_slip_in_an_added_entry_is_named(lines: str, name: str, words: str) -> None:
    assert words in only(added(lines), name)


def test_all_problems_come_at_once_and_the_worst_first() -> None:
    text = (
        SMALL.replace('"2350 cfm"', '"2350"').replace('"MERV 8"', '"MERV 99"').replace("America/Denver", "Mars/Olympus")
    )
    house = read_text(text)
    severities = [p.severity for p in house.problems]
    assert severities == sorted(severities, key=[Severity.FATAL, Severity.WARNING, Severity.NOTE].index)
    assert {code.TIME_ZONE_UNKNOWN, code.QUANTITY_UNREADABLE, code.CHOICE_UNKNOWN} <= {p.code for p in house.problems}


def test_a_house_without_rooms_is_fatal() -> None:
    house = read_text('schema = 1\n[home]\nid = "a"\ntime_zone = "UTC"\n')
    assert house.problems[0].severity is Severity.FATAL
    assert "no zone with is_occupied = true could be read" in only(house, code.NO_ROOMS)


def test_a_room_without_any_size_is_fatal_and_says_what_to_measure() -> None:
    house = changed('volume = "12000 ft3"\nfloor_area = "1500 ft2"\n', 'volume = "unknown"\n')
    assert "Measure the floor area at least" in only(house, code.KEY_MISSING)


def test_an_entry_that_lacks_its_core_is_set_aside_and_the_rest_is_used() -> None:
    house = added(
        '[[exhaust]]\nkind = "dryer"\nzone = "main"\n\n[[exhaust]]\nid = "bath"\nkind = "bath fan"\nzone = "main"'
    )
    assert [e.id for e in house.exhausts] == ["bath"]
    assert "exhaust[no. 1]: this entry is not used" in only(house, code.PART_SET_ASIDE)


def test_silence_on_return_leaks_beside_a_garage_is_reported() -> None:
    start, end = SMALL.index("[[air_handler.return_leak]]"), SMALL.index("[[instrument]]")
    house = read_text(SMALL[:start] + SMALL[end:])
    assert "no return leak is listed; none is assumed from garage" in only(house, code.RETURN_LEAK_OPEN)


def test_two_filters_at_once_and_a_time_without_one_are_reported() -> None:
    new = '[[air_handler.filter]]\nid = "new"\nrating = "MERV 13"\nbypass = "3 %"\nsince = "2025-10-01"\n'
    assert "two entries are there at once from 2025-10-01 00:00" in only(added(new), code.DATES_OVERLAP)
    gap = SMALL.replace('rating = "MERV 8"', 'rating = "MERV 8"\nuntil = "2025-09-01"')
    assert "nothing is there from 2025-09-01 00:00 to 2025-10-01 00:00" in only(added(new, gap), code.DATES_GAP)


def test_dates_outside_the_logs_are_reported_once_the_logs_are_read() -> None:
    house = added('[[change]]\nid = "c"\ntime = "2024-10-01"\naffects = ["filter"]')
    found = check_reach(house, 1759212000.0, 1759212000.0 + 40 * 86400.0)
    assert [p.code for p in found] == [code.DATE_OUTSIDE_LOGS]
    assert "2024-10-01 00:00 lies outside the logs (2025-09-30 00:00 to 2025-11-08 23:00)" in found[0].sentence()
    assert check_reach(read_text(example()), 1756706400.0, 1762750000.0) == ()


def test_every_code_has_a_meaning_and_every_sentence_three_parts() -> None:
    house = read_text(SMALL.replace('"2350 cfm"', '"2350"'))
    for problem in house.problems:
        assert problem.code in PROBLEMS
        assert problem.found
        assert problem.wanted
        assert problem.remedy.endswith((".", "?", "}"))


def test_a_survey_is_no_place_for_control_characters_in_messages() -> None:
    house = changed('id = "garage"', 'id = "ga\\u001b[31mrage"')
    assert all(sentence.isprintable() for sentence in sentences(house))
