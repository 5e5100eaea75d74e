"""CO in the log: every rise, what ran beside it, which limits it crossed, and why a silent alarm proves nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isnan

import numpy as np

from airtally.arrays import Floats
from airtally.estimates import Basis, Estimate
from airtally.house.burners import can_spill, is_fire
from airtally.house.parts import DiaryEntry, House
from airtally.limits import Limit, Status, action_levels, alarm_windows, limits_on
from airtally.quantities import Quantity
from airtally.readings.log import Log, Stream
from airtally.safety.compare import compare, compare_level
from airtally.safety.log_series import Rise, between, daily_baseline, highest_mean, noise, rises
from airtally.safety.parts import Grade, LimitComparison, SafetyFinding, Standing, Topic
from airtally.safety.places import appliances_at, is_outdoors, named, zone_of

LEAST_RISE = 3e-6
"""A rise of CO above the day's baseline that is looked at. [mol/mol] Judgement: three steps of a 1 ppm meter."""
LEAST_DURATION = 300.0
"""Shorter rises are not told from noise. [s] Judgement."""
SPILL_STEP = 15.0
"""Step of a spill temperature that goes with a CO rise. [K] Judgement."""
DIARY_DOUBT = 3600.0
"""Households write times down wrongly by about this much. [s] Judgement."""
MOST_EVENTS = 5
"""Events of one sensor that are shown one by one, highest first."""
USUAL_ENTRY = 10800.0
"""Length of a diary entry without end. [s] Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """What the other records say about the time of a rise."""

    words: tuple[str, ...]
    figures: tuple[tuple[str, Estimate], ...]
    is_appliance_linked: bool
    is_cooking_only: bool


def carbon_monoxide_findings(house: House, log: Log) -> tuple[SafetyFinding, ...]:
    """Return a finding for every CO rise that is linked to an appliance or reaches a level, and one for the rest.

    Linked means: in the zone of a vented appliance or hearth, with a step of a spill temperature, a burner on, a
    fire or an exhaust in the diary. Readings are compared with the sensor's own low quarter of each day.
    """
    found: list[SafetyFinding] = []
    for stream in log.find(Quantity.CO):
        if is_outdoors(house, stream.placement):
            continue
        time, value = log.series(stream)
        if time.size < 3:
            continue
        base = daily_baseline(time, value)
        least = max(LEAST_RISE, 4.0 * noise(value))
        small: list[tuple[Rise, Beside]] = []
        events: list[SafetyFinding] = []
        for rise in rises(time, value, base, least, LEAST_DURATION):
            beside = what_ran_beside(house, log, stream, rise)
            held = limits_crossed(time, value, rise)
            serious = any(one.is_crossed for one in held) or beside.is_appliance_linked
            if serious and not (beside.is_cooking_only and not any(one.is_crossed for one in held)):
                events.append(_event(house, stream, rise, beside, held))
            else:
                small.append((rise, beside))
        found += _with_the_rest_counted(events)
        if small:
            found.append(_small_rises(house, stream, small))
    return tuple(sorted(found, key=lambda one: (one.code != "safety-co-event", -_peak(one), one.start or 0.0)))


def _with_the_rest_counted(events: list[SafetyFinding]) -> list[SafetyFinding]:
    """Return the highest events and the latest; of a longer list the last one shown counts the rest.

    The latest stays because a reading must be later than it to lift anything.
    """
    ranked = sorted(events, key=lambda one: -_peak(one))
    shown, rest = ranked[:MOST_EVENTS], ranked[MOST_EVENTS:]
    if rest:
        latest = max(events, key=lambda one: one.end or 0.0)
        shown = shown if latest in shown else [*shown[:-1], latest]
        more = f"{len(rest)} more rises of this kind were logged"
        shown[-1] = replace(shown[-1], evidence=(*shown[-1].evidence, more))
    return shown


def limits_crossed(time: Floats, value: Floats, rise: Rise) -> tuple[LimitComparison, ...]:
    """Return a rise held against every published level: action levels at its peak, guidelines over their own time."""
    peak = reading_of_logger(rise.peak)
    made = [compare_level(peak, level, "peak") for level in action_levels()]
    working = limits_on("carbon monoxide while working")
    made += [compare(peak, one, "peak while people work there") for one in working]
    for one in limits_on("carbon monoxide"):
        if one.averaging_time is None or one.status is Status.INTERIM or one.averaging_time > 8 * 3600.0:
            continue  # a day's mean says nothing about one rise
        mean = highest_mean(time, value, one.averaging_time, rise.start, rise.end)
        if not isnan(mean):
            made.append(compare(reading_of_logger(mean), one, f"highest mean over {_span(one)}"))
    return tuple(made)


def alarm_sentence(peak: float, duration: float) -> str:
    """Return what an alarm built to its standard does at a level [mol/mol] that lasts [s], from the alarm table."""
    windows = sorted(alarm_windows(), key=lambda one: one.level)
    document = windows[0].edition if windows else ""
    forbidden = next((one for one in windows if peak <= one.level and duration < one.earliest), None)
    if forbidden is not None:
        return (
            f"By {document} a listed alarm must stay silent here: at {forbidden.printed} it may not sound before "
            f"{_long(forbidden.earliest)}. That it was silent says nothing."
        )
    due = [one for one in windows if peak >= one.level and duration >= one.latest]
    if due:
        return f"By {document} a listed alarm should have sounded: at {due[-1].printed} within {_long(due[-1].latest)}."
    return f"By {document} a listed alarm need not sound at this level and length. That it was silent says nothing."


def what_ran_beside(house: House, log: Log, stream: Stream, rise: Rise) -> Beside:
    """Return what the spill sensor, the pressure log, the burner, the diary and the survey say about a rise."""
    words: list[str] = []
    figures: list[tuple[str, Estimate]] = []
    linked = False
    zone = zone_of(house, stream.placement)
    here = appliances_at(house, rise.start, zone)
    vented = [one for one in here if can_spill(one)]
    hearths = [one for one in here if is_fire(one)]
    if vented or hearths:
        words.append("the sensor stands in the zone of: " + ", ".join(named(one) for one in (*vented, *hearths)))
    step = _spill_step(log, rise)
    if step is not None:
        figures += [("spill_before", _kelvin(step[0])), ("spill_peak", _kelvin(step[1]))]
        words.append("the spill temperature stepped up with it")
        linked = True
    suction = _suction(log, rise)
    if suction is not None:
        figures.append(("suction", suction))
        words.append("the zone went further below outdoors than on the day's mean")
    for other in log.find(Quantity.BURNER_STATE):
        time, value = log.series(other)
        if np.any(between(time, value, rise.start - 900.0, rise.end) > 0.5):
            words.append(f"{other.placement}: burner on")
            linked = True
    entries = [entry for entry in house.diary if overlaps(entry, rise)]
    words += [f"diary: {entry.kind}" + (f" ({entry.text})" if entry.text else "") for entry in entries]
    kinds = [f"{entry.kind} {entry.text}".casefold() for entry in entries]
    burns = any(word in kind for kind in kinds for word in ("fire", "stove", "hearth"))
    cooks = any(word in kind for kind in kinds for word in ("cook", "fry", "meal", "dinner", "oven", "toast"))
    return Beside(
        words=tuple(words),
        figures=tuple(figures),
        is_appliance_linked=linked or burns or bool(vented) or (bool(hearths) and not cooks),
        is_cooking_only=cooks and not burns and step is None and not vented,
    )


def _event(
    house: House, stream: Stream, rise: Rise, beside: Beside, held: tuple[LimitComparison, ...]
) -> SafetyFinding:
    zone = zone_of(house, stream.placement)
    spill = " The spill temperature went from {spill_before} to {spill_peak}." if _has(beside, "spill_peak") else ""
    suction = " The zone was {suction} from its mean of that day." if _has(beside, "suction") else ""
    grade = Grade.RESTRICT if beside.is_cooking_only else Grade.STOP
    return SafetyFinding(
        id=f"safety-co-event:{stream.placement}:{rise.start:.0f}",
        code="safety-co-event",
        title=f"CO rose in {zone}",
        sentence=f"From {{start}} CO in {zone} rose for {{minutes}} to {{peak}}, from {{before}}.{spill}{suction} "
        + alarm_sentence(rise.peak, rise.duration),
        figures=(
            ("peak", reading_of_logger(rise.peak)),
            ("before", reading_of_logger(rise.baseline)),
            ("minutes", _seconds(rise.duration)),
            *beside.figures,
        ),
        grade=grade,
        standing=Standing.OPEN,
        place=zone,
        start=rise.start,
        end=rise.end,
        limits=held,
        evidence=beside.words or ("nothing in the log or the diary says what made it",),
        action="Stop using what burned at that time and have a qualified person test it, with the exhausts running. "
        "If CO rises again or anyone feels unwell: everyone out, call the emergency service. The fan rule stops.",
        lifted_by=f"CO in {zone} and spillage time of every vented appliance there, read in the worst state on a later "
        "visit, below the limits",
        topic=Topic.CARBON_MONOXIDE,
    )


def _small_rises(house: House, stream: Stream, small: list[tuple[Rise, Beside]]) -> SafetyFinding:
    zone = zone_of(house, stream.placement)
    largest = max((rise for rise, _ in small), key=lambda rise: rise.peak)
    cooking = sum(beside.is_cooking_only for _, beside in small)
    return SafetyFinding(
        id=f"safety-co-rises:{stream.placement}",
        code="safety-co-rises",
        title=f"Small CO rises in {zone}",
        sentence=f"CO in {zone} rose {len(small)} times, {cooking} of them beside cooking in the diary; the highest "
        "from {start} to {peak}. " + alarm_sentence(largest.peak, largest.duration),
        figures=(("peak", reading_of_logger(largest.peak)),),
        grade=Grade.NOTE if cooking == len(small) else Grade.RESTRICT,
        standing=Standing.OPEN,
        place=zone,
        start=largest.start,
        end=max(rise.end for rise, _ in small),
        evidence=tuple(dict.fromkeys(word for _, beside in small for word in beside.words))[:8],
        action="Find the source: garage, range, a neighbour's flue, outdoor air. Any rise that comes with an appliance "
        "needs a qualified visit.",
        lifted_by=f"CO in {zone} and outdoors, read together on a later visit with every appliance on in turn",
        topic=Topic.CARBON_MONOXIDE,
    )


def _spill_step(log: Log, rise: Rise) -> tuple[float, float] | None:
    """Return spill temperature before and at its highest [K] where it stepped up with a rise."""
    best: tuple[float, float] | None = None
    for stream in log.find(Quantity.SPILL_TEMPERATURE):
        time, value = log.series(stream)
        before = between(time, value, rise.start - 1800.0, rise.start - 300.0)
        during = between(time, value, rise.start - 600.0, rise.end + 600.0)
        if before.size == 0 or during.size == 0:
            continue
        low, high = float(np.median(before)), float(during.max())
        if high - low >= SPILL_STEP and (best is None or high - low > best[1] - best[0]):
            best = (low, high)
    return best


def _suction(log: Log, rise: Rise) -> Estimate | None:
    """Return how far a pressure stream went below its day's median during a rise, if by more than 1 Pa. [Pa]."""
    for stream in log.find(Quantity.PRESSURE_DIFFERENCE):
        time, value = log.series(stream)
        day = between(time, value, rise.start - 43200.0, rise.end + 43200.0)
        during = between(time, value, rise.start - 600.0, rise.end)
        if day.size < 20 or during.size < 3:
            continue
        change = float(np.median(during) - np.median(day))
        if change < -1.0:
            return Estimate(
                value=change, low=change - 0.5, high=change + 0.5, unit="Pa", basis=Basis.MEASURED, source=stream.name
            )
    return None


