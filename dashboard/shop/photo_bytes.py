"""The bytes of a photograph: drawn anew without what the camera noted, where strangers' bytes are read."""

from io import BytesIO
from typing import Any

from PIL import Image, ImageOps

from dashboard.shop.plain_jpeg import LONGEST_SIDE
from ingest.apart.wire import Bytes, Message
from ingest.errors import UnreadableFile
from ingest.neutral import quoted

MOST_PIXELS = 100_000_000
QUALITY = 85
KINDS = ("JPEG", "PNG", "WEBP")


def prepare(need: str) -> None:  # noqa: ARG001  # nothing beyond the usual
    """Load what reading and drawing load at their first use."""
    Image.init()
    Image.MAX_IMAGE_PIXELS = None  # the size is looked at before anything is unpacked
    for kind in KINDS:
        tried = BytesIO()
        Image.new("RGB", (9, 9)).save(tried, format=kind)
        _drawn(tried.getvalue(), "")


def answer(question: dict[str, Any], content: Bytes) -> Message:
    """The picture as a JPEG of at most ``LONGEST_SIDE``, without place, time and device.

    Raises
    ------
    UnreadableFile : none of the kinds, too many pixels, or damaged.
    """
    return Message({"mime": "image/jpeg"}, [_drawn(bytes(content), str(question["name"]))])


def _drawn(content: bytes, name: str) -> bytes:
    try:
        picture = Image.open(BytesIO(content), formats=KINDS)
        if picture.width * picture.height > MOST_PIXELS:
            raise UnreadableFile(
                f"Picture {quoted(name)}: {picture.width} × {picture.height} pixels. Save it smaller."
            )
        upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (OSError, ValueError, SyntaxError, EOFError):
        raise UnreadableFile(
            f"Picture {quoted(name)}: it cannot be drawn. Expected an undamaged JPEG, PNG or WebP; save it "
            "again."
        ) from None
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    plain = Image.new("RGB", upright.size)
    plain.paste(upright)
    made = BytesIO()
    plain.save(made, format="JPEG", quality=QUALITY)
    return made.getvalue()
