"""What a file is by its first bytes, whatever its name ends in; and what to do with one that is not read."""

import io
import zipfile
import zlib

from ingest.errors import UnreadableFile
from ingest.neutral import quoted

OLD_WORKBOOK = (
    "a workbook of the old kind (.xls) or under a password; open it in a spreadsheet and save it as .xlsx, "
    "without a password"
)
DOCUMENT = (
    "a PDF document, in which a table is only drawn; type its readings in on the page 'Readings at the "
    "engine', or into a sheet of your own, and add that"
)
PICTURE = "a picture; type its readings in on the page 'Readings at the engine', or into a sheet of your own"
_MARKS = {
    b"\xd0\xcf\x11\xe0": OLD_WORKBOOK,
    b"%PDF": DOCUMENT,
    b"\x89PNG": PICTURE,
    b"\xff\xd8\xff": PICTURE,
    b"SQLite format 3": "a database",
    b"PAR1": "a Parquet file",
    b"\x1f\x8b": "a compressed file; unpack it first",
}
_ARCHIVE = b"PK\x03\x04"
_MARKUP = (b"<!doctype", b"<html", b"<?xml", b"<table", b"{\\rtf")
BROKEN_ARCHIVE = (zipfile.BadZipFile, zlib.error, NotImplementedError, EOFError, RuntimeError, ValueError)
"""What unpacking a damaged archive raises."""
OPEN_DOCUMENT = b"application/vnd.oasis.opendocument."
"""How the kind begins that a document of the free formats tells in its part ``mimetype``."""


def refuse_unread_kinds(name: str, content: bytes, expected: str) -> None:
    """Refuse what no reader here reads, by its first bytes.

    Parameters
    ----------
    expected : what the name of the file promises: ``a CSV file``, ``a workbook``.

    Raises
    ------
    UnreadableFile : what it is, and what to do.
    """
    for mark, kind in _MARKS.items():
        if content.startswith(mark):
            raise UnreadableFile(f"{quoted(name)} is not {expected} but {kind}.")
    if content[:200].lstrip().lower().startswith(_MARKUP):
        raise UnreadableFile(
            f"{quoted(name)} is not {expected} but a page or document with markup. "
            "Open it in a spreadsheet and save the table as CSV or XLSX."
        )


def is_archive(content: bytes) -> bool:
    """Whether it is packed as workbooks are."""
    return content.startswith(_ARCHIVE)


def is_open_document(content: bytes) -> bool:
    """Whether an archive says that it is a document of the free formats (.ods, .odt)."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive, archive.open("mimetype") as part:
            return part.read(len(OPEN_DOCUMENT)) == OPEN_DOCUMENT
    except (KeyError, *BROKEN_ARCHIVE):
        return False
