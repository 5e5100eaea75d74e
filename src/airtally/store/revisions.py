"""Revisions of a job's texts: one kept, a text as it was, a path followed through what changed since."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from airtally.errors import InputError
from airtally.store.models import Job, JobText, Revision
from airtally.store.texts import Cut, Path, Value, cut_between, decode, read_or_fault, value_at

PARTS = ("survey", "visits")
"""Texts of a job; each is the file of that name in its folder."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trail:
    """What became of a path.

    Attributes
    ----------
    path : tuple of str and int, or None
        Where it leads now; None if its entry is gone.
    last : Revision or None
        Who last touched what it leads to, or a part of it.
    is_whole : bool
        The whole text was put in place of another: entries may be others than they were.
    """

    path: Path | None
    last: Revision | None
    is_whole: bool


def content_of(session: Session, job: uuid.UUID, part: str) -> bytes | None:
    """Return a text's bytes; None where the job has no such text. Raises InputError for a part that is none."""
    if part not in PARTS:
        raise InputError(f"a job has the parts {' and '.join(PARTS)}; got {part!r}")
    found = session.get(JobText, (job, part))
    return found.content if found is not None else None


def revisions_since(session: Session, job: uuid.UUID, part: str, number: int) -> Sequence[Revision]:
    """Return the revisions of a text after one, the oldest first."""
    return session.scalars(
        select(Revision)
        .where(Revision.job_id == job, Revision.part == part, Revision.number > number)
        .order_by(Revision.number)
    ).all()


def content_before(content: bytes | None, since: Sequence[Revision]) -> bytes | None:
    """Return a text as it was before revisions, the oldest first, that lead to ``content``."""
    for revision in reversed(since):
        content = Cut(at=revision.cut_at, cut_out=revision.cut_out, put_in=revision.put_in).before(content)
    return content


def set_text(
    session: Session,
    job: Job,
    part: str,
    content: bytes | None,
    who: str,
    now: datetime,
    changes: Sequence[dict[str, Any]] = ({"path": [], "before": None, "after": None},),
    undoes: int | None = None,
) -> int:
    """Put a text in place of the present one, as a new revision, and return its number.

    ``changes`` are those by key, in the form of :class:`airtally.store.models.Revision`; left out, the whole text is
    one change.
    """
    cut = cut_between(content_of(session, job.id, part), content)
    job.revision += 1
    session.add(
        Revision(
            job_id=job.id,
            number=job.revision,
            part=part,
            changes=list(changes),
            cut_at=cut.at,
            cut_out=cut.cut_out,
            put_in=cut.put_in,
            who=who,
            made_at=now,
            undoes=undoes,
        )
    )
    kept = session.get(JobText, (job.id, part))
    if content is None:
        if kept is not None:
            session.delete(kept)
    else:
        tables, fault = read_or_fault(decode(content))
        if kept is None:
            session.add(JobText(job_id=job.id, part=part, content=content, fault=fault))
        else:
            kept.content, kept.fault = content, fault
        name = value_at(tables, ("home", "name"))
        if part == PARTS[0] and isinstance(name, str) and name.strip():
            job.name = name.strip()
    session.flush()
    return job.revision


def follow(path: Path, since: Sequence[Revision], *, is_inserted: bool = False) -> Trail:
    """Return what became of a path through revisions, the oldest first.

    Entries of a list move when one before them comes or goes; the path goes with its entry, also where that was taken
    away and the undo brought it back. ``is_inserted`` says that the last index is a place between entries.
    """
    last: Revision | None = None
    gone: Revision | None = None
    is_whole = False
    for revision in since:
        if gone is not None and revision.undoes != gone.number:
            continue
        for change in revision.changes:
            other = tuple(change["path"])
            depth = len(other) - 1
            if gone is not None and _is_move(change):
                gone, path = None, (*other, *path[len(other) :])
            elif _is_move(change) and len(path) > depth and path[:depth] == other[:depth]:
                index = int(path[depth])
                if change["before"] is None:
                    path = (*path[:depth], index + (index >= other[depth]), *path[depth + 1 :])
                elif index == other[depth] and not (is_inserted and len(path) == depth + 1):
                    gone = last = revision
                else:
                    path = (*path[:depth], index - (index > other[depth]), *path[depth + 1 :])
            elif path[: len(other)] == other or other[: len(path)] == path:
                last = revision
                is_whole |= not other
    return Trail(path=None if gone else path, last=last, is_whole=is_whole)


def _is_move(change: dict[str, Any]) -> bool:
    """Return whether an entry of a list came or went."""
    path = change["path"]
    return bool(path) and isinstance(path[-1], int) and (change["before"] is None or change["after"] is None)


def stored(path: Path, before: Value, after: Value) -> dict[str, Any]:
    """Return a change as a revision keeps it."""
    return {"path": list(path), "before": before, "after": after}
