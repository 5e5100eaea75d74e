"""Whether a document is a record: its shape by the published schema, and what a schema cannot say."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from airtally.errors import Problem, Severity

_TYPES: dict[str, Callable[[Any], bool]] = {
    "object": lambda value: isinstance(value, dict),
    "array": lambda value: isinstance(value, list),
    "string": lambda value: isinstance(value, str),
    "boolean": lambda value: isinstance(value, bool),
    "null": lambda value: value is None,
    "integer": lambda value: isinstance(value, int | float) and not isinstance(value, bool) and value == int(value),
    "number": lambda value: isinstance(value, int | float) and not isinstance(value, bool),
}


@cache
def published_schema() -> dict[str, Any]:
    """Return the published JSON Schema (2020-12) of the record."""
    schema: dict[str, Any] = json.loads(files("airtally.record").joinpath("schema.json").read_text(encoding="utf-8"))
    return schema


def validate(document: Mapping[str, Any]) -> list[Problem]:
    """Return everything that keeps ``document`` from being a record; an empty list if nothing does.

    Reads the published schema itself, as far as that file uses JSON Schema, and then checks what a schema cannot
    say: intervals hold their values, read = kept + set aside, accounts close, arrays have one length.
    """
    schema = published_schema()
    problems = [
        Problem(
            code="record-shape",
            where=where or "record",
            found=found,
            wanted=wanted,
            remedy="See record/schema.json.",
            severity=Severity.FATAL,
        )
        for where, found, wanted in _shape(document, schema, "")
    ]
    if not problems:
        problems += [*_intervals(document, ""), *_counts(document), *_accounts(document), *_series(document)]
    return problems


def _shape(value: Any, schema: Mapping[str, Any], where: str) -> Iterator[tuple[str, str, str]]:
    """Yield (where, found, wanted) for each place that departs from the schema."""
    if "$ref" in schema:
        yield from _shape(value, published_schema()["$defs"][schema["$ref"].rsplit("/", 1)[1]], where)
    if "anyOf" in schema and not any(not list(_shape(value, option, where)) for option in schema["anyOf"]):
        yield where, _short(value), "one of the forms of the schema"
    names = schema.get("type")
    if names is not None:
        wanted = [names] if isinstance(names, str) else names
        if not any(_TYPES[name](value) for name in wanted):
            yield where, _short(value), " or ".join(wanted)
            return
    yield from _scalar(value, schema, where)
    if isinstance(value, dict):
        yield from _members(value, schema, where)
    if isinstance(value, list) and "items" in schema:
        for index, entry in enumerate(value):
            yield from _shape(entry, schema["items"], f"{where}[{index}]")


def _scalar(value: Any, schema: Mapping[str, Any], where: str) -> Iterator[tuple[str, str, str]]:
    """Yield departures of a single value: fixed words, patterns, bounds."""
    if "const" in schema and value != schema["const"]:
        yield where, _short(value), str(schema["const"])
    if "enum" in schema and value not in schema["enum"]:
        yield where, _short(value), "one of " + ", ".join(str(word) for word in schema["enum"])
    if isinstance(value, str):
        if len(value) < schema.get("minLength", 0):
            yield where, "an empty text", "a text"
        if "pattern" in schema and not re.search(schema["pattern"], value):
            yield where, _short(value), f"a text like {schema['pattern']}"
    if _TYPES["number"](value):
        if "minimum" in schema and value < schema["minimum"]:
            yield where, str(value), f"at least {schema['minimum']}"
        if "exclusiveMinimum" in schema and value <= schema["exclusiveMinimum"]:
            yield where, str(value), f"more than {schema['exclusiveMinimum']}"
        if "maximum" in schema and value > schema["maximum"]:
            yield where, str(value), f"at most {schema['maximum']}"


def _members(value: dict[str, Any], schema: Mapping[str, Any], where: str) -> Iterator[tuple[str, str, str]]:
    """Yield departures of an object's keys and of what they hold."""
    for key in schema.get("required", ()):
        if key not in value:
            yield where, "no key " + key, "the key " + key
    known = schema.get("properties", {})
    others = schema.get("additionalProperties", True)
    for key, entry in value.items():
        place = f"{where}.{key}" if where else key
        if key in known:
            yield from _shape(entry, known[key], place)
        elif others is False:
            yield place, "an unknown key", "one of " + ", ".join(known)
        elif isinstance(others, dict):
            yield from _shape(entry, others, place)


