"""Sections of the survey that describe what moves, cleans and fouls the air, key by key."""

from __future__ import annotations

from airtally.house.fields import COMMON_PRACTICE, Default, Field, Form, Section, identity, since_until
from airtally.house.parts import NO_ONE, ApplianceKind, ExhaustKind, RunsWith, VentilationKind, Venting
from airtally.units import Kind

MOTORS = ("PSC", "ECM", "unknown")
SPEEDS = ("heating", "cooling", "circulate")
BYPASS = Default(text="8 % (2 to 25)", source=f"gaps around the frame: {COMMON_PRACTICE}")

AIR_HANDLER = Section(
    path="air_handler",
    meaning="The central fan.",
    fields=(
        Field(
            key="motor", form=Form.CHOICE, choices=MOTORS, meaning="Blower motor; finds the power where not measured."
        ),
        Field(
            key="cooling_capacity",
            form=Form.QUANTITY,
            kind=Kind.HEAT_OUTPUT,
            meaning="From the plate; finds the flow where not measured, and checks it.",
            attribute="AirHandler.cooling_capacity",
            possible="0.5 to 10 ton",
        ),
        Field(
            key="duct_volume",
            form=Form.QUANTITY,
            kind=Kind.VOLUME,
            meaning="Return duct volume between the grilles and an in-duct instrument; sets the purge time.",
            attribute="AirHandler.duct_volume",
            default=Default(text="80 ft3 (30 to 150)", source="judgement"),
            spread=0.2,
            possible="1 to 1500 ft3",
        ),
        Field(
            key="rated_static",
            form=Form.QUANTITY,
            kind=Kind.PRESSURE,
            meaning="Highest total external static pressure on the plate.",
            attribute="AirHandler.rated_static",
            default=Default(text="0.5 inH2O (0.3 to 0.8)", source=f"most usual plate value: {COMMON_PRACTICE}"),
            possible="0.05 to 2 inH2O",
        ),
        Field(
            key="supply_leak_outside",
            form=Form.QUANTITY,
            kind=Kind.FRACTION,
            meaning="Share of handler flow lost outdoors from supply ducts.",
            attribute="AirHandler.supply_leak_outside",
            spread=0.25,
            possible="0 to 60 %",
        ),
    ),
)

SPEED = Section(
    path="air_handler.speed",
    is_repeated=True,
    meaning="One entry a blower speed; a new entry where work changed it.",
    fields=(
        Field(
            key="name",
            form=Form.CHOICE,
            choices=SPEEDS,
            meaning="Which speed.",
            attribute="FanSpeed.name",
            is_required=True,
        ),
        Field(
            key="flow",
            form=Form.QUANTITY,
            kind=Kind.FLOW,
            meaning="Air flow as measured.",
            attribute="FanSpeed.flow",
            default_words="heating, cooling: 350 (220 to 420) cfm a ton of cooling_capacity, else 145 (90 to 180) cfm "
            "for 10 kBtu/h of the furnace's output, else 1000 cfm (600 to 1400); circulate: 0.65 (0.45 to 1) of it",
            spread=0.10,
            possible="50 to 6000 cfm",
        ),
        Field(
            key="power",
            form=Form.QUANTITY,
            kind=Kind.POWER,
            meaning="Electric power of the blower.",
            attribute="FanSpeed.power",
            default_words="by motor: see the table below",
            spread=0.05,
            possible="5 to 3000 W",
        ),
        Field(
            key="static",
            form=Form.QUANTITY,
            kind=Kind.PRESSURE,
            meaning="Total external static pressure.",
            attribute="FanSpeed.static",
            spread=0.05,
            possible="0 to 3 inH2O",
        ),
        *since_until("FanSpeed"),
    ),
)

FILTER = Section(
    path="air_handler.filter",
    is_repeated=True,
    meaning="One entry for each filter that was in the slot, one after the other.",
    fields=(
        identity("Filter"),
        Field(
            key="rating",
            form=Form.TEXT,
            meaning='"MERV 1" to "MERV 16", "HEPA", "none" or "unknown"; left out: unknown.',
            attribute="Filter.rating",
        ),
        Field(
            key="efficiency",
            form=Form.QUANTITIES,
            kind=Kind.FRACTION,
            meaning="Single-pass efficiency for 0.3-1, 1-3 and 3-10 um, where a data sheet gives it.",
            attribute="Filter.efficiency",
            default_words="by rating: see the table below",
            spread=0.05,
            possible="0 to 100 %",
        ),
        Field(
            key="bypass",
            form=Form.QUANTITY,
            kind=Kind.FRACTION,
            meaning="Share of the air that goes around the filter.",
            attribute="Filter.bypass",
            default=BYPASS,
            spread=0.5,
            possible="0 to 100 %",
        ),
        Field(
            key="pressure_drop",
            form=Form.QUANTITY,
            kind=Kind.PRESSURE,
            meaning="Drop at heating speed, as found or when new.",
            attribute="Filter.pressure_drop",
            spread=0.05,
            possible="0 to 3 inH2O",
        ),
        *since_until("Filter"),
    ),
)

