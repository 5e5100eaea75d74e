"""Hours in which a CO or spill logger was silent."""

from __future__ import annotations

import numpy as np

from airtally.estimates import Basis, Estimate
from airtally.house.parts import House
from airtally.quantities import Quantity
from airtally.readings.log import Log
from airtally.safety.log_series import usual_interval
from airtally.safety.parts import Grade, Outage, SafetyFinding, Standing, Topic
from airtally.safety.places import appliances_at, zone_of

WATCHED = (Quantity.CO, Quantity.SPILL_TEMPERATURE)
SHORTEST_OUTAGE = 3600.0
"""A silence that is reported. [s] Judgement."""


def safety_outages(house: House, log: Log) -> tuple[Outage, ...]:
    """Return every silence of an hour or more in the CO and spill streams, streams of one placement taken together.

    A placement's time runs from its first reading to the end of the whole log or of the placement.
    """
    if log.time.size == 0:
        return ()
    last = float(np.nanmax(log.time))
    silences: dict[tuple[str, float, float], list[str]] = {}
    for quantity in WATCHED:
        for stream in log.find(quantity):
            time, _ = log.series(stream)
            if time.size == 0:
                continue
            step = usual_interval(time)
            least = max(SHORTEST_OUTAGE, 3.0 * step)
            until = min([last, *(p.until for p in house.placements if p.id == stream.placement)])
            stamps = np.append(time, max(until, float(time[-1])))
            for index in np.flatnonzero(np.diff(stamps) >= least):
                key = (stream.placement, float(stamps[index]), float(stamps[index + 1]))
                silences.setdefault(key, []).append(stream.name)
    return _joined(silences, last)


def outage_findings(house: House, outages: tuple[Outage, ...]) -> tuple[SafetyFinding, ...]:
    """Return one finding a placement: its silences, and whether the fan rule should have paused itself."""
    found = []
    for placement in sorted({one.placement for one in outages}):
        mine = [one for one in outages if one.placement == placement]
        longest = max(mine, key=lambda one: one.duration)
        now = any(one.is_at_the_end for one in mine)
        total = sum(one.duration for one in mine)
        ruled = any(rule.since < longest.end and rule.until > longest.start for rule in house.rule_settings)
        rule = " The fan rule was set then and should have paused itself; see that it did." if ruled else ""
        also = f" In all {len(mine)} silences of {{total}}." if len(mine) > 1 else ""
        found.append(
            SafetyFinding(
                id=f"safety-logger-outage:{placement}",
                code="safety-logger-outage",
                title=f"The CO and spill logger at {zone_of(house, placement)} was silent",
                sentence=f"{placement} gave no reading for {{hours}} from {{start}}.{also} "
                "What happened then is not known." + rule,
                figures=(("hours", _seconds(longest.duration)), ("total", _seconds(total))),
                grade=Grade.RESTRICT if now or appliances_at(house, longest.start) else Grade.NOTE,
                standing=Standing.OPEN if now else Standing.DONE,
                place=zone_of(house, placement),
                start=longest.start,
                end=longest.end,
                evidence=tuple(sorted({name for one in mine for name in one.streams})),
                action="Feed the logger from an outlet that no one switches. The fan rule pauses while it is silent.",
                lifted_by="" if not now else "the logger's next reading",
                done_on=None if now else max(one.end for one in mine),
                done_by="" if now else "logger reads again",
                topic=Topic.ELECTRICITY,
            )
        )
    return tuple(found)


def _joined(silences: dict[tuple[str, float, float], list[str]], last: float) -> tuple[Outage, ...]:
    """Return silences as outages; those of one placement that overlap are one."""
    found: list[Outage] = []
    for (placement, start, end), streams in sorted(silences.items()):
        before = found[-1] if found and found[-1].placement == placement else None
        if before is not None and start <= before.end:
            found[-1] = Outage(
                placement=placement,
                streams=tuple(sorted({*before.streams, *streams})),
                start=before.start,
                end=max(before.end, end),
                is_at_the_end=max(before.end, end) >= last,
            )
            continue
        found.append(
            Outage(placement=placement, streams=tuple(sorted(streams)), start=start, end=end, is_at_the_end=end >= last)
        )
    return tuple(found)


def _seconds(value: float) -> Estimate:
    return Estimate(value=value, low=value, high=value, unit="s", basis=Basis.MEASURED, source="time stamps of the log")
