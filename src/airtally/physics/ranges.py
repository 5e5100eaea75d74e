"""The shape of a literature default: ends, middle, unit and where they come from."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class DefaultRange:
    """A literature default: ends, middle and where they come from."""

    low: float
    value: float
    high: float
    unit: str
    source: str
