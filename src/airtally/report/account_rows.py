"""The lines of the account, once for screen, paper, page and drawing: two sides that end in one figure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from airtally.report import words
from airtally.report.choices import phases_with_account, unassigned_folio

NOT_ASSIGNED, STORED = "not_assigned", "stored"
"""Kinds of the two lines that are no source and no way out."""
SINK_LETTERS = "abcde"
"""Letters that the ways out may have in a record; what is stored takes the next."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountLine:
    """One line of the account.

    Attributes
    ----------
    folio : str
        The mark that ties the line to its ribbon.
    name, path : str
        What it is and the way it takes, in words; the path is empty where the name says it all.
    kind : str
        Key of the source or sink in the record, ``not_assigned`` or ``stored``.
    now, before : mapping or None
        Quantities of the record in g/day; None where the phase has no such line.
    """

    folio: str
    name: str
    path: str
    kind: str
    now: Mapping[str, Any] | None
    before: Mapping[str, Any] | None

    @property
    def title(self) -> str:
        """Name and path, as a table prints them."""
        return f"{self.name}, {self.path}" if self.path else self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountRows:
    """The account of one phase, beside the first phase where that is another.

    Attributes
    ----------
    phase, first : str
        Names; ``first`` is empty where there is nothing before.
    unit : str
        Unit to print in, as in a record: ``mg/day`` or ``g/day``.
    decimals : int
        Of every figure, so that the points line up.
    entering, leaving : tuple of AccountLine
    total : AccountLine
        The figure under both double rules.
    difference : str
        Says by how much the two sides differ; empty where they close, as they must.
    note : str
        What the range stands for, and that lines are rounded one by one where the sum shows it.
    """

    phase: str
    first: str
    unit: str
    decimals: int
    entering: tuple[AccountLine, ...]
    leaving: tuple[AccountLine, ...]
    total: AccountLine
    difference: str
    note: str

    @property
    def factor(self) -> float:
        """Printed units in a g/day."""
        return 1000.0 if self.unit == "mg/day" else 1.0

    def figure(self, quantity: Mapping[str, Any] | None) -> str:
        """Return the value as the column prints it; a line that the phase lacks is none, not zero."""
        return "none" if quantity is None else words.value_text(quantity, decimals=self.decimals, unit=self.unit)

    def span(self, quantity: Mapping[str, Any] | None) -> str:
        """Return the interval as the column prints it; empty where there is none."""
        return "" if quantity is None else words.interval_text(quantity, decimals=self.decimals, unit=self.unit)


def account_rows(document: Mapping[str, Any], phase: str | None = None) -> AccountRows | None:
    """Return the account of a phase, by default the latest, beside the first; None where there is no account.

    Raises KeyError for a phase that has none.
    """
    phases = phases_with_account(document)
    if phase is not None and phase not in dict(phases):
        raise KeyError(f"phase {phase!r} has no account; those with one: {', '.join(dict(phases)) or 'none'}")
    if not phases:
        return None
    chosen = dict(phases)[phase] if phase is not None else phases[-1][1]
    first = phases[0][1] if phases[0][1] is not chosen else None
    now, then = chosen["account"], first["account"] if first else None
    unit = words.account_unit(now)
    factor = 1000.0 if unit == "mg/day" else 1.0
    decimals = max(0, *(words.decimals_of(entry["total"], factor) for entry in (now, then) if entry))
    entering, leaving = [*_side("in", now, then)], [*_side("out", now, then)]
    entering.append(_line(unassigned_folio(now), "not assigned", NOT_ASSIGNED, now, then))
    leaving.append(_line(stored_folio(now), "stored in the air, change", STORED, now, then))
    return AccountRows(
        phase=chosen["name"],
        first=first["name"] if first else "",
        unit=unit,
        decimals=decimals,
        entering=tuple(entering),
        leaving=tuple(leaving),
        total=_line("", "comes in", "total", now, then),
        difference=_difference(now, unit, decimals, factor),
        note=_note(now, decimals, factor),
    )


def stored_folio(account: Mapping[str, Any]) -> str:
    """Return the letter of what is stored: the first after those that the ways out have or may have."""
    taken = {str(row["folio"]) for row in account["out"]} | set(SINK_LETTERS)
    return next(letter for letter in "fghijklmnopqrstuvwxyz" if letter not in taken)


def _line(folio: str, name: str, kind: str, now: Mapping[str, Any], then: Mapping[str, Any] | None) -> AccountLine:
    return AccountLine(folio=folio, name=name, path="", kind=kind, now=now[kind], before=then[kind] if then else None)


def _side(side: str, now: Mapping[str, Any], then: Mapping[str, Any] | None) -> Iterator[AccountLine]:
    """Yield the lines of one side: those of the phase, then those that only the first phase has."""
    old = {str(row["folio"]): row for row in then[side]} if then else {}
    new = {str(row["folio"]): row for row in now[side]}
    for folio in [*new, *(folio for folio in old if folio not in new)]:
        row = new.get(folio) or old[folio]
        path = row.get("path", "")
        yield AccountLine(
            folio=folio,
            name=str(row["name"]),
            path="" if path == "room side" else path,
            kind=str(row.get("source") or row.get("sink") or "other"),
            now=new[folio]["grams_per_day"] if folio in new else None,
            before=old[folio]["grams_per_day"] if folio in old else None,
        )


def _sums(account: Mapping[str, Any]) -> tuple[list[float], list[float]]:
    """Return the values of both sides, each with its last line. [g/day]"""
    entering = [row["grams_per_day"]["value"] or 0.0 for row in account["in"]] + [account[NOT_ASSIGNED]["value"] or 0.0]
    leaving = [row["grams_per_day"]["value"] or 0.0 for row in account["out"]] + [account[STORED]["value"] or 0.0]
    return entering, leaving


def _difference(account: Mapping[str, Any], unit: str, decimals: int, factor: float) -> str:
    entering, leaving = (sum(side) * factor for side in _sums(account))
    if account["total"]["value"] is None or abs(entering - leaving) <= 0.5 * 10.0**-decimals:
        return ""
    more, less = ("comes in", "goes out") if entering > leaving else ("goes out", "comes in")
    size = f"{words.number(abs(entering - leaving), decimals)} {words.unit_word(unit)}"
    return f"The two sides do not close: {size} more {more} than {less}. Do not use this account."


def _note(account: Mapping[str, Any], decimals: int, factor: float) -> str:
    """Return the note under the account: where rounded lines do not add up to the rounded total, it says so."""
    every = [row["grams_per_day"] for side in ("in", "out") for row in account[side]]
    basis = words.bases([*every, account[NOT_ASSIGNED], account[STORED], account["total"]])
    text = f"Both sides end in the same figure. Basis: {basis}. Range: {words.chances(account['total']['level'])}."
    total = round((account["total"]["value"] or 0.0) * factor, decimals)
    for parts in _sums(account):
        if abs(sum(round(part * factor, decimals) for part in parts) - total) > 0.5 * 10.0**-decimals:
            return text + " Lines are rounded one by one: the last digit of a sum can differ."
    return text
