"""What the controls of one field of the survey sent, as a value of the text, and what is doubtful about it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

from airtally.errors import InputError
from airtally.estimates import Estimate
from airtally.house.fields import Field, Form
from airtally.house.gathering import possible_range
from airtally.house.moments import MomentTextError, read_moment
from airtally.store.texts import Value
from airtally.units import Kind
from airtally.web.quantity_control import (
    QuantityControl,
    quantity_text,
    read_as,
    read_estimate,
    split_text,
    standing_of,
)
from airtally.web.survey.controls import (
    PLAIN_MOMENT,
    SIZES,
    Context,
    Control,
    Posted,
    as_text,
    kind_of,
    label_of,
    posted_in,
)

_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")


def value_of(drawn: Control, posted: Posted, context: Context, stood: Value) -> Value:
    """Return the value that a form sent for a field, None where it was emptied.

    Raises
    ------
    InputError
        If it cannot be kept: what was found, what is wanted, what to do.
    """
    sent = posted_in(drawn, posted, context)
    described = drawn.field
    if drawn.quantities:
        texts = [_quantity(one, described, context) for one in sent.quantities]
        return _joined(texts) if described.form is Form.QUANTITIES else texts[0] or None
    if drawn.shape == "several":
        return list(sent.chosen) or None
    text = sent.value.strip()
    if not text:
        return None
    match described.form:
        case Form.COUNT:
            read: Value = _count(text, described, context)
        case Form.FACT:
            read = _fact(text, described)
        case Form.DATE:
            read = _moment(text, context)
        case Form.DAYS:
            read = _days(text)
        case Form.TABLE:
            read = _table(text, stood if isinstance(stood, Mapping) else {})
        case _:
            read = text
    # A date or a number may be written in the text's own form; it stays so until it says something else.
    return stood if stood is not None and as_text(stood) == as_text(read) else read


def doubt_of(described: Field, value: Value, typed: str, context: Context) -> str:
    """Return what is unusual about a value that is kept all the same; empty if nothing is."""
    said = []
    if described.form in (Form.QUANTITY, Form.QUANTITIES) and read_as(typed):
        said.append(f"Read as {read_as(typed)}; write a point if the comma was a decimal one.")
    if described.form is Form.QUANTITY and described.default is not None and isinstance(value, str):
        kind = kind_of(described)
        found = read_estimate(value, kind, context.currency)
        usual = read_estimate(described.default.text, kind, context.currency)
        if found is not None and usual is not None and usual.low < usual.high and not _holds(usual, found.value):
            said.append(f"Kept. Unusual: most are {_ends(described.default.text, kind)}. Are you sure?")
    return " ".join(said)


def _quantity(one: QuantityControl, described: Field, context: Context) -> str:
    kind = kind_of(described)
    text = quantity_text(one.typed, one.unit, one.standing, kind, context.currency)
    found = read_estimate(text, kind, context.currency)
    if found is not None and described.possible:
        low, high = possible_range(described, context.currency)
        if not low <= found.value <= high:
            possible = described.possible.format(currency=context.currency)
            raise InputError(f"{text} is not possible here: it can be {possible}. Check number, unit and sign.")
    return text


def _joined(texts: list[str]) -> Value:
    """Return three quantities as the text keeps them: a list, or one word where all three have the same."""
    if not any(texts):
        return None
    if len(set(texts)) == 1 and standing_of(texts[0]):
        return texts[0]
    if not all(texts) or any(standing_of(text) for text in texts):
        raise InputError(f"Three numbers belong together, for {', '.join(SIZES)}; give all three, or one word for all.")
    return list(texts)


def _count(text: str, described: Field, context: Context) -> Value:
    if not _NUMBER.fullmatch(text):
        raise InputError(f'"{text}" is no plain number; it can be {described.possible}. Write figures only.')
    number = float(text.replace(",", "."))
    low, high = possible_range(described, context.currency)
    if not low <= number <= high:
        raise InputError(f"{text} is not possible here: it can be {described.possible}. Check the number.")
    return int(text) if text.lstrip("+-").isdigit() else number


def _fact(text: str, described: Field) -> Value:
    if text not in ("yes", "no"):
        raise InputError(f"{label_of(described)} is yes or no; choose one.")
    return text == "yes"


def _moment(text: str, context: Context) -> Value:
    plain = text.replace("T", " ", 1) if PLAIN_MOMENT.fullmatch(text) else text
    try:
        read_moment(plain, context.zone)
    except MomentTextError as doubt:
        raise InputError(f'"{plain}" {doubt}. Write it as 2025-09-30 08:00.') from doubt
    return plain


def _days(text: str) -> Value:
    days = re.split(r"[\s,;]+", text)
    for day in days:
        try:
            date.fromisoformat(day)
        except ValueError:
            raise InputError(f'"{day}" is no day; write one a line, as 2025-10-13.') from None
    return list(days)


def _table(text: str, was: Mapping[str, Any]) -> Value:
    table: dict[str, Any] = {}
    for line in filter(None, map(str.strip, text.splitlines())):
        key, sign, written = (part.strip() for part in line.rpartition(" = " if " = " in line else "="))
        if not sign or not key or not written:
            raise InputError(f'"{line}" is no pair; write one a line, as name = value.')
        table[key] = was[key] if key in was and str(was[key]) == written else written
    return table


def _holds(usual: Estimate, value: float) -> bool:
    return usual.low <= value <= usual.high


def _ends(text: str, kind: Kind) -> str:
    """Return the two ends of a default with their unit."""
    typed, unit = split_text(text, kind)
    return f"{typed.partition('(')[2].rstrip(')')} {unit}".strip()
