"""The nouns of a surveyed house: zones, equipment with dates, instruments, changes, diary.

All quantities are SI inside :class:`~airtally.estimates.Estimate` records, each with interval, basis
and source. A part that came or went carries ``since`` and ``until`` [s, POSIX UTC], so one House
answers for every phase, and a measure is nothing but an edit of these records.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from airtally.errors import Problem
from airtally.estimates import Estimate
from airtally.house.passages import BypassLoop, SurveyedDuct, SurveyedFlue
from airtally.quantities import Quantity

ALWAYS_BEFORE = float("-inf")
STILL_THERE = float("inf")


class ZoneKind(StrEnum):
    """What a zone is; only rooms and finished basements are lived in."""

    ROOM = "room"
    BASEMENT = "basement"
    CRAWLSPACE = "crawlspace"
    ATTIC = "attic"
    GARAGE = "garage"


class AirSide(StrEnum):
    """Which air an instrument sees."""

    ROOM = "room"
    OUTDOOR = "outdoor"
    RETURN_BEFORE_FILTER = "return before filter"
    AFTER_FILTER = "after filter"
    SUPPLY = "supply"
    EQUIPMENT = "equipment"
    """On the machine itself (fan current, filter drop, spill temperature); sees no room air."""


class RunsWith(StrEnum):
    """What switches a cleaner or a ventilation fan."""

    AIR_HANDLER = "air handler"
    ALWAYS = "always"
    OWN_SWITCH = "own switch"


class ExhaustKind(StrEnum):
    """What an exhaust serves."""

    HOOD = "range hood"
    BATH = "bath fan"
    DRYER = "dryer"
    FIREPLACE = "open fireplace"
    OTHER = "other exhaust"


class VentilationKind(StrEnum):
    """Which way a ventilation fan moves outdoor air."""

    SUPPLY = "supply"
    EXHAUST = "exhaust"
    BALANCED = "balanced"


class ApplianceKind(StrEnum):
    """Combustion appliances the survey knows."""

    FURNACE = "furnace"
    BOILER = "boiler"
    WATER_HEATER = "water heater"
    FIREPLACE = "fireplace"
    STOVE = "solid-fuel stove"
    RANGE = "gas range"


class Venting(StrEnum):
    """How an appliance gets rid of its flue gas."""

    NATURAL_DRAFT = "natural draft"
    INDUCED_DRAFT = "induced draft"
    POWER_VENTED = "power vented"
    SEALED = "sealed combustion"
    OPEN_CHIMNEY = "open chimney"
    CLOSED_CHIMNEY = "closed door, chimney"
    UNVENTED = "unvented"


class Affects(StrEnum):
    """What a dated change may alter; everything else is shared between the phases it parts."""

    FILTER = "filter"
    CLEANER = "cleaner"
    RETURN_LEAK = "return leak"
    ENVELOPE = "envelope"
    FAN_RULE = "fan rule"
    SOURCE = "source"
    SENSOR = "sensor"
    EXHAUST = "exhaust"
    VENTILATION = "ventilation"
    APPLIANCE = "appliance"


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A space with its own air. ``volume`` [m3], ``floor_area`` [m2]."""

    id: str
    name: str
    kind: ZoneKind
    volume: Estimate
    is_occupied: bool
    floor_area: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Envelope:
    """The leaky skin between inside and outside. ``flow_at_50`` [m3/s], ``height`` [m], ``floor_area`` [m2]."""

    flow_at_50: Estimate | None
    exponent: Estimate
    height: Estimate
    floor_area: Estimate
    storeys: float
    shelter_class: int
    bedrooms: int | None = None
    since: float = ALWAYS_BEFORE
    until: float = STILL_THERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """An air-handler filter. ``efficiency`` is single-pass by size class [-]; ``bypass`` goes around it [-]."""

    id: str
    rating: str
    efficiency: tuple[Estimate, Estimate, Estimate]
    bypass: Estimate
    pressure_drop: Estimate | None = None
    """Clean or as-found drop at heating speed. [Pa]"""
    since: float = ALWAYS_BEFORE
    until: float = STILL_THERE


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnLeak:
    """Air that the return draws from a buffer space instead of the rooms. ``fraction`` of handler flow [-]."""

    id: str
    zone: str
    """Id of the buffer zone, or ``"outdoors"``."""
    fraction: Estimate
    is_before_filter: bool
    since: float = ALWAYS_BEFORE
    until: float = STILL_THERE


