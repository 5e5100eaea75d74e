"""The visits of a job: begun with a kind and a time, then one short page a step, each field kept by itself."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from copy import deepcopy
from datetime import datetime
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from airtally.errors import InputError
from airtally.store.edits import Conflict, edit
from airtally.store.texts import Change, Path, TextError, value_at
from airtally.visits.clock import read_time
from airtally.visits.parts import VisitKind
from airtally.web.find import ROLES, OpenJob, job_of, role_of
from airtally.web.pages.survey import told
from airtally.web.render import page
from airtally.web.survey.controls import Posted
from airtally.web.survey.keep import Answer
from airtally.web.survey.places import path_of
from airtally.web.visit.additions import addition_of, entry_of, recent_diary
from airtally.web.visit.keep import keep_at, keep_step
from airtally.web.visit.sheet import PART, VisitSheet, VisitsSheet, visit_at, visits_sheet
from airtally.web.visit.steps import STEPS, Step
from airtally.web.visit.view import blocks_of, cautions_of, counts_of, heading_of, overview, panels_of, state_line


def contents(request: Request) -> Response:
    """List the visits, and offer to begin one."""
    return _contents(request, job_of(request))


def _contents(request: Request, job: OpenJob, *, trouble: str = "", typed: Mapping[str, str] | None = None) -> Response:
    try:
        sheet = visits_sheet(request.app.state.store, job.id)
    except TextError as error:
        said = (
            f"The visits' text cannot be read: {error}. It is kept as it came; export the job, correct it, import it."
        )
        return page(request, "said.html", title="Visits", job=job, here="visit", data={"sentence": said})
    now = datetime.now(sheet.context.zone)
    data = {
        "visits": overview(sheet),
        "kinds": tuple(VisitKind),
        "roles": ROLES,
        "typed": {"kind": "", "time": f"{now:%Y-%m-%dT%H:%M}", "by": role_of(request), **(typed or {})},
        "zone": sheet.context.zone.key,
        "trouble": trouble,
        "based_on": sheet.revision,
        "post": secrets.token_hex(16),
    }
    status = 422 if trouble else 200
    return page(request, "visits.html", title="Visits", job=job, here="visit", status=status, data=data)


async def begin(request: Request) -> Response:
    """Begin a visit; a double tap begins one."""
    form = await request.form()
    return await run_in_threadpool(_begin, request, {name: str(form[name]) for name in form})


def _begin(request: Request, form: dict[str, str]) -> Response:
    store, job = request.app.state.store, job_of(request)
    sheet = _sheet(request, job, form.get("based_on", ""))
    time = form.get("time", "").replace("T", " ", 1)
    if form.get("kind") not in set(VisitKind):
        return _contents(request, job, trouble="Choose which kind of visit it is.", typed=form)
    if read_time(time, sheet.context.zone, "time")[0] is None:
        return _contents(request, job, trouble="Say when the visit began, as 2025-09-30 08:00.", typed=form)
    taken = {str(table.get("id")) for table in sheet.tables}
    kind = form["kind"]
    name = next(one for number in range(1, len(taken) + 2) if (one := _numbered(kind, number)) not in taken)
    entry: dict[str, Any] = {"id": name, "kind": kind, "time": time, "by": form.get("by") or role_of(request)}
    gauges = deepcopy(list(sheet.tables[-1].get("instrument") or [])) if sheet.tables else []
    if gauges:
        entry["instrument"] = [dict(one) for one in gauges]
    change = Change(path=("visit", len(sheet.tables)), value=entry)
    try:
        edit(store, job.id, PART, [change], sheet.revision, role_of(request), form.get("post", ""))
    except InputError as error:
        return _contents(request, job, trouble=str(error), typed=form)
    return RedirectResponse(f"/job/{job.id}/visit/{name}/{STEPS[0].path}", 303)


def _numbered(kind: str, number: int) -> str:
    plain = kind.replace(" ", "-")
    return plain if number == 1 else f"{plain}-{number}"


def first(request: Request) -> Response:
    """Lead to the first step of a visit."""
    job, vs = _visit(request)
    return RedirectResponse(f"/job/{job.id}/visit/{vs.id}/{STEPS[0].path}", 303)


def show(request: Request) -> Response:
    """Show one step of a visit."""
    job, vs = _visit(request)
    return _page(request, job, vs, _step(request))


async def keep(request: Request) -> Response:
    """Keep one field that a script sent, or all that a form without scripts changed."""
    form = await request.form()
    posted = {name: [str(one) for one in form.getlist(name)] for name in form}
    return await run_in_threadpool(_keep, request, posted)


def _keep(request: Request, posted: dict[str, list[str]]) -> Response:
    store, step = request.app.state.store, _step(request)
    job, vs = _visit(request, _one(posted, "based_on"))
    who, post = role_of(request), _one(posted, "post")
    if only := _one(posted, "only"):
        return told(job, keep_at(store, job.id, step, only, posted, vs, who, post))
    answers = keep_step(store, job.id, step, posted, vs, who, post)
    if all(not one.trouble and one.both is None for one in answers):
        count = len(answers)
        said = f"Saved {count} {'change' if count == 1 else 'changes'}." if count else "Nothing was changed."
        return RedirectResponse(f"{_address(job, vs, step)}?said={said}", 303)
    return _page(request, job, vs, step, posted=posted, answers=answers)


async def add(request: Request) -> Response:
    """Add a gauge, a referral, or an entry of the household's diary."""
    form = await request.form()
    posted = {name: [str(one) for one in form.getlist(name)] for name in form}
    return await run_in_threadpool(_add, request, posted)


