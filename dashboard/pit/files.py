"""The page's own files: what a browser may ask for, of which kind, the version that they make."""

from functools import cache
from hashlib import sha256
from pathlib import Path

FOLDER = Path(__file__).with_name("static")
KINDS = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".webmanifest": "application/manifest+json",
    ".png": "image/png",
}
WORKER = "worker.js"
PAGES = {"": "pit.html", "desk": "desk.html"}
"""Page by the last part of its address."""
_VERSION, _FILES = b"{{version}}", b"{{files}}"


@cache
def contents() -> dict[str, bytes]:
    """Every file by its name; the worker knows the version and what it keeps."""
    found = {path.name: path.read_bytes() for path in sorted(FOLDER.iterdir()) if path.suffix in KINDS}
    version = sha256(b"\0".join(name.encode() + b"\0" + text for name, text in found.items())).hexdigest()[
        :16
    ]
    kept = [*PAGES, *(name for name in found if name not in (WORKER, *PAGES.values()))]
    worker = found[WORKER].replace(_VERSION, version.encode())
    found[WORKER] = worker.replace(_FILES, " ".join(f"./{name}" for name in kept).encode())
    return found


def media_type(name: str) -> str:
    """Media type of a file of ours."""
    return KINDS[Path(name).suffix]
