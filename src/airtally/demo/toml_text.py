"""TOML as text, and what a contractor's gauges make of the true house."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.demo.dates import REFERENCE_SEED, generator


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What the contractor's gauges made of the true equipment; seed 1 reads the truth."""

    seed: int

    def reading(self, name: str, true: float, spread: float) -> float:
        """Return a reading of ``true`` with a relative error of about ``spread``."""
        if self.seed == REFERENCE_SEED:
            return true
        return true * float(np.exp(spread * generator(self.seed, f"gauge {name}").standard_normal()))


def entry(heading: str, **values: object) -> str:
    """Return one TOML entry; text is quoted, None is left out."""
    lines = [heading]
    for key, value in values.items():
        if value is None:
            continue
        lines.append(f"{key.rstrip('_')} = {literal(value)}")
    return "\n".join(lines) + "\n"


def literal(value: object) -> str:
    """Return a TOML value."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, tuple | list):
        return "[" + ", ".join(literal(item) for item in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {literal(item)}" for key, item in value.items()) + " }"
    return '"' + str(value).replace('"', "'") + '"'
