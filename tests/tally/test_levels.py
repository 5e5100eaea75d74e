"""Weather levels keep the mean and follow the series."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from airtally.errors import InputError
from airtally.tally.weather import levels_of


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), count=st.integers(1, 30), spread=st.floats(0.0, 2.0))
def test_levels_keep_the_mean_and_move_no_value_by_more_than_one_band(seed: int, count: int, spread: float) -> None:
    values = np.random.default_rng(seed).lognormal(-4.0, spread, 500)
    levels, index = levels_of(values, count)
    assert len(levels) <= count
    assert_allclose(levels[index].mean(), values.mean(), rtol=1e-3)
    band = (values.max() / values.min()) ** (1.0 / count)
    ratio = levels[index] / values
    assert ratio.max() <= band * (1 + 1e-9)
    assert ratio.min() >= 1 / band * (1 - 1e-9)
    assert np.all(np.diff(levels) > 0.0)


def test_a_constant_series_has_one_level() -> None:
    levels, index = levels_of(np.full(20, 0.3), 8)
    assert_allclose(levels, [0.3], rtol=1e-14)
    assert set(index.tolist()) == {0}


@pytest.mark.parametrize("values", [[0.0, 1.0], [-1.0, 1.0], [np.nan, 1.0], []])
def test_values_that_have_no_logarithm_are_refused(values: list[float]) -> None:
    with pytest.raises(InputError, match="levels need"):
        levels_of(np.array(values), 4)
