"""Sections of the survey that describe home, zones, envelope and occupants, key by key."""

from __future__ import annotations

from airtally.house.fields import COMMON_PRACTICE, Default, Field, Form, Section, identity, since_until
from airtally.house.parts import ZoneKind
from airtally.units import Kind

CEILING_HEIGHT = Default(text="8 ft (7.5 to 9.5)", source=COMMON_PRACTICE)
BUFFER_VOLUME = Default(text="3500 ft3 (1200 to 8000)", source="garage, crawlspace or attic, not measured: judgement")

HOME = Section(
    path="home",
    meaning="The job and where the house stands.",
    fields=(
        Field(key="id", form=Form.ID, meaning="Stable id of the home.", attribute="House.home_id", is_required=True),
        Field(key="name", form=Form.TEXT, meaning="What pages call it; left out: the id.", attribute="House.name"),
        Field(
            key="is_invented",
            form=Form.FACT,
            meaning="True marks every page as invented; left out: false.",
            attribute="House.is_invented",
        ),
        Field(
            key="time_zone",
            form=Form.TEXT,
            meaning='Zone of the IANA time-zone database, such as "America/Denver"; local times are read in it.',
            attribute="House.time_zone",
            is_required=True,
        ),
        Field(
            key="elevation",
            form=Form.QUANTITY,
            kind=Kind.LENGTH,
            meaning="Height above sea level.",
            attribute="House.elevation",
            default=Default(text="0 ft (0 to 3000)", source="sea level taken where nothing is given: judgement"),
            possible="-1400 to 15000 ft",
        ),
        Field(
            key="currency",
            form=Form.TEXT,
            meaning="Three-letter code (ISO 4217) of all prices; left out: USD.",
            attribute="House.currency",
        ),
        Field(key="contractor", form=Form.TEXT, meaning="Who did the survey.", attribute="House.contractor"),
        Field(
            key="complaint",
            form=Form.TEXT,
            meaning="What the household asked, in its own words; no diagnosis.",
            attribute="House.complaint",
        ),
    ),
)

ZONE = Section(
    path="zone",
    is_repeated=True,
    meaning="Spaces with their own air: rooms that mix, and the garage, crawlspace or attic next to them.",
    fields=(
        identity("Zone"),
        Field(key="name", form=Form.TEXT, meaning="What pages call it; left out: the id.", attribute="Zone.name"),
        Field(
            key="kind",
            form=Form.CHOICE,
            choices=ZoneKind,
            meaning="What it is.",
            attribute="Zone.kind",
            is_required=True,
        ),
        Field(
            key="is_occupied",
            form=Form.FACT,
            meaning="Whether people live in it; left out: true for rooms, else false.",
            attribute="Zone.is_occupied",
        ),
        Field(
            key="volume",
            form=Form.QUANTITY,
            kind=Kind.VOLUME,
            meaning="Air volume.",
            attribute="Zone.volume",
            default_words="floor_area times ceiling_height; without them 3500 ft3 (1200 to 8000) for garage, "
            "crawlspace, attic; a room or basement needs one of the two",
            spread=0.07,
            possible="50 to 300000 ft3",
        ),
        Field(
            key="floor_area",
            form=Form.QUANTITY,
            kind=Kind.AREA,
            meaning="Floor area.",
            attribute="Zone.floor_area",
            spread=0.03,
            possible="10 to 30000 ft2",
        ),
        Field(
            key="ceiling_height",
            form=Form.QUANTITY,
            kind=Kind.LENGTH,
            meaning="Mean height; finds the volume, or checks it.",
            default=CEILING_HEIGHT,
            spread=0.03,
            possible="2 to 40 ft",
        ),
    ),
)

ENVELOPE = Section(
    path="envelope",
    may_repeat=True,
    meaning="The leaky skin. A list of dated entries where sealing changed it.",
    fields=(
        Field(
            key="flow_at_50",
            form=Form.QUANTITY,
            kind=Kind.FLOW,
            meaning="Blower-door flow at 50 Pa (CFM50).",
            attribute="Envelope.flow_at_50",
            default_words="from floor area and height by the range of US houses",
            spread=0.07,
            possible="50 to 20000 cfm",
        ),
        Field(
            key="exponent",
            form=Form.QUANTITY,
            kind=Kind.PURE,
            meaning="Pressure exponent of a test at several pressures; a plain number.",
            attribute="Envelope.exponent",
            default=Default(
                text="0.65 (0.55 to 0.75)",
                source="usual for houses: Gowri et al. 2009, doi 10.2172/968203; width: judgement",
            ),
            spread=0.03,
            possible="0.5 to 1",
        ),
        Field(
            key="height",
            form=Form.QUANTITY,
            kind=Kind.LENGTH,
            meaning="Lowest to highest leak, for stack effect.",
            attribute="Envelope.height",
            default_words="9 ft (8 to 12) a storey: judgement",
            spread=0.05,
            possible="6 to 80 ft",
        ),
        Field(
            key="floor_area",
            form=Form.QUANTITY,
            kind=Kind.AREA,
            meaning="Conditioned floor area.",
            attribute="Envelope.floor_area",
            default_words="sum over rooms and basements",
            spread=0.03,
            possible="100 to 40000 ft2",
        ),
        Field(
            key="storeys",
            form=Form.COUNT,
            meaning="Storeys above grade, halves allowed; left out: 1.",
            attribute="Envelope.storeys",
            possible="1 to 4",
        ),
        Field(
            key="shelter_class",
            form=Form.COUNT,
            meaning="1 no obstacles, 2 one obstacle, 3 trees and houses two heights off, 4 close neighbours, "
            "5 dense town; left out: 3.",
            attribute="Envelope.shelter_class",
            possible="1 to 5",
        ),
        Field(
            key="bedrooms",
            form=Form.COUNT,
            meaning="Bedrooms, for the ventilation rate.",
            attribute="Envelope.bedrooms",
            possible="0 to 20",
        ),
        *since_until("Envelope"),
    ),
)

