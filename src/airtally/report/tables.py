"""Tables of a record for a spreadsheet: every number as the record has it, unrounded, and text that no sheet runs."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from airtally.report.appendix import quantities, quantity_name
from airtally.report.choices import phases_with_account

Cell = str | float | None
FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""First letters by which a spreadsheet takes a text for a formula (OWASP, CSV injection)."""
QUANTITY = ("value", "low", "high", "chance of the range", "unit", "basis", "source")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: its name in addresses, what it holds, and how its head and rows are made of a record."""

    name: str
    about: str
    head: tuple[str, ...]
    rows: Callable[[Mapping[str, Any]], Iterator[tuple[Cell, ...]]]

    def text(self, document: Mapping[str, Any]) -> str:
        """Return the table of a record as comma-separated values (RFC 4180)."""
        written = io.StringIO()
        writer = csv.writer(written, lineterminator="\r\n")
        writer.writerow(self.head)
        writer.writerows([_proof_against_formulas(cell) for cell in row] for row in self.rows(document))
        return written.getvalue()


def _proof_against_formulas(cell: Cell) -> Cell:
    """Return a text that a spreadsheet would run with an apostrophe before it; numbers stay numbers."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA) else cell


def _quantity(quantity: Mapping[str, Any]) -> tuple[Cell, ...]:
    return tuple(quantity[key] for key in ("value", "low", "high", "level", "unit", "basis", "source"))


def _numbers(document: Mapping[str, Any]) -> Iterator[tuple[Cell, ...]]:
    for path, quantity in quantities(document):
        yield (quantity_name(path, document), *_quantity(quantity))


def _account(document: Mapping[str, Any]) -> Iterator[tuple[Cell, ...]]:
    for _, phase in phases_with_account(document):
        account, name = phase["account"], phase["name"]
        for side, title in (("in", "comes in"), ("out", "goes out")):
            for row in account[side]:
                yield name, title, str(row["folio"]), row["name"], row.get("path", ""), *_quantity(row["grams_per_day"])
        yield name, "comes in", "", "not assigned", "", *_quantity(account["not_assigned"])
        yield name, "goes out", "", "stored in the air, change", "", *_quantity(account["stored"])
        yield name, "both sides", "", "total", "", *_quantity(account["total"])


def _readings(document: Mapping[str, Any]) -> Iterator[tuple[Cell, ...]]:
    for stream in document["job"]["streams"]:
        reasons = stream.get("by_reason") or {"": 0}
        for reason, count in reasons.items():
            yield (
                stream.get("name") or stream["id"],
                *(
                    stream.get(key)
                    for key in ("place", "quantity", "unit", "start", "end", "read", "kept", "set_aside")
                ),
                reason,
                count,
            )


TABLES = {
    one.name: one
    for one in (
        Table(name="numbers", about="every number of the record", head=("what", *QUANTITY), rows=_numbers),
        Table(
            name="account",
            about="the account of each phase",
            head=("phase", "side", "mark", "line", "path", *QUANTITY),
            rows=_account,
        ),
        Table(
            name="readings",
            about="what was read, kept and set aside, by stream and reason",
            head=(
                "stream", "place", "quantity", "unit", "first (UTC)", "last (UTC)", "read", "kept", "set aside", "reason",
                "of that reason",
            ),
            rows=_readings,
        ),
    )
}  # fmt: skip
"""By name."""
