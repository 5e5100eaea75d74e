"""What the household wrote down, as evidence: alarms, smell of gas, feeling unwell, smoke from a fire.

A word in a diary is no reading. It raises a question that a visit answers; it never says what made anyone unwell.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from airtally.estimates import Estimate
from airtally.house.parts import DiaryEntry, House
from airtally.quantities import Quantity
from airtally.readings.log import Log
from airtally.safety.carbon_monoxide import reading_of_logger
from airtally.safety.parts import Grade, SafetyFinding, Standing, Topic
from airtally.safety.places import is_outdoors
from airtally.safety.states import in_order, is_worst_state, readings_of
from airtally.visits.parts import Answer, Visit

MOST_SHOWN = 4
"""Entries of one kind that are quoted. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Telling:
    """A kind of entry. ``gate`` or ``check`` is the question of a later visit that answers it."""

    title: str
    pattern: re.Pattern[str]
    grade: Grade
    question: str
    asks_for_co: bool
    action: str
    is_of_fires: bool = False
    """Whether the entry must also speak of a fire or stove."""


_ALARM = re.compile(
    r"\b(?:co|carbon monoxide)\b[^.;]*\balarm\b[^.;]*\b(?:sound|soundin|rang|ringing|went off|going off|beep|tripped)"
    r"|\balarm\b[^.;]*\b(?:sounded|rang|went off|going off)\b",
    re.IGNORECASE,
)
ALARM = Telling(
    title="The household wrote of an alarm that sounded",
    pattern=_ALARM,
    grade=Grade.STOP,
    question="alarm_sounding",
    asks_for_co=True,
    action="Ask which alarm and what ran. If it sounds again: everyone out, call the emergency service from outdoors.",
)
GAS = Telling(
    title="The household wrote of a smell of gas",
    pattern=re.compile(
        r"\b(?:smell\w*|smelt|odou?r)\b[^.;]*\bgas\b|\bgas (?:smell|leak)|\brotten eggs?\b", re.IGNORECASE
    ),
    grade=Grade.STOP,
    question="gas_smell",
    asks_for_co=False,
    action="If it is there now: everyone out, touch no switch, call the gas utility from outdoors.",
)
UNWELL = Telling(
    title="The household wrote of feeling unwell",
    pattern=re.compile(r"\b(?:headaches?|nausea|nauseous|dizzy|dizziness|drowsy|faint(?:ed)?)\b", re.IGNORECASE),
    grade=Grade.RESTRICT,
    question="symptoms_clear_outdoors",
    asks_for_co=True,
    action="Ask whether it clears outdoors; if it does: everyone out, call the emergency service. What made it is for a "
    "doctor to say.",
)
SMOKE = Telling(
    title="The household wrote of smoke or soot from a fire",
    pattern=re.compile(
        r"\b(?:smok(?:e|y|ed|ing)|soot\w*|back-?draft\w*|puff(?:s|ed)? back|roll(?:s|ed)? out)\b", re.IGNORECASE
    ),
    grade=Grade.RESTRICT,
    question="smoke_smell_from_fire",
    asks_for_co=False,
    action="Light no fire until a chimney professional has looked at it.",
    is_of_fires=True,
)
_SMOKE_ALARM = re.compile(r"\bsmoke (?:alarm|detector)\b(?!.*\b(?:co|carbon monoxide)\b)", re.IGNORECASE)
"""A smoke alarm alone is asked about; it is more often a pan than a flue."""
_FIRES = re.compile(r"\b(?:fire|fires|fireplace|stove|hearth|chimney|furnace|boiler|water heater)\b", re.IGNORECASE)
_ELSEWHERE = re.compile(
    r"\b(?:wild ?fires?|forest fires?|outdoors?|outside|neighbou?rs?|barbecue|grill)\b", re.IGNORECASE
)


def diary_findings(house: House, visits: tuple[Visit, ...], log: Log) -> tuple[SafetyFinding, ...]:
    """Return what the household's own words raise, with what the CO log read at that time; a later visit answers it."""
    return (
        *_told(house, visits, log, ALARM, "safety-diary-alarm"),
        *_told(house, visits, log, GAS, "safety-diary-gas"),
        *_told(house, visits, log, UNWELL, "safety-diary-unwell"),
        *_told(house, visits, log, SMOKE, "safety-diary-smoke"),
    )


def tells(telling: Telling, entry: DiaryEntry) -> bool:
    """Return whether an entry speaks of a matter; of smoke only where a fire indoors is meant."""
    if not telling.pattern.search(entry.text):
        return False
    if not telling.is_of_fires:
        return True
    indoors = entry.kind == "fire" or bool(_FIRES.search(entry.text))
    return indoors and not _ELSEWHERE.search(entry.text)


def _told(house: House, visits: tuple[Visit, ...], log: Log, telling: Telling, code: str) -> tuple[SafetyFinding, ...]:
    """Return one finding for all entries of a kind, none where nobody wrote of it."""
    entries = [one for one in house.diary if tells(telling, one)]
    if not entries:
        return ()
    last = max(entries, key=lambda one: one.start)
    answering = _answered(house, visits, telling, last)
    peak = highest_co(house, log, last)
    said = " CO was not logged then." if peak is None else " The CO log read {co} at most within an hour of it."
    more = f" {len(entries)} entries speak of it." if len(entries) > 1 else ""
    return (
        SafetyFinding(
            id=f"{code}:house",
            code=code,
            title=telling.title,
            sentence=f"The diary has it at {{start}}; its times may be wrong.{more}{said} No cause is named here.",
            figures=() if peak is None else (("co", peak),),
            grade=Grade.RESTRICT if all(_SMOKE_ALARM.search(one.text) for one in entries) else telling.grade,
            standing=Standing.OPEN if answering is None else Standing.DONE,
            place="house",
            start=last.start,
            end=last.end,
            evidence=tuple(f"diary, {one.kind}: {one.text}" for one in entries[-MOST_SHOWN:]),
            action=telling.action,
            lifted_by=f"{telling.question} answered no on a later visit"
            + (", and CO read there in the worst state" if telling.asks_for_co else ""),
            done_on=answering.time if answering is not None else None,
            done_by=answering.by if answering is not None else "",
            topic=Topic.CARBON_MONOXIDE if telling.asks_for_co else Topic.COMBUSTION,
        ),
    )


def _answered(house: House, visits: tuple[Visit, ...], telling: Telling, last: DiaryEntry) -> Visit | None:
    """Return the later visit that asked and got a no, with CO read in the worst state where that is wanted."""
    for visit in reversed(in_order(visits)):
        gates = dict(visit.gates)
        answer = gates[telling.question] if telling.question in gates else visit.check(telling.question)
        if visit.time < (last.end or last.start) or answer is not Answer.NO:
            continue
        read = [
            one
            for _, one in readings_of((visit,), "co_ambient")
            if one.place != "outdoors" and is_worst_state(one.state, house)
        ]
        if read or not telling.asks_for_co:
            return visit
    return None


def highest_co(house: House, log: Log, entry: DiaryEntry, doubt: float = 3600.0) -> Estimate | None:
    """Return the highest indoor CO logged around an entry [mol/mol], None where no logger read. ``doubt`` in [s]."""
    highest: Estimate | None = None
    end = entry.end if entry.end is not None else entry.start
    for stream in log.find(Quantity.CO):
        if is_outdoors(house, stream.placement):
            continue
        time, value = log.series(stream)
        near = value[(time >= entry.start - doubt) & (time <= end + doubt)]
        if near.size and (highest is None or float(near.max()) > highest.value):
            highest = reading_of_logger(float(near.max()))
    return highest
