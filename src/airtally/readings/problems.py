"""Codes of every doubt that the readings room can raise, each with its one-line meaning."""

from __future__ import annotations

from collections.abc import Sequence

from airtally.errors import Problem, Severity

FILE_MISSING = "log-file-missing"
FILE_EMPTY = "log-file-empty"
ARCHIVE_UNREADABLE = "log-archive-unreadable"
SAME_FILE_TWICE = "log-same-file-twice"
ENCODING_ASSUMED = "log-encoding-assumed"
HEADER_MISSING = "log-header-missing"
HEADER_REPEATED = "log-header-repeated"
COLUMNS_CHANGED = "log-columns-changed"
ROW_WIDTH = "log-row-width"
DECIMAL_UNSURE = "log-decimal-unsure"
TIME_COLUMN_MISSING = "log-time-column-missing"
QUANTITY_MISSING = "log-quantity-missing"
COLUMN_NOT_FOUND = "log-column-not-found"
COLUMN_STATEMENT = "log-column-statement"
COLUMNS_CLASH = "log-columns-clash"
NAME_UNKNOWN = "log-name-unknown"
UNIT_UNKNOWN = "log-unit-unknown"
UNIT_ASSUMED = "log-unit-assumed"
QUANTITY_ASSUMED = "log-quantity-assumed"
CELL_UNREADABLE = "log-cell-unreadable"
CELL_CENSORED = "log-cell-censored"
TIME_UNREADABLE = "log-time-unreadable"
DATE_MISSING = "log-date-missing"
DATE_ORDER_UNSURE = "log-date-order-unsure"
START_NOT_STATED = "log-start-not-stated"
ZONE_UNKNOWN = "log-zone-unknown"
CLOCK_FOLD = "log-clock-fold"
CLOCK_GAP = "log-clock-gap"
INTERVAL_NOT_STATED = "log-interval-not-stated"
OUT_OF_ORDER = "log-out-of-order"
DEVICE_CHANGED = "log-device-changed"
EVENT_WITHOUT_END = "log-event-without-end"
EVENT_BACKWARDS = "log-event-backwards"
EVENTS_OVERLAP = "log-events-overlap"
OUTSIDE_PLACEMENT = "log-outside-placement"
DUPLICATES_DISAGREE = "log-duplicates-disagree"
DUPLICATES = "log-duplicates"
HELD_VALUES = "log-held-values"
STUCK_CHANNEL = "log-stuck"
RAILED_CHANNEL = "log-railed"
IMPOSSIBLE_VALUES = "log-impossible"
CENSORED_FLOOR = "log-floor"
GAPS = "log-gaps"
WARMING_UP = "log-warming-up"
HUMID_AIR = "log-humid"
FAN_STATE_UNKNOWN = "log-fan-state-unknown"

