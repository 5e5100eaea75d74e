"""The survey as a form: kept field by field, nothing typed lost, undone, in two tabs, by keyboard, without scripts."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import UUID

import httpx2
import pytest
from starlette.testclient import TestClient

from airtally.house.sections_home import ZONE
from airtally.house.survey import survey_from_bytes
from airtally.house.tables import SECTIONS
from airtally.house.template import new_survey_text
from airtally.store.edits import edit, history, text_of
from airtally.store.engine import Store, open_store
from airtally.store.listing import add_job
from airtally.store.texts import Change
from airtally.store.works import ask, claim, finish
from airtally.web.app import make_app
from airtally.web.survey.places import GROUPS, Whereabouts, new_id
from airtally.web.survey.plain import plain

SURVEY = """\
# measured by hand
schema = 1

[home]
id = "made-house"
name = "Made house"
time_zone = "America/Denver"
currency = "USD"

[[zone]]
id = "living"
name = "living room"
kind = "room"
volume = "6966 ft3 (6548 to 7384)"   # with the tape
ceiling_height = "not measured"

[[zone]]
id = "garage"
kind = "garage"
volume = "not accessible"

[envelope]
flow_at_50 = "2350 cfm +- 6 %"
storeys = 2

[[exhaust]]
id = "bath"
kind = "bath fan"
zone = "living"
flow = "42 cfm"
"""
SAME_ORIGIN = {"sec-fetch-site": "same-origin"}


class Page:
    """A job's survey and a client without scripts."""

    def __init__(self, store: Store, text: str = SURVEY) -> None:
        self.store = store
        self.job: UUID = add_job(store, text, "technician")
        self.client = TestClient(make_app(store), base_url="http://127.0.0.1", headers=SAME_ORIGIN)
        self.posts = 0

    def address(self, path: str = "") -> str:
        """Return the address of a page of the survey."""
        return f"/job/{self.job}/survey" + (f"/{path}" if path else "")

    def survey(self) -> dict[str, Any]:
        """Return the survey as the store has it."""
        return tomllib.loads(text_of(self.store, self.job, "survey")[0])

    def revision(self) -> int:
        """Return its newest revision."""
        return text_of(self.store, self.job, "survey")[1]

    def new_post(self) -> str:
        """Return a key that no post had."""
        self.posts += 1
        return f"post-{self.posts}"

    def send(self, page: str, name: str, fields: dict[str, Any], based_on: int, post: str = "") -> httpx2.Response:
        """Send one field as the page's script does."""
        body = {**fields, "only": name, "based_on": str(based_on), "post": post or self.new_post()}
        return self.client.post(self.address(page), data=body, headers={"accept": "application/json"})

    def drawn(self, page: str) -> dict[str, list[str]]:
        """Return what the page's form sends as it was drawn: names and values as a browser takes them."""
        return sent_by(self.client.get(self.address(page)).text)


def sent_by(html: str) -> dict[str, list[str]]:
    """Return what the first form that keeps itself would send, read off its markup."""
    form = re.search(r"<form[^>]*data-keep.*?</form>", html, re.DOTALL)
    assert form is not None
    fields: dict[str, list[str]] = {}
    for tag in re.finditer(r"<(input|textarea|select)\b([^>]*)>(.*?(?=</\1>))?", form.group(), re.DOTALL):
        attributes = dict(re.findall(r'([\w-]+)="([^"]*)"', tag.group(2)))
        name, kind = attributes.get("name"), attributes.get("type", "")
        if name is None or "form" in attributes or (kind in ("radio", "checkbox") and " checked" not in tag.group(2)):
            continue
        if tag.group(1) == "input":
            value = attributes.get("value", "")
        elif tag.group(1) == "textarea":
            value = (tag.group(3) or "").removeprefix("\n")
        else:
            value = chosen_in(tag.group(3) or "")
        fields.setdefault(name, []).append(value.replace("&#34;", '"').replace("&#39;", "'").replace("&amp;", "&"))
    return fields


def chosen_in(options: str) -> str:
    """Return what a list sends: the option that is selected, else the first."""
    found = list(re.finditer(r'<option(?: value="([^"]*)")?( selected)?>([^<]*)', options))
    one = next((option for option in found if option[2]), found[0])
    return one[3] if one[1] is None else one[1]


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Page]:
    store = open_store(tmp_path / "company.db")
    yield Page(store)
    store.close()


