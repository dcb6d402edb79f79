"""Who may do what: roles by e-mail from a TOML file, and links for donors. Nothing here shows anything.

Without a roles file the dashboard belongs to the machine that it runs on, and whoever sits there may do all.
With one, people sign in by OpenID Connect, and the file says what each of them may do. A link for donors
carries its own permission, signed and dated: it opens the case and nothing else.
"""

import base64
import hmac
import math
import os
import re
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any, Literal

from ingest.errors import WrongUsage
from ingest.neutral import quoted, toml_of

Act = Literal["look", "add", "plan", "all"]

MAY: dict[str, frozenset[str]] = {
    "look": frozenset({"look"}),
    "add": frozenset({"look", "add"}),
    "plan": frozenset({"look", "plan"}),
    "all": frozenset({"look", "add", "plan", "all"}),
}
"""What each role may do: look at everything, add and mend data, make forecasts and plans, give links away."""

ROLES_VARIABLE, COOKIE_VARIABLE, CLIENT_VARIABLE = (
    "MILESLEFT_ROLES",
    "MILESLEFT_COOKIE_SECRET",
    "MILESLEFT_CLIENT_SECRET",
)
SHORTEST_SECRET = 32
CLOCKS_APART_S = 300.0
"""How far the provider's clock may be ahead of this machine's (practice: Kerberos allows as much). [s]"""
SUBJECT = "sub:"
"""What stands before a provider's own name for a person, in place of an e-mail address, under [roles]."""
_ADDRESS = re.compile(r"[!-?A-~]+@[!-?A-~]+")  # visible ASCII with one @
_EXAMPLE = 'See "Who may do what" in README.md for an example.'


@dataclass(frozen=True)
class Person:
    """Who is there: what changes are signed with, and what this person may do."""

    name: str
    role: str

    def may(self, act: Act) -> bool:
        """Whether the role allows it."""
        return act in MAY.get(self.role, frozenset())


@dataclass(frozen=True)
class Roles:
    """The roles file, read and checked.

    Attributes
    ----------
    sign_in : what Streamlit's sign-in needs, as its ``auth`` section.
    people : role by e-mail as ``address_key`` spells it, or by ``sub:`` and the provider's own name.
    never_says_verified : the provider is known to leave ``email_verified`` out, and to vouch all the same.
    hours : how long a sign-in holds. [h]
    signed_out : sign-ins of this person before this moment no longer hold: a phone was lost.
    donors_since : links for donors that were made before this moment no longer open.
    """

    sign_in: dict[str, str]
    people: dict[str, str]
    never_says_verified: bool = False
    hours: float = 12.0
    signed_out: dict[str, datetime] = field(default_factory=dict)
    donors_since: datetime = field(default_factory=lambda: datetime(2000, 1, 1, tzinfo=UTC))

    def person(self, claims: dict[str, Any], moment: datetime) -> Person | str:
        """The signed-in person, or why they may not in.

        Parameters
        ----------
        claims : of the ID token, whose signature, issuer, audience and age were checked at sign-in.
        moment : the present, with time zone.
        """
        signed = claims.get("iat")
        age = moment.timestamp() - signed if isinstance(signed, int | float) else math.nan
        if not -CLOCKS_APART_S <= age <= self.hours * 3600:
            return "Your sign-in has run out. Sign in again."
        email, problem = self._vouched(claims)
        subject = claims.get("sub")
        role = self.people.get(SUBJECT + subject) if isinstance(subject, str) else None
        names = [email, f"{SUBJECT}{subject}"]
        at = float(signed) if isinstance(signed, int | float) else 0.0
        if any(at < self.signed_out[name].timestamp() for name in names if name in self.signed_out):
            return "Your sign-in was ended by the people who run this dashboard. Sign in again."
        if role is not None:
            return Person(email or f"{SUBJECT}{subject}", role)
        if problem:
            return problem
        role = self.people.get(email)
        if role is None:
            return f"{email} has no role here. Ask the people who run this dashboard to add you."
        return Person(email, role)

    def _vouched(self, claims: dict[str, Any]) -> tuple[str, str]:
        """The address that the provider vouches for, or empty and why there is none."""
        told = claims.get("email")
        if not told:
            return "", (
                "Your sign-in tells no e-mail address. Ask whoever runs the sign-in to let it be passed on."
            )
        email = address_key(told)
        if email is None:
            return "", (
                "Your e-mail address has letters beyond plain ASCII, which can pass for others. Ask the "
                "people who run this dashboard to name you by 'sub:' instead."
            )
        said = "email_verified" in claims
        if claims.get("email_verified") is True or (not said and self.never_says_verified):
            return email, ""
        if said:
            return "", (
                "Your e-mail address is not confirmed. Confirm it where you signed in, then sign in again."
            )
        return "", (
            "Your sign-in does not say whether your e-mail address is confirmed. Ask the people who run this "
            "dashboard to name you by 'sub:' instead."
        )


