"""An edit held against what changed since: what is to be written, where it stands now, and what clashes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from airtally.store.models import Revision
from airtally.store.revisions import Trail, content_before, follow
from airtally.store.texts import Change, Path, TextError, Value, decode, in_json, said, tables_of, value_at


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """A key that someone changed since the form was drawn.

    Attributes
    ----------
    path : tuple of str and int
        As the edit gave it.
    yours, theirs : value
        What the edit would write, and what stands there; None where the key or its entry is gone.
    by, when : str, datetime
        Of the change that stands.
    """

    path: Path
    yours: Value
    theirs: Value
    by: str
    when: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """An edit settled with the revisions since: its changes with their paths of now, or what clashes."""

    wanted: tuple[Change, ...]
    paths: tuple[Path | None, ...]
    clashes: tuple[Clash, ...]


def settle(content: bytes | None, since: Sequence[Revision], changes: Sequence[Change]) -> Settled:
    """Return what becomes of changes that were made on the text as it was before revisions, the oldest first.

    Raises
    ------
    TextError
        If an entry is to go into a list that is gone.
    """
    are_whole = not changes[0].path
    now = then = None
    if since:  # else nothing can clash, and two readings of the text are saved
        now = _tables(content, are_whole=are_whole)
        then = _tables(content_before(content, since), are_whole=are_whole)
    wanted, paths, clashes = [], [], []
    for change in changes:
        trail = follow(change.path, since, is_inserted=change.is_inserted)
        if trail.path is None and change.is_inserted:
            raise TextError(f"{said(change.path)}: the list that it goes into is gone")
        paths.append(trail.path)
        if trail.last is not None and _clashes(change, trail, then, now):
            clashes.append(
                Clash(
                    path=change.path,
                    yours=change.value,
                    theirs=None if trail.path is None else value_at(now, trail.path),
                    by=trail.last.who,
                    when=trail.last.made_at,
                )
            )
        elif trail.path is not None:
            wanted.append(replace(change, path=trail.path))
    return Settled(wanted=tuple(wanted), paths=tuple(paths), clashes=tuple(clashes))


def inverse(revision: Revision, content: bytes | None, since: Sequence[Revision]) -> list[Change]:
    """Return the changes that take a revision back, on the text as the revision left it.

    ``content`` is the text of now, ``since`` the revisions after the one to take back.
    """
    text = content_before(content, [revision, *since])
    if not revision.changes[0]["path"]:
        return [Change(path=(), value=None if text is None else decode(text))]
    was = tables_of(decode(text))
    changes = []
    for change in reversed(revision.changes):
        path = tuple(change["path"])
        is_entry = isinstance(path[-1], int)
        value = None if change["before"] is None else value_at(was, path)
        changes.append(Change(path=path, value=value, is_inserted=is_entry and change["after"] is None))
    return changes


def _clashes(change: Change, trail: Trail, then: Any, now: Any) -> bool:
    """Return whether what stands is neither what is wanted nor what the form showed."""
    if trail.path is None:
        return change.value is not None  # nothing can be written into an entry that is gone
    if change.is_inserted or in_json(value_at(now, trail.path)) == in_json(change.value):
        return False
    depth = 1 if trail.is_whole else len(change.path)
    return in_json(value_at(now, trail.path[:depth])) != in_json(value_at(then, change.path[:depth]))


def _tables(content: bytes | None, *, are_whole: bool) -> Any:
    """Return a text's tables, or the text itself where it is changed whole; None where there is no text."""
    if content is None:
        return None
    return decode(content) if are_whole else tables_of(decode(content))
