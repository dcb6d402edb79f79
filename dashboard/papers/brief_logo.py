"""The railway's own logo: a picture file checked before it goes into a brief."""

import re
import struct
from dataclasses import dataclass
from pathlib import Path

from ingest.errors import UnreadableFile

MOST_BYTES = 2_000_000
MOST_PIXELS = 4000


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
            f"Logo {path}: {reason}. Expected a PNG, JPEG or SVG file; check the name."
        ) from None
    if len(content) > MOST_BYTES:
        raise UnreadableFile(f"Logo {path}: more than 2 MB. Expected at most 2 MB; save it smaller.")
    return check_logo(content, str(path))


def check_logo(content: bytes, name: str) -> Logo:
    """Check the bytes of a logo, wherever they came from; raises as :func:`read_logo`."""
    if content.startswith(b"\x89PNG\r\n\x1a\n") and len(content) > 32:
        width, height = struct.unpack(">II", content[16:24])
        _check_size(width, height, name)
        return Logo(content, "image/png", "logo.png")
    if content.startswith(b"\xff\xd8\xff"):
        return Logo(content, "image/jpeg", "logo.jpg")
    head = content[:1000].lstrip(b"\xef\xbb\xbf \t\r\n")
    if head.startswith((b"<svg", b"<?xml", b"<!--")) and b"<svg" in content[:4000]:
        return _check_svg(content, name)
    raise UnreadableFile(f"Logo {name}: not a PNG, JPEG or SVG picture. Save it as one of these.")


def _check_size(width: int, height: int, name: str) -> None:
    if max(width, height) > MOST_PIXELS or min(width, height) < 1:
        raise UnreadableFile(
            f"Logo {name}: {width} × {height} pixels. Expected at most {MOST_PIXELS} a side; save it smaller."
        )


def _check_svg(content: bytes, name: str) -> Logo:
    text = content.decode("utf-8", errors="replace")
    reference = r"""(?:href|src)\s*=\s*["']\s*(?!#|data:image/(?:png|jpeg))[^"'\s]"""
    outside = re.search(
        rf"<script|<!ENTITY|<foreignObject|\son\w+\s*=|{reference}|@import|url\(\s*['\"]?http", text, re.I
    )
    if outside:
        raise UnreadableFile(
            f"Logo {name}: the SVG holds {outside.group(0).strip()!r}. Expected a plain drawing without "
            "scripts, entities or outside references; save it as plain SVG or as PNG."
        )
    return Logo(content, "image/svg+xml", "logo.svg")
