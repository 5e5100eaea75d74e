"""Every rounding and every standing phrase: numbers of the record in words. Nothing else in the house rounds."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

MINUS = "\N{MINUS SIGN}"
NOT_KNOWN = "not known"

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

_UNITS = {
    "ug/m3": "\N{MICRO SIGN}g/m\N{SUPERSCRIPT THREE}",
    "m3/h": "m\N{SUPERSCRIPT THREE}/h",
    "m3": "m\N{SUPERSCRIPT THREE}",
    "Bq/m3": "Bq/m\N{SUPERSCRIPT THREE}",
    "ft2": "ft\N{SUPERSCRIPT TWO}",
    "ft3": "ft\N{SUPERSCRIPT THREE}",
    "m2": "m\N{SUPERSCRIPT TWO}",
    "1/h": "per hour",
    "1/day": "a day",
    "g/day": "g a day",
    "mg/day": "mg a day",
    "h/day": "hours a day",
    "kWh/day": "kWh a day",
    "min/h": "minutes an hour",
    "inH2O": "in. w.c.",
    "degC": "\N{DEGREE SIGN}C",
    "degF": "\N{DEGREE SIGN}F",
    "min": "min",
}

_FORBIDDEN = (
    r"\bsafe(?:ly|r|st)?\b",
    r"\btreat(?:s|ed|ment)?\b",
    r"\bprevent(?:s|ed)?\b",
    r"\bcur(?:e|es|ed)\b",
    r"\bhealth(?:y|ier|iest)\b",
    r"\basthma\b",
    r"\ballerg\w*",
    r"\binfection\w*",
    r"\bguarante\w*",
    r"99\.9\d*\s?%",
    r"\b\w+-free\b",
    r"\bhospital grade\b",
    r"\bcertified clean\b",
    r"\bclean air\b",
    r"\bno backdraft\b",
    r"\bfit for habitation\b",
    r"\bcomplies with\b",
)


def unit_word(unit: str) -> str:
    """Return a unit of the record as it is printed."""
    return _UNITS.get(unit, unit)


def decimals_of(quantity: Mapping[str, Any], factor: float = 1.0) -> int:
    """Return how many decimals the number is worth; negative means tens, hundreds and so on.

    The interval decides: the last digit shown is at most a fifth of the interval's width; thousands are rounded to
    tens and up while that is at most a tenth of it. Without an interval, at most three significant digits.
    """
    value, low, high = quantity["value"], quantity["low"], quantity["high"]
    if low is not None and high is not None and high > low:
        width = abs(high - low) * factor
        places = math.ceil(math.log10(5.0 / width) - 1e-9)
        if places > 0 or value is None or abs(value * factor) < 1000.0:
            return min(max(places, 0), 6)
        return min(0, math.ceil(math.log10(10.0 / width) - 1e-9))
    if value is None or value == 0.0:
        return 0
    places = min(max(0, 2 - math.floor(math.log10(abs(value * factor)))), 6)
    return len(f"{value * factor:.{places}f}".rstrip("0").partition(".")[2])


def column_decimals(quantities: Iterable[Mapping[str, Any]], factor: float = 1.0) -> int:
    """Return one number of decimals for a column, so that the points line up: what its finest known row is worth."""
    worth = [decimals_of(quantity, factor) for quantity in quantities if quantity["value"] is not None]
    return max(0, max(worth, default=0))


def number(value: float | None, decimals: int) -> str:
    """Return a number with thousands commas and a true minus sign; negative ``decimals`` round to tens and up."""
    if value is None:
        return NOT_KNOWN
    rounded = round(value, decimals)
    text = f"{abs(rounded):,.{max(decimals, 0)}f}"
    is_negative = rounded < 0 and any(character in "123456789" for character in text)
    return (MINUS if is_negative else "") + text


def _scaled(quantity: Mapping[str, Any], unit: str | None) -> tuple[float, str]:
    """Return the factor and the printed unit: ratios as per cent, grams as milligrams where asked."""
    if unit == "mg/day" and quantity["unit"] == "g/day":
        return 1000.0, unit_word("mg/day")
    if quantity["unit"] == "1":
        return 100.0, "%"
    return 1.0, unit_word(quantity["unit"])


def _joined_unit(text: str, unit: str) -> str:
    """Return a figure with its unit; the per cent sign stands close."""
    if not unit:
        return text
    return f"{text}%" if unit == "%" else f"{text} {unit}"


def value_text(quantity: Mapping[str, Any], *, decimals: int | None = None, unit: str | None = None) -> str:
    """Return the value alone, without unit or interval, as for a table column."""
    factor, _ = _scaled(quantity, unit)
    places = decimals_of(quantity, factor) if decimals is None else decimals
    value = quantity["value"]
    return NOT_KNOWN if value is None else number(value * factor, places)


def interval_text(quantity: Mapping[str, Any], *, decimals: int | None = None, unit: str | None = None) -> str:
    """Return the interval alone, ``6.2 to 7.9``; empty if the number has none."""
    low, high = quantity["low"], quantity["high"]
    if low is None or high is None or quantity["value"] is None or low == high:
        return ""
    factor, _ = _scaled(quantity, unit)
    places = decimals_of(quantity, factor) if decimals is None else decimals
    return f"{number(low * factor, places)} to {number(high * factor, places)}"


def amount(quantity: Mapping[str, Any], *, decimals: int | None = None, unit: str | None = None) -> str:
    """Return value, unit and interval: ``7.0 µg/m³ (6.2 to 7.9)``."""
    if quantity["value"] is None:
        return NOT_KNOWN
    _, printed = _scaled(quantity, unit)
    text = _joined_unit(value_text(quantity, decimals=decimals, unit=unit), printed)
    interval = interval_text(quantity, decimals=decimals, unit=unit)
    return f"{text} ({interval})" if interval else text


def stated(quantity: Mapping[str, Any]) -> str:
    """Return value, unit, interval and how it came: ``7.0 µg/m³ (6.2 to 7.9), fitted``."""
    return f"{amount(quantity)}, {quantity['basis']}"


def bases(quantities: Iterable[Mapping[str, Any]]) -> str:
    """Return how numbers that stand together came, each way once: ``fitted and computed``."""
    return joined(list(dict.fromkeys(str(quantity["basis"]) for quantity in quantities)))


def printed_unit(quantity: Mapping[str, Any], unit: str | None = None) -> str:
    """Return the unit that goes with value_text and interval_text."""
    return _scaled(quantity, unit)[1]


def account_unit(account: Mapping[str, Any]) -> str:
    """Return the unit an account is printed in: milligrams a day below one gram, which is easier to feel."""
    total = account["total"]["value"]
    return "mg/day" if total is not None and abs(total) < 1.0 else "g/day"


def change_text(percent: Mapping[str, Any]) -> str:
    """Return a change in per cent as words: ``60% lower (48 to 69)``, or both directions if it crosses zero."""
    value, low, high = percent["value"], percent["low"], percent["high"]
    if value is None:
        return NOT_KNOWN
    factor, _ = _scaled(percent, None)
    places = max(0, decimals_of(percent, factor))

    def size(part: float) -> str:
        return number(abs(part * factor), places)

    if low is None or high is None:
        return f"{size(value)}% {_direction(value)}"
    if low < 0.0 < high:
        said = f"{size(value)}% {_direction(value)}" if round(value * factor, places) else "no change"
        return f"{said} (from {size(low)}% lower to {size(high)}% higher)"
    near, far = sorted((abs(low), abs(high)))
    return f"{size(value)}% {_direction(value)} ({size(near)} to {size(far)})"


def _direction(value: float) -> str:
    return "lower" if value < 0.0 else "higher"


def chances(level: float) -> str:
    """Return what an interval stands for in plain words: ``9 chances in 10``."""
    if math.isclose(level, 0.90):
        return "9 chances in 10"
    if math.isclose(level, 0.95):
        return "19 chances in 20"
    return f"{number(level * 100.0, 0)} chances in 100"


def money(price: Mapping[str, Any]) -> str:
    """Return a price range: ``USD 900 to 1,400 a year``."""
    per = {"month": " a month", "year": " a year"}.get(price.get("per", "once"), "")
    low, high = price["low"], price["high"]
    places = 0 if max(abs(low), abs(high)) >= 20 or (float(low).is_integer() and float(high).is_integer()) else 2
    span = number(low, places) if low == high else f"{number(low, places)} to {number(high, places)}"
    return f"{price['currency']} {span}{per}"


def local(moment: str, zone: str) -> datetime:
    """Return a moment of the record in the house's time zone."""
    return datetime.fromisoformat(moment).astimezone(ZoneInfo(zone))


