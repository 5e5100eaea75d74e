"""What a visit's form sends at once: one key of the visit, or one reading with its reference, gauge and house state."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from airtally.house.fields import Field, Form
from airtally.store.texts import Path, Value
from airtally.units import Kind, field_unit
from airtally.visits.accuracy import KIND_OF_DIMENSION
from airtally.visits.kinds import READING_KINDS, Dimension
from airtally.visits.parts import Doors, HandlerMode, VentStart
from airtally.visits.read_reading import ONE_SIDED
from airtally.visits.read_state import SWITCHES
from airtally.web.quantity_control import quantity_control, unit_of
from airtally.web.survey.controls import Control, Posted, control_of, posted_in
from airtally.web.survey.places import name_of
from airtally.web.visit.sheet import VisitSheet
from airtally.web.visit.steps import Spot, named

WORDS: dict[str, type[StrEnum]] = {"doors": Doors, "air_handler": HandlerMode, "vent": VentStart}
RUNNING = {"exhausts_on": "exhaust", "fires_lit": "appliance"}
"""Parts of the house state that name what runs, with the survey's section that they name."""
HOW_MANY = ("none", "all", "unknown")
BOUNDS: dict[Dimension, tuple[tuple[str, str], ...]] = {
    Dimension.TIME: (("", "over after this time"), ("at least", "still going on when stopped")),
    Dimension.MOLE_FRACTION: (("", "as read"), ("at most", "below what the meter shows")),
}
"""How a reading that is known from one side only is said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingControl(Control):
    """A reading's number with the smaller controls that belong to it: reference, gauge, house state, time, note."""

    extras: tuple[Control, ...] = ()

    @property
    def sends(self) -> dict[str, tuple[str, ...]]:
        """Return what all of its controls send as they were drawn."""
        sent = super(ReadingControl, self).sends
        for one in self.extras:
            sent |= one.sends
        return sent

    def smaller(self, key: str) -> Control | None:
        """Return one of the smaller controls."""
        return next((one for one in self.extras if one.name == f"{self.name}:{key}"), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """What is kept by itself: one group of controls.

    Attributes
    ----------
    control : Control
        As drawn from the text.
    path : tuple of str and int
        Where the key or the reading's entry stands; of a blank, where its entry would begin.
    place : str
        Who it is, whatever page or revision it is drawn in.
    key : str
        Of a reading, empty for any other key.
    begins : mapping or None
        What the entry of a blank holds besides what its controls send; None where it is written already.
    """

    control: Control
    path: Path
    place: str
    key: str = ""
    begins: Mapping[str, Any] | None = None

    @property
    def name(self) -> str:
        """Return what the names of its controls begin with."""
        return self.control.name

    def posted(self, posted: Posted, vs: VisitSheet) -> Control:
        """Return its controls with what a form sent."""
        shown = posted_in(self.control, posted, vs.sheet.context)
        if isinstance(shown, ReadingControl):
            # What a form did not hold stays as it was drawn: a blank of a blower speed is of that speed.
            extras = tuple(
                posted_in(one, posted, vs.sheet.context) if one.name in posted else one for one in shown.extras
            )
            return replace(shown, extras=extras)
        return shown


def reading_cell(vs: VisitSheet, key: str, spot: Spot, number: int | None, ordinal: int) -> Cell:
    """Return one reading as a cell, the ``number``-th of the text or a blank that takes over the house state."""
    entry = entries(vs)[number] if number is not None else {}
    state = state_of(vs, entry, spot.mode)
    fixed = {"key": key, "place": spot.place} if spot.place else {"key": key}
    name = name_of(("visit", vs.number, "reading", number)) if number is not None else blank_name(vs, key, spot)
    path: Path = ("visit", vs.number, "reading", number if number is not None else len(entries(vs)))
    kind = READING_KINDS[key]
    text = str(entry.get("value") or "")
    bound = next((one for one in ONE_SIDED if text.casefold().startswith(one)), "")
    quantity = quantity_control(
        name, text[len(bound) :] or None, KIND_OF_DIMENSION[kind.dimension], usual_unit=_usual_unit(vs, key)
    )
    described = Field(
        key=kind.meaning, form=Form.QUANTITY, kind=KIND_OF_DIMENSION[kind.dimension], meaning=kind.meaning
    )
    return Cell(
        control=ReadingControl(
            field=described, name=name, shape="quantity", quantities=(quantity,),
            extras=tuple(_extras(vs, key, spot, entry, state, name, bound.strip())),
        ),
        path=path,
        place=f"{vs.id}|{key}|{spot.place}|{spot.mode}|{mark_of(key, state)}|{ordinal}",
        key=key,
        begins=fixed if number is None else None,
    )  # fmt: skip


def blank_name(vs: VisitSheet, key: str, spot: Spot) -> str:
    """Return what the controls of a blank are called: no two places share it."""
    where = ".".join(re.sub(r"[^\w-]", lambda m: f"~{ord(m[0]):x}", one) for one in (spot.place, spot.mode))
    return f"visit.{vs.number}.blank.{key}.{where}"


def entries(vs: VisitSheet) -> list[Any]:
    """Return the readings as written."""
    written = vs.table.get("reading")
    return written if isinstance(written, list) else []


def state_of(vs: VisitSheet, entry: Mapping[str, Any], mode: str = "") -> dict[str, Any]:
    """Return the house state of a reading as written: its own, else the visit's."""
    own = {key: entry[key] for key in SWITCHES if key in entry}
    return {**vs.state, **({"air_handler": mode} if mode and not entry else {}), **own}


def mark_of(key: str, state: Mapping[str, Any]) -> str:
    """Return the parts of a house state that a reading depends on, in words: equal for like states."""
    parts = [part.value for part in READING_KINDS[key].depends_on if part.value in SWITCHES]
    return ", ".join(f"{part.replace('_', ' ')} {as_word(state.get(part)) or 'unknown'}" for part in parts)


def as_word(value: Value) -> str:
    """Return a part of the house state as a control holds it."""
    return ", ".join(sorted(map(str, value))) if isinstance(value, list) else str(value or "")


def running(vs: VisitSheet, key: str) -> list[tuple[str, str]]:
    """Return the exhausts or appliances that may run, by id and name, those that stand there at the visit."""
    time = vs.visit.time if vs.visit is not None else float("inf")
    parts = vs.sheet.house.exhausts if RUNNING[key] == "exhaust" else vs.sheet.house.appliances
    return [(one.id, named(one.kind.value, one.id)) for one in parts if one.since <= time < one.until]


def _extras(
    vs: VisitSheet, key: str, spot: Spot, entry: Mapping[str, Any], state: Mapping[str, Any], name: str, bound: str
) -> list[Control]:
    """Return the smaller controls of a reading."""
    kind = READING_KINDS[key]
    made = []

    def choice(part: str, label: str, value: str, options: list[tuple[str, str]]) -> None:
        known = [(value, value)] if value and value not in [one for one, _ in options] else []
        shape = "side by side" if part == "bound" else "list"
        described = Field(key=label, form=Form.CHOICE, meaning="")
        made.append(
            Control(field=described, name=f"{name}:{part}", shape=shape, value=value, options=(*options, *known))
        )

    if not spot.place and not entry:
        described = Field(key=f"which {kind.place}", form=Form.TEXT, meaning="")
        made.append(Control(field=described, name=f"{name}:place", shape="line"))
    if kind.dimension in BOUNDS or bound:
        choice(
            "bound", "known from one side", bound, list(BOUNDS.get(kind.dimension, (("", "as read"), (bound, bound))))
        )
    if kind.needs_reference:
        zones = [(zone.id, zone.name or zone.id) for zone in vs.sheet.house.zones if zone.id != spot.place]
        value = str(entry.get("reference") or "") if entry else _usual_reference(vs, key, spot)
        choice("reference", "against", value, [("", "not said"), ("outdoors", "outdoors"), *zones])
    gauges = [str(one["id"]) for one in _list(vs.table, "instrument") if one.get("id")]
    gauge = str(entry.get("instrument") or "") if entry else _usual_gauge(vs, key, gauges)
    choice("instrument", "gauge", gauge, [("", "not said"), *((one, one) for one in gauges)])
    for part in (one.value for one in kind.depends_on if one.value in SWITCHES):
        words = [(one.value, one.value) for one in WORDS[part]] if part in WORDS else []
        if part in RUNNING:
            words = [(one, one) for one in HOW_MANY] + [(one, title) for one, title in running(vs, part)]
        choice(part, part.replace("_", " "), as_word(state.get(part)), [("", "not said"), *words])
    if entry:
        for last, form in (("time", Form.DATE), ("note", Form.TEXT)):
            drawn = control_of(Field(key=last, form=form, meaning=""), (last,), entry.get(last), vs.sheet.context)
            made.append(replace(drawn, name=f"{name}:{last}"))
    return made


def _list(table: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    written = table.get(key)
    return [one for one in written if isinstance(one, Mapping)] if isinstance(written, list) else []


def _earlier(vs: VisitSheet) -> list[Mapping[str, Any]]:
    """Return every reading as written, those of this visit first, then of the others, the last ones first."""
    others = [table for number, table in enumerate(vs.sheet.tables) if number != vs.number]
    return [one for table in (vs.table, *reversed(others)) for one in reversed(_list(table, "reading"))]


def _usual_unit(vs: VisitSheet, key: str) -> str:
    """Return the unit last used for a reading, else for one like it, else the trade's."""
    kind = READING_KINDS[key]
    quantity = KIND_OF_DIMENSION[kind.dimension]
    like = [one for one in _earlier(vs) if str(one.get("key")) in READING_KINDS]
    same = [one for one in like if one["key"] == key]
    near = [
        one
        for one in like
        if (READING_KINDS[one["key"]].dimension, READING_KINDS[one["key"]].place) == (kind.dimension, kind.place)
    ]
    found = (unit_of(str(one.get("value") or "").removeprefix("at least "), quantity) for one in (*same, *near))
    in_survey = vs.sheet.context.units.get("air_handler.rated_static", "inH2O") if kind.is_magnitude else ""
    trade = "" if quantity is Kind.PURE else field_unit(quantity)
    return next(filter(None, found), "") or in_survey or trade


def _usual_reference(vs: VisitSheet, key: str, spot: Spot) -> str:
    """Return what the same pressure was last read against, else the room of an appliance, else outdoors."""
    same = (one for one in _earlier(vs) if one.get("key") == key and one.get("place") == spot.place)
    zone = next((one.zone for one in vs.sheet.house.appliances if one.id == spot.place), "outdoors")
    return next((str(one["reference"]) for one in same if one.get("reference")), zone)


def _usual_gauge(vs: VisitSheet, key: str, gauges: list[str]) -> str:
    """Return the gauge that last read the same key, if this visit has it."""
    same = (str(one.get("instrument") or "") for one in _earlier(vs) if one.get("key") == key)
    return next((one for one in same if one in gauges), "")