def test_every_section_of_the_survey_stands_on_one_page() -> None:
    shown = [path for group in GROUPS for path in group.sections]
    assert sorted(shown) == sorted(section.path for section in SECTIONS)


def test_every_page_asks_for_every_key(page: Page) -> None:
    for section, place in ((ZONE, "zone.0"),):
        html = page.client.get(page.address("spaces")).text
        for field in section.fields:
            assert (f'name="{place}.{field.key}"' in html) == (field.key != "id")


def test_a_form_sent_as_it_was_drawn_changes_nothing(page: Page) -> None:
    before = text_of(page.store, page.job, "survey")
    for group in GROUPS:
        answer = page.client.post(page.address(group.path), data=page.drawn(group.path), follow_redirects=False)
        assert answer.status_code == 303, group.path
    assert text_of(page.store, page.job, "survey") == before


def test_a_field_is_kept_with_its_unit_and_the_comments_stay(page: Page) -> None:
    told = page.send(
        "spaces", "zone.0.volume", {"zone.0.volume": "197,5 (190 to 205)", "zone.0.volume:unit": "m3"}, page.revision()
    )
    assert told.status_code == 200
    assert told.json()["at"] == "zone.0.volume"
    text, number = text_of(page.store, page.job, "survey")
    assert 'volume = "197.5 m3 (190 to 205)"   # with the tape' in text
    assert told.json()["revision"] == number
    assert "# measured by hand" in text


def test_an_impossible_number_is_not_kept_and_what_is_possible_is_said(page: Page) -> None:
    before = page.revision()
    told = page.send(
        "spaces", "zone.0.ceiling_height", {"zone.0.ceiling_height": "80", "zone.0.ceiling_height:unit": "ft"}, before
    )
    assert told.status_code == 422
    assert "2 to 40 ft" in told.json()["note"]
    assert page.revision() == before


def test_an_unusual_number_is_kept_and_asked_about(page: Page) -> None:
    told = page.send(
        "spaces",
        "zone.0.ceiling_height",
        {"zone.0.ceiling_height": "14", "zone.0.ceiling_height:unit": "ft"},
        page.revision(),
    )
    assert told.status_code == 200
    assert "Are you sure?" in told.json()["note"]
    assert "7.5 to 9.5 ft" in told.json()["note"]
    assert page.survey()["zone"][0]["ceiling_height"] == "14 ft"


def test_the_readers_doubts_stand_beside_their_field(page: Page) -> None:
    told = page.send("exhausts", "exhaust.0.zone", {"exhaust.0.zone": "attic"}, page.revision())
    assert "there is no zone" in told.json()["note"].casefold()
    html = page.client.get(page.address("exhausts")).text
    note = re.search(r'<p class="said" id="exhaust-0-zone-said">(.*?)</p>', html)
    assert note is not None
    assert "no zone" in note.group(1)
    assert re.search(rf'<a href="{page.address("exhausts")}#exhaust-0-zone">', page.client.get(page.address()).text)


def test_a_post_sent_twice_is_one_edit(page: Page) -> None:
    based = page.revision()
    answers = [
        page.send("envelope", "envelope.storeys", {"envelope.storeys": "3"}, based, post="once") for _ in range(2)
    ]
    assert answers[0].json() == answers[1].json()
    assert page.revision() == based + 1


def test_two_tabs_on_one_field_see_both_versions_and_on_two_fields_keep_both(page: Page) -> None:
    based = page.revision()
    page.send(
        "envelope", "envelope.flow_at_50", {"envelope.flow_at_50": "2190", "envelope.flow_at_50:unit": "cfm"}, based
    )
    other = page.send("envelope", "envelope.storeys", {"envelope.storeys": "3"}, based)
    assert other.status_code == 200
    told = page.send(
        "envelope", "envelope.flow_at_50", {"envelope.flow_at_50": "2500", "envelope.flow_at_50:unit": "cfm"}, based
    )
    assert told.status_code == 409
    both = told.json()["both"]
    assert (both["yours"], both["theirs"]) == ("2500 cfm", "2190 cfm")
    assert both["by"].startswith("technician, ")
    assert page.survey()["envelope"]["flow_at_50"] == "2190 cfm"
    mine = page.send(
        "envelope", told.json()["at"], {"envelope.flow_at_50": "2500", "envelope.flow_at_50:unit": "cfm"},
        told.json()["revision"],
    )  # fmt: skip
    assert mine.status_code == 200
    assert page.survey()["envelope"]["flow_at_50"] == "2500 cfm"


