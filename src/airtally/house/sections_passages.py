"""Sections of the survey that describe flues, duct runs outside the rooms and a bypass cleaner's loop, key by key."""

from __future__ import annotations

from airtally.house.fields import COMMON_PRACTICE, Default, Field, Form, Section, identity, since_until
from airtally.house.passages import Discharge, DuctSide, FluePlace, FlueWall, Insulation
from airtally.units import Kind

HEIGHT = Default(text="20 ft (12 to 35)", source="one to two storeys and what stands above the roof: judgement")
CONNECTOR_RISE = Default(text="1.5 ft (0.5 to 5)", source="connector of a stove or heater: judgement")
NO_RISE = Default(text="0 ft", source="a fireplace has no connector")
FIREPLACE_FLUE = Default(text="11 in (7 to 14)", source="clay liners of 8 by 12 to 13 by 13 inch: judgement")
STOVE_FLUE = Default(text="6 in (5 to 8)", source=f"collars of stoves: {COMMON_PRACTICE}")
VENT = Default(text="4 in (3 to 6)", source=f"vents of heaters with a draft hood: {COMMON_PRACTICE}")


def _length(
    key: str,
    meaning: str,
    attribute: str,
    possible: str,
    *,
    spread: float = 0.05,
    default: Default | None = None,
    default_words: str = "",
) -> Field:
    return Field(
        key=key,
        form=Form.QUANTITY,
        kind=Kind.LENGTH,
        meaning=meaning,
        attribute=attribute,
        possible=possible,
        spread=spread,
        default=default,
        default_words=default_words,
    )


FLUE = Section(
    path="flue",
    is_repeated=True,
    meaning="Chimneys and vents that draw by warmth alone. An entry without sizes gives a wide draft; no entry, none.",
    fields=(
        identity("SurveyedFlue"),
        Field(
            key="serves",
            form=Form.REFERENCE,
            refers_to="appliance",
            or_refers_to="exhaust",
            meaning="Appliance below it, or the id of an open fire that is an exhaust only.",
            attribute="SurveyedFlue.serves",
            is_required=True,
        ),
        Field(
            key="wall",
            form=Form.CHOICE,
            choices=FlueWall,
            meaning="What it is made of; left out: not known.",
            attribute="SurveyedFlue.wall",
        ),
        Field(
            key="place",
            form=Form.CHOICE,
            choices=FluePlace,
            meaning="Where it runs; left out: not known.",
            attribute="SurveyedFlue.place",
        ),
        _length(
            "height",
            "From the throat of a fireplace, or from where the connector enters, to the cap.",
            "SurveyedFlue.height",
            "3 to 120 ft",
            default=HEIGHT,
        ),
        _length(
            "rise",
            "Rise of the connector between appliance and chimney.",
            "SurveyedFlue.rise",
            "0 to 30 ft",
            default_words=f"{CONNECTOR_RISE.text} ({CONNECTOR_RISE.source}); open chimney: none",
        ),
        _length(
            "width",
            "Inside diameter, or the shorter inside measure.",
            "SurveyedFlue.width",
            "2 to 40 in",
            default_words=f"open chimney {FIREPLACE_FLUE.text} ({FIREPLACE_FLUE.source}); stove {STOVE_FLUE.text} "
            f"({STOVE_FLUE.source}); others {VENT.text} ({VENT.source})",
        ),
        _length("depth", "Longer inside measure; left out: round.", "SurveyedFlue.depth", "2 to 60 in"),
        Field(
            key="bends",
            form=Form.COUNT,
            meaning="Elbows and offsets of connector and flue; left out: as usual for its kind.",
            attribute="SurveyedFlue.bends",
            possible="0 to 12",
        ),
        Field(
            key="opening",
            form=Form.QUANTITY,
            kind=Kind.AREA,
            meaning="Opening of an open fireplace, width times height; finds the air it draws where nobody measured it.",
            attribute="SurveyedFlue.opening",
            spread=0.05,
            possible="0.5 to 60 ft2",
        ),
        Field(
            key="wanted_draft",
            form=Form.QUANTITY,
            kind=Kind.PRESSURE,
            meaning="Draft that the appliance's manual asks for at full fire, written without sign.",
            attribute="SurveyedFlue.wanted_draft",
            possible="0 to 60 Pa",
        ),
        _length(
            "hearth_height",
            "Of the fire above the lowest floor; left out: lowest floor to halfway up.",
            "SurveyedFlue.hearth_height",
            "0 to 60 ft",
            spread=0.1,
        ),
        Field(
            key="burn_time",
            form=Form.QUANTITY,
            kind=Kind.HOURS,
            meaning="From lighting to the last load, as usual here; left out: as usual for its kind.",
            attribute="SurveyedFlue.burn_time",
            spread=0.3,
            possible="0.05 to 48 h",
        ),
        *since_until("SurveyedFlue"),
    ),
)

