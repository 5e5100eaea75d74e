"""The seven invented monitors: their errors, and the signals that their readings are made from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Booleans, Floats
from airtally.demo.dates import REFERENCE_SEED, generator
from airtally.demo.quirks import Quirk

PARTICLE_MONITORS = ("M1", "M2", "M3", "M4", "M5")
REFERENCE_GAINS = {"M1": 1.02, "M2": 0.95, "M3": 1.25, "M4": 1.05, "M5": 0.97}
RESPONSE_SECONDS = 55.0
GROWTH = 0.06
"""Optical over-reading per unit of rh/(1-rh) above its value at 75 %. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Errors:
    """A particle monitor's true errors: ``gain`` [-], ``offset`` [ug/m3], ``noise`` [ug/m3] and ``share`` of reading [-]."""

    gain: float
    offset: float
    noise: float
    share: float


def make_errors(seed: int, quirks: frozenset[Quirk]) -> dict[str, Errors]:
    """Return the errors of each particle monitor of a seed."""
    found = {}
    for name in PARTICLE_MONITORS:
        rng = generator(seed, f"errors {name}")
        unit = float(np.exp(0.06 * rng.standard_normal()))
        gain = REFERENCE_GAINS[name] if seed == REFERENCE_SEED else unit
        if name == "M3":
            gain = 1.25 if Quirk.COLOCATION_GAIN in quirks else 1.0
        found[name] = Errors(
            gain=gain,
            offset=float(rng.uniform(-0.3, 0.4)),
            noise=float(rng.uniform(0.35, 0.6)),
            share=float(rng.uniform(0.03, 0.05)),
        )
    return found


def lagged(signal: Floats, seconds: float = RESPONSE_SECONDS) -> Floats:
    """Return a first-order response to a signal by minute, one step after the other. Shape (minutes,)."""
    share = 1.0 - np.exp(-60.0 / seconds)
    terms = min(int(12.0 / share) + 1, signal.size)
    weights = share * (1.0 - share) ** np.arange(terms)
    padded = np.concatenate([np.full(terms - 1, signal[0]), signal])
    return np.convolve(padded, weights / weights.sum(), mode="valid")


def read_particles(level: Floats, humidity: Floats, errors: Errors, rng: np.random.Generator) -> Floats:
    """Return what an optical monitor shows: gain, growth in humid air, lag, offset, noise, floor. [ug/m3]

    ``level`` is the particle mass as the monitor's optics weigh it; ``humidity`` 0..1.
    """
    wet = np.minimum(humidity, 0.985)
    growth = 1.0 + GROWTH * np.maximum(wet / (1.0 - wet) - 3.0, 0.0)
    steady = lagged(errors.gain * level * growth) + errors.offset
    noise = errors.noise * rng.standard_normal(level.size) + errors.share * steady * rng.standard_normal(level.size)
    return np.asarray(np.clip(steady + noise, 0.0, 900.0))


def voc_index(signal: Floats, temperature: Floats, humidity: Floats, rng: np.random.Generator) -> Floats:
    """Return an auto-baselining VOC score, 0 to 500, around 100 in usual air; not a concentration. [-]

    The baseline sinks to clean air within hours and rises over days; steps of temperature and humidity
    move the score although nothing is in the air.
    """
    drift = 1.0 + 0.012 * (temperature - lagged(temperature, 5400.0)) + 0.25 * (humidity - lagged(humidity, 5400.0))
    shown = np.maximum(signal * drift, 1.0)
    base = np.log(shown[0])
    every = 10
    logs = np.log(shown[::every])
    track = np.empty(logs.size)
    for i, value in enumerate(logs):
        base += (value - base) * (0.010 if value < base else 0.0016)
        track[i] = base
    baseline = np.repeat(track, every)[: shown.size]
    score = 75.0 + 140.0 * (np.log(shown) - baseline) + 2.0 * rng.standard_normal(shown.size)
    return np.asarray(np.clip(score, 1.0, 500.0))


def outdoor_smoke_request(reading: Floats, allowed: Booleans) -> Floats:
    """Return where the outdoor-smoke rule asks for the fan: a ten-minute mean above 35, until below 22 [ug/m3]."""
    mean = np.convolve(np.concatenate([np.full(9, reading[0]), reading]), np.full(10, 0.1), mode="valid")
    high = mean > 35.0
    low = mean < 22.0
    event = np.where(high, 1, np.where(low, -1, 0))
    marks = np.flatnonzero(event)
    held = np.zeros(reading.size)
    if marks.size:
        last = np.searchsorted(marks, np.arange(reading.size), side="right") - 1
        held = np.where(last >= 0, event[marks[np.maximum(last, 0)]] > 0, False).astype(np.float64)
    return np.where(allowed, held, 0.0)