def _short(value: Any) -> str:
    """Return a value as a few characters for a message."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 60 else text[:57] + "..."


def _problem(code: str, where: str, found: str, wanted: str) -> Problem:
    """Return a fatal problem of the record itself: the program that wrote it is at fault, not the user."""
    return Problem(
        code=code,
        where=where,
        found=found,
        wanted=wanted,
        remedy="The program that wrote the record is at fault: please report it.",
        severity=Severity.FATAL,
    )


def _intervals(value: Any, where: str) -> Iterator[Problem]:
    """Yield a problem for each quantity whose interval does not hold its value."""
    if isinstance(value, dict):
        if {"value", "low", "high", "basis"} <= value.keys() and not isinstance(value["value"], list):
            middle, low, high = value["value"], value["low"], value["high"]
            if (low is None) != (high is None):
                yield _problem("record-interval", where, f"low {low}, high {high}", "both ends or neither")
            elif None not in (middle, low, high) and not low <= middle <= high:
                yield _problem("record-interval", where, f"{low} to {high}", f"an interval that holds {middle}")
            return
        for key, entry in value.items():
            yield from _intervals(entry, f"{where}.{key}" if where else key)
    elif isinstance(value, list):
        for index, entry in enumerate(value):
            yield from _intervals(entry, f"{where}[{index}]")


def _counts(document: Mapping[str, Any]) -> Iterator[Problem]:
    """Yield a problem for each place where rows got lost between reading and use."""
    places = [(f"job.streams[{index}]", stream) for index, stream in enumerate(document["job"]["streams"])]
    if "counts" in document["provenance"]:
        places.append(("provenance.counts", document["provenance"]["counts"]))
    for where, counts in places:
        if counts["read"] != counts["kept"] + counts["set_aside"]:
            found = f"read {counts['read']}, kept {counts['kept']}, set aside {counts['set_aside']}"
            yield _problem("record-counts", where, found, "read = kept + set aside")
        reasons = counts.get("by_reason")
        if reasons is not None and sum(reasons.values()) != counts["set_aside"]:
            yield _problem(
                "record-counts", where, f"{sum(reasons.values())} by reason", f"{counts['set_aside']} set aside"
            )


def _accounts(document: Mapping[str, Any]) -> Iterator[Problem]:
    """Yield a problem for each account that does not close by value."""
    for name, phase in document.get("phases", {}).items():
        account = phase.get("account")
        if account is None:
            continue
        entries = [row["grams_per_day"]["value"] for row in account["in"]] + [account["not_assigned"]["value"]]
        removals = [row["grams_per_day"]["value"] for row in account["out"]] + [account["stored"]["value"]]
        total = account["total"]["value"]
        if total is None or None in entries or None in removals:
            continue
        slack = 1e-6 * max(abs(total), sum(abs(entry) for entry in entries), 1e-12)
        for side, amount in (("in", sum(entries)), ("out", sum(removals))):
            if abs(amount - total) > slack:
                yield _problem(
                    "record-account",
                    f"phases.{name}.account.{side}",
                    f"{amount:.6g} g/day",
                    f"the total, {total:.6g} g/day",
                )


def _series(document: Mapping[str, Any]) -> Iterator[Problem]:
    """Yield a problem for each array of a series whose length differs from its time."""
    rooms = document.get("room_pm25")
    found: list[tuple[str, Any, str, tuple[str, ...]]] = []
    if rooms is not None:
        found.append(("room_pm25", rooms, "time", ("value", "low", "high", "outdoor", "fan_fraction")))
    for measure, forecast in document.get("forecasts", {}).items():
        if "weeks" in forecast:
            found.append((f"forecasts.{measure}.weeks", forecast["weeks"], "time", ("without", "value", "low", "high")))
    for index, course in enumerate(document.get("pressures", {}).get("draft_courses", [])):
        found.append((f"pressures.draft_courses[{index}]", course, "minutes", ("available", "low", "high")))
    for where, series, time, keys in found:
        wanted = len(series[time])
        for key in keys:
            if key in series and len(series[key]) != wanted:
                yield _problem("record-series", f"{where}.{key}", f"{len(series[key])} entries", f"{wanted}, as {time}")
