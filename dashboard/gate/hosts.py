"""Under which names the server answers, and whether a request was sent by one of its own pages."""

from dataclasses import dataclass
from ipaddress import ip_address
from urllib.parse import urlsplit

DEFAULT_PORTS = {"http": 80, "https": 443}


def is_loopback(address: str) -> bool:
    """Whether an address is reached from this machine only."""
    return address == "localhost" or (_is_number(address) and ip_address(address).is_loopback)


@dataclass(frozen=True)
class Names:
    """The names of this server.

    Attributes
    ----------
    told : host names that were told at the start, in lower case.
    by_number : it listens to other machines, so it is reached by its number too. Another site cannot pass off
        its own name as a number, so numbers need not be listed.
    """

    told: frozenset[str]
    by_number: bool

    def answers(self, host: str) -> bool:
        """Whether a ``Host`` header names this server: any other was made to lead here by somebody else."""
        name = _split(f"http://{host}")[0]
        if name is None:
            return False
        return is_loopback(name) or name in self.told or (self.by_number and _is_number(name))


def names_of(address: str, told: tuple[str, ...]) -> Names:
    """The names of a server that listens at an address and was told further names."""
    listed = {name.lower().rstrip(".") for name in told}
    if not _is_number(address):
        listed.add(address.lower())
    return Names(frozenset(listed), by_number=not is_loopback(address))


def same_place(origin: str, host: str) -> bool:
    """Whether a page's ``Origin`` is the place that its request was sent to, port included.

    Another port of the same machine is another place: whoever may run a page there is not hereby one of ours.
    """
    scheme = urlsplit(origin).scheme if origin.isascii() else ""
    if scheme not in DEFAULT_PORTS:
        return False
    sent, asked = _split(origin), _split(f"{scheme}://{host}")
    return sent[0] is not None and sent == asked


def _split(address: str) -> tuple[str | None, int | None]:
    """Host in lower case and port; (None, None) where the address is no plain scheme, host and port."""
    try:
        parts = urlsplit(address)
        port = parts.port
    except ValueError:
        return None, None
    if not parts.hostname or parts.username is not None or parts.path or parts.query or parts.fragment:
        return None, None
    return parts.hostname.rstrip("."), port or DEFAULT_PORTS.get(parts.scheme)


def _is_number(host: str) -> bool:
    try:
        ip_address(host.strip("[]"))
    except ValueError:
        return False
    return True
