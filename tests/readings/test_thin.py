"""Thinning hides no peak and invents nothing; checked by laws against the whole series."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from airtally.readings.thin import thinned


@given(
    st.lists(st.tuples(st.floats(0.0, 1000.0), st.floats(-1e6, 1e6)), max_size=200),
    st.integers(1, 60),
)
def test_every_stretch_holds_its_lowest_and_highest_reading_and_no_other(
    rows: list[tuple[float, float]], count: int
) -> None:
    rows.sort()
    time = np.array([t for t, _ in rows])
    value = np.array([v for _, v in rows])
    low, high = thinned(time, value, 100.0, 900.0, count)
    assert low.shape == high.shape == (count,)
    inside = (time >= 100.0) & (time < 900.0)
    stretch = np.minimum(((time[inside] - 100.0) * (count / 800.0)).astype(int), count - 1)
    for number in range(count):
        mine = value[inside][stretch == number]
        if mine.size:
            assert low[number] == mine.min()
            assert high[number] == mine.max()
        else:
            assert np.isnan(low[number])
            assert np.isnan(high[number])


def test_the_window_is_half_open() -> None:
    low, high = thinned(np.array([0.0, 10.0, 20.0]), np.array([1.0, 2.0, 3.0]), 0.0, 20.0, 2)
    assert low.tolist() == [1.0, 2.0]
    assert high.tolist() == [1.0, 2.0]
