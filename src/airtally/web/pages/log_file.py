"""One logger's file: what was recognised in it and why, its columns mended with a preview, and where it was read."""

from __future__ import annotations

import secrets
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from airtally.clock import local_text
from airtally.errors import AirtallyError, InputError
from airtally.house.parts import AirSide
from airtally.jobs.stored import FileLook, look_at_file
from airtally.store.edits import Conflict, edit, text_of
from airtally.store.logs import logs_of, set_aside_log, take_back_log
from airtally.store.models import LogFile
from airtally.store.texts import Change, Path
from airtally.web.columns import column_controls, quantity_words, stated_columns
from airtally.web.find import OpenJob, job_of, role_of
from airtally.web.pages.readings import said_address
from airtally.web.render import page
from airtally.web.survey.controls import said_of
from airtally.web.survey.places import new_id

SIDES = {
    AirSide.ROOM: "in a room",
    AirSide.OUTDOOR: "outdoors",
    AirSide.RETURN_BEFORE_FILTER: "in the return duct, before the filter",
    AirSide.AFTER_FILTER: "in the duct, behind the filter",
    AirSide.SUPPLY: "in the supply duct",
    AirSide.EQUIPMENT: "on a machine: fan current, filter drop, spill temperature, stove switch",
}
IN_A_ZONE = (AirSide.ROOM.value, AirSide.EQUIPMENT.value)
"""Sides that may name a space."""
ANOTHER = "another"
"""In the address: a further place of a file whose instrument was moved or that several instruments wrote."""
STATED = ("time_zone", "stamps", "day_first", "columns", "devices")
"""Keys of a ``[[log]]`` that the form writes; the others stay as they are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogPage:
    """A file of a job and the entry of the survey that its page shows.

    Attributes
    ----------
    entries : tuple of pairs
        Number in the survey and table of each ``[[log]]`` that names the file.
    number : int
        Of the entry shown; the next one where a further place is asked for.
    """

    job: OpenJob
    log: LogFile
    entries: tuple[tuple[int, Mapping[str, Any]], ...]
    number: int

    @property
    def entry(self) -> Mapping[str, Any]:
        """Return the entry shown, empty where it is a new one."""
        return dict(self.entries).get(self.number, {})


def _opened(request: Request, place: str, revision: str = "") -> LogPage:
    """Return the file of the address and one of its entries, in the survey as it is or as it was at a revision."""
    job, store = job_of(request), request.app.state.store
    every = (*logs_of(store, job.id), *logs_of(store, job.id, are_set_aside=True))
    log = next((one for one in every if str(one.id) == request.path_params["file"]), None)
    if log is None:
        raise HTTPException(404)
    if revision.isdigit() and int(revision) != job.revision:
        try:
            text, _ = text_of(store, job.id, "survey", int(revision))
            job = replace(job, survey=tomllib.loads(text), revision=int(revision))
        except (InputError, tomllib.TOMLDecodeError):
            raise HTTPException(422, "The form does not say which edition it shows; draw it again.") from None
    logs = _tables(job, "log")
    entries = tuple((number, one) for number, one in enumerate(logs) if one.get("file") == log.name)
    numbers = [number for number, _ in entries]
    first = numbers[0] if numbers and place != ANOTHER else len(logs)
    return LogPage(job=job, log=log, entries=entries, number=int(place) if place in map(str, numbers) else first)


def _tables(job: OpenJob, section: str) -> list[Mapping[str, Any]]:
    """Return the entries of a section; one that is no table counts as an empty one."""
    written = job.survey.get(section, [])
    return [one if isinstance(one, Mapping) else {} for one in written] if isinstance(written, list) else []


def show(request: Request) -> Response:
    """Show what was recognised in a file, its first lines, and the form that says where it was read."""
    return _page(request, _opened(request, request.query_params.get("place", "")))


def _page(
    request: Request, shown: LogPage, typed: Mapping[str, str] | None = None, *, trouble: str = "", status: int = 200
) -> Response:
    job, entry = shown.job, shown.entry
    stated = {key: value for key, value in entry.items() if key not in STATED} | _stated(typed) if typed else entry
    look = look_at_file(
        request.app.state.store,
        shown.log.digest,
        shown.log.name,
        time_zone=str(stated.get("time_zone") or job.time_zone),
        stated=stated,
    )
    begun = _begun(job, look, entry)
    data = {
        "log": shown.log,
        "look": look,
        "when": lambda moment: local_text(moment, job.time_zone) if moment == moment else "no time read",
        "place": shown.number if entry else ANOTHER,
        "entry": entry,
        "places": [(number, _place_words(job, one.get("placement"))) for number, one in shown.entries],
        "placements": [(str(one.get("id")), _place_words(job, one.get("id"))) for one in _tables(job, "placement")],
        "instruments": [str(one.get("id")) for one in _tables(job, "instrument")],
        "zones": _zones(job),
        "sides": {side.value: words for side, words in SIDES.items()},
        "words": quantity_words,
        "is_of_several": any(one.place for one in look.streams),
        "columns": column_controls(look.columns, dict(stated.get("columns") or {})),
        "typed": {**typed, "since": typed.get("since") or begun["since"]} if typed is not None else begun,
        "trouble": trouble,
        "is_preview": bool(typed) and not trouble,
        "post": secrets.token_hex(16),
        "based_on": job.revision,
    }  # fmt: skip
    return page(request, "file.html", title=shown.log.name, job=job, here="readings", status=status, data=data)


def _begun(job: OpenJob, look: FileLook, entry: Mapping[str, Any]) -> dict[str, str]:
    """Return what stands in a form that nobody has typed in: what is written, else the day of the first reading."""
    zones = _zones(job)
    first = min((one.first for one in look.streams if one.first == one.first), default=None)
    written = {key: str(entry.get(key) or "") for key in ("placement", "time_zone", "stamps")}
    return (
        written
        | {
            "day_first": {True: "true", False: "false"}.get(entry.get("day_first"), ""),  # type: ignore[arg-type]
            "devices": "\n".join(f"{name} = {place}" for name, place in dict(entry.get("devices") or {}).items()),
            "zone": zones[0][0] if len(zones) == 1 else "",
            "since": local_text(first, job.time_zone)[:10] if first is not None else "",
        }
    )


def _zones(job: OpenJob) -> list[tuple[str, str]]:
    return [(str(one.get("id")), str(one.get("name") or one.get("id"))) for one in _tables(job, "zone")]


def _place_words(job: OpenJob, placement: object) -> str:
    """Return a placement in words: instrument, space or side of the air, dates."""
    table = next((one for one in _tables(job, "placement") if one.get("id") == placement), None)
    if table is None:
        return str(placement or "no place said")
    side = str(table.get("air_side", ""))
    known = {one.value: words for one, words in SIDES.items()}
    where = dict(_zones(job)).get(str(table.get("zone")), "") or known.get(side, side).partition(":")[0]
    dates = "".join(f", {key} {table[key]}" for key in ("since", "until") if table.get(key))
    return f"{table.get('instrument') or placement}, {where}{dates}"


def _stated(typed: Mapping[str, str]) -> dict[str, Any]:
    """Return what a form states about a file, as a survey's ``[[log]]`` writes it; what is left open is left out."""
    stated: dict[str, Any] = {key: typed[key].strip() for key in ("time_zone", "stamps") if typed.get(key, "").strip()}
    if typed.get("day_first") in ("true", "false"):
        stated["day_first"] = typed["day_first"] == "true"
    pairs = [line.split("=", 1) for line in typed.get("devices", "").splitlines() if "=" in line]
    tables = {"columns": stated_columns(typed), "devices": {name.strip(): place.strip() for name, place in pairs}}
    return stated | {key: table for key, table in tables.items() if table}


