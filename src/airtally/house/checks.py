"""Checks across the entries of one survey, and of its dates against what the logs cover."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Protocol
from zoneinfo import ZoneInfo

from airtally.errors import Problem, Severity
from airtally.house import problems as code
from airtally.house.gathering import listed, show
from airtally.house.parts import NO_ONE, AirHandler, House, ReturnLeak, ZoneKind
from airtally.quantities import Quantity
from airtally.units import Kind, to_field

BUFFERS = (ZoneKind.GARAGE, ZoneKind.CRAWLSPACE, ZoneKind.ATTIC)
MOST_DIFFERENCE = 0.25
MOST_LEAK = 0.6
"""Return leaks that together draw more of the handler's flow are doubted; judgement. [-]"""
DAY = 86400.0


class _Dated(Protocol):
    """A part that came or went."""

    @property
    def since(self) -> float: ...

    @property
    def until(self) -> float: ...


def check_house(house: House, file: str) -> list[Problem]:
    """Return what the survey's entries, each readable, say against each other.

    Parameters
    ----------
    house : House
        As read.
    file : str
        Its name, for messages.
    """
    found = [*_rooms(house, file), *_one_after_another(house, file), *_changes(house, file)]
    found += [
        *_references_back(house, file),
        *_shared_flues(house, file),
        *_rules(house, file),
        *_leaks(house, file),
        *_areas(house, file),
    ]
    return found


def _problem(
    name: str, where: str, found: str, wanted: str, remedy: str, severity: Severity = Severity.WARNING
) -> Problem:
    return Problem(code=name, where=where, found=found, wanted=wanted, remedy=remedy, severity=severity)


def _rooms(house: House, file: str) -> list[Problem]:
    """Report a house that nobody lives in."""
    if any(zone.is_occupied for zone in house.zones):
        return []
    return [
        _problem(
            code.NO_ROOMS,
            f"{file}, zone",
            "no zone with is_occupied = true could be read",
            "at least one [[zone]] that is lived in",
            "Add the rooms: one zone for spaces that mix.",
            Severity.FATAL,
        )
    ]


def _one_after_another(house: House, file: str) -> list[Problem]:
    """Report parts that exclude each other and overlap, or leave a time without one."""
    handler = house.air_handler
    groups: list[tuple[str, Sequence[_Dated], bool]] = [("envelope", house.envelopes, True)]
    if handler is not None:
        groups.append(("air_handler.filter", handler.filters, True))
        for name in dict.fromkeys(speed.name for speed in handler.speeds):
            groups.append((f"air_handler.speed[{name}]", [s for s in handler.speeds if s.name == name], True))
    groups.append(("rule", house.rule_settings, False))
    for instrument in house.instruments:
        places = [p for p in house.placements if p.instrument == instrument.id]
        groups.append((f"placement of {instrument.id}", places, False))
    return [problem for where, parts, wants in groups for problem in _follow(f"{file}, {where}", parts, house, wants)]


def _follow(where: str, parts: Sequence[_Dated], house: House, wants_no_gap: bool) -> list[Problem]:
    """Return overlaps and gaps in a row of dated parts."""
    found = []
    ordered = sorted(parts, key=lambda part: (part.since, part.until))
    for earlier, later in pairwise(ordered):
        if later.since < earlier.until:
            found.append(
                _problem(
                    code.DATES_OVERLAP,
                    where,
                    f"two entries are there at once from {_clock(later.since, house)}",
                    "the earlier one's until = the later one's since",
                    "Date the change.",
                )
            )
        elif wants_no_gap and later.since > earlier.until:
            found.append(
                _problem(
                    code.DATES_GAP,
                    where,
                    f"nothing is there from {_clock(earlier.until, house)} to {_clock(later.since, house)}",
                    "one entry following the other",
                    "Close the gap, unless there was none of it then.",
                    Severity.NOTE,
                )
            )
    return found


def _changes(house: House, file: str) -> list[Problem]:
    """Report works that run into the next change that begins a phase."""
    begin = [change for change in house.changes if change.begins_phase]
    return [
        _problem(
            code.CHANGES_OUT_OF_ORDER,
            f"{file}, change[{later.id}]",
            f"it begins at {_clock(later.time, house)}, before the works of {earlier.id} end",
            "phases that do not overlap",
            "Correct a date, or make one change of both.",
        )
        for earlier, later in pairwise(begin)
        if later.time < (earlier.ends or earlier.time) or later.time == earlier.time
    ]


def _references_back(house: House, file: str) -> list[Problem]:
    """Report instruments without placement and placements without log."""
    placed = {placement.instrument for placement in house.placements}
    logged = {log.placement for log in house.logs} | {place for log in house.logs for _, place in log.devices}
    idle = [f"instrument {i.id}" for i in house.instruments if i.id not in placed]
    idle += [f"placement {p.id}" for p in house.placements if p.id not in logged] if house.logs else []
    if not idle:
        return []
    return [
        _problem(
            code.PART_UNUSED,
            file,
            f"no reading belongs to {listed(idle)}",
            "a placement for each instrument, a log for each placement",
            "Add what is missing, or leave it: nothing is computed from them.",
            Severity.NOTE,
        )
    ]


