"""Whatever a log holds, looking at it without a fit brings nothing down and gives finite numbers."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.findings.made import START, Part, cleaner, diary_of, fan, made_house, made_log

from airtally.findings.without_fit import look_without_fit
from airtally.quantities import UNITS, Quantity
from airtally.readings.log import Flag

KINDS = (Quantity.PM25, Quantity.CO2, Quantity.OCCUPANTS, Quantity.VALVE_FRACTION, Quantity.COOKING_STATE)
SHAPES = ("zeros", "constant", "noise", "huge", "negative", "decay", "steps", "one")


def shaped(shape: str, size: int, rng: np.random.Generator, factor: float) -> np.ndarray:
    """Return values of one shape; ``factor`` is the SI size of one field unit."""
    n = np.arange(size)
    return (
        factor
        * {
            "zeros": np.zeros(size),
            "constant": np.full(size, 400.0),
            "noise": rng.lognormal(3.0, 1.5, size),
            "huge": rng.uniform(0.0, 1e9, size),
            "negative": rng.normal(0.0, 50.0, size),
            "decay": 1000.0 * np.exp(-n / max(size / 5.0, 1.0)) + 400.0,
            "steps": np.repeat(rng.integers(0, 900, size), 7)[:size].astype(float),
            "one": np.where(n == size // 2, 900.0, 400.0),
        }[shape]
    )


@settings(max_examples=400, deadline=None)
@given(
    parts=st.lists(
        st.tuples(
            st.sampled_from(("first", "second", "garden", "machine", "nowhere")),
            st.sampled_from(KINDS),
            st.sampled_from(SHAPES),
            st.sampled_from((0, 1, 2, 9, 40, 400)),
            st.sampled_from((0.0, 1.0, 60.0, 900.0)),
            st.sampled_from([int(f) for f in Flag]),
        ),
        max_size=5,
    ),
    seed=st.integers(0, 2**32 - 1),
)
def test_no_log_brings_it_down(parts: list[tuple[str, Quantity, str, int, float, int]], seed: int) -> None:
    rng = np.random.default_rng(seed)
    made = []
    for index, (placement, quantity, shape, size, step, flag) in enumerate(parts):
        time = START + step * np.arange(size)
        value = shaped(shape, size, rng, UNITS[quantity].factor)
        if size > 5:
            value[rng.integers(0, size)] = np.nan
            time[rng.integers(0, size)] = np.nan
        made.append(Part(placement, quantity, time, value, flag=flag if index % 2 else 0, file=str(index)))
    house = made_house(
        cleaners=(cleaner(since=START + 1800.0),), ventilation=(fan(200.0),), diary=(diary_of(START, "dust, box"),)
    )
    found, problems = look_without_fit(house, made_log(*made))
    ids = [finding.id for finding in found]
    assert len(ids) == len(set(ids))
    assert all(np.isfinite([v.value, v.low, v.high]).all() for f in found for _, v in f.numbers)
    assert all(problem.sentence() for problem in problems)
