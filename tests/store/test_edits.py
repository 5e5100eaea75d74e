"""Edits merge or are refused with both versions; posts count once; every revision can be taken back."""

from __future__ import annotations

import tomllib

import pytest
from tests.store.conftest import SURVEY

from airtally.errors import InputError
from airtally.store.edits import Conflict, Edited, edit, history, text_of, undo
from airtally.store.engine import Store
from airtally.store.listing import add_job, jobs, set_aside_job, take_back_job
from airtally.store.texts import Change, Path, TextError, Value, changed, cut_between


def one(path: Path, value: Value) -> list[Change]:
    return [Change(path=path, value=value)]


def test_an_edit_changes_its_line_and_no_other(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    done = edit(store, job, "survey", one(("zone", 0, "volume"), "312 m3"), 1, "technician", "a")
    assert done == Edited(revision=2, paths=(("zone", 0, "volume"),))
    assert text_of(store, job, "survey") == (SURVEY.replace("300 m3", "312 m3"), 2)
    assert text_of(store, job, "survey", revision=1) == (SURVEY, 1)


def test_edits_of_different_keys_merge_and_of_the_same_key_are_refused_with_both_versions(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    edit(store, job, "survey", one(("zone", 0, "volume"), "312 m3"), 1, "lead", "a")
    merged = edit(store, job, "survey", one(("zone", 1, "volume"), "95 m3"), 1, "second tab", "b")
    assert isinstance(merged, Edited)
    before = text_of(store, job, "survey")
    both = [Change(path=("zone", 0, "volume"), value="290 m3"), Change(path=("home", "name"), value="Other Lane")]
    refused = edit(store, job, "survey", both, 1, "second tab", "c")
    assert isinstance(refused, Conflict)
    (clash,) = refused.clashes
    assert (clash.path, clash.yours, clash.theirs, clash.by) == (("zone", 0, "volume"), "290 m3", "312 m3", "lead")
    assert text_of(store, job, "survey") == before  # the key that did not clash was not written either
    assert isinstance(edit(store, job, "survey", both, merged.revision, "second tab", "d"), Edited)


def test_the_same_value_is_no_conflict_and_no_revision(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    edit(store, job, "survey", one(("zone", 0, "volume"), "312 m3"), 1, "a", "a")
    again = edit(store, job, "survey", one(("zone", 0, "volume"), "312 m3"), 1, "b", "b")
    assert again == Edited(revision=2, paths=(("zone", 0, "volume"),))
    assert len(history(store, job)) == 2


def test_a_key_changed_and_changed_back_is_what_the_form_showed(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    edit(store, job, "survey", one(("zone", 0, "volume"), "312 m3"), 1, "a", "a")
    undo(store, job, 2, "a", "b")
    assert isinstance(edit(store, job, "survey", one(("zone", 0, "volume"), "280 m3"), 1, "b", "c"), Edited)


def test_a_post_that_comes_again_gets_the_first_answer_and_changes_nothing(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    first = edit(store, job, "survey", one(("zone", 2, "id"), "attic"), 1, "a", "key")
    edit(store, job, "survey", one(("zone", 2, "volume"), "40 m3"), 2, "a", "other")
    now = text_of(store, job, "survey")
    assert edit(store, job, "survey", one(("zone", 2, "id"), "attic"), 1, "a", "key") == first
    assert text_of(store, job, "survey") == now
    refused = edit(store, job, "survey", one(("zone", 2, "volume"), "50 m3"), 2, "b", "late")
    assert isinstance(refused, Conflict)
    undo(store, job, 3, "a", "back")
    assert edit(store, job, "survey", one(("zone", 2, "volume"), "50 m3"), 2, "b", "late") == refused


def test_a_key_used_for_another_post_is_refused_not_swallowed(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    edit(store, job, "survey", one(("home", "name"), "A"), 1, "a", "key")
    with pytest.raises(InputError, match="used for another post"):
        edit(store, job, "survey", one(("home", "name"), "B"), 1, "a", "key")
    assert tomllib.loads(text_of(store, job, "survey")[0])["home"]["name"] == "A"


def test_a_path_goes_with_its_entry_when_others_come_and_go(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    edit(store, job, "survey", one(("zone", 0), None), 1, "a", "a")
    done = edit(store, job, "survey", one(("zone", 1, "volume"), "95 m3"), 1, "b", "b")
    assert isinstance(done, Edited)
    assert done.paths == (("zone", 0, "volume"),)
    assert tomllib.loads(text_of(store, job, "survey")[0])["zone"] == [
        {"id": "garage", "kind": "garage", "volume": "95 m3"}
    ]
    gone = edit(store, job, "survey", one(("zone", 0, "volume"), "310 m3"), 1, "b", "c")
    assert isinstance(gone, Conflict)
    assert (gone.clashes[0].yours, gone.clashes[0].theirs) == ("310 m3", None)
    new = edit(store, job, "survey", one(("zone", 0, "floor_area"), "120 m2"), 1, "b", "d")
    assert isinstance(new, Conflict)
    assert edit(store, job, "survey", one(("zone", 0), None), 1, "b", "e") == Edited(revision=3, paths=(None,))
    undo(store, job, 2, "a", "f")
    assert isinstance(edit(store, job, "survey", one(("zone", 0, "volume"), "310 m3"), 1, "b", "g"), Edited)
    assert tomllib.loads(text_of(store, job, "survey")[0])["zone"][0] == {"id": "living", "volume": "310 m3"}


def test_two_tabs_that_add_an_entry_each_add_two(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    entry = [Change(path=("zone", 2, "id"), value="attic"), Change(path=("zone", 2, "volume"), value="40 m3")]
    edit(store, job, "survey", entry, 1, "a", "a")
    done = edit(store, job, "survey", one(("zone", 2), {"id": "shed", "volume": "12 m3"}), 1, "b", "b")
    assert isinstance(done, Edited)
    assert done.paths == (("zone", 3),)
    zones = tomllib.loads(text_of(store, job, "survey")[0])["zone"]
    assert [zone["id"] for zone in zones] == ["living", "garage", "attic", "shed"]
    # Taken back one by one, the older first: the younger entry stays.
    assert isinstance(undo(store, job, 2, "a", "c"), Edited)
    zones = tomllib.loads(text_of(store, job, "survey")[0])["zone"]
    assert [zone["id"] for zone in zones] == ["living", "garage", "shed"]


def test_undo_of_undo_and_exact_bytes(store: Store) -> None:
    odd = SURVEY.replace('"MERV 8"', "'MERV 8'   # on the frame").replace("\n", "\r\n")
    job = add_job(store, odd, "technician")
    edit(store, job, "survey", one(("air_handler", "filter", 0, "rating"), None), 1, "a", "a")
    edited = text_of(store, job, "survey")[0]
    assert undo(store, job, 2, "a", "b") == Edited(revision=3, paths=(("air_handler", "filter", 0, "rating"),))
    assert text_of(store, job, "survey")[0] == odd
    undo(store, job, 3, "a", "c")
    assert text_of(store, job, "survey")[0] == edited
    undo(store, job, 4, "a", "d")
    assert text_of(store, job, "survey")[0] == odd
    assert [(line.number, line.undoes) for line in history(store, job)] == [
        (5, 4),
        (4, 3),
        (3, 2),
        (2, None),
        (1, None),
    ]


def test_undo_of_an_older_edit_keeps_the_younger_ones_or_clashes(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    edit(store, job, "survey", one(("zone", 0), None), 1, "a", "a")
    edit(store, job, "survey", one(("zone", 0, "volume"), "95 m3"), 2, "a", "b")
    assert isinstance(undo(store, job, 2, "a", "c"), Edited)
    zones = tomllib.loads(text_of(store, job, "survey")[0])["zone"]
    assert zones == [
        {"id": "living", "volume": "300 m3"},
        {"id": "garage", "kind": "garage", "volume": "95 m3"},
    ]
    edit(store, job, "survey", one(("zone", 1, "volume"), "96 m3"), 4, "lead", "d")
    refused = undo(store, job, 3, "a", "e")
    assert isinstance(refused, Conflict)
    assert (refused.clashes[0].yours, refused.clashes[0].theirs) == ("90 m3", "96 m3")


def test_visits_begin_with_an_edit_and_end_with_its_undo(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    edit(store, job, "visits", one(("visit", 0), {"id": "first", "reading": [{"key": "tesp"}]}), 1, "a", "a")
    edit(store, job, "visits", one(("visit", 0, "reading", 0, "value"), "0.8 inH2O"), 2, "a", "b")
    visits = tomllib.loads(text_of(store, job, "visits")[0])
    assert visits == {"schema": 1, "visit": [{"id": "first", "reading": [{"key": "tesp", "value": "0.8 inH2O"}]}]}
    undo(store, job, 3, "a", "c")
    undo(store, job, 2, "a", "d")
    assert tomllib.loads(text_of(store, job, "visits")[0]) == {"schema": 1}
    assert text_of(store, job, "visits", revision=1) == ("", 1)


@pytest.mark.parametrize(
    "text",
    ["schema = 1\n[home\n", "\x00", 'a = "\n', "a = 1\na = 2\n", b"caf\xe9 = 1".decode("utf-8", "surrogateescape")],
)
def test_a_text_that_is_no_toml_is_kept_and_named_and_can_be_mended(store: Store, text: str) -> None:
    job = add_job(store, text, "technician")
    assert text_of(store, job, "survey")[0] == text
    (line,) = jobs(store)
    assert set(line.faults) == {"survey"}
    assert line.faults["survey"]
    with pytest.raises(TextError, match="not TOML"):
        edit(store, job, "survey", one(("home", "name"), "A"), 1, "a", "a")
    assert isinstance(edit(store, job, "survey", one((), SURVEY), 1, "a", "b"), Edited)
    (line,) = jobs(store)
    assert (line.name, dict(line.faults)) == ("Invented Lane", {})
    refused = edit(store, job, "survey", one((), "schema = 1\n"), 1, "second tab", "c")
    assert isinstance(refused, Conflict)
    assert refused.clashes[0].theirs == SURVEY
    assert isinstance(undo(store, job, 2, "a", "d"), Edited)
    assert text_of(store, job, "survey")[0] == text


def test_what_leads_nowhere_is_refused_and_changes_nothing(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    for path, value, words in (
        (("zone", 5, "id"), "x", "there are 2 entries"),
        (("zone", -1, "id"), "x", "there are 2 entries"),
        (("zone", "id"), "x", "no table"),
        (("home", 0), "x", "no list"),
        (("schema", "x"), 1, "no table"),
        (("home", "name"), "\ud800", "no UTF-8"),
    ):
        with pytest.raises(TextError, match=words):
            edit(store, job, "survey", one(path, value), 1, "a", str(path))
    with pytest.raises(InputError, match="revisions 0 to 1"):
        edit(store, job, "survey", one(("home", "name"), "x"), 2, "a", "late")
    with pytest.raises(InputError, match="by itself"):
        edit(store, job, "survey", [*one(("zone", 0), None), *one(("zone", 1, "id"), "x")], 1, "a", "two")
    with pytest.raises(InputError, match="parts"):
        text_of(store, job, "record")
    assert text_of(store, job, "survey") == (SURVEY, 1)


def test_a_job_set_aside_is_listed_apart_and_taken_back(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    set_aside_job(store, job, "technician")
    assert jobs(store) == ()
    assert [line.id for line in jobs(store, are_set_aside=True)] == [job]
    take_back_job(store, job)
    assert [line.id for line in jobs(store)] == [job]


def test_a_byte_order_mark_stays() -> None:
    text, _, before = changed("\ufeffa = 1\n", one(("a",), 2))
    assert (text, before) == ("\ufeffa = 2\n", [1])


@pytest.mark.parametrize(
    ("before", "after"), [(b"aab", b"ab"), (b"ab", b"aab"), (b"", b"a"), (None, b"a"), (b"a", None)]
)
def test_a_cut_gives_the_text_before(before: bytes | None, after: bytes | None) -> None:
    assert cut_between(before, after).before(after) == before
