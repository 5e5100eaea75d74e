"""What a step of a visit shows: its cells with what is said beside them, panel by panel, and how far the visit is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from airtally.house.parts import House
from airtally.safety.cautions import CAUTIONS
from airtally.safety.gates import DO, LEAVE
from airtally.safety.parts import BlockedForm, ZoneSequence
from airtally.safety.places import appliances_at
from airtally.safety.sequence import zone_sequences
from airtally.store.texts import Path
from airtally.visits.kinds import CHECKS, GATES, READING_KINDS
from airtally.visits.pair import pair_like_states
from airtally.web.survey.controls import Posted, said_of
from airtally.web.survey.keep import Answer
from airtally.web.survey.view import Shown
from airtally.web.visit.cells import RUNNING, WORDS, Cell, ReadingControl, entries, mark_of, state_of
from airtally.web.visit.items import Item, items_of, with_test_in
from airtally.web.visit.keep import limits_said, said_beside
from airtally.web.visit.keys import check_cell, entry_cells, gate_cells, note_cell, state_cells, visit_cells
from airtally.web.visit.sheet import VisitSheet, VisitsSheet, visit_at
from airtally.web.visit.steps import SELDOM, STEPS, Step

IN_DETAILS = frozenset({"instrument", "doors", "air_handler", "exhausts_on", "fires_lit", "vent", "time", "note"})
"""Smaller controls of a reading that stand behind its state line."""


def panels_of(
    vs: VisitSheet, step: Step, posted: Posted | None = None, answers: Mapping[str, Answer] | None = None
) -> list[dict[str, Any]]:
    """Return a step as its template wants it: titled panels of fields and readings."""
    show = _Show(vs, posted, answers or {})
    items = items_of(vs, step)
    with_test_in(vs, items)
    panels = _key_panels(vs, step, show)
    sequences = zone_sequences(_house_then(vs), (vs.visit,)) if step.path == "zone" and vs.visit is not None else ()
    for sequence in sequences:
        panels.append(_zone_panel(vs, sequence, items, show))
    done = {id(one) for panel in panels for row in panel["rows"] if (one := row.get("item")) is not None}
    for key in step.keys:
        rows = [show.item(item) for item in items if item.key == key and id(item) not in done]
        if rows:
            is_folded = key in SELDOM and not any(row["written"] or row["item"].before for row in rows)
            panels.append({"title": _title(key), "words": (), "rows": rows, "is_folded": is_folded})
    return panels


def _house_then(vs: VisitSheet) -> House:
    """Return the house with the appliances that stood there at the visit, as if none had gone since."""
    assert vs.visit is not None  # noqa: S101 - asked only for visits that could be read
    there = appliances_at(vs.sheet.house, vs.visit.time)
    return replace(vs.sheet.house, appliances=tuple(replace(one, until=float("inf")) for one in there))


def _key_panels(vs: VisitSheet, step: Step, show: _Show) -> list[dict[str, Any]]:
    """Return the panels of a step's keys that are no readings."""
    match step.path:
        case "gates":
            rows = [
                {**show.key(cell), "leaves": DO[gate] if gate in LEAVE else ""}
                for gate, cell in zip(GATES, gate_cells(vs), strict=True)
            ]
            return [{"title": "", "words": (), "is_folded": False, "rows": rows}]
        case "state":
            words = ("A new reading takes this over as it stands; set it again before the state changes.",)
            return [
                {"title": "", "words": words, "is_folded": False, "rows": [show.key(cell) for cell in state_cells(vs)]},
                {
                    "title": "This visit",
                    "words": (),
                    "is_folded": False,
                    "rows": [show.key(cell) for cell in visit_cells(vs)],
                },
            ]
        case "looked-at":
            return [
                {
                    "title": "",
                    "words": (),
                    "is_folded": False,
                    "rows": [show.key(check_cell(vs, check)) for check in CHECKS],
                }
            ]
        case "gauges":
            return _entry_panels(vs, "instrument", show)
        case "notes":
            panel = {"title": "", "words": (), "is_folded": False, "rows": [show.key(note_cell(vs))]}
            return [panel, *_entry_panels(vs, "action", show)]
    return []


def _entry_panels(vs: VisitSheet, section: str, show: _Show) -> list[dict[str, Any]]:
    return [
        {
            "title": title[:1].upper() + title[1:],
            "words": (),
            "is_folded": False,
            "rows": [show.key(cell) for cell in cells],
            "takes": ".".join(map(str, cells[0].path[:-1])),
        }
        for title, cells in entry_cells(vs, section)
    ]


def _zone_panel(vs: VisitSheet, sequence: ZoneSequence, items: list[Item], show: _Show) -> dict[str, Any]:
    """Return an appliance zone's test in the order in which it is done."""
    names = {zone.id: zone.name for zone in vs.sheet.house.zones}
    rows: list[dict[str, Any]] = []
    for number, step in enumerate(sequence.steps, start=1):
        rows.append(
            {"what": step.what, "number": number, "state": step.state.value, "is_elsewhere": step.key == "co_ambient"}
        )
        if step.key in CHECKS:
            rows.append(show.key(check_cell(vs, step.key)))
            continue
        rows += [show.item(one) for one in items if (one.key, one.spot.place) == (step.key, step.place)]
    order = ", then ".join(sequence.firing_order)
    words = [f"Order of firing, the smallest first: {order}."] if len(sequence.firing_order) > 1 else []
    if sequence.order_not_known:
        words.append(
            f"Output not known, so its place in the order is not known: {', '.join(sequence.order_not_known)}."
        )
    return {
        "title": f"Appliance zone: {names.get(sequence.zone) or sequence.zone}",
        "words": words,
        "rows": rows,
        "is_folded": False,
    }


