"""The survey's form in a real browser: by touch, by keyboard, with a connection that drops, in two tabs."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.types import ASGIApp

from airtally.store.edits import history, text_of
from airtally.store.engine import open_store
from airtally.store.listing import add_job
from airtally.store.photos import add_photo
from airtally.web.app import make_app
from airtally.web.plain_photo import plain_photo
from airtally.web.survey.places import GROUPS

from .conftest import SIZES, Served, violations
from .test_survey_page import MORE, SURVEY
from .test_survey_photos import camera_photo


class Form:
    """A served survey."""

    def __init__(self, folder: Path, serve: Callable[[ASGIApp], Served], browser: Any) -> None:
        self.store = open_store(folder / "company.db")
        self.job = add_job(self.store, SURVEY + MORE, "technician")
        self.served = serve(make_app(self.store))
        self.browser = browser
        self.troubles: list[str] = []

    def address(self, path: str = "") -> str:
        """Return the address of a page of the survey."""
        return f"{self.served.url}/job/{self.job}/survey/{path}".rstrip("/")

    def open(self, path: str = "", *, size: tuple[int, int] = SIZES[0], **context: Any) -> Any:
        """Return a page in a browser of its own."""
        made = self.browser.new_context(viewport={"width": size[0], "height": size[1]}, **context)
        page = made.new_page()
        page.on("console", lambda m: self.troubles.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: self.troubles.append(str(error)))
        page.goto(self.address(path))
        return page

    def survey(self) -> dict[str, Any]:
        """Return the survey as the store has it."""
        return tomllib.loads(text_of(self.store, self.job, "survey")[0])


@pytest.fixture
def form(tmp_path: Path, serve: Callable[[ASGIApp], Served], chromium: Any) -> Iterator[Form]:
    made = Form(tmp_path, serve, chromium)
    yield made
    for context in chromium.contexts:
        context.close()
    made.store.close()


def until(page: Any, is_so: Callable[[], bool]) -> None:
    """Wait until something is so; the page's own polling is kept out by its content policy."""
    for _ in range(400):
        if is_so():
            return
        page.wait_for_timeout(50)
    raise AssertionError(page.locator("#said").inner_text())


def wait_for(page: Any, words: str) -> None:
    until(page, lambda: words in page.locator("#said").inner_text())


def wait_for_all(page: Any) -> None:
    """Wait until nothing waits on the device."""
    until(page, lambda: page.evaluate("!JSON.parse(localStorage['airtally:waiting'] || '[]').length"))


def unfold(page: Any) -> None:
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")


@pytest.mark.parametrize("size", SIZES)
def test_no_page_of_the_survey_breaks_a_rule_of_access_or_runs_out_sideways(form: Form, size: tuple[int, int]) -> None:
    picture = plain_photo(camera_photo())
    add_photo(form.store, form.job, "a.jpg", picture, "exhaust/bath", "hood over the bath", "technician", "photo")
    page = form.open(size=size, bypass_csp=True, has_touch=size[0] < 1000, is_mobile=size[0] < 1000)
    for path in ("", *(group.path for group in GROUPS), "text", "history"):
        page.goto(form.address(path))
        unfold(page)
        assert violations(page) == [], path
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0], path
    assert form.troubles == []


def test_everything_to_touch_on_a_phone_is_44_px_high(form: Form) -> None:
    page = form.open("spaces", has_touch=True, is_mobile=True)
    unfold(page)
    small = page.evaluate(
        """() => [...document.querySelectorAll('main :is(input:not([type=hidden]), select, button, textarea, summary, .button)')]
            .map(one => one.closest('.choices label') || one)
            .filter(one => one.getBoundingClientRect().height < 44).map(one => one.outerHTML.slice(0, 120))"""
    )
    assert small == []


def test_a_field_saves_itself_and_says_so_without_a_console_error(form: Form) -> None:
    page = form.open("spaces")
    number = page.locator("#zone-0-volume")
    number.fill("7000")
    number.blur()
    wait_for(page, "Saved")
    assert form.survey()["zone"][0]["volume"] == "7000 ft3"
    page.select_option("[name='zone.0.volume:is']", "not accessible")
    assert number.input_value() == ""
    page.locator("#zone-0-ceiling_height").focus()
    until(page, lambda: form.survey()["zone"][0]["volume"] == "not accessible")
    assert form.troubles == []


def test_the_form_is_filled_by_keyboard_alone(form: Form) -> None:
    page = form.open("envelope")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    for _ in range(30):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "envelope-flow_at_50":
            break
    page.keyboard.press("Control+A")
    page.keyboard.type("2100")
    page.keyboard.press("Enter")
    wait_for(page, "aved")
    assert form.survey()["envelope"]["flow_at_50"] == "2100 cfm"
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"