@dataclass(frozen=True, slots=True, kw_only=True)
class FanSpeed:
    """One blower speed. ``flow`` [m3/s], ``power`` [W], ``static`` total external static pressure [Pa]."""

    name: str
    """``heating``, ``cooling`` or ``circulate``."""
    flow: Estimate
    power: Estimate | None = None
    static: Estimate | None = None
    since: float = ALWAYS_BEFORE
    until: float = STILL_THERE


@dataclass(frozen=True, slots=True, kw_only=True)
class AirHandler:
    """The central fan and what hangs on it. ``duct_volume`` [m3], ``rated_static`` [Pa], ``cooling_capacity`` [W]."""

    speeds: tuple[FanSpeed, ...]
    filters: tuple[Filter, ...]
    return_leaks: tuple[ReturnLeak, ...] = ()
    supply_leak_outside: Estimate | None = None
    """Share of handler flow lost outdoors from supply ducts. [-]"""
    duct_volume: Estimate | None = None
    rated_static: Estimate | None = None
    cooling_capacity: Estimate | None = None
    """From the plate; None where nobody read it or nothing cools."""
    motor: str = "unknown"
    """``PSC``, ``ECM`` or ``unknown``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cleaner:
    """An air cleaner with its own fan. ``flow`` [m3/s], ``efficiency`` [-].

    ``recirculated`` is the share of its own discharge that it draws again [-].
    """

    id: str
    name: str
    flow: Estimate
    efficiency: Estimate
    recirculated: Estimate
    runs_with: RunsWith
    is_portable: bool = False
    zone: str | None = None
    power: Estimate | None = None
    since: float = ALWAYS_BEFORE
    until: float = STILL_THERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Exhaust:
    """A fan or fire that takes air out. ``flow`` measured [m3/s].

    ``capture`` is the share of a cooking emission that it takes at the source [-].
    """

    id: str
    kind: ExhaustKind
    zone: str
    flow: Estimate
    capture: Estimate | None = None
    since: float = ALWAYS_BEFORE
    until: float = STILL_THERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Ventilation:
    """A ventilation fan. ``flow`` [m3/s], ``efficiency`` of its own filter [-]."""

    id: str
    kind: VentilationKind
    flow: Estimate
    efficiency: Estimate
    runs_with: RunsWith
    zone: str | None = None
    """Id of the room it serves; None for the return duct."""
    power: Estimate | None = None
    since: float = ALWAYS_BEFORE
    until: float = STILL_THERE


NO_ONE = "none"
"""What ``shares_flue_with`` says of an appliance that has its flue to itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Appliance:
    """A combustion appliance as the survey found it."""

    id: str
    kind: ApplianceKind
    zone: str
    venting: Venting
    fuel: str
    output: Estimate | None = None
    """Heat output. [W]"""
    shares_flue_with: str | None = None
    """Id of an appliance on the same flue, :data:`NO_ONE` for a flue of its own, None where the survey does not say."""
    since: float = ALWAYS_BEFORE
    until: float = STILL_THERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """A monitor. ``gain`` is what it reads over what is true, from co-location or unit spread [-]."""

    id: str
    gain: Estimate
    quantities: tuple[Quantity, ...] = ()
    response_time: float = 60.0
    """First-order response. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where an instrument sat and which air it saw, from ``since`` to ``until``."""

    id: str
    instrument: str
    air_side: AirSide
    zone: str | None
    since: float = ALWAYS_BEFORE
    until: float = STILL_THERE


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSource:
    """A logger's file as the survey declares it; ``columns`` maps header words to quantities where stated."""

    file: str
    placement: str
    time_zone: str
    stamps: str = "end"
    """Whether a stamp marks the ``start``, ``middle`` or ``end`` of its average."""
    interval: float | None = None
    """Averaging interval. [s]"""
    columns: tuple[tuple[str, str], ...] = ()
    """Pairs of header word and ``"quantity unit"``, e.g. ``("dust", "pm25 ug/m3")``."""
    day_first: bool | None = None
    begins: float | None = None
    """Instant from which a file counts that holds seconds since its own start. [s, POSIX UTC]"""
    devices: tuple[tuple[str, str], ...] = ()
    """Pairs of device id as printed in the file and placement, where one file holds several."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A dated change of house, equipment, setting or sensor; a ``begins_phase`` change parts two phases."""

    id: str
    time: float
    name: str
    affects: tuple[Affects, ...]
    begins_phase: bool
    ends: float | None = None
    """End of the works; readings between ``time`` and ``ends`` belong to no phase. [s]"""
    expects_same_air: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryEntry:
    """What the household wrote down; its times may be wrong."""

    start: float
    end: float | None
    kind: str
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Occupants:
    """Who is in, without medical detail. ``sensitive`` is one flag, never a diagnosis."""

    count: float
    sensitive: bool = False
    hours_at_home: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSetting:
    """A fan rule as set on the house between two dates; thresholds at its own sensor [kg/m3], durations [s]."""

    id: str
    placement: str
    on_above: float
    off_below: float
    sampling_seconds_per_hour: float
    minimum_run: float = 0.0
    maximum_run: float | None = None
    early_run: str | None = None
    """Local window and, if any, outdoor limit in kelvin: ``"05:30 to 07:00 below 274.8 K"``."""
    room_on: float | None = None
    """The room threshold that ``on_above`` is meant to stand for. [kg/m3]"""
    since: float = ALWAYS_BEFORE
    until: float = STILL_THERE


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialDay:
    """One drawn day of a rule-on, rule-off schedule."""

    date: str
    is_on: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedMeasure:
    """A measure on the contractor's list with its price range in the job's currency and its size, SI."""

    id: str
    kind: str
    """One of the measure kinds of ``airtally.proposals``."""
    name: str
    stage: int
    price_low: float
    price_high: float
    settings: tuple[tuple[str, float | str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """The place's weather and what the house is held at.

    Attributes
    ----------
    heating_degree_days, cooling_degree_days : Estimate, Estimate or None
        Of a year, to ``degree_day_base``. [K s]
    degree_day_base : float
        Absolute. [K]
    heating_season : Estimate or None
        Time of the year below that base. [s]
    design_temperature : Estimate or None
        Outdoor temperature of a cold day, absolute. [K]
    weather_factor : Estimate or None
        Weather-and-shielding factor of the ventilation standard. [1/s]
    heated_to, cooled_to : Estimate, Estimate or None
        Absolute; None for a house that is not cooled. [K]
    """

    heating_degree_days: Estimate
    degree_day_base: float
    heated_to: Estimate
    cooling_degree_days: Estimate | None = None
    heating_season: Estimate | None = None
    design_temperature: Estimate | None = None
    weather_factor: Estimate | None = None
    cooled_to: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """The surveyed house with its equipment, instruments, dates and the problems found while reading it."""

    home_id: str
    name: str
    is_invented: bool
    time_zone: str
    elevation: float
    """Height above sea level. [m]"""
    currency: str
    zones: tuple[Zone, ...]
    envelopes: tuple[Envelope, ...]
    air_handler: AirHandler | None
    cleaners: tuple[Cleaner, ...] = ()
    exhausts: tuple[Exhaust, ...] = ()
    ventilation: tuple[Ventilation, ...] = ()
    appliances: tuple[Appliance, ...] = ()
    flues: tuple[SurveyedFlue, ...] = ()
    duct_runs: tuple[SurveyedDuct, ...] = ()
    bypass: BypassLoop | None = None
    climate: Climate | None = None
    occupants: Occupants | None = None
    instruments: tuple[Instrument, ...] = ()
    placements: tuple[Placement, ...] = ()
    logs: tuple[LogSource, ...] = ()
    changes: tuple[Change, ...] = ()
    rule_settings: tuple[RuleSetting, ...] = ()
    trial: tuple[TrialDay, ...] = ()
    diary: tuple[DiaryEntry, ...] = ()
    measures: tuple[PricedMeasure, ...] = ()
    target: Estimate | None = None
    """Room PM2.5 the job aims at. [kg/m3]"""
    energy_price: Estimate | None = None
    """Electricity price. [currency/J]"""
    heat_price: Estimate | None = None
    """Price of heat as it reaches the rooms. [currency/J]"""
    contractor: str = ""
    complaint: str = ""
    problems: tuple[Problem, ...] = field(default=())
