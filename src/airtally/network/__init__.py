"""Pressures and flows of house, ducts, blower and flues: a network solved node by node and fitted to gauge readings.

The solver stands in ``graph``, ``kernel`` and ``solve``; a surveyed house becomes a network in ``house_network``, its
unknowns are learnt from readings in ``calibrate``, and ``answers`` gathers what it then says.
"""

from airtally.network.home.from_survey import LATEST, envelope_leakage, exhaust_flows, newest, present
from airtally.network.home.house_pressure import HousePressure, NamedFlow, house_pressure
from airtally.network.home.pressures import worst_cases
from airtally.network.home.statics import StaticBudget, StaticPart, static_budget
from airtally.network.problems import PROBLEMS

__all__ = [
    "LATEST", "PROBLEMS", "HousePressure", "NamedFlow", "StaticBudget", "StaticPart", "envelope_leakage",
    "exhaust_flows", "house_pressure", "newest", "present", "static_budget", "worst_cases",
]  # fmt: skip