def _shared_flues(house: House, file: str) -> list[Problem]:
    """Report appliances that share a flue with nothing the survey knows, or with themselves."""
    names = [appliance.id for appliance in house.appliances]
    return [
        _problem(
            code.REFERENCE_UNKNOWN,
            f"{file}, appliance[{one.id}].shares_flue_with",
            f"there is no other appliance {show(one.shares_flue_with)}",
            f"{NO_ONE}, or one of {listed([name for name in names if name != one.id])}",
            "Correct it; until then every limit that may apply is held against it.",
        )
        for one in house.appliances
        if one.shares_flue_with not in (None, NO_ONE, *(name for name in names if name != one.id))
    ]


def _rules(house: House, file: str) -> list[Problem]:
    """Report rules whose sensor does not measure PM2.5."""
    instruments = {i.id: i for i in house.instruments}
    placements = {p.id: p for p in house.placements}
    found = []
    for rule in house.rule_settings:
        placement = placements.get(rule.placement)
        instrument = instruments.get(placement.instrument) if placement is not None else None
        if instrument is not None and instrument.quantities and Quantity.PM25 not in instrument.quantities:
            found.append(
                _problem(
                    code.RULE_SENSOR,
                    f"{file}, rule[{rule.id}].placement",
                    f"{instrument.id} does not measure pm25",
                    "a rule on an instrument that does",
                    "Correct the placement, or the instrument's quantities.",
                )
            )
    return found


def _leaks(house: House, file: str) -> list[Problem]:
    """Report return leaks that add up to too much, and silence about them where there is a buffer space."""
    handler = house.air_handler
    if handler is None:
        return []
    found = [
        _problem(
            code.SHARES_TOO_LARGE,
            f"{file}, air_handler.return_leak",
            f"the return leaks add up to {100 * total:.0f} % of handler flow from {_clock(time, house)}",
            f"at most {100 * MOST_LEAK:.0f} % together",
            "Check the shares and their dates.",
        )
        for time, total in _leak_totals(handler)
        if total > MOST_LEAK
    ]
    buffers = [zone.id for zone in house.zones if zone.kind in BUFFERS]
    if buffers and not handler.return_leaks:
        found.append(
            _problem(
                code.RETURN_LEAK_OPEN,
                f"{file}, air_handler.return_leak",
                f"no return leak is listed; none is assumed from {listed(buffers)}",
                'an entry, with fraction = "not measured" if need be, or fraction = "0 %"',
                "Look whether return ducts run through these spaces.",
            )
        )
    return found


def _leak_totals(handler: AirHandler) -> list[tuple[float, float]]:
    """Return each time at which a return leak begins, and the sum of all leaks then."""

    def total(leaks: Iterable[ReturnLeak], time: float) -> float:
        return sum(leak.fraction.value for leak in leaks if leak.since <= time < leak.until)

    times = sorted({leak.since for leak in handler.return_leaks})
    return [(time, total(handler.return_leaks, time)) for time in times]


def _areas(house: House, file: str) -> list[Problem]:
    """Report an envelope whose floor area the zones contradict."""
    inside = [zone for zone in house.zones if zone.kind not in BUFFERS]
    areas = [zone.floor_area.value for zone in inside if zone.floor_area is not None]
    if not areas or len(areas) < len(inside):
        return []
    total, _ = to_field(sum(areas), Kind.AREA)
    found = []
    for envelope in house.envelopes:
        written, _ = to_field(envelope.floor_area.value, Kind.AREA)
        if abs(written - total) > MOST_DIFFERENCE * max(written, total):
            found.append(
                _problem(
                    code.AREAS_DIFFER,
                    f"{file}, envelope.floor_area",
                    f"{written:.0f} ft2 against {total:.0f} ft2 over rooms and basements",
                    "the two within 25 %",
                    "Check which spaces the blower door tested.",
                    Severity.NOTE,
                )
            )
    return found


def check_reach(house: House, first: float, last: float, file: str = "survey.toml") -> tuple[Problem, ...]:
    """Return the dated entries that lie outside what the logs cover.

    Parameters
    ----------
    house : House
        As read.
    first, last : float
        First and last reading of the job. [s, POSIX UTC]
    file : str, optional
        The survey's name, for messages.

    Returns
    -------
    problems : tuple of Problem
        One for each change, trial day, rule or diary entry more than a day outside.
    """
    dated = [(f"change[{c.id}].time", c.time) for c in house.changes]
    dated += [(f"rule[{r.id}].since", r.since) for r in house.rule_settings if r.since != float("-inf")]
    dated += [(f"diary[{i}].start", entry.start) for i, entry in enumerate(house.diary, start=1)]
    zone = ZoneInfo(house.time_zone)
    for day in house.trial:
        noon = datetime.fromisoformat(f"{day.date}T12:00").replace(tzinfo=zone)
        dated.append(("trial", noon.timestamp()))
    return tuple(
        _problem(
            code.DATE_OUTSIDE_LOGS,
            f"{file}, {where}",
            f"{_clock(time, house)} lies outside the logs ({_clock(first, house)} to {_clock(last, house)})",
            "dates inside what was logged",
            "Check year, month and day; it is used as written.",
            Severity.NOTE if where.startswith(("diary", "trial")) else Severity.WARNING,
        )
        for where, time in dated
        if not first - DAY <= time <= last + DAY
    )


def _clock(time: float, house: House) -> str:
    """Return an instant as local wall time in words."""
    if time == float("-inf"):
        return "the beginning"
    if time == float("inf"):
        return "the end"
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=time)
    return f"{moment.astimezone(ZoneInfo(house.time_zone)):%Y-%m-%d %H:%M}"
