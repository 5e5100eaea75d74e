"""The readings: files dropped, what was recognised in each and why, where the instrument hung, all streams on one axis."""

from __future__ import annotations

import secrets
from datetime import datetime
from functools import partial
from typing import Any
from urllib.parse import urlencode
from uuid import UUID
from zoneinfo import ZoneInfo

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from airtally.clock import local_text
from airtally.errors import AirtallyError
from airtally.house.parts import AirSide
from airtally.jobs.stored import look_at_file
from airtally.jobs.streams import stream_sheet
from airtally.quantities import Quantity
from airtally.report.hookup_svg import font_faces
from airtally.report.streams import StreamSheet, event_marks, reasons_text, streams_drawing
from airtally.report.words import unit_word
from airtally.store.edits import Conflict, edit
from airtally.store.logs import add_log, logs_of, set_aside_log, take_back_log
from airtally.store.models import LogFile
from airtally.store.records import record_of
from airtally.store.texts import Change, Path
from airtally.web.find import OpenJob, job_of, role_of
from airtally.web.pages.answers import DRAWING_POLICY
from airtally.web.render import page

WIDE, NARROW = 1130.0, 358.0
"""Widths of the two sheets of streams. [px]"""
STRETCHES = {WIDE: 900, NARROW: 280}
"""Stretches of time a sheet shows: about one a pixel."""
SIDES = {
    AirSide.ROOM: "in a room",
    AirSide.OUTDOOR: "outdoors",
    AirSide.RETURN_BEFORE_FILTER: "in the return duct, before the filter",
    AirSide.AFTER_FILTER: "in the duct, behind the filter",
    AirSide.SUPPLY: "in the supply duct",
    AirSide.EQUIPMENT: "on a machine: fan current, filter drop, spill temperature",
}


def readings(request: Request) -> Response:
    """Show the files of a job and what is to be done with each."""
    return _readings(request, job_of(request))


