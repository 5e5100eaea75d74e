"""The nouns of a visit: readings in one house state, gates, checks, instruments, actions."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from airtally.estimates import Estimate, Missing


class VisitKind(StrEnum):
    """Where a visit stands in the job."""

    TEST_IN = "test-in"
    BETWEEN_WORKS = "between works"
    TEST_OUT = "test-out"
    RE_TEST = "re-test"


class Answer(StrEnum):
    """Answer to a gate or a check; unknown is an answer of its own."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class Doors(StrEnum):
    """Interior doors."""

    OPEN = "open"
    CLOSED = "closed"
    WORST_CASE = "worst case"
    UNKNOWN = "unknown"


class HandlerMode(StrEnum):
    """What the air handler did."""

    OFF = "off"
    HEATING = "heating"
    COOLING = "cooling"
    CIRCULATE = "circulate"
    UNKNOWN = "unknown"


class VentStart(StrEnum):
    """State of the flue when a firing began."""

    COLD = "cold"
    WARM = "warm"
    UNKNOWN = "unknown"


ALL = ("all",)
"""What a list of running devices says when everything in the house ran."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseState:
    """What the house was doing during a reading.

    Attributes
    ----------
    doors, air_handler, vent
        As found; each has its own "unknown".
    exhausts_on, fires_lit : tuple of str or None
        Ids of what ran or burned in sorted order; ``()`` none, ``("all",)`` all, None not recorded.
    wind_speed : Estimate or None
        Wind near the house. [m/s]
    outdoor_temperature, indoor_temperature : Estimate or None
        Air temperatures. [K]
    """

    doors: Doors = Doors.UNKNOWN
    air_handler: HandlerMode = HandlerMode.UNKNOWN
    exhausts_on: tuple[str, ...] | None = None
    fires_lit: tuple[str, ...] | None = None
    vent: VentStart = VentStart.UNKNOWN
    wind_speed: Estimate | None = None
    outdoor_temperature: Estimate | None = None
    indoor_temperature: Estimate | None = None

    @property
    def has_fire_lit(self) -> bool:
        """Return whether a fire is recorded as lit."""
        return bool(self.fires_lit)


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitInstrument:
    """A gauge used on a visit. ``accuracy`` and ``resolution`` as written, ``calibrated`` [s, POSIX UTC]."""

    id: str
    kind: str = ""
    accuracy: str = ""
    resolution: str = ""
    calibrated: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading.

    Attributes
    ----------
    key : str
        A key of :data:`airtally.visits.kinds.READING_KINDS`.
    place : str
        Zone, appliance, exhaust, ``house``, ``ducts``, ``air handler`` ...
    state : HouseState
        What the house was doing.
    value : Estimate or Missing
        The reading in the SI unit of its kind, or which of the three kinds of missing it is.
    reference : str or None
        What a pressure is measured against; the value is place minus reference.
    time : float
        When it was read. [s, POSIX UTC]
    instrument : str or None
        Id of the visit's instrument.
    note : str
        Free words.
    as_written : str
        The value as the file has it.
    """

    key: str
    place: str
    state: HouseState
    value: Estimate | Missing
    time: float
    reference: str | None = None
    instrument: str | None = None
    note: str = ""
    as_written: str = ""

    @property
    def estimate(self) -> Estimate | None:
        """Return the value if it was measured, None if it is missing."""
        return self.value if isinstance(self.value, Estimate) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitAction:
    """What was done or handed on about a matter; it never lifts a block. ``time`` [s, POSIX UTC]."""

    about: str
    status: str
    """``referred`` or ``done``."""
    time: float
    by: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A dated set of readings in one house state (each reading may differ from it). ``time`` [s, POSIX UTC]."""

    id: str
    kind: VisitKind
    time: float
    by: str
    state: HouseState
    readings: tuple[Reading, ...]
    gates: tuple[tuple[str, Answer], ...] = ()
    checks: tuple[tuple[str, Answer], ...] = ()
    instruments: tuple[VisitInstrument, ...] = ()
    actions: tuple[VisitAction, ...] = ()
    note: str = ""

    def gate(self, name: str) -> Answer:
        """Return the answer to a gate; a gate that was not asked is unknown."""
        return dict(self.gates).get(name, Answer.UNKNOWN)

    def check(self, name: str) -> Answer:
        """Return the answer to a check; a check that was not made is unknown."""
        return dict(self.checks).get(name, Answer.UNKNOWN)

    def find(self, key: str, place: str | None = None) -> tuple[Reading, ...]:
        """Return the readings of a key, at one place if named, missing ones included."""
        return tuple(r for r in self.readings if r.key == key and place in (None, r.place))
