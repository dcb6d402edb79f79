"""Pictures of what an opening found: looked at apart, drawn smaller, named by their content."""

from collections.abc import Mapping
from dataclasses import dataclass

from dashboard.shop.plain_jpeg import is_plain_jpeg
from ingest.apart.host import read_apart
from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.neutral import neutral, quoted
from ingest.store.transaction import name_of_picture

KIND = "dashboard.shop.photo_bytes"
"""Who looks at it, in a process of its own."""
MOST_BYTES = 30_000_000
ENDINGS = ["jpg", "jpeg", "png", "webp"]


@dataclass(frozen=True)
class Photo:
    """A picture as it will be kept: a JPEG without what the camera noted, and the name that its file had."""

    content: bytes
    file_name: str


def check_photo(content: bytes, name: str) -> Photo:
    """A picture drawn anew from a file's bytes.

    Raises
    ------
    UnreadableFile : larger than 30 MB, of no kind that is read, damaged, or too many pixels.
    """
    if len(content) > MOST_BYTES:
        raise UnreadableFile(f"Picture {quoted(name)}: more than 30 MB. Save it smaller.")
    seconds = bound("apart", "seconds_of_a_picture")
    most = bound("apart", "largest_picture")
    made = read_apart(KIND, content, name=name, advice="Save it as JPEG.", seconds=seconds, most_bytes=most)
    if len(made.pieces) != 1 or not is_plain_jpeg(made.pieces[0]):
        raise UnreadableFile(f"Picture {quoted(name)}: it cannot be drawn. Save it as JPEG.")
    return Photo(bytes(made.pieces[0]), neutral(name.replace("\\", "/"), 120).rpartition("/")[2])


def row_of_photo(photo: Photo, about: Mapping[str, object], who: str = "") -> dict[str, object]:
    """The row of ``pictures`` that says what it shows; content and row are handed in together
    (``HandedIn.pictures``).

    Parameters
    ----------
    about : vehicle, component, position, opening, date, ... of the picture.
    """
    name = name_of_picture(photo.content)
    said = {"picture": name, "file_name": photo.file_name, "media_type": "image/jpeg", "taken_by": who}
    return {**said, **about}
