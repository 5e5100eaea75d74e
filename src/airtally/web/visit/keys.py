"""The keys of a visit that are no readings: gates, house state, checks, gauges, referrals, notes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from airtally.house.fields import Field, Form
from airtally.safety.gates import DO, FORMS
from airtally.store.texts import value_at
from airtally.visits.kinds import CHECKS, GATES
from airtally.visits.parts import Answer, VisitKind
from airtally.visits.read_state import WEATHER
from airtally.web.survey.controls import control_of
from airtally.web.visit.cells import HOW_MANY, RUNNING, WORDS, Cell, running
from airtally.web.visit.sheet import VisitSheet

STATE_MEANS = {
    "doors": "Interior doors.",
    "air_handler": "What it does now.",
    "exhausts_on": "None, all, or by name.",
    "fires_lit": "None, all, or by name.",
    "vent": "Flue at the start of a firing.",
    "wind_speed": "Near the house.",
    "outdoor_temperature": "In the shade; the draft table goes by it.",
    "indoor_temperature": "Where the work is done.",
}


def key_cell(vs: VisitSheet, path: tuple[str | int, ...], described: Field) -> Cell:
    """Return one key of the visit as a cell; ``path`` leads on from the visit's own table."""
    whole = ("visit", vs.number, *path)
    value = value_at(vs.table, path)
    if described.form is Form.CHOICES and value is None:
        value = "unknown"
    control = control_of(described, whole, value, vs.sheet.context)
    if described.form is Form.CHOICE:  # nothing said is drawn as nothing chosen
        control = replace(control, shape="side by side", options=tuple(one for one in control.options if one[0]))
    return Cell(control=control, path=whole, place=f"{vs.id}|{'|'.join(map(str, path))}")


def gate_cells(vs: VisitSheet) -> list[Cell]:
    """Return the gates, those that end a visit first."""
    return [key_cell(vs, ("gates", gate), _three_way(f"{GATES[gate]}?", _what_it_does(gate))) for gate in GATES]


def check_cell(vs: VisitSheet, check: str) -> Cell:
    """Return one thing that is looked at."""
    return key_cell(vs, ("checks", check), _three_way(check, CHECKS[check][:1].upper() + CHECKS[check][1:] + "."))


def _three_way(label: str, meaning: str) -> Field:
    return Field(key=label, form=Form.CHOICE, meaning=meaning, choices=tuple(one.value for one in Answer))


def _what_it_does(gate: str) -> str:
    return f"Yes: {DO[gate]} Yes or not answered blocks {', '.join(FORMS[gate])}."


def state_cells(vs: VisitSheet) -> list[Cell]:
    """Return the house state that new readings take over."""
    cells = []
    for key in (*WORDS, *RUNNING, *WEATHER):
        described = Field(key=key, form=Form.QUANTITY, kind=WEATHER.get(key), meaning=STATE_MEANS[key])
        if key in WORDS:
            described = replace(described, form=Form.CHOICE, choices=WORDS[key])
        elif key in RUNNING:
            words = (*HOW_MANY, *(name for name, _ in running(vs, key)))
            described = replace(described, form=Form.CHOICES, choices=words)
        cells.append(key_cell(vs, ("state", key), described))
    return cells


def visit_cells(vs: VisitSheet) -> list[Cell]:
    """Return what the visit is: its kind, its time, who reads the gauges."""
    return [
        key_cell(vs, ("kind",), Field(key="kind", form=Form.CHOICE, choices=VisitKind, meaning="Where it stands in the job.")),
        key_cell(vs, ("time",), Field(key="time", form=Form.DATE, meaning="When it began, in the home's clock.")),
        key_cell(vs, ("by",), Field(key="role", form=Form.TEXT, meaning="Who reads the gauges: a role, never a name.")),
    ]  # fmt: skip


def note_cell(vs: VisitSheet) -> Cell:
    """Return the visit's free words."""
    cell = key_cell(vs, ("note",), Field(key="note", form=Form.TEXT, meaning="Whatever the office should know."))
    return replace(cell, control=replace(cell.control, shape="lines"))


def entry_cells(vs: VisitSheet, section: str) -> list[tuple[str, list[Cell]]]:
    """Return the gauges (``instrument``) or referrals (``action``) of the visit, each with its title and cells."""
    written = value_at(vs.table, (section,))
    entries = written if isinstance(written, list) else []
    fields = instrument_fields() if section == "instrument" else action_fields()
    return [
        (
            str(one.get("id") or one.get("about") or f"no. {number + 1}").replace("_", " "),
            [key_cell(vs, (section, number, key), described) for key, described in fields.items()],
        )
        for number, one in enumerate(entries)
        if isinstance(one, Mapping)
    ]


def instrument_fields() -> dict[str, Field]:
    """Return what is asked about a gauge."""
    return {
        "id": Field(key="name", form=Form.TEXT, meaning="Short; readings name it.", is_required=True),
        "kind": Field(key="kind", form=Form.TEXT, meaning="Manometer, blower door, CO meter ... No makers, no models."),
        "accuracy": Field(key="accuracy", form=Form.TEXT, meaning="A share of the reading, or a quantity: 1 %, 2 ppm."),
        "resolution": Field(key="resolution", form=Form.TEXT, meaning="The smallest step that it shows: 0.1 Pa."),
        "calibrated": Field(key="calibrated", form=Form.TEXT, meaning="Day of the last calibration: 2025-06-10."),
    }


def action_fields() -> dict[str, Field]:
    """Return what is asked about a matter that was referred or done."""
    about = (*GATES, *CHECKS)
    return {
        "about": Field(key="about", form=Form.CHOICE, choices=about, meaning="The gate or check.", is_required=True),
        "status": Field(key="status", form=Form.CHOICE, choices=("referred", "done"), meaning="", is_required=True),
        "time": Field(key="when", form=Form.DATE, meaning="In the home's clock."),
        "by": Field(key="by", form=Form.TEXT, meaning="A role: office, licensed firm."),
        "note": Field(
            key="note", form=Form.TEXT, meaning="What they did. It never lifts a block, only a reading does."
        ),
    }
