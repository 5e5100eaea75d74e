"""Who may reach the pages: known hosts, same origin for every change, a pairing code for a tablet, a strict policy."""

from __future__ import annotations

import hmac
import secrets
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
PAIRED = "airtally_paired"
"""Cookie of a tablet that gave the code."""
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
CODE_DIGITS = 8
LARGEST_UPLOAD = 200 * 1024 * 1024
"""[bytes]"""
MOST_TRIES = 20
"""Wrong codes after which a server takes no more until it is started again: a code is no password."""


class Access:
    """What a running server lets in; it counts wrong codes.

    Parameters
    ----------
    hosts : tuple of str
        Host names, without port, that requests may name.
    code : str
        Pairing code that a device other than this one gives once; empty where no other device is served.
    largest_upload : int
        Largest body taken. [bytes]
    """

    def __init__(
        self, *, hosts: tuple[str, ...] = LOOPBACK, code: str = "", largest_upload: int = LARGEST_UPLOAD
    ) -> None:
        self.hosts = hosts
        self.code = code
        self.largest_upload = largest_upload
        self.token = secrets.token_urlsafe(24)
        self.wrong = 0

    def is_paired(self, request: Request) -> bool:
        """Return whether the request comes from this machine or from a device that gave the code."""
        if not self.code or is_loopback(request):
            return True
        return hmac.compare_digest(request.cookies.get(PAIRED, ""), self.token)

    def gives(self, code: str) -> bool:
        """Return whether the code is right; wrong ones are counted."""
        if self.wrong >= MOST_TRIES:
            return False
        is_right = bool(self.code) and hmac.compare_digest(code.strip().replace(" ", "").encode(), self.code.encode())
        self.wrong += not is_right
        return is_right


def new_code() -> str:
    """Return a pairing code of digits."""
    return "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS))


def is_loopback(request: Request) -> bool:
    """Return whether the client is on this machine."""
    return request.client is not None and request.client.host in ("127.0.0.1", "::1", "testclient")


class Guard:
    """Middleware: refuses unknown hosts, changes from other origins, unpaired devices and bodies past the limit."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self.app = app
        self.access = access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        refusal = self._refusal(request)
        if refusal is not None:
            await refusal(scope, receive, send)
            return
        keeps = "max-age=31536000, immutable" if _is_lasting(request) else "no-store"
        await self.app(scope, self._limited(receive), _with_policy(send, keeps))

    def _refusal(self, request: Request) -> PlainTextResponse | RedirectResponse | None:
        host = host_name(request.headers.get("host", ""))
        if host not in self.access.hosts:
            return PlainTextResponse("This server is not called so; open it by a name it was started for.", 400)
        if request.method not in ("GET", "HEAD") and not is_same_origin(request.headers):
            return PlainTextResponse("A change must come from airtally's own pages; nothing was changed.", 403)
        length = request.headers.get("content-length", "0")
        if not length.isdigit() or int(length) > self.access.largest_upload:
            limit = self.access.largest_upload // (1024 * 1024)
            return PlainTextResponse(f"Larger than {limit} MB, which is the most taken at once; nothing was kept.", 413)
        is_open = request.url.path == "/pair" or request.url.path.startswith("/assets/")
        if not is_open and not self.access.is_paired(request):
            return RedirectResponse("/pair", 303)
        return None

    def _limited(self, receive: Receive) -> Receive:
        taken = 0

        async def limited() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > self.access.largest_upload:  # a body sent in pieces names no length
                return {"type": "http.disconnect"}
            return message

        return limited


def _is_lasting(request: Request) -> bool:
    """Return whether a request is for a file that does not change: a font, or an asset with its digest behind it."""
    path = request.url.path
    return path.startswith("/assets/fonts/") or (path.startswith("/assets/") and bool(request.url.query))


def _with_policy(send: Send, keeps: str) -> Send:
    async def answer(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers["content-security-policy"] = POLICY
            headers["x-content-type-options"] = "nosniff"
            headers["referrer-policy"] = "same-origin"
            headers["cross-origin-opener-policy"] = "same-origin"
            headers.setdefault("cache-control", keeps if message["status"] == 200 else "no-store")
        await send(message)

    return answer


def host_name(host: str) -> str:
    """Return a Host header without its port, in lower case."""
    try:
        parts = urlsplit(f"//{host}")
        name = parts.hostname or ""
    except ValueError:
        return ""
    return f"[{name}]" if ":" in name else name


def is_same_origin(headers: Headers) -> bool:
    """Return whether a change comes from a page of this server.

    Browsers say so in Sec-Fetch-Site on trustworthy origins; over plain http to a name on the hotspot they send Origin
    alone. A request with neither is refused.
    """
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = headers.get("origin")
    return origin is not None and urlsplit(origin).netloc == headers.get("host")
