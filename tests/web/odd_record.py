"""The invented record with every number another: drawn by a rule, odd, and like no other, so that none is shown by luck."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from tests.report.invented_record import build_record

from airtally.record import JobRecord, plain

Document = dict[str, Any]
WIDTHS = (0.011, 0.043)
"""Least and most of half an interval, as a part of the value: four figures are then worth printing. [-]"""


def odd_quantities(value: Any) -> Iterator[Document]:
    """Yield every quantity inside a part of a record."""
    if isinstance(value, dict):
        if {"value", "low", "high", "basis"} <= value.keys() and not isinstance(value["value"], list):
            yield value
            return
        for entry in value.values():
            yield from odd_quantities(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from odd_quantities(entry)


def odd_limits(value: Any) -> Iterator[Document]:
    """Yield every limit inside a part of a record."""
    if isinstance(value, dict):
        if {"document", "edition"} <= value.keys():
            yield value
            return
        for entry in value.values():
            yield from odd_limits(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from odd_limits(entry)


def odd_record() -> JobRecord:
    """Return the record. The n-th number keeps sign and power of ten; its figures follow the golden ratio."""
    document: Document = plain(build_record())
    for number, one in enumerate(odd_quantities(document), start=1):
        _draw(one, number)
    for number, one in enumerate(odd_limits(document), start=1):
        one["value"] = math.copysign(
            round(_figures(number + 7919) * 10.0 ** math.floor(math.log10(abs(one["value"]))), 3), one["value"]
        )
    for phase in document["phases"].values():
        _close(phase["account"])
    for number, row in enumerate(document["pressures"]["readings"]):
        row["measured"], row["computed"] = (
            round(row["measured"] * (1.1 + _part(number + k) / 9.0), 3) for k in (31, 57)
        )
    for number, (price, key) in enumerate((p, k) for p in _prices(document) for k in ("low", "high")):
        price[key] = round(price[key] * (1.0 + 0.4 * _part(number + 3)) + 1) | 1
    return JobRecord(document=document)


def _part(number: int) -> float:
    return (number * (math.sqrt(5.0) - 1.0) / 2.0) % 1.0


def _figures(number: int) -> float:
    """Return a number from 1 to 10 whose last of five figures is odd."""
    return (2 * round(5000 + 44999 * _part(number)) + 1) / 10_000


def _draw(one: Document, number: int) -> None:
    if one["value"] is None:
        return
    power = math.floor(math.log10(abs(one["value"]))) if one["value"] else -2
    value = math.copysign(_figures(number) * 10.0**power, one["value"] or 1.0)
    halves = [abs(value) * (WIDTHS[0] + (WIDTHS[1] - WIDTHS[0]) * _part(number * k)) for k in (3, 5)]
    if one["low"] is not None:
        if one["low"] < 0.0 < one["high"]:  # a range across zero stays one
            halves = [abs(value) * (1.3 + _part(number * k)) for k in (3, 5)]
        one["low"], one["high"] = value - halves[0], value + halves[1]
    one["value"] = value


def _close(account: Document) -> None:
    """Make both sides of an account end in one figure again."""
    entering = sum(row["grams_per_day"]["value"] for row in account["in"]) + account["not_assigned"]["value"]
    leaving = sum(row["grams_per_day"]["value"] for row in account["out"])
    for one, value in ((account["total"], entering), (account["stored"], entering - leaving)):
        one["value"], one["low"], one["high"] = value, value - 0.021 * abs(value), value + 0.034 * abs(value)


def _prices(value: Any) -> Iterator[Document]:
    if isinstance(value, dict):
        if "currency" in value and {"low", "high"} <= value.keys():
            yield value
            return
        for entry in value.values():
            yield from _prices(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from _prices(entry)
