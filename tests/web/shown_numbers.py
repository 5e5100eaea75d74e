"""What a reader finds printed: every number of a text, and the number of a record that it can stand for.

Read from the outside: nothing here asks the report how it words or rounds. A printed figure stands for a number of the
record if it is that number, in the printed unit, rounded to the figure's last digit.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from .odd_record import Document, odd_limits, odd_quantities

NUM = r"(?<![\w.,])[\u2212-]?\d{1,3}(?:,\d{3})+(?:\.\d+)?(?![\w])|(?<![\w.,])[\u2212-]?\d+(?:\.\d+)?(?!\w)"
UNITS = {
    "ug/m3": "\u00b5g/m\u00b3", "m3/h": "m\u00b3/h", "1/h": "per hour", "1/day": "a day", "g/day": "mg a day",
    "h/day": "hours a day", "kWh/day": "kWh a day", "min/h": "minutes an hour", "inH2O": "in. w.c.", "1": "%",
}  # fmt: skip
"""Printed words of the units that are not printed as the record writes them; a ratio is printed in per cent."""
FACTORS = {"g/day": 1000.0, "1": 100.0}
"""Printed units in a unit of the record."""
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAY = rf"\b(?P<number>\d{{1,2}}) (?P<month>{'|'.join(MONTHS)})\b(?: (?P<year>\d{{4}}))?(?:, \d\d:\d\d)?"
LIMIT = r"[^:|]{0,40}(?::| \|) Invented vent rule(?:,| \|) 2099 edition"
"""What stands after a limit's figure: for how long it holds, the document, the edition."""
DECLARED = (
    r"PM2\.5", r"\b9 chances in 10\b", r"\b19 chances in 20\b", r"\bStage \d\b", r"\bpage \d+ of \d+\b", r"SHA-256",
    r"\b\d+ of \d+ hours not known\b", r"\b[0-9a-f]{8,64}\b", r"\bairtally \d+\.\d+\.\d+\b", r"\b\d+ more\b",
    r"\b\d+ (?:open|unknown|done)\b", r", 9[05]%", r"\b\d+ (?:numbers?|findings?)\b", r"\b95 of 100 hours below\b",
    r"\b7[ |]+not assigned", r"\b\d+ days counted\b", r"\brecord schema \d+\b",
)  # fmt: skip
"""What a text may count or name by itself: particle size, chances, stages, pages, digests, versions, how many more."""


@dataclass(kw_only=True)
class Shown:
    """A text with what was found in it.

    Attributes
    ----------
    quantities : list of Document
        Those of the record.
    rest : str
        What no rule took yet.
    found : list of Document
        Quantities of the record that stand in the text with value, unit and range.
    """

    document: Document
    rest: str
    quantities: list[Document]
    found: list[Document] = field(default_factory=list)

    def take(self, pattern: str, stands_for: Callable[[re.Match[str]], bool]) -> None:
        """Take every match away that stands for something of the record."""
        self.rest = re.sub(pattern, lambda match: " \u00a4 " if stands_for(match) else match.group(0), self.rest)

    def left(self) -> list[str]:
        """Return each number that nothing explains, with what stands around it."""
        numbers = re.finditer(NUM, self.rest)
        return [self.rest[max(0, one.start() - 50) : one.end() + 30] for one in numbers]


def is_rounded(text: str, number: float | None, factor: float = 1.0, *, is_size: bool = False) -> bool:
    """Return whether a printed figure is a number to its last digit."""
    if number is None:
        return False
    plain = text.replace(",", "").replace("\u2212", "-")
    places = len(plain.partition(".")[2])
    grain = 10.0**-places if places or not plain.endswith("0") else 10.0
    size = abs(number) if is_size else number
    return abs(float(plain) - size * factor) <= 0.5 * grain * (1.0 + 1e-9)


