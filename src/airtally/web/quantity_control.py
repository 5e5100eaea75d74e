"""A quantity as a form shows it: the number as typed, its unit, and the word where there is no number.

The three controls have one name: the number ``name``, the unit ``name:unit``, the word ``name:is``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from airtally.estimates import Estimate, Missing
from airtally.units import Kind, QuantityTextError, accepted_units, read_quantity, scale_of

STANDINGS = tuple(Missing)
"""Why there is no number; none of them is zero."""
_NUMBER = r"[+\-\u2212]?[\d.,]*\d\.?(?:[eE][+-]?\d+)?"
_FIRST = re.compile(rf"({_NUMBER}(?:\s*(?:\bto\b|\u2013)\s*{_NUMBER})?)\s*(.*)", re.DOTALL)
_UNIT_AND_REST = re.compile(r"(.*?)\s*((?:\(|±|\+/-|\+-).*)?", re.DOTALL)
_COMMA = re.compile(r"(?<![\d.,])(\d+),(\d+)(?![\d,])")
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityControl:
    """What the controls of one quantity show.

    Attributes
    ----------
    name : str
        Of the controls.
    typed : str
        The number with its interval, as it was typed; with its unit where that stands in between.
    unit : str
        The one chosen.
    units : tuple of str
        Those to choose from, the trade's first; empty for a plain number.
    standing : str
        One of :data:`STANDINGS`, empty where a number stands or nothing was said yet.
    """

    name: str
    typed: str
    unit: str
    units: tuple[str, ...]
    standing: str


def quantity_control(
    name: str, written: object, kind: Kind, *, currency: str = "", usual_unit: str = ""
) -> QuantityControl:
    """Return the controls of a quantity as it stands in a job's text; None stands for nothing written.

    ``usual_unit`` is chosen where none is written: the one used last, or the trade's for this key.
    """
    units = unit_choices(kind, currency)
    text = "" if written is None else str(written)
    standing = standing_of(text)
    typed, unit = ("", "") if standing else split_text(text, kind, currency)
    unit = unit or usual_unit or (units[0] if units else "")
    if units and unit not in units:
        units = (unit, *units)
    return QuantityControl(name=name, typed=typed, unit=unit, units=units, standing=standing)


def posted_control(
    name: str, posted: Mapping[str, str], kind: Kind, *, currency: str = "", usual_unit: str = ""
) -> QuantityControl:
    """Return the controls with what a form sent, so that nothing typed is lost where it cannot be kept."""
    drawn = quantity_control(name, None, kind, currency=currency, usual_unit=posted.get(f"{name}:unit", usual_unit))
    standing = posted.get(f"{name}:is", "")
    return QuantityControl(
        name=name,
        typed=posted.get(name, ""),
        unit=drawn.unit,
        units=drawn.units,
        standing=standing if standing in STANDINGS else "",
    )


def quantity_text(typed: str, unit: str, standing: str, kind: Kind, currency: str = "") -> str:
    """Return the text that a job keeps: ``"940 cfm (880 to 1000)"``, ``"not measured"``, empty for nothing said.

    The figures stay as typed; a decimal comma becomes a point, and the unit goes behind the first number unless the
    text names its own.

    Raises
    ------
    QuantityTextError
        If it cannot be read as a quantity of the kind, or a number and a word for none are both given.
    """
    typed = " ".join(typed.split())
    if standing in STANDINGS:
        if typed:
            raise QuantityTextError(
                f'"{typed}" and "{standing}" are both given', "one of the two", "Empty the number, or choose value."
            )
        return standing
    if not typed or standing_of(typed):
        return standing_of(typed)
    text = _with_points(typed)
    if not _reads(text, kind, currency):
        text = _with_unit(text, unit)
    read_quantity(text, kind, source="", currency=currency)
    return text


def read_as(typed: str) -> str:
    """Return how a number with a comma is read where that may surprise: ``"1,850"`` is 1850; else an empty text."""
    found = _THOUSANDS.search(typed)
    return found.group().replace(",", "") if found else ""


def unit_choices(kind: Kind, currency: str = "") -> tuple[str, ...]:
    """Return the units to choose from, the trade's first; none for a plain number."""
    if kind is Kind.PURE:
        return ()
    named = [unit.strip() for unit in accepted_units(kind, currency).split(",")]
    return tuple(unit for unit in named if _is_unit(unit, kind, currency))


def split_text(text: str, kind: Kind, currency: str = "") -> tuple[str, str]:
    """Return the number with its interval, and the unit; a text that cannot be parted comes back whole, without."""
    found = _FIRST.fullmatch(text.strip())
    if found is None:
        return text, ""
    number, behind = found.groups()
    parted = _UNIT_AND_REST.fullmatch(behind)
    unit, rest = (parted.group(1), parted.group(2) or "") if parted else ("", "")
    typed = f"{number} {rest}".strip()
    is_whole = " ".join(_with_unit(typed, unit).split()) == " ".join(text.split())
    return (typed, unit) if is_whole and _is_unit(unit, kind, currency) else (text, "")


def standing_of(text: str) -> str:
    """Return which word for a missing number a text is; empty if it is none."""
    plain = " ".join(text.split()).casefold()
    return plain if plain in STANDINGS else ""


def unit_of(text: str, kind: Kind, currency: str = "") -> str:
    """Return the unit that a text of the trade names: ``"in"`` of ``"2 to 40 in"``; empty if it cannot be told."""
    return split_text(text.format(currency=currency), kind, currency)[1]


def read_estimate(text: str, kind: Kind, currency: str = "") -> Estimate | None:
    """Return a quantity's text in SI; None where it says that there is no number, or nothing."""
    if not text:
        return None
    found = read_quantity(text, kind, source="", currency=currency)
    return found if isinstance(found, Estimate) else None


def _with_points(typed: str) -> str:
    return _COMMA.sub(lambda m: m.group() if _THOUSANDS.fullmatch(m.group()) else f"{m[1]}.{m[2]}", typed)


def _with_unit(typed: str, unit: str) -> str:
    found = _FIRST.fullmatch(typed)
    if found is None or not unit:
        return typed
    return f"{found.group(1)} {unit} {found.group(2)}".strip()


def _reads(text: str, kind: Kind, currency: str) -> bool:
    try:
        read_quantity(text, kind, source="", currency=currency)
    except QuantityTextError:
        return False
    return True


def _is_unit(unit: str, kind: Kind, currency: str) -> bool:
    try:
        scale_of(unit, kind, currency)
    except QuantityTextError:
        return False
    return True
