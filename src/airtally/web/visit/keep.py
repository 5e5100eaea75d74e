"""A field or a reading of a visit kept in the store, refused with words, or held against what someone else wrote."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from airtally.errors import InputError
from airtally.house.fields import Form
from airtally.house.moments import MomentTextError, read_moment
from airtally.safety.beside import limit_words, limits_beside
from airtally.store.edits import Clash, Conflict, edit, history
from airtally.store.engine import Store
from airtally.store.texts import Change, Path, Value, value_at
from airtally.visits.accuracy import KIND_OF_DIMENSION
from airtally.visits.kinds import READING_KINDS
from airtally.visits.read_reading import ONE_SIDED
from airtally.web.quantity_control import quantity_text, standing_of
from airtally.web.survey.controls import Control, Posted, differs, said_of
from airtally.web.survey.keep import Answer, Both, note_of
from airtally.web.survey.values import value_of
from airtally.web.visit.cells import HOW_MANY, RUNNING, Cell, ReadingControl, as_word, entries, mark_of, state_of
from airtally.web.visit.items import cells_of
from airtally.web.visit.sheet import PART, VisitSheet, visit_at, visits_sheet
from airtally.web.visit.steps import STEPS, Step

SAME_DAY = timedelta(hours=24)
"""A reading typed in within this of the visit's time is stamped with the minute; a later one was copied from paper."""
_ONE_AT_A_TIME = threading.Lock()
"""Between the look whether someone else began the same reading and the edit that begins it, nobody else may write."""


def keep_step(store: Store, job: UUID, step: Step, posted: Posted, vs: VisitSheet, who: str, post: str) -> list[Answer]:
    """Keep what a whole form changed, cell by cell; ``vs`` is the visit that the form was drawn from."""
    answers = []
    for cell in cells_of(vs, step):
        if not differs(cell.control, posted) or _one(posted, f"{cell.name}:keep") == "theirs":
            continue
        key = f"{post}:{cell.name}"
        if _one(posted, f"{cell.name}:keep") == "yours":
            base, at = _at_revision(store, job, vs, _one(posted, f"{cell.name}:based")), _one(posted, f"{cell.name}:at")
            begins = len(cell.name)
            moved = {f"{at}{name[begins:]}": sent for name, sent in posted.items() if name.startswith(cell.name)}
            answers.append(replace(keep_at(store, job, step, at, moved, base, who, key), name=cell.name))
        else:
            answers.append(_keep(store, job, step, cell, posted, vs, who, key))
    return answers


def keep_at(
    store: Store, job: UUID, step: Step, at: str, posted: Posted, vs: VisitSheet, who: str, post: str
) -> Answer:
    """Keep the cell that stands at a place in the revision that it is based on."""
    cell = next((one for one in cells_of(vs, step) if one.name == at), None)
    if cell is None:
        trouble = "This step has no such field any more; draw the page again. What you typed is kept on this device."
        return Answer(name=at, trouble=trouble, revision=vs.sheet.revision)
    return _keep(store, job, step, cell, posted, vs, who, post)


def _keep(
    store: Store, job: UUID, step: Step, cell: Cell, posted: Posted, vs: VisitSheet, who: str, post: str
) -> Answer:
    answer = Answer(name=cell.name, revision=vs.sheet.revision, path=cell.path)
    try:
        changes = _changes(cell, posted, vs)
        if not changes:
            return replace(answer, note="Kept with the value, once you give it.", path=None)
        with _ONE_AT_A_TIME:
            now = _as_it_stands(store, job, vs)
            _stop_if_blocked(now, step, cell, posted)
            twin = _begun_meanwhile(cell, changes[0].value, vs, now) if cell.begins is not None else None
            if twin is not None:
                return _beside_twin(store, job, cell, changes[0].value, now, twin)
            done = edit(store, job, PART, changes, vs.sheet.revision, who, post)
    except InputError as error:
        text = str(error)
        return replace(answer, trouble=text[:1].upper() + text[1:] + ("" if text.endswith((".", "?")) else "."))
    if isinstance(done, Conflict):
        return _both(store, job, cell, changes, done.clashes[0], vs, who, post)
    path = done.paths[0]
    if cell.key and path is not None and cell.begins is None:
        path = path[:4]
    kept = visit_at(visits_sheet(store, job), vs.id)
    note = " ".join(said_beside(kept, path)) if kept is not None and path is not None else ""
    return replace(answer, note=note, revision=done.revision, path=path)


def _as_it_stands(store: Store, job: UUID, vs: VisitSheet) -> VisitSheet:
    now = visit_at(visits_sheet(store, job), vs.id)
    if now is None:
        raise InputError("this visit was taken away; bring it back under Edits, then this is sent again")
    return now


