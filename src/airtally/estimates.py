"""A number as airtally carries it: value, interval, unit, basis and source."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import log

from airtally.errors import InputError


class Basis(StrEnum):
    """Where a number comes from."""

    MEASURED = "measured"
    SURVEYED = "surveyed"
    FITTED = "fitted"
    DEFAULT = "default"
    COMPUTED = "computed"


class Missing(StrEnum):
    """Why a number is absent; the three are different things, and none of them is zero."""

    NOT_MEASURED = "not measured"
    NOT_ACCESSIBLE = "not accessible"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A quantity with its interval.

    Attributes
    ----------
    value, low, high : float
        Middle and ends of the interval, in ``unit``.
    level : float
        Probability the interval stands for (0.90 for quantities, 0.95 for verdicts). [-]
    unit : str
        Unit of all three; SI inside the engine, field units in the record.
    basis : Basis
        Measured, surveyed, fitted, default or computed.
    source : str
        Instrument, survey key, method or citation.
    """

    value: float
    low: float
    high: float
    unit: str
    basis: Basis
    source: str
    level: float = 0.90

    def __post_init__(self) -> None:
        """Refuse an interval that does not hold its own value."""
        if not (self.low <= self.value <= self.high) and self.value == self.value:
            raise InputError(
                f"an estimate's interval must hold its value; got {self.low:g}, {self.value:g}, {self.high:g} {self.unit}"
            )

    def meets(self, other: Estimate) -> bool:
        """Return whether some value lies in both intervals."""
        return self.low <= other.high and other.low <= self.high

    @property
    def relative_sd(self) -> float:
        """Standard deviation of the value's logarithm that the interval implies. [-]"""
        if self.low <= 0.0 or self.high <= 0.0:
            raise InputError(
                f"a relative spread needs a positive interval; got {self.low:g} to {self.high:g} {self.unit}"
            )
        return log(self.high / self.low) / (2.0 * 1.6448536269514722)
