"""Survey tables to instruments, placements, logs, changes, rules, trial days, diary and measures."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date

from airtally.estimates import Estimate, Missing
from airtally.house import problems as code
from airtally.house.entries import Entry
from airtally.house.fields import Field, Form
from airtally.house.gathering import listed, near, read_bounded, show
from airtally.house.moments import is_zone_or_offset
from airtally.house.parts import (
    ALWAYS_BEFORE,
    STILL_THERE,
    Affects,
    AirSide,
    Change,
    DiaryEntry,
    Instrument,
    LogSource,
    Placement,
    PricedMeasure,
    RuleSetting,
    TrialDay,
)
from airtally.house.sections_job import OTHER_GAIN, PARTICLE_GAIN, SETTINGS
from airtally.quantities import Quantity
from airtally.units import Kind, QuantityTextError, read_quantity, shown_text

PARTICLES = tuple(q for q in Quantity if q.value.startswith(("pm", "count")))
ROLES = ("time", "date", "start", "end", "kind", "device", "name", "value", "unit", "ignore")
RESERVED_CHANGES = ("start",)
"""Id of the phase before the first change."""
MOST_COLUMNS = 200
_EARLY = re.compile(r"(\d{1,2}):(\d{2})\s+to\s+(\d{1,2}):(\d{2})(?:\s+below\s+(.+))?")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_POSSIBLE = {
    Kind.FLOW: "0 to 6000 cfm",
    Kind.FRACTION: "0 to 100 %",
    Kind.POWER: "0 to 3000 W",
    Kind.PRESSURE: "0 to 3 inH2O",
}


def build_instrument(entry: Entry) -> Instrument | None:
    """Return an instrument, or None where it has no usable id."""
    identifier = entry.id()
    if entry.is_broken:
        return None
    quantities = entry.words("quantities", Quantity)
    has_particles = not quantities or any(q in PARTICLES for q in quantities)
    gain = entry.quantity("gain", PARTICLE_GAIN if has_particles else OTHER_GAIN)
    response = entry.quantity("response_time")
    if gain is None or response is None:
        return None
    return Instrument(id=identifier, gain=gain, quantities=quantities, response_time=response.value)


def build_placement(entry: Entry, instruments: tuple[str, ...], zones: tuple[str, ...]) -> Placement | None:
    """Return a placement, or None where it cannot be used."""
    identifier = entry.id()
    instrument = entry.reference("instrument", instruments)
    side = entry.word("air_side", AirSide, AirSide.ROOM)
    zone = entry.reference("zone", zones)
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    if side is AirSide.ROOM and zone is None and not entry.is_broken:
        entry.is_broken = True
        entry.problem(
            code.KEY_MISSING, "zone", "a room's air without the room", "the id of a zone", "Write which room it was in."
        )
    if side not in (AirSide.ROOM, AirSide.EQUIPMENT):
        entry.unused("zone", "air_side = room or equipment")
        zone = None
    if entry.is_broken or instrument is None:
        return None
    return Placement(id=identifier, instrument=instrument, air_side=side, zone=zone, since=since, until=until)


def build_log(entry: Entry, placements: tuple[str, ...], home_zone: str) -> LogSource | None:
    """Return a log's declaration, or None where it cannot be used."""
    file = entry.text("file")
    placement = entry.reference("placement", placements)
    if file and (file.startswith(("/", "\\", "~")) or ":" in file or ".." in re.split(r"[/\\]", file) or "\0" in file):
        entry.is_broken = True
        entry.problem(
            code.LOG_FILE_OUTSIDE,
            "file",
            f"{show(file)} points outside the job's folder",
            'a path inside it, such as "logs/living.csv"',
            "Copy the file into the folder.",
        )
    zone = entry.text("time_zone", home_zone)
    if not is_zone_or_offset(zone):
        entry.problem(
            code.TIME_ZONE_UNKNOWN,
            "time_zone",
            f"{show(zone)} is no time zone known here; the home's is taken",
            'an IANA name, "UTC" or an offset such as "UTC-7"',
            "Check the spelling: continent/city.",
        )
        zone = home_zone
    interval = entry.written("interval")
    begins = entry.instant("begins")
    if entry.is_broken or placement is None:
        return None
    return LogSource(
        file=file,
        placement=placement,
        time_zone=zone,
        stamps=entry.choice("stamps", "end"),
        interval=None if interval is None else interval.value,
        columns=_pairs(entry, "columns", _is_column),
        day_first=entry.fact("day_first") if entry.has("day_first") else None,
        begins=begins,
        devices=tuple(pair for pair in _pairs(entry, "devices") if _is_placement(entry, pair, placements)),
    )


