"""Any order of edits, undos and second tabs, against a plain model that keeps every revision's tables."""

from __future__ import annotations

import atexit
import json
import shutil
import tempfile
import tomllib
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from airtally.store.edits import Conflict, Edited, edit, history, text_of, undo
from airtally.store.engine import Store, open_store
from airtally.store.listing import add_job
from airtally.store.texts import Change

TEXT = """# remark
[home]
name = "a"  # asked

[[zone]]
id = "one"
volume = "1 m3"

[zone.more]
note = "x"

[[zone]]
id = "two"

[list]
names = ["p", "q"]
"""
KEYS = ("id", "volume", "kind")
VALUES = st.sampled_from(["1 m3", "2 m3", 'quo"te\n', "", True, 1, 2.5, ["p"], ["p", "\u00e9"]])


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """An entry of the model: a name that nobody can change, and its keys."""

    mark: int
    keys: dict[str, Any]


@cache
def company() -> Store:
    """Return one store for all runs, each with a job of its own."""
    store = open_store(Path(tempfile.mkdtemp()) / "company.sqlite")
    atexit.register(shutil.rmtree, store.path.parent)
    return store


class Edits(RuleBasedStateMachine):
    """The model: for each revision the home's keys and the zones, each with a mark of its own."""

    def __init__(self) -> None:
        super().__init__()
        self.store = company()
        self.job = add_job(self.store, TEXT, "technician")
        tables = tomllib.loads(TEXT)
        self.marks = len(tables["zone"])
        zones = [Entry(mark=n, keys=zone) for n, zone in enumerate(tables["zone"])]
        self.kept: list[tuple[dict[str, Any], list[Entry]]] = [({}, []), (tables["home"], zones)]
        self.texts = ["", TEXT]
        self.posts = 0
        self.answers: list[tuple[list[Change], int, str, Edited | Conflict]] = []

    @property
    def now(self) -> int:
        """Return the newest revision."""
        return len(self.kept) - 1

    def post(self) -> str:
        """Return a key that was not used."""
        self.posts += 1
        return f"{self.job} {self.posts}"

    def send(self, change: Change, based_on: int) -> Edited | Conflict:
        """Send an edit of one change."""
        key = self.post()
        answer = edit(self.store, self.job, "survey", [change], based_on, "technician", key)
        self.answers.append(([change], based_on, key, answer))
        return answer

    def grown(self, answer: Edited | Conflict, home: dict[str, Any], zones: list[Entry]) -> None:
        """Expect a new revision, or none where nothing changed."""
        assert isinstance(answer, Edited)
        if (home, zones) != self.kept[-1]:
            self.kept.append((home, zones))
            self.texts.append(text_of(self.store, self.job, "survey")[0])
        assert answer.revision == self.now

    @rule(key=st.sampled_from(["name", "zone_name"]), value=st.none() | VALUES, back=st.integers(0, 4))
    def set_home(self, key: str, value: Any, back: int) -> None:
        """Set a key of the home, from a form that may be old."""
        based_on = max(1, self.now - back)
        then, present = self.kept[based_on][0].get(key), self.kept[-1][0].get(key)
        answer = self.send(Change(path=("home", key), value=value), based_on)
        if alike(present, value) or alike(present, then):
            home = {k: v for k, v in self.kept[-1][0].items() if k != key}
            self.grown(answer, home if value is None else home | {key: value}, self.kept[-1][1])
        else:
            self.refused(answer, value, present)

    @rule(number=st.integers(0, 4), key=st.sampled_from(KEYS), value=st.none() | VALUES, back=st.integers(0, 4))
    def set_zone(self, number: int, key: str, value: Any, back: int) -> None:
        """Set a key of a zone, from a form that may be old."""
        based_on = max(1, self.now - back)
        shown = self.kept[based_on][1]
        if number >= len(shown):
            return
        then = shown[number].keys.get(key)
        zones = deepcopy(self.kept[-1][1])
        entry = next((zone for zone in zones if zone.mark == shown[number].mark), None)
        present = None if entry is None else entry.keys.get(key)
        answer = self.send(Change(path=("zone", number, key), value=value), based_on)
        if alike(present, value) or (entry is not None and alike(present, then)):
            if entry is not None:
                entry.keys.pop(key, None)
                entry.keys.update({} if value is None else {key: value})
            self.grown(answer, self.kept[-1][0], zones)
        else:
            self.refused(answer, value, present)

    @rule(number=st.integers(0, 4), back=st.integers(0, 4))
    def remove_zone(self, number: int, back: int) -> None:
        """Take a zone away, from a form that may be old."""
        based_on = max(1, self.now - back)
        shown = self.kept[based_on][1]
        if number >= len(shown):
            return
        mark = shown[number].mark
        entry = next((zone for zone in self.kept[-1][1] if zone.mark == mark), None)
        answer = self.send(Change(path=("zone", number), value=None), based_on)
        if entry is None or alike(entry.keys, shown[number].keys):
            self.grown(answer, self.kept[-1][0], [zone for zone in self.kept[-1][1] if zone.mark != mark])
        else:
            self.refused(answer, None, entry.keys)

    @rule(value=VALUES, back=st.integers(0, 4))
    def add_zone(self, value: Any, back: int) -> None:
        """Add a zone, from a form that may be old."""
        based_on = max(1, self.now - back)
        at = len(self.kept[based_on][1])
        answer = self.send(Change(path=("zone", at), value={"id": "new", "kind": value}), based_on)
        assert isinstance(answer, Edited)
        (path,) = answer.paths
        assert path is not None
        zones = list(self.kept[-1][1])
        zones.insert(int(path[1]), Entry(mark=self.marks, keys={"id": "new", "kind": value}))
        self.marks += 1
        self.grown(answer, self.kept[-1][0], zones)

    @precondition(lambda self: self.now > 1)
    @rule()
    def undo_newest(self) -> None:
        """Take the newest revision back."""
        answer = undo(self.store, self.job, self.now, "technician", self.post())
        self.kept.append(deepcopy(self.kept[-2]))
        assert isinstance(answer, Edited)
        assert answer.revision == self.now
        self.texts.append(text_of(self.store, self.job, "survey")[0])
        assert self.texts[-1] == self.texts[-3]

    @precondition(lambda self: self.answers)
    @rule(data=st.data())
    def send_again(self, data: st.DataObject) -> None:
        """Send a post again."""
        changes, based_on, key, answer = data.draw(st.sampled_from(self.answers))
        assert edit(self.store, self.job, "survey", changes, based_on, "technician", key) == answer

    def refused(self, answer: Edited | Conflict, yours: Any, theirs: Any) -> None:
        """Expect both versions."""
        assert isinstance(answer, Conflict)
        (clash,) = answer.clashes
        assert (clash.yours, clash.theirs) == (yours, theirs)

    @invariant()
    def the_text_is_the_model(self) -> None:
        """Compare the text with the model."""
        text, number = text_of(self.store, self.job, "survey")
        assert number == self.now
        tables = tomllib.loads(text)
        assert (tables["home"], tables.get("zone", [])) == (self.kept[-1][0], [zone.keys for zone in self.kept[-1][1]])
        assert tables["list"] == {"names": ["p", "q"]}
        assert text.startswith("# remark\n")

    def teardown(self) -> None:
        """Compare every revision with what was read when it was made."""
        assert [text_of(self.store, self.job, "survey", n)[0] for n in range(1, self.now + 1)] == self.texts[1:]
        assert {row.number for row in history(self.store, self.job)} == set(range(1, self.now + 1))


def alike(one: Any, other: Any) -> bool:
    """Return whether two values are the same in TOML, where 1 is not true."""
    return json.dumps(one, sort_keys=True) == json.dumps(other, sort_keys=True)


TestEdits = Edits.TestCase
TestEdits = pytest.mark.slow(TestEdits)
TestEdits.settings = settings(
    max_examples=15, stateful_step_count=12, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
