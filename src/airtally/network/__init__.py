"""Pressures and flows of house, ducts and blower; closed forms now, behind nouns that a solved network will return."""

from airtally.network.blower import SHUT_OFF_RATIO, OperatingPoint, Resistance, flow_ratio, operating_point
from airtally.network.bypass import (
    CleanerChoice,
    in_line_or_bypass,
    loop_clean_air,
    recirculated_share,
    series_clean_air,
)
from airtally.network.duct_leaks import (
    LeakShare,
    LeakSplit,
    leak_flows,
    leak_share,
    pressure_after_sealing,
    pressure_at_leaks,
    split_by_dominance,
)
from airtally.network.from_survey import (
    LATEST,
    envelope_leakage,
    exhaust_flows,
    handler_leaks,
    newest,
    present,
    worst_cases,
)
from airtally.network.house_pressure import (
    CLOSED_FORM_SPREAD,
    BufferedPressure,
    HousePressure,
    NamedFlow,
    buffered_house_pressure,
    house_pressure,
)
from airtally.network.problems import PROBLEMS
from airtally.network.statics import StaticBudget, StaticPart, static_budget

__all__ = [
    "CLOSED_FORM_SPREAD", "LATEST", "PROBLEMS", "SHUT_OFF_RATIO", "BufferedPressure", "CleanerChoice", "HousePressure",
    "LeakShare", "LeakSplit", "NamedFlow", "OperatingPoint", "Resistance", "StaticBudget", "StaticPart",
    "buffered_house_pressure", "envelope_leakage", "exhaust_flows", "flow_ratio", "handler_leaks", "house_pressure",
    "in_line_or_bypass", "leak_flows", "leak_share", "loop_clean_air", "newest", "operating_point", "present",
    "pressure_after_sealing", "pressure_at_leaks", "recirculated_share", "series_clean_air", "split_by_dominance",
    "static_budget", "worst_cases",
]  # fmt: skip
