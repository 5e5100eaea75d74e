"""A job's text as TOML: a key found, changed with its comments kept, and the cut between two texts."""

from __future__ import annotations

import json
import pickle
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from datetime import date, time
from functools import lru_cache
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from airtally.errors import InputError

Path = tuple[str | int, ...]
"""Way to a key: ``("zone", 0, "volume")``; ``()`` is the whole text."""
Value = str | bool | int | float | list[Any] | dict[str, Any] | date | time | None
"""What a key holds; None where there is no such key."""

BEGINNING = "schema = 1\n"
"""First line of a text that an edit begins."""
BYTE_ORDER_MARK = "\ufeff"


class TextError(InputError):
    """A text or a change that cannot be used; nothing was changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One key set to a value.

    Attributes
    ----------
    path : tuple of str and int
        Way to the key; an index leads into a list. An index one past the end begins a new entry. ``()`` stands for the
        whole text.
    value : str, bool, int, float, list, dict or None
        None takes the key, the entry or the whole text away.
    is_inserted : bool
        The value, a whole entry, goes in before the entry that is at the index now.
    """

    path: Path
    value: Value
    is_inserted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """What makes one text of another: ``put_in`` stands at ``at`` where ``cut_out`` was. None is no text at all."""

    at: int
    cut_out: bytes | None
    put_in: bytes | None

    def before(self, after: bytes | None) -> bytes | None:
        """Return the text that was there before."""
        if self.cut_out is None or after is None:
            return self.cut_out
        return after[: self.at] + self.cut_out + after[self.at + len(self.put_in or b"") :]


def cut_between(before: bytes | None, after: bytes | None) -> Cut:
    """Return the shortest cut that makes ``after`` of ``before``."""
    if before is None or after is None:
        return Cut(at=0, cut_out=before, put_in=after)
    at = _shared(before, after)
    tail = _shared(before[at:][::-1], after[at:][::-1])
    return Cut(at=at, cut_out=before[at : len(before) - tail], put_in=after[at : len(after) - tail])


def _shared(one: bytes, other: bytes) -> int:
    """Return how many bytes two texts begin with alike."""
    differing = (number for number, (a, b) in enumerate(zip(one, other, strict=False)) if a != b)
    return next(differing, min(len(one), len(other)))


def decode(content: bytes | None) -> str:
    """Return a text's bytes as text, so that :func:`encode` gives the same bytes back whatever they are."""
    return (content or b"").decode("utf-8", errors="surrogateescape")


def encode(text: str) -> bytes:
    """Return a text as bytes, line ends as they are; raises TextError for half letters that no bytes stand for."""
    try:
        return text.encode("utf-8", errors="surrogateescape")
    except UnicodeEncodeError as error:
        raise TextError(f"letter {error.start + 1} of the text is half a letter; type it again") from error


def read(text: str) -> dict[str, Any]:
    """Return a text's tables; raises TextError where it is no TOML."""
    try:
        text.encode()
        tables: dict[str, Any] = pickle.loads(_read_once(text))  # noqa: S301 - bytes of our own making
    except UnicodeEncodeError as error:
        raise TextError(f"this is not TOML: letter {error.start + 1} is no UTF-8; save the file as UTF-8") from error
    except RecursionError as error:
        raise TextError("this is not TOML: tables nested too deep") from error
    except ValueError as error:
        raise TextError(f"this is not TOML: {str(error)[:200]}") from error
    return tables


@lru_cache(maxsize=32)
def _read_once(text: str) -> bytes:
    """Return a text's tables packed: a page reads its survey several times, and each reader may change what it got."""
    return pickle.dumps(tomllib.loads(text.removeprefix(BYTE_ORDER_MARK)))


def read_or_fault(text: str) -> tuple[dict[str, Any], str]:
    """Return a text's tables, and why there are none where it is no TOML."""
    try:
        return read(text), ""
    except TextError as error:
        return {}, str(error)


def tables_of(text: str) -> dict[str, Any]:
    """Return a text's tables, none where it cannot be read."""
    return read_or_fault(text)[0]


def value_at(tables: Any, path: Sequence[str | int]) -> Value:
    """Return what stands at a path; None where there is no such key."""
    for step in path:
        if isinstance(step, str) and isinstance(tables, Mapping):
            tables = tables.get(step)
        elif isinstance(step, int) and isinstance(tables, list) and 0 <= step < len(tables):
            tables = tables[step]
        else:
            return None
    return tables  # type: ignore[no-any-return]


