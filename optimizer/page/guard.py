"""The guard before every page: host, origin, session and size, and what a browser may do.

Against a name that is bound anew to this machine stands the list of hosts; against posts from
other sites the origin and a cookie that goes with no request of theirs; against what a file may
hold the policy that only scripts and styles of this server run.
"""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING

from starlette.responses import HTMLResponse, RedirectResponse, Response

from optimizer.page.doors import Doors
from optimizer.page.shown import filled

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: bytes of a form, and of a form with a file
MOST_FORM, MOST_UPLOAD = 64_000, 10_500_000
#: letters of an address
MOST_PATH = 2_000
METHODS = ("GET", "HEAD", "POST")

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"same-origin"),  # without any, a form would not say where it is from
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)


class TooLarge(Exception):  # noqa: N818 - a finding to report, not a failure
    """A body that is larger than may be."""


class Guard:
    """Let through what comes from a browser with a session, and nothing else."""

    def __init__(self, app: ASGIApp, doors: Doors) -> None:
        """Stand before an application."""
        self.app = app
        self.doors = doors

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it in one sentence."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                said = {name.lower() for name, _ in message["headers"]}
                extra = [(name, value) for name, value in HEADERS if name not in said]
                message = {**message, "headers": [*message["headers"], *extra]}
            await send(message)

        refused = self._refused(scope)
        if refused is not None:
            await refused(scope, receive, guarded)
            return
        most = MOST_UPLOAD if scope["path"].endswith("/upload") else MOST_FORM
        started = False

        async def telling(message: Message) -> None:
            nonlocal started
            started = True
            await guarded(message)

        try:
            await self.app(scope, _counted(receive, most), telling)
        except TooLarge:
            if not started:
                await _too_large(most)(scope, receive, guarded)

    def _refused(self, scope: Scope) -> Response | None:
        """Return the refusal of a request, or the way in; None where it may pass."""
        names = [name for name, _ in scope["headers"]]
        headers = {n.decode("latin-1"): v.decode("latin-1") for n, v in scope["headers"]}
        host = headers.get("host", "")
        if host not in self.doors.hosts or names.count(b"host") != 1:
            return _say(421, "This address is not served here.", "Open the one that was printed.")
        if scope["method"] not in METHODS:
            return _say(405, "This cannot be asked here.", "Use the buttons of the page.")
        if len(scope["path"]) + len(scope["query_string"]) > MOST_PATH:
            return _say(414, "This address is too long.", "Use the buttons of the page.")
        if scope["method"] == "POST" and not _of_this_site(headers, host):
            return _say(403, "This came from another site, so nothing was done.", "")
        length = headers.get("content-length", "0")
        most = MOST_UPLOAD if scope["path"].endswith("/upload") else MOST_FORM
        if not (length.isascii() and length.isdigit()) or int(length[:20]) > most:
            return _too_large(most)
        if scope["path"] == "/enter":
            return self._enter(scope, headers)
        if not self.doors.known(_cookie(headers.get("cookie", ""), self.doors.cookie)):
            return _say(
                403,
                "This page opens with its key alone.",
                "Open the address that the terminal printed, or scan the code that it or the page "
                "on the other machine shows. Each code opens once.",
            )
        return None

    def _enter(self, scope: Scope, headers: dict[str, str]) -> Response:
        from urllib.parse import parse_qs

        if self.doors.known(_cookie(headers.get("cookie", ""), self.doors.cookie)):
            return RedirectResponse("/", 303)
        key = parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])[0]
        peer = (scope.get("client") or ("", 0))[0]
        token = self.doors.enter(key, peer) if scope["method"] == "GET" else None
        if token is None:
            return _say(
                403,
                "This key does not open: it was used, or is of another start.",
                "Scan the code that the page on the other machine shows now.",
            )
        answer = RedirectResponse("/", 303)
        answer.set_cookie(self.doors.cookie, token, httponly=True, samesite="strict")
        return answer


def _of_this_site(headers: dict[str, str], host: str) -> bool:
    """Whether a post comes from a page of this server."""
    origin = headers.get("origin")
    if origin is not None:
        return origin == f"http://{host}"
    return headers.get("sec-fetch-site") == "same-origin"


def _cookie(header: str, name: str) -> str:
    try:
        found = SimpleCookie(header).get(name)
    except CookieError:
        return ""
    return found.value if found else ""


def _counted(receive: Receive, most: int) -> Receive:
    """Stop reading a body once it is larger than may be, whatever its header said."""
    seen = 0

    async def counting() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > most:
            raise TooLarge
        return message

    return counting


def _too_large(most: int) -> Response:
    return _say(413, f"This is more than {most / 1e6:.2g} MB.", "Save the table alone, as CSV.")


def _say(status: int, what: str, remedy: str) -> HTMLResponse:
    return HTMLResponse(filled("refusal", {"what": what, "remedy": remedy}), status)
