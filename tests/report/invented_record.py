# ruff: noqa: E501
"""An invented record for the tests: every number here is made up and stands for no house."""

from __future__ import annotations

import math
from typing import Any

from airtally.record import moment, quantity, seconds

Document = dict[str, Any]

START = "2025-09-01T06:00:00Z"
WORK = "2025-09-30T14:00:00Z"
DONE = "2025-10-03T00:00:00Z"
END = "2025-11-10T07:00:00Z"


def q(value: float, low: float | None = None, high: float | None = None, unit: str = "1", **other: Any) -> Document:
    """Return an invented quantity."""
    settings = {"basis": "fitted", "source": "invented fit"} | other
    return quantity(value, low=low, high=high, unit=unit, **settings)


def limit(value: float, unit: str, **other: Any) -> Document:
    """Return an invented limit: the document does not exist."""
    return {
        "value": value,
        "unit": unit,
        "document": "Invented vent rule",
        "edition": "2099 edition",
        "jurisdiction": "Quillfork",
    } | other


def account(entries: list[float], removals: list[float], missing: float, stored: float) -> Document:
    """Return an invented account that closes."""
    names = [
        ("outdoor air", "leaks in the walls", "outdoor"),
        ("cooking", "room side", "cooking"),
        ("fireplace", "room side", "solid_fuel"),
        ("workshop", "room side", "resuspension"),
        ("garage air", "return leak", "garage"),
        ("crawlspace air", "floor leaks", "buffer_space"),
    ]
    outs = [
        ("filter", "filter"),
        ("carried outdoors", "air_exchange"),
        ("settled on surfaces", "settling"),
        ("cleaner", "cleaner"),
    ]

    def grams(value: float) -> Document:
        return q(value, value - 0.2 * abs(value) - 0.001, value + 0.22 * abs(value) + 0.001, "g/day")

    return {
        "in": [
            {"folio": index + 1, "name": name, "path": path, "source": source, "grams_per_day": grams(value)}
            for index, ((name, path, source), value) in enumerate(zip(names, entries, strict=True))
        ],
        "out": [
            {"folio": "abcd"[index], "name": name, "sink": sink, "grams_per_day": grams(value)}
            for index, ((name, sink), value) in enumerate(zip(outs, removals, strict=True))
        ],
        "stored": grams(stored),
        "not_assigned": q(missing, missing - 0.004, missing + 0.005, "g/day"),
        "total": q(sum(entries) + missing, 0.9 * (sum(entries) + missing), 1.1 * (sum(entries) + missing), "g/day"),
    }


def rates(air: float, settling: float, filtered: float, cleaner: float) -> Document:
    """Return invented loss rates."""
    parts = {"air_exchange": air, "settling": settling, "filter": filtered, "cleaner": cleaner}
    total = sum(parts.values())
    return {"total": q(total, 0.85 * total, 1.18 * total, "1/h")} | {
        name: q(value, 0.8 * value, 1.2 * value, "1/h") for name, value in parts.items()
    }


def carpet(first: str, days: int, level: float) -> Document:
    """Return an invented hour-of-day carpet with a gap."""
    start = seconds(first)
    rows: list[list[float | None]] = []
    for day in range(days):
        row: list[float | None] = [
            level * (0.6 + 0.2 * math.sin(0.7 * day + hour) + (2.5 if hour in (18, 19, 20) and day % 3 == 0 else 0.0))
            for hour in range(24)
        ]
        rows.append(row)
    rows[4][9:15] = [None] * 6
    return {"days": [moment(start + 86400 * day)[:10] for day in range(days)], "rows": rows, "unit": "ug/m3"}


