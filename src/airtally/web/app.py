"""The web application: routes, guard, and answers to what goes wrong."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from airtally.store.engine import Store
from airtally.web.access import Access, Guard
from airtally.web.pages import (
    answers,
    jobs,
    log_file,
    numbers,
    pair,
    papers,
    readings,
    survey,
    survey_text,
    visit,
    works,
)
from airtally.web.read_jobs import ReadJobs
from airtally.web.render import page
from airtally.web.texts import Texts

SAID = {
    404: "There is no such page here. It may have been set aside, or the address was cut short.",
    405: "This address takes no such request; nothing was changed.",
}


def make_app(store: Store, access: Access | None = None) -> Starlette:
    """Return the application over a store of jobs."""
    web = files("airtally.web")
    access = access or Access()
    modules = (jobs, pair, works, survey_text, survey, visit, readings, log_file, answers, numbers, papers)
    app = Starlette(
        routes=[
            Mount("/assets/fonts", StaticFiles(directory=Path(str(files("airtally.report").joinpath("fonts"))))),
            Mount("/assets", StaticFiles(directory=Path(str(web.joinpath("assets"))))),
            *(route for module in modules for route in module.ROUTES),
        ],
        middleware=[Middleware(Guard, access=access)],
        exception_handlers={HTTPException: _refused, 500: _failed},
    )
    app.state.store = store
    app.state.texts = Texts()
    app.state.read_jobs = ReadJobs(store)
    app.state.access = access
    return app


def _refused(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    detail = error.detail if isinstance(error, HTTPException) else ""
    return page(request, "said.html", title="Not done", status=status, data={"sentence": SAID.get(status, detail)})


def _failed(request: Request, error: Exception) -> HTMLResponse:
    sentence = (
        f"Something failed here ({type(error).__name__}). What was acknowledged is kept; what this page had sent is "
        "still on this device if the page says that it waits."
    )
    return page(request, "said.html", title="A fault in airtally", status=500, data={"sentence": sentence})
