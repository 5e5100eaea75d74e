"""What is gathered while a survey is read: problems, defaults taken, quantities left open; and words for them."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from airtally.errors import Problem, Severity
from airtally.estimates import Estimate, Missing
from airtally.house import problems as code
from airtally.house.fields import Field, Form
from airtally.units import (
    Kind,
    QuantityTextError,
    accepted_units,
    estimate_to_field,
    read_quantity,
    shown_text,
)


@dataclass(slots=True, kw_only=True)
class Gathering:
    """What is gathered while one survey is read."""

    file: str
    zone: ZoneInfo
    currency: str = "USD"
    problems: list[Problem] = field(default_factory=list)
    defaults: list[str] = field(default_factory=list)
    """``key = value (low to high)`` of each default taken."""
    absent: list[str] = field(default_factory=list)
    """Keys of quantities left open that have no default."""

    def add(
        self, name: str, where: str, found: str, wanted: str, remedy: str, severity: Severity = Severity.WARNING
    ) -> None:
        """Note one problem at a key path."""
        place = f"{self.file}, {where}" if where else self.file
        self.problems.append(
            Problem(code=name, where=place, found=found, wanted=wanted, remedy=remedy, severity=severity)
        )

    def took_default(self, where: str, estimate: Estimate, kind: Kind) -> None:
        """Note a default with the value it got."""
        shown = estimate_to_field(estimate, kind, currency=self.currency)
        ends = f" ({_figures(shown.low)} to {_figures(shown.high)})" if shown.low != shown.high else ""
        self.defaults.append(f"{where} = {_figures(shown.value)} {shown.unit}".rstrip() + ends)


def _figures(value: float) -> str:
    """Return a number with three figures and no power of ten."""
    return f"{value:.0f}" if abs(value) >= 1000.0 else f"{value:.3g}"


def show(value: object) -> str:
    """Return a TOML value as a message may repeat it."""
    if isinstance(value, str):
        return f'"{shown_text(value)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, int) and value.bit_length() > 64:
        return "a number of many digits"
    return shown_text(str(value))


def listed(words: Iterable[str]) -> str:
    """Return words as a list for a message, cut where it gets long."""
    known = list(words)
    return ", ".join(known[:12]) + (" and more" if len(known) > 12 else "") if known else "none"


def near(word: str, words: Iterable[str]) -> str:
    """Return a remedy that names the nearest known word, if one is near."""
    found = difflib.get_close_matches(word.casefold()[:60], [w for w in words if w], n=1, cutoff=0.6)
    return f'Did you mean "{found[0]}"?' if found else ""


def possible_range(described: Field, currency: str) -> tuple[float, float]:
    """Return the bounds of what a key's number can be, in SI."""
    found = read_quantity(
        described.possible.format(currency=currency), described.kind or Kind.PURE, source="", currency=currency
    )
    return (found.low, found.high) if isinstance(found, Estimate) else (float("-inf"), float("inf"))


def read_bounded(text: str, described: Field, kind: Kind, where: str, gathering: Gathering) -> Estimate | None:
    """Return a quantity of a kind inside the key's bounds; None where missing, unreadable or impossible."""
    source = f"{gathering.file}, {where}"
    try:
        found = read_quantity(text, kind, source=source, spread=described.spread, currency=gathering.currency)
    except QuantityTextError as doubt:
        gathering.add(code.QUANTITY_UNREADABLE, where, doubt.found, doubt.wanted, doubt.remedy)
        return None
    if isinstance(found, Missing) or not described.possible:
        return None if isinstance(found, Missing) else found
    low, high = possible_range(described, gathering.currency)
    bounds = described.possible.format(currency=gathering.currency)
    if not low <= found.value <= high:
        gathering.add(
            code.QUANTITY_IMPOSSIBLE,
            where,
            f"{show(text)} is outside what it can be; it is not used",
            bounds,
            "Check number, unit and sign.",
        )
        return None
    if found.low >= low and found.high <= high:
        return found
    if any(mark in text for mark in ("(", "+-", "+/-", "±", " to ")):
        gathering.add(
            code.INTERVAL_CUT, where, f"the interval of {show(text)} was cut", bounds, "Check the ends.", Severity.NOTE
        )
    return Estimate(
        value=found.value,
        low=max(found.low, low),
        high=min(found.high, high),
        unit=found.unit,
        basis=found.basis,
        source=found.source,
    )


def wanted_by(described: Field, currency: str = "") -> str:
    """Return in words what a key takes."""
    kind = described.kind
    words = {
        Form.ID: "a short name in quotation marks",
        Form.TEXT: "text in quotation marks",
        Form.FACT: "true or false",
        Form.COUNT: f"a plain number, {described.possible}",
        Form.DATE: 'a date such as "2025-09-30 08:00", in local time or with offset',
        Form.DAYS: 'a list of dates such as ["2025-10-13", "2025-10-15"]',
        Form.TABLE: "a table in braces",
        Form.REFERENCE: f"the id of a {described.refers_to}",
    }
    if described.form in words:
        return words[described.form]
    if described.form is Form.CHOICE:
        return f"one of {', '.join(described.words)}"
    if described.form is Form.CHOICES:
        return f"a list of {', '.join(described.words)}"
    if kind is Kind.PURE:
        return "a plain number without unit"
    units = accepted_units(kind, currency) if kind is not None else ""
    several = "three texts" if described.form is Form.QUANTITIES else "a text"
    return f"{several} with number and unit ({units}), or one of: {', '.join(Missing)}"
