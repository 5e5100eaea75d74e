"""Findings about the fan rule and the trial: thresholds in the wrong place, samples too short, an uneven draw."""

from __future__ import annotations

from datetime import date

import numpy as np

from airtally.clock import local_day
from airtally.findings.parts import Finding, Standing
from airtally.findings.series import Evidence, number
from airtally.house.parts import AirSide, RuleSetting
from airtally.inference.drivers import mixed_volume
from airtally.inference.events import DIARY_WORDS, Source
from airtally.scenario.mapping import least_sampling_seconds, mapping_at, usual_outdoor

WRONG_BY = 1.5
"""A threshold counts as misplaced if it stands for a room level this far from the target, by the likely draws."""
EARLIEST = date(1970, 1, 1).toordinal()


def threshold_in_the_wrong_place(evidence: Evidence) -> Finding | None:
    """Look for a rule whose threshold is a room figure set on a sensor that sees filtered air."""
    for rule, middle in _rules_in_force(evidence):
        mapping = mapping_at(evidence.fit, rule.placement, middle)
        if mapping is None or mapping.side is AirSide.ROOM:
            continue
        target = rule.room_on or (evidence.house.target.value if evidence.house.target else None)
        if target is None:
            continue
        stands_for = mapping.room_level(rule.on_above, usual_outdoor(evidence.fit))
        low, high = (float(q) for q in np.quantile(stands_for, [0.05, 0.95]))
        if low < WRONG_BY * target:
            continue
        return Finding(
            id="threshold-misplaced",
            title="The fan rule waited for a room figure on a sensor that sees filtered air, so it missed events.",
            source="fan rule",
            path=f"rule '{rule.id}' at {rule.placement}, {mapping.side.value}",
            test="with the threshold as it was, the fan starts at every event above the room target",
            evidence_for=("behind filter and cleaner the sensor reads far less than the rooms hold",),
            evidence_against=(),
            standing=Standing.SUPPORTED,
            settle="set the threshold that the room target reads at this sensor, and map it anew at every filter change",
            numbers=(
                ("room level the threshold stood for", number(float(np.median(stands_for)), low, high, "kg/m3", "fit")),
                ("room level that was meant", number(target, target, target, "kg/m3", "survey")),
            ),
        )
    return None


def sampling_too_short(evidence: Evidence) -> Finding | None:
    """Look for a rule that stops the fan before its duct sensor has seen the rooms."""
    times = {i.id: i.response_time for i in evidence.house.instruments}
    owner = {p.id: p for p in evidence.house.placements}
    for rule, _ in _rules_in_force(evidence):
        place = owner.get(rule.placement)
        if place is None or place.air_side is AirSide.ROOM:
            continue
        least = least_sampling_seconds(
            evidence.fit.prepared.epochs[-1].house, mixed_volume(evidence.house), times.get(place.instrument, 60.0)
        )
        if rule.sampling_seconds_per_hour >= least:
            continue
        return Finding(
            id="sampling-too-short",
            title="The fan sampled for so short a time that the duct monitor read mostly the duct's own stale air.",
            source="fan rule",
            path=f"rule '{rule.id}' at {rule.placement}",
            test="the reading at the end of a sample equals a room monitor's, seen through the filter",
            evidence_for=("purge of the duct, the monitor's response and an average take longer than the sample",),
            evidence_against=(),
            standing=Standing.SUPPORTED,
            settle="sample longer, or trigger from a room monitor",
            numbers=(
                (
                    "sampling as set",
                    number(
                        rule.sampling_seconds_per_hour,
                        rule.sampling_seconds_per_hour,
                        rule.sampling_seconds_per_hour,
                        "s",
                        "survey",
                    ),
                ),
                (
                    "least sampling on this house",
                    number(least, 0.75 * least, 1.5 * least, "s", "purge, three responses, one average"),
                ),
            ),
        )
    return None


def _rules_in_force(evidence: Evidence) -> list[tuple[RuleSetting, float]]:
    """Return the rules that were set during the record and an instant at which each was."""
    time = evidence.fit.prepared.time
    found = []
    for rule in evidence.house.rule_settings:
        since, until = max(rule.since, float(time[0])), min(rule.until, float(time[-1]))
        if until > since:
            found.append((rule, 0.5 * (since + until)))
    return found


def uneven_draw(evidence: Evidence) -> Finding | None:
    """Look for a drawn schedule in which a kind of day that matters fell all on one side."""
    trial = evidence.house.trial
    if len(trial) < 8:
        return None
    assigned = {date.fromisoformat(d.date).toordinal() - EARLIEST: d.is_on for d in trial}
    on_days = sum(assigned.values())
    off_days = len(assigned) - on_days
    kinds: dict[str, set[int]] = {name: {d for d in assigned if (d + 3) % 7 == w} for w, name in enumerate(WEEKDAYS)}
    kinds["days with a fire"] = _fire_days(evidence) & set(assigned)
    for name, days in kinds.items():
        if len(days) < 3:
            continue
        on = sum(assigned[d] for d in days)
        if on in (0, len(days)):
            return Finding(
                id="uneven-draw",
                title=f"The draw put all {name} on one side, so rule-on and rule-off days are not alike.",
                source="trial",
                path="drawn schedule",
                test="the schedule holds such days on both sides",
                evidence_for=(f"{len(days)} {name}: {on} with the rule on, {len(days) - on} with it off",),
                evidence_against=(),
                standing=Standing.SUPPORTED,
                settle="draw again within blocks: weekdays, weekend days and fire days each split evenly",
                numbers=(
                    ("rule-on days", number(float(on_days), float(on_days), float(on_days), "days", "survey")),
                    ("rule-off days", number(float(off_days), float(off_days), float(off_days), "days", "survey")),
                ),
            )
    return None


WEEKDAYS = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")


def _fire_days(evidence: Evidence) -> set[int]:
    fire_words = [word for word, source in DIARY_WORDS if source is Source.SOLID_FUEL]
    times = [
        entry.start
        for entry in evidence.house.diary
        if any(word in f"{entry.kind} {entry.text}".lower() for word in fire_words)
    ]
    if not times:
        return set()
    return {int(d) for d in local_day(np.array(times, dtype=np.float64), evidence.house.time_zone)}
