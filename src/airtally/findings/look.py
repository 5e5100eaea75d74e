"""All detectors in one list: each looks for one thing and stays silent where it is not there."""

from __future__ import annotations

from airtally.findings.clocks import clock_moved
from airtally.findings.outdoors import fog_on_the_monitor, smoke_outdoors
from airtally.findings.parts import ClockJump, Finding
from airtally.findings.paths import garage_air_at_fan_starts, workshop_shares_dust
from airtally.findings.rules import sampling_too_short, threshold_in_the_wrong_place, uneven_draw
from airtally.findings.sensors import filter_gap, gain_from_side_by_side, monitor_moved
from airtally.findings.series import Evidence
from airtally.house.parts import House
from airtally.inference.fit import Fit
from airtally.readings.log import Log
from airtally.scenario.baseline import Baseline

DETECTORS = (
    smoke_outdoors,
    garage_air_at_fan_starts,
    workshop_shares_dust,
    filter_gap,
    threshold_in_the_wrong_place,
    sampling_too_short,
    monitor_moved,
    fog_on_the_monitor,
    gain_from_side_by_side,
    uneven_draw,
)


def look(
    house: House, log: Log, fit: Fit, baseline: Baseline, clock_jumps: tuple[ClockJump, ...] = ()
) -> tuple[Finding, ...]:
    """Return what the detectors found in a job, in the order of the list; ``clock_jumps`` were found while reading."""
    evidence = Evidence(house=house, log=log, fit=fit, baseline=baseline)
    found = [detector(evidence) for detector in DETECTORS]
    return tuple(finding for finding in (*found, clock_moved(evidence, clock_jumps)) if finding is not None)
