"""Which spaces a cut through the house shows, in which rows, and what stands in them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from math import ceil
from typing import Any

from airtally.report.hookup_svg import ROOM_FOR_OTHER_FONTS, text_width

INNER = ("room", "basement")
"""Kinds whose air the account is kept for; the others are buffers."""
INSET = 14.0
"""Of a name from the walls of its space, both sides together. [px]"""
MACHINES = ("furnace", "boiler", "water heater")
"""Appliances that a cut names where they stand; fires and ranges have marks of their own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Space:
    """A space of the house. ``floor`` is 0 at the ground; ``notes`` say what stands or runs in it."""

    id: str
    name: str
    kind: str
    floor: int
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Spaces side by side: rooms of one floor, or buffers of one kind of place."""

    floor: int
    is_buffer: bool
    spaces: tuple[Space, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseFacts:
    """What a cut draws of a house.

    Attributes
    ----------
    spaces : tuple of Space
        At least one.
    places : mapping
        Zone id by key of the source, where the survey says it.
    has_air_handler, has_cleaner_on_duct, has_surveyed_floors : bool
    """

    spaces: tuple[Space, ...]
    places: Mapping[str, str]
    has_air_handler: bool
    has_cleaner_on_duct: bool
    has_surveyed_floors: bool


def house_facts(document: Mapping[str, Any], phase: Mapping[str, Any] | None) -> HouseFacts:
    """Return the house of a record as it stood in a phase, or as it stands now for None."""
    house = document.get("house", {})

    def present(part: Mapping[str, Any]) -> bool:
        if phase is None:
            return "until" not in part
        return str(part.get("since", "")) < str(phase["end"]) and str(part.get("until", "~")) > str(phase["start"])

    notes: dict[str, list[str]] = {}
    for part in [*house.get("appliances", []), *house.get("ducts", [])]:
        what = part.get("kind") or part["what"]
        if present(part) and (what in MACHINES or what.endswith("duct")):
            notes.setdefault(part["zone"], []).append(what)
    zones = house.get("zones", [])
    spaces = [
        Space(
            id=zone["id"],
            name=zone["name"],
            kind=zone["kind"],
            floor=zone["floor"],
            notes=tuple(dict.fromkeys(notes.get(zone["id"], []))),
        )
        for zone in zones
    ]
    return HouseFacts(
        spaces=tuple(spaces) or (Space(id="", name="rooms", kind="room", floor=0),),
        places={row["source"]: row["zone"] for row in house.get("sources", [])},
        has_air_handler=house.get("has_air_handler", False),
        has_cleaner_on_duct=any(present(one) and not one["is_portable"] for one in house.get("cleaners", [])),
        has_surveyed_floors=all(zone["floor_basis"] == "surveyed" for zone in zones if zone["kind"] in INNER),
    )


def folded(facts: HouseFacts) -> HouseFacts:
    """Return the house with all rooms as one and one buffer of each kind, for a narrow sheet."""
    found: dict[str, Space] = {}
    moved: dict[str, str] = {}
    for kind, group in groupby(sorted(facts.spaces, key=_fold_key), key=_fold_key):
        members = list(group)
        one = members[0]
        name = one.name if kind in INNER else kind
        if len(members) > 1:
            name = f"{len(members)} {kind}s"
        found[kind] = replace(one, name=name, kind=kind, floor=-1 if kind == "crawlspace" else 0, notes=())
        moved |= dict.fromkeys((member.id for member in members), one.id)
    places = {source: moved.get(zone, zone) for source, zone in facts.places.items()}
    return replace(facts, spaces=tuple(found.values()), places=places)


def _fold_key(space: Space) -> str:
    return "room" if space.kind in INNER else space.kind


def rows_of(spaces: Sequence[Space], most: int) -> tuple[Row, ...]:
    """Return the spaces as rows from the roof down, at most ``most`` rooms in a row.

    Attics stand on top; on each floor its rooms come first, its garage or crawlspace below them in a row of their own,
    so that nothing that comes from elsewhere is drawn through them.
    """

    def order(space: Space) -> tuple[bool, int, bool]:
        return space.kind != "attic", -space.floor, space.kind not in INNER

    rows = []
    for (_, floor, is_buffer), group in groupby(sorted(spaces, key=order), key=order):
        members = list(group)
        count = ceil(len(members) / most)
        size, longer = divmod(len(members), count)
        start = 0
        for index in range(count):
            end = start + size + (index < longer)
            rows.append(Row(floor=-floor, is_buffer=is_buffer, spaces=tuple(members[start:end])))
            start = end
    return tuple(rows)


def cells_of(row: Row, left: float, right: float) -> tuple[tuple[Space, float, float], ...]:
    """Return each space of a row with its left edge and width. [px]

    The shortest are served first with room for their longest word; what is left goes to those with more to say.
    """
    least = [0.0] * len(row.spaces)
    needs = [_width(max(_words(space).split(), key=len)) + INSET for space in row.spaces]
    spare = right - left
    for served, index in enumerate(sorted(range(len(needs)), key=needs.__getitem__)):
        least[index] = min(needs[index], spare / (len(needs) - served))
        spare -= least[index]
    wanted = [min(_width(_words(space)), 140.0) for space in row.spaces]
    found = []
    at = left
    for space, low, wish in zip(row.spaces, least, wanted, strict=True):
        width = low + max(spare, 0.0) * wish / sum(wanted)
        found.append((space, at, width))
        at += width
    return tuple(found)


def _words(space: Space) -> str:
    """Return the longer of name and notes."""
    return max(space.name, ", ".join(space.notes), key=len)


def _width(text: str) -> float:
    return ROOM_FOR_OTHER_FONTS * text_width(text, 13.0, 600)


def fitted(text: str, width: float, size: float, weight: int, most: int) -> tuple[str, ...]:
    """Return a text as at most ``most`` lines of a width; what is cut ends in three dots. [px]"""

    def fits(line: str) -> bool:
        return text_width(line, size, weight) * ROOM_FOR_OTHER_FONTS <= width

    lines: list[str] = [""]
    for word in text.split():
        rest = word
        while rest:
            longer = f"{lines[-1]} {rest}".strip()
            if fits(longer):
                lines[-1], rest = longer, ""
            elif lines[-1]:
                lines.append("")
            else:
                cut = max((end for end in range(1, len(rest)) if fits(rest[:end])), default=1)
                lines[-1], rest = rest[:cut], rest[cut:]
                lines.append("")
    lines = [line for line in lines if line]
    if len(lines) > most:
        last = lines[most - 1]
        while last and not fits(f"{last}..."):
            last = last[:-1]
        lines = [*lines[: most - 1], f"{last.rstrip(' ,')}..."]
    return tuple(lines)