PROBLEMS: dict[str, str] = {
    FILE_MISSING: "A log named in the survey could not be opened.",
    FILE_EMPTY: "The file holds no table row.",
    ARCHIVE_UNREADABLE: "A packed file could not be unpacked, or holds more than one table.",
    SAME_FILE_TWICE: "Two logs are the same file, byte for byte, at the same placement.",
    ENCODING_ASSUMED: "The text is not valid UTF-8; it was read as Windows-1252.",
    HEADER_MISSING: "No line names the columns; they were numbered from 1.",
    HEADER_REPEATED: "The header line occurs again inside the table; it was skipped and counted.",
    COLUMNS_CHANGED: "A second, different header line occurs inside the table; rows below follow it.",
    ROW_WIDTH: "Rows have fewer or more cells than the header; the cells concerned were set aside.",
    DECIMAL_UNSURE: "A comma in the numbers may be a decimal sign or group thousands.",
    TIME_COLUMN_MISSING: "No column holds the time; no reading of the file can be placed.",
    QUANTITY_MISSING: "No column was recognised as a quantity; nothing of the file is used.",
    COLUMN_NOT_FOUND: "A column stated in the survey does not occur in the file.",
    COLUMN_STATEMENT: "What the survey states for a column is not a known quantity, unit or role.",
    COLUMNS_CLASH: "Two columns give the same quantity at the same placement; one was used.",
    NAME_UNKNOWN: "Rows of a long table name something that is not a known quantity.",
    UNIT_UNKNOWN: "The unit written in the file does not fit the quantity; the column was set aside.",
    UNIT_ASSUMED: "The file states no unit; the one that fits the values was assumed.",
    QUANTITY_ASSUMED: "The column's word is loose; the quantity was assumed.",
    CELL_UNREADABLE: "Cells are not numbers; they were set aside.",
    CELL_CENSORED: "Cells say 'below' or 'above' a limit; the limit itself was read.",
    TIME_UNREADABLE: "Stamps could not be read as an instant; their rows were set aside.",
    DATE_MISSING: "Stamps hold a time of day but no date.",
    DATE_ORDER_UNSURE: "Day and month cannot be told apart; the rows wait for the survey to say.",
    START_NOT_STATED: "The file counts from its own start, and the start is not stated.",
    ZONE_UNKNOWN: "The time zone stated for the file is not known.",
    CLOCK_FOLD: "The clock went back: one hour of wall time occurs twice.",
    CLOCK_GAP: "The clock went forward: stamps lie in an hour that did not exist.",
    INTERVAL_NOT_STATED: "Stamps mark an end of their average but its length is unknown; they were left as they are.",
    OUT_OF_ORDER: "Rows are not in order of time; they were sorted.",
    DEVICE_CHANGED: "Another device writes from some row on; that is a new placement.",
    EVENT_WITHOUT_END: "A start has no end; it was set aside.",
    EVENT_BACKWARDS: "An event ends before it starts; it was set aside.",
    EVENTS_OVERLAP: "Two events of one device overlap; they were joined.",
    OUTSIDE_PLACEMENT: "Readings lie outside the dates of their placement.",
    DUPLICATES_DISAGREE: "One instant has two different readings; the first was kept.",
    DUPLICATES: "Readings occur more than once; each was kept once.",
    HELD_VALUES: "The logger repeats each reading for a while; only its first row counts.",
    STUCK_CHANNEL: "A channel did not change for very long.",
    RAILED_CHANNEL: "Readings lie flat at the top of the scale; the truth was higher.",
    IMPOSSIBLE_VALUES: "Readings lie outside what the quantity can be.",
    CENSORED_FLOOR: "Many readings sit exactly on the lowest value: the truth is at or below it.",
    GAPS: "The stream has gaps; nothing was filled in.",
    WARMING_UP: "First readings after a gap were set aside while the sensor settles.",
    HUMID_AIR: "Optical readings in humid air were set aside.",
    FAN_STATE_UNKNOWN: "In-duct readings fall in hours whose fan state is not known; they were masked.",
}
"""One line for each code; the problems page and its test are made from this table."""


def lines_in_words(lines: Sequence[int], most: int = 3) -> str:
    """Return ``line 12``, ``lines 12, 13`` or ``lines 12, 13, 14 and 7 more``."""
    numbers = [str(int(n)) for n in lines[:most]]
    rest = len(lines) - len(numbers)
    return f"line{'s' if len(lines) > 1 else ''} {', '.join(numbers)}{f' and {rest} more' if rest else ''}"


def about_lines(
    code: str,
    file: str,
    lines: Sequence[int],
    *,
    found: str,
    wanted: str,
    remedy: str,
    severity: Severity = Severity.WARNING,
) -> Problem:
    """Return one problem that stands for all the lines it concerns."""
    where = f"{file} {lines_in_words(lines)}" if len(lines) else file
    return Problem(code=code, where=where, found=found, wanted=wanted, remedy=remedy, severity=severity)
