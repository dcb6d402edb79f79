"""Every way in, by its address: who may take it. What is not listed is shut."""

from enum import Enum

from dashboard.pit.routes import PIT

UPLOAD, STREAM = "_stcore/upload_file", "_stcore/stream"


class Way(Enum):
    """What an address leads to."""

    SHELL = "the page without any data in it, and its scripts"
    SIGN_IN = "to the provider and back"
    SIGN_OUT = "the end of a sign-in"
    MEDIA = "what was made for somebody to download or see"
    PARTS = "scripts and styles of elements that a page is made of"
    UPLOAD = "a file handed in"
    PIT_PAGE = "the page for readings at the engine, without any data in it, and its scripts"
    PIT = "what that page is given, and what it sends"
    STREAM = "the websocket through which a page gets all its data"
    SHUT = "nobody's"


# Streamlit's metrics, its agent API, its script check and whatever it may grow are not listed.
_CORE = {
    "_stcore/health": Way.SHELL,
    "_stcore/host-config": Way.SHELL,
    STREAM: Way.STREAM,
}
_FIRST = {
    "media": Way.MEDIA,
    "component": Way.PARTS,
    "app": Way.SHUT,
    "oauth2callback": Way.SIGN_IN,
}
_METHODS = {
    Way.UPLOAD: ("PUT", "DELETE"),
    Way.PIT: ("GET", "POST"),
    Way.SHUT: (),
    Way.STREAM: (),
}


def way(path: str, base: str) -> Way:
    """What a decoded path leads to.

    Parameters
    ----------
    path : of the request, as Streamlit's own routes compare it.
    base : path under which all is served: ``/milesleft``; empty for the root.
    """
    if "\\" in path or "//" in path or "\0" in path or ".." in path.split("/"):
        return Way.SHUT
    if path != base and not path.startswith(f"{base}/"):
        return Way.SHUT
    inner = path[len(base) :].strip("/")
    parts = inner.split("/")
    if parts[:2] == UPLOAD.split("/"):
        return Way.UPLOAD if len(parts) == 4 else Way.SHUT
    if parts[:2] == ["_stcore", "bidi-components"]:
        return Way.PARTS
    if "_stcore" in parts:
        return _CORE.get(inner, Way.SHUT)
    if parts[0] == PIT:
        return Way.PIT if parts[1:2] == ["api"] else Way.PIT_PAGE
    if parts[0] == "auth":
        return {"auth/login": Way.SIGN_IN, "auth/logout": Way.SIGN_OUT}.get(inner, Way.SHUT)
    return _FIRST.get(parts[0], Way.SHELL)


def upload_parts(path: str) -> tuple[str, str]:
    """Session and name of the file in the path of an upload."""
    session, file = path.rstrip("/").split("/")[-2:]
    return session, file


def allows(taken: Way, method: str) -> bool:
    """Whether a way is taken with this method of HTTP."""
    return method in _METHODS.get(taken, ("GET", "HEAD"))
