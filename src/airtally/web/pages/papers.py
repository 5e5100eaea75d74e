"""The papers of a job: what each is for, on which size of paper, and what is missing for them."""

from __future__ import annotations

import re
import unicodedata

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from airtally.report.papers import PAPERS, paper_of, paper_pdf
from airtally.report.pdf import Size
from airtally.store.records import record_of
from airtally.web.find import job_of
from airtally.web.pages.answers import when_kept
from airtally.web.render import page

SIZES: dict[str, tuple[Size, str]] = {"a4": ("a4", "A4"), "letter": ("us-letter", "US Letter")}
"""Size and words by the end of the address."""
LONGEST = 60


def show(request: Request) -> Response:
    """List the papers with their files, or say what is missing for them."""
    job = job_of(request)
    kept = record_of(request.app.state.store, job.id)
    data = {
        "papers": PAPERS if kept is not None else (),
        "sizes": {size: words for size, (_, words) in SIZES.items()},
        "is_current": kept is not None and kept.is_current,
        "kept_when": when_kept(kept, job.time_zone),
    }
    return page(request, "papers.html", title="Papers", job=job, here="papers", data=data)


def paper(request: Request) -> Response:
    """Return one paper as a file to keep."""
    job = job_of(request)
    kept = record_of(request.app.state.store, job.id)
    name, size = request.path_params["name"], request.path_params["size"]
    if kept is None or size not in SIZES or name not in {one.name for one in PAPERS}:
        raise HTTPException(404)
    texts = request.app.state.texts.of(kept.record)
    content = paper_pdf(kept.record, name, paper=SIZES[size][0], texts=texts)
    file = f"{plain_name(job.name)}-{paper_of(name).title.lower().replace(' ', '-')}-{size}.pdf"
    headers = {"content-disposition": f'attachment; filename="{file}"', "cache-control": "no-store"}
    return Response(content, media_type="application/pdf", headers=headers)


def plain_name(name: str) -> str:
    """Return a job's name as part of a file's name: small letters, digits and hyphens, ``job`` if none is left."""
    letters = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", letters).strip("-")[:LONGEST].strip("-") or "job"


ROUTES = [
    Route("/job/{job}/papers", show),
    Route("/job/{job}/papers/{name:str}-{size}.pdf", paper),
]