def _pairs(
    entry: Entry, key: str, check: Callable[[Entry, str, str], bool] | None = None
) -> tuple[tuple[str, str], ...]:
    """Return a table of text to text as pairs; others are reported."""
    value = entry.table.get(key)
    if value is None:
        return ()
    if not isinstance(value, Mapping) or len(value) > MOST_COLUMNS:
        entry.problem(
            code.WRONG_FORM, key, f"{show(value)} is written", "a table in braces", '{ "dust" = "pm25 ug/m3" }'
        )
        return ()
    found = []
    for word, meaning in value.items():
        if not isinstance(meaning, str):
            entry.problem(
                code.WRONG_FORM, f"{key}.{word}", f"{show(meaning)} is written", "text", "Put it in quotation marks."
            )
        elif check is None or check(entry, word, meaning):
            found.append((word, meaning))
    return tuple(found)


def _is_column(entry: Entry, word: str, meaning: str) -> bool:
    """Return whether a column's meaning begins with a quantity or is a role; else report it."""
    first = meaning.split()[0] if meaning.split() else ""
    known = [*(q.value for q in Quantity), *ROLES]
    if first in known:
        return True
    entry.problem(
        code.CHOICE_UNKNOWN,
        f"columns.{word}",
        f"{show(meaning)} begins with no quantity known here; this column is left to the reader",
        f'a quantity and its unit, such as "pm25 ug/m3", or one of {", ".join(ROLES)}',
        near(first, known) or "The quantities are listed in docs/survey.md.",
    )
    return False


def _is_placement(entry: Entry, pair: tuple[str, str], placements: tuple[str, ...]) -> bool:
    """Return whether a device's placement exists; else report it."""
    if pair[1] in placements:
        return True
    entry.problem(
        code.REFERENCE_UNKNOWN,
        f"devices.{pair[0]}",
        f"there is no placement {show(pair[1])}",
        f"one of {listed(placements)}",
        near(pair[1], placements) or "Correct it, or add the placement.",
    )
    return False


def build_change(entry: Entry) -> Change | None:
    """Return a dated change, or None where it cannot be used."""
    identifier = entry.id(reserved=RESERVED_CHANGES)
    time = entry.instant("time")
    ends = entry.instant("ends")
    affects = entry.words("affects", Affects)
    if time is not None and ends is not None and ends < time:
        entry.problem(
            code.DATES_REVERSED, "ends", "the works end before they begin", "ends after time", "Check both dates."
        )
        ends = None
    if entry.is_broken or time is None:
        return None
    return Change(
        id=identifier,
        time=time,
        name=entry.text("name", identifier),
        affects=affects,
        begins_phase=entry.fact("begins_phase"),
        ends=ends,
        expects_same_air=entry.fact("expects_same_air"),
    )


def build_rule(entry: Entry, placements: tuple[str, ...]) -> RuleSetting | None:
    """Return a fan rule as set, or None where it cannot be used."""
    identifier = entry.id()
    placement = entry.reference("placement", placements)
    on_above, off_below = entry.quantity("on_above"), entry.quantity("off_below")
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    if on_above is not None and off_below is not None and off_below.value >= on_above.value:
        entry.problem(
            code.THRESHOLDS_REVERSED,
            "off_below",
            "the fan would stop at or above the level that starts it",
            "off_below lower than on_above",
            "Check both thresholds; the rule is kept as written.",
        )
    if entry.is_broken or placement is None or on_above is None or off_below is None:
        return None
    sampling, minimum = entry.quantity("sampling_per_hour"), entry.quantity("minimum_run")
    maximum, room_on = entry.written("maximum_run"), entry.written("room_on")
    return RuleSetting(
        id=identifier,
        placement=placement,
        on_above=on_above.value,
        off_below=off_below.value,
        sampling_seconds_per_hour=0.0 if sampling is None else sampling.value,
        minimum_run=0.0 if minimum is None else minimum.value,
        maximum_run=None if maximum is None else maximum.value,
        early_run=_early_run(entry),
        room_on=None if room_on is None else room_on.value,
        since=since,
        until=until,
    )


