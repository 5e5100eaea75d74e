"""A tablet gives the code that the server printed, once."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from airtally.web.access import PAIRED
from airtally.web.render import page


async def pair(request: Request) -> Response:
    """Ask for the code, or take it."""
    access = request.app.state.access
    trouble = ""
    if request.method == "POST":
        form = await request.form()
        if access.gives(str(form.get("code", ""))):
            answer = RedirectResponse("/", 303)
            answer.set_cookie(PAIRED, access.token, httponly=True, samesite="lax", max_age=14 * 24 * 3600)
            return answer
        trouble = "That is not the code on the laptop's screen. After twenty wrong ones start the server again."
    status = 422 if trouble else 200
    return page(request, "pair.html", title="Pair this device", status=status, data={"trouble": trouble})


ROUTES = [Route("/pair", pair, methods=["GET", "POST"])]
