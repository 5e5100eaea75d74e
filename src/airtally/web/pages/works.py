"""Long work: asked for, shown with what it is doing, cancelled; its page survives a reload."""

from __future__ import annotations

from uuid import UUID

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from airtally.errors import InputError
from airtally.store.models import Work
from airtally.store.works import OPEN, ask, cancel, work_of
from airtally.web.find import job_of
from airtally.web.render import page
from airtally.web.survey.keep import sheet_of
from airtally.web.survey.view import needed_first

KINDS = {"whole": "Working out the whole job", "readings": "Reading the loggers' files"}
STATES = {
    "waiting": "It waits for its turn.",
    "running": "It is at work.",
    "done": "It is done.",
    "failed": "It could not be done.",
    "cancelled": "It was cancelled; what stood before still stands.",
}
SEED = 1
"""Seed of every draw, the same as the command line's: same inputs, same numbers."""


async def ask_for(request: Request) -> Response:
    """Ask for work on the job and go to its page."""
    job = await run_in_threadpool(job_of, request)
    form = await request.form()
    kind = str(form.get("kind", ""))
    if kind not in KINDS:
        raise HTTPException(404)
    work = await run_in_threadpool(ask, request.app.state.store, job.id, kind, SEED)
    return RedirectResponse(f"/job/{job.id}/works/{work.id}", 303)


def _work(request: Request) -> Work:
    try:
        work = work_of(request.app.state.store, UUID(request.path_params["work"]))
    except (ValueError, InputError):
        raise HTTPException(404) from None
    return work


def show(request: Request) -> Response:
    """Show a work; the page asks again by itself, with scripts or without, until it has ended."""
    job = job_of(request)
    work = _work(request)
    is_open = work.state in OPEN
    is_lacking = work.state == "failed" and not job.fault
    needed = needed_first(job, sheet_of(request.app.state.store, job.id)) if is_lacking else []
    data = {"needed": needed, "work": work, "is_open": is_open, "state": STATES[work.state], "kind": KINDS[work.kind]}
    if "json" in request.headers.get("accept", ""):
        return JSONResponse({"is_open": is_open, "state": STATES[work.state], "words": work.words})
    answer = page(request, "work.html", title=KINDS[work.kind], job=job, data=data)
    if is_open:
        answer.headers["refresh"] = "3"
    return answer


async def stop(request: Request) -> Response:
    """Cancel a work."""
    job = await run_in_threadpool(job_of, request)
    work = await run_in_threadpool(_work, request)
    await run_in_threadpool(cancel, request.app.state.store, work.id)
    return RedirectResponse(f"/job/{job.id}/works/{work.id}", 303)


ROUTES = [
    Route("/job/{job}/works", ask_for, methods=["POST"]),
    Route("/job/{job}/works/{work}", show),
    Route("/job/{job}/works/{work}/cancel", stop, methods=["POST"]),
]
