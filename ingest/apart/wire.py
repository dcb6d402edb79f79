"""What passes between this process and the one that reads foreign bytes: a header in JSON, pieces of bytes.

Nothing of it is ever run or unpickled: who reads hostile bytes may have been taken over by them, and what it
sends is checked like any other foreign text.
"""

import json
import struct
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import IO, Any

Bytes = bytes | bytearray | memoryview

_HEAD = struct.Struct("<4sII")  # mark, bytes of the header, number of pieces
_LENGTH = struct.Struct("<Q")
_MARK = b"mla1"
_LONGEST_HEADER = 64_000_000
_MOST_PIECES = 100_000
TOO_LARGE = "too large"


class BadMessage(Exception):
    """What came is no message, ends too early, or is larger than is taken."""


@dataclass(frozen=True)
class Message:
    """``header``: what JSON can say; ``pieces``: bytes as they are."""

    header: dict[str, Any]
    pieces: Sequence[Bytes] = field(default_factory=tuple)


def send(stream: IO[bytes], message: Message) -> None:
    """Write a message; the stream is flushed."""
    header = json.dumps(message.header).encode()
    stream.write(_HEAD.pack(_MARK, len(header), len(message.pieces)) + header)
    stream.write(b"".join(_LENGTH.pack(memoryview(piece).nbytes) for piece in message.pieces))
    for piece in message.pieces:
        stream.write(piece)
    stream.flush()


def receive(stream: IO[bytes], most_bytes: int) -> Message:
    """Read a message of at most that many bytes.

    Raises
    ------
    BadMessage : no message, or a larger one.
    """
    mark, length, n_pieces = _HEAD.unpack(_read(stream, _HEAD.size))
    if mark != _MARK or length > min(_LONGEST_HEADER, most_bytes) or n_pieces > _MOST_PIECES:
        raise BadMessage("no message")
    try:
        header = json.loads(_read(stream, length))
    except (ValueError, RecursionError):
        raise BadMessage("no header") from None
    if not isinstance(header, dict):
        raise BadMessage("no header")
    sizes = [size for (size,) in _LENGTH.iter_unpack(_read(stream, n_pieces * _LENGTH.size))]
    if sum(sizes) > most_bytes:
        raise BadMessage(TOO_LARGE)
    return Message(header, [_read(stream, size) for size in sizes])


def _read(stream: IO[bytes], size: int) -> bytes:
    content = stream.read(size)
    if len(content) < size:
        raise BadMessage("it ends too early")
    return content