def texts_in(value: Any, key: str = "") -> Iterator[str]:
    """Yield the sentences and names of a record that hold a figure."""
    if isinstance(value, dict):
        for name, entry in value.items():
            yield from texts_in(entry, name)
    elif isinstance(value, list):
        for entry in value:
            yield from texts_in(entry, key)
    elif isinstance(value, str) and key != "unit" and re.search(r"\d", value) and len(value) > 1:
        yield value


def counts_in(value: Any) -> Iterator[int]:
    """Yield the whole numbers of a record that are no quantity."""
    if isinstance(value, dict):
        if not {"value", "low", "high", "basis"} <= value.keys():
            for entry in value.values():
                yield from counts_in(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from counts_in(entry)
    elif isinstance(value, int | float) and not isinstance(value, bool) and float(value).is_integer():
        yield int(value)


def days_in(value: Any, zone: ZoneInfo) -> Iterator[date]:
    """Yield the local days of a record's moments, and the one before: a stretch ends before its end."""
    if isinstance(value, dict):
        for entry in value.values():
            yield from days_in(entry, zone)
    elif isinstance(value, list):
        for entry in value:
            yield from days_in(entry, zone)
    elif isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d(T[\d:]+Z)?", value):
        if len(value) == 10:
            yield date.fromisoformat(value)
        else:
            when = datetime.fromisoformat(value).timestamp()
            for moment in (when, when - 1.0):
                yield datetime.fromtimestamp(moment, UTC).astimezone(zone).date()


def shown(document: Document, text: str, *, kept: date) -> Shown:
    """Return a text with every number explained that the record, or the list of what is declared, explains."""
    result = Shown(document=document, rest=" ".join(text.split()), quantities=list(odd_quantities(document)))
    unit = "|".join(sorted({re.escape(printed(one)) for one in result.quantities}, key=len, reverse=True))
    n, gap = NUM, r"[\s|]*"
    result.take(rf"(?P<value>{n})\s*(?P<unit>{unit}){LIMIT}", _limits(document))
    for one in sorted({as_printed(one) for one in texts_in(document)}, key=len, reverse=True):
        if one.lower() in result.rest.lower():
            result.rest = re.sub(rf"(?<!\w){re.escape(one)}(?!\w)", " \u00a4 ", result.rest, flags=re.IGNORECASE)
    ranges = _ranges(result)
    result.take(rf"(?P<value>{n}){gap}(?P<unit>{unit})\s*\((?P<low>{n}) to (?P<high>{n})\)", ranges)
    result.take(rf"(?P<value>{n})\s*\((?P<low>{n}) to (?P<high>{n})\)", ranges)
    result.take(rf"(?P<value>{n}){gap}(?P<unit>{unit}){gap}(?P<low>{n}) to (?P<high>{n})", ranges)
    changes = _changes(result)
    way = rf"(?P<value>{n})% (?P<way>lower|higher)"
    result.take(rf"{way} \((?P<near>{n}) to (?P<far>{n})\)", changes)
    result.take(rf"{way} \((?P<across>from) (?P<near>{n})% lower to (?P<far>{n})% higher\)", changes)
    result.take(rf"(?P<value>{n}){gap}(?P<unit>{unit})", _alone(result))
    result.take(rf"USD (?P<low>{n}) to (?P<high>{n})", _prices(document))
    result.take(DAY, _days(document, kept))
    for pattern in DECLARED:
        result.take(pattern, lambda _: True)
    counts = {*counts_in(document)}
    result.take(r"(?<![\w.,\u2212-])\d[\d,]*(?![\w.]\d|\w)", lambda one: _whole(one.group(0)) in counts)
    result.take(r"\b(?P<value>\d+)%", _chances(document))
    result.take(NUM, _account_figures(document))
    return result


Match = re.Match[str]


def printed(one: Document) -> str:
    """Return a unit as it is printed."""
    return UNITS.get(one["unit"], str(one["unit"]))


def _whole(text: str) -> int:
    return int(text.replace(",", "") or 0)


def _ranges(result: Shown) -> Callable[[Match], bool]:
    """Tell whether value, low and high are those of one quantity, in its unit where one stands there."""

    def stands_for(match: Match) -> bool:
        for one in result.quantities:
            if match.groupdict().get("unit") in (None, printed(one)) and all(
                is_rounded(match.group(key), one[key], FACTORS.get(one["unit"], 1.0))
                for key in ("value", "low", "high")
            ):
                result.found.append(one)
                return True
        return False

    return stands_for


def _changes(result: Shown) -> Callable[[Match], bool]:
    """Tell whether size and way of a change are those of a quantity in per cent, its ends in the order of their size."""

    def stands_for(match: Match) -> bool:
        sign = -1.0 if match.group("way") == "lower" else 1.0
        for one in result.quantities:
            if one["unit"] != "%" or one["low"] is None or sign * one["value"] < 0.0:
                continue
            ends = [abs(one["low"]), abs(one["high"])]
            ends = ends if match.groupdict().get("across") else sorted(ends)
            figures = zip(("value", "near", "far"), (one["value"], *ends), strict=True)
            if all(is_rounded(match.group(key), number, is_size=True) for key, number in figures):
                result.found.append(one)
                return True
        return False

    return stands_for


def _alone(result: Shown) -> Callable[[Match], bool]:
    """Tell whether a value without a range is a quantity that has none, or one of a gauge beside what is given back."""

    def stands_for(match: Match) -> bool:
        value, unit = match.group("value"), match.group("unit")
        for one in result.quantities:
            is_one = one["low"] is None and unit == printed(one)
            if is_one and is_rounded(value, one["value"], FACTORS.get(one["unit"], 1.0)):
                result.found.append(one)
                return True
        gauges = result.document["pressures"]["readings"]
        return any(
            is_rounded(value, row[key]) and unit == printed(row) for row in gauges for key in ("measured", "computed")
        )

    return stands_for


def _limits(document: Document) -> Callable[[Match], bool]:
    """Tell whether a limit is printed as it was published, digit for digit."""
    known = {(one["value"], printed(one)) for one in odd_limits(document)}
    return lambda match: (float(match.group("value").replace("\u2212", "-")), match.group("unit")) in known


def _prices(document: Document) -> Callable[[Match], bool]:
    known = {(one["low"], one["high"]) for one in prices(document)}
    return lambda match: (_whole(match.group("low")), _whole(match.group("high"))) in known


def _days(document: Document, kept: date) -> Callable[[Match], bool]:
    known = {*days_in(document, ZoneInfo(document["job"]["time_zone"])), kept}

    def stands_for(match: Match) -> bool:
        number, month, year = match.group("number"), match.group("month"), match.group("year")
        return any(
            (one.day, MONTHS[one.month - 1]) == (int(number), month) and year in (None, str(one.year)) for one in known
        )

    return stands_for


def _chances(document: Document) -> Callable[[Match], bool]:
    """Tell whether a bare share is the chance that an event was of a kind."""
    known = [chance for event in document["events"] for chance in event["kind_probabilities"].values()]
    return lambda match: any(is_rounded(match.group("value"), one, 100.0) for one in known)


def _account_figures(document: Document) -> Callable[[Match], bool]:
    """Tell whether a bare figure is one of an account, whose unit stands over its columns."""
    known = [one[key] for one in odd_quantities(document) if one["unit"] == "g/day" for key in ("value", "low", "high")]
    return lambda match: any(is_rounded(match.group(0), one, 1000.0) for one in known)


def as_printed(text: str) -> str:
    """Return a text of the record as people read it: keys of readings as words, units as they are printed."""
    for written, printed in UNITS.items():
        if written not in ("1", "1/h", "1/day", "g/day"):
            text = re.sub(rf"(?<![\w.]){re.escape(written)}(?!\w)", printed, text)
    return re.sub(r"(?<=[a-z])_(?=[a-z])", " ", " ".join(text.split()))


def prices(value: Any) -> Iterator[Document]:
    """Yield every price inside a part of a record."""
    if isinstance(value, dict):
        if "currency" in value and "low" in value:
            yield value
            return
        for entry in value.values():
            yield from prices(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from prices(entry)
