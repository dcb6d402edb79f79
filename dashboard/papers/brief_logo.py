"""The railway's own logo: a picture file checked before it goes into a brief."""

from dataclasses import dataclass
from pathlib import Path

from ingest.apart.host import read_apart
from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.neutral import quoted, quoted_path

MOST_BYTES = 2_000_000
KIND = "dashboard.papers.logo_bytes"
"""Who looks at it, in a process of its own."""
_MOST_SAID = 10_000
"""Bytes of an answer: it says of which kind the picture is."""
_NAMES = {"image/png": "logo.png", "image/jpeg": "logo.jpg", "image/svg+xml": "logo.svg"}


@dataclass(frozen=True)
class Logo:
    """A checked picture: its bytes, media type and the name that it gets beside the brief."""

    content: bytes
    mime: str
    file_name: str


def read_logo(path: Path) -> Logo:
    """Read a PNG, JPEG or SVG file.

    Raises
    ------
    UnreadableFile : missing, larger than 2 MB or 4000 pixels a side, none of these kinds, or an SVG that
        holds a script, outside references or entities.
    """
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as error:
        reason = (error.strerror or "it cannot be read").lower()
        raise UnreadableFile(
            f"Logo {quoted_path(path)}: {reason}. Expected a PNG, JPEG or SVG file; check the name."
        ) from None
    if len(content) > MOST_BYTES:
        raise UnreadableFile(
            f"Logo {quoted_path(path)}: more than 2 MB. Expected at most 2 MB; save it smaller."
        )
    return check_logo(content, path.name)


def check_logo(content: bytes, name: str) -> Logo:
    """Check the bytes of a logo, wherever they came from; raises as :func:`read_logo`."""
    seconds = bound("apart", "seconds_of_a_picture")
    answer = read_apart(
        KIND, content, name=name, advice="Save it as PNG.", seconds=seconds, most_bytes=_MOST_SAID
    ).header
    mime = str(answer.get("mime"))
    if mime not in _NAMES:
        raise UnreadableFile(f"Logo {quoted(name)}: it cannot be drawn. Save it as PNG.")
    return Logo(content, mime, _NAMES[mime])
