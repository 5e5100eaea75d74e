"""Temperatures of rooms and seasons, from the survey's climate and else from wide defaults that are named."""

from __future__ import annotations

from airtally.estimates import Estimate
from airtally.house.parts import Climate
from airtally.network.spread import default

HEATING_SEASON = default(278.0, 263.0, 291.0, "K", "outdoor temperature not given: a heating season from cold to mild")
USUAL_ROOM = default(293.5, 291.0, 296.0, "K", "room temperature not given: judgement")
MILD_DAY = default(288.7, 283.2, 294.3, "K", "a mild day, 60 degF (50 to 70): judgement")
"""Weak draft comes with mild air: the day on which an evening's fire is still wanted. [K]"""


def rooms_in_winter(climate: Climate | None) -> Estimate:
    """Return what the rooms are held at, absolute. [K]"""
    return climate.heated_to if climate is not None else USUAL_ROOM


def cold_day(climate: Climate | None) -> Estimate:
    """Return the outdoor temperature of the place's cold day, of any day of a heating season where it is not known. [K]"""
    known = climate.design_temperature if climate is not None else None
    return known or HEATING_SEASON


def heating_season(climate: Climate | None) -> Estimate:
    """Return the outdoor temperatures of a heating season, from the place's cold day to mild where that is known. [K]"""
    cold = climate.design_temperature if climate is not None else None
    if cold is None:
        return HEATING_SEASON
    warm = max(HEATING_SEASON.high, cold.value)
    return default(
        0.5 * (cold.value + warm), cold.value, warm, "K", "outdoor temperature not given: the place's cold day to mild"
    )
