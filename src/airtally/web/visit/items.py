"""What a step asks: each reading at each place of this house with its blanks, and what test-in found there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from airtally.safety.parts import BlockedForm
from airtally.visits.kinds import CHECKS, READING_KINDS
from airtally.visits.pair import Likeness, pair_like_states, unlike_parts
from airtally.visits.parts import Reading
from airtally.web.visit.cells import Cell, as_word, entries, mark_of, reading_cell, state_of
from airtally.web.visit.keys import check_cell, entry_cells, gate_cells, note_cell, state_cells, visit_cells
from airtally.web.visit.sheet import VisitSheet, visit_at
from airtally.web.visit.steps import STEPS, Spot, Step, spots


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """A reading of test-in beside its blank."""

    written: str
    state: str
    standing: str
    """What became of it: re-tested in the like state, not re-tested and why, not measured then."""
    differs: str = ""
    """In what the house state now differs from the one it was read in; empty where it does not."""


class Item:
    """One reading at one place, at one blower speed: what is written of it, and a blank.

    ``is_read`` says whether it was read in the house state that stands now; ``blocked`` which forms of it gates block.
    """

    def __init__(self, key: str, spot: Spot, blank: Cell) -> None:
        self.key = key
        self.spot = spot
        self.blank = blank
        self.blank_state = ""
        self.written: list[tuple[int, Cell]] = []
        self.is_read = False
        self.before: list[Before] = []
        self.blocked: tuple[BlockedForm, ...] = ()

    @property
    def title(self) -> str:
        """Return where it is read, in words."""
        title = self.spot.title or f"another {READING_KINDS[self.key].place}"
        return f"{title}, {self.spot.mode}" if self.spot.mode else title

    @property
    def anchor(self) -> str:
        """Return its id on the page."""
        return "at-" + self.blank.control.id


def items_of(vs: VisitSheet, step: Step) -> list[Item]:
    """Return what a step asks about readings, key by key."""
    return [item for key in step.keys for item in _items(vs, step, key)] if vs.visit is not None else []


def cells_of(vs: VisitSheet, step: Step) -> list[Cell]:
    """Return every cell of a step's form."""
    cells = {
        "gates": lambda: gate_cells(vs),
        "state": lambda: [*visit_cells(vs), *state_cells(vs)],
        "zone": lambda: [check_cell(vs, "venting_inspected")],
        "looked-at": lambda: [check_cell(vs, check) for check in CHECKS],
        "gauges": lambda: [cell for _, group in entry_cells(vs, "instrument") for cell in group],
        "notes": lambda: [note_cell(vs), *(cell for _, group in entry_cells(vs, "action") for cell in group)],
    }.get(step.path, list)()
    for item in items_of(vs, step):
        cells += [cell for _, cell in item.written] + [item.blank]
    return cells


def with_test_in(vs: VisitSheet, items: list[Item]) -> None:
    """Put beside each item what test-in read there, and whether a like reading stands against it."""
    test_in = vs.test_in
    if test_in is None or vs.visit is None:
        return
    pairing = pair_like_states(test_in, vs.visit)
    again = {id(pair.before) for pair in pairing.pairs}
    why = {id(lost.before): lost.why for lost in pairing.not_retested}
    now = _as_read_now(vs, items)
    for number, item in enumerate(items):
        for reading in test_in.readings:
            if not _is_at(reading, item):
                continue
            standing = "not measured then"
            if id(reading) in again:
                standing = "re-tested in the like state"
            elif id(reading) in why:
                standing = f"not re-tested: {why[id(reading)]}"
            elif READING_KINDS[reading.key].is_fixed:
                standing = "a fact of the machine or the day"
            unlike = unlike_parts(reading, now[number], Likeness()) if id(reading) in why else ()
            item.before.append(
                Before(
                    written=reading.as_written,
                    state=_state_words(reading),
                    standing=standing,
                    differs="; ".join(unlike),
                )
            )


