"""Every kernel against numbers from outside; the numbers counted; each seen to notice a change."""

from __future__ import annotations

from collections import Counter

import pytest
from check_values import MARKS, MODULES, all_rows, judge, kernel, picked, read_rows

ROWS = all_rows()
MOST_FROM_ONE_TABLE = 5
LOOSE = 0.02


@pytest.mark.parametrize("module", MODULES)
def test_the_kernels_of_a_module_give_the_published_values(module):
    misses = []
    for row in read_rows(module):
        try:
            judge(row, picked(kernel(row)(**row.inputs), row.pick))
        except AssertionError as error:
            misses.append(str(error))
    assert not misses, "\n".join(misses)


@pytest.mark.parametrize("module", MODULES)
def test_every_check_value_would_notice_a_change_of_twice_its_tolerance(module):
    for row in read_rows(module):
        answer = picked(kernel(row)(**row.inputs), row.pick)
        for change in (2.001 * row.tolerance, -2.001 * row.tolerance):
            with pytest.raises(AssertionError, match="Not equal to tolerance"):
                judge(row, answer + change)


def test_at_least_forty_published_checks_stand_on_at_least_twelve_sections_with_five_counted_per_table():
    published = [row for row in ROWS if row.is_published and row.section != "other"]
    by_table = Counter((row.section, row.table) for row in published)
    counted = sum(min(number, MOST_FROM_ONE_TABLE) for number in by_table.values())
    assert counted >= 40
    assert len({section for section, _ in by_table}) >= 12


def test_forty_checks_were_read_in_a_source_even_without_the_worked_examples():
    by_table = Counter((row.section, row.table) for row in ROWS if row.mark == "READ" and row.section != "other")
    assert sum(min(number, MOST_FROM_ONE_TABLE) for number in by_table.values()) >= 40
    assert len({section for section, _ in by_table}) >= 12


def test_every_check_value_names_its_source_and_how_it_came():
    for row in ROWS:
        assert row.mark in MARKS, str(row)
        assert row.source, str(row)
        assert row.section, str(row)
        assert row.table, str(row)


def test_a_tolerance_wider_than_two_percent_says_why():
    for row in ROWS:
        if abs(row.expected) > 0.0 and row.tolerance > LOOSE * abs(row.expected):
            few_digits = row.tolerance < 0.03 * abs(row.expected) or row.section == "airflow 5"
            assert row.note or few_digits, f"{row}: tolerance {row.tolerance / abs(row.expected):.1%}"


def test_no_tolerance_is_nothing():
    assert all(row.tolerance > 0.0 for row in ROWS)
