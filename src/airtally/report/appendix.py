"""The appendix: every number of the record with interval, basis and source; counts, limits, method, digests."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from airtally.record import JobRecord
from airtally.report import words
from airtally.report.carpet import carpet_drawing

Page = dict[str, Any]

_KEY_WORDS = {
    "clean_air": "removal as a flow",
    "mean_pm25": "mean PM2.5",
    "outdoor_pm25": "outdoor PM2.5",
    "percentile_95": "95 of 100 hours below",
    "solid_fuel": "wood or other solid fuel",
    "candle_incense": "candles and incense",
    "resuspension": "dust stirred up",
}
"""Words for keys that would read badly, or as a claim, if printed as they are."""


def appendix_pages(record: JobRecord) -> Page:
    """Return the appendix as plain data."""
    document = record.document
    zone = document["job"]["time_zone"]
    has_carpet = any("hour_of_day" in phase for phase in document.get("phases", {}).values())
    carpet = carpet_drawing(document, _first_and_last(document)) if has_carpet else None
    provenance = document["provenance"]
    counts = provenance.get("counts")
    return {
        "carpet": {"svg": carpet.svg, "title": carpet.title, "sentence": carpet.sentence} if carpet else None,
        "phases": [_phase_text(phase, zone) for phase in document.get("phases", {}).values()],
        "numbers": number_rows(document),
        "events": _events(document, zone),
        "streams": _streams(document),
        "counts": words.counts_text(counts) if counts else "",
        "reasons": _reasons(counts or {}),
        "limits": limit_rows(document),
        "findings": [_finding(finding) for finding in document.get("findings", [])],
        "gates": [_gate(gate) for gate in document["safety"].get("gates", [])],
        "problems": [_problem(problem) for problem in document.get("problems", [])],
        "method": provenance.get("method", []),
        "version": record.version,
        "seed": str(record.seed),
        "draws": str(provenance.get("draws", "")),
        "schema": str(document["schema"]),
        "digests": [[name, digest] for name, digest in provenance["digests"].items()],
        "record_digest": record.digest,
    }


def _first_and_last(document: Mapping[str, Any]) -> list[str]:
    """Return the first and the latest phase that have a carpet: more would not fit side by side."""
    phases = sorted(document["phases"].items(), key=lambda item: str(item[1]["start"]))
    keys = [key for key, phase in phases if "hour_of_day" in phase]
    return keys if len(keys) < 3 else [keys[0], keys[-1]]


def number_rows(document: Mapping[str, Any]) -> list[list[str]]:
    """Return a row for each quantity of the record: where it stands, value, unit, interval, level, basis, source."""
    rows = []
    for path, quantity in quantities(document):
        if path[0] in ("events",):
            continue
        shown = "mg/day" if quantity["unit"] == "g/day" else None
        interval = words.interval_text(quantity, unit=shown)
        rows.append(
            [
                quantity_name(path, document),
                words.value_text(quantity, unit=shown),
                words.printed_unit(quantity, shown),
                interval,
                words.number(100.0 * quantity["level"], 0) + "%" if interval else "",
                quantity["basis"],
                quantity["source"],
            ]
        )
    return rows


def quantity_name(path: tuple[str, ...], document: Mapping[str, Any]) -> str:
    """Return where a quantity of the record stands, in words: its part first."""
    first, *rest = path
    if first == "phases":
        rest[0] = document["phases"][rest[0]]["name"]
    return ", ".join(_KEY_WORDS.get(part, part.replace("_", " ")) for part in (first, *rest))


def quantities(value: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Mapping[str, Any]]]:
    """Yield (path, quantity) for each quantity inside a part of a record; a list entry is named by what it is."""
    if isinstance(value, Mapping):
        if {"value", "unit", "basis", "source", "level"} <= value.keys() and not isinstance(value["value"], list):
            yield path, value
            return
        for key, entry in value.items():
            yield from quantities(entry, path if key in ("quantity", "grams_per_day") else (*path, str(key)))
    elif isinstance(value, list):
        for index, entry in enumerate(value):
            yield from quantities(entry, (*path, _entry_name(entry, index)))


def _entry_name(entry: Any, index: int) -> str:
    if isinstance(entry, Mapping):
        if (
            "state" in entry and {"name", "room"} & entry.keys()
        ):  # one number in one state: a pressure of a room, a number of an answer
            what = entry["name"] if "name" in entry else f"{entry['room']} against {entry['reference']}"
            standing = f"; {entry['standing']}" if "standing" in entry else ""
            return f"{what}, {entry['state']}{standing}"
        if "numbers" in entry and "verdict" not in entry:
            return str(entry["id"]).replace("-", " ")
        for key in ("folio", "name", "title", "item", "room", "part", "flue", "place", "id", "question"):
            if entry.get(key):
                extra = f" {entry['name']}" if key == "folio" and entry.get("name") else ""
                return f"{entry[key]}{extra}"
    return str(index + 1)


def limit_rows(document: Mapping[str, Any]) -> list[list[str]]:
    """Return each limit used once: name, value, averaging, document, edition, jurisdiction, read or from memory."""
    rows: list[list[str]] = []
    for limit in _limits(document):
        value = words.limit_text(limit).partition(":")[0]
        row = [value, limit["document"], limit["edition"], limit["jurisdiction"], limit.get("known", "not said")]
        if row not in rows:
            rows.append(row)
    return rows


def _limits(value: Any) -> Iterator[Mapping[str, Any]]:
    if isinstance(value, Mapping):
        if {"document", "edition", "jurisdiction"} <= value.keys():
            yield value
            return
        for entry in value.values():
            yield from _limits(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from _limits(entry)


def _phase_text(phase: Mapping[str, Any], zone: str) -> str:
    left_out = " ".join(f"Left out: {words.sentence(entry)}" for entry in phase.get("left_out", []))
    span = words.day_span(phase["start"], phase["end"], zone)
    days = words.number(phase["days"], 0 if float(phase["days"]).is_integer() else 1)
    return f"{phase['name']}: {span}, {days} days counted. {left_out}".strip()


def _events(document: Mapping[str, Any], zone: str) -> list[list[str]]:
    """Return the forty largest events; the record holds them all."""

    def size(event: Mapping[str, Any]) -> float:
        return float(event.get("grams", {}).get("value") or 0.0)

    events = sorted(document.get("events", []), key=size, reverse=True)[:40]
    rows = []
    for event in sorted(events, key=lambda entry: str(entry["start"])):
        chances = sorted(event.get("kind_probabilities", {}).items(), key=lambda item: -item[1])[:2]
        rows.append(
            [
                words.minute(event["start"], zone),
                words.number(event["minutes"], 0),
                "; ".join(
                    f"{_KEY_WORDS.get(kind, kind.replace('_', ' '))} {words.number(100.0 * chance, 0)}%"
                    for kind, chance in chances
                )
                or event["kind"].replace("_", " "),
                words.amount(event["grams"], unit="mg/day") if "grams" in event else "",
                words.amount(event["rise"]) if "rise" in event else "",
            ]
        )
    return rows


def _reasons(counts: Mapping[str, Any]) -> str:
    return "; ".join(f"{reason.replace('_', ' ')} {count:,}" for reason, count in counts.get("by_reason", {}).items())


def _streams(document: Mapping[str, Any]) -> list[list[str]]:
    return [
        [
            stream.get("name") or stream["id"],
            stream.get("air_side", ""),
            words.quantity_word(stream["quantity"]),
            f"{stream['read']:,}",
            f"{stream['kept']:,}",
            f"{stream['set_aside']:,}",
            _reasons(stream),
            f"{stream['masked']:,}" if stream.get("masked") else "",
        ]
        for stream in document["job"]["streams"]
    ]


def _finding(finding: Mapping[str, Any]) -> Page:
    return {
        "title": finding["title"],
        "path": f"{_KEY_WORDS.get(finding['source'], finding['source'].replace('_', ' '))}, by {finding['path']}",
        "verdict": finding["verdict"],
        "test": finding["test"],
        "supports": list(finding["for"]),
        "against": list(finding["against"]) or ["nothing found"],
        "settle": finding.get("settle", ""),
        "numbers": [f"{entry['name']}: {words.stated(entry['quantity'])}" for entry in finding.get("numbers", [])],
    }


def _gate(gate: Mapping[str, Any]) -> list[str]:
    evidence = "; ".join(f"{entry['name']} {words.stated(entry['quantity'])}" for entry in gate.get("evidence", []))
    limit = words.limit_text(gate["limit"]) if "limit" in gate else ""
    answer = " ".join(words.sentence(part) for part in (gate.get("answer", ""), evidence, limit) if part)
    return [gate["question"], words.status_word(gate["status"]), answer, gate.get("lifts", "")]


def _problem(problem: Mapping[str, Any]) -> list[str]:
    return [problem["code"], problem["where"], problem["found"], problem["remedy"]]