def changed(text: str, changes: Sequence[Change]) -> tuple[str, list[Change], list[Value]]:
    """Return a text with keys changed, the changes one by one, and what stood there before each.

    Comments, order and the way of writing of all else stay as they are.

    Parameters
    ----------
    text : str
        TOML.
    changes : sequence of Change
        Each on the text as the one before left it. One that changes nothing is left out; one that begins an entry
        is returned as two, the empty entry and its first key.

    Raises
    ------
    TextError
        If the text is no TOML or a path leads nowhere.
    """
    mark = BYTE_ORDER_MARK if text.startswith(BYTE_ORDER_MARK) else ""
    plain = read(text)
    try:
        document = tomlkit.parse(text.removeprefix(mark))
    except (TOMLKitError, RecursionError) as error:
        raise TextError(f"this is not TOML: {str(error)[:200]}") from error
    done: list[Change] = []
    before: list[Value] = []
    for change in (part for one in changes for part in _parts(plain, one)):
        stood = None if change.is_inserted else deepcopy(value_at(plain, change.path))
        if in_json(stood) == in_json(change.value):
            continue
        _put(plain, change)
        try:
            _put(document, change)
        except (TOMLKitError, KeyError, IndexError, TypeError, ValueError) as error:
            raise TextError(f"{said(change.path)} cannot be written into this text; change the text itself") from error
        done.append(change)
        before.append(stood)
    result = tomlkit.dumps(document)
    # The writer that keeps comments is checked against the reader that the job is run with.
    if in_json(read(result)) != in_json(plain):
        where = ", ".join(said(change.path) for change in changes)
        raise TextError(f"{where} cannot be written into this text; change the text itself")
    return mark + result, done, before


def in_json(value: Any) -> str:
    """Return a value as JSON, keys in order and dates as text: equal values and only they give the same."""
    return json.dumps(value, sort_keys=True, default=str)


def said(path: Sequence[str | int]) -> str:
    """Return a path in words: ``zone[0].volume``."""
    words = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path)
    return words.lstrip(".") or "the whole text"


def _parts(tables: Mapping[str, Any], change: Change) -> Iterator[Change]:
    """Yield the change, after the empty entries that it begins on its way."""
    for end in range(1, len(change.path) + 1):
        way, step = change.path[: end - 1], change.path[end - 1]
        if not isinstance(step, int):
            continue
        entries = value_at(tables, way)
        count = len(entries) if isinstance(entries, list) else 0
        if step == count and end == len(change.path) and isinstance(change.value, dict):
            yield replace(change, is_inserted=True)
            return
        if step == count and change.value is not None:
            yield Change(path=change.path[:end], value={}, is_inserted=True)
        elif not 0 <= step < count:
            raise TextError(f"{said(change.path)}: there are {count} entries; number {step} cannot be changed")
    yield change


def _put(root: Any, change: Change) -> None:
    """Change a key in plain tables, or in a document that keeps its comments."""
    *way, last = change.path
    tables, owner = root, root
    for step, following in zip(way, change.path[1:], strict=True):
        owner = tables
        _check_step(tables, step, change)
        if isinstance(step, str) and step not in tables:
            tables[step] = _new(root, following)
        tables = tables[step]
    _check_step(tables, last, change)
    if change.is_inserted:
        tables.insert(last, deepcopy(change.value))
    elif change.value is not None:
        tables[last] = deepcopy(change.value)
    else:
        del tables[last]
        if isinstance(last, int) and not len(tables):
            del owner[way[-1]]  # a list of tables without entries cannot be written down


def _check_step(tables: Any, step: str | int, change: Change) -> None:
    if not isinstance(tables, list if isinstance(step, int) else Mapping):
        kind = "list" if isinstance(step, int) else "table"
        raise TextError(f"{said(change.path)} leads into a value that is no {kind}")


def _new(root: Any, following: str | int) -> Any:
    """Return an empty list or table to go into plain tables or into a document."""
    if isinstance(root, tomlkit.TOMLDocument):
        return tomlkit.aot() if isinstance(following, int) else tomlkit.table()
    return [] if isinstance(following, int) else {}
