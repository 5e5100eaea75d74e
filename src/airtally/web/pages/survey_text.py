"""The survey behind its form: the text itself, and every edit of it with its undo."""

from __future__ import annotations

import secrets
from itertools import groupby
from typing import Any
from zoneinfo import ZoneInfo

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from airtally.errors import InputError
from airtally.store.edits import Conflict, HistoryLine, edit, history, text_of, undo
from airtally.store.texts import Change
from airtally.web.find import job_of, role_of
from airtally.web.render import page
from airtally.web.survey.controls import said_of
from airtally.web.survey.keep import PART

A_PAGE = 60
"""Edits shown at once."""


def show_text(request: Request) -> Response:
    """Show the survey's text; where it is no TOML, as a form in which it can be mended."""
    job = job_of(request)
    text, revision = text_of(request.app.state.store, job.id, PART)
    return _text(request, text, revision, job.fault)


def _text(request: Request, text: str, revision: int, fault: str, status: int = 200) -> Response:
    job = job_of(request)
    data = {
        "text": text.encode(errors="replace").decode(),
        "fault": fault,
        "based_on": revision,
        "post": secrets.token_hex(16),
    }
    return page(
        request, "survey_text.html", title="Text of the survey", job=job, here="survey", status=status, data=data
    )


async def mend_text(request: Request) -> Response:
    """Put a mended text in place of one that could not be read."""
    form = {name: str(value) for name, value in (await request.form()).items()}
    return await run_in_threadpool(_mend, request, form)


def _mend(request: Request, form: dict[str, str]) -> Response:
    store, job = request.app.state.store, job_of(request)
    text = form.get("text", "").replace("\r\n", "\n")
    based_on = form.get("based_on", "")
    if not based_on.isdigit():
        raise HTTPException(422, "The form does not say which edition of the survey it shows; draw it again.")
    try:
        done = edit(store, job.id, PART, [Change(path=(), value=text)], int(based_on), role_of(request), form["post"])
    except (InputError, KeyError) as error:
        return _text(request, text, int(based_on), str(error), 422)
    if isinstance(done, Conflict):
        clash = done.clashes[0]
        words = f"{clash.by} changed the text meanwhile; yours stands below and was not kept. Theirs is under Download."
        return _text(request, text, job.revision, words, 409)
    return RedirectResponse(f"/job/{job.id}/survey", 303)


def download(request: Request) -> Response:
    """Give the text as a file."""
    job = job_of(request)
    text, _ = text_of(request.app.state.store, job.id, PART)
    return Response(
        text.encode(errors="surrogateescape"),
        media_type="application/toml",
        headers={"content-disposition": 'attachment; filename="survey.toml"'},
    )


def show_history(request: Request) -> Response:
    """Show every edit of the survey, the newest first, each with its undo."""
    job = job_of(request)
    return page(
        request, "survey_history.html", title="Edits of the survey", job=job, here="survey", data=_edits(request)
    )


def _edits(request: Request) -> dict[str, Any]:
    job = job_of(request)
    lines = [line for line in history(request.app.state.store, job.id) if line.part == PART]
    begins = int(request.query_params.get("from", "0") or "0") if request.query_params.get("from", "0").isdigit() else 0
    numbers = [(number, list(group)) for number, group in groupby(lines, key=lambda line: line.number)]
    shown = numbers[begins : begins + A_PAGE]
    undone = {line.undoes for line in lines}
    zone = ZoneInfo(job.time_zone)
    return {
        "edits": [
            {
                "number": number,
                "who": group[0].who,
                "when": f"{group[0].when.astimezone(zone):%d %b %Y, %H:%M}",
                "changes": [_change(line) for line in group if not _is_beginning(line)],
                "undoes": group[0].undoes,
                "is_undone": number in undone,
                "is_first": number == numbers[-1][0],
            }
            for number, group in shown
        ],
        "post": secrets.token_hex(16),
        "older": begins + A_PAGE if begins + A_PAGE < len(numbers) else None,
        "clashes": [],
    }


def _is_beginning(line: HistoryLine) -> bool:
    return line.before is None and line.after == {}


def _change(line: HistoryLine) -> tuple[str, str, str]:
    steps = [str(step + 1) if isinstance(step, int) else step.replace("_", " ") for step in line.path]
    if not line.path:
        return "whole text", "", ""
    return ", ".join(steps), said_of(line.before), said_of(line.after)


async def take_back(request: Request) -> Response:
    """Undo one edit."""
    form = {name: str(value) for name, value in (await request.form()).items()}
    return await run_in_threadpool(_take_back, request, form)


def _take_back(request: Request, form: dict[str, str]) -> Response:
    store, job = request.app.state.store, job_of(request)
    number = form.get("revision", "")
    try:
        done = undo(store, job.id, int(number), role_of(request), f"{form.get('post', '')}:{number}")
    except (InputError, ValueError) as error:
        raise HTTPException(422, str(error)) from None
    if isinstance(done, Conflict):
        zone = ZoneInfo(job.time_zone)
        data = _edits(request) | {
            "clashes": [
                (", ".join(str(step) for step in one.path), said_of(one.yours), said_of(one.theirs),
                 f"{one.by}, {one.when.astimezone(zone):%d %b %H:%M}")
                for one in done.clashes
            ]
        }  # fmt: skip
        return page(
            request, "survey_history.html", title="Edits of the survey", job=job, here="survey", status=409, data=data
        )
    back = form.get("back", "")
    address = f"/job/{job.id}/survey/{back}" if back.replace("-", "").isalpha() else f"/job/{job.id}/survey/history"
    return RedirectResponse(f"{address}?said=Edit {number} is taken back.", 303)


ROUTES = [
    Route("/job/{job}/survey/text", show_text),
    Route("/job/{job}/survey/text", mend_text, methods=["POST"]),
    Route("/job/{job}/survey/survey.toml", download),
    Route("/job/{job}/survey/history", show_history),
    Route("/job/{job}/survey/undo", take_back, methods=["POST"]),
]
