"""The list of jobs, a new one, one set aside or taken back, and a job's contents."""

from __future__ import annotations

import secrets
import textwrap
from collections import Counter
from zoneinfo import ZoneInfo, available_timezones

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from airtally.house.template import new_survey_text
from airtally.store.edits import HistoryLine, history
from airtally.store.listing import add_job, jobs, set_aside_job, take_back_job
from airtally.store.logs import logs_of
from airtally.store.records import record_of
from airtally.store.texts import TextError
from airtally.web.find import ROLE, ROLES, OpenJob, job_of, role_of
from airtally.web.pages.answers import when_kept
from airtally.web.render import LEAVES, page
from airtally.web.survey.keep import sheet_of
from airtally.web.survey.view import needed_first
from airtally.web.visit.sheet import visits_sheet

CURRENCIES = ("USD", "CAD", "EUR", "GBP", "AUD", "NZD", "CHF", "SEK", "NOK", "DKK")
SHORT_HISTORY = 8


def index(request: Request) -> Response:
    """List the jobs."""
    return _index(request)


def _index(request: Request, *, trouble: str = "", typed: dict[str, str] | None = None) -> Response:
    store = request.app.state.store
    data = {
        "jobs": jobs(store),
        "aside": jobs(store, are_set_aside=True),
        "zones": sorted(zone for zone in available_timezones() if "/" in zone and not zone.startswith("Etc/")),
        "currencies": CURRENCIES,
        "roles": ROLES,
        "role": role_of(request),
        "post": secrets.token_hex(16),
        "trouble": trouble,
        "typed": typed or {"name": "", "time_zone": "", "currency": CURRENCIES[0]},
    }
    return page(request, "jobs.html", title="Jobs", status=422 if trouble else 200, data=data)


async def add(request: Request) -> Response:
    """Add a job with an empty survey, or say what is missing with what was typed kept."""
    form = await request.form()
    typed = {key: str(form.get(key, "")).strip() for key in ("name", "time_zone", "currency")}
    if not typed["name"]:
        return await run_in_threadpool(
            lambda: _index(request, trouble="Give the home a name that your company knows it by.", typed=typed)
        )
    if typed["time_zone"] not in available_timezones():
        return await run_in_threadpool(
            lambda: _index(request, trouble="Choose the home's time zone: clocks of logs are read by it.", typed=typed)
        )
    currency = typed["currency"] if typed["currency"] in CURRENCIES else CURRENCIES[0]
    text = new_survey_text(name=typed["name"], time_zone=typed["time_zone"], currency=currency)
    job = await run_in_threadpool(add_job, request.app.state.store, text, role_of(request))
    return RedirectResponse(f"/job/{job}", 303)


async def move(request: Request) -> Response:
    """Set a job aside or take it back; nothing is deleted."""
    store = request.app.state.store
    form = await request.form()
    wanted = next(
        (one.id for one in (*jobs(store), *jobs(store, are_set_aside=True)) if str(one.id) == form.get("job")), None
    )
    if wanted is not None and form.get("do") == "set aside":
        await run_in_threadpool(set_aside_job, store, wanted, role_of(request))
    elif wanted is not None:
        await run_in_threadpool(take_back_job, store, wanted)
    return RedirectResponse("/", 303)


async def take_role(request: Request) -> Response:
    """Keep on this device in which role it is used."""
    form = await request.form()
    answer = RedirectResponse("/", 303)
    if form.get("role") in ROLES:
        answer.set_cookie(ROLE, str(form["role"]), max_age=400 * 24 * 3600, httponly=True, samesite="lax")
    return answer


def contents(request: Request) -> Response:
    """Show a job's contents: each page with where it stands, the way through, the last edits."""
    store = request.app.state.store
    job = job_of(request)
    kept = record_of(store, job.id)
    lines = history(store, job.id)
    problems: Counter[str] = Counter(
        problem["severity"] for problem in (kept.record.document["problems"] if kept is not None else ())
    )
    data = {
        "leaves": [(leaf, _standing(request, job, leaf.path)) for leaf in LEAVES],
        "kept": kept,
        "kept_when": when_kept(kept, job.time_zone),
        "is_current": kept is not None and kept.is_current,
        "problems": problems,
        "history": [_edit_row(line, job.time_zone) for line in lines[:SHORT_HISTORY]],
        "edits": len(lines),
        "fault": job.fault,
    }
    return page(request, "contents.html", title=job.name, job=job, data=data)


def _standing(request: Request, job: OpenJob, path: str) -> str:
    """Return where a page that is filled in by hand stands; nothing is said of the answers, which follow from it."""
    store = request.app.state.store
    if path == "visit":
        try:
            count = len(visits_sheet(store, job.id).ids)
        except TextError:
            return "its text cannot be read"
        return f"{count} begun" if count else "none yet"
    if path == "survey" and not job.fault:
        is_lacking = bool(needed_first(job, sheet_of(store, job.id)))
        return "something is needed first: see its doubts" if is_lacking else "enough to work with"
    if path == "readings":
        named = {str(one.get("file")) for one in job.survey.get("log", ())}
        files = [log for log in logs_of(store, job.id) if log.name.startswith("logs/")]
        bare = sum(log.name not in named for log in files)
        return f"{len(files)} {'file' if len(files) == 1 else 'files'}" + (f", {bare} without a place" if bare else "")
    return ""


def _edit_row(line: HistoryLine, zone: str) -> tuple[str, str, str, str]:
    """Return one edit as a row: what, before, after, by whom and when."""
    what = f"{line.part}: {' '.join(str(step + 1) if isinstance(step, int) else step for step in line.path) or 'whole text'}"
    undone = f", takes back edit {line.undoes}" if line.undoes is not None else ""
    when = line.when.astimezone(ZoneInfo(zone))
    return (what, _short(line.before), _short(line.after), f"{line.who}, {when:%d %b %H:%M}{undone}")


def _short(value: object) -> str:
    return "" if value is None else textwrap.shorten(str(value), 60, placeholder=" ...")


ROUTES = [
    Route("/", index),
    Route("/jobs", add, methods=["POST"]),
    Route("/jobs/move", move, methods=["POST"]),
    Route("/role", take_role, methods=["POST"]),
    Route("/job/{job}", contents),
]
