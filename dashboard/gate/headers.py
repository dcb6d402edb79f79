"""What every answer tells the browser: what a page may load, and who may show it in a frame."""

import base64
from hashlib import sha256
from pathlib import Path

Header = tuple[bytes, bytes]

# What Streamlit's pages need beyond files of this server. Each exception by the part that needs it:
#   script-src sha256-…   the one inline script of its index.html, by its hash
#   script-src blob:      the scripts of our own elements (drawing, ranked list), which it hands on as blobs
#   style-src unsafe-inline  its components write their styles into the page, and so do the charts
#   img-src, font-src data:  the icon of the page and pictures within style sheets
#   worker-src blob:      the table draws in a worker
# The charts are drawn by vega's interpreter, which needs no 'unsafe-eval'.
_PAGE = (
    ("default-src", "'none'"),
    ("script-src", "'self' blob: {scripts}"),
    ("style-src", "'self' 'unsafe-inline'"),
    ("img-src", "'self' data: blob:"),
    ("font-src", "'self' data:"),
    ("connect-src", "'self'"),
    ("worker-src", "'self' blob:"),
    ("manifest-src", "'self'"),
    ("base-uri", "'none'"),
    ("form-action", "'self'"),
    ("frame-ancestors", "{frames}"),
)
# Pictures that were just taken are shown from memory (blob:); nothing stands within the page itself.
_PIT = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
    "worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_FILE = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox; frame-ancestors 'none'"


def for_pages(index: Path, shown_in: tuple[str, ...]) -> list[Header]:
    """Headers of pages and all that belongs to them.

    Parameters
    ----------
    index : Streamlit's page, whose inline scripts are allowed by their hashes.
    shown_in : sites that may show the dashboard in a frame.
    """
    inline = [part.partition("</script>")[0] for part in index.read_text("utf-8").split("<script>")[1:]]
    hashes = [sha256(each.encode()).digest() for each in inline]
    scripts = " ".join(f"'sha256-{base64.b64encode(each).decode()}'" for each in hashes)
    frames = " ".join(shown_in) or "'none'"
    policy = "; ".join(f"{name} {value}" for name, value in _PAGE).format(scripts=scripts, frames=frames)
    shut = [] if shown_in else [(b"x-frame-options", b"DENY")]
    return [*_common(policy), *shut]


def for_pit() -> list[Header]:
    """Headers of the page for readings at the engine: scripts and styles of its own files, nothing else."""
    return [*_common(_PIT), (b"x-frame-options", b"DENY")]


def for_files() -> list[Header]:
    """Headers of files that hold the railway's data: they run nothing, and no cache keeps them."""
    return [*_common(_FILE), (b"x-frame-options", b"DENY"), (b"cache-control", b"no-store")]


def _common(policy: str) -> list[Header]:
    return [
        (b"content-security-policy", policy.encode()),
        (b"x-content-type-options", b"nosniff"),
        (b"referrer-policy", b"same-origin"),  # the address holds the token of a link for donors
        (b"cross-origin-resource-policy", b"same-origin"),
    ]


def with_ours(told: list[Header], ours: list[Header], *, secure: bool) -> list[Header]:
    """The headers of an answer, ours in place of others; cookies for HTTPS only if ``secure``."""
    names = {name for name, _ in ours} | {b"server"}
    kept = [(name, value) for name, value in told if name.lower() not in names]
    if secure:
        kept = [(n, _secure(v) if n.lower() == b"set-cookie" else v) for n, v in kept]
    return [*kept, *ours]


def _secure(cookie: bytes) -> bytes:
    marks = {part.strip().lower() for part in cookie.split(b";")[1:]}
    return cookie if b"secure" in marks else cookie + b"; Secure"