RETURN_LEAK = Section(
    path="air_handler.return_leak",
    is_repeated=True,
    meaning="Air the return draws from outside the rooms; a new entry where sealing changed it.",
    fields=(
        identity("ReturnLeak"),
        Field(
            key="zone",
            form=Form.REFERENCE,
            refers_to="zone",
            or_words=("outdoors",),
            meaning='Where the leaked air comes from: a buffer zone or "outdoors".',
            attribute="ReturnLeak.zone",
            is_required=True,
        ),
        Field(
            key="fraction",
            form=Form.QUANTITY,
            kind=Kind.FRACTION,
            meaning="Share of handler flow.",
            attribute="ReturnLeak.fraction",
            default=Default(
                text="10 % (2 to 25)",
                source="mean 10.3 % in 155 houses (Duct Leakage Impacts on Airtightness, Infiltration, and Peak "
                "Electrical Demand in Florida Homes), 13.4 % in newer ones (FSEC-RR-138-03), both read as abstracts; "
                "width: judgement",
            ),
            spread=0.3,
            possible="0 to 80 %",
        ),
        Field(
            key="is_before_filter",
            form=Form.FACT,
            meaning="Whether the leaked air passes the filter; left out: true.",
            attribute="ReturnLeak.is_before_filter",
        ),
        *since_until("ReturnLeak"),
    ),
)

CLEANER = Section(
    path="cleaner",
    is_repeated=True,
    meaning="Air cleaners with their own fan: bypass units on the return, and portables.",
    fields=(
        identity("Cleaner"),
        Field(key="name", form=Form.TEXT, meaning="What pages call it; left out: the id.", attribute="Cleaner.name"),
        Field(
            key="flow",
            form=Form.QUANTITY,
            kind=Kind.FLOW,
            meaning="Air flow as installed, not from the label.",
            attribute="Cleaner.flow",
            default=Default(
                text="200 cfm (100 to 240)", source=f"units of nominal 250 cfm as installed: {COMMON_PRACTICE}"
            ),
            spread=0.10,
            possible="5 to 2500 cfm",
        ),
        Field(
            key="efficiency",
            form=Form.QUANTITY,
            kind=Kind.FRACTION,
            meaning="Single-pass efficiency for particles.",
            attribute="Cleaner.efficiency",
            default=Default(
                text="97 % (85 to 99.9)", source="filter of HEPA class with its seals as installed: judgement"
            ),
            spread=0.03,
            possible="0 to 100 %",
        ),
        Field(
            key="recirculated",
            form=Form.QUANTITY,
            kind=Kind.FRACTION,
            meaning="Share of its own discharge that it draws again.",
            attribute="Cleaner.recirculated",
            default=Default(text="10 % (0 to 40)", source="collars or unit close to each other as found: judgement"),
            spread=0.5,
            possible="0 to 95 %",
        ),
        Field(
            key="runs_with",
            form=Form.CHOICE,
            choices=RunsWith,
            meaning="What switches it; left out: air handler, or own switch for a portable.",
            attribute="Cleaner.runs_with",
        ),
        Field(
            key="is_portable",
            form=Form.FACT,
            meaning="Stands in a room; left out: false.",
            attribute="Cleaner.is_portable",
        ),
        Field(
            key="zone",
            form=Form.REFERENCE,
            refers_to="zone",
            meaning="Room it stands in; left out: on the return duct.",
            attribute="Cleaner.zone",
        ),
        Field(
            key="power",
            form=Form.QUANTITY,
            kind=Kind.POWER,
            meaning="Electric power.",
            attribute="Cleaner.power",
            default=Default(text="90 W (40 to 180)", source="judgement"),
            spread=0.05,
            possible="1 to 1500 W",
        ),
        *since_until("Cleaner"),
    ),
)