DUCT_RUN = Section(
    path="duct_run",
    is_repeated=True,
    meaning="Runs of the air handler's duct through crawlspace, attic, garage or outdoors.",
    fields=(
        identity("SurveyedDuct"),
        Field(
            key="side",
            form=Form.CHOICE,
            choices=DuctSide,
            meaning="Supply or return.",
            attribute="SurveyedDuct.side",
            is_required=True,
        ),
        Field(
            key="zone",
            form=Form.REFERENCE,
            refers_to="zone",
            or_words=("outdoors",),
            meaning='Space around it, or "outdoors".',
            attribute="SurveyedDuct.zone",
            is_required=True,
        ),
        _length(
            "length",
            "Along the run.",
            "SurveyedDuct.length",
            "0 to 300 ft",
            default=Default(text="25 ft (8 to 60)", source="run not measured: judgement"),
        ),
        _length(
            "width",
            "Inside diameter, or one inside measure.",
            "SurveyedDuct.width",
            "2 to 60 in",
            spread=0.03,
            default=Default(text="10 in (6 to 18)", source="branch to trunk, not measured: judgement"),
        ),
        _length("depth", "The other inside measure; left out: round.", "SurveyedDuct.depth", "2 to 60 in", spread=0.03),
        Field(
            key="insulation",
            form=Form.CHOICE,
            choices=Insulation,
            meaning="By its label; left out: not known.",
            attribute="SurveyedDuct.insulation",
        ),
        _length(
            "insulation_thickness",
            "Thickness of fibrous wrap as it is; governs over the label.",
            "SurveyedDuct.insulation_thickness",
            "0 to 12 in",
            spread=0.2,
        ),
        Field(
            key="flow",
            form=Form.QUANTITY,
            kind=Kind.FLOW,
            meaning="Air in it at heating speed.",
            attribute="SurveyedDuct.flow",
            default_words="600 ft/min (250 to 1000) in its section, no more than the air handler moves",
            spread=0.10,
            possible="5 to 6000 cfm",
        ),
        Field(
            key="around_heating",
            form=Form.QUANTITY,
            kind=Kind.TEMPERATURE,
            meaning="Temperature around it on a cold day.",
            attribute="SurveyedDuct.around_heating",
            default_words="by the space and climate.design_temperature",
            possible="-70 to 100 degF",
        ),
        Field(
            key="around_cooling",
            form=Form.QUANTITY,
            kind=Kind.TEMPERATURE,
            meaning="Temperature around it on a hot day.",
            attribute="SurveyedDuct.around_cooling",
            default_words="by the space",
            possible="40 to 170 degF",
        ),
        Field(
            key="humidity_around",
            form=Form.QUANTITY,
            kind=Kind.FRACTION,
            meaning="Relative humidity around it while the house is cooled.",
            attribute="SurveyedDuct.humidity_around",
            default_words="by the space",
            spread=0.1,
            possible="1 to 100 %",
        ),
        *since_until("SurveyedDuct"),
    ),
)

BYPASS = Section(
    path="bypass",
    meaning="Loop of a bypass cleaner as wanted or as built; what is left out is taken as usual, and said so.",
    fields=(
        _length(
            "diameter",
            "Of the loop's round duct; left out: the smallest that holds the wanted clean air.",
            "BypassLoop.diameter",
            "3 to 24 in",
            spread=0.0,
        ),
        _length("rigid_length", "Rigid duct of the loop.", "BypassLoop.rigid_length", "0 to 100 ft"),
        _length("flex_length", "Flexible duct of the loop, stretched.", "BypassLoop.flex_length", "0 to 100 ft"),
        Field(
            key="flex_compression",
            form=Form.QUANTITY,
            kind=Kind.FRACTION,
            meaning="By how much shorter the flexible duct was hung than stretched.",
            attribute="BypassLoop.flex_compression",
            spread=0.3,
            possible="0 to 60 %",
        ),
        Field(
            key="bends",
            form=Form.COUNT,
            meaning="Bends of 90 degrees; left out: 3.",
            attribute="BypassLoop.bends",
            possible="0 to 20",
        ),
        Field(
            key="hand_dampers",
            form=Form.COUNT,
            meaning="Hand dampers, open; left out: 1.",
            attribute="BypassLoop.hand_dampers",
            possible="0 to 4",
        ),
        Field(
            key="backdraft_dampers",
            form=Form.COUNT,
            meaning="Backdraft dampers; left out: 1.",
            attribute="BypassLoop.backdraft_dampers",
            possible="0 to 4",
        ),
        _length(
            "trunk_width", "Return trunk at the taps: diameter, or one inside measure.", "BypassLoop.trunk_width",
            "3 to 60 in", spread=0.0,
        ),
        _length("trunk_height", "The other inside measure; left out: round.", "BypassLoop.trunk_height", "3 to 60 in", spread=0.0),
        _length(
            "straight_before", "Trunk from the last branch or elbow to the first tap.", "BypassLoop.straight_before",
            "0 to 100 ft",
        ),
        _length("tap_distance", "Trunk between the taps.", "BypassLoop.tap_distance", "0 to 100 ft"),
        _length("straight_after", "Trunk from the second tap to the filter.", "BypassLoop.straight_after", "0 to 100 ft"),
        Field(
            key="is_take_off_first",
            form=Form.FACT,
            meaning="Whether the take-off lies upstream of the re-entry; left out: true.",
            attribute="BypassLoop.is_take_off_first",
        ),
        Field(
            key="discharge",
            form=Form.CHOICE,
            choices=Discharge,
            meaning="Where the cleaner blows to; left out: return trunk.",
            attribute="BypassLoop.discharge",
        ),
        Field(
            key="wanted_clean_air",
            form=Form.QUANTITY,
            kind=Kind.CLEAN_AIR,
            meaning="Clean air wanted at heating speed.",
            attribute="BypassLoop.wanted_clean_air",
            possible="5 to 4000 m3/h",
        ),
        Field(
            key="free_flow",
            form=Form.QUANTITY,
            kind=Kind.FLOW,
            meaning="The cleaner's flow with nothing attached, as its label says.",
            attribute="BypassLoop.free_flow",
            spread=0.10,
            possible="5 to 2500 cfm",
        ),
        Field(
            key="shut_off",
            form=Form.QUANTITY,
            kind=Kind.PRESSURE,
            meaning="Pressure of the cleaner's fan at no flow, from its data sheet.",
            attribute="BypassLoop.shut_off",
            spread=0.10,
            possible="0.02 to 5 inH2O",
        ),
    ),
)  # fmt: skip

SECTIONS_PASSAGES = (FLUE, DUCT_RUN, BYPASS)
