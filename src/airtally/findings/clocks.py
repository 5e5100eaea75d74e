"""Findings about clocks: a logger whose hour moved against the fan it listens to."""

from __future__ import annotations

from airtally.findings.parts import ClockJump, Finding, Standing
from airtally.findings.series import Evidence, number


def clock_moved(evidence: Evidence, jumps: tuple[ClockJump, ...]) -> Finding | None:
    """Return the finding for a clock that jumped during the record, if one did."""
    if not jumps:
        return None
    jump = jumps[0]
    day = (jump.time - evidence.fit.prepared.start) / 86400.0
    return Finding(
        id="clock-moved",
        title="The duct monitor's clock jumped against the fan's: its times after that day are not house time.",
        source="sensor",
        path=jump.instrument,
        test="a fan start by hand shows in both logs at the same minute",
        evidence_for=("the lag from fan start to the monitor's response jumps from one day to the next and stays",),
        evidence_against=(),
        standing=Standing.SUPPORTED,
        settle="log in UTC, or state the logger's offset in the survey from that day on",
        numbers=(
            ("lag before", number(jump.before, jump.before - 120.0, jump.before + 120.0, "s", "lag search")),
            ("lag after", number(jump.after, jump.after - 120.0, jump.after + 120.0, "s", "lag search")),
            ("day of the jump, counted from the first", number(day, day - 1.0, day + 1.0, "days", "lag search")),
        ),
    )
