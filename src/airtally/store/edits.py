"""Edits of a job's texts: merged where they touch different keys, refused with both versions where they do not."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from airtally.errors import InputError
from airtally.store.engine import Store
from airtally.store.listing import find_job
from airtally.store.merge import Clash as Clash  # what a Conflict holds: pages take all of it from here
from airtally.store.merge import inverse, settle
from airtally.store.models import Job, Revision
from airtally.store.posts import once
from airtally.store.revisions import content_before, content_of, revisions_since, set_text, stored
from airtally.store.texts import BEGINNING, Change, Path, Value, changed, decode, encode, in_json, said


@dataclass(frozen=True, slots=True, kw_only=True)
class Edited:
    """An edit that was made.

    Attributes
    ----------
    revision : int
        The job's newest; what the fields of the edit are now based on.
    paths : tuple of paths
        Where the changes stand in that revision, in the order given: entries may have moved. None for a key of an
        entry that is gone, as was wanted.
    """

    revision: int
    paths: tuple[Path | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """An edit that was refused whole: nothing of it was written."""

    clashes: tuple[Clash, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryLine:
    """One key that a revision changed; ``undoes`` is the number of the revision that it took back."""

    number: int
    part: str
    path: Path
    before: Value
    after: Value
    who: str
    when: datetime
    undoes: int | None


def text_of(store: Store, job: uuid.UUID, part: str, revision: int | None = None) -> tuple[str, int]:
    """Return a text, empty where there is none, and the number of the job's revision it is of.

    Parameters
    ----------
    part : str
        ``"survey"`` or ``"visits"``.
    revision : int or None
        An earlier one; None is the newest.

    Raises
    ------
    InputError
        If there is no such job, part or revision.
    """
    with store.read() as session:
        found = find_job(session, job)
        content = content_of(session, job, part)
        if revision is None:
            return decode(content), found.revision
        _check_base(found, revision)
        return decode(content_before(content, revisions_since(session, job, part, revision))), revision


def edit(
    store: Store, job: uuid.UUID, part: str, changes: Sequence[Change], based_on: int, who: str, post: str
) -> Edited | Conflict:
    """Change keys of a text, all of them or none.

    Parameters
    ----------
    changes : sequence of Change
        Their paths are those of the revision that the edit is based on. Taking an entry away, or putting one in between,
        is an edit by itself: no other change of the edit may lead into the same list.
    based_on : int
        Revision that the form showed. A key that someone changed since is a clash, unless it holds the wanted value
        now or the one that the form showed.
    who : str
        A role, for the history.
    post : str
        Key of this post, made on the device; the same post again gets the first answer and changes nothing.

    Raises
    ------
    TextError
        If the text is no TOML (change it whole, by the path ``()``) or a path leads nowhere.
    InputError
        If there is no such job, part or revision, or the post's key was used otherwise.
    """
    if not changes:
        raise InputError("an edit needs at least one change")
    _check_moves(changes)

    def act(session: Session) -> dict[str, Any]:
        return _edit(session, find_job(session, job), part, changes, based_on, who, store.now(), None)

    request = ["edit", part, [[c.path, c.value, c.is_inserted] for c in changes], based_on]
    with store.write() as session:
        return _answer(once(session, job, post, request, store.now(), lambda: act(session)))


def undo(store: Store, job: uuid.UUID, revision: int, who: str, post: str) -> Edited | Conflict:
    """Take a revision back, as a new revision; keys that were changed since clash.

    Where the text was not changed since, it is byte for byte what it was. A revision that undoes another can be undone.
    """

    def act(session: Session) -> dict[str, Any]:
        found = session.get(Revision, (job, revision))
        if found is None:
            raise InputError(f"the job has no revision {revision}; look in its history")
        since = revisions_since(session, job, found.part, revision)
        if since:
            changes = inverse(found, content_of(session, job, found.part), since)
            return _edit(session, find_job(session, job), found.part, changes, revision, who, store.now(), revision)
        content = content_before(content_of(session, job, found.part), [found])
        back = [stored(c["path"], c["after"], c["before"]) for c in reversed(found.changes)]
        number = set_text(session, find_job(session, job), found.part, content, who, store.now(), back, revision)
        return {"revision": number, "paths": [c["path"] for c in back]}

    with store.write() as session:
        return _answer(once(session, job, post, ["undo", revision], store.now(), lambda: act(session)))


def history(store: Store, job: uuid.UUID) -> tuple[HistoryLine, ...]:
    """Return every change of a job's texts, the newest first."""
    with store.read() as session:
        find_job(session, job)
        rows = session.scalars(select(Revision).where(Revision.job_id == job).order_by(Revision.number.desc()))
        return tuple(
            HistoryLine(
                number=row.number,
                part=row.part,
                path=tuple(change["path"]),
                before=change["before"],
                after=change["after"],
                who=row.who,
                when=row.made_at,
                undoes=row.undoes,
            )
            for row in rows
            for change in row.changes
        )


def _check_base(job: Job, revision: int) -> None:
    if not 0 <= revision <= job.revision:
        raise InputError(f"the job has revisions 0 to {job.revision}; got {revision}")


def _check_moves(changes: Sequence[Change]) -> None:
    """Refuse an edit that moves the entries of a list which its other changes lead into."""
    for change in changes:
        moves = bool(change.path) and isinstance(change.path[-1], int)
        if moves and (change.is_inserted or change.value is None):
            others = [c for c in changes if c is not change and c.path[: len(change.path) - 1] == change.path[:-1]]
            if others:
                raise InputError(f"{said(change.path)} moves the entries after it; send it as an edit by itself")
    if len(changes) > 1 and any(not change.path for change in changes):
        raise InputError("the whole text and a key of it cannot be changed in one edit")


def _edit(
    session: Session,
    job: Job,
    part: str,
    changes: Sequence[Change],
    based_on: int,
    who: str,
    now: datetime,
    undoes: int | None,
) -> dict[str, Any]:
    """Make an edit and return its answer in plain types."""
    _check_base(job, based_on)
    content = content_of(session, job.id, part)
    settled = settle(content, revisions_since(session, job.id, part, based_on), changes)
    if settled.clashes:
        return _plain({"clashes": [[c.path, c.yours, c.theirs, c.by, c.when.isoformat()] for c in settled.clashes]})
    if not changes[0].path:
        after = None if changes[0].value is None else encode(str(changes[0].value))
        done = [stored((), None, None)] if after != content else []
    else:
        text, made, before = changed(decode(content) if content is not None else BEGINNING, settled.wanted)
        after = encode(text)
        done = [stored(c.path, b, c.value) for c, b in zip(made, before, strict=True)]
    if done:
        set_text(session, job, part, after, who, now, [_plain(one) for one in done], undoes)
    return _plain({"revision": job.revision, "paths": settled.paths})


def _plain(value: Mapping[str, Any]) -> dict[str, Any]:
    """Return a value as JSON would give it back."""
    return dict(json.loads(in_json(value)))


def _answer(kept: dict[str, Any]) -> Edited | Conflict:
    if "clashes" in kept:
        return Conflict(
            clashes=tuple(
                Clash(path=tuple(path), yours=yours, theirs=theirs, by=by, when=datetime.fromisoformat(when))
                for path, yours, theirs, by, when in kept["clashes"]
            )
        )
    paths = tuple(None if path is None else tuple(path) for path in kept["paths"])
    return Edited(revision=kept["revision"], paths=paths)
