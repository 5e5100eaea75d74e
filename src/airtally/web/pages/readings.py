"""The readings: files dropped, which of them still lack a place, all streams on one axis."""

from __future__ import annotations

import secrets
from datetime import datetime
from functools import partial
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from airtally.clock import local_text
from airtally.errors import AirtallyError
from airtally.jobs.screened import Screened
from airtally.jobs.streams import stream_sheet
from airtally.report.hookup_svg import font_faces
from airtally.report.streams import StreamSheet, event_marks, reasons_text, streams_drawing
from airtally.report.words import quantity_word, unit_word
from airtally.store.logs import add_log, logs_of
from airtally.store.models import LogFile
from airtally.store.records import record_of
from airtally.store.works import OPEN, ask, works_of
from airtally.web.find import OpenJob, job_of, role_of
from airtally.web.pages.answers import DRAWING_POLICY, when_kept
from airtally.web.pages.works import SEED, STATES
from airtally.web.render import page

WIDE, NARROW = 1130.0, 358.0
"""Widths of the two sheets of streams. [px]"""
STRETCHES = {WIDE: 900, NARROW: 280}
"""Stretches of time a sheet shows: about one a pixel."""


def readings(request: Request) -> Response:
    """Show the files of a job and what is to be done with each."""
    return _readings(request, job_of(request))


def _readings(request: Request, job: OpenJob, *, trouble: str = "", status: int = 200) -> Response:
    store = request.app.state.store
    named = {str(one.get("file")) for one in job.survey.get("log", ())}
    kept = record_of(store, job.id)
    # What an imported folder holds beside its logs, such as a note, has no place.
    files = [(log, log.name in named or not log.name.startswith("logs/")) for log in logs_of(store, job.id)]
    data = {
        "files": files,
        "bare": sum(not is_named for _, is_named in files),
        "aside": logs_of(store, job.id, are_set_aside=True),
        "missing": sorted(named - {log.name for log in logs_of(store, job.id)}),
        "posts": secrets.token_hex(12),
        "trouble": trouble,
        "texts": request.app.state.texts.of(kept.record) if kept is not None else None,
        "is_current": kept is not None and kept.is_current,
        "kept_when": when_kept(kept, job.time_zone),
    }
    return page(request, "readings.html", title="Readings", job=job, here="readings", status=status, data=data)


async def take_files(request: Request) -> Response:
    """Keep the files that were dropped, each as it came, and show what to do next."""
    job = await run_in_threadpool(job_of, request)
    async with request.form() as form:
        files = [one for one in form.getlist("files") if isinstance(one, UploadFile) and one.filename]
        if not files:
            return await run_in_threadpool(
                lambda: _readings(request, job, trouble="Choose at least one logger's file.", status=422)
            )
        last: LogFile | None = None
        for number, one in enumerate(files):
            content = await one.read()
            try:
                last = await run_in_threadpool(
                    add_log,
                    request.app.state.store,
                    job.id,
                    one.filename or "log",
                    content,
                    role_of(request),
                    f"{form.get('posts', secrets.token_hex(12))}-{number}",
                )
            except AirtallyError as error:
                said = f"{one.filename}: {error}"
                return await run_in_threadpool(partial(_readings, request, job, trouble=said, status=422))
    if len(files) == 1 and last is not None:
        return RedirectResponse(f"/job/{job.id}/readings/file/{last.id}", 303)
    return RedirectResponse(said_address(job, f"{len(files)} files kept."), 303)


def said_address(job: OpenJob, said: str) -> str:
    """Return the address of the readings with something said on the page."""
    return f"/job/{job.id}/readings?" + urlencode({"said": said})


def streams(request: Request) -> Response:
    """Show all streams of a window, with the counts behind the drawing and the ways to move the window."""
    job = job_of(request)
    read = request.app.state.read_jobs.of(job.id)
    if read is None and logs_of(request.app.state.store, job.id):
        return _being_read(request, job)
    sheet = _sheet(request, job, read, WIDE) if read is not None else None
    data: dict[str, Any] = {"sheet": sheet, "work": None}
    if sheet is not None:
        data |= {
            "moves": _moves(sheet),
            "window": f"{local_text(sheet.begin, job.time_zone)} to {local_text(sheet.end, job.time_zone)}",
            "sentence": _sentence(sheet, job.time_zone),
            "query": _query(sheet.begin, sheet.end),
            "rows": [
                (
                    _stream_words(one.name),
                    f"{one.read:,}",
                    f"{one.kept:,}",
                    reasons_text(one.reasons) or "none",
                    _span(one),
                )
                for one in sheet.streams
            ],
            "marks": event_marks(sheet),
            "begin_text": local_text(sheet.begin, job.time_zone),
            "end_text": local_text(sheet.end, job.time_zone),
        }
    return page(request, "streams.html", title="All streams", job=job, here="readings", data=data)