def said_beside(vs: VisitSheet, path: Path) -> list[str]:
    """Return what is said beside a key or a reading: the reader's doubts, then the limits that it is held against."""
    where = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path)[1:]
    notes = [
        note_of(one)
        for one in vs.problems
        if (place := one.where.partition(", ")[2]).startswith(where)
        and not place[len(where) : len(where) + 1].isalnum()
    ]
    if len(path) == 4 and path[2] == "reading" and isinstance(path[3], int):
        telling, others = limits_said(vs, path[3])
        notes += [*telling, *([f"{len(others)} more documents: draw the page again."] if others else [])]
    return notes


def limits_said(vs: VisitSheet, number: int) -> tuple[list[str], list[str]]:
    """Return in words the limits that a reading of the visit is held against: those that tell, and the others."""
    reading = vs.readings().get(number)
    held = limits_beside(vs.sheet.house, vs.until_now, reading) if reading is not None else ()
    ranked = sorted(held, key=lambda one: (one.is_crossed is not True, not one.governs, one.limit))
    telling = [one for one in ranked if one.is_crossed or one.governs] or ranked[:1]
    return [limit_words(one) for one in telling], [limit_words(one) for one in ranked if one not in telling]


def _stop_if_blocked(now: VisitSheet, step: Step, cell: Cell, posted: Posted) -> None:
    """Refuse what the gates forbid, by their answers of now, however old the page is."""
    if step.path == "gates":
        return
    stopped = now.must_leave()
    if cell.key and not stopped:
        stopped = now.blocks_on(cell.key, _doors(now, cell, posted))
    if stopped:
        one = stopped[0]
        raise InputError(f"blocked ({one.form}): {one.because}. {one.do} Lifted by: {one.lifted_by}")


def _doors(vs: VisitSheet, cell: Cell, posted: Posted) -> str:
    sent = _one(posted, f"{cell.name}:doors")
    return sent or as_word(vs.state.get("doors"))


def _changes(cell: Cell, posted: Posted, vs: VisitSheet) -> list[Change]:
    """Return what a cell's controls change; nothing where a blank has no value yet."""
    sent = cell.posted(posted, vs)
    if not isinstance(sent, ReadingControl):
        return [Change(path=cell.path, value=_key_value(cell, posted, vs))]
    value = _reading_text(cell, sent)
    parts = {
        key: _part_value(key, one, vs) for one in sent.extras if (key := one.name[len(cell.name) + 1 :]) != "bound"
    }
    if cell.begins is not None:
        if not value:
            return []
        if not parts.get("place", "a place"):
            raise InputError(f"name the {READING_KINDS[cell.key].place} that was read")
        time = _stamp(posted, vs)
        entry = {**cell.begins, "value": value, **{key: one for key, one in parts.items() if one}}
        return [Change(path=cell.path, value={**entry, "time": time} if time else entry)]
    if not value:
        raise InputError("a reading cannot be left empty: choose why there is no number, or take the reading away")
    stood = value_at({"visit": list(vs.sheet.tables)}, cell.path)
    known = stood if isinstance(stood, Mapping) else {}
    drawn = {one.name: one for one in cell.control.extras} if isinstance(cell.control, ReadingControl) else {}
    changed = [
        Change(path=(*cell.path, key), value=parts[key])
        for one in sent.extras
        if (key := one.name[len(cell.name) + 1 :]) in parts and one.value != drawn[one.name].value
    ]
    is_same = value == known.get("value") and bool(changed)
    return changed if is_same else [Change(path=(*cell.path, "value"), value=value), *changed]


def _key_value(cell: Cell, posted: Posted, vs: VisitSheet) -> Value:
    stood = value_at({"visit": list(vs.sheet.tables)}, cell.path)
    value = value_of(cell.control, posted, vs.sheet.context, stood)
    if cell.control.field.form is not Form.CHOICES or not isinstance(value, list):
        return value
    words = [one for one in value if one in HOW_MANY]
    if words and len(value) > 1:
        raise InputError(f"{' and '.join(value)} cannot all hold: choose none, all, unknown, or name those that run")
    return words[0] if words else value


def _reading_text(cell: Cell, sent: ReadingControl) -> str:
    """Return a reading's value as the text keeps it."""
    one = sent.quantities[0]
    typed = " ".join(one.typed.split())
    bound = next((word for word in ONE_SIDED if typed.casefold().startswith(word)), "")
    chosen = sent.smaller("bound")
    text = quantity_text(
        typed[len(bound) :], one.unit, one.standing, KIND_OF_DIMENSION[READING_KINDS[cell.key].dimension]
    )
    side = bound.strip() or (chosen.value if chosen is not None else "")
    return f"{side} {text}" if side and text and not standing_of(text) else text


def _part_value(key: str, one: Control, vs: VisitSheet) -> Value:
    """Return a smaller control as the text keeps it, None for nothing said."""
    text = one.value.strip()
    if key in RUNNING and text and text not in HOW_MANY:
        return text.split(", ")
    if key == "time" and text:
        plain = text.replace("T", " ", 1)
        try:
            read_moment(plain, vs.sheet.context.zone)
        except MomentTextError as doubt:
            raise InputError(f'"{plain}" {doubt}. Write it as 2025-09-30 08:00.') from doubt
        return plain
    return text or None