def phases() -> Document:
    """Return two invented phases."""
    return {
        "before": {
            "name": "Before the work",
            "start": START,
            "end": WORK,
            "days": 22.0,
            "left_out": ["15 to 21 Sep 2025: wildfire smoke outdoors."],
            "mean_pm25": q(15.2, 13.9, 16.8, "ug/m3"),
            "outdoor_pm25": q(9.1, 8.2, 10.3, "ug/m3", basis="measured", source="outdoor sensor M5, invented"),
            "fan_fraction": q(0.08, None, None, "1", basis="measured", source="fan current M7, invented"),
            "rates": {"fan_on": rates(0.5, 0.25, 0.4, 0.05), "fan_off": rates(0.41, 0.25, 0.0, 0.0)},
            "clean_air": {"fan_on": {"filter": q(190.0, 150.0, 240.0, "m3/h")}},
            "source_share": {"outdoor": q(0.2, 0.14, 0.28), "cooking": q(0.3, 0.2, 0.4)},
            "account": account([0.019, 0.034, 0.024, 0.017, 0.013, 0.004], [0.008, 0.058, 0.047, 0.0], 0.003, 0.001),
            "rooms": [
                {"room": "living", "mean": q(15.0, 13.5, 16.6, "ug/m3"), "percentile_95": q(68.0, 61.0, 77.0, "ug/m3")}
            ],
            "hour_of_day": carpet(START, 14, 15.0),
        },
        "after": {
            "name": "After the work",
            "start": DONE,
            "end": END,
            "days": 38.0,
            "mean_pm25": q(7.0, 6.2, 7.9, "ug/m3"),
            "outdoor_pm25": q(12.4, 11.1, 13.9, "ug/m3", basis="measured", source="outdoor sensor M5, invented"),
            "fan_fraction": q(0.33, None, None, "1", basis="measured", source="fan current M7, invented"),
            "rates": {"fan_on": rates(0.55, 0.25, 1.3, 0.6), "fan_off": rates(0.45, 0.25, 0.0, 0.0)},
            "clean_air": {
                "fan_on": {"filter": q(630.0, 520.0, 760.0, "m3/h"), "cleaner": q(290.0, 250.0, 340.0, "m3/h")}
            },
            "sensor_to_room": {"M4": {"fan_on": q(0.33, 0.29, 0.38), "fan_off": q(0.5, 0.2, 0.9)}},
            "source_share": {
                "outdoor": q(0.49, 0.41, 0.57),
                "cooking": q(0.23, 0.16, 0.32),
                "solid_fuel": q(0.18, 0.11, 0.27),
            },
            "account": account([0.055, 0.026, 0.02, 0.005, 0.003, 0.003], [0.039, 0.032, 0.022, 0.019], 0.0, 0.0),
            "rooms": [
                {"room": "living", "mean": q(7.0, 6.2, 7.9, "ug/m3"), "percentile_95": q(26.0, 22.0, 31.0, "ug/m3")}
            ],
            "hour_of_day": carpet(DONE, 21, 7.0),
        },
    }


