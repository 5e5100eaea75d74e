"""Refusals that the kernels share: one sentence form for a value that no formula can take."""

from __future__ import annotations

import numpy as np

from airtally.errors import InputError


def require_not_negative(**values: object) -> None:
    """Raise InputError naming the first argument that holds a number below zero; NaN passes."""
    for name, value in values.items():
        if isinstance(value, float) and value >= 0.0:
            continue
        array = np.asarray(value, dtype=float)
        if np.any(array < 0.0):
            raise InputError(f"{name} must not be below zero; the lowest given is {np.nanmin(array):g}")


def require_fraction(**values: object) -> None:
    """Raise InputError naming the first argument that holds a number outside 0 to 1; NaN passes."""
    for name, value in values.items():
        if isinstance(value, float) and 0.0 <= value <= 1.0:
            continue
        array = np.asarray(value, dtype=float)
        if np.any((array < 0.0) | (array > 1.0)):
            raise InputError(f"{name} must lie between 0 and 1; given {np.nanmin(array):g} to {np.nanmax(array):g}")
