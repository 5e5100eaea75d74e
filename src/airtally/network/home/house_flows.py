"""What gauges say about return leaks, put where the account of the air reads it: into the surveyed house itself."""

from __future__ import annotations

from dataclasses import replace
from math import inf

from airtally.house.parts import House, ReturnLeak
from airtally.network.home.calibrate import Calibrated, calibrate
from airtally.network.home.from_survey import LATEST
from airtally.network.home.pressures import leak_shares
from airtally.visits.parts import Visit

LEAKAGE_READINGS = ("cfm25_return", "cfm25_outside")
"""Readings that say how much return ducts draw from outside the rooms; without one the survey's own share stands."""


def with_measured_leaks(house: House, visits: tuple[Visit, ...], latest: Calibrated | None) -> House:
    """Return the house with each return leak's share of the handler's flow as the fitted network has it.

    Only leaks that a visit tested while they were there: duct leakage and the house pressure with the fan on part them
    from supply leaks, and statics place them at the pressure they work at. The rest keep the survey's share.

    Parameters
    ----------
    house : House
    visits : tuple of Visit
    latest : Calibrated or None
        The network of the house as it stands, where the caller has it already.
    """
    handler = house.air_handler
    if handler is None:
        return house
    fitted: dict[float, Calibrated | None] = {LATEST: latest}
    leaks = []
    for leak in handler.return_leaks:
        tested = max((time for time in _tests(visits) if leak.since <= time < leak.until), default=None)
        if tested is None:
            leaks.append(leak)
            continue
        time = LATEST if leak.until == inf else tested
        if time not in fitted:
            fitted[time] = calibrate(house, visits, time)
        leaks.append(_measured(leak, fitted[time]))
    return replace(house, air_handler=replace(handler, return_leaks=tuple(leaks)))


def _tests(visits: tuple[Visit, ...]) -> list[float]:
    """Return when duct leakage was read. [s, POSIX UTC]"""
    readings = [reading for visit in visits for key in LEAKAGE_READINGS for reading in visit.find(key)]
    return [reading.time for reading in readings if reading.estimate is not None]


def _measured(leak: ReturnLeak, calibrated: Calibrated | None) -> ReturnLeak:
    shares = leak_shares(calibrated) if calibrated is not None else {}
    found = shares.get(leak.id)
    return leak if found is None else replace(leak, fraction=found)
