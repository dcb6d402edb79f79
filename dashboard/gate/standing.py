"""Who sends a request, by the cookies that come with it, and which sign-ins have ended."""

import json
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any
from urllib.parse import urlsplit

from itsdangerous import BadSignature, URLSafeTimedSerializer
from streamlit.auth_util import get_cookie_with_chunks
from streamlit.web.server.starlette.starlette_app_utils import decode_signed_value
from streamlit.web.server.starlette.starlette_server_config import TOKENS_COOKIE_NAME, USER_COOKIE_NAME

from dashboard.screen.access import Person, Roles, donor_may_look, roles_in_use
from ingest.store.store import this_user

DONOR_COOKIE = "milesleft_share"
NOBODY = Person("", "")


@dataclass(frozen=True)
class Standing:
    """Who is asking.

    Attributes
    ----------
    who : the person, with the role that the roles file gives at this moment; ``NOBODY`` without one.
    sign_in : names the sign-in, one and the same for all that come with its cookie; empty without one.
    token : of a link for donors that holds at this moment; empty without one.
    ended : there is a cookie, but its sign-in has ended or is not this server's: nobody may read it.
    until : when the sign-in runs out; 0 where nobody signs in. [s since 1970]
    """

    who: Person = NOBODY
    sign_in: str = ""
    token: str = ""
    ended: bool = False
    until: float = 0.0


@dataclass
class SignIns:
    """What this server remembers of sign-ins: that some have ended.

    The cookie itself says for how long it is good, and a copy of it says the same. So an end is remembered
    here, and a cookie from before the server started counts as ended, because that memory began then.
    """

    began: float = field(default_factory=time.time)
    _ended: dict[str, float] = field(default_factory=dict)

    def standing(self, cookies: Mapping[str, str], token: str = "") -> Standing:
        """Who sends these cookies, and a token of a link for donors beside them.

        Raises
        ------
        WrongUsage : the roles file cannot be read at this moment; nobody may do anything then.
        """
        roles = roles_in_use()
        if roles is None:
            return Standing(Person(this_user(), "all"))
        now = datetime.now(UTC)
        shown = (token, cookies.get(DONOR_COOKIE, ""))
        good = next((each for each in shown if each and donor_may_look(roles, each, now)), "")
        payload = self._payload(cookies)
        if payload is None:
            return Standing(token=good, ended=USER_COOKIE_NAME in cookies)
        sign_in = sha256(payload).hexdigest()
        claims = _claims(payload, roles)
        if claims is None or sign_in in self._ended:
            return Standing(token=good, ended=True)
        found = roles.person(claims, now)
        if not isinstance(found, Person):
            return Standing(NOBODY, sign_in, good)
        return Standing(found, sign_in, good, until=float(claims["iat"]) + roles.hours * 3600)

    def end(self, cookies: Mapping[str, str]) -> str:
        """Remember that the sign-in of these cookies has ended; its name, empty if there is none."""
        payload = self._payload(cookies)
        if payload is None:
            return ""
        now = time.time()
        # Streamlit's cookies are good for 31 days at most: after that the end need not be remembered.
        self._ended = {name: since for name, since in self._ended.items() if now - since < 32 * 86400}
        name = sha256(payload).hexdigest()
        self._ended[name] = now
        return name

    def _payload(self, cookies: Mapping[str, str]) -> bytes | None:
        """What the cookie says, if this server signed it since it started."""
        from streamlit.web.server.server_util import get_cookie_secret

        secret = get_cookie_secret()

        def one(name: str) -> bytes | None:
            signed = cookies.get(name)
            if signed is None:
                return None
            value = decode_signed_value(secret, name, signed)
            if value is None or _signed_at(secret, name, signed) < int(self.began):
                return None
            return value

        return get_cookie_with_chunks(one, USER_COOKIE_NAME) if secret else None


def _signed_at(secret: str, name: str, signed: str) -> float:
    try:
        _, when = URLSafeTimedSerializer(secret, salt=name).loads(signed, return_timestamp=True)
    except (BadSignature, UnicodeError):
        return 0.0
    return float(when.timestamp())


def _claims(payload: bytes, roles: Roles) -> dict[str, Any] | None:
    """The claims in the cookie, if they were told for the address that the roles file names."""
    try:
        told = json.loads(payload)
    except ValueError:
        return None
    home = urlsplit(roles.sign_in["redirect_uri"])
    if not isinstance(told, dict) or told.get("origin") != f"{home.scheme}://{home.netloc}":
        return None
    return told if told.get("is_logged_in") is True else None


def without_sign_in(headers: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    """Headers of a request without the cookies of a sign-in that has ended."""
    kept = []
    for name, value in headers:
        if name == b"cookie":
            crumbs = [each for each in value.split(b";") if not _of_sign_in(each.split(b"=")[0].strip())]
            value = b";".join(crumbs)
        kept.append((name, value))
    return kept


def _of_sign_in(name: bytes) -> bool:
    return name.startswith((USER_COOKIE_NAME.encode(), TOKENS_COOKIE_NAME.encode()))