def _stamp(posted: Posted, vs: VisitSheet) -> str:
    """Return the minute in which a reading was typed, in the home's clock; empty where it was copied from paper."""
    now = datetime.now(UTC)
    try:
        typed = datetime.fromisoformat(_one(posted, "typed"))
    except ValueError:
        typed = now
    if typed.tzinfo is None or not now - SAME_DAY <= typed <= now + timedelta(minutes=5):
        typed = now
    begun = datetime.fromtimestamp(vs.visit.time, UTC) if vs.visit is not None else None
    if begun is None or not begun - SAME_DAY <= typed <= begun + SAME_DAY:
        return ""
    local = typed.astimezone(vs.sheet.context.zone)
    is_plain = local.utcoffset() == local.replace(fold=1 - local.fold).utcoffset()
    return (local.replace(tzinfo=None) if is_plain else local).isoformat(sep=" ", timespec="minutes")


def _begun_meanwhile(cell: Cell, value: Any, vs: VisitSheet, now: VisitSheet) -> int | None:
    """Return which entry someone else began for the same reading in the like state since the form was drawn."""

    def alike(sheet: VisitSheet) -> list[int]:
        mark = mark_of(cell.key, state_of(vs, value))
        return [
            number
            for number, one in enumerate(entries(sheet))
            if isinstance(one, Mapping)
            and all(one.get(key) == value.get(key) for key in ("key", "place", "reference"))
            and mark_of(cell.key, state_of(sheet, one)) == mark
        ]

    found = alike(now)
    return found[-1] if len(found) > len(alike(vs)) else None


def _beside_twin(store: Store, job: UUID, cell: Cell, value: Any, now: VisitSheet, twin: int) -> Answer:
    """Return that the same stands already, or both versions."""
    path: Path = ("visit", now.number, "reading", twin)
    entry = entries(now)[twin]
    answer = Answer(name=cell.name, revision=now.sheet.revision, path=path, note=" ".join(said_beside(now, path)))
    if entry.get("value") == value.get("value"):
        return answer
    line = next((one for one in history(store, job) if one.part == PART and one.path[:4] == path), None)
    clash = Clash(
        path=path, yours=value.get("value"), theirs=entry.get("value"), by=line.who if line else "someone",
        when=line.when if line else datetime.now(UTC),
    )  # fmt: skip
    return replace(answer, note="", both=_versions(cell, clash, now, path))


def _both(
    store: Store, job: UUID, cell: Cell, changes: list[Change], clash: Clash, vs: VisitSheet, who: str, post: str
) -> Answer:
    """Return both versions of a cell, and where it stands now."""
    # Wishing for what stands there changes nothing, and tells where the key is now.
    wish = [Change(path=clash.path, value=clash.theirs)]
    found = edit(store, job, PART, wish, vs.sheet.revision, who, f"{post}:where")
    at = None if isinstance(found, Conflict) else found.paths[0]
    if at is not None and cell.key:
        at = at[:4]
    now = visit_at(visits_sheet(store, job), vs.id)
    revision = vs.sheet.revision if isinstance(found, Conflict) else found.revision
    yours = next((one.value for one in changes if one.path == clash.path), None)
    both = _versions(cell, replace(clash, yours=yours), now, at)
    return Answer(name=cell.name, both=both, revision=revision, path=at)


def _versions(cell: Cell, clash: Clash, now: VisitSheet | None, at: Path | None) -> Both:
    """Return two versions in words, with the controls as theirs fills them."""
    theirs = cell.control
    if now is not None and at is not None:
        name = ".".join(map(str, at))
        drawn = next((one for step in STEPS for one in cells_of(now, step) if one.name == name), None)
        if drawn is not None:
            theirs = _renamed(drawn.control, cell.name)
    return Both(yours=said_of(clash.yours), theirs=said_of(clash.theirs), by=clash.by, when=clash.when, control=theirs)


def _renamed(control: Control, name: str) -> Control:
    """Return a control under the name that the form drew it with."""
    old = len(control.name)
    quantities = tuple(replace(one, name=f"{name}{one.name[old:]}") for one in control.quantities)
    if isinstance(control, ReadingControl):
        extras = tuple(replace(one, name=f"{name}{one.name[old:]}") for one in control.extras)
        return replace(control, name=name, quantities=quantities, extras=extras)
    return replace(control, name=name, quantities=quantities)


def _at_revision(store: Store, job: UUID, vs: VisitSheet, revision: str) -> VisitSheet:
    found = visit_at(visits_sheet(store, job, int(revision)), vs.id) if revision.isdigit() else None
    return found or vs


def _one(posted: Posted, name: str) -> str:
    values = posted.get(name, ())
    return values[-1] if values else ""
