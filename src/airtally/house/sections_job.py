"""Sections of the survey that describe instruments, logs, dates, rules, measures and aims, key by key."""

from __future__ import annotations

from airtally.house.fields import COMMON_PRACTICE, Default, Field, Form, Section, identity, since_until
from airtally.house.measure_kinds import MeasureKind
from airtally.house.parts import Affects, AirSide
from airtally.quantities import Quantity
from airtally.units import Kind

STAMPS = ("start", "middle", "end")
DIARY_KINDS = (
    "fire",
    "cooking",
    "candle",
    "cleaning",
    "workshop",
    "window",
    "car",
    "guests",
    "away",
    "decay test",
    "other",
)
PARTICLE_GAIN = Default(
    text="1 x (0.8 to 1.25)", source=f"unit to unit spread of optical particle monitors: {COMMON_PRACTICE}"
)
OTHER_GAIN = Default(text="1 x (0.95 to 1.05)", source=f"instrument without a particle channel: {COMMON_PRACTICE}")
SETTINGS: dict[str, Kind | None] = {
    "flow": Kind.FLOW,
    "efficiency": Kind.FRACTION,
    "bypass": Kind.FRACTION,
    "recirculated": Kind.FRACTION,
    "remaining": Kind.FRACTION,
    "capture": Kind.FRACTION,
    "power": Kind.POWER,
    "pressure_drop": Kind.PRESSURE,
    "rating": None,
    "zone": None,
    "source": None,
    "runs_with": None,
}
"""Keys of a measure's ``settings`` with their kind; None for a word."""

INSTRUMENT = Section(
    path="instrument",
    is_repeated=True,
    meaning="Every monitor, once, wherever it sat.",
    fields=(
        identity("Instrument"),
        Field(
            key="quantities",
            form=Form.CHOICES,
            choices=Quantity,
            meaning="What it measures.",
            attribute="Instrument.quantities",
        ),
        Field(
            key="gain",
            form=Form.QUANTITY,
            kind=Kind.FACTOR,
            meaning="What it reads over what is true, from co-location.",
            attribute="Instrument.gain",
            default_words=f"{PARTICLE_GAIN.text}; without a particle channel {OTHER_GAIN.text}",
            spread=0.05,
            possible="0.1 to 10 x",
        ),
        Field(
            key="response_time",
            form=Form.QUANTITY,
            kind=Kind.DURATION,
            meaning="First-order response.",
            attribute="Instrument.response_time",
            default=Default(text="60 s", source="one-minute logger: judgement"),
            possible="0 to 3600 s",
        ),
    ),
)

PLACEMENT = Section(
    path="placement",
    is_repeated=True,
    meaning="Where an instrument sat and which air it saw; a moved or swapped one is a new placement.",
    fields=(
        identity("Placement"),
        Field(
            key="instrument",
            form=Form.REFERENCE,
            refers_to="instrument",
            meaning="Which one.",
            attribute="Placement.instrument",
            is_required=True,
        ),
        Field(
            key="air_side",
            form=Form.CHOICE,
            choices=AirSide,
            meaning="Which air it saw.",
            attribute="Placement.air_side",
            is_required=True,
        ),
        Field(
            key="zone",
            form=Form.REFERENCE,
            refers_to="zone",
            meaning="Zone it sat in; wanted for room air, not used in ducts and outdoors.",
            attribute="Placement.zone",
        ),
        *since_until("Placement"),
    ),
)

