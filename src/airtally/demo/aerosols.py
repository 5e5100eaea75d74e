"""Eight size bins, what each source's particles weigh in them, and how filters, skin and sensors treat them.

Every curve is a planning value for invented data (judgement), shaped by the ranges that the trade
reports; none is taken from the account that is to be tested on it.
"""

from __future__ import annotations

from math import erf, log, sqrt

import numpy as np

from airtally.arrays import Floats

EDGES = (0.05, 0.2, 0.35, 0.6, 1.0, 1.6, 2.5, 5.0, 10.0)
"""Edges of the bins by aerodynamic diameter. [um]"""
BINS = len(EDGES) - 1
FINE = 6
"""The first six bins are PM2.5."""

SOURCES = ("outdoor", "solid_fuel", "cooking", "candle_incense", "garage", "resuspension", "workshop", "works")
"""Tags that every particle of the simulation carries."""
TAGS = len(SOURCES)

PENETRATION = np.array([0.82, 0.88, 0.88, 0.84, 0.76, 0.66, 0.45, 0.25])
"""Share of outdoor particles that come through the cracks. [-]"""
SETTLING = np.array([0.16, 0.13, 0.15, 0.24, 0.42, 0.80, 2.0, 4.5])
"""Loss to surfaces with the fan off. [1/h]"""
MERV_8 = np.array([0.10, 0.07, 0.09, 0.16, 0.30, 0.45, 0.70, 0.85])
MERV_13 = np.array([0.58, 0.50, 0.52, 0.62, 0.75, 0.85, 0.92, 0.96])
CLEANER = np.array([0.985, 0.975, 0.98, 0.985, 0.99, 0.995, 0.999, 0.999])
"""Single-pass efficiencies when new. [-]"""
OPTICAL_RESPONSE = np.array([0.70, 1.12, 1.25, 1.15, 1.00, 0.85, 0.12, 0.0])
"""What an optical PM2.5 channel reads over the mass in a bin: high for smoke, low for dust. [-]"""
OPTICAL_RESPONSE_PM10 = np.array([0.70, 1.12, 1.25, 1.15, 1.00, 0.85, 0.60, 0.45])


def lognormal_bins(median: float, spread: float) -> Floats:
    """Return the mass share in each bin of a log-normal size distribution, cut at 10 um.

    Parameters
    ----------
    median : float
        Mass median diameter. [um]
    spread : float
        Geometric standard deviation. [-]

    Returns
    -------
    share : Floats, shape (8,)
        Sums to one; what is finer than the first edge counts to the first bin. [-]
    """
    below = [0.5 * (1.0 + erf(log(edge / median) / (sqrt(2.0) * log(spread)))) for edge in EDGES]
    below[0] = 0.0
    share = np.diff(np.array(below))
    return np.asarray(share / share.sum())


def outdoor_bins(coarse: float) -> Floats:
    """Return the outdoor mass per unit of PM2.5 in each bin; ``coarse`` is PM2.5-10 over PM2.5 [-]."""
    fine = 0.85 * lognormal_bins(0.38, 1.9) + 0.15 * lognormal_bins(4.5, 2.0)
    fine[FINE:] = 0.0
    rest = lognormal_bins(4.5, 2.0)
    rest[:FINE] = 0.0
    return np.asarray(fine / fine.sum() + coarse * rest / rest.sum())


def source_bins() -> Floats:
    """Return each tag's emission per unit of emitted PM2.5 mass. Shape (8 tags, 8 bins) [-]."""
    shapes = (
        lognormal_bins(0.38, 1.9),
        lognormal_bins(0.32, 1.7),
        lognormal_bins(0.42, 2.1),
        lognormal_bins(0.16, 1.8),
        lognormal_bins(0.22, 1.9),
        lognormal_bins(4.0, 2.1),
        lognormal_bins(3.2, 2.2),
        lognormal_bins(4.5, 2.1),
    )
    return np.array([shape / shape[:FINE].sum() for shape in shapes])
