"""Whether bytes are a picture as we draw one: a JPEG of one scan that holds nothing but the picture.

Who drew it read foreign bytes and may have been taken over by them; what it gives is kept and shown to
others. Marks and segments are those of ITU-T T.81, annex B, and of JFIF 1.02.
"""

import re

LONGEST_SIDE = 1_600
"""Pixels: a crack is seen, and a hundred pictures of a store are some 30 MB."""

_START, _END = b"\xff\xd8", b"\xff\xd9"
_SIZE, _SCAN, _JFIF = 0xC0, 0xDA, 0xE0
_KNOWN = {0xC4, 0xDB, _SIZE, _SCAN, _JFIF}  # with tables of codes and of steps; no place for words or devices
_ANY_MARK = re.compile(rb"\xff[^\x00]")
_JFIF_LENGTH = 16  # bytes, without a small picture inside


def is_plain_jpeg(content: bytes | bytearray | memoryview, longest: int = LONGEST_SIDE) -> bool:
    """Whether it is one, of at most `longest` pixels a side, with nothing before, between or behind."""
    content = bytes(content)
    if not (content.startswith(_START) and content.endswith(_END)):
        return False
    at, sizes = len(_START), 0
    while at + 4 <= len(content):
        mark, length = content[at + 1], int.from_bytes(content[at + 2 : at + 4], "big")
        inside = content[at + 4 : at + 2 + length]
        if content[at] != 0xFF or mark not in _KNOWN or len(inside) != length - 2:
            return False
        at += 2 + length
        if mark == _JFIF and not (length == _JFIF_LENGTH and inside.startswith(b"JFIF\0")):
            return False
        if mark == _SIZE:
            sizes += 1
            height, width = (int.from_bytes(inside[place : place + 2], "big") for place in (1, 3))
            if not (0 < height <= longest and 0 < width <= longest):
                return False
        if mark == _SCAN:
            return sizes == 1 and _ANY_MARK.search(content, at, len(content) - len(_END)) is None
    return False