def overlaps(entry: DiaryEntry, rise: Rise) -> bool:
    """Return whether a diary entry, its times doubted by an hour, was on during a rise."""
    end = entry.end if entry.end is not None else entry.start + USUAL_ENTRY
    return entry.start - DIARY_DOUBT <= rise.end and end + DIARY_DOUBT >= rise.start


def _has(beside: Beside, name: str) -> bool:
    return any(one == name for one, _ in beside.figures)


def _peak(finding: SafetyFinding) -> float:
    return dict(finding.figures)["peak"].value


def reading_of_logger(value: float) -> Estimate:
    """Return a CO logger's reading [mol/mol] with its interval."""
    half = max(1e-6, 0.05 * abs(value))  # one step of a 1 ppm meter, or 5 %; common practice, no source
    return Estimate(
        value=value, low=max(value - half, min(value, 0.0)), high=value + half, unit="mol/mol", basis=Basis.MEASURED,
        source="CO logger",
    )  # fmt: skip


def _seconds(value: float) -> Estimate:
    return Estimate(
        value=value, low=max(value - 120.0, 0.0), high=value + 120.0, unit="s", basis=Basis.MEASURED, source="CO logger"
    )


def _kelvin(value: float) -> Estimate:
    return Estimate(
        value=value, low=value - 2.0, high=value + 2.0, unit="K", basis=Basis.MEASURED, source="spill sensor"
    )


def _span(limit: Limit) -> str:
    return _long(limit.averaging_time or 0.0)


def _long(seconds: float) -> str:
    if seconds >= 2 * 86400.0:
        return f"{seconds / 86400.0:.0f} days"
    if seconds >= 2 * 3600.0:
        return f"{seconds / 3600.0:.0f} h"
    return f"{seconds / 60.0:.0f} min"
