"""The one place that every request and every websocket passes before the framework sees it."""

import logging
from collections.abc import Mapping
from contextlib import suppress
from urllib.parse import parse_qs

from starlette.datastructures import Headers
from starlette.requests import ClientDisconnect, HTTPConnection
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboard.gate import headers
from dashboard.gate.bounds import Bounds
from dashboard.gate.hosts import Names, same_place
from dashboard.gate.sessions import Sessions, runtime, stored_uploads
from dashboard.gate.sockets import REFUSED, Socket
from dashboard.gate.standing import DONOR_COOKIE, SignIns, Standing, without_sign_in
from dashboard.gate.uploads import TooMuch, Uploads
from dashboard.gate.ways import Way, allows, upload_parts, way
from dashboard.pit.routes import STANDING
from dashboard.screen.address import SHARE
from ingest.errors import UserError

LOG = logging.getLogger("milesleft.gate")
AWAY = "This dashboard cannot tell at the moment who may do what. Ask the people who run it."


class Refused(Exception):
    """A request that does not pass: the status and what is said."""

    def __init__(self, status: int, says: str) -> None:
        super().__init__(says)
        self.status, self.says = status, says


class Gate:
    """ASGI middleware that stands before everything else.

    Parameters
    ----------
    names : the host names that this server answers to.
    base : path under which all is served; empty for the root.
    for_pages : headers of pages, ``headers.for_pages``.
    secure : people reach the server over HTTPS, so cookies are for HTTPS only.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        names: Names,
        bounds: Bounds,
        base: str,
        for_pages: list[headers.Header],
        secure: bool,
    ) -> None:
        self._app, self._names, self._bounds, self._base, self._secure = app, names, bounds, base, secure
        self._headers = {
            Way.MEDIA: headers.for_files(),
            Way.PIT_PAGE: headers.for_pit(),
            Way.PIT: headers.for_pit(),
        }
        self._for_pages = for_pages
        self._sign_ins, self._uploads = SignIns(), Uploads(bounds)
        self._sessions = Sessions(bounds.kept_s)
        self._open: set[Socket] = set()
        self._said = ""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            await self._request(scope, receive, send)
        elif scope["type"] == "websocket":
            await self._websocket(scope, receive, send)
        else:
            await self._app(scope, receive, send)

    async def _request(self, scope: Scope, receive: Receive, send: Send) -> None:
        taken = way(scope["path"], self._base)
        ours = self._headers.get(taken, self._for_pages)
        cookies: list[headers.Header] = []

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                told = [*message.get("headers", []), *cookies]
                message["headers"] = headers.with_ours(told, ours, secure=self._secure)
            await send(message)

        try:
            standing = self._asked(scope, taken)
            if taken is Way.SIGN_OUT:
                await self._sign_out(HTTPConnection(scope).cookies)
            if taken is Way.SHELL and standing.token:
                cookies.append(self._donor_cookie(standing.token))
            if standing.ended:
                scope = {**scope, "headers": without_sign_in(scope["headers"])}
            if taken is Way.PIT:
                scope = {**scope, STANDING: standing}
            if taken is Way.UPLOAD and scope["method"] == "PUT":
                await self._upload(scope, receive, dressed)
            else:
                await self._app(scope, receive, dressed)
        except ClientDisconnect:
            pass  # gone in the middle of a file: there is nobody to answer
        except Refused as refused:
            await PlainTextResponse(refused.says + "\n", refused.status)(scope, receive, dressed)

    def _asked(self, scope: Scope, taken: Way) -> Standing:
        """Who asks, if what is asked for is open to them."""
        told = Headers(scope=scope)
        host, origin = told.get("host", ""), told.get("origin")
        if not self._names.answers(host):
            raise Refused(
                400, "This server has another name. Ask the people who run it to add yours with --host."
            )
        if taken in (Way.SHUT, Way.STREAM):
            raise Refused(404, "There is nothing here.")
        if not allows(taken, scope["method"]):
            raise Refused(405, "This cannot be done here.")
        if (origin is not None and not same_place(origin, host)) or not _own_fetch(told, taken):
            raise Refused(403, "Another site asked for this.")
        standing = self._standing(scope)
        reader = bool(standing.who.may("look") or standing.token)
        if taken is Way.PARTS and not reader:
            raise Refused(403, "Sign in to see this.")
        if taken is Way.MEDIA and not standing.who.may("look"):
            told_of = bool(standing.token) and self._sessions.was_told(scope["path"].rsplit("/", 1)[-1])
            if not told_of:
                raise Refused(403, "Sign in to see this.")
        if taken is Way.PIT:
            _must_add(standing, posts=scope["method"] == "POST", origin=origin)
        if taken is Way.UPLOAD:
            session, _ = upload_parts(scope["path"])
            if origin is None or not standing.who.may("add"):
                raise Refused(403, "Your role here does not hand files in.")
            if not self._sessions.is_of(session, standing.sign_in):
                raise Refused(403, "This page is no longer open. Open it again.")
        return standing

    def _standing(self, scope: Scope) -> Standing:
        asked = HTTPConnection(scope)
        try:
            return self._sign_ins.standing(asked.cookies, _token(asked.url.query))
        except UserError as error:
            if str(error) != self._said:  # said once, and not for every request
                LOG.error("%s", error)
                self._said = str(error)
            raise Refused(503, AWAY) from None

    async def _upload(self, scope: Scope, receive: Receive, send: Send) -> None:
        """A file on its way in: its length is told first, and room is held for it."""
        told = Headers(scope=scope)
        length = told.get("content-length", "")
        if not length.isdecimal() or "transfer-encoding" in told:  # in pieces it may become any length
            raise Refused(411, "A file is taken in only when its length is told first.")
        session, file = upload_parts(scope["path"])
        try:
            with self._uploads.room_for(session, file, int(length), stored_uploads()):
                await self._app(scope, receive, send)
        except TooMuch as error:
            raise Refused(413, str(error)) from None

    async def _sign_out(self, cookies: Mapping[str, str]) -> None:
        """End the sign-in here: copies of its cookie are worth nothing, and its pages close."""
        name = self._sign_ins.end(cookies)
        if name:
            for socket in [each for each in self._open if each.sign_in == name]:
                await socket.close()
            for session in self._sessions.of_sign_in(name):
                self._sessions.end(session)

    def _donor_cookie(self, token: str) -> headers.Header:
        path = self._base or "/"
        return b"set-cookie", f"{DONOR_COOKIE}={token}; Path={path}; HttpOnly; SameSite=Lax".encode()

    async def _websocket(self, scope: Scope, receive: Receive, send: Send) -> None:
        told = Headers(scope=scope)
        host, origin = told.get("host", ""), told.get("origin", "")
        ours = self._names.answers(host) and same_place(origin, host)
        standing = None
        if ours and way(scope["path"], self._base) is Way.STREAM:
            with suppress(Refused):
                standing = self._standing(scope)
        if standing is None or self._full(standing):
            await send({"type": "websocket.close", "code": REFUSED})
            return
        cookies = HTTPConnection(scope).cookies
        if standing.ended:
            scope = {**scope, "headers": without_sign_in(scope["headers"])}
        socket = Socket(
            receive,
            send,
            first=standing,
            standing_now=lambda token: self._sign_ins.standing(cookies, token),
            sessions=self._sessions,
            bounds=self._bounds,
        )
        self._open.add(socket)
        try:
            await self._app(scope, socket.receive, socket.send)
        finally:
            self._open.discard(socket)
            if socket.session and not runtime().is_active_session(socket.session):
                self._sessions.left(socket.session)

    def _full(self, standing: Standing) -> bool:
        """Whether as many pages are open as may be: those of people with a role are counted by themselves."""
        role = bool(standing.who.role)
        most = self._bounds.with_role if role else self._bounds.without_role
        return sum(each.has_role == role for each in self._open) >= most


def _must_add(standing: Standing, *, posts: bool, origin: str | None) -> None:
    """Readings at the engine are for who may add; they are sent by a page of ours, which says that it is."""
    if not standing.who.role:
        raise Refused(401, "Sign in to take readings.")
    if not standing.who.may("add"):
        raise Refused(403, "Your role here does not take readings.")
    if posts and origin is None:
        raise Refused(403, "Another site asked for this.")


def _token(query: str) -> str:
    return parse_qs(query).get(SHARE, [""])[0]


def _own_fetch(told: Headers, taken: Way) -> bool:
    """Whether the browser says that a page of ours asks, or that a person follows a link to a page.

    Browsers tell by Fetch Metadata (W3C) since 2020-23; who does not tell is judged by the other questions.
    """
    if told.get("sec-fetch-site", "none") in ("none", "same-origin"):
        return True
    return told.get("sec-fetch-mode") == "navigate" and taken in (Way.SHELL, Way.SIGN_IN, Way.PIT_PAGE)