def day(moment: str, zone: str) -> str:
    """Return the local day: ``30 Sep 2025``; a date without a time stays that date."""
    when = date.fromisoformat(moment) if len(moment) == 10 else local(moment, zone).date()
    return _day(when)


def _day(when: date, *, with_year: bool = True) -> str:
    text = f"{when.day} {_MONTHS[when.month - 1]}"
    return f"{text} {when.year}" if with_year else text


def short_day(seconds: float, zone: str) -> str:
    """Return the local day of POSIX seconds [s UTC] without its year, for an axis: ``30 Sep``."""
    return _day(datetime.fromtimestamp(seconds, ZoneInfo(zone)).date(), with_year=False)


def minute(moment: str, zone: str) -> str:
    """Return day and wall time: ``Sat 25 Oct 2025, 19:40``; words that are no moment come back as they are."""
    try:
        when = local(moment, zone)
    except ValueError:
        return moment
    return f"{_WEEKDAYS[when.weekday()]} {_day(when.date())}, {when:%H:%M}"


def day_span(start: str, end: str | None, zone: str) -> str:
    """Return the days that a half-open stretch touches: ``30 Sep to 2 Oct 2025``."""
    first = local(start, zone)
    if end is None:
        return _day(first.date())
    last = max(first, local(end, zone) - timedelta(seconds=1))
    if first.date() == last.date():
        return _day(first.date())
    return f"{_day(first.date(), with_year=first.year != last.year)} to {_day(last.date())}"


