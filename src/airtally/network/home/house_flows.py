"""What gauges say about flows, put where the account of the air reads it: into the surveyed house itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from math import inf

import numpy as np

from airtally.house.parts import Cleaner, FanSpeed, House, ReturnLeak
from airtally.network.home.calibrate import Calibrated, calibrate
from airtally.network.home.from_survey import LATEST
from airtally.network.home.house_network import BLOWER, AirState
from airtally.network.home.pressures import estimate_of, leak_shares
from airtally.visits.parts import HandlerMode, Reading, Visit

LEAKAGE_READINGS = ("cfm25_return", "cfm25_outside")
"""Readings that say how much return ducts draw from outside the rooms; without one the survey's own share stands."""
Networks = Callable[[float], Calibrated | None]
"""The house's network as it stood at a time, fitted to what had been read by then."""


def with_measured_flows(house: House, visits: tuple[Visit, ...], latest: Calibrated | None) -> House:
    """Return the house with the flows that a visit tested as readings and fitted network have them.

    A return leak's share of the handler's flow is the network's where duct leakage was read while the leak was there:
    leakage and the house pressure with the fan on part it from supply leaks, and statics place it at the pressure it
    works at. The handler's flow at a speed is the network's where an airflow was read at that speed, which weighs it
    with the statics. A cleaner's flow is the one read at it with the air handler running, or with it off for a unit of
    its own. The rest keep what the survey says.

    Parameters
    ----------
    house : House
    visits : tuple of Visit
    latest : Calibrated or None
        The network of the house as it stands, where the caller has it already.
    """

    @cache
    def network(time: float) -> Calibrated | None:
        return latest if time == LATEST else calibrate(house, visits, time)

    def readings(*keys: str) -> list[Reading]:
        found = [reading for visit in visits for key in keys for reading in visit.find(key)]
        return [reading for reading in found if reading.estimate is not None]

    cleaners = tuple(_cleaner(one, readings("cleaner_flow")) for one in house.cleaners)
    handler = house.air_handler
    if handler is None:
        return replace(house, cleaners=cleaners)
    leaks = tuple(_leak(one, readings(*LEAKAGE_READINGS), network) for one in handler.return_leaks)
    speeds = tuple(_speed(one, readings("airflow"), network) for one in handler.speeds)
    return replace(house, cleaners=cleaners, air_handler=replace(handler, return_leaks=leaks, speeds=speeds))


def _tested(readings: list[Reading], part: ReturnLeak | FanSpeed) -> float | None:
    """Return the time whose network speaks for a part: now if it still stands, else its last test; None if never tested."""
    tested = max((one.time for one in readings if part.since <= one.time < part.until), default=None)
    return LATEST if tested is not None and part.until == inf else tested


def _leak(leak: ReturnLeak, readings: list[Reading], network: Networks) -> ReturnLeak:
    time = _tested(readings, leak)
    calibrated = None if time is None else network(time)
    share = None if calibrated is None else leak_shares(calibrated).get(leak.id)
    return leak if share is None else replace(leak, fraction=share)


def _speed(speed: FanSpeed, readings: list[Reading], network: Networks) -> FanSpeed:
    mode = HandlerMode(speed.name)
    time = _tested([one for one in readings if one.state.air_handler is mode], speed)
    calibrated = None if time is None else network(time)
    if calibrated is None or mode not in dict(calibrated.network.layout.mode_flow):
        return speed
    (solved,) = calibrated.solve((AirState(handler=mode),))
    flow = np.asarray(solved.flow(BLOWER))
    return speed if not np.all(flow > 0.0) else replace(speed, flow=estimate_of(flow, "m3/s"))


def _cleaner(cleaner: Cleaner, readings: list[Reading]) -> Cleaner:
    own = [one for one in readings if one.place == cleaner.id and cleaner.since <= one.time < cleaner.until]
    if cleaner.zone is None and not cleaner.is_portable:
        own = [one for one in own if one.state.air_handler is not HandlerMode.OFF]
    newest = max(own, key=lambda one: one.time, default=None)
    return cleaner if newest is None or newest.estimate is None else replace(cleaner, flow=newest.estimate)