def _items(vs: VisitSheet, step: Step, key: str) -> list[Item]:
    """Return one key's items: where the survey says that it is read, and where it was read all the same."""
    assert vs.visit is not None  # noqa: S101 - items_of asks only for visits that could be read
    asked = spots(key, step, vs.sheet.house, vs.visit.time)
    known = {spot for one in STEPS if key in one.keys for spot in spots(key, one, vs.sheet.house, vs.visit.time)}
    is_last = step is [one for one in STEPS if key in one.keys][-1]
    found: dict[Spot, Item] = {spot: _item(vs, key, spot) for spot in asked}
    for number, entry in enumerate(entries(vs)):
        if isinstance(entry, Mapping) and str(entry.get("key") or "").strip() == key:
            spot = _spot_of(vs, key, entry, {*known, *found})
            if spot in found or (spot not in known and is_last):
                item = found.setdefault(spot, _item(vs, key, spot))
                _add(vs, item, number, entry)
    for spot in _of_test_in(vs, key, {*known, *found}) if is_last else ():
        found.setdefault(spot, _item(vs, key, spot))
    if READING_KINDS[key].place == "register":
        found[Spot("", "")] = _item(vs, key, Spot("", ""))
    for item in found.values():
        _close(vs, item)
    return list(found.values())


def _item(vs: VisitSheet, key: str, spot: Spot) -> Item:
    return Item(key=key, spot=spot, blank=reading_cell(vs, key, spot, None, 0))


def _add(vs: VisitSheet, item: Item, number: int, entry: Mapping[str, Any]) -> None:
    mark = mark_of(item.key, state_of(vs, entry))
    alike = sum(mark == mark_of(item.key, state_of(vs, entries(vs)[one])) for one, _ in item.written)
    item.written.append((number, reading_cell(vs, item.key, item.spot, number, alike)))


def _close(vs: VisitSheet, item: Item) -> None:
    """Settle an item's blank once all that is written of it is known."""
    state = state_of(vs, {}, item.spot.mode)
    item.blank_state = mark_of(item.key, state)
    alike = sum(mark_of(item.key, state_of(vs, entries(vs)[one])) == item.blank_state for one, _ in item.written)
    item.is_read = alike > 0
    item.blank = reading_cell(vs, item.key, item.spot, None, alike)
    item.blocked = vs.blocks_on(item.key, as_word(state.get("doors")))


def _spot_of(vs: VisitSheet, key: str, entry: Mapping[str, Any], known: set[Spot]) -> Spot:
    """Return where a reading as written belongs."""
    place = str(entry.get("place") or "").strip() or READING_KINDS[key].place
    here = [spot for spot in known if spot.place == place]
    mode = as_word(state_of(vs, entry).get("air_handler")) if any(spot.mode for spot in here) else ""
    return next((spot for spot in here if spot.mode == mode), Spot(place, here[0].title if here else place, mode))


def _of_test_in(vs: VisitSheet, key: str, known: set[Spot]) -> list[Spot]:
    """Return where test-in read a key though the survey asks for none there; what was taken out is left out."""
    house = vs.sheet.house
    parts = (house.appliances, house.exhausts, house.cleaners, house.ventilation)
    named = {one.id for some in parts for one in some}
    read = [one for one in vs.test_in.readings if one.key == key] if vs.test_in is not None else []
    places = dict.fromkeys(one.place for one in read if one.place not in named)
    return [Spot(place, place) for place in places if all(spot.place != place for spot in known)]


def _is_at(reading: Reading, item: Item) -> bool:
    is_there = (reading.key, reading.place) == (item.key, item.spot.place)
    return is_there and (not item.spot.mode or reading.state.air_handler.value == item.spot.mode)


def _as_read_now(vs: VisitSheet, items: list[Item]) -> list[Reading]:
    """Return a reading at each item as it would count if it were taken in the house state that stands now."""
    probes = [
        {**state_of(vs, {}, item.spot.mode), "key": item.key, "place": item.spot.place or "?", "value": "not measured"}
        for item in items
    ]
    shown = visit_at(vs.sheet, vs.id, {**vs.table, "reading": probes})
    return list(shown.visit.readings) if shown is not None and shown.visit is not None else []


def _state_words(reading: Reading) -> str:
    parts = {part.value: getattr(reading.state, part.value, None) for part in READING_KINDS[reading.key].depends_on}
    words = {
        part: "unknown" if value is None else ", ".join(value) or "none" if isinstance(value, tuple) else str(value)
        for part, value in parts.items()
        if part != "weather"
    }
    against = [f"against {reading.reference}"] if reading.reference else []
    return ", ".join(against + [f"{part.replace('_', ' ')} {word}" for part, word in words.items()])