LOG = Section(
    path="log",
    is_repeated=True,
    meaning="Every logger's file; once for each placement of one that moved.",
    fields=(
        Field(
            key="file",
            form=Form.TEXT,
            meaning="Path inside the job's folder.",
            attribute="LogSource.file",
            is_required=True,
        ),
        Field(
            key="placement",
            form=Form.REFERENCE,
            refers_to="placement",
            meaning="Where its readings were taken.",
            attribute="LogSource.placement",
            is_required=True,
        ),
        Field(
            key="time_zone",
            form=Form.TEXT,
            meaning='Zone of stamps without offset: IANA name, "UTC" or "UTC-7"; left out: the home\'s.',
            attribute="LogSource.time_zone",
        ),
        Field(
            key="stamps",
            form=Form.CHOICE,
            choices=STAMPS,
            meaning="Which moment of its average a stamp marks; left out: end.",
            attribute="LogSource.stamps",
        ),
        Field(
            key="interval",
            form=Form.QUANTITY,
            kind=Kind.DURATION,
            meaning="Averaging interval; left out: the file's regular step.",
            attribute="LogSource.interval",
            possible="0.1 s to 86400 s",
        ),
        Field(
            key="columns",
            form=Form.TABLE,
            meaning='Header words the reader cannot guess: { "dust" = "pm25 ug/m3" }, or a role such as "ignore".',
            attribute="LogSource.columns",
        ),
        Field(
            key="day_first",
            form=Form.FACT,
            meaning="Whether 05/06 is the fifth of June; left out: found from the file.",
            attribute="LogSource.day_first",
        ),
        Field(
            key="begins",
            form=Form.DATE,
            meaning="Where a file counts seconds from its own start: that instant.",
            attribute="LogSource.begins",
        ),
        Field(
            key="devices",
            form=Form.TABLE,
            meaning='Where one file holds several devices: { "device as printed" = "placement id" }.',
            attribute="LogSource.devices",
        ),
    ),
)

CHANGE = Section(
    path="change",
    is_repeated=True,
    meaning="Dated changes of house, equipment, settings or instruments.",
    fields=(
        identity("Change"),
        Field(key="time", form=Form.DATE, meaning="When it began.", attribute="Change.time", is_required=True),
        Field(
            key="ends",
            form=Form.DATE,
            meaning="End of the works; readings between belong to no phase.",
            attribute="Change.ends",
        ),
        Field(key="name", form=Form.TEXT, meaning="What pages call it; left out: the id.", attribute="Change.name"),
        Field(
            key="affects",
            form=Form.CHOICES,
            choices=Affects,
            meaning="What may differ after it; all else is shared.",
            attribute="Change.affects",
            is_required=True,
        ),
        Field(
            key="begins_phase",
            form=Form.FACT,
            meaning="Whether it parts two phases that are compared; left out: false.",
            attribute="Change.begins_phase",
        ),
        Field(
            key="expects_same_air",
            form=Form.FACT,
            meaning="Nobody expects it to alter the air: a placebo date; left out: false.",
            attribute="Change.expects_same_air",
        ),
    ),
)

RULE = Section(
    path="rule",
    is_repeated=True,
    meaning="Fan rules as they were set, one after the other. Thresholds are what the rule's own sensor reads.",
    fields=(
        identity("RuleSetting"),
        Field(
            key="placement",
            form=Form.REFERENCE,
            refers_to="placement",
            meaning="Its sensor.",
            attribute="RuleSetting.placement",
            is_required=True,
        ),
        Field(
            key="on_above",
            form=Form.QUANTITY,
            kind=Kind.MASS_CONCENTRATION,
            meaning="PM2.5 that starts the fan.",
            attribute="RuleSetting.on_above",
            is_required=True,
            possible="0.1 to 2000 ug/m3",
        ),
        Field(
            key="off_below",
            form=Form.QUANTITY,
            kind=Kind.MASS_CONCENTRATION,
            meaning="PM2.5 that ends the request.",
            attribute="RuleSetting.off_below",
            is_required=True,
            possible="0 to 2000 ug/m3",
        ),
        Field(
            key="room_on",
            form=Form.QUANTITY,
            kind=Kind.MASS_CONCENTRATION,
            meaning="Room PM2.5 that on_above is meant to stand for.",
            attribute="RuleSetting.room_on",
            possible="0.1 to 2000 ug/m3",
        ),
        Field(
            key="sampling_per_hour",
            form=Form.QUANTITY,
            kind=Kind.DURATION,
            meaning="Fan time an hour only to sample; left out: none.",
            attribute="RuleSetting.sampling_seconds_per_hour",
            default=Default(text="0 min", source="no sampling where none is written"),
            possible="0 to 60 min",
        ),
        Field(
            key="minimum_run",
            form=Form.QUANTITY,
            kind=Kind.DURATION,
            meaning="Shortest run; left out: none.",
            attribute="RuleSetting.minimum_run",
            default=Default(text="0 min", source="no minimum where none is written"),
            possible="0 to 1440 min",
        ),
        Field(
            key="maximum_run",
            form=Form.QUANTITY,
            kind=Kind.DURATION,
            meaning="Longest run on one request; left out: no end.",
            attribute="RuleSetting.maximum_run",
            possible="0 to 10080 min",
        ),
        Field(
            key="early_run",
            form=Form.TEXT,
            meaning='Daily window, with or without outdoor limit: "05:30 to 07:00 below 35 degF".',
            attribute="RuleSetting.early_run",
        ),
        *since_until("RuleSetting"),
    ),
)

