"""The job that an address names, and who is at the gauge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from starlette.exceptions import HTTPException
from starlette.requests import Request

from airtally.errors import InputError
from airtally.store.edits import text_of
from airtally.store.engine import Store
from airtally.store.listing import job_line
from airtally.store.texts import tables_of

ROLES = ("technician", "lead", "office")
"""Who may have made an edit: a role, never a name; common practice, no source."""
ROLE = "airtally_role"
"""Cookie that keeps the role on this device."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenJob:
    """A job whose page is open: its survey as it stands, empty where the text cannot be read."""

    id: UUID
    name: str
    revision: int
    survey: dict[str, Any]
    fault: str
    """Why the survey cannot be read; empty if it can."""

    @property
    def is_invented(self) -> bool:
        """Return whether every page must say that the numbers are invented."""
        return self.survey.get("home", {}).get("is_invented") is True

    @property
    def time_zone(self) -> str:
        """Return the home's time zone, UTC until it is known."""
        return str(self.survey.get("home", {}).get("time_zone") or "UTC")


def job_of(request: Request) -> OpenJob:
    """Return the job of the address; an unknown one is a 404."""
    try:
        wanted = UUID(request.path_params["job"])
    except ValueError:
        raise HTTPException(404) from None
    return open_job(request.app.state.store, wanted)


def open_job(store: Store, wanted: UUID) -> OpenJob:
    """Return a job of the list with its survey."""
    try:
        line = job_line(store, wanted)
    except InputError:
        raise HTTPException(404) from None
    if line.set_aside_at is not None:
        raise HTTPException(404)
    text, revision = text_of(store, wanted, "survey")
    fault = line.faults.get("survey", "")
    survey = {} if fault else tables_of(text)
    return OpenJob(id=line.id, name=line.name, revision=revision, survey=survey, fault=fault)


def role_of(request: Request) -> str:
    """Return the role that this device works in."""
    role = request.cookies.get(ROLE, "")
    return role if role in ROLES else ROLES[0]
