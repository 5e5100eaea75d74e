"""A visit in a real browser: by touch, by keyboard, in the states of a whole visit, with a connection that drops."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.types import ASGIApp

from airtally.safety.gates import DO
from airtally.visits.kinds import GATES
from airtally.web.visit.steps import STEPS

from .conftest import SIZES, Served, violations
from .test_survey_browser import until, wait_for, wait_for_all
from .visit_jobs import TEST_IN, TEST_OUT, Site, site


class Walk:
    """A served visit."""

    def __init__(self, home: Site, serve: Callable[[ASGIApp], Served], browser: Any) -> None:
        self.home = home
        self.url = f"{serve(home.client.app).url}/job/{home.job}/visit"
        self.browser = browser
        self.troubles: list[str] = []

    def open(self, path: str, *, size: tuple[int, int] = SIZES[0], **context: Any) -> Any:
        """Return a page in a browser of its own."""
        made = self.browser.new_context(viewport={"width": size[0], "height": size[1]}, **context)
        page = made.new_page()
        page.on("console", lambda m: self.troubles.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: self.troubles.append(str(error)))
        page.goto(self.url + path)
        return page

    def values(self, key: str, number: int = 0) -> dict[str, list[str]]:
        """Return the values of a key by place."""
        found: dict[str, list[str]] = {}
        for one in self.home.readings(number):
            if one["key"] == key:
                found.setdefault(one["place"], []).append(one["value"])
        return found


@pytest.fixture
def walk(tmp_path: Path, serve: Callable[[ASGIApp], Served], chromium: Any) -> Iterator[Walk]:
    yield Walk(site(tmp_path, TEST_IN + TEST_OUT), serve, chromium)
    for context in chromium.contexts:
        context.close()


def number_of(page: Any, *words: str) -> Any:
    """Return the box of the first reading whose place holds all the words."""
    place = "".join(f'[data-place*="{word}"]' for word in words)
    return page.locator(f"{place} [data-number]").first


def fill(page: Any, value: str, *words: str) -> None:
    box = number_of(page, *words)
    box.fill(value)
    box.press("Tab")


def test_a_connection_cut_in_the_middle_of_a_form_loses_and_doubles_nothing(walk: Walk) -> None:
    page = walk.open("/test-in/co")
    fill(page, "0", "|outdoors|")
    wait_for(page, "Saved")
    page.context.set_offline(True)
    fill(page, "1", "|living|")
    fill(page, "2", "|utility|")
    wait_for(page, "2 changes wait")
    fill(page, "3", "|utility|")  # thought better of it before the connection came back
    fill(page, "0.5", "|outdoors|")
    page.context.set_offline(False)
    wait_for_all(page)
    wanted = {"outdoors": ["0.5 ppm"], "living": ["1 ppm"], "utility": ["3 ppm"]}
    assert walk.values("co_ambient") == wanted
    page.reload()
    assert number_of(page, "|utility|").input_value() == "3"
    page.wait_for_timeout(6000)  # the script looks every five seconds whether something waits
    assert walk.values("co_ambient") == wanted


def test_what_needs_the_server_says_so_and_the_form_stays_open(walk: Walk) -> None:
    page = walk.open("/test-in/co")
    page.context.set_offline(True)
    fill(page, "4", "|living|")
    wait_for(page, "1 change waits")
    page.locator(".step-ends a", has_text="Next").click()
    wait_for(page, "No connection: that needs it")
    assert page.url.endswith("/test-in/co")
    assert number_of(page, "|living|").input_value() == "4"
    page.context.set_offline(False)
    page.locator(".step-ends a", has_text="Next").click()
    page.wait_for_url(lambda url: not url.endswith("/test-in/co"))
    wait_for_all(page)
    assert walk.values("co_ambient") == {"living": ["4 ppm"]}


def test_a_laptop_without_any_network_still_reaches_its_own_server(walk: Walk) -> None:
    page = walk.open("")
    page.context.add_init_script("Object.defineProperty(navigator, 'onLine', { get: () => false })")
    page.goto(walk.url + "/test-in/co")
    fill(page, "4", "|living|")
    wait_for(page, "Saved")
    assert walk.values("co_ambient") == {"living": ["4 ppm"]}
    page.locator(".step-ends a", has_text="Next").click()
    page.wait_for_url(lambda url: not url.endswith("/test-in/co"))
    page.goto(walk.url)
    page.locator("label", has_text="re-test").click()
    page.get_by_role("button", name="Begin").click()
    page.wait_for_url("**/gates")
    assert len(walk.home.visits()) == 3


def test_an_answer_that_is_lost_on_its_way_back_makes_no_second_reading(walk: Walk) -> None:
    page = walk.open("/test-in/co")
    lost = []

    def lose_the_first(route: Any) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch())  # the server has it, the device is never told
        route.abort()

    page.route("**/test-in/co", lose_the_first)
    fill(page, "7", "|living|")
    wait_for(page, "1 change waits")
    assert walk.values("co_ambient") == {"living": ["7 ppm"]}
    wait_for_all(page)
    assert walk.values("co_ambient") == {"living": ["7 ppm"]}


def test_what_was_typed_without_connection_is_sent_when_the_page_is_opened_again(walk: Walk) -> None:
    page = walk.open("/test-in/co")
    page.context.set_offline(True)
    fill(page, "4", "|living|")
    wait_for(page, "1 change waits")
    page.close()
    page.context.set_offline(False)
    again = page.context.new_page()
    again.goto(walk.url + "/test-in/statics")  # any page of the visit sends it
    wait_for_all(again)
    assert walk.values("co_ambient") == {"living": ["4 ppm"]}


def test_two_tabs_are_shown_both_versions(walk: Walk) -> None:
    one = walk.open("/test-in/co")
    two = one.context.new_page()
    two.goto(one.url)
    fill(one, "1", "|living|")
    wait_for(one, "Saved")
    fill(two, "9", "|living|")
    wait_for(two, "Both versions are shown")
    two.get_by_role("button", name="Keep mine").click()
    until(two, lambda: walk.values("co_ambient") == {"living": ["9 ppm"]})


def test_yes_at_a_gate_is_said_at_once_even_without_connection(walk: Walk) -> None:
    page = walk.open("/test-in/gates")
    page.context.set_offline(True)
    page.locator('[data-place$="gas_smell"] label', has_text="yes").click()
    assert page.locator(".leave-now:visible").inner_text().count(DO["gas_smell"]) == 1
    assert not page.locator('[data-place$="vermiculite"]').is_visible()
    assert not page.get_by_role("link", name="Next").is_visible()


def test_a_visit_from_gates_to_notes_by_touch(walk: Walk) -> None:
    page = walk.open("", has_touch=True, is_mobile=True)
    page.locator("label", has_text="re-test").tap()
    page.get_by_role("button", name="Begin").tap()
    for gate in GATES:
        page.locator(f'[data-place$="|{gate}"] label', has_text="no").first.tap()
    wait_for_all(page)
    assert set(walk.home.visits()[2]["gates"].values()) == {"no"}
    for step in STEPS[1:]:
        page.locator(".step-ends a", has_text="Next").tap()
        page.wait_for_url(f"**/{step.path}")
    assert not walk.troubles


def test_a_reading_by_keyboard_alone(walk: Walk) -> None:
    page = walk.open("/test-in/statics", size=SIZES[2])
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # skips to the page
    for _ in range(200):
        page.keyboard.press("Tab")
        name = page.evaluate("document.activeElement.name || ''")
        if name.endswith("tesp.air~20handler.circulate"):
            break
    page.keyboard.type("0.44")
    page.keyboard.press("Tab")
    wait_for(page, "Saved")
    assert walk.values("tesp")["air handler"][1] == "0.44 inH2O"


def test_a_step_without_scripts(walk: Walk) -> None:
    page = walk.open("/test-out/zone", java_script_enabled=False)
    assert "Test-in: at least 5 min" in page.content()
    number_of(page, "|spillage_time|water-heater|").fill("3")
    page.get_by_role("button", name="Save this step").click()
    assert "Saved 1 change" in page.content()
    assert walk.values("spillage_time", 1) == {"water-heater": ["3 min"]}


@pytest.mark.parametrize("size", SIZES)
def test_every_step_keeps_the_rules_of_accessibility(walk: Walk, size: tuple[int, int]) -> None:
    page = walk.open("", size=size, bypass_csp=True)
    for path in ["", *(f"/test-in/{step.path}" for step in STEPS), "/test-out/zone"]:
        page.goto(walk.url + path)
        page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
        assert violations(page) == [], path
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0], path
        small = page.evaluate(
            "[...document.querySelectorAll('main input:not([type=hidden]):not([type=radio]):not([type=checkbox]),"
            "main select,main button,main textarea,main .choices label,main summary')]"
            ".map(e => [e.getBoundingClientRect(), e.outerHTML.slice(0, 80)])"
            ".filter(([r]) => r.width && (r.height < 48 || r.width < 44)).map(([, html]) => html)"
        )
        assert small == [], path
    assert not walk.troubles