def test_what_cannot_be_kept_stays_on_the_device_through_a_reload(form: Form) -> None:
    page = form.open("spaces")
    page.locator("#zone-0-ceiling_height").fill("80")
    page.locator("#zone-0-ceiling_height").blur()
    wait_for(page, "Not kept")
    page.reload()
    assert page.locator("#zone-0-ceiling_height").input_value() == "80"
    assert "2 to 40 ft" in page.locator("#zone-0-ceiling_height-said").inner_text()
    assert page.locator("#zone-0-ceiling_height").get_attribute("aria-invalid") == "true"
    page.locator("#zone-0-ceiling_height").fill("8,5")
    page.locator("#zone-0-ceiling_height").blur()
    wait_for(page, "Saved")
    assert form.survey()["zone"][0]["ceiling_height"] == "8.5 ft"
    assert page.locator("#zone-0-ceiling_height").get_attribute("aria-invalid") is None


def test_edits_made_without_connection_arrive_once_each_when_it_is_back(form: Form) -> None:
    page = form.open("envelope")
    before = len(history(form.store, form.job))
    page.context.set_offline(True)
    for field, value in (("flow_at_50", "2190"), ("bedrooms", "4"), ("flow_at_50", "2200")):
        page.locator(f"#envelope-{field}").fill(value)
        page.locator(f"#envelope-{field}").blur()
    wait_for(page, "2 changes wait")
    page.context.set_offline(False)
    wait_for_all(page)
    envelope = form.survey()["envelope"]
    assert (envelope["flow_at_50"], envelope["bedrooms"]) == ("2200 cfm", 4)
    lines = history(form.store, form.job)[: len(history(form.store, form.job)) - before]
    assert len(lines) == len({(line.path, str(line.after)) for line in lines})


def test_a_server_that_goes_and_comes_back_gets_what_waited(form: Form) -> None:
    page = form.open("envelope")
    form.served.stop()
    for count, storeys in (("1 change waits", "3"), ("2 changes wait", "1")):
        page.locator("#envelope-storeys").fill(storeys)
        page.locator("#envelope-storeys").blur()
        wait_for(page, count)
    form.served.start()
    until(page, lambda: form.survey()["envelope"]["storeys"] == 1)
    # The first may have reached the server before it went: it is sent again, and the second stands on it.
    assert [line.after for line in history(form.store, form.job) if line.path == ("envelope", "storeys")] == [1, 3]


@pytest.mark.parametrize(("button", "kept"), [("Keep mine", "2500 cfm"), ("Take theirs", "2190 cfm")])
def test_a_second_tab_is_shown_both_versions_and_chooses(form: Form, button: str, kept: str) -> None:
    first, second = form.open("envelope"), form.open("envelope")
    for tab, value in ((first, "2190"), (second, "2500")):
        tab.locator("#envelope-flow_at_50").fill(value)
        tab.locator("#envelope-flow_at_50").blur()
        wait_for(tab, "Saved" if tab is first else "Both versions")
    assert form.survey()["envelope"]["flow_at_50"] == "2190 cfm"
    second.reload()
    assert "2190 cfm" in second.locator("#field-envelope-flow_at_50 .both").inner_text()
    assert second.locator("#envelope-flow_at_50").input_value() == "2500"
    second.get_by_role("button", name=button).click()
    wait_for_all(second)
    until(second, lambda: form.survey()["envelope"]["flow_at_50"] == kept)
    assert second.locator("#envelope-flow_at_50").input_value() == kept.split()[0]
    second.locator("#envelope-flow_at_50").fill("2300")
    second.locator("#envelope-flow_at_50").blur()
    until(second, lambda: form.survey()["envelope"]["flow_at_50"] == "2300 cfm")


def test_saving_one_field_does_not_hide_what_another_tab_did_to_a_second(form: Form) -> None:
    first, second = form.open("envelope"), form.open("envelope")
    first.locator("#envelope-storeys").fill("3")
    first.locator("#envelope-storeys").blur()
    wait_for(first, "Saved")
    for field, value in (("bedrooms", "4"), ("storeys", "1")):
        second.locator(f"#envelope-{field}").fill(value)
        second.locator(f"#envelope-{field}").blur()
    wait_for(second, "Both versions")
    assert form.survey()["envelope"]["storeys"] == 3


def test_without_scripts_a_space_is_added_filled_in_and_taken_away(form: Form) -> None:
    page = form.open("spaces", java_script_enabled=False)
    page.locator("summary", has_text="Add: space").click()
    page.fill("#name-zone", "Bedroom")
    page.select_option("#like-zone", "zone.0")
    page.get_by_role("button", name="Add space").click()
    page.fill("#zone-2-volume", "1200")
    page.get_by_role("button", name="Save this page").click()
    assert "Saved 1 change" in page.locator("#said").inner_text()
    assert form.survey()["zone"][2] == {
        "id": "bedroom", "name": "Bedroom", "kind": "room", "volume": "1200 ft3", "ceiling_height": "not measured",
    }  # fmt: skip
    page.get_by_role("button", name="Take away Bedroom").click()
    assert len(form.survey()["zone"]) == 2
    page.get_by_role("button", name="Bring it back").click()
    assert form.survey()["zone"][2]["volume"] == "1200 ft3"