OCCUPANTS = Section(
    path="occupants",
    meaning="Who is in, without medical detail.",
    fields=(
        Field(
            key="count",
            form=Form.COUNT,
            meaning="Mean number of people, parts allowed.",
            attribute="Occupants.count",
            is_required=True,
            possible="0 to 40",
        ),
        Field(
            key="sensitive",
            form=Form.FACT,
            meaning="Somebody is sensitive to smoke or dust; left out: false. Write no diagnosis.",
            attribute="Occupants.sensitive",
        ),
        Field(
            key="hours_at_home",
            form=Form.QUANTITY,
            kind=Kind.HOURS,
            meaning="Hours of a day at home, on the mean.",
            attribute="Occupants.hours_at_home",
            default=Default(
                text="16 h (12 to 22)", source="US EPA Exposure Factors Handbook, about 16 h a day (from memory)"
            ),
            spread=0.1,
            possible="0 to 24 h",
        ),
    ),
)

CLIMATE = Section(
    path="climate",
    meaning="The place's weather and what the house is held at, for draft, outdoor air and ducts.",
    fields=(
        Field(
            key="heating_degree_days",
            form=Form.QUANTITY,
            kind=Kind.DEGREE_DAYS,
            meaning="Of a year, to degree_day_base.",
            attribute="Climate.heating_degree_days",
            default=Default(
                text="4500 degF day (1000 to 9000)", source="from mild to cold places of the United States: judgement"
            ),
            spread=0.10,
            possible="0 to 25000 degF day",
        ),
        Field(
            key="cooling_degree_days",
            form=Form.QUANTITY,
            kind=Kind.DEGREE_DAYS,
            meaning="Of a year, to the same base.",
            attribute="Climate.cooling_degree_days",
            spread=0.15,
            possible="0 to 10000 degF day",
        ),
        Field(
            key="degree_day_base",
            form=Form.QUANTITY,
            kind=Kind.TEMPERATURE,
            meaning="Temperature to which the degree days are counted.",
            attribute="Climate.degree_day_base",
            default=Default(text="65 degF", source=f"base of printed degree days: {COMMON_PRACTICE}"),
            possible="40 to 80 degF",
        ),
        Field(
            key="heating_season",
            form=Form.QUANTITY,
            kind=Kind.HOURS,
            meaning="Time of the year that is colder than the base.",
            attribute="Climate.heating_season",
            spread=0.10,
            possible="0 to 366 d",
        ),
        Field(
            key="design_temperature",
            form=Form.QUANTITY,
            kind=Kind.TEMPERATURE,
            meaning="Outdoor temperature of a cold day, as heating is sized for.",
            attribute="Climate.design_temperature",
            possible="-70 to 70 degF",
        ),
        Field(
            key="weather_factor",
            form=Form.QUANTITY,
            kind=Kind.RATE,
            meaning="Weather-and-shielding factor of the nearest station in the ventilation standard's table.",
            attribute="Climate.weather_factor",
            spread=0.05,
            possible="0.2 to 2 1/h",
        ),
        Field(
            key="heated_to",
            form=Form.QUANTITY,
            kind=Kind.TEMPERATURE,
            meaning="What the rooms are held at in winter.",
            attribute="Climate.heated_to",
            default=Default(text="69 degF (65 to 73)", source="rooms in winter: judgement"),
            possible="45 to 85 degF",
        ),
        Field(
            key="cooled_to",
            form=Form.QUANTITY,
            kind=Kind.TEMPERATURE,
            meaning="What the rooms are held at in summer; left out: nothing is said about cooling.",
            attribute="Climate.cooled_to",
            possible="60 to 90 degF",
        ),
    ),
)

SECTIONS_HOME = (HOME, ZONE, ENVELOPE, CLIMATE, OCCUPANTS)
