"""Rounding, dates and standing phrases."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_record import limit, q

from airtally.report import words


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        # The house's own written examples of its form X (low to high).
        (q(22.1, 18.9, 27.2, "min"), "22 min (19 to 27)"),
        (q(7.04, 6.21, 7.88, "ug/m3"), "7.0 µg/m³ (6.2 to 7.9)"),
        (q(0.66, 0.56, 0.77, "1/h"), "0.66 per hour (0.56 to 0.77)"),
        (q(-10.2, -15.3, -4.9, "Pa"), "\N{MINUS SIGN}10 Pa (\N{MINUS SIGN}15 to \N{MINUS SIGN}5)"),
        (q(2351.0, 2283.0, 2422.0, "cfm"), "2,350 cfm (2,280 to 2,420)"),
        (q(0.49, 0.41, 0.57), "49% (41 to 57)"),
        (q(21.0, unit="1/day"), "21 a day"),
        (q(3.3, unit="ug/m3"), "3.3 µg/m³"),
        (q(0.0, 0.0, 0.0, "1/h"), "0 per hour"),
        (q(float("nan"), unit="Pa"), "not known"),
    ],
)
def test_a_number_shows_value_unit_and_interval_with_sensible_digits(quantity: dict[str, Any], text: str) -> None:
    assert words.amount(quantity) == text


def test_grams_a_day_can_be_shown_as_milligrams() -> None:
    assert words.amount(q(0.0551, 0.0432, 0.0684, "g/day"), unit="mg/day") == "55 mg a day (43 to 68)"
    assert words.account_unit({"total": q(0.112, unit="g/day")}) == "mg/day"
    assert words.account_unit({"total": q(1.4, unit="g/day")}) == "g/day"


@given(
    value=st.floats(-1e5, 1e5),
    below=st.floats(1e-4, 1e4),
    above=st.floats(1e-4, 1e4),
)
def test_an_interval_never_has_more_decimals_than_its_value_and_rounds_right(
    value: float, below: float, above: float
) -> None:
    quantity = q(value, value - below, value + above, "Pa")
    text = words.value_text(quantity)
    ends = words.interval_text(quantity).split(" to ")
    decimals = [len(part.partition(".")[2]) for part in (text, *ends)]
    assert max(decimals[1:]) <= decimals[0]
    assert "-" not in text + "".join(ends)
    half = 0.5 * 10.0 ** -words.decimals_of(quantity)
    for part, exact in zip((text, *ends), (value, quantity["low"], quantity["high"]), strict=True):
        assert abs(float(part.replace(",", "").replace(words.MINUS, "-")) - exact) <= half * (1 + 1e-6) + 1e-9


def test_zero_never_carries_a_minus_sign() -> None:
    assert words.number(-0.004, 1) == "0.0"


@pytest.mark.parametrize(
    ("percent", "text"),
    [
        (q(-60.0, -69.0, -48.0, "%"), "60% lower (48 to 69)"),
        (q(12.0, 4.0, 21.0, "%"), "12% higher (4 to 21)"),
        (q(-6.0, -19.0, 9.0, "%"), "6% lower (from 19% lower to 9% higher)"),
        (q(-0.6, -0.69, -0.48, "1"), "60% lower (48 to 69)"),
    ],
)
def test_a_change_says_its_direction(percent: dict[str, Any], text: str) -> None:
    assert words.change_text(percent) == text


def test_dates_are_those_of_the_house_also_when_the_clocks_go_back() -> None:
    # The United States left daylight saving on 2 Nov 2025 at 08:00 UTC in the mountain zone (IANA time zone database).
    assert words.minute("2025-11-02T07:30:00Z", "America/Denver") == "Sun 2 Nov 2025, 01:30"
    assert words.minute("2025-11-02T08:30:00Z", "America/Denver") == "Sun 2 Nov 2025, 01:30"
    assert words.day("2025-10-01T02:00:00Z", "America/Denver") == "30 Sep 2025"
    assert words.minute("worst case", "America/Denver") == "worst case"


def test_a_half_open_stretch_names_its_last_day() -> None:
    zone = "America/Denver"
    assert words.day_span("2025-09-30T14:00:00Z", "2025-10-03T06:00:00Z", zone) == "30 Sep to 2 Oct 2025"
    assert words.day_span("2025-09-30T14:00:00Z", "2025-09-30T20:00:00Z", zone) == "30 Sep 2025"
    assert words.day_span("2025-12-30T14:00:00Z", "2026-01-02T14:00:00Z", zone) == "30 Dec 2025 to 2 Jan 2026"


def test_a_limit_never_stands_without_its_document() -> None:
    text = words.limit_text(limit(9.0, "ppm", name="carbon monoxide", averaging="8 hours", known="from memory"))
    assert text == "carbon monoxide 9 ppm, 8 hours: Invented vent rule, 2099 edition (Quillfork); value from memory"
    assert words.limit_text(limit(0.25, "inH2O")).startswith("limit 0.25 in. w.c.: Invented")


def test_prices_are_ranges_in_one_currency() -> None:
    assert words.money({"low": 900, "high": 1900.0, "currency": "USD", "per": "year"}) == "USD 900 to 1,900 a year"
    assert words.money({"low": 6.5, "high": 12, "currency": "EUR"}) == "EUR 6.50 to 12.00"


@pytest.mark.parametrize(
    "text", ["It is safe.", "safely", "treats asthma", "99.97% cleaner", "toxin-free", "we guarantee", "clean air"]
)
def test_claims_that_must_not_be_made_are_found(text: str) -> None:
    assert words.forbidden_claims(text)


@pytest.mark.parametrize("text", ["safety first", "the secure vent", "particles fell by 60%", "curtain", "cleaner"])
def test_plain_words_are_not_taken_for_claims(text: str) -> None:
    assert words.forbidden_claims(text) == []


def test_no_text_of_the_program_makes_a_claim() -> None:
    phrases = [
        words.verdict_plain(verdict) for verdict in ("shown", "not shown", "not separable", "worse", "not evidence")
    ]
    assert len(set(phrases)) == 5
    assert re.search(r"[a-z]", phrases[0])
    assert words.forbidden_claims(" ".join(phrases)) == []