def test_a_field_follows_its_entry_when_one_before_it_goes(page: Page) -> None:
    based = page.revision()
    edit(page.store, page.job, "survey", [Change(path=("zone", 0), value=None)], based, "office", "other-tab")
    told = page.send("spaces", "zone.1.volume", {"zone.1.volume": "4000", "zone.1.volume:unit": "ft3"}, based)
    assert told.status_code == 200
    assert told.json()["at"] == "zone.0.volume"
    assert page.survey()["zone"] == [{"id": "garage", "kind": "garage", "volume": "4000 ft3"}]


def test_only_keys_of_the_form_can_be_written(page: Page) -> None:
    before = page.revision()
    for name in ("zone.0.id", "zone.0.owner", "schema", "zone", "secret.key"):
        assert page.send("spaces", name, {name: "x"}, before).status_code == 422
    assert page.revision() == before


def test_without_scripts_what_is_right_is_kept_and_the_rest_stands_as_typed(page: Page) -> None:
    form = page.drawn("spaces")
    form["zone.0.volume"], form["zone.0.ceiling_height"] = ["7000"], ["80"]
    form["zone.0.ceiling_height:is"] = [""]
    answer = page.client.post(page.address("spaces"), data=form)
    assert answer.status_code == 422
    assert page.survey()["zone"][0]["volume"] == "7000 ft3"
    again = sent_by(answer.text)
    assert again["zone.0.ceiling_height"] == ["80"]
    assert 'href="#field-zone-0-ceiling_height"' in answer.text
    assert 'aria-invalid="true"' in answer.text
    again["zone.0.ceiling_height"] = ["8"]
    assert page.client.post(page.address("spaces"), data=again, follow_redirects=False).status_code == 303
    assert page.survey()["zone"][0]["ceiling_height"] == "8 ft"


def test_an_untouched_field_of_an_old_form_leaves_alone_what_another_tab_wrote(page: Page) -> None:
    form = page.drawn("envelope")
    page.send(
        "envelope",
        "envelope.flow_at_50",
        {"envelope.flow_at_50": "2190", "envelope.flow_at_50:unit": "cfm"},
        page.revision(),
    )
    form["envelope.bedrooms"] = ["4"]
    answer = page.client.post(page.address("envelope"), data=form, follow_redirects=False)
    assert answer.status_code == 303
    assert page.survey()["envelope"] == {"flow_at_50": "2190 cfm", "storeys": 2, "bedrooms": 4}


@pytest.mark.parametrize(("choice", "kept"), [("yours", "2500 cfm"), ("theirs", "2190 cfm")])
def test_without_scripts_both_versions_are_shown_and_one_is_chosen(page: Page, choice: str, kept: str) -> None:
    form = page.drawn("envelope")
    page.send(
        "envelope",
        "envelope.flow_at_50",
        {"envelope.flow_at_50": "2190", "envelope.flow_at_50:unit": "cfm"},
        page.revision(),
    )
    form["envelope.flow_at_50"], form["envelope.bedrooms"] = ["2500"], ["4"]
    answer = page.client.post(page.address("envelope"), data=form)
    assert answer.status_code == 409
    assert "2190 cfm, by technician" in answer.text
    assert page.survey()["envelope"] == {"flow_at_50": "2190 cfm", "storeys": 2, "bedrooms": 4}
    again = sent_by(answer.text) | {"envelope.flow_at_50:keep": [choice]}
    assert page.client.post(page.address("envelope"), data=again, follow_redirects=False).status_code == 303
    assert page.survey()["envelope"]["flow_at_50"] == kept


