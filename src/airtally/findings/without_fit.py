"""Findings that need no fit of the house: decay tests, infiltration, room cleaners, carbon dioxide, cooking.

They stand on the logs as read, so that a job too short or too narrow for an account still has answers.
"""

from __future__ import annotations

from airtally.errors import Problem, Severity
from airtally.findings.air_exchange import air_exchange
from airtally.findings.cooking import cooking_rises
from airtally.findings.decay_tests import decay_tests
from airtally.findings.infiltration import cleaner_effects, infiltration
from airtally.findings.parts import Finding
from airtally.findings.raw_series import LONGEST_TEST, room_streams, short_runs
from airtally.house.parts import House
from airtally.quantities import Quantity
from airtally.readings.log import Log


def look_without_fit(house: House, log: Log) -> tuple[tuple[Finding, ...], tuple[Problem, ...]]:
    """Return what the logs say without a fit, and what is wrong with meters and recorded ventilation.

    Where a record does not carry a finding, there is none; a fit that fails is no error here.
    """
    exchange, problems = air_exchange(house, log)
    findings = (
        *decay_tests(house, log),
        *infiltration(house, log),
        *cleaner_effects(house, log),
        *exchange,
        *cooking_rises(house, log),
    )
    return findings, problems


def only_tests(house: House, log: Log) -> Problem | None:
    """Return the note that the PM2.5 readings are short tests and no record of a house, or None.

    An account of sources asks for days of readings; a rate of an hour's test says nothing about a day.
    """
    placements = {
        stream.placement for _, stream in room_streams(house, log, Quantity.PM25) if log.series(stream)[0].size
    }
    runs = short_runs(house, log)
    if not runs or {run.placement for run in runs} != placements:
        return None
    longest = max(run.stop - run.start for run in runs)
    return Problem(
        code="only-short-tests",
        where="logs",
        found=f"{len(runs)} runs of PM2.5 readings, the longest of {longest / 3600.0:.1f} h",
        wanted=f"readings over days, in files longer than {LONGEST_TEST / 3600.0:.0f} h, for an account of sources and removal",
        remedy="They are read as decay tests: loss rates and clean air are given, an account is not.",
        severity=Severity.NOTE,
    )
