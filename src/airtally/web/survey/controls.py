"""One key of the survey as controls of a form, and what the controls send back as a value of the text."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from airtally.house.fields import Field, Form
from airtally.store.texts import Path, Value
from airtally.units import Kind
from airtally.web.quantity_control import (
    QuantityControl,
    posted_control,
    quantity_control,
    unit_of,
)
from airtally.web.survey.places import ids_of, name_of

FEW = 4
"""Words of a choice that stand side by side; more go into a list."""
LONG = 40
"""Letters after which a text gets a box of several lines."""
PLAIN_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}[ T]\d{2}:\d{2}")
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
SIZES = ("0.3 to 1 um", "1 to 3 um", "3 to 10 um")
Posted = Mapping[str, Sequence[str]]
"""What a form sent, by name of control."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What a field's controls depend on besides their value."""

    survey: Mapping[str, Any]
    currency: str = "USD"
    zone: ZoneInfo = field(default_factory=lambda: ZoneInfo("UTC"))
    units: Mapping[str, str] = field(default_factory=dict)
    """Unit that another entry uses for the same key, by ``section.key``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """A field as drawn.

    Attributes
    ----------
    field : Field
        Its description.
    name : str
        Of the controls; the way to the key.
    shape : str
        Which controls: ``line``, ``lines``, ``list``, ``side by side``, ``several``, ``number``, ``quantity``,
        ``three``, ``moment``.
    value : str or tuple of str
        What they hold.
    options : tuple of pairs of str
        Value and words of what may be chosen.
    quantities : tuple of QuantityControl
        One, or three.
    """

    field: Field
    name: str
    shape: str
    value: str = ""
    chosen: tuple[str, ...] = ()
    options: tuple[tuple[str, str], ...] = ()
    quantities: tuple[QuantityControl, ...] = ()

    @property
    def id(self) -> str:
        """Return the id of the first control."""
        return self.name.replace(".", "-")

    @property
    def label(self) -> str:
        """Return the field's name in words."""
        return label_of(self.field)

    @property
    def left_open(self) -> str:
        """Return what is taken where nothing is said; empty if nothing is."""
        if self.field.default is not None:
            return f"Left open: {self.field.default.text} is taken."
        words = self.field.default_words.replace("see the table below", "the tables of docs/survey.md")
        return f"Left open: {words}." if words else ""

    @property
    def is_open(self) -> bool:
        """Return whether nothing is written yet."""
        return not (self.value or self.chosen or any(one.typed or one.standing for one in self.quantities))

    @property
    def sends(self) -> dict[str, tuple[str, ...]]:
        """Return what the controls send as they were drawn, by name."""
        if self.quantities:
            sent: dict[str, tuple[str, ...]] = {}
            for one in self.quantities:
                sent |= {one.name: (one.typed,), f"{one.name}:is": (one.standing,)}
                sent |= {f"{one.name}:unit": (one.unit,)} if one.units else {}
            return sent
        if self.shape == "several":
            return {self.name: ("", *self.chosen)}
        return {self.name: (self.value,)}


def label_of(described: Field) -> str:
    """Return a key in words: ``flow_at_50`` is ``Flow at 50``."""
    if described.key == "pm25":
        return "PM2.5"
    words = described.key.removeprefix("is_").replace("_", " ")
    return words[:1].upper() + words[1:]


def control_of(described: Field, path: Path, value: Value, context: Context) -> Control:
    """Return a field's controls with what is written, None for nothing."""
    name = name_of(path)
    made = Control(field=described, name=name, shape="line", value=as_text(value))
    match described.form:
        case Form.QUANTITY:
            usual = _usual_unit(described, path, context)
            shown = quantity_control(name, value, kind_of(described), currency=context.currency, usual_unit=usual)
            return replace(made, shape="quantity", value="", quantities=(shown,))
        case Form.QUANTITIES:
            return replace(made, shape="three", value="", quantities=_three(described, name, value, context))
        case Form.COUNT:
            return replace(made, shape="number")
        case Form.FACT:
            words = {True: "yes", False: "no"}
            said = words[value] if isinstance(value, bool) else made.value
            return replace(made, shape="side by side", value=said, options=_with(said, [("yes", "yes"), ("no", "no")]))
        case Form.CHOICE:
            shape = "side by side" if len(described.words) <= FEW else "list"
            return replace(made, shape=shape, options=_with(made.value, [(word, word) for word in described.words]))
        case Form.CHOICES:
            chosen = tuple(str(one) for one in value) if isinstance(value, list) else (str(value),) if value else ()
            known = [(word, word.replace("_", " ")) for word in described.words]
            known += [(one, one) for one in chosen if one not in described.words]
            return replace(made, shape="several", value="", chosen=chosen, options=tuple(known))
        case Form.REFERENCE:
            return replace(made, shape="list", options=_with(made.value, _references(described, context.survey)))
        case Form.DATE:
            is_plain = not made.value or PLAIN_MOMENT.fullmatch(made.value) is not None
            return replace(
                made,
                shape="moment" if is_plain else "line",
                value=made.value.replace(" ", "T") if is_plain else made.value,
            )
        case Form.DAYS | Form.TABLE:
            return replace(made, shape="lines")
    return replace(made, shape="lines" if len(made.value) > LONG else "line")