def joined(parts: Sequence[str]) -> str:
    """Return ``a, b and c``."""
    if len(parts) < 2:
        return "".join(parts)
    return ", ".join(parts[:-1]) + " and " + parts[-1]


def sentence(text: str) -> str:
    """Return the text with a capital and a full stop."""
    text = text.strip()
    if not text:
        return ""
    text = text[0].upper() + text[1:]
    return text if text[-1] in ".?!" else text + "."


def limit_text(limit: Mapping[str, Any]) -> str:
    """Return a limit with its document, edition and jurisdiction: a limit never stands without them."""
    value = limit["value"]
    name = limit.get("name") or "limit"
    shown = (
        NOT_KNOWN if value is None else _joined_unit(number(value, _plain_decimals(value)), unit_word(limit["unit"]))
    )
    averaging = f", {limit['averaging']}" if limit.get("averaging") else ""
    memory = "; value from memory" if limit.get("known") == "from memory" else ""
    return f"{name} {shown}{averaging}: {limit['document']}, {limit['edition']} ({limit['jurisdiction']}){memory}"


def _plain_decimals(value: float) -> int:
    """Return as many decimals as the published figure has (limits are printed as published)."""
    text = f"{value:.6f}".rstrip("0")
    return len(text.partition(".")[2])


_QUANTITIES = {"pm1": "PM1", "pm25": "PM2.5", "pm10": "PM10", "co2": "CO2", "co": "CO", "no2": "NO2", "voc": "VOC"}


def quantity_word(quantity: str) -> str:
    """Return what a stream measures as it is printed: ``PM2.5``, ``relative humidity``."""
    return _QUANTITIES.get(quantity, quantity.replace("_", " "))


def counts_text(counts: Mapping[str, int]) -> str:
    """Return ``1,000 read = 990 kept + 10 set aside``."""
    return f"{counts['read']:,} read = {counts['kept']:,} kept + {counts['set_aside']:,} set aside"


def status_word(status: str) -> str:
    """Return Open, Unknown or Done."""
    return status.capitalize()


_VERDICTS = {
    "shown": "Shown",
    "not shown": "Not shown",
    "not separable": "Not separable",
    "worse": "Worse",
    "not evidence": "Not evidence",
}


def verdict_word(verdict: str) -> str:
    """Return the verdict as it opens a sentence."""
    return _VERDICTS.get(verdict, verdict.capitalize())


def verdict_plain(verdict: str) -> str:
    """Return the verdict as a customer's sentence."""
    return {
        "shown": "The change is larger than chance.",
        "not shown": "We saw no change that we can tell from chance.",
        "not separable": "We cannot tell this change from other causes.",
        "worse": "It got worse.",
        "not evidence": "This figure answers no question on its own.",
    }.get(verdict, verdict)


def effect_sentence(effect: Mapping[str, Any]) -> str:
    """Return the effect of the work with what was held equal, in customer's words."""
    before, after = effect["before"], effect["after"]
    places = max(0, decimals_of(before), decimals_of(after)) if before["value"] is not None else None
    return (
        f"On the same days, with the same weather and habits, the rooms would have averaged "
        f"{amount(before, decimals=places)} in the old house. "
        f"They averaged {amount(after, decimals=places)}: {change_text(effect['percent'])}."
    )


def forbidden_claims(text: str) -> list[str]:
    """Return each word of ``text`` that a report must not print: medical claims, promises, words that give leave."""
    found: list[str] = []
    for pattern in _FORBIDDEN:
        found += [match.group(0) for match in re.finditer(pattern, text, flags=re.IGNORECASE)]
    return found
