"""The noun of this room: a finding with the test that could refute it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from airtally.estimates import Estimate


class Standing(StrEnum):
    """Where a finding stands after its test."""

    SUPPORTED = "supported"
    REFUTED = "refuted"
    NOT_SEPARABLE = "not separable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing the readings say, or say not.

    Attributes
    ----------
    id : str
        Stable, such as ``smoke-outdoors``.
    title : str
        A plain sentence for the customer.
    source, path : str
        Where it comes from and by which way it travels.
    test : str
        The test that could refute it.
    evidence_for, evidence_against : tuple of str
        In words; the numbers stand in ``numbers``.
    standing : Standing
    settle : str
        What would settle it.
    numbers : tuple of (str, Estimate)
        In SI.
    """

    id: str
    title: str
    source: str
    path: str
    test: str
    evidence_for: tuple[str, ...]
    evidence_against: tuple[str, ...]
    standing: Standing
    settle: str
    numbers: tuple[tuple[str, Estimate], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockJump:
    """A jump of an instrument's lag behind the fan: when [s, POSIX UTC], lag before and after it [s]."""

    instrument: str
    time: float
    before: float
    after: float

    @property
    def shift(self) -> float:
        """Return by how much the clock jumped [s]: to the quarter hour if it is near one, as clocks are set by such steps."""
        jump = self.after - self.before
        quarter = 900.0 * round(jump / 900.0)
        return quarter if abs(jump - quarter) < 360.0 else jump
