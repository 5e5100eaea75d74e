"""Draw every page of a job at the widths of a phone, a tablet and a laptop, as a browser shows it."""

from __future__ import annotations

import shutil
import uuid
from pathlib import Path

from playwright.sync_api import Page, sync_playwright
from tests.web.conftest import SIZES, Served

from airtally.jobs.screened import screen_stored
from airtally.store.engine import Store
from airtally.web.app import make_app
from airtally.web.render import LEAVES
from airtally.web.survey.places import GROUPS
from airtally.web.visit.sheet import visits_sheet
from airtally.web.visit.steps import STEPS

BESIDE = ("", "safety", "numbers", "readings/streams", "survey/history", "survey/text")
"""Pages of a job that are no leaf of it; the first is its contents."""


def paths_of(store: Store, job: uuid.UUID) -> list[str]:
    """Return the end of the address of every page of a job: leaves, pages beside, the survey's groups, a visit's steps."""
    visit = visits_sheet(store, job).ids[-1]
    return [
        *BESIDE,
        *(leaf.path for leaf in LEAVES),
        *(f"survey/{group.path}" for group in GROUPS),
        *(f"visit/{visit}/{step.path}" for step in STEPS),
    ]


def draw_pages(store: Store, job: uuid.UUID, out: Path) -> list[Path]:
    """Draw every page whole, in every width; a page wider than its screen is an error."""
    screen_stored(store, job, lambda _: None)  # what the worker does before the streams can be shown
    served = Served(make_app(store))
    drawn = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium") or shutil.which("chromium-browser"),
            args=["--no-sandbox", "--disable-gpu"],
        )
        for width, height in SIZES:
            page = browser.new_page(viewport={"width": width, "height": height}, bypass_csp=True)
            page.goto(served.url)
            drawn.append(_drawn(page, out / f"jobs-{width}.png"))
            for path in paths_of(store, job):
                page.goto(f"{served.url}/job/{job}/{path}".rstrip("/"))
                drawn.append(_drawn(page, out / f"{path.replace('/', '-') or 'contents'}-{width}.png"))
            page.close()
        browser.close()
    served.stop()
    return drawn


def _drawn(page: Page, path: Path) -> Path:
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    if wide > 0:
        raise SystemExit(f"{path.name}: {wide} px wider than its screen")
    page.add_style_tag(
        content=".bottom, #said { position: static !important; }"
    )  # they would lie across a long picture
    page.screenshot(path=path, full_page=True)
    return path