def test_an_entry_is_added_like_another_and_taken_away_and_brought_back(page: Page) -> None:
    added = page.client.post(
        page.address("spaces/add"),
        data={"section": "zone", "name": "Living room", "like": "zone.0", "post": page.new_post()},
        follow_redirects=False,
    )
    assert added.headers["location"].endswith("#zone-2")
    made = page.survey()["zone"][2]
    assert (made["id"], made["name"]) == ("living-room", "Living room")
    assert made["volume"] == "6966 ft3 (6548 to 7384)"
    full = text_of(page.store, page.job, "survey")[0]
    taken = page.client.post(
        page.address("spaces/take"),
        data={"path": "zone.0", "based_on": str(page.revision()), "post": page.new_post()},
        follow_redirects=False,
    )
    assert [zone["id"] for zone in page.survey()["zone"]] == ["garage", "living-room"]
    bar = page.client.get(taken.headers["location"]).text
    number = re.search(r'name="revision" value="(\d+)"', bar)
    assert number is not None
    page.client.post(
        page.address("undo"), data={"revision": number.group(1), "post": page.new_post(), "back": "spaces"}
    )
    assert text_of(page.store, page.job, "survey")[0] == full


def test_a_section_written_once_becomes_a_list_when_one_is_added(page: Page) -> None:
    page.client.post(
        page.address("envelope/add"), data={"section": "envelope", "like": "envelope", "post": page.new_post()}
    )
    assert page.survey()["envelope"] == [{"flow_at_50": "2350 cfm +- 6 %", "storeys": 2}] * 2
    assert survey_from_bytes(text_of(page.store, page.job, "survey")[0].encode()).envelopes


def test_a_name_is_needed_and_the_same_name_gets_an_id_of_its_own(page: Page) -> None:
    answer = page.client.post(
        page.address("spaces/add"), data={"section": "zone", "name": " ", "post": page.new_post()}
    )
    assert answer.status_code == 422
    assert "short name" in answer.text
    assert new_id("Living!  Room", ["living-room"]) == "living-room-2"


def test_every_edit_is_listed_and_can_be_taken_back_once(page: Page) -> None:
    page.send("envelope", "envelope.storeys", {"envelope.storeys": "3"}, page.revision())
    number = page.revision()
    listed = page.client.get(page.address("history")).text
    assert "envelope, storeys" in listed
    page.client.post(page.address("undo"), data={"revision": str(number), "post": page.new_post()})
    assert page.survey()["envelope"]["storeys"] == 2
    assert history(page.store, page.job)[0].undoes == number


def test_undoing_what_was_changed_again_shows_both(page: Page) -> None:
    for storeys in ("3", "4"):
        page.send("envelope", "envelope.storeys", {"envelope.storeys": storeys}, page.revision())
    answer = page.client.post(
        page.address("undo"), data={"revision": str(page.revision() - 1), "post": page.new_post()}
    )
    assert answer.status_code == 409
    assert "Not taken back" in answer.text
    assert page.survey()["envelope"]["storeys"] == 4


def test_the_text_is_given_back_byte_for_byte(page: Page) -> None:
    assert page.client.get(page.address("survey.toml")).text == SURVEY
    assert "# measured by hand" in page.client.get(page.address("text")).text


def test_a_text_that_is_no_toml_is_mended_where_it_stands(tmp_path: Path) -> None:
    store = open_store(tmp_path / "broken.db")
    page = Page(store, SURVEY.replace("schema = 1", "schema = = 1"))
    answer = page.client.get(page.address("spaces"))
    assert "Text to mend" in answer.text
    page.client.post(page.address("text"), data={"text": SURVEY, "based_on": str(page.revision()), "post": "mend"})
    assert page.survey()["home"]["name"] == "Made house"
    store.close()


def test_every_problem_of_a_key_is_found_at_that_key() -> None:
    broken = SURVEY.replace('"42 cfm"', '"42"').replace("storeys = 2", "storeys = 9") + '[bypass]\ndiameter = "one"\n'
    survey = tomllib.loads(broken)
    problems = survey_from_bytes(broken.encode()).problems
    found = {Whereabouts(survey).of(problem) for problem in problems}
    assert {("exhaust", 0, "flow"), ("envelope", "storeys"), ("bypass", "diameter")} <= found


