"""The commented survey that ``airtally new`` writes: every section, with units, nothing filled in."""

from __future__ import annotations

import json

NEW_SURVEY = """\
# Survey of one home. Every quantity is text with its unit: "940 cfm", "940 cfm (880 to 1000)", "940 cfm +- 8 %".
# Where there is no number, say which: "not measured" (could be), "not accessible" (nobody got at it), "unknown"
# (asked, not found out). None of them is zero; zero is "0 cfm". What is left open gets a default with a wide
# interval, and `airtally check` lists it. All keys, units and defaults: docs/survey.md.
# Dates are local wall time: "2025-09-30 08:00". A part that came or went carries since / until; a changed part is a
# new entry: the old one ends (until) where the new one begins (since). Take the # off the lines you need.

schema = 1

[home]
id = {home_id}
name = {name}
time_zone = {time_zone}
elevation = "unknown"             # ft or m above sea level
currency = {currency}
contractor = ""
complaint = ""                    # in the household's words; no diagnosis

# Spaces with their own air. kind: room, basement, crawlspace, attic, garage. Volume, or area and height, is a must
# for rooms and basements.
[[zone]]
id = "main"
name = "rooms that mix"
kind = "room"
is_occupied = true
volume = "not measured"           # ft3, m3
floor_area = "not measured"       # ft2, m2
ceiling_height = "8 ft"

# [[zone]]
# id = "garage"
# kind = "garage"
# is_occupied = false

[envelope]                        # [[envelope]] with since / until where sealing changed it
flow_at_50 = "not measured"       # blower door at 50 Pa: cfm, L/s, m3/h
exponent = "not measured"         # of a test at several pressures; a plain number
height = "not measured"           # lowest to highest leak: ft, m
floor_area = "not measured"
storeys = 1
shelter_class = 3                 # 1 no obstacles ... 3 trees and houses near ... 5 dense town
# bedrooms = 3

[air_handler]                     # take all of it out where there is none
motor = "unknown"                 # PSC, ECM, unknown
# cooling_capacity = "2.5 ton"
rated_static = "not measured"     # plate: inH2O, Pa
duct_volume = "not measured"      # return duct before an in-duct instrument: ft3
supply_leak_outside = "not measured"   # % of handler flow

[[air_handler.speed]]
name = "heating"                  # heating, cooling, circulate
flow = "not measured"
power = "not measured"            # W
static = "not measured"           # total external static: inH2O, Pa

[[air_handler.speed]]
name = "circulate"
flow = "not measured"
power = "not measured"

[[air_handler.filter]]
id = "filter"
rating = "unknown"                # MERV 1 to MERV 16, HEPA, none, unknown
bypass = "not measured"           # air that goes around it, %
pressure_drop = "not measured"    # inH2O, Pa

# [[air_handler.return_leak]]     # air the return draws from outside the rooms
# id = "trunk"
# zone = "garage"                 # a zone's id, or "outdoors"
# fraction = "not measured"       # % of handler flow
# is_before_filter = true

# [[cleaner]]
# id = "bypass"
# flow = "not measured"           # as installed, not from the label
# efficiency = "not measured"     # %
# recirculated = "not measured"   # share of its own discharge drawn again, %
# runs_with = "air handler"       # air handler, always, own switch
# is_portable = false
# zone = "main"                   # room it stands in; left out: on the return duct
# power = "90 W"

# [[exhaust]]
# id = "hood"
# kind = "range hood"             # range hood, bath fan, dryer, open fireplace, other exhaust
# zone = "main"
# flow = "not measured"           # as measured, not from the label
# capture = "not measured"        # range hood only: share of the cooking emission, %

# [[ventilation]]
# id = "fresh-air"
# kind = "supply"                 # supply, exhaust, balanced
# zone = "main"                   # left out: the return duct
# flow = "not measured"
# efficiency = "not measured"     # of its own filter, %
# runs_with = "always"
# power = "30 W"

# Every combustion appliance, in use or not.
# [[appliance]]
# id = "furnace"
# kind = "furnace"                # furnace, boiler, water heater, fireplace, solid-fuel stove, gas range
# zone = "main"
# venting = "induced draft"       # natural draft, induced draft, power vented, sealed combustion, open chimney,
#                                 # "closed door, chimney", unvented
# fuel = "natural gas"
# output = "not accessible"       # kBtu/h, kW; the smallest is fired first
# shares_flue_with = "none"       # id of another appliance on the same flue, or none; left out: not known

# [[appliance]]
# id = "fireplace"
# kind = "fireplace"
# zone = "main"
# venting = "open chimney"
# fuel = "wood"

# What draws by warmth alone: chimneys and vents of fires, stoves and draft hoods.
# [[flue]]
# id = "chimney"
# serves = "fireplace"            # an appliance's id, or that of an open fire among the exhausts
# wall = "masonry"                # masonry, masonry with an insulated liner, single-wall metal, insulated metal
# place = "inside the house"      # inside the house, on an exterior wall
# height = "not measured"         # throat or connector's inlet to cap: ft, m
# rise = "not measured"           # of the connector
# width = "not measured"          # inside diameter or shorter side: in, mm; longer side: depth = "12 in"
# depth = "not measured"
# bends = 2
# opening = "not measured"        # open fireplace: ft2
# wanted_draft = "not accessible" # by the appliance's manual: Pa
# hearth_height = "not measured"  # above the lowest floor
# burn_time = "not measured"      # h

# [[duct_run]]                    # ducts through crawlspace, attic, garage or outdoors
# id = "trunk"
# side = "supply"                 # supply, return
# zone = "outdoors"               # a zone's id, or "outdoors"
# length = "not measured"
# width = "not measured"          # inside diameter or one side; the other side: depth
# depth = "not measured"
# insulation = "insulation not known"   # bare metal, R-4.2, R-6, R-8
# insulation_thickness = "not measured"
# flow = "not measured"
# around_heating = "not measured" # temperature around it on a cold day
# around_cooling = "not measured"
# humidity_around = "not measured"

# [bypass]                        # loop of a bypass cleaner, wanted or built
# diameter = "not measured"       # left out: the smallest that holds the wanted clean air
# rigid_length = "not measured"
# flex_length = "4 ft"
# flex_compression = "not measured"
# bends = 3
# hand_dampers = 1
# backdraft_dampers = 1
# trunk_width = "20 in"
# trunk_height = "8 in"
# straight_before = "not measured"
# tap_distance = "not measured"
# straight_after = "not measured"
# is_take_off_first = true
# discharge = "return trunk"      # return trunk, supply plenum
# wanted_clean_air = "not measured"   # m3/h, cfm
# free_flow = "not measured"      # its label: nothing attached
# shut_off = "not measured"

# [climate]
# heating_degree_days = "unknown" # "6400 degF day"
# cooling_degree_days = "unknown"
# degree_day_base = "65 degF"
# heating_season = "unknown"      # time of the year below the base: "230 d"
# design_temperature = "unknown"  # a cold day, as heating is sized for
# weather_factor = "unknown"      # ventilation standard's table: "0.6 1/h"
# heated_to = "69 degF"
# cooled_to = "unknown"           # left out: nothing is said about cooling

# [occupants]
# count = 3
# sensitive = false               # one flag; write no diagnosis
# hours_at_home = "16 h"

# [[instrument]]
# id = "M1"
# quantities = ["pm25", "co2", "temperature", "relative_humidity"]
# gain = "not measured"           # reads over true, from nights side by side: "1.1 x (1.0 to 1.2)"
# response_time = "60 s"

# [[placement]]                   # a moved or swapped instrument is a new placement
# id = "living"
# instrument = "M1"
# air_side = "room"               # room, outdoor, "return before filter", "after filter", supply, equipment
# zone = "main"

# [[log]]                         # once for each placement of an instrument that moved
# file = "logs/living.csv"
# placement = "living"
# time_zone = "UTC"               # left out: the home's
# stamps = "end"                  # start, middle, end of the average
# columns = {{ "dust" = "pm25 ug/m3" }}   # only what the header does not say

# [[change]]
# id = "install"
# time = "2025-09-30 08:00"
# ends = "2025-10-02 17:00"       # readings during the works belong to no phase
# name = "sealing and new filter"
# affects = ["filter", "return leak"]   # also cleaner, envelope, fan rule, source, sensor, exhaust, ventilation, appliance
# begins_phase = true
# expects_same_air = false        # true: a placebo date

# [[rule]]                        # thresholds are what the rule's own sensor reads
# id = "v1"
# placement = "living"
# on_above = "15 ug/m3"
# off_below = "10 ug/m3"
# room_on = "15 ug/m3"
# sampling_per_hour = "0 min"
# minimum_run = "10 min"
# maximum_run = "4 h"
# early_run = "05:30 to 07:00 below 35 degF"

# [trial]                         # randomised days, as drawn
# on = ["2025-10-13"]
# off = ["2025-10-14"]

# [[diary]]
# start = "2025-10-24 18:30"
# end = "2025-10-24 22:00"
# kind = "fire"                   # fire, cooking, candle, cleaning, workshop, window, car, guests, away, decay test, other
# text = ""

# [[measure]]
# id = "supply-fan"
# kind = "supply ventilation"
# name = "filtered supply air"
# stage = 3
# price = "1400 to 2200 {currency_code}"
# settings = {{ flow = "60 cfm", efficiency = "50 %", power = "30 W" }}

# [target]
# pm25 = "10 ug/m3"

# [prices]
# electricity = "0.16 {currency_code}/kWh"
# heat = "unknown"                # fuel over the furnace's efficiency: "1.6 {currency_code}/therm"
"""


def new_survey_text(
    home_id: str = "home", name: str = "", time_zone: str = "America/Denver", currency: str = "USD"
) -> str:
    """Return the text of a new survey: parses as it stands, and its problems say what to fill in first.

    Parameters
    ----------
    home_id : str
        Stable id of the home.
    name : str
        What pages call it; left out: the id.
    time_zone : str
        IANA name.
    currency : str
        ISO 4217 code of all prices.
    """
    return NEW_SURVEY.format(
        home_id=_quoted(home_id),
        name=_quoted(name or home_id),
        time_zone=_quoted(time_zone),
        currency=_quoted(currency),
        currency_code="".join(c for c in currency if c.isalpha()) or "USD",
    )


def _quoted(text: str) -> str:
    """Return text as a TOML string: JSON's quoting, which TOML shares but for DEL and lone surrogates."""
    plain = text.replace("\x7f", "").encode("utf-8", errors="replace").decode("utf-8")
    return json.dumps(plain, ensure_ascii=False)