def room_series() -> Document:
    """Return an invented hourly series with a gap of 43 hours."""
    start, end = seconds(START), seconds(END)
    hours = int((end - start) // 3600)
    time, value, low, high, outdoor, fan = [], [], [], [], [], []
    for hour in range(hours):
        at = start + 3600 * hour
        time.append(moment(at))
        is_gap = 1060 <= hour < 1103
        is_smoke = 14 * 24 <= hour < 21 * 24
        outside = 9.0 + 3.0 * math.sin(hour / 40.0) + (90.0 if is_smoke else 0.0)
        level = (15.0 if at < seconds(WORK) else 7.0) * (0.7 + 0.3 * math.sin(hour / 3.8)) + (45.0 if is_smoke else 0.0)
        level += 40.0 if hour % 24 == 2 and hour % 72 == 2 else 0.0
        value.append(None if is_gap else level)
        low.append(None if is_gap else 0.85 * level)
        high.append(None if is_gap else 1.2 * level)
        outdoor.append(outside)
        fan.append(None if is_gap else 0.1 if at < seconds(WORK) else 0.4)
    return {
        "time": time,
        "value": value,
        "low": low,
        "high": high,
        "outdoor": outdoor,
        "fan_fraction": fan,
        "unit": "ug/m3",
        "level": 0.9,
        "basis": "fitted",
        "source": "invented fit",
    }


def safety() -> Document:
    """Return an invented safety answer: one open, one unknown, one done."""
    return {
        "verdict": "One thing is open and one is unknown. Until both are answered, do not run large exhaust fans while a fire burns.",
        "gates": [
            {
                "id": "depressurise",
                "question": "May the work lower the pressure in this house?",
                "status": "open",
                "answer": "Not before the fireplace is tested with a fire.",
                "evidence": [
                    {
                        "name": "house with all exhausts",
                        "quantity": q(-4.0, -4.6, -3.4, "Pa", basis="measured", source="gauge at test-out"),
                    }
                ],
                "limit": limit(-5.0, "Pa", name="lowest house pressure", known="from memory"),
                "lifts": "a draft reading with a fire lit and all exhausts on",
            }
        ],
        "findings": [
            {
                "id": "fireplace",
                "title": "Fireplace",
                "what": "With a fire lit and hood, dryer and bath fans on, the house can pull smoke back into the room.",
                "when": "worst case",
                "evidence": [
                    {
                        "name": "house pressure",
                        "quantity": q(-10.0, -15.0, -5.0, "Pa", basis="computed", source="pressure model"),
                    }
                ],
                "limit": limit(-5.0, "Pa", name="lowest house pressure", known="from memory"),
                "action": "Do not use the hood on high, the dryer or a bath fan while a fire burns.",
                "by": "licensed chimney sweep",
                "status": "open",
            },
            {
                "id": "water-heater",
                "title": "Water heater",
                "what": "The old water heater spilled combustion gas into the utility room for 25 minutes. The alarm stayed silent; by its standard it may.",
                "when": "2025-10-26T01:40:00Z",
                "evidence": [
                    {
                        "name": "carbon monoxide, highest",
                        "quantity": q(19.0, 16.0, 22.0, "ppm", basis="measured", source="CO logger M6"),
                    },
                ],
                "limit": limit(9.0, "ppm", averaging="8 hours", name="carbon monoxide", known="from memory"),
                "action": "Have the new vent tested. If the alarm sounds or people have headaches, everyone goes out; call the emergency service.",
                "by": "licensed plumber",
                "status": "unknown",
                "done": "31 Oct 2025: a new power-vented heater, by a licensed plumber. The vent test after it is not on file.",
            },
            {
                "id": "co-alarm",
                "title": "CO alarms",
                "what": "The alarm in the hall was past its end date.",
                "when": "at test-in",
                "evidence": [],
                "action": "Keep alarms as local law asks.",
                "by": "owner",
                "status": "done",
                "done": "23 Sep 2025: two listed alarms fitted, by the owner.",
            },
        ],
        "not_checked": ["Gas leaks in the crawlspace: no access.", "Asbestos, lead and radon: not tested by us."],
        "cautions": [
            "Only qualified people adjust or repair burners and vents. A test result holds for the day of the test.",
            "Alarms as local law asks, within their end date. Monitors and the fan rule do not replace them.",
            "The fan system is not a fire or smoke alarm.",
            "Wiring at mains voltage is work for licensed people. Never bypass a door switch or a limit switch.",
            "Local code and the maker's instructions govern. Limits printed here are those of the document named beside them.",
        ],
    }


def commissioning() -> Document:
    """Return an invented list of readings to take: one read again, one to read again, one never read."""
    flow = {"key": "exhaust_flow", "what": "exhaust as installed (hood, bath, dryer)", "state": {}, "unit": "cfm"}
    zone = {"doors": "worst case", "air_handler": "heating", "exhausts_on": "all", "fires_lit": "none"}
    return {
        "readings": [
            flow
            | {
                "item": "exhaust as installed: hood",
                "place": "hood",
                "where": "hood",
                "why": "",
                "test_in": q(58.0, 54.0, 62.0, "cfm", basis="measured", source="flow box"),
                "test_out": q(165.0, 155.0, 175.0, "cfm", basis="measured", source="flow box"),
                "outcome": "within limit",
                "limits": [limit(400.0, "cfm", name="exhaust hood")],
            },
            {
                "item": "appliance zone in the worst state: utility room",
                "key": "worst_case_pressure_change",
                "place": "utility",
                "reference": "outdoors",
                "what": "appliance zone in the worst state found, baseline subtracted",
                "where": "utility room",
                "state": zone,
                "unit": "Pa",
                "why": "not re-tested: not since works that move it",
                "test_in": q(-5.6, -6.2, -5.0, "Pa", basis="measured", source="gauge"),
                "outcome": "over limit",
                "limits": [limit(-5.0, "Pa", name="suction on the zone", known="from memory")],
            },
            {
                "item": "time from light-up until spillage stops: water heater",
                "key": "spillage_time",
                "place": "water-heater-new",
                "what": "time from light-up until spillage stops",
                "where": "water heater",
                "state": zone | {"vent": "cold"},
                "unit": "min",
                "why": "Fire the water heater and time the spillage.",
                "limits": [limit(2.0, "min", name="spillage time, cold vent")],
            },
        ],
        "checks": [
            {"key": "filter_seated", "what": "the filter sits without a gap", "answer": "yes"},
            {"key": "permit_checked", "what": "asked whether the work needs a permit, and had where it does"},
        ],
    }


def effects() -> Document:
    """Return two invented effects."""
    return {
        "whole_job": {
            "name": "The whole job",
            "question": "What did all the work change, with weather, outdoor air and habits held equal?",
            "before": q(17.5, 14.6, 20.4, "ug/m3"),
            "after": q(7.0, 6.2, 7.9, "ug/m3"),
            "absolute": q(-10.5, -13.3, -7.6, "ug/m3"),
            "percent": q(-60.0, -69.0, -48.0, "%"),
            "verdict": "shown",
            "held_alike": ["weather", "outdoor air", "fires", "cooking", "heating"],
            "does_not_say": "It says nothing about other seasons or other habits.",
        },
        "fan_rule": {
            "name": "The fan rule alone",
            "question": "What did the fan rule alone change, with the new filter in place on both?",
            "before": q(11.9, 9.8, 14.6, "ug/m3"),
            "after": q(7.0, 6.2, 7.9, "ug/m3"),
            "absolute": q(-4.9, -8.1, -1.8, "ug/m3"),
            "percent": q(-41.0, -58.0, -17.0, "%"),
            "verdict": "shown",
        },
    }


def forecasts() -> Document:
    """Return three invented forecasts in two stages, one that waits."""
    price = {"currency": "USD"}
    return {
        "fire-doors": {
            "name": "Gasketed fire doors with outdoor air for the fire",
            "stage": 1,
            "what": "Closes the fireplace to the room and gives the fire its own air.",
            "mean_pm25": q(5.9, 5.0, 7.0, "ug/m3", basis="computed", source="replay of the last weeks"),
            "percent": q(-16.0, -25.0, -8.0, "%", basis="computed", source="replay of the last weeks"),
            "weeks": {
                "time": [f"2025-10-{day:02d}T{hour:02d}:00:00Z" for day in range(1, 15) for hour in range(0, 24, 3)],
                "without": [5.0 + step % 7 for step in range(112)],
                "value": [4.0 + step % 7 for step in range(112)],
                "low": [3.0 + step % 7 for step in range(112)],
                "high": [5.5 + step % 7 for step in range(112)],
                "unit": "ug/m3",
                "level": 0.90,
                "basis": "fitted",
                "source": "replay of the last weeks",
            },
            "cost": price | {"low": 1400, "high": 2600},
            "cautions": ["Work on a chimney is for licensed people."],
            "checks": [
                {
                    "name": "house pressure with a fire",
                    "outcome": "not tested",
                    "quantity": q(-6.0, -9.0, -3.0, "Pa", basis="computed", source="pressure model"),
                    "limit": limit(-5.0, "Pa", name="lowest house pressure"),
                }
            ],
            "parts": ["doors with gaskets", "an air duct for the fire"],
            "must_retest": ["Draft with a fire lit and all exhausts on.", "House pressure with all exhausts on."],
        },
        "supply-air": {
            "name": "Filtered supply ventilation, 60 cfm",
            "stage": 2,
            "what": "A small fan brings in filtered outdoor air all day.",
            "mean_pm25": q(6.6, 5.6, 7.9, "ug/m3", basis="computed", source="replay of the last weeks"),
            "percent": q(-6.0, -17.0, 6.0, "%", basis="computed", source="replay of the last weeks"),
            "cost": price | {"low": 900, "high": 1900},
            "running_cost": price | {"low": 60, "high": 110, "per": "year"},
            "parts": ["supply fan with filter box"],
            "must_retest": ["House pressure, fan on minus off."],
        },
        "garage-exhaust": {
            "name": "Exhaust fan in the garage",
            "stage": 2,
            "mean_pm25": q(6.8, 6.0, 7.8, "ug/m3", basis="computed", source="replay of the last weeks"),
            "percent": q(-3.0, -6.0, 0.0, "%", basis="computed", source="replay of the last weeks"),
            "cost": price | {"low": 500, "high": 900},
            "running_cost": price | {"low": 20, "high": 45, "per": "year"},
            "must_retest": ["Draft at the water heater with the garage fan on."],
            "waits_for": [
                {
                    "what": "room in the worst case of the utility room",
                    "because": "In its worst state the utility room may lie beyond a published limit with this measure",
                    "lifted_by": "worst_case_pressure_change at the utility room after exhaust was lowered",
                    "figures": [
                        {
                            "name": "with it, computed",
                            "quantity": q(-5.4, -6.6, -4.0, "Pa", basis="computed", source="pressure model"),
                        }
                    ],
                    "limit": limit(-5.0, "Pa", name="utility room against outdoors"),
                }
            ],
        },
    }


def fan_rule() -> Document:
    """Return an invented fan rule and the one set on site."""
    rule = {
        "name": "mapped rule",
        "placement": "M4, in the return duct after the filter",
        "on_above": q(5.0, None, None, "ug/m3", basis="computed", source="room target times sensor to room"),
        "off_below": q(3.3, None, None, "ug/m3", basis="computed", source="room target times sensor to room"),
        "sampling_minutes": q(16.0, None, None, "min/h", basis="computed", source="purge time of the duct"),
        "minimum_run": q(10.0, None, None, "min", basis="default", source="common practice, no source"),
        "lockouts": ["carbon monoxide at or above 9 ppm", "spill temperature", "missing safety data"],
    }
    return {
        "rule": rule,
        "room_target": q(15.0, None, None, "ug/m3", basis="surveyed", source="survey, target"),
        "duct_threshold": q(5.0, 4.4, 5.7, "ug/m3"),
        "exposure": q(6.4, 5.6, 7.3, "ug/m3", basis="computed", source="replay"),
        "fan_hours": q(7.9, 7.2, 8.7, "h/day", basis="computed", source="replay"),
        "energy": q(2.4, 2.2, 2.7, "kWh/day", basis="computed", source="replay"),
        "starts": q(21.0, 18.0, 25.0, "1/day", basis="computed", source="replay"),
        "regret": q(0.3, 0.0, 0.9, "ug/m3", basis="computed", source="replay"),
        "sampling_minutes": q(16.0, 12.0, 20.0, "min/h"),
        "coverage": q(0.86, 0.78, 0.93, "1", basis="computed", source="replay"),
        "as_set": {
            "rule": rule
            | {
                "on_above": q(15.0, unit="ug/m3"),
                "off_below": q(8.0, unit="ug/m3"),
                "sampling_minutes": q(3.0, unit="min/h"),
            },
            "result": {"exposure": q(9.8, 8.6, 11.3, "ug/m3"), "coverage": q(0.31, 0.22, 0.41)},
            "sentences": ["The first rule used a room value on a sensor behind the filter: it missed most events."],
        },
        "running_cost": {"low": 7, "high": 12, "currency": "USD", "per": "month"},
        "switch_off": "Hold the fan key on the wall control for three seconds. Heating and cooling go on as before.",
        "sentences": [
            "The sensor sits behind the filter, so it reads about a third of the room.",
            "It sees nothing while the fan is off.",
        ],
    }


def proof() -> Document:
    """Return invented proof rows, one refused figure and a placebo."""
    return {
        "rows": [
            {
                "question": "With the fan on, are particles removed faster?",
                "name": "Removal, fan on",
                "kind": "loss_rate",
                "before": q(1.2, 0.9, 1.5, "1/h"),
                "after": q(2.7, 2.2, 3.2, "1/h"),
                "effect": q(125.0, 70.0, 190.0, "%", level=0.95),
                "verdict": "shown",
                "evidence": "19 and 44 decays",
                "note": "compared at like temperature difference and wind",
            },
            {
                "question": "Is the air better, like for like?",
                "name": "Whole job, like for like",
                "kind": "like_for_like",
                "before": q(17.5, 14.6, 20.4, "ug/m3"),
                "after": q(7.0, 6.2, 7.9, "ug/m3"),
                "effect": q(-60.0, -69.0, -48.0, "%", level=0.95),
                "verdict": "shown",
                "note": "weather, outdoor air, fires, cooking and heating held equal",
            },
            {
                "question": "Did the gas signal fall?",
                "name": "Gases (VOC index)",
                "kind": "adjusted",
                "before": q(101.0, 88.0, 113.0, "index"),
                "after": q(95.0, 84.0, 108.0, "index"),
                "effect": q(-6.0, -19.0, 9.0, "%", level=0.95),
                "verdict": "not separable",
                "note": "an index, not a concentration",
            },
        ],
        "not_evidence": [
            {
                "question": "How far did the room average fall, nothing held equal?",
                "name": "Plain before and after",
                "kind": "raw",
                "before": q(15.2, 13.9, 16.8, "ug/m3"),
                "after": q(7.0, 6.2, 7.9, "ug/m3"),
                "effect": q(-54.0, -60.0, -47.0, "%", level=0.95),
                "verdict": "not evidence",
                "note": "colder weeks run the fan more with no work done",
            }
        ],
        "placebo": {
            "rank": 1,
            "of": 28,
            "independent_weeks": 3,
            "sentence": "On 27 dates with no work done the method never claimed as much.",
        },
    }


def streams() -> list[Document]:
    """Return invented streams whose counts close."""
    rows = [
        (
            "M1-pm25",
            "M1 living room",
            "living",
            "room",
            "pm25",
            "ug/m3",
            100_800,
            1200,
            {"gap in power": 1000, "held value": 200},
            0,
        ),
        ("M4-pm25", "M4 duct", "return duct", "return", "pm25", "ug/m3", 98_220, 520, {"stuck": 520}, 64_000),
        ("M5-pm25", "M5 outdoors", "north eave", "outdoor", "pm25", "ug/m3", 100_800, 2_900, {"fog": 2_900}, 0),
        ("M6-co", "M6 utility", "utility room", "room", "co", "ppm", 98_220, 0, {}, 0),
    ]
    return [
        {
            "id": row[0],
            "name": row[1],
            "place": row[2],
            "air_side": row[3],
            "quantity": row[4],
            "unit": row[5],
            "read": row[6],
            "kept": row[6] - row[7],
            "set_aside": row[7],
            "by_reason": row[8],
            "masked": row[9],
            "start": START,
            "end": END,
        }
        for row in rows
    ]


def build_record() -> Document:
    """Return the invented record, whole."""
    counts = {"read": 398_040, "kept": 393_420, "set_aside": 4_620}
    counts_by_reason = {"gap in power": 1000, "held value": 200, "stuck": 520, "fog": 2_900}
    return {
        "schema": 1,
        "job": {
            "id": "invented-1",
            "home": "Invented split-level",
            "place": "Quillfork",
            "is_invented": True,
            "contractor": "Example Contractor LLC",
            "revision": 61,
            "period": {"start": START, "end": END},
            "time_zone": "America/Denver",
            "currency": "USD",
            "complaint": "Why do the bedrooms smell of the garage? Why is it smoky on fire evenings? Does the new filter do anything?",
            "changes": [
                {
                    "id": "install",
                    "name": "Installation",
                    "start": WORK,
                    "end": DONE,
                    "what": "Sealed the return duct, closed the workshop grille, fitted a 4-inch filter cabinet, freed the hood cap and added a cleaner on the return duct.",
                    "by": "contractor",
                    "kind": "work",
                },
                {
                    "id": "heater",
                    "name": "Water heater changed",
                    "start": "2025-10-31T15:00:00Z",
                    "what": "A power-vented water heater replaced the old one.",
                    "by": "licensed plumber",
                    "kind": "work",
                },
            ],
            "streams": streams(),
        },
        "safety": safety(),
        "phases": phases(),
        "events": [
            {
                "start": "2025-10-26T01:10:00Z",
                "minutes": 95.0,
                "kind": "solid_fuel",
                "kind_probabilities": {"solid_fuel": 0.82, "cooking": 0.15, "other": 0.03},
                "grams": q(0.21, 0.15, 0.29, "g"),
                "rise": q(64.0, 55.0, 75.0, "ug/m3"),
                "placement": "M1",
            }
        ],
        "room_pm25": room_series(),
        "effects": effects(),
        "forecasts": forecasts(),
        "fan_rule": fan_rule(),
        "pressures": {
            "rooms": [
                {
                    "room": "bedrooms",
                    "reference": "main body",
                    "state": "heating, doors shut",
                    "pressure": q(-0.9, -1.2, -0.6, "Pa", basis="measured", source="gauge"),
                }
            ],
            "answers": [
                {
                    "id": "static-budget",
                    "title": "Static-pressure budget",
                    "numbers": [
                        {"name": "airflow", "state": "heating, as found", "quantity": q(940.0, 890.0, 990.0, "cfm")},
                        {
                            "name": "airflow",
                            "state": "heating, ducts sealed",
                            "quantity": q(905.0, 840.0, 970.0, "cfm"),
                        },
                    ],
                    "sentences": ["Sealing raises static."],
                    "cautions": ["After the work statics and heat rise are measured again."],
                    "not_measured": ["supply static"],
                    "assumed": ["fan curve: default for a PSC blower"],
                }
            ],
            "readings": [
                {"reading": "total static", "measured": 0.86, "computed": 0.85, "unit": "inH2O", "agrees": True},
                {"reading": "filter drop", "measured": 1.6, "computed": 0.9, "unit": "inH2O", "agrees": False},
            ],
            "worst_cases": [
                {
                    "name": "all exhausts on",
                    "pressure": q(-4.0, -4.6, -3.4, "Pa", basis="measured", source="gauge"),
                    "limit": limit(-5.0, "Pa"),
                    "outcome": "within limit",
                }
            ],
            "static_budget": [
                {"part": "filter", "pressure": q(0.15, 0.14, 0.16, "inH2O", basis="measured", source="gauge")}
            ],
        },
        "visit_readings": {
            "test_in": {"date": "2025-09-23", "by": "contractor"},
            "test_out": {"date": "2025-10-03", "by": "contractor"},
            "rows": [
                {
                    "item": "House pressure, all exhausts on",
                    "test_in": q(-5.6, -6.2, -5.0, "Pa", basis="measured", source="gauge"),
                    "test_out": q(-4.0, -4.6, -3.4, "Pa", basis="measured", source="gauge"),
                    "limit": limit(-5.0, "Pa", name="lowest house pressure", known="from memory"),
                    "outcome": "within limit",
                    "conditions": "no fire, wind under 2 m/s",
                    "instrument": "two-channel gauge",
                },
                {
                    "item": "Range hood",
                    "test_in": q(58.0, 54.0, 62.0, "cfm", basis="measured", source="flow box"),
                    "test_out": q(165.0, 155.0, 175.0, "cfm", basis="measured", source="flow box"),
                    "outcome": "no limit",
                    "instrument": "flow box",
                },
                {
                    "item": "House pressure with a fire",
                    "test_in": "not measured",
                    "test_out": "not measured",
                    "outcome": "not tested",
                },
            ],
        },
        "commissioning": commissioning(),
        "proof": proof(),
        "findings": [
            {
                "id": "garage",
                "title": "Garage air came in through a gap in the return duct.",
                "source": "garage",
                "path": "return leak",
                "test": "If the smell starts before the fan, the duct is not the path.",
                "for": [
                    "The gas signal steps up within 8 minutes of a fan start.",
                    "The step is larger after the car leaves.",
                ],
                "against": ["On two days there was no step."],
                "verdict": "supported",
                "settle": "Fan on with the car away for one week.",
                "numbers": [{"name": "return leak from the garage", "quantity": q(0.06, 0.04, 0.09, "1")}],
            },
            {
                "id": "filter",
                "title": "Air passed around the old filter.",
                "source": "duct",
                "path": "gap around the filter",
                "test": "If duct and room agree behind the filter, there is no gap.",
                "for": ["Duct over room was high."],
                "against": [],
                "verdict": "not separable",
                "settle": "One hour with a second sensor before the filter.",
            },
            {
                "id": "workshop",
                "title": "The workshop shared its dust with the house.",
                "source": "resuspension",
                "path": "grille in the workshop wall",
                "test": "If closing the grille changes nothing, it is not the path.",
                "for": ["After the grille was closed, workshop dust no longer reached the living room."],
                "against": [],
                "verdict": "supported",
            },
        ],
        "filter_plan": {
            "filters": [
                {
                    "place": "return cabinet",
                    "size": "20 x 25 x 4 in.",
                    "grade": "MERV 13",
                    "change": "every 4 months, or at 0.25 in. w.c.",
                    "indicator": "gauge on the cabinet",
                    "due": "2026-02-02",
                    "cost": {"low": 30, "high": 55, "currency": "USD", "per": "once"},
                    "pressure_drop": q(0.15, 0.14, 0.16, "inH2O", basis="measured", source="gauge"),
                }
            ],
            "sentences": [
                "Put it in with the arrow along the air.",
                "A wrong size leaves a gap and air goes around it.",
            ],
        },
        "advice": {
            "keep_doing": ["Use the hood on low for cooking."],
            "next": ["Fire test and vent test: we set a date with you.", "Then fire doors, with ranges on page 3."],
            "never": ["Never run the hood on high, the dryer or a bath fan while a fire burns."],
            "call_when": ["Call us if the filter gauge passes 0.25 in. w.c."],
        },
        "problems": [
            {
                "code": "clock-shift",
                "where": "m4.csv from line 88211",
                "found": "the duct logger runs 60 minutes late after 2 Nov",
                "wanted": "one clock for all",
                "remedy": "The offset was taken out; say if the logger was reset.",
                "severity": "warning",
            }
        ],
        "not_identified": [
            {
                "what": "Filter efficiency and the duct sensor's gain cannot be separated.",
                "settle": "One hour with a second sensor before the filter.",
            }
        ],
        "assumptions": [
            "Ceiling height 8 ft where not measured.",
            "Mass by size from a general indoor mixture; this widens every gram figure.",
        ],
        "provenance": {
            "version": "0.1.0",
            "seed": 20250901,
            "draws": 400,
            "digests": {"survey.toml": "ab" * 32, "logs/m1.csv": "12" * 32, "logs/m4.csv": "34" * 32},
            "counts": counts | {"by_reason": counts_by_reason},
            "method": [
                "One account per house: what is stored is what came in less what went out, in three size classes.",
                "Loss rates come from decays, compared at like weather and fan state.",
                "Every question is put by replaying the recorded weeks with one thing changed.",
            ],
        },
    }


def survey_only() -> Document:
    """Return an invented record of a survey without logs."""
    whole = build_record()
    kept = ("schema", "job", "safety", "pressures", "forecasts", "provenance")
    record = {key: whole[key] for key in kept}
    record["job"] = whole["job"] | {"streams": [], "changes": []}
    record["provenance"] = {key: whole["provenance"][key] for key in ("version", "seed", "digests")}
    return record
