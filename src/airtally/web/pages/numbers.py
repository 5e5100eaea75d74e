"""Every number of a record with basis and source, and its tables as files for a spreadsheet."""

from __future__ import annotations

from itertools import groupby

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from airtally.report.tables import TABLES
from airtally.store.records import record_of
from airtally.web.find import job_of
from airtally.web.pages.answers import when_kept
from airtally.web.pages.papers import plain_name
from airtally.web.render import page


def numbers(request: Request) -> Response:
    """Show every number of the record, by the part of the record it stands in."""
    job = job_of(request)
    kept = record_of(request.app.state.store, job.id)
    rows = request.app.state.texts.of(kept.record)["appendix"]["numbers"] if kept is not None else []
    data = {
        "groups": [
            (part, [(row[0].partition(", ")[2] or part, *row[1:]) for row in group])
            for part, group in groupby(rows, key=lambda row: str(row[0].partition(", ")[0]))
        ],
        "tables": TABLES.values(),
        "is_current": kept is not None and kept.is_current,
        "kept_when": when_kept(kept, job.time_zone),
    }
    return page(request, "numbers.html", title="Every number", job=job, data=data)


def table(request: Request) -> Response:
    """Return one table of the record as comma-separated values."""
    job = job_of(request)
    kept = record_of(request.app.state.store, job.id)
    found = TABLES.get(request.path_params["name"])
    if kept is None or found is None:
        raise HTTPException(404)
    headers = {"content-disposition": f'attachment; filename="{plain_name(job.name)}-{found.name}.csv"'}
    return Response(found.text(kept.record.document), media_type="text/csv; charset=utf-8", headers=headers)


ROUTES = [
    Route("/job/{job}/numbers", numbers),
    Route("/job/{job}/tables/{name}.csv", table),
]
