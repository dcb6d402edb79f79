"""What there is to know of the page at the engine before one stands there."""

from urllib.parse import urlsplit

HERE = ("localhost", "127.0.0.1", "::1")
"""Names of this very machine, to which browsers give what else needs HTTPS (W3C, Secure Contexts, 3.1)."""
HOW = {
    "Put it on the home screen": (
        "Open the address once where there is a connection, signed in. Then, on Android: the browser's menu, "
        "*Install app* or *Add to home screen*. On an iPhone: the share button, *Add to Home Screen*. Open "
        "it from there once more, choose the engine, and it is ready for the pit."
    ),
    "What becomes of a reading": (
        "It lies on the telephone until the server has confirmed it by its own number; nothing is lost or "
        "stored twice, whatever is switched off meanwhile. The button at the top says how many wait. Each "
        "sending is a batch of its own: on *Is this batch right?* one that was typed wrong is undone. What "
        "lies far from what was expected is asked for again, and two people's readings of one place both "
        "stand. Neither the last reading nor what is expected is shown before a number is typed."
    ),
    "What is due": (
        "What a batch questioned, what the plan says to measure first, and what was not read for a year. "
        "The round on the telephone and the printed one have the same places; *all places* can be chosen on "
        "both."
    ),
    "A telephone is lost": (
        "Write the moment of the loss beside the person under `[signed_out]` in the roles file: what was "
        "signed in before is shut out at once. What lies on it holds no forecast and no money, and ends with "
        "the sign-in; readings that were not sent yet stay on it and are not sent."
    ),
}
"""Answers by what people ask."""


def address_of(url: str | None) -> str:
    """Address of the page at the engine, from that of a page of the dashboard; empty where none is known."""
    if not url:
        return ""
    parts = urlsplit(url)
    base = (
        parts.path.rstrip("/").rpartition("/")[0]
        if parts.path.rstrip("/").endswith("/engine")
        else parts.path
    )
    return f"{parts.scheme}://{parts.netloc}{base.rstrip('/')}/pit/"


def keeps_for_offline(address: str) -> bool:
    """Whether browsers keep the page of an address for use without a connection."""
    return urlsplit(address).scheme == "https" or only_here(address)


def only_here(address: str) -> bool:
    """Whether an address is that of this very machine, which no other reaches by it."""
    return (urlsplit(address).hostname or "") in HERE