def address_key(told: object) -> str | None:
    """The one spelling by which an e-mail address is compared: ASCII, in lower case.

    None for anything else. Unicode has letters that become others in lower case (the Kelvin sign U+212A
    becomes k) or look like them, so an address with such letters is nobody's.
    """
    return told.lower() if isinstance(told, str) and _ADDRESS.fullmatch(told) else None


def load(path: Path) -> Roles:
    """Read a roles file.

    Raises
    ------
    WrongUsage : it is not there, is no TOML, or lacks something; the message says what and where.
    """
    try:
        content = toml_of(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise WrongUsage(f"'{path}': the roles file cannot be read ({error.strerror}).") from None
    except ValueError as error:
        raise WrongUsage(f"'{path}' is not TOML: {error}. {_EXAMPLE}") from None
    names = ("sign_in", "roles", "donors", "signed_out")
    section, roles, donors, ended = (_table(path, content, name) for name in names)
    people = _people(path, roles)
    silent = section.get("provider_never_says_email_verified", False)
    if not isinstance(silent, bool):
        raise WrongUsage(
            f"'{path}', [sign_in] provider_never_says_email_verified: '{silent}' is neither true nor false."
        )
    hours = section.get("hours", 12)
    if isinstance(hours, bool) or not isinstance(hours, int | float) or not 0 < hours < math.inf:
        raise WrongUsage(f"'{path}', [sign_in] hours: '{hours}' is no number of hours. Write hours = 12.")
    since = _moment(donors.get("links_since", datetime(2000, 1, 1, tzinfo=UTC)), path, "[donors] links_since")
    return Roles(
        _sign_in(path, section),
        people,
        silent,
        float(hours),
        {
            who: _moment(when, path, "[signed_out]")
            for who, when in _known_by(path, ended, "signed_out").items()
        },
        since,
    )


def _moment(told: object, path: Path, where: str) -> datetime:
    if not isinstance(told, datetime):
        raise WrongUsage(f"'{path}', {where}: expected a date and time, 2026-05-01T00:00:00Z.")
    return told if told.tzinfo else told.replace(tzinfo=UTC)


def _table(path: Path, content: dict[str, Any], name: str) -> dict[str, Any]:
    found = content.get(name, {})
    if not isinstance(found, dict):
        raise WrongUsage(f"'{path}': {name} is no section. Write [{name}] on a line of its own. {_EXAMPLE}")
    return found


def _people(path: Path, roles: dict[str, Any]) -> dict[str, str]:
    """Role by person."""
    people = _known_by(path, roles, "roles")
    for place, role in enumerate(people.values(), start=1):
        if not isinstance(role, str) or role not in MAY:
            raise WrongUsage(
                f"'{path}', [roles], entry {place}: {quoted(str(role))} is no role. Expected one of: "
                f"{', '.join(MAY)}."
            )
    if not people:
        raise WrongUsage(f"'{path}' gives nobody a role. Put people under [roles]. {_EXAMPLE}")
    return people


def _known_by(path: Path, section: dict[str, Any], name: str) -> dict[str, Any]:
    """What a section says of each person, by the one spelling by which people are looked up.

    Messages count the entries and name nobody: they end in the log of the server.
    """
    people: dict[str, Any] = {}
    for place, (told, said) in enumerate(section.items(), start=1):
        where = f"'{path}', [{name}], entry {place}"
        who = told if told.startswith(SUBJECT) and told != SUBJECT else address_key(told)
        if who is None:
            raise WrongUsage(
                f"{where}: the name is no e-mail address in plain ASCII letters. Write it as the provider "
                f'tells it, or name the person by the provider\'s own name: "{SUBJECT}248289761001".'
            )
        if who in people:
            raise WrongUsage(f"{where}: this person is named further up already. Keep one of the two.")
        people[who] = said
    return people


def _sign_in(path: Path, section: dict[str, Any]) -> dict[str, str]:
    secrets = {
        "client_secret": os.environ.get(CLIENT_VARIABLE, section.get("client_secret", "")),
        "cookie_secret": os.environ.get(COOKIE_VARIABLE, section.get("cookie_secret", "")),
    }
    named = {name: str(section.get(name, "")) for name in ("provider", "client_id", "address")}
    for name, value in (named | secrets).items():
        if not value:
            raise WrongUsage(f"'{path}', [sign_in]: {name} is missing. {_EXAMPLE}")
    if len(secrets["cookie_secret"]) < SHORTEST_SECRET:
        raise WrongUsage(
            f"'{path}', [sign_in] cookie_secret has {len(secrets['cookie_secret'])} characters; "
            f"at least {SHORTEST_SECRET} are needed, from a random generator."
        )
    return {
        "redirect_uri": named["address"].rstrip("/") + "/oauth2callback",
        "client_id": named["client_id"],
        "server_metadata_url": named["provider"],
        **secrets,
    }


def roles_in_use() -> Roles | None:
    """The roles that this server was started with, looked at each time so that a change holds at once."""
    path = os.environ.get(ROLES_VARIABLE)
    return _loaded(Path(path)) if path else None


def _loaded(path: Path) -> Roles:
    """As ``load``, but read only when the file has changed: it is asked for with every message."""
    try:
        found = path.stat()
    except OSError as error:
        raise WrongUsage(f"'{path}': the roles file cannot be read ({error.strerror}).") from None
    mark = (found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns)
    known, roles = _last.get(str(path), (None, None))
    if roles is None or known != mark or found.st_mtime_ns > time.time_ns() - _SETTLED_NS:
        roles = load(path)
        _last[str(path)] = mark, roles
    return roles


_last: dict[str, tuple[object, Roles]] = {}
_SETTLED_NS = 2 * 10**9  # file systems tell times coarsely: what was written just now may be written again


def donor_token(roles: Roles, made: datetime, days: int) -> str:
    """What a link for donors carries: when it was made, when it ends, and the signature of both."""
    body = f"{int(made.timestamp())}.{int((made + timedelta(days=days)).timestamp())}"
    return f"{body}.{_signature(roles, body)}"


def donor_may_look(roles: Roles, token: str, moment: datetime) -> bool:
    """Whether a link for donors is genuine, not run out and not called back."""
    return donor_link(roles, token, moment) == "open"


def donor_link(roles: Roles, token: str, moment: datetime) -> Literal["open", "ended", "unknown"]:
    """Whether a link for donors opens, has ended (run out or called back), or is none of ours."""
    body, _, signature = token.rpartition(".")
    if not token.isascii() or not hmac.compare_digest(signature, _signature(roles, body)):
        return "unknown"
    made, ends = (int(part) for part in body.split("."))
    called_back = made < roles.donors_since.timestamp()
    return "open" if not called_back and made <= moment.timestamp() < ends else "ended"


def _signature(roles: Roles, body: str) -> str:
    # A key of its own, derived from the cookie secret: a link can never be passed off as a session.
    key = hmac.digest(roles.sign_in["cookie_secret"].encode(), b"milesleft link for donors", "sha256")
    return base64.urlsafe_b64encode(hmac.new(key, body.encode(), sha256).digest()).decode().rstrip("=")
