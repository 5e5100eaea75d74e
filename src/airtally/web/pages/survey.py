"""The survey as a form: its contents, a page a group of sections, each field kept by itself."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote
from zoneinfo import ZoneInfo

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from airtally.errors import InputError
from airtally.store.edits import Conflict
from airtally.store.texts import Path
from airtally.web.find import OpenJob, job_of, role_of
from airtally.web.pages import survey_photos
from airtally.web.render import page
from airtally.web.survey.controls import SIZES, Posted
from airtally.web.survey.entries import add_entry, take_entry
from airtally.web.survey.keep import Answer, Sheet, keep_field, keep_form, note_of, sheet_of
from airtally.web.survey.places import (
    GROUPS,
    SECTION,
    Group,
    entries_of,
    name_of,
    path_of,
    placed_at,
)
from airtally.web.survey.view import (
    address_of,
    anchor_of,
    listed_keys,
    located_problems,
    section_view,
    standing_of_page,
    stopped_words,
    summary_of,
)


def contents(request: Request) -> Response:
    """Show the pages of the survey with what each leaves open."""
    job = job_of(request)
    if job.fault:
        return RedirectResponse(f"/job/{job.id}/survey/text", 303)
    sheet = sheet_of(request.app.state.store, job.id)
    located, lists = located_problems(sheet)
    data = {
        "groups": [standing_of_page(group, sheet, located) for group in GROUPS],
        "summary": summary_of(job, sheet, located),
        "lists": [listed_keys(one) for one in lists],
    }
    return page(request, "survey.html", title="Survey", job=job, here="survey", data=data)


def show(request: Request) -> Response:
    """Show one page of the form."""
    job, group = job_of(request), _group(request)
    return _page(request, job, group, sheet_of(request.app.state.store, job.id))


async def keep(request: Request) -> Response:
    """Keep one field that a script sent, or all that a form without scripts changed."""
    form = await request.form()
    posted = {name: [str(one) for one in form.getlist(name)] for name in form}
    return await run_in_threadpool(_keep, request, posted)


def _keep(request: Request, posted: dict[str, list[str]]) -> Response:
    store, job, group = request.app.state.store, job_of(request), _group(request)
    who, post = role_of(request), _one(posted, "post")
    try:
        sheet = sheet_of(store, job.id, int(_one(posted, "based_on") or "0"))
    except (InputError, ValueError):
        raise HTTPException(422, "The form does not say which edition of the survey it shows; draw it again.") from None
    if only := _one(posted, "only"):
        answer = keep_field(store, job.id, only, _one(posted, "at") or only, posted, sheet, who, post)
        return told(job, answer)
    answers = keep_form(store, job.id, group.sections, posted, sheet, who, post)
    if all(not one.trouble and one.both is None for one in answers):
        count = len(answers)
        said = f"Saved {count} {'change' if count == 1 else 'changes'}." if count else "Nothing was changed."
        return RedirectResponse(f"{address_of(job, group)}?said={said}", 303)
    return _page(request, job, group, sheet, posted=posted, answers=answers)


def told(job: OpenJob, answer: Answer) -> JSONResponse:
    """Return what a script shows of one field's answer."""
    answered: dict[str, Any] = {
        "revision": answer.revision,
        "at": name_of(answer.path) if answer.path is not None else "",
        "note": answer.trouble or answer.note,
        "said": "Not kept: see beside the field." if answer.trouble else "",
    }
    if answer.both is not None:
        both = answer.both
        answered["both"] = {
            "yours": both.yours,
            "theirs": both.theirs,
            "by": f"{both.by}, {both.when.astimezone(ZoneInfo(job.time_zone)):%d %b %H:%M}",
            "sends": [
                (name[len(answer.name) :], value) for name, values in both.control.sends.items() for value in values
            ],
            "is_gone": answer.path is None,
        }
        answered["said"] = "Someone changed this field meanwhile. Both versions are shown; choose one."
    return JSONResponse(answered, 409 if answer.both is not None else 422 if answer.trouble else 200)


async def add(request: Request) -> Response:
    """Add an entry, empty or like another one."""
    form = await request.form()
    return await run_in_threadpool(_add, request, {name: str(form[name]) for name in form})


