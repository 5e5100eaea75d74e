"""Smoke bedroom: the published one-number rate, what it mixes, and the filter's effect.

The set is CC BY-SA and does not travel; without it these tests skip.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from open_sets import smoke_series

from airtally.inference.filter_effect import filter_effect
from airtally.inference.outdoor_fit import fit_infiltration, one_reading_per_refresh

pytestmark = pytest.mark.open_data
PM25 = "PM2.5, ug/m3"


def outdoor(file: str) -> tuple[np.ndarray, np.ndarray]:
    """Return the mean of the outdoor sensor's two channels."""
    time, first = smoke_series(file, "channel_a")
    _, second = smoke_series(file, "channel_b")
    return time, 0.5 * (first + second)


def test_one_number_is_the_published_rate_within_three_percent() -> None:
    # Source: Farrell, "Monitoring smoke infiltration" (2023): 0.0785 per h by a one-parameter fit.
    fit = fit_infiltration(
        *smoke_series("indoor_infiltration_test.csv", PM25), *outdoor("outdoor_infiltration_test.csv")
    )
    assert_allclose(fit.one_rate.value * 3600.0, 0.0785, rtol=0.03)
    assert fit.one_rate.low * 3600.0 <= 0.0785 <= fit.one_rate.high * 3600.0


def test_two_numbers_fit_far_better_and_the_words_say_what_one_number_mixes() -> None:
    fit = fit_infiltration(
        *smoke_series("indoor_infiltration_test.csv", PM25), *outdoor("outdoor_infiltration_test.csv")
    )
    # The set's first look: gain 0.108, loss 0.173 per h, factor 0.62, a third of the squared residual.
    for estimate, first_look in ((fit.gain, 0.108 / 3600.0), (fit.loss, 0.173 / 3600.0), (fit.factor, 0.62)):
        assert estimate.low <= first_look <= estimate.high
    assert fit.two_rate_misfit < 0.5 * fit.one_rate_misfit
    assert "mixes penetration and loss" in fit.sentences()[0]


def test_rows_are_not_counted_as_readings() -> None:
    # The sensor looks every 15 to 16 minutes: ten hours and ten minutes hold about forty looks, not 612.
    time, value = smoke_series("indoor_infiltration_test.csv", PM25)
    looks, _ = one_reading_per_refresh(time, value)
    assert time.size == 612
    assert 36 <= looks.size <= 45
    assert_allclose(np.median(np.diff(looks)), 15.5 * 60.0, atol=60.0)


def test_filter_takes_away_95_to_99_percent_at_a_steady_outdoor_level() -> None:
    # Source: the same post; the set's first look: 129 to 4.1 ug/m3 (-97 %) while outdoors stays 392 to 396.
    effect = filter_effect(*smoke_series("indoor_filter_test.csv", PM25), *outdoor("outdoor_filter_test.csv"))
    assert 0.95 <= effect.reduction.value <= 0.99
    assert effect.reduction.low > 0.9
    assert effect.outdoors_held_still
    assert_allclose([effect.level_before, effect.level_after], [129.0, 4.1], rtol=0.1)
    assert effect.readings_before + effect.readings_after < 60
    # The author switched it on at about 23:15 local time.
    assert_allclose(effect.switched_at % 86400.0 / 3600.0, 23.25, atol=0.3)
