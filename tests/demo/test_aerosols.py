"""Size distributions, moist air and monitors' errors of the invented house against outside values."""

from __future__ import annotations

import numpy as np
import psychrolib
from numpy.testing import assert_allclose
from scipy.stats import norm

from airtally.demo.aerosols import EDGES, FINE, MERV_8, MERV_13, lognormal_bins, outdoor_bins, source_bins
from airtally.demo.instruments import Errors, lagged, outdoor_smoke_request, read_particles, voc_index
from airtally.demo.weather import saturation_vapour


def test_bins_hold_what_the_normal_distribution_says() -> None:
    """Against scipy.stats.norm on the logarithm of the diameter."""
    share = lognormal_bins(1.0, 2.0)
    below = norm.cdf(np.log(np.array(EDGES)) / np.log(2.0))
    assert_allclose(share[1:], np.diff(below)[1:] / below[-1], rtol=1e-12)
    assert_allclose(share.sum(), 1.0)


def test_every_source_is_counted_per_unit_of_fine_mass() -> None:
    assert_allclose(source_bins()[:, :FINE].sum(axis=1), 1.0)
    assert_allclose(outdoor_bins(0.7)[:FINE].sum(), 1.0)
    assert_allclose(outdoor_bins(0.7)[FINE:].sum(), 0.7)


def test_the_better_filter_is_better_in_every_bin_and_within_its_rating() -> None:
    """ASHRAE 52.2 minimum averages for MERV 13: 0.50, 0.85, 0.90 in 0.3-1, 1-3, 3-10 um (from memory), here as worn."""
    assert (MERV_13 > MERV_8).all()
    assert 0.40 < MERV_13[2:4].mean() < 0.85
    assert MERV_13[6:].mean() > 0.72


def test_saturation_vapour_agrees_with_a_psychrometric_library() -> None:
    """Psychrolib (ASHRAE Handbook of Fundamentals 2017, chapter 1); the Magnus form is good to about 0.3 % above freezing."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    for celsius in (1.0, 10.0, 20.0, 30.0):
        pascal = psychrolib.GetSatVapPres(celsius)
        grams = pascal / (461.5 * (celsius + 273.15)) * 1000.0
        assert_allclose(float(saturation_vapour(np.array(celsius))), grams, rtol=4e-3)


def test_a_lag_reaches_63_percent_after_its_response_time_and_keeps_a_constant() -> None:
    step = np.concatenate([np.zeros(50), np.ones(200)])
    followed = lagged(step, 600.0)
    assert_allclose(followed[50 + 9], 1.0 - np.exp(-1.0), rtol=1e-4)  # the response is cut after twelve time constants
    assert_allclose(lagged(np.full(300, 7.0), 90.0), 7.0)


def test_humid_air_swells_an_optical_reading_and_dry_air_does_not() -> None:
    errors = Errors(gain=1.0, offset=0.0, noise=0.0, share=0.0)
    level = np.full(100, 15.0)
    rng = np.random.default_rng(1)
    dry = read_particles(level, np.full(100, 0.60), errors, rng)
    wet = read_particles(level, np.full(100, 0.97), errors, rng)
    assert_allclose(dry, 15.0)
    assert 2.0 < wet[-1] / dry[-1] < 4.0


def test_the_voc_score_rises_with_a_step_and_then_forgets() -> None:
    signal = np.concatenate([np.full(3000, 300.0), np.full(20000, 600.0)])
    steady = np.full(signal.size, 20.0)
    score = voc_index(signal, steady, np.full(signal.size, 0.4), np.random.default_rng(2))
    before, after, late = score[2000:2990].mean(), score[3050:3200].mean(), score[-200:].mean()
    assert after > before + 60.0
    assert late < after - 30.0


def test_the_outdoor_rule_holds_between_its_two_levels() -> None:
    reading = np.concatenate([np.full(100, 20.0), np.full(100, 40.0), np.full(100, 30.0), np.full(100, 10.0)])
    request = outdoor_smoke_request(reading, np.ones(400, dtype=np.bool_))
    assert request[:100].max() == 0.0
    assert request[120:300].min() == 1.0
    assert request[320:].max() == 0.0
