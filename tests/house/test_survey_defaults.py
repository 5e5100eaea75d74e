"""Defaults against the filter standard's table and against the ranges they are said to come from."""

from __future__ import annotations

from itertools import pairwise

import pytest
from numpy.testing import assert_allclose

from airtally.errors import InputError
from airtally.estimates import Basis
from airtally.house.defaults import MINIMUM_EFFICIENCY, default_estimate, filter_efficiency, read_rating
from airtally.house.fields import Form
from airtally.house.tables import SECTIONS
from airtally.units import Kind


@pytest.mark.parametrize(
    ("rating", "size_class", "minimum"),
    [
        # ASHRAE 52.2, older table of minimum efficiencies as printed in a trade chart; these cells are the same in both
        # editions
        (6, 2, 0.35),
        (7, 2, 0.50),
        (8, 2, 0.70),
        (11, 1, 0.65),
        (12, 1, 0.80),
        (14, 0, 0.75),
        (15, 0, 0.85),
        (16, 0, 0.95),
        (16, 1, 0.95),
        (16, 2, 0.95),
    ],
)
def test_minimum_efficiencies_are_those_of_the_standard(rating: int, size_class: int, minimum: float) -> None:
    assert MINIMUM_EFFICIENCY[rating][size_class] == minimum
    found = filter_efficiency(rating)[size_class]
    assert found.low <= minimum <= found.high


def test_a_higher_rating_never_cleans_less() -> None:
    for size_class in range(3):
        ladder = [filter_efficiency(rating)[size_class] for rating in range(1, 17)]
        for lower, higher in pairwise(ladder):
            assert higher.value >= lower.value - 1e-12
            assert higher.low >= lower.low - 1e-12


@pytest.mark.parametrize(
    ("rating", "low", "high"),
    [(8, 0.10, 0.30), (11, 0.30, 0.55), (13, 0.50, 0.80), ("HEPA", 0.99, 1.0)],
)  # single-pass efficiency for PM2.5: planning ranges of the trade, common practice, no source
def test_fine_particle_efficiency_lies_in_the_trades_range(rating: int | str, low: float, high: float) -> None:
    classes = filter_efficiency(rating)
    fine = 0.7 * classes[0].value + 0.3 * classes[1].value  # most of the mass of PM2.5 is below 1 um (from memory)
    assert low <= fine <= high


def test_defaults_carry_basis_and_source() -> None:
    for rating in (*range(1, 17), "HEPA", "none", "unknown"):
        for estimate in filter_efficiency(rating):
            assert estimate.basis is Basis.DEFAULT
            assert estimate.source
            assert 0.0 <= estimate.low <= estimate.value <= estimate.high <= 1.0


@pytest.mark.parametrize(
    ("text", "rating"),
    [
        ("MERV 8", 8),
        ("merv13", 13),
        ("MERV-16", 16),
        ("hepa", "HEPA"),
        ("None", "none"),
        ("MERV 17", None),
        ("G4", None),
    ],
)
def test_ratings_are_read_as_written_on_frames(text: str, rating: int | str | None) -> None:
    assert read_rating(text) == rating


def test_a_rating_that_is_none_is_refused() -> None:
    with pytest.raises(InputError, match="a filter rating must be MERV 1 to 16"):
        filter_efficiency(17)


def test_every_quantity_of_the_survey_has_bounds_and_its_default_lies_inside() -> None:
    for section in SECTIONS:
        for field in section.fields:
            if field.form not in (Form.QUANTITY, Form.QUANTITIES):
                continue
            assert field.possible, f"{section.path}.{field.key} has no bounds"
            assert field.kind is not None
            if field.default is not None:
                estimate = default_estimate(field.default, field.kind)
                assert estimate.basis is Basis.DEFAULT
                assert field.default.source


def test_the_default_exponent_is_the_usual_one_of_houses() -> None:
    # 0.65: Gowri et al. 2009, doi 10.2172/968203, as read in a public building-energy library
    exponent = next(s for s in SECTIONS if s.path == "envelope").field("exponent")
    assert exponent.default is not None
    assert_allclose(default_estimate(exponent.default, Kind.PURE).value, 0.65)