def posted_in(drawn: Control, posted: Posted, context: Context) -> Control:
    """Return the controls with what a form sent in them."""
    if drawn.quantities:
        flat = {name: values[-1] for name, values in posted.items() if values}
        kind = kind_of(drawn.field)
        shown = tuple(posted_control(one.name, flat, kind, currency=context.currency) for one in drawn.quantities)
        return replace(drawn, quantities=shown)
    values = [one for one in posted.get(drawn.name, ()) if one]
    if drawn.shape == "several":
        return replace(drawn, chosen=tuple(values))
    value = _lines(values[-1]) if values else ""
    shape = "line" if drawn.shape == "moment" and not PLAIN_MOMENT.fullmatch(value) else drawn.shape
    return replace(drawn, value=value, shape=shape)


def differs(drawn: Control, posted: Posted) -> bool:
    """Return whether a form sent something else than what was drawn; a field that it did not hold does not differ."""
    sends = drawn.sends
    if not any(name in posted for name in sends):
        return False
    untouched_units = drawn.is_open and not any(
        one for name in sends if not name.endswith(":unit") for one in posted.get(name, ())
    )
    return not untouched_units and any(
        [_lines(one) for one in posted.get(name, ())] != [_lines(one) for one in sent] for name, sent in sends.items()
    )


def said_of(value: Value) -> str:
    """Return a value of the text in words, for a reader who chooses between two."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(said_of(one) for one in value)
    if isinstance(value, Mapping):
        return "; ".join(f"{key} = {said_of(one)}" for key, one in value.items())
    return str(value)


def as_text(value: Value) -> str:
    """Return a value as a control of lines holds it."""
    if value is None:
        return ""
    if isinstance(value, Mapping):
        return "\n".join(f"{key} = {one}" for key, one in value.items())
    if isinstance(value, list):
        return "\n".join(str(one) for one in value)
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    return str(value)


def _lines(text: str) -> str:
    return text.replace("\r\n", "\n").strip()


def kind_of(described: Field) -> Kind:
    """Return what sort of quantity a field takes."""
    return described.kind or Kind.PURE


def _usual_unit(described: Field, path: Path, context: Context) -> str:
    key = ".".join(step for step in path if isinstance(step, str))
    of_trade = described.default.text if described.default is not None else described.possible
    return context.units.get(key, "") or unit_of(of_trade, kind_of(described), context.currency) or unit_of(
        described.possible, kind_of(described), context.currency
    )  # fmt: skip


def _three(described: Field, name: str, value: Value, context: Context) -> tuple[QuantityControl, ...]:
    written = value if isinstance(value, list) and len(value) == len(SIZES) else [value] * len(SIZES)
    usual = unit_of(described.possible, kind_of(described), context.currency)
    return tuple(
        quantity_control(f"{name}.{place}", one, kind_of(described), currency=context.currency, usual_unit=usual)
        for place, one in enumerate(written)
    )


def _references(described: Field, survey: Mapping[str, Any]) -> list[tuple[str, str]]:
    known = [(word, word) for word in described.or_words]
    for section in (described.refers_to, described.or_refers_to):
        known += ids_of(survey, section) if section else []
    return known


def _with(value: str, options: list[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Return options with the one for nothing said, and with what is written though it is none of them."""
    unknown = [(value, f"{value} (not known here)")] if value and value not in [known for known, _ in options] else []
    return (("", "not said"), *options, *unknown)
