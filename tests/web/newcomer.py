"""Hands of a newcomer at the pages: by touch on a thumb's targets, or by keyboard alone; and eyes for what went wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

LEAST = 44.0
"""Least height of what is touched: the enhanced target size of WCAG 2.2, success criterion 2.5.5. [px]"""
MOST_TABS = 400
TARGET = """one => {
  const target = one.closest('.choices label') || one.closest('summary') || one;
  const seen = target.getBoundingClientRect();
  return [seen.height, seen.width, target.outerHTML.slice(0, 140)];
}"""
FOCUS = """wanted => {
  const one = document.activeElement;
  if (!one || one === document.body) return [false, true, 'body'];
  const ring = (one.closest('.choices label') || one).getBoundingClientRect();
  const style = getComputedStyle(one);
  const isRinged = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  const isSeen = ring.bottom > 0 && ring.top < innerHeight && ring.right > 0 && ring.left < innerWidth;
  return [one === wanted, isRinged && isSeen, one.outerHTML.slice(0, 140)];
}"""


class Newcomer:
    """Someone who opens the pages for the first time."""

    def __init__(self, browser: Any, address: str, size: tuple[int, int], *, is_touch: bool) -> None:
        self.size = size
        self.is_touch = is_touch
        self.troubles: list[str] = []
        self.context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            has_touch=is_touch,
            is_mobile=is_touch,
            accept_downloads=True,
            reduced_motion="reduce",  # what comes to the focus is there at once
        )
        self.page = self.context.new_page()
        self.page.set_default_timeout(10_000.0)
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.troubles.append(str(error)))
        self.page.on("requestfailed", self._failed)
        self.page.on("response", self._answered)
        self.page.goto(address)
        self.look()

    def _heard(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.troubles.append(message.text)

    def _failed(self, request: Any) -> None:
        # A file that is kept instead of shown ends its navigation so, and a page that asks again may be left meanwhile.
        if not request.url.endswith(".pdf") and "works/" not in request.url:
            self.troubles.append(f"{request.url}: {request.failure}")

    def _answered(self, response: Any) -> None:
        if response.status >= 400:
            self.troubles.append(f"{response.status} {response.url}")

    def look(self) -> None:
        """Look at the page: nothing runs out sideways, nothing went wrong."""
        wide = self.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= self.size[0], f"{self.page.url} is {wide} px wide"
        assert self.troubles == [], (self.page.url, self.troubles)

    def reach(self, target: Any) -> None:
        """Bring the focus to something, as a keyboard does; it is seen wherever it goes."""
        handle = target.element_handle(timeout=5000)
        for _ in range(MOST_TABS):
            is_there, is_seen, html = self.page.evaluate(FOCUS, handle)
            assert is_seen, f"focus is not to be seen on {html}"
            if is_there:
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"no way by keyboard to {handle.evaluate('one => one.outerHTML')[:200]}")

    def press(self, target: Any, *, key: str = "Enter") -> None:
        """Tap something large enough for a thumb, or reach it and press a key."""
        target = target.first
        if not self.is_touch:
            self.reach(target)
            self.page.keyboard.press(key)
            return
        height, width, html = target.evaluate(TARGET)
        assert height >= LEAST, f"{height:.0f} px high: {html}"
        assert width >= LEAST, f"{width:.0f} px wide: {html}"
        target.tap()

    def follow(self, target: Any) -> None:
        """Press something that leads to another page, and look at that."""
        with self.page.expect_navigation():
            self.press(target)
        self.look()

    def button(self, words: str) -> None:
        """Press the button with these words and look at the page that follows."""
        self.follow(self.page.get_by_role("button", name=words, exact=True))

    def leaf(self, name: str) -> None:
        """Go to a page of the job: by the row above the page; on a phone by the bar below, or by the contents."""
        row, bar = self.page.locator("nav.pages"), self.page.locator("nav.bottom")
        if not row.is_visible():
            row = bar
            if not bar.get_by_role("link", name=name, exact=True).count():
                self.follow(bar.get_by_role("link", name="Contents"))
                self.follow(self.page.locator(".contents").get_by_role("link", name=name))
                return
        self.follow(row.get_by_role("link", name=name, exact=True))

    def fill(self, label: str, value: str, *, within: Any = None) -> None:
        """Type into the box with this label."""
        box = (within or self.page).get_by_label(label, exact=True).first
        self.press(box, key="Shift")  # a key that does nothing: the box was reached
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(value)
        self.page.keyboard.press("Tab")

    def pick(self, label: str, words: str, *, within: Any = None) -> None:
        """Pick from the list with this label; a phone's own list is no part of the page."""
        box = (within or self.page).get_by_label(label, exact=True).first
        self.press(box, key="Shift")
        if self.is_touch:
            box.select_option(label=words)
            return
        self.page.keyboard.type(words)
        assert box.evaluate("one => one.selectedOptions[0].label") == words

    def choose(self, question: str, words: str) -> None:
        """Choose one of the words that stand side by side."""
        group = self.page.get_by_role("group", name=question)
        choice = group.get_by_role("radio", name=words)
        if self.is_touch:
            self.press(choice.locator("xpath=.."))
            return
        # The first that the tab key meets in a group is the chosen one, or its first; arrows go on from there.
        begin = group.locator("input:checked")
        self.reach(begin if begin.count() else group.locator("input").first)
        self.page.keyboard.press("Space")
        for _ in range(group.locator("input").count()):
            if choice.is_checked():
                return
            self.page.keyboard.press("ArrowDown")
        assert choice.is_checked()

    def unfold(self, words: str) -> None:
        """Open what is folded, if it is."""
        summary = self.page.locator("summary", has_text=words).first
        if not summary.evaluate("one => one.parentElement.open"):
            self.press(summary)

    def offer(self, label: str, files: Sequence[Path]) -> None:
        """Choose files in the window that the device opens."""
        with self.page.expect_file_chooser() as chosen:
            self.press(self.page.get_by_label(label))
        chosen.value.set_files([str(one) for one in files])

    def fetch(self, target: Any) -> bytes:
        """Return the bytes of a file that a link gives."""
        with self.page.expect_download() as begun:
            self.press(target)
        return Path(begun.value.path()).read_bytes()

    def wait_until(self, is_so: Callable[[], bool], seconds: float) -> None:
        """Wait; the page's own polling is kept out by its content policy."""
        for _ in range(int(seconds / 0.1)):
            if is_so():
                return
            self.page.wait_for_timeout(100)
        raise AssertionError(self.page.locator("main").inner_text()[:600])