def _stream_words(name: str) -> str:
    place, _, quantity = name.partition("/")
    return f"{place}, {quantity_word(quantity)}"


def _being_read(request: Request, job: OpenJob) -> Response:
    """Ask the worker to read the files, and say how far it is; the page asks again by itself until they are read."""
    store = request.app.state.store
    mine = (one for one in works_of(store, job.id) if one.kind == "readings" and one.revision == job.revision)
    work = next(mine, None)
    if work is None or work.state == "done":  # done before a file came or went
        work = ask(store, job.id, "readings", SEED)
    is_open = work.state in OPEN
    data = {"sheet": None, "work": work, "is_open": is_open, "state": STATES[work.state]}
    answer = page(request, "streams.html", title="All streams", job=job, here="readings", data=data)
    if is_open:
        answer.headers["refresh"] = "2"
    return answer


def streams_sheet(request: Request) -> Response:
    """Return the drawing of a window, wide or for a phone."""
    job = job_of(request)
    width = NARROW if request.path_params["size"] == "narrow" else WIDE
    read = request.app.state.read_jobs.of(job.id)
    sheet = _sheet(request, job, read, width) if read is not None else None
    if sheet is None:
        raise HTTPException(404)
    svg = streams_drawing(sheet, zone=job.time_zone, width=width, sentence=_sentence(sheet, job.time_zone))
    head, mark, rest = svg.partition("<title")
    headers = {"content-security-policy": DRAWING_POLICY}
    return Response(f"{head}{font_faces()}{mark}{rest}", media_type="image/svg+xml", headers=headers)


def _sheet(request: Request, job: OpenJob, read: Screened, width: float) -> StreamSheet | None:
    kept = record_of(request.app.state.store, job.id)
    events = kept.record.document.get("events", []) if kept is not None else []
    asked = request.query_params
    begin, end = (_moment(asked.get(key, ""), job.time_zone) for key in ("begin", "end"))
    return stream_sheet(read, events, begin=begin, end=end, stretches=STRETCHES[width])


def _moment(text: str, zone: str) -> float | None:
    """Return an instant typed as seconds or as local wall time; None for what is neither."""
    try:
        return float(text)
    except ValueError:
        pass
    try:
        wall = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    return (wall if wall.tzinfo else wall.replace(tzinfo=ZoneInfo(zone))).timestamp()


def _query(begin: float, end: float) -> str:
    return urlencode({"begin": f"{begin:.0f}", "end": f"{end:.0f}"})


def _moves(sheet: StreamSheet) -> list[tuple[str, str]]:
    """Return the ways to move the window: words and query."""
    long, middle = sheet.end - sheet.begin, 0.5 * (sheet.begin + sheet.end)
    return [
        ("Earlier", _query(sheet.begin - 0.5 * long, sheet.end - 0.5 * long)),
        ("Later", _query(sheet.begin + 0.5 * long, sheet.end + 0.5 * long)),
        ("Closer", _query(middle - 0.25 * long, middle + 0.25 * long)),
        ("Wider", _query(middle - long, middle + long)),
        ("Whole", ""),
    ]


def _sentence(sheet: StreamSheet, zone: str) -> str:
    read = sum(one.read for one in sheet.streams)
    kept = sum(one.kept for one in sheet.streams)
    return (
        f"{len(sheet.streams)} streams from {local_text(sheet.begin, zone)} to {local_text(sheet.end, zone)}: {read:,} "
        f"readings = {kept:,} kept + {read - kept:,} set aside. Ink is kept, dotted is set aside, hatched is not read."
    )


def _span(one: Any) -> str:
    """Return lowest to highest kept value with its unit."""
    known = one.low[one.low == one.low]
    if not known.size:
        return "none kept"
    high = one.high[one.high == one.high]
    return f"{known.min():.4g} to {high.max():.4g} {unit_word(one.unit)}".removesuffix(" -").replace("-", "\u2212")


ROUTES = [
    Route("/job/{job}/readings", readings),
    Route("/job/{job}/readings", take_files, methods=["POST"]),
    Route("/job/{job}/readings/streams", streams),
    Route("/job/{job}/readings/streams-{size}.svg", streams_sheet),
]