CONTROLS = {
    "fact": ("zone.0.is_occupied", {"zone.0.is_occupied": "no"}, ("zone", 0, "is_occupied"), False),
    "choice": ("zone.0.kind", {"zone.0.kind": "basement"}, ("zone", 0, "kind"), "basement"),
    "count with comma": ("envelope.storeys", {"envelope.storeys": "1,5"}, ("envelope", "storeys"), 1.5),
    "moment": ("exhaust.0.since", {"exhaust.0.since": "2025-10-01T16:00"}, ("exhaust", 0, "since"), "2025-10-01 16:00"),
    "days": ("trial.on", {"trial.on": "2025-10-13\n2025-10-15"}, ("trial", "on"), ["2025-10-13", "2025-10-15"]),
    "several": (
        "change.0.affects", {"change.0.affects": ["", "filter", "cleaner"]}, ("change", 0, "affects"), ["filter", "cleaner"],
    ),
    "pairs": (
        "log.0.columns", {"log.0.columns": "dust = pm25 ug/m3\nnoise = ignore"}, ("log", 0, "columns"),
        {"dust": "pm25 ug/m3", "noise": "ignore"},
    ),
    "three": (
        "air_handler.filter.0.efficiency",
        {f"air_handler.filter.0.efficiency.{n}": v for n, v in enumerate(("15", "45", "75"))}
        | {f"air_handler.filter.0.efficiency.{n}:unit": "%" for n in range(3)},
        ("air_handler", "filter", 0, "efficiency"), ["15 %", "45 %", "75 %"],
    ),
    "emptied": ("envelope.storeys", {"envelope.storeys": ""}, ("envelope", "storeys"), None),
}  # fmt: skip
MORE = """
[[change]]
id = "work"
time = "2025-09-30 08:00"
affects = ["sensor"]

[[log]]
file = "logs/a.csv"
placement = "shelf"

[air_handler]
[[air_handler.filter]]
id = "one"
"""


@pytest.mark.parametrize("form", CONTROLS)
def test_each_form_of_field_is_kept_as_the_text_writes_it(tmp_path: Path, form: str) -> None:
    store = open_store(tmp_path / "forms.db")
    page = Page(store, SURVEY + MORE)
    name, fields, path, value = CONTROLS[form]
    group = next(one for one in GROUPS if ".".join(s for s in path[:-1] if isinstance(s, str)) in one.sections)
    told = page.send(group.path, name, fields, page.revision())
    assert told.status_code == 200, told.text
    stands: Any = page.survey()
    for step in path[:-1]:
        stands = stands[step]
    assert stands.get(path[-1]) == value
    store.close()


@pytest.mark.parametrize(
    ("name", "sent"),
    [
        ("exhaust.0.since", "yesterday"),
        ("trial.on", "2025-13-40"),
        ("envelope.storeys", "two"),
        ("zone.0.is_occupied", "perhaps"),
        ("zone.0.volume", "many"),
    ],
)
def test_what_cannot_be_read_is_refused_with_what_to_write(page: Page, name: str, sent: str) -> None:
    group = next(one for one in GROUPS if name.split(".")[0] in one.sections)
    before = page.revision()
    told = page.send(group.path, name, {name: sent}, before)
    assert told.status_code == 422
    assert len(told.json()["note"]) > len(sent)
    assert page.revision() == before


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("neither volume nor floor_area is given", "neither volume nor floor area is given"),
        ("no [[zone]] with is_occupied = true could be read", "no space with occupied: yes could be read"),
        ("Whether people live in it; left out: true for rooms, else false.",
         "Whether people live in it; left open: yes for rooms, else no."),
        ('column "floor_area" holds', 'column "floor_area" holds'),
        ("Keys: flow, pressure_drop.", "Keys: flow, pressure_drop."),
        ("[air_handler] is missing; see [foo]", "Air handler is missing; see [foo]"),
    ],
)  # fmt: skip
def test_words_of_the_file_are_words_of_the_form(text: str, said: str) -> None:
    assert plain(text) == said


def test_a_work_that_failed_leads_to_what_the_survey_still_lacks(tmp_path: Path) -> None:
    store = open_store(tmp_path / "jobs.db")
    job = add_job(store, new_survey_text(name="A home"), "office")
    work = ask(store, job, "whole", 1)
    taken = claim(store, "test")
    assert taken is not None
    finish(store, taken.id, "test", "survey.toml, zone[main].volume: neither volume nor floor_area is given")
    pages = TestClient(make_app(store), base_url="http://127.0.0.1")
    shown = pages.get(f"/job/{job}/works/{work.id}").text
    assert f'href="/job/{job}/survey/spaces#zone-0-volume">Needed first: rooms that mix, volume' in shown
    assert "floor_area" not in shown
    assert "something is needed first" in pages.get(f"/job/{job}").text