def _add(request: Request, posted: dict[str, list[str]]) -> Response:
    store, step = request.app.state.store, _step(request)
    job, vs = _visit(request, _one(posted, "based_on"))
    addition = addition_of(vs, step)
    if addition is None:
        raise HTTPException(404)
    try:
        change = Change(path=addition.path, value=entry_of(addition, posted, vs))
        done = edit(store, job.id, addition.part, [change], vs.sheet.revision, role_of(request), _one(posted, "post"))
    except InputError as error:
        return _page(request, job, vs, step, trouble=str(error), posted=posted)
    if isinstance(done, Conflict):
        raise HTTPException(409, "It was changed at the same moment; draw the page again and add it once more.")
    return RedirectResponse(f"{_address(job, vs, step)}?said=Added.", 303)


async def take(request: Request) -> Response:
    """Take a reading, a gauge or a referral away; undo stands under Edits."""
    form = await request.form()
    return await run_in_threadpool(_take, request, {name: str(form[name]) for name in form})


def _take(request: Request, form: dict[str, str]) -> Response:
    store, step = request.app.state.store, _step(request)
    job, vs = _visit(request, form.get("based_on", ""))
    path: Path = path_of(form.get("path", ""))
    is_mine = len(path) == 4 and path[:2] == ("visit", vs.number) and isinstance(path[3], int)
    if not is_mine or value_at({"visit": list(vs.sheet.tables)}, path) is None:
        raise HTTPException(404)
    try:
        done = edit(
            store,
            job.id,
            PART,
            [Change(path=path, value=None)],
            vs.sheet.revision,
            role_of(request),
            form.get("post", ""),
        )
    except InputError as error:
        raise HTTPException(422, str(error)) from None
    if isinstance(done, Conflict):
        words = f"It was changed by {done.clashes[0].by} after this page was drawn. Look at it, then take it away."
        return _page(request, job, _visit(request)[1], step, trouble=words)
    return RedirectResponse(f"{_address(job, vs, step)}?said=Taken away; Edits, with undo, brings it back.", 303)


def _page(
    request: Request,
    job: OpenJob,
    vs: VisitSheet,
    step: Step,
    *,
    posted: Posted | None = None,
    answers: Sequence[Answer] = (),
    trouble: str = "",
) -> Response:
    number = STEPS.index(step)
    stopped = [one for one in answers if one.trouble or one.both is not None]
    leave = vs.must_leave()
    is_open = step.path == "gates" or not leave
    addition = addition_of(vs, step, posted)
    panels = panels_of(vs, step, posted, {one.name: one for one in answers}) if is_open else []
    data = {
        "visit": vs,
        "heading_visit": heading_of(vs),
        "step": step,
        "steps": counts_of(vs),
        "number": number + 1,
        "blocks": blocks_of(panels),
        "earlier": STEPS[number - 1] if number else None,
        "later": STEPS[number + 1] if number + 1 < len(STEPS) else None,
        "leave": leave,
        "is_open": is_open,
        "panels": panels,
        "cautions": cautions_of(step),
        "state": state_line(vs),
        "addition": addition,
        "diary": recent_diary(vs) if step.path == "diary" else [],
        "stopped": [(one.name.replace(".", "-"), one.trouble or "changed by someone else; choose one of two") for one in stopped],
        "kept": len(answers) - len(stopped),
        "trouble": trouble,
        "based_on": vs.sheet.revision,
        "post": secrets.token_hex(16),
        "zone": vs.sheet.context.zone,
        "from_step": next((one for one in STEPS if one.path == request.query_params.get("from")), None),
        "sizes": (),
    }  # fmt: skip
    status = 409 if any(one.both is not None for one in stopped) else 422 if stopped or trouble else 200
    return page(request, "visit_step.html", title=step.name, job=job, here="visit", status=status, data=data)


def _sheet(request: Request, job: OpenJob, revision: str = "") -> VisitsSheet:
    try:
        return visits_sheet(request.app.state.store, job.id, int(revision) if revision else None)
    except (InputError, ValueError):
        raise HTTPException(422, "The form does not say which edition of the visits it shows; draw it again.") from None


def _visit(request: Request, revision: str = "") -> tuple[OpenJob, VisitSheet]:
    job = job_of(request)
    found = visit_at(_sheet(request, job, revision), request.path_params["visit"])
    if found is None:
        raise HTTPException(404)
    return job, found


def _step(request: Request) -> Step:
    found = next((one for one in STEPS if one.path == request.path_params["step"]), None)
    if found is None:
        raise HTTPException(404)
    return found


def _address(job: OpenJob, vs: VisitSheet, step: Step) -> str:
    return f"/job/{job.id}/visit/{vs.id}/{step.path}"


def _one(posted: Posted, name: str) -> str:
    values = posted.get(name, ())
    return values[-1] if values else ""


ROUTES = [
    Route("/job/{job}/visit", contents),
    Route("/job/{job}/visit/begin", begin, methods=["POST"]),
    Route("/job/{job}/visit/{visit}", first),
    Route("/job/{job}/visit/{visit}/{step}", show),
    Route("/job/{job}/visit/{visit}/{step}", keep, methods=["POST"]),
    Route("/job/{job}/visit/{visit}/{step}/add", add, methods=["POST"]),
    Route("/job/{job}/visit/{visit}/{step}/take", take, methods=["POST"]),
]