TRIAL = Section(
    path="trial",
    meaning="Randomised rule-on and rule-off days, as drawn.",
    fields=(
        Field(key="on", form=Form.DAYS, meaning="Days with the rule on.", attribute="TrialDay.is_on", is_required=True),
        Field(key="off", form=Form.DAYS, meaning="Days with it off.", attribute="TrialDay.date", is_required=True),
    ),
)

DIARY = Section(
    path="diary",
    is_repeated=True,
    meaning="What the household wrote down; its times may be wrong.",
    fields=(
        Field(key="start", form=Form.DATE, meaning="Begin.", attribute="DiaryEntry.start", is_required=True),
        Field(key="end", form=Form.DATE, meaning="End, where written.", attribute="DiaryEntry.end"),
        Field(
            key="kind",
            form=Form.CHOICE,
            choices=DIARY_KINDS,
            meaning="What went on.",
            attribute="DiaryEntry.kind",
            is_required=True,
        ),
        Field(
            key="text",
            form=Form.TEXT,
            meaning="In their words. Of a decay test: the aerosol and, by id, each cleaner that ran, parted by commas "
            '("incense, cleaner-a").',
            attribute="DiaryEntry.text",
        ),
    ),
)

MEASURE = Section(
    path="measure",
    is_repeated=True,
    meaning="What might be done, with price ranges.",
    fields=(
        identity("PricedMeasure"),
        Field(
            key="kind",
            form=Form.TEXT,
            meaning=f"Sort of measure: {', '.join(MeasureKind)}.",
            attribute="PricedMeasure.kind",
            is_required=True,
        ),
        Field(
            key="name", form=Form.TEXT, meaning="What pages call it; left out: the id.", attribute="PricedMeasure.name"
        ),
        Field(
            key="stage",
            form=Form.COUNT,
            meaning="Stage of the proposal; left out: 1.",
            attribute="PricedMeasure.stage",
            possible="1 to 9",
        ),
        Field(
            key="price",
            form=Form.QUANTITY,
            kind=Kind.MONEY,
            meaning="Range in the job's currency.",
            attribute="PricedMeasure.price_low",
            possible="0 to 10000000 {currency}",
        ),
        Field(
            key="settings",
            form=Form.TABLE,
            meaning='Sizes, each with its unit: { flow = "60 cfm", efficiency = "50 %" }. Keys: '
            + ", ".join(SETTINGS)
            + ".",
            attribute="PricedMeasure.settings",
        ),
    ),
)

TARGET = Section(
    path="target",
    meaning="What the job aims at.",
    fields=(
        Field(
            key="pm25",
            form=Form.QUANTITY,
            kind=Kind.MASS_CONCENTRATION,
            meaning="Mean PM2.5 over occupied rooms.",
            attribute="House.target",
            possible="0.5 to 500 ug/m3",
        ),
    ),
)

PRICES = Section(
    path="prices",
    meaning="What running the equipment costs.",
    fields=(
        Field(
            key="electricity",
            form=Form.QUANTITY,
            kind=Kind.ENERGY_PRICE,
            meaning="Price of a kilowatt-hour.",
            attribute="House.energy_price",
            spread=0.10,
            possible="0 to 100 {currency}/kWh",
        ),
        Field(
            key="heat",
            form=Form.QUANTITY,
            kind=Kind.ENERGY_PRICE,
            meaning="Price of heat as it reaches the rooms: fuel over the furnace's efficiency.",
            attribute="House.heat_price",
            spread=0.10,
            possible="0 to 100 {currency}/kWh",
        ),
    ),
)

SECTIONS_JOB = (INSTRUMENT, PLACEMENT, LOG, CHANGE, RULE, TRIAL, DIARY, MEASURE, TARGET, PRICES)
