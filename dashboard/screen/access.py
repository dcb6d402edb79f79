"""Who may do what: roles by e-mail from a TOML file, and links for donors. Nothing here shows anything.

Without a roles file the dashboard belongs to the machine that it runs on, and whoever sits there may do all.
With one, people sign in by OpenID Connect, and the file says what each of them may do. A link for donors
carries its own permission, signed and dated: it opens the case and nothing else.
"""

import base64
import hmac
import os
import tomllib
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any, Literal

from ingest.errors import WrongUsage

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
    people : role by e-mail, in lower case.
    hours : how long a sign-in holds. [h]
    donors_since : links for donors that were made before this moment no longer open.
    """

    sign_in: dict[str, str]
    people: dict[str, str]
    hours: float = 12.0
    donors_since: datetime = field(default_factory=lambda: datetime(2000, 1, 1, tzinfo=UTC))

    def person(self, claims: dict[str, Any], moment: datetime) -> Person | str:
        """The signed-in person, or why they may not in.

        Parameters
        ----------
        claims : of the ID token, whose signature, issuer, audience and age were checked at sign-in.
        moment : the present, with time zone.
        """
        email = str(claims.get("email") or "").strip().lower()
        if not email:
            return (
                "Your sign-in tells no e-mail address. Ask whoever runs the sign-in to let it be passed on."
            )
        if claims.get("email_verified") is False:
            return "Your e-mail address is not confirmed. Confirm it where you signed in, then sign in again."
        signed = claims.get("iat")
        if not isinstance(signed, int | float) or moment.timestamp() - signed > self.hours * 3600:
            return "Your sign-in has run out. Sign in again."
        role = self.people.get(email)
        if role is None:
            return f"{email} has no role here. Ask the people who run this dashboard to add you."
        return Person(email, role)


def load(path: Path) -> Roles:
    """Read a roles file.

    Raises
    ------
    WrongUsage : it is not there, is no TOML, or lacks something; the message says what and where.
    """
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise WrongUsage(f"'{path}': the roles file cannot be read ({error.strerror}).") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise WrongUsage(f"'{path}' is not TOML: {error}. {_EXAMPLE}") from None
    section = content.get("sign_in", {})
    people = {str(k).strip().lower(): str(v) for k, v in content.get("roles", {}).items()}
    for email, role in people.items():
        if role not in MAY:
            raise WrongUsage(
                f"'{path}', [roles]: '{role}' of {email} is no role. Expected one of: {', '.join(MAY)}."
            )
    if not people:
        raise WrongUsage(f"'{path}' gives nobody a role. Put people under [roles]. {_EXAMPLE}")
    hours = section.get("hours", 12)
    if not isinstance(hours, int | float) or hours <= 0:
        raise WrongUsage(f"'{path}', [sign_in] hours: '{hours}' is no number of hours. Write hours = 12.")
    since = content.get("donors", {}).get("links_since", datetime(2000, 1, 1, tzinfo=UTC))
    if not isinstance(since, datetime):
        raise WrongUsage(f"'{path}', [donors] links_since: expected a date and time, 2026-05-01T00:00:00Z.")
    return Roles(
        _sign_in(path, section), people, float(hours), since if since.tzinfo else since.replace(tzinfo=UTC)
    )


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
    """The roles that this server was started with, read again each time so that a change holds at once."""
    path = os.environ.get(ROLES_VARIABLE)
    return load(Path(path)) if path else None


def donor_token(roles: Roles, made: datetime, days: int) -> str:
    """What a link for donors carries: when it was made, when it ends, and the signature of both."""
    body = f"{int(made.timestamp())}.{int((made + timedelta(days=days)).timestamp())}"
    return f"{body}.{_signature(roles, body)}"


def donor_may_look(roles: Roles, token: str, moment: datetime) -> bool:
    """Whether a link for donors is genuine, not run out and not called back."""
    body, _, signature = token.rpartition(".")
    if not hmac.compare_digest(signature.encode(), _signature(roles, body).encode()):
        return False
    made, ends = (int(part) for part in body.split("."))
    return max(made, roles.donors_since.timestamp()) == made and made <= moment.timestamp() < ends


def _signature(roles: Roles, body: str) -> str:
    # A key of its own, derived from the cookie secret: a link can never be passed off as a session.
    key = hmac.digest(roles.sign_in["cookie_secret"].encode(), b"milesleft link for donors", "sha256")
    return base64.urlsafe_b64encode(hmac.new(key, body.encode(), sha256).digest()).decode().rstrip("=")
