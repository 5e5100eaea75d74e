"""A server on a port of its own, a real browser, and the rules of accessibility that every page is held to."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from importlib.resources import files
from typing import Any

import pytest
import uvicorn
from starlette.types import ASGIApp

SIZES = ((390, 844), (820, 1180), (1440, 900))
"""Phone, tablet, laptop."""
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


class Served:
    """An application behind a real port; it can be cut off and come back on the same one."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = int(free.getsockname()[1])
        self.start()

    @property
    def url(self) -> str:
        """Return where it is reached."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Listen."""
        config = uvicorn.Config(
            self._app, port=self.port, log_level="error", lifespan="off", timeout_graceful_shutdown=1
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        until = time.monotonic() + 20.0
        while not self._server.started and time.monotonic() < until:
            time.sleep(0.02)
        assert self._server.started

    def stop(self) -> None:
        """Close the port."""
        self._server.should_exit = True
        self._thread.join(10.0)


@pytest.fixture
def serve() -> Iterator[Callable[[ASGIApp], Served]]:
    """Return what serves an application until the test is over."""
    served: list[Served] = []

    def begin(app: ASGIApp) -> Served:
        served.append(Served(app))
        return served[-1]

    yield begin
    for one in served:
        one.stop()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Return a running Chromium; without one the tests are skipped."""
    api = pytest.importorskip("playwright.sync_api")
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        pytest.skip("no Chromium on this machine")
    with api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


def violations(page: Any) -> list[str]:
    """Return what the open page breaks of WCAG 2.2 AA and of best practice, by axe-core (Deque Systems, MPL-2.0).

    The page's context must bypass its content policy, which would keep the checker out.
    """
    page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text())
    # Only what is broken is described: on a long page that is most of the work.
    settings = "{runOnly: {type: 'tag', values: tags}, resultTypes: ['violations'], selectors: false, preload: false}"
    found = page.evaluate(f"tags => axe.run({settings})", TAGS)
    return [f"{one['id']}: {node['html'][:160]}" for one in found["violations"] for node in one["nodes"]]
