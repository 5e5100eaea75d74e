"""Photos of a place of the survey: added, shown with what they show, set aside and taken back."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any
from urllib.parse import quote
from uuid import UUID

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from airtally.errors import InputError
from airtally.store.models import Photo
from airtally.store.photos import add_photo, photo_bytes, photo_type, photos_of, set_aside_photo, take_back_photo
from airtally.web.find import OpenJob, job_of, role_of
from airtally.web.plain_photo import plain_photo
from airtally.web.survey.keep import Sheet
from airtally.web.survey.places import SECTION, Group, entries_of, title_of


def photos_on(request: Request, job: OpenJob, group: Group, sheet: Sheet) -> dict[str, Any]:
    """Return the photos of a page of the form, and the places that a new one may show."""
    store = request.app.state.store
    places = places_of(group, sheet)
    known = dict(places)
    shown = [one for one in photos_of(store, job.id) if one.place.partition("/")[0] in group.sections]
    aside = [
        one for one in photos_of(store, job.id, are_set_aside=True) if str(one.id) == request.query_params.get("photo")
    ]
    return {
        "photos": [(one, known.get(one.place, one.place)) for one in shown],
        "places": places,
        "photo_aside": aside[0] if aside else None,
    }


def places_of(group: Group, sheet: Sheet) -> list[tuple[str, str]]:
    """Return (place as the store keeps it, its name) of what stands on a page: entries with an id, else the section."""
    places = []
    for path in group.sections:
        entries = entries_of(sheet.survey, SECTION[path])
        named = [(f"{path}/{one.table['id']}", one.title) for one in entries if isinstance(one.table.get("id"), str)]
        places += named if named and path != "home" else [(path, title_of(SECTION[path]))]
    return places


async def add(request: Request) -> Response:
    """Keep a photo without its position and go back to its page."""
    async with request.form() as form:
        file = form.get("photo")
        content = await file.read() if isinstance(file, UploadFile) else b""
        name = file.filename if isinstance(file, UploadFile) and file.filename else "photo"
        words = {key: str(form.get(key, "")) for key in ("place", "note", "post")}
    return await run_in_threadpool(_add, request, name, content, words)


def _add(request: Request, name: str, content: bytes, words: dict[str, str]) -> Response:
    job, group = job_of(request), request.path_params["group"]
    back = f"/job/{job.id}/survey/{group}"
    if not content:
        return RedirectResponse(f"{back}?said=No photo was chosen; nothing was kept.#photos", 303)
    try:
        note, place = words["note"].strip(), words["place"]
        if place.partition("/")[0] not in SECTION:
            raise InputError("Choose what the photo shows.")  # noqa: TRY301
        picture = f"{PurePath(name).stem}.jpg"
        add_photo(
            request.app.state.store, job.id, picture, plain_photo(content), place, note, role_of(request), words["post"]
        )
    except InputError as error:
        return RedirectResponse(f"{back}?said={quote('The photo was not kept. ' + str(error))}#photos", 303)
    return RedirectResponse(f"{back}?said=The photo is kept, without its position.#photos", 303)


def show(request: Request) -> Response:
    """Give a photo's picture."""
    photo = _photo(request)
    content = photo_bytes(request.app.state.store, photo.digest)
    headers = {"cache-control": "private, max-age=31536000, immutable", "content-security-policy": "default-src 'none'"}
    return Response(content, media_type=photo_type(content), headers=headers)


async def move(request: Request) -> Response:
    """Set a photo aside, or take it back."""
    form = await request.form()
    return await run_in_threadpool(_move, request, str(form.get("do")), str(form.get("back")))


def _move(request: Request, do: str, back: str) -> Response:
    store, photo = request.app.state.store, _photo(request)
    page = f"/job/{photo.job_id}/survey/{back if back.replace('-', '').isalpha() else ''}"
    if do == "take back":
        take_back_photo(store, photo.id)
        return RedirectResponse(f"{page}?said=The photo is back.#photos", 303)
    set_aside_photo(store, photo.id, role_of(request))
    return RedirectResponse(f"{page}?photo={photo.id}#photos", 303)


def _photo(request: Request) -> Photo:
    job, store = job_of(request), request.app.state.store
    try:
        wanted = UUID(request.path_params["photo"])
    except ValueError:
        raise HTTPException(404) from None
    every = (*photos_of(store, job.id), *photos_of(store, job.id, are_set_aside=True))
    found = next((one for one in every if one.id == wanted), None)
    if found is None:
        raise HTTPException(404)
    return found


ROUTES = [
    Route("/job/{job}/survey/{group}/photos", add, methods=["POST"]),
    Route("/job/{job}/photos/{photo}", show),
    Route("/job/{job}/photos/{photo}", move, methods=["POST"]),
]
