"""The bytes of a logo: its kind, its size, drawn once on trial; runs where strangers' bytes are read."""

import re
import struct
from typing import Any

import typst

from ingest.apart.wire import Bytes, Message
from ingest.errors import UnreadableFile
from ingest.neutral import neutral

MOST_PIXELS = 4000
_FRAMES = {0xC0, 0xC1, 0xC2, 0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF}
"""Marks of a JPEG that its size stands behind: ITU-T T.81, table B.1, start of frame."""
_SMALLEST = b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><rect width="9" height="9"/></svg>'
_REFERENCE = r"""(?:href|src)\s*=\s*["']\s*(?!#|data:image/(?:png|jpeg))[^"'\s]"""
_MORE_THAN_A_DRAWING = re.compile(
    rf"<script|<!ENTITY|<foreignObject|\son\w+\s*=|{_REFERENCE}|@import|url\(\s*['\"]?http", re.IGNORECASE
)
_fonts = typst.Fonts(include_system_fonts=False)


def prepare(need: str) -> None:  # noqa: ARG001  # nothing beyond the usual
    """Load what drawing loads at its first use."""
    _draw(_SMALLEST, "")


def answer(question: dict[str, Any], content: Bytes) -> Message:
    """Media type of a sound logo, as ``mime``.

    Raises
    ------
    UnreadableFile : none of the kinds, too many pixels, damaged, or an SVG that is more than a drawing.
    """
    name, picture = str(question["name"]), bytes(content)
    mime = _kind(picture, name)
    _draw(picture, name)
    return Message({"mime": mime})


def _kind(content: bytes, name: str) -> str:
    if content.startswith(b"\x89PNG\r\n\x1a\n") and len(content) > 32:
        width, height = struct.unpack(">II", content[16:24])
        _check_size(width, height, name)
        return "image/png"
    if content.startswith(b"\xff\xd8\xff"):
        _check_size(*_size_of_jpeg(content, name), name)
        return "image/jpeg"
    head = content[:1000].lstrip(b"\xef\xbb\xbf \t\r\n")
    if head.startswith((b"<svg", b"<?xml", b"<!--")) and b"<svg" in content[:4000]:
        _check_svg(content, name)
        return "image/svg+xml"
    raise UnreadableFile(f"Logo {name}: not a PNG, JPEG or SVG picture. Save it as one of these.")


def _size_of_jpeg(content: bytes, name: str) -> tuple[int, int]:
    """Width and height as the frame states them."""
    at = 2
    while at + 9 <= len(content) and content[at] == 0xFF:
        mark, length = content[at + 1], int.from_bytes(content[at + 2 : at + 4])
        if mark in _FRAMES:
            height, width = struct.unpack(">HH", content[at + 5 : at + 9])
            return width, height
        at += 2 + max(length, 2)
    raise UnreadableFile(f"Logo {name}: the JPEG does not say how large it is. Save it again, or as PNG.")


def _check_size(width: int, height: int, name: str) -> None:
    if max(width, height) > MOST_PIXELS or min(width, height) < 1:
        raise UnreadableFile(
            f"Logo {name}: {width} × {height} pixels. Expected at most {MOST_PIXELS} a side; save it smaller."
        )


def _check_svg(content: bytes, name: str) -> None:
    outside = _MORE_THAN_A_DRAWING.search(content.decode("utf-8", errors="replace"))
    if outside:
        raise UnreadableFile(
            f"Logo {name}: the SVG holds {neutral(outside.group(0)).strip()!r}. Expected a plain drawing "
            "without scripts, entities or outside references; save it as plain SVG or as PNG."
        )


def _draw(content: bytes, name: str) -> None:
    """Set the picture as the brief would: what breaks the setter breaks it here."""
    figures = ",".join(map(str, content))
    page = f"#set page(width: 3cm, height: 3cm)\n#image(bytes(({figures},)), width: 1cm)"
    try:
        typst.Compiler(page.encode(), font_paths=_fonts).compile(format="pdf")
    except typst.TypstError as error:
        raise UnreadableFile(
            f"Logo {name}: it cannot be drawn ({neutral(str(error)[:200])}). Expected an undamaged PNG, JPEG "
            "or SVG picture; save it again."
        ) from None