def _title(key: str) -> str:
    meaning = READING_KINDS[key].meaning
    return meaning[:1].upper() + meaning[1:]


class _Show:
    """Draws cells with what a form sent in them and what became of it."""

    def __init__(self, vs: VisitSheet, posted: Posted | None, answers: Mapping[str, Answer]) -> None:
        self.vs = vs
        self.posted = posted
        self.answers = answers

    def key(self, cell: Cell) -> dict[str, Any]:
        """Return a row of one key."""
        return {"field": self._shown(cell, tuple(said_beside(self.vs, cell.path))), "place": cell.place}

    def item(self, item: Item) -> dict[str, Any]:
        """Return a row of one reading at one place, with all that is written of it and a blank."""
        written = [self._reading(cell, item, number) for number, cell in item.written]
        return {
            "item": item,
            "title": item.title,
            "written": written,
            "blank": self._reading(item.blank, item, None),
            "blocked": item.blocked,
            "is_taken_over": bool(item.blank_state),
        }

    def _reading(self, cell: Cell, item: Item, number: int | None) -> dict[str, Any]:
        assert isinstance(cell.control, ReadingControl)  # noqa: S101 - items hold readings only
        notes: tuple[str, ...] = ()
        limits: tuple[list[str], list[str]] = ([], [])
        state = item.blank_state
        if number is not None:
            path: Path = cell.path
            limits = limits_said(self.vs, number)
            notes = tuple(said_beside(self.vs, path))
            notes = tuple(one for one in notes if one not in limits[0] and "more documents" not in one)
            state = mark_of(item.key, state_of(self.vs, entries(self.vs)[number]))
        shown = self._shown(cell, notes)
        assert isinstance(shown.control, ReadingControl)  # noqa: S101 - drawn from one
        begins = len(cell.name) + 1
        return {
            "field": shown,
            "place": cell.place,
            "label": f"{_title(item.key)}: {item.title}",
            "state": state,
            "gauge": next((one.value for one in shown.control.extras if one.name.endswith(":instrument")), ""),
            "open": [(one.name[begins:], one) for one in shown.control.extras if one.name[begins:] not in IN_DETAILS],
            "hidden": [(one.name[begins:], one) for one in shown.control.extras if one.name[begins:] in IN_DETAILS],
            "limits": limits,
            "said": "" if number is None else said_of(entries(self.vs)[number].get("value")),
            "takes": cell.name if number is not None else "",
        }

    def _shown(self, cell: Cell, notes: tuple[str, ...]) -> Shown:
        answer = self.answers.get(cell.name)
        is_sent = self.posted is not None and any(name in self.posted for name in cell.control.sends)
        control = cell.posted(self.posted, self.vs) if self.posted is not None and is_sent else cell.control
        return Shown(control=control, notes=notes, answer=answer)


def blocks_of(panels: list[dict[str, Any]]) -> list[BlockedForm]:
    """Return the blocked forms that the readings of a step belong to, each once."""
    found = [one for panel in panels for row in panel["rows"] for one in row.get("blocked", ())]
    return list(dict.fromkeys(found))


def cautions_of(step: Step) -> list[str]:
    """Return the standing cautions of a step."""
    return [CAUTIONS[topic] for topic in step.topics]


def state_line(vs: VisitSheet) -> str:
    """Return in one line the house state that new readings take over."""
    said = {key: said_of(vs.state[key]) if key in vs.state else "not said" for key in (*WORDS, *RUNNING)}
    return ", ".join(f"{key.replace('_', ' ')} {word}" for key, word in said.items())


def heading_of(vs: VisitSheet) -> str:
    """Return what pages call a visit: its kind and when it began."""
    kind = str(vs.table.get("kind") or "visit of no kind")
    if vs.visit is None:
        return kind.capitalize()
    return f"{kind.capitalize()}, {datetime.fromtimestamp(vs.visit.time, vs.sheet.context.zone):%d %b %Y %H:%M}"


def overview(sheet: VisitsSheet) -> list[dict[str, Any]]:
    """Return one line a visit, the newest first: what it is, how much was read, what of test-in was not re-tested."""
    lines = []
    for name in sheet.ids:
        vs = visit_at(sheet, name)
        if vs is None:
            continue
        lost = pair_like_states(vs.test_in, vs.visit).not_retested if vs.test_in and vs.visit else ()
        lines.append(
            {
                "id": name,
                "heading": heading_of(vs),
                "by": vs.table.get("by") or "",
                "read": sum(one.estimate is not None for one in vs.visit.readings) if vs.visit is not None else 0,
                "lost": [f"{_title(one.key)}, {one.place}: {one.why}" for one in lost],
                "is_after": vs.test_in is not None,
                "leave": [one.because for one in vs.must_leave()],
                "time": vs.visit.time if vs.visit is not None else float("-inf"),
            }
        )
    return sorted(lines, key=lambda one: -one["time"])


def counts_of(vs: VisitSheet) -> list[tuple[Step, str]]:
    """Return each step with how much of it is said."""
    shown = []
    for step in STEPS:
        said = ""
        if step.path in ("gates", "looked-at"):
            cells = gate_cells(vs) if step.path == "gates" else [check_cell(vs, check) for check in CHECKS]
            said = f"{sum(not cell.control.is_open for cell in cells)} of {len(cells)} answered"
        elif step.keys:
            count = sum(isinstance(one, Mapping) and one.get("key") in step.keys for one in entries(vs))
            said = f"{count} read" if count else ""
        shown.append((step, said))
    return shown
