"""The nouns of the limits floor: what a published limit, table row or class is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Sense(StrEnum):
    """Which side of the value is within the limit."""

    AT_MOST = "at most"
    AT_LEAST = "at least"
    """Also for pressures below zero: -2 Pa is stricter than -5 Pa."""


class Basis(StrEnum):
    """How the value came to us."""

    READ = "read"
    FROM_MEMORY = "from memory"
    """To be looked up in the source before it is shown as a requirement."""


class Status(StrEnum):
    """Where the limit stands today."""

    CURRENT = "current"
    SUPERSEDED = "superseded"
    DROPPED = "dropped by a later edition"
    INTERIM = "interim target"
    EVIDENCE = "evidence, not a limit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One published limit.

    Attributes
    ----------
    key : str
        Stable name.
    quantity : str
        What is limited.
    value : float
        The limit, in ``unit``.
    unit : str
        SI unit of ``value``.
    printed : str
        The figure as the source shows it.
    sense : Sense
        Whether the value is the most or the least allowed.
    applies_to : str
        Kind of appliance or place; empty when it holds everywhere.
    averaging_time : float or None
        Time over which the quantity is averaged, None for a moment. [s]
    edition, jurisdiction, source : str
        Edition, who issues it, key in ``docs/references.md``.
    basis : Basis
        Read, or from memory.
    status : Status
        Current or not.
    note : str
        What a reader must know beside.
    """

    key: str
    quantity: str
    value: float
    unit: str
    printed: str
    sense: Sense
    edition: str
    jurisdiction: str
    source: str
    basis: Basis
    applies_to: str = ""
    averaging_time: float | None = None
    status: Status = Status.CURRENT
    note: str = ""

    def is_met_by(self, value: float) -> bool | None:
        """Say whether a value in the limit's unit keeps it; None for a value that is not known (NaN)."""
        if value != value:
            return None
        return value <= self.value if self.sense is Sense.AT_MOST else value >= self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Governing:
    """The strictest of several limits on one thing, with the others beside it, strictest first."""

    limit: Limit
    others: tuple[Limit, ...]

    @property
    def editions_disagree(self) -> bool:
        """Whether any other list prints a different value."""
        return any(other.value != self.limit.value for other in self.others)


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionLevel:
    """What one programme does between two levels of CO. ``lower``, ``upper`` [mol/mol]; lower is inside."""

    key: str
    lower: float
    upper: float
    printed: str
    consequence: str
    edition: str
    jurisdiction: str
    source: str
    basis: Basis


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftLine:
    """Least pull of a vent by outdoor temperature [K]: straight between two ends, level beyond. Pulls are magnitudes [Pa]."""

    key: str
    coldest: float
    pull_coldest: float
    warmest: float
    pull_warmest: float
    printed: str
    edition: str
    jurisdiction: str
    source: str
    basis: Basis
    status: Status = Status.CURRENT

    def least_pull(self, outdoor_temperature: float) -> Limit:
        """Return the limit on the pull [Pa] that holds at an outdoor temperature [K]."""
        share = (outdoor_temperature - self.coldest) / (self.warmest - self.coldest)
        inside = min(max(share, 0.0), 1.0)
        return Limit(
            key=self.key, quantity="draft", value=self.pull_coldest + inside * (self.pull_warmest - self.pull_coldest),
            unit="Pa", printed=self.printed, sense=Sense.AT_LEAST, edition=self.edition, jurisdiction=self.jurisdiction,
            source=self.source, basis=self.basis, status=self.status,
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmWindow:
    """When a listed alarm may sound at a steady level: silent before ``earliest`` [s], sounding by ``latest`` [s]."""

    level: float
    """Steady mole fraction. [mol/mol]"""
    printed: str
    earliest: float
    latest: float
    edition: str
    jurisdiction: str
    source: str
    basis: Basis
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexRow:
    """One row of an air-quality-index table; concentrations in tenths of a microgram per cubic metre."""

    low: int
    high: int
    index_low: int
    index_high: int
    category: str


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexTable:
    """The rows of one edition of the index."""

    name: str
    effective: str
    source: str
    basis: Basis
    rows: tuple[IndexRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MervRow:
    """Least efficiency of one MERV by size range; None where the edition asks nothing. ``final_resistance`` [Pa]."""

    merv: int
    minimum: tuple[float | None, float | None, float | None]
    final_resistance: float
    edition: str
    source: str
    basis: Basis


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterClass:
    """A named filter class. ``least_efficiency`` [-] at ``particle``."""

    name: str
    standard: str
    least_efficiency: float
    particle: str
    source: str
    basis: Basis


@dataclass(frozen=True, slots=True, kw_only=True)
class VentilationRate:
    """Coefficients of one edition. ``per_area`` [m/s], ``per_person`` [m3/s], each as printed in two unit systems."""

    name: str
    per_area_ip: float
    per_person_ip: float
    per_area_si: float
    per_person_si: float
    printed: str
    credit: str
    source: str
    basis: Basis


@dataclass(frozen=True, slots=True, kw_only=True)
class MakeUpAirFactor:
    """Exhaust a house may have before make-up air is wanted. ``per_area`` is flow per floor area [m/s]."""

    applies_to: str
    per_area: float
    printed: str
    source: str
    basis: Basis
