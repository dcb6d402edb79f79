"""Somebody who comes to a server without a browser: requests and websockets as they choose."""

import contextlib
import json
import socket as _socket
import time
import uuid

import httpx
from itsdangerous import URLSafeTimedSerializer
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

COOKIE_SECRET = "0123456789abcdef0123456789abcdef"
USER_COOKIE = "_streamlit_user"


def cookie_of(claims, origin, secret=COOKIE_SECRET, name=USER_COOKIE, signed_at=None, **more):
    """The cookie that the server gives after a sign-in, made without one."""
    told = {"origin": origin, "is_logged_in": True, "provider": "default"} | claims | more
    signer = URLSafeTimedSerializer(secret, salt=name)
    if signed_at is not None:
        made = signer.make_signer(name)
        made.get_timestamp = lambda: int(signed_at)
        signer.make_signer = lambda salt: made
    return signer.dumps(json.dumps(told))


def claims_of(who, **changes):
    """What a provider tells of a person."""
    told = {
        "email": who,
        "email_verified": True,
        "sub": f"id-of-{who}",
        "iat": int(time.time()),
    }
    return {k: v for k, v in (told | {"nonce": uuid.uuid4().hex} | changes).items() if v != "left out"}


class Visitor:
    """Sends what it likes under a host name, from an origin, with cookies."""

    def __init__(self, address, *, home=None, cookies=None):
        self.address = address
        self.home = home or "/".join(address.split("/")[:3])
        self.host = self.home.split("://")[1]
        self.cookies = dict(cookies or {})

    def request(self, method, path, *, origin="", host=None, headers=None, content=None, cookies=None):
        told = {"Host": host or self.host, **(headers or {})}
        if origin != "":
            told["Origin"] = origin
        jar = self.cookies if cookies is None else cookies
        if jar:
            told["Cookie"] = "; ".join(f"{name}={value}" for name, value in jar.items()).encode("latin-1")
        # A connection of its own, and nothing remembered from one request to the next.
        with httpx.Client(transport=httpx.HTTPTransport(verify=False), trust_env=False, timeout=20) as client:
            return client.request(method, self.address + path, headers=told, content=content)

    def get(self, path, **more):
        return self.request("GET", path, **more)

    def with_token(self):
        """Fetch the token that Streamlit wants back, as its pages do."""
        for told in self.get("/_stcore/health").headers.get_list("set-cookie"):
            name, _, rest = told.partition("=")
            self.cookies[name] = rest.split(";")[0]
        return self.cookies.get("_streamlit_xsrf", "")

    def put(self, session, content, *, name="a.csv", file=None, origin=None, headers=None):
        """Hand a file in as a page does."""
        token = self.with_token()
        mark = "mark"
        body = (
            f'--{mark}\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n'
            "Content-Type: text/csv\r\n\r\n"
        ).encode() + content
        body += f"\r\n--{mark}--\r\n".encode()
        told = {
            "Content-Type": f"multipart/form-data; boundary={mark}",
            "X-Xsrftoken": token,
            **(headers or {}),
        }
        path = f"/_stcore/upload_file/{session}/{file or uuid.uuid4()}"
        return self.request(
            "PUT", path, origin=self.home if origin is None else origin, headers=told, content=body
        )

    @contextlib.contextmanager
    def socket(self, *, origin=None, host=None, session="", path="/_stcore/stream"):
        """Open the websocket of a page."""
        token = self.with_token()
        told = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if origin is None:
            origin = self.home
        parts = self.address.split("/")[2].split(":")
        line = _socket.create_connection((parts[0], int(parts[1])))
        with (
            contextlib.closing(line),
            connect(
                f"ws://{host or self.host}{path}",
                sock=line,
                origin=origin or None,
                additional_headers=told,
                subprotocols=["streamlit", token or "none", *([session] if session else [])],
                max_size=None,
                open_timeout=20,
                compression=None,
                proxy=None,
                user_agent_header=None,
            ) as opened,
        ):
            yield Page(opened)


class Page:
    """A page as its websocket sees it."""

    def __init__(self, socket):
        self.socket = socket
        self.session, self.page, self.query = "", "", ""
        self.content = b""
        self.fragments, self.files, self.buttons, self.uploaders = [], {}, {}, {}

    def run(self, page="", query="", wait=True, **more):
        """Run the page, and read what it shows until it has ended."""
        self.page, self.query = page, query
        asked = BackMsg()
        asked.rerun_script.query_string = query
        asked.rerun_script.page_name = page
        for name, value in more.items():
            setattr(asked.rerun_script, name, value)
        self.say(asked)
        return self.read() if wait else None

    def say(self, message):
        self.socket.send(message.SerializeToString())

    def read(self, until="script_finished", timeout=180.0):
        """All messages up to one of a kind; the last of them."""
        self.content = b""
        ends = time.monotonic() + timeout
        while True:
            content = self.socket.recv(timeout=max(0.05, ends - time.monotonic()))
            self.content += content
            told = ForwardMsg()
            told.ParseFromString(content)
            kind = told.WhichOneof("type")
            if kind == "new_session":
                self.session = told.new_session.initialize.session_id
            if kind == "delta":
                self._learn(told.delta)
            if kind == until:
                return told

    def _learn(self, delta):
        if delta.fragment_id and delta.fragment_id not in self.fragments:
            self.fragments.append(delta.fragment_id)
        made = delta.new_element
        if made.download_button.deferred_file_id:
            self.files[made.download_button.label] = made.download_button.deferred_file_id
        if made.button.id:
            self.buttons[made.button.label] = made.button.id
        if made.file_uploader.id:
            self.uploaders[made.file_uploader.label] = made.file_uploader.id

    def press(self, label, **chosen):
        """Press a button, with files chosen as for :meth:`choose`; leave what comes of it to be read."""
        asked = self._with_files(chosen)
        state = asked.rerun_script.widget_states.widgets.add()
        state.id, state.trigger_value = self.buttons[label], True
        self.say(asked)

    def choose(self, **chosen):
        """Say which files were handed in where: label of the place = those that :meth:`Visitor.put` sent,
        as (its own mark, name, size); read what the page then shows."""
        self.say(self._with_files(chosen))
        return self.read()

    def _with_files(self, chosen):
        asked = BackMsg()
        asked.rerun_script.page_name, asked.rerun_script.query_string = self.page, self.query
        for label, files in chosen.items():
            state = asked.rerun_script.widget_states.widgets.add()
            state.id = self.uploaders[label]
            for mark, name, size in files:
                told = state.file_uploader_state_value.uploaded_file_info.add()
                told.file_id, told.name, told.size = mark, name, size
                told.file_urls.file_id = mark
        return asked

    def shows(self, text):
        return text.encode() in self.content

    def download(self, label, timeout=45.0):
        """Ask for a file that is made when it is asked for; its path."""
        asked = BackMsg()
        asked.backend_operation_request.request_id = uuid.uuid4().hex
        asked.backend_operation_request.session_id = self.session
        asked.backend_operation_request.deferred_file.file_id = self.files[label]
        self.say(asked)
        told = self.read("backend_operation_response", timeout)
        return told.backend_operation_response.deferred_file.url

    def ended(self, timeout=15.0):
        """Wait until the server has closed it; the code that it gave."""
        ends = time.monotonic() + timeout
        try:
            while True:
                self.socket.recv(timeout=max(0.05, ends - time.monotonic()))
        except ConnectionClosed as closed:
            return closed.rcvd.code if closed.rcvd else 1006
