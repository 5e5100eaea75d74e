"""A page from its template: what every page of a job shows besides its own content."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

import airtally
from airtally.web.find import OpenJob
from airtally.web.safety_line import safety_line
from airtally.web.survey.plain import plain


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """One page of a job: its name on the screen, the end of its address, what it is for."""

    name: str
    path: str
    about: str


LEAVES = (
    Leaf(name="Visit", path="visit", about="safety gates first, then what is read on site"),
    Leaf(name="Survey", path="survey", about="the house as it stands: spaces, leaks, blower, appliances"),
    Leaf(name="Readings", path="readings", about="loggers' files, and where each instrument hung"),
    Leaf(name="Pressures", path="pressures", about="blower, appliance zones, worst case, draft"),
    Leaf(name="In and out", path="account", about="what particles come in by, what takes them out"),
    Leaf(name="Findings", path="findings", about="sources and paths, each with its evidence"),
    Leaf(name="Proposals", path="proposals", about="measures in order, with forecasts and checks"),
    Leaf(name="Fan rule", path="fan", about="when the blower should run"),
    Leaf(name="Proof", path="proof", about="before and after the work"),
    Leaf(name="Papers", path="papers", about="reports, work order and sheets, as PDF"),
)
"""In the order of the work."""


@cache
def _templates() -> Environment:
    made = Environment(
        loader=PackageLoader("airtally.web"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    made.filters["plain"] = plain
    made.globals |= {"asset": asset_address, "url": job_address, "version": airtally.__version__, "pages": LEAVES}
    return made


@cache
def asset_address(name: str) -> str:
    """Return the address of an asset, its digest in it so that a new version is never mixed with an old one."""
    content = files("airtally.web").joinpath("assets", name).read_bytes()
    return f"/assets/{name}?{hashlib.sha256(content).hexdigest()[:12]}"


def job_address(job: OpenJob, path: str = "") -> str:
    """Return the address of a job's page, of its contents without a path."""
    return f"/job/{job.id}" + (f"/{quote(path, safe='/')}" if path else "")


def page(
    request: Request,
    template: str,
    *,
    title: str,
    job: OpenJob | None = None,
    here: str = "",
    status: int = 200,
    data: Mapping[str, Any] | None = None,
) -> HTMLResponse:
    """Return a page. ``here`` is the path of one of the leaves, empty for pages beside them."""
    place = next((number for number, leaf in enumerate(LEAVES) if leaf.path == here), None)
    text = _templates().get_template(template).render(
        title=title,
        job=job,
        here=here,
        before=LEAVES[place - 1] if place else None,
        after=LEAVES[place + 1] if place is not None and place + 1 < len(LEAVES) else None,
        safety=safety_line(request.app.state.store, job) if job is not None else None,
        said=request.query_params.get("said", ""),
        **(data or {}),
    )  # fmt: skip
    return HTMLResponse(text, status)