def _add(request: Request, form: dict[str, str]) -> Response:
    store, job, group = request.app.state.store, job_of(request), _group(request)
    if form.get("section") not in group.sections:
        raise HTTPException(404)
    section = SECTION[form["section"]]
    sheet = sheet_of(store, job.id)
    try:
        done = add_entry(
            store, job.id, section, form.get("name", ""), form.get("like", ""), sheet, role_of(request),
            form.get("post", ""),
        )  # fmt: skip
    except InputError as error:
        return _page(request, job, group, sheet, trouble={section.path: str(error)}, typed=form)
    if isinstance(done, Conflict) or done.paths[0] is None:
        raise HTTPException(409, "The survey was changed at the same moment; draw the page again and add it once more.")
    made = entries_of(sheet_of(store, job.id).survey, section)[-1]
    return RedirectResponse(
        f"{address_of(job, group)}?said={quote('Added ' + made.title)}.#{anchor_of(made.path)}", 303
    )


async def take(request: Request) -> Response:
    """Take an entry away; the page that follows offers to bring it back."""
    form = await request.form()
    return await run_in_threadpool(_take, request, {name: str(form[name]) for name in form})


def _take(request: Request, form: dict[str, str]) -> Response:
    store, job, group = request.app.state.store, job_of(request), _group(request)
    try:
        sheet = sheet_of(store, job.id, int(form.get("based_on", "")))
        placed = placed_at(sheet.survey, path_of(form.get("path", "")))
        if placed is None or placed.section.path not in group.sections:
            raise HTTPException(404)
        done = take_entry(store, job.id, placed.path, sheet, role_of(request), form.get("post", ""))
    except (InputError, ValueError) as error:
        raise HTTPException(422, str(error)) from None
    if isinstance(done, Conflict):
        clash = done.clashes[0]
        when = clash.when.astimezone(ZoneInfo(job.time_zone))
        words = f"{placed.title} was changed by {clash.by}, {when:%d %b %H:%M}, after this page was drawn. Look at it, then take it away."
        return _page(request, job, group, sheet_of(store, job.id), trouble={placed.section.path: words}, status=409)
    return RedirectResponse(f"{address_of(job, group)}?taken={done.revision}", 303)


def _page(
    request: Request,
    job: OpenJob,
    group: Group,
    sheet: Sheet,
    *,
    posted: Posted | None = None,
    answers: Sequence[Answer] = (),
    trouble: Mapping[str, str] | None = None,
    typed: Mapping[str, str] | None = None,
    status: int = 200,
) -> Response:
    """Return a page of the form, with what was sent where it could not all be kept."""
    if job.fault:
        return RedirectResponse(f"/job/{job.id}/survey/text", 303)
    located, _ = located_problems(sheet)
    notes: dict[Path, list[str]] = {}
    for problem, where in located:
        if where is not None:
            notes.setdefault(where, []).append(note_of(problem))
    known = {one.name: one for one in answers}
    stopped = [one for one in answers if one.trouble or one.both is not None]
    number = GROUPS.index(group)
    data = {
        "group": group,
        "sections": [section_view(path, sheet, notes, posted, known) for path in group.sections],
        "based_on": sheet.revision,
        "post": secrets.token_hex(16),
        "summary": summary_of(job, sheet, located, group),
        "stopped": [(one.name.replace(".", "-"), stopped_words(one, sheet)) for one in stopped],
        "kept": len(answers) - len(stopped),
        "trouble": trouble or {},
        "typed": typed or {},
        "earlier": GROUPS[number - 1] if number else None,
        "later": GROUPS[number + 1] if number + 1 < len(GROUPS) else None,
        "taken": _taken(request),
        "zone": ZoneInfo(job.time_zone),
        "sizes": SIZES,
        **survey_photos.photos_on(request, job, group, sheet),
    }
    if any(one.both is not None for one in stopped):
        status = 409
    elif stopped or (trouble and status == 200):
        status = 422
    return page(request, "survey_group.html", title=group.name, job=job, here="survey", status=status, data=data)


def _taken(request: Request) -> int | None:
    number = request.query_params.get("taken", "")
    return int(number) if number.isdigit() else None


def _group(request: Request) -> Group:
    found = next((group for group in GROUPS if group.path == request.path_params["group"]), None)
    if found is None:
        raise HTTPException(404)
    return found


def _one(posted: Posted, name: str) -> str:
    values = posted.get(name, ())
    return values[-1] if values else ""


ROUTES = [
    Route("/job/{job}/survey", contents),
    Route("/job/{job}/survey/{group}", show),
    Route("/job/{job}/survey/{group}", keep, methods=["POST"]),
    Route("/job/{job}/survey/{group}/add", add, methods=["POST"]),
    Route("/job/{job}/survey/{group}/take", take, methods=["POST"]),
    *survey_photos.ROUTES,
]