def _readings(request: Request, job: OpenJob, *, trouble: str = "", status: int = 200) -> Response:
    store = request.app.state.store
    named = {str(one.get("file")) for one in job.survey.get("log", ())}
    kept = record_of(store, job.id)
    data = {
        "files": [(log, log.name in named) for log in logs_of(store, job.id)],
        "aside": logs_of(store, job.id, are_set_aside=True),
        "missing": sorted(named - {log.name for log in logs_of(store, job.id)}),
        "posts": secrets.token_hex(12),
        "trouble": trouble,
        "texts": request.app.state.texts.of(kept.record) if kept is not None else None,
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
    return RedirectResponse(f"/job/{job.id}/readings?" + urlencode({"said": f"{len(files)} files kept."}), 303)


def _log_of(request: Request, job: OpenJob) -> LogFile:
    store = request.app.state.store
    try:
        wanted = UUID(request.path_params["file"])
    except ValueError:
        raise HTTPException(404) from None
    every = (*logs_of(store, job.id), *logs_of(store, job.id, are_set_aside=True))
    found = next((log for log in every if log.id == wanted), None)
    if found is None:
        raise HTTPException(404)
    return found


def file(request: Request) -> Response:
    """Show what was recognised in a file, its first lines, and the form that says where it was read."""
    job = job_of(request)
    log = _log_of(request, job)
    return _file(request, job, log, dict(request.query_params))


def _file(
    request: Request, job: OpenJob, log: LogFile, typed: dict[str, str], *, trouble: str = "", status: int = 200
) -> Response:
    entry = next((one for one in job.survey.get("log", ()) if one.get("file") == log.name), None)
    stated = {**(entry or {}), **_stated(typed)}
    look = look_at_file(
        request.app.state.store,
        log.digest,
        log.name,
        time_zone=str(typed.get("time_zone") or (entry or {}).get("time_zone") or job.time_zone),
        stated=stated,
    )
    data = {
        "log": log,
        "look": look,
        "when": lambda moment: local_text(moment, job.time_zone) if moment == moment else "no time read",
        "entry": entry,
        "placements": [str(one.get("id")) for one in job.survey.get("placement", ())],
        "instruments": [str(one.get("id")) for one in job.survey.get("instrument", ())],
        "zones": [(str(one.get("id")), str(one.get("name") or one.get("id"))) for one in job.survey.get("zone", ())],
        "sides": {side.value: words for side, words in SIDES.items()},
        "quantities": [quantity.value for quantity in Quantity],
        "typed": typed,
        "columns": "\n".join(f"{name} = {what}" for name, what in dict(stated.get("columns") or {}).items()),
        "trouble": trouble,
        "post": secrets.token_hex(16),
    }
    return page(request, "file.html", title=log.name, job=job, here="readings", status=status, data=data)


def _stated(typed: dict[str, str]) -> dict[str, Any]:
    """Return what a form states about a file, as a survey's ``[[log]]`` writes it; what is left open is left out."""
    stated: dict[str, Any] = {}
    if typed.get("stamps"):
        stated["stamps"] = typed["stamps"]
    if typed.get("day_first") in ("true", "false"):
        stated["day_first"] = typed["day_first"] == "true"
    pairs = [line.split("=", 1) for line in typed.get("columns", "").splitlines() if "=" in line]
    if pairs:
        stated["columns"] = {name.strip(): what.strip() for name, what in pairs}
    if typed.get("time_zone"):
        stated["time_zone"] = typed["time_zone"]
    return stated


async def place_file(request: Request) -> Response:
    """Write into the survey where a file was read: instrument, placement and log, all in one edit."""
    job = await run_in_threadpool(job_of, request)
    log = await run_in_threadpool(_log_of, request, job)
    typed = {key: str(value) for key, value in (await request.form()).items() if isinstance(value, str)}
    if typed.get("do") == "preview":
        return await run_in_threadpool(lambda: _file(request, job, log, typed))
    trouble = _lacking(typed)
    if trouble:
        return await run_in_threadpool(lambda: _file(request, job, log, typed, trouble=trouble, status=422))
    changes = _changes(job, log.name, typed)
    try:
        done = await run_in_threadpool(
            edit, request.app.state.store, job.id, "survey", changes, job.revision, role_of(request), typed["post"]
        )
    except AirtallyError as error:
        said = str(error)
        return await run_in_threadpool(lambda: _file(request, job, log, typed, trouble=said, status=422))
    if isinstance(done, Conflict):
        said = "Someone changed the survey meanwhile; look at what stands there now and keep it again."
        return await run_in_threadpool(lambda: _file(request, job, log, typed, trouble=said, status=409))
    said = f"{log.name}: its place is kept."
    return RedirectResponse(f"/job/{job.id}/readings?" + urlencode({"said": said}), 303)


def _lacking(typed: dict[str, str]) -> str:
    """Return what the form still lacks, empty if nothing."""
    if typed.get("placement"):
        return ""
    if not typed.get("instrument") and not typed.get("new_instrument", "").strip():
        return "Say which instrument wrote this file: choose one, or give a new one a short name."
    if typed.get("air_side") not in {side.value for side in AirSide}:
        return "Say which air the instrument saw."
    if typed["air_side"] == AirSide.ROOM.value and not typed.get("zone"):
        return "Say in which space the instrument hung."
    if not typed.get("since", "").strip():
        return "Say since when it hung there: the day is enough."
    try:
        datetime.fromisoformat(typed["since"].strip())
    except ValueError:
        return "Write the day as year-month-day, such as 2026-01-31, with a time if you like."
    return ""


def _changes(job: OpenJob, name: str, typed: dict[str, str]) -> list[Change]:
    """Return the changes of the survey that a file's form asks for."""
    changes: list[Change] = []
    placement = typed.get("placement", "")
    if not placement:
        instrument = typed.get("instrument") or _free_id(job, "instrument", typed["new_instrument"])
        if not typed.get("instrument"):
            changes.append(Change(path=_end(job, "instrument"), value={"id": instrument}))
        placement = _free_id(job, "placement", f"{instrument}-{typed.get('zone') or typed['air_side']}")
        entry = {"id": placement, "instrument": instrument, "air_side": typed["air_side"]}
        if typed.get("zone") and typed["air_side"] == AirSide.ROOM.value:
            entry["zone"] = typed["zone"]
        changes.append(Change(path=_end(job, "placement"), value=entry | {"since": typed["since"].strip()}))
    index = next((n for n, one in enumerate(job.survey.get("log", ())) if one.get("file") == name), None)
    stated = {"file": name, "placement": placement} | _stated(typed)
    path = _end(job, "log") if index is None else ("log", index)
    changes.append(Change(path=path, value=stated))
    return changes


def _end(job: OpenJob, section: str) -> Path:
    return (section, len(job.survey.get(section, ())))


def _free_id(job: OpenJob, section: str, wanted: str) -> str:
    """Return an id made of a name: letters, digits and hyphens, not taken yet."""
    plain = "-".join("".join(c if c.isalnum() else " " for c in wanted.lower()).split()) or section
    taken = {str(one.get("id")) for one in job.survey.get(section, ())}
    number, free = 1, plain
    while free in taken:
        number += 1
        free = f"{plain}-{number}"
    return free


async def move_file(request: Request) -> Response:
    """Set a file aside, or take it back; nothing is deleted."""
    job = await run_in_threadpool(job_of, request)
    log = await run_in_threadpool(_log_of, request, job)
    if log.set_aside_at is None:
        await run_in_threadpool(set_aside_log, request.app.state.store, log.id, role_of(request))
    else:
        await run_in_threadpool(take_back_log, request.app.state.store, log.id)
    return RedirectResponse(f"/job/{job.id}/readings", 303)


def streams(request: Request) -> Response:
    """Show all streams of a window, with the counts behind the drawing and the ways to move the window."""
    job = job_of(request)
    sheet = _sheet(request, job, WIDE)
    data: dict[str, Any] = {"sheet": sheet}
    if sheet is not None:
        data |= {
            "moves": _moves(sheet),
            "window": f"{local_text(sheet.begin, job.time_zone)} to {local_text(sheet.end, job.time_zone)}",
            "sentence": _sentence(sheet, job.time_zone),
            "query": _query(sheet.begin, sheet.end),
            "rows": [
                (one.name, f"{one.read:,}", f"{one.kept:,}", reasons_text(one.reasons) or "none", _span(one))
                for one in sheet.streams
            ],
            "marks": event_marks(sheet),
            "begin_text": local_text(sheet.begin, job.time_zone),
            "end_text": local_text(sheet.end, job.time_zone),
        }
    return page(request, "streams.html", title="All streams", job=job, here="readings", data=data)


def streams_sheet(request: Request) -> Response:
    """Return the drawing of a window, wide or for a phone."""
    job = job_of(request)
    width = NARROW if request.path_params["size"] == "narrow" else WIDE
    sheet = _sheet(request, job, width)
    if sheet is None:
        raise HTTPException(404)
    svg = streams_drawing(sheet, zone=job.time_zone, width=width, sentence=_sentence(sheet, job.time_zone))
    head, mark, rest = svg.partition("<title")
    headers = {"content-security-policy": DRAWING_POLICY}
    return Response(f"{head}{font_faces()}{mark}{rest}", media_type="image/svg+xml", headers=headers)


def _sheet(request: Request, job: OpenJob, width: float) -> StreamSheet | None:
    kept = record_of(request.app.state.store, job.id)
    events = kept.record.document.get("events", []) if kept is not None else []
    inputs = request.app.state.read_jobs.of(job.id, job.revision)
    asked = request.query_params
    begin, end = (_moment(asked.get(key, ""), job.time_zone) for key in ("begin", "end"))
    return stream_sheet(inputs, events, begin=begin, end=end, stretches=STRETCHES[width])


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
    Route("/job/{job}/readings/file/{file}", file),
    Route("/job/{job}/readings/file/{file}", place_file, methods=["POST"]),
    Route("/job/{job}/readings/file/{file}/move", move_file, methods=["POST"]),
]