EXHAUST = Section(
    path="exhaust",
    is_repeated=True,
    meaning="What takes air out: range hood, bath fans, dryer, open fireplace.",
    fields=(
        identity("Exhaust"),
        Field(
            key="kind",
            form=Form.CHOICE,
            choices=ExhaustKind,
            meaning="What it serves.",
            attribute="Exhaust.kind",
            is_required=True,
        ),
        Field(
            key="zone",
            form=Form.REFERENCE,
            refers_to="zone",
            meaning="Zone it draws from.",
            attribute="Exhaust.zone",
            is_required=True,
        ),
        Field(
            key="flow",
            form=Form.QUANTITY,
            kind=Kind.FLOW,
            meaning="Air flow as measured, not from the label.",
            attribute="Exhaust.flow",
            default_words="by kind: see the table below",
            spread=0.15,
            possible="0 to 3000 cfm",
        ),
        Field(
            key="capture",
            form=Form.QUANTITY,
            kind=Kind.FRACTION,
            meaning="Share of the cooking emission a range hood takes at the source.",
            attribute="Exhaust.capture",
            default_words="range hood: see the table below",
            spread=0.2,
            possible="0 to 100 %",
        ),
        *since_until("Exhaust"),
    ),
)

VENTILATION = Section(
    path="ventilation",
    is_repeated=True,
    meaning="Fans that bring outdoor air in or take room air out for ventilation.",
    fields=(
        identity("Ventilation"),
        Field(
            key="kind",
            form=Form.CHOICE,
            choices=VentilationKind,
            meaning="Which way it moves air.",
            attribute="Ventilation.kind",
            is_required=True,
        ),
        Field(
            key="zone",
            form=Form.REFERENCE,
            refers_to="zone",
            meaning="Room it serves; left out: the return duct.",
            attribute="Ventilation.zone",
        ),
        Field(
            key="flow",
            form=Form.QUANTITY,
            kind=Kind.FLOW,
            meaning="Air flow as measured.",
            attribute="Ventilation.flow",
            default=Default(text="60 cfm (20 to 120)", source="judgement"),
            spread=0.10,
            possible="1 to 1500 cfm",
        ),
        Field(
            key="efficiency",
            form=Form.QUANTITY,
            kind=Kind.FRACTION,
            meaning="Single-pass efficiency of its own filter on outdoor air.",
            attribute="Ventilation.efficiency",
            default=Default(text="0 % (0 to 30)", source="a screen or coarse filter at most: judgement"),
            spread=0.2,
            possible="0 to 100 %",
        ),
        Field(
            key="runs_with",
            form=Form.CHOICE,
            choices=RunsWith,
            meaning="What switches it; left out: always.",
            attribute="Ventilation.runs_with",
        ),
        Field(
            key="power",
            form=Form.QUANTITY,
            kind=Kind.POWER,
            meaning="Electric power.",
            attribute="Ventilation.power",
            default=Default(text="30 W (8 to 120)", source="judgement"),
            spread=0.05,
            possible="1 to 1500 W",
        ),
        *since_until("Ventilation"),
    ),
)

APPLIANCE = Section(
    path="appliance",
    is_repeated=True,
    meaning="Every combustion appliance, in use or not.",
    fields=(
        identity("Appliance"),
        Field(
            key="kind",
            form=Form.CHOICE,
            choices=ApplianceKind,
            meaning="What it is.",
            attribute="Appliance.kind",
            is_required=True,
        ),
        Field(
            key="zone",
            form=Form.REFERENCE,
            refers_to="zone",
            meaning="Zone it stands in.",
            attribute="Appliance.zone",
            is_required=True,
        ),
        Field(
            key="venting",
            form=Form.CHOICE,
            choices=Venting,
            meaning="How it gets rid of its flue gas.",
            attribute="Appliance.venting",
            is_required=True,
        ),
        Field(key="fuel", form=Form.TEXT, meaning="What it burns; left out: unknown.", attribute="Appliance.fuel"),
        Field(
            key="output",
            form=Form.QUANTITY,
            kind=Kind.HEAT_OUTPUT,
            meaning="Heat output from the plate.",
            attribute="Appliance.output",
            spread=0.05,
            possible="1 to 500 kBtu/h",
        ),
        Field(
            key="shares_flue_with",
            form=Form.REFERENCE,
            refers_to="appliance",
            or_words=(NO_ONE,),
            meaning="Another appliance on the same flue; `none` where it has a flue of its own. Suction limits differ; "
            "left out: every limit that may apply is held against it.",
            attribute="Appliance.shares_flue_with",
        ),
        *since_until("Appliance"),
    ),
)

SECTIONS_EQUIPMENT = (AIR_HANDLER, SPEED, FILTER, RETURN_LEAK, CLEANER, EXHAUST, VENTILATION, APPLIANCE)