def _early_run(entry: Entry) -> str | None:
    """Return the daily window with its outdoor limit in kelvin, or None where there is none."""
    text = entry.text("early_run")
    if not text:
        return None
    found = _EARLY.fullmatch(" ".join(text.split()))
    hours = [int(h) for h in found.groups()[:4]] if found else []
    limit: Estimate | Missing | None = None
    doubt = ""
    if found and found.group(5):
        try:
            limit = read_quantity(found.group(5), Kind.TEMPERATURE, source=entry.path("early_run"))
        except QuantityTextError as error:
            doubt = f" ({error.found})"
    if not hours or doubt or isinstance(limit, Missing) or max(hours[0], hours[2]) > 23 or max(hours[1], hours[3]) > 59:
        entry.problem(
            code.WRONG_FORM,
            "early_run",
            f"{show(text)} is no daily window{doubt}; it is not used",
            '"05:30 to 07:00" or "05:30 to 07:00 below 35 degF"',
            "Write local hours, and the outdoor temperature with its unit.",
        )
        return None
    window = f"{hours[0]:02d}:{hours[1]:02d} to {hours[2]:02d}:{hours[3]:02d}"
    return window if limit is None else f"{window} below {limit.value:.2f} K"


def build_trial(entry: Entry) -> tuple[TrialDay, ...]:
    """Return the drawn days in order; a day listed twice is reported and left out."""
    on, off = _days(entry, "on"), _days(entry, "off")
    twice = {day for day in {*on, *off} if (on + off).count(day) > 1}
    for day in sorted(twice):
        entry.problem(
            code.TRIAL_DAY_TWICE,
            "on",
            f"{day} is listed more than once",
            "each day once",
            "Correct the draw as it was made.",
        )
    days = [TrialDay(date=d, is_on=True) for d in on] + [TrialDay(date=d, is_on=False) for d in off]
    return tuple(sorted((d for d in days if d.date not in twice), key=lambda d: d.date))


def _days(entry: Entry, key: str) -> list[str]:
    """Return a list of local dates in ISO form."""
    value = entry.table.get(key, [])
    if not isinstance(value, list):
        entry.problem(
            code.WRONG_FORM, key, f"{show(value)} is written", 'a list of dates such as ["2025-10-13"]', "Use brackets."
        )
        return []
    found = []
    for item in value:
        text = shown_text(str(item)) if not isinstance(item, (list, Mapping, int, float)) else ""
        if _DAY.fullmatch(text) and _is_calendar_day(text):
            found.append(text)
        else:
            entry.problem(
                code.DATE_UNREADABLE, key, f"{show(item)} is no day of the calendar", "dates as 2025-10-13", "Check it."
            )
    return found


def _is_calendar_day(text: str) -> bool:
    """Return whether an ISO date exists."""
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def build_diary(entry: Entry) -> DiaryEntry | None:
    """Return a diary entry, or None where it cannot be used."""
    start, end = entry.instant("start"), entry.instant("end")
    kind = entry.choice("kind", "other")
    if start is not None and end is not None and end < start:
        entry.problem(
            code.DATES_REVERSED,
            "end",
            "it ends before it starts",
            "end after start",
            "Diaries have slips; the end is not used.",
        )
        end = None
    if start is None:
        return None
    return DiaryEntry(start=start, end=end, kind=kind, text=entry.text("text"))


def build_measure(entry: Entry) -> PricedMeasure | None:
    """Return a measure with its price range, or None where it cannot be used."""
    identifier = entry.id()
    kind = entry.text("kind")
    stage = entry.count("stage", 1.0, is_whole=True)
    if entry.is_broken:
        return None
    price = entry.quantity("price")
    return PricedMeasure(
        id=identifier,
        kind=kind,
        name=entry.text("name", identifier),
        stage=int(stage or 1),
        price_low=float("nan") if price is None else price.low,
        price_high=float("nan") if price is None else price.high,
        settings=_settings(entry),
    )


def _settings(entry: Entry) -> tuple[tuple[str, float | str], ...]:
    """Return a measure's sizes in SI; unknown ones are reported."""
    value = entry.table.get("settings", {})
    if not isinstance(value, Mapping):
        entry.problem(
            code.WRONG_FORM, "settings", f"{show(value)} is written", "a table in braces", '{ flow = "60 cfm" }'
        )
        return ()
    found: list[tuple[str, float | str]] = []
    for key, item in value.items():
        where = f"settings.{key}"
        if key not in SETTINGS:
            entry.problem(
                code.KEY_UNKNOWN, where, "measures have no such setting", f"one of {', '.join(SETTINGS)}",
                near(key, SETTINGS) or "Take it out.",
            )  # fmt: skip
            continue
        kind = SETTINGS[key]
        if not isinstance(item, str):
            entry.problem(
                code.WRONG_FORM, where, f"{show(item)} is written", "text", "Put it in quotation marks, with its unit."
            )
        elif kind is None:
            found.append((key, item))
        else:
            described = Field(key=key, form=Form.QUANTITY, kind=kind, meaning="", possible=_POSSIBLE[kind])
            estimate = read_bounded(item, described, kind, entry.path(where), entry.gathering)
            if estimate is not None:
                found.append((key, estimate.value))
    return tuple(found)
