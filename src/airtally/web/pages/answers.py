"""The pages that only show the record: pressures, the account, findings, proposals, the fan rule, proof, safety.

Every text on them is a text of the report: one record, one rounding, the same words on paper and screen.
"""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from airtally.report.figures import weeks_drawing
from airtally.report.hookup_svg import font_faces
from airtally.store.records import RecordFound, record_of
from airtally.web.find import job_of
from airtally.web.render import page

PAGES: dict[str, tuple[str, str]] = {
    "pressures": ("Pressures", "pressures.html"),
    "account": ("What comes in, what goes out", "account.html"),
    "findings": ("Findings", "findings.html"),
    "proposals": ("Proposals", "proposals.html"),
    "fan": ("Fan rule", "fan.html"),
    "proof": ("Did it work?", "proof.html"),
    "safety": ("Safety", "safety.html"),
}
"""Heading and template by the end of the address."""
DRAWING_POLICY = "default-src 'none'; style-src 'unsafe-inline'; font-src data:"
"""A drawing is a file of its own: its styles stand in it, and it runs nothing."""


def answer(request: Request) -> Response:
    """Show one of the pages of the record, or say what is missing for it."""
    path = request.url.path.rsplit("/", 1)[-1]
    heading, template = PAGES[path]
    job = job_of(request)
    kept = record_of(request.app.state.store, job.id)
    data = {
        "texts": request.app.state.texts.of(kept.record) if kept is not None else None,
        "is_current": kept is not None and kept.is_current,
        "kept": kept,
        "kept_when": when_kept(kept, job.time_zone),
    }
    return page(request, template, title=heading, job=job, here=path, data=data)


def when_kept(kept: RecordFound | None, zone: str) -> str:
    """Return when a record was worked out, in the home's time; empty where there is none."""
    return f"{kept.kept_at.astimezone(ZoneInfo(zone)):%d %b %Y, %H:%M}" if kept is not None else ""


WEEKS = "weeks-"
"""Begins the name of the drawing of the latest weeks with a measure in place."""


def drawing(request: Request) -> Response:
    """Return one drawing of the record as a file of its own."""
    kept = record_of(request.app.state.store, job_of(request).id)
    if kept is None:
        raise HTTPException(404)
    name = request.path_params["name"]
    if name.startswith(WEEKS):  # one for each proposal: made when the page asks, as no paper shows them
        drawn = weeks_drawing(kept.record.document, name.removeprefix(WEEKS))
        svg = drawn.svg if drawn is not None else None
    else:
        svg = drawings_of(request.app.state.texts.of(kept.record)).get(name, {}).get("svg")
    if svg is None:
        raise HTTPException(404)
    headers = {"content-security-policy": DRAWING_POLICY}
    head, mark, rest = svg.partition("<title")  # a drawing that stands as a file of its own sees no font of the page
    return Response(f"{head}{font_faces()}{mark}{rest}", media_type="image/svg+xml", headers=headers)


def drawings_of(texts: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Return the drawings of a record by the name in their address; those that it has."""
    found = {
        "account": (texts["account"] or {}).get("wide"),
        "account-phone": (texts["account"] or {}).get("phone"),
        "rates": texts["changed"],
        "rooms": texts["room"],
        "proof": texts["proof"] and texts["proof"].get("drawing"),
        "hookup": texts["pressures"] and texts["pressures"].get("drawing"),
        "carpet": texts["appendix"]["carpet"],
    }
    return {name: one for name, one in found.items() if one}


ROUTES = [
    *(Route(f"/job/{{job}}/{path}", answer) for path in PAGES),
    Route("/job/{job}/drawing/{name}.svg", drawing),
]