async def keep(request: Request) -> Response:
    """Show how the file is read as the form says, or write where it was read into the survey, all in one edit."""
    typed = {key: str(value) for key, value in (await request.form()).items() if isinstance(value, str)}
    return await run_in_threadpool(_keep, request, typed)


def _keep(request: Request, typed: dict[str, str]) -> Response:
    shown = _opened(request, typed.get("place", ""), typed.get("based_on", ""))
    if typed.get("do") == "preview":
        return _page(request, shown, typed)
    trouble = _lacking(typed)
    if trouble:
        return _page(request, shown, typed, trouble=trouble, status=422)
    store, job = request.app.state.store, shown.job
    changes, post = _changes(shown, typed), typed.get("post", "")
    try:
        done = edit(store, job.id, "survey", changes, job.revision, role_of(request), post)
    except AirtallyError as error:
        return _page(request, shown, typed, trouble=str(error), status=422)
    if isinstance(done, Conflict):
        clash = done.clashes[0]
        said = (
            f"Changed meanwhile by {clash.by}: {said_of(clash.theirs)}. Yours stands below; Keep writes it over theirs."
        )
        return _page(request, _opened(request, typed.get("place", "")), typed, trouble=said, status=409)
    return RedirectResponse(said_address(job, f"{shown.log.name}: its place is kept."), 303)


def _lacking(typed: Mapping[str, str]) -> str:
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
    for key in ("since", "until"):
        try:
            datetime.fromisoformat(typed.get(key, "").strip() or "2000-01-01")
        except ValueError:
            return "Write the day as year-month-day, such as 2026-01-31, with a time if you like."
    return ""


def _changes(shown: LogPage, typed: Mapping[str, str]) -> list[Change]:
    """Return the changes of the survey that a file's form asks for."""
    job, changes = shown.job, []
    placement = typed.get("placement", "")
    if not placement:
        instrument = typed.get("instrument") or _free_id(job, "instrument", typed["new_instrument"])
        if not typed.get("instrument"):
            changes.append(Change(path=_end(job, "instrument"), value={"id": instrument}))
        zone = typed.get("zone", "") if typed["air_side"] in IN_A_ZONE else ""
        placement = _free_id(job, "placement", f"{instrument}-{zone or typed['air_side']}")
        entry = {"id": placement, "instrument": instrument, "air_side": typed["air_side"], "zone": zone}
        entry |= {key: typed.get(key, "").strip() for key in ("since", "until")}
        changes.append(Change(path=_end(job, "placement"), value={key: one for key, one in entry.items() if one}))
    others = {key: value for key, value in shown.entry.items() if key not in STATED}
    value = others | {"file": shown.log.name, "placement": placement} | _stated(typed)
    changes.append(Change(path=("log", shown.number), value=value))
    return changes


def _end(job: OpenJob, section: str) -> Path:
    return (section, len(_tables(job, section)))


def _free_id(job: OpenJob, section: str, name: str) -> str:
    return new_id(name, [str(one.get("id")) for one in _tables(job, section)])


def move(request: Request) -> Response:
    """Set a file aside, or take it back; nothing is deleted."""
    shown = _opened(request, "")
    if shown.log.set_aside_at is None:
        set_aside_log(request.app.state.store, shown.log.id, role_of(request))
    else:
        take_back_log(request.app.state.store, shown.log.id)
    return RedirectResponse(f"/job/{shown.job.id}/readings", 303)


ROUTES = [
    Route("/job/{job}/readings/file/{file}", show),
    Route("/job/{job}/readings/file/{file}", keep, methods=["POST"]),
    Route("/job/{job}/readings/file/{file}/move", move, methods=["POST"]),
]
