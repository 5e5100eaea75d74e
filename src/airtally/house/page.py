"""The reference part of ``docs/survey.md``, made from the descriptions that the reader itself uses."""

from __future__ import annotations

from airtally.estimates import Estimate
from airtally.house.defaults import EXHAUST_FLOW, HOOD_CAPTURE, MINIMUM_EFFICIENCY, MOTOR_POWER, filter_efficiency
from airtally.house.fields import Field, Form, Section
from airtally.house.tables import SECTIONS
from airtally.units import accepted_units

BEGIN = "<!-- generated from airtally.house: begin -->"
END = "<!-- generated from airtally.house: end -->"
KEPT_FOR_LATER: tuple[str, ...] = (
    "Appliance.fuel",
    "Change.expects_same_air",
    "Exhaust.capture",
    "Occupants.hours_at_home",
    "Occupants.sensitive",
)
"""Attributes (``"AirHandler.supply_leak_outside"``) that the survey takes and no later stage reads yet."""


def attributes_filled() -> dict[str, str]:
    """Return each key of the survey and the attribute of the house it fills: ``{"zone.volume": "Zone.volume"}``."""
    return {f"{s.path}.{f.key}": f.attribute for s in SECTIONS for f in s.fields if f.attribute}


def keys_of_reader() -> tuple[str, ...]:
    """Return the keys that only the survey's reader uses, for a check or a default."""
    return tuple(f"{s.path}.{f.key}" for s in SECTIONS for f in s.fields if not f.attribute)


def survey_reference() -> str:
    """Return the generated part of the page, markers included."""
    parts = [BEGIN, "", "## Sections and keys", ""]
    for section in SECTIONS:
        parts += [*_section_lines(section), ""]
    parts += [*_table_lines(), "", "## Kept, not read yet", ""]
    parts += ["The survey takes these, and the house carries them, but no later stage reads them in this version:", ""]
    parts += [", ".join(f"`{attribute}`" for attribute in KEPT_FOR_LATER) + ".", "", END]
    return "\n".join(parts)


def _section_lines(section: Section) -> list[str]:
    """Return one section's heading and table."""
    repeats = " May be a list `[[" + section.path + "]]`." if section.may_repeat else ""
    lines = [f"### `{section.heading}`", "", section.meaning + repeats, ""]
    lines += ["| key | takes | meaning | left out or missing | can be |", "|---|---|---|---|---|"]
    return lines + [_row(field) for field in section.fields]


def _row(field: Field) -> str:
    """Return one key's row."""
    cells = (
        f"`{field.key}`",
        _takes(field),
        field.meaning,
        _left_out(field),
        field.possible.replace(" {currency}", ""),
    )
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _takes(field: Field) -> str:
    """Return in words what a key takes."""
    if field.form in (Form.QUANTITY, Form.QUANTITIES) and field.kind is not None:
        several = "three quantities" if field.form is Form.QUANTITIES else "quantity"
        units = f"{several}: {accepted_units(field.kind)}"
        return units + (f"; +- {100 * field.spread:.0f} % where no interval is written" if field.spread else "")
    if field.form in (Form.CHOICE, Form.CHOICES):
        return f"{field.form.value} {', '.join(field.words)}"
    if field.form is Form.REFERENCE:
        return f"id of a `{field.refers_to}`"
    return field.form.value


def _left_out(field: Field) -> str:
    """Return what happens without a value."""
    if field.is_required:
        return "needed"
    if field.default is not None:
        return f"{field.default.text} ({field.default.source})"
    if field.default_words:
        return field.default_words
    return "no number" if field.form in (Form.QUANTITY, Form.QUANTITIES) else ""


def _table_lines() -> list[str]:
    """Return the tables of defaults that depend on kind, motor and rating."""
    lines = ["## Defaults by kind", "", "| exhaust | flow | source |", "|---|---|---|"]
    lines += [f"| {kind.value} | {default.text} | {default.source} |" for kind, default in EXHAUST_FLOW.items()]
    lines += ["", f"Capture of a range hood: {HOOD_CAPTURE.text}; {HOOD_CAPTURE.source}.", ""]
    lines += ["| blower motor | power | source |", "|---|---|---|"]
    lines += [f"| {motor} | {default.text} | {default.source} |" for (motor, _), default in MOTOR_POWER.items()]
    lines += ["", "## Filter efficiency by rating", ""]
    lines += ["| rating | 0.3-1 um | 1-3 um | 3-10 um | source |", "|---|---|---|---|---|"]
    ratings: list[int | str] = [*MINIMUM_EFFICIENCY, "HEPA", "none", "unknown"]
    for rating in ratings:
        classes = filter_efficiency(rating)
        shown = f"MERV {rating}" if isinstance(rating, int) else rating
        lines.append(f"| {shown} | {' | '.join(_percent(e) for e in classes)} | {classes[0].source} |")
    return lines


def _percent(estimate: Estimate) -> str:
    """Return a share as a survey writes it."""
    return f"{100 * estimate.value:.3g} % ({100 * estimate.low:.3g} to {100 * estimate.high:.4g})"
