"""The websocket between a page and its session: each message, either way, passes only by right."""

import re
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from urllib.parse import parse_qs

from google.protobuf.message import DecodeError
from starlette.types import Message, Receive, Send
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

from dashboard.gate.bounds import KB, Bounds
from dashboard.gate.sessions import Sessions
from dashboard.gate.standing import Standing
from dashboard.screen.address import SHARE
from ingest.errors import UserError

REFUSED, TOO_BIG = 1008, 1009  # RFC 6455, 7.4.1: policy violation, message too big

# What a browser may send at all. Not: emptying everybody's cache, asking about the source code, settings.
_RUN, _FILES, _DOWNLOAD = "rerun_script", "file_urls_request", "backend_operation_request"
_ANYBODY = frozenset({_RUN, "stop_script", "app_heartbeat"})
_READER = _ANYBODY | {_DOWNLOAD}
# Of what is done without running the page: files and more rows of a table. Streamlit also sets itself up.
_DONE = ("deferred_file", "dataframe_chunk")
_MEDIA = re.compile(rb"/media/([0-9a-f]+\.?\w*)")

_PROGRAM = b"app.py"
"""Stands in what Streamlit says when a page begins: the path of its main script."""

StandingNow = Callable[[str], Standing]


class Socket:
    """One websocket, between the server and Streamlit.

    Parameters
    ----------
    first : who was at the other end when it was opened.
    standing_now : who is at the other end at this moment, given a token of a link for donors.
    """

    def __init__(
        self,
        receive: Receive,
        send: Send,
        *,
        first: Standing,
        standing_now: StandingNow,
        sessions: Sessions,
        bounds: Bounds,
    ) -> None:
        self._receive, self._send = receive, send
        self._standing_now, self._sessions, self._bounds = standing_now, sessions, bounds
        self._first = first
        self._token = ""
        self.sign_in, self.has_role = self._first.sign_in, bool(self._first.who.role)
        self.session = ""
        self.over = False

    async def receive(self) -> Message:
        """The next message from the browser that may pass; its end where one may not."""
        while True:
            message = await self._receive()
            if message["type"] != "websocket.receive":
                return message
            if not self.over:
                passes = await self._passes(message.get("bytes") or b"")
                if passes:
                    return message
            if self.over:
                return {"type": "websocket.disconnect", "code": REFUSED}

    async def send(self, message: Message) -> None:
        """A message to the browser, if whoever is there may still see it."""
        if message["type"] == "websocket.send":
            content = message.get("bytes") or b""
            if (begun := _begun(content)) is not None:
                self._name(begun)
                content = begun.SerializeToString()
                message = {**message, "bytes": content}
            if not self.over and self.has_role and self._now() is None:
                await self.close()
            if self.over:
                return
            if self.session and not self.has_role:
                for found in _MEDIA.findall(content):
                    self._sessions.told(self.session, found.decode())
        if message["type"] == "websocket.close" and self.over:
            return
        await self._send(message)

    async def close(self, code: int = REFUSED) -> None:
        """End it: nothing passes any more."""
        if not self.over:
            self.over = True
            if self.session:
                self._sessions.end(self.session)
            with suppress(RuntimeError, OSError):  # it may have ended by itself
                await self._send({"type": "websocket.close", "code": code})

    async def _passes(self, content: bytes) -> bool:
        """Whether a message from the browser goes on to Streamlit; ends the socket where it must not."""
        role = self.has_role
        most = self._bounds.with_role_kb if role else self._bounds.without_role_kb
        if len(content) > most * KB:
            await self.close(TOO_BIG)
            return False
        asked = BackMsg()
        try:
            asked.ParseFromString(content)
        except DecodeError:
            await self.close()
            return False
        kind = asked.WhichOneof("type")
        if kind == _RUN:
            shown = parse_qs(asked.rerun_script.query_string.lstrip("?")).get(SHARE, [""])
            self._token = shown[0]
        now = self._now()
        fragment = kind == _RUN and bool(asked.rerun_script.fragment_id)
        reader = now is not None and bool(role or now.token)
        # A part of a page is made anew without asking who is there, and so is a file: it is asked here.
        if now is None or (not reader and (fragment or kind == _DOWNLOAD)):
            await self.close()
            return False
        if kind == _DOWNLOAD and asked.backend_operation_request.WhichOneof("payload") not in _DONE:
            return False
        if kind == _FILES:
            return now.who.may("add")
        return kind in (_READER if reader else _ANYBODY)

    def _now(self) -> Standing | None:
        """Who is at the other end now; None if they may do something else than when the page was opened.

        The page must be opened anew then: what stands on it was made for somebody with another role.
        """
        try:
            now = self._standing_now(self._token)
        except UserError:
            return None
        before = self._first
        return (
            now if (now.who, now.sign_in, now.ended) == (before.who, before.sign_in, before.ended) else None
        )

    def _name(self, begun: ForwardMsg) -> None:
        """Learn the name of the session, which Streamlit tells the browser when a page begins."""
        if not self.session:
            self.session = begun.new_session.initialize.session_id
            self._sessions.opened(self.session, self._first.sign_in)


def _begun(content: bytes) -> ForwardMsg | None:
    """What Streamlit says when a page begins, without where this machine keeps the program; None for all
    else. A page needs the path for nothing but its own memory, which every name serves."""
    if _PROGRAM not in content:
        return None
    told = ForwardMsg()
    with suppress(DecodeError):
        told.ParseFromString(content)
    if told.WhichOneof("type") != "new_session":
        return None
    told.new_session.main_script_path = Path(told.new_session.main_script_path).name
    return told
