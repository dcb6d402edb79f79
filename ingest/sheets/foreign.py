"""The bytes of a file to the contents of its sheets; runs in the process that reads what strangers made."""

import codecs
import io
import zipfile
from contextlib import suppress
from typing import Any

from ingest.apart.wire import Bytes, Message
from ingest.errors import UnreadableFile
from ingest.sheets.archive import check_workbook
from ingest.sheets.contents import ZONE, Contents, as_message, made_visible
from ingest.sheets.csvfile import read_csv
from ingest.sheets.kinds import is_open_document
from ingest.sheets.opendocument import SMALLEST, read_open_document
from ingest.sheets.parquetfile import NeedsZone, load_zone, read_parquet
from ingest.sheets.workbook import read_workbook

_USUAL = (
    *("utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-32-le", "utf-32-be", "cp1252"),
    *("latin-1", "cp437"),  # the last for names in archives
)
_SMALLEST = {
    "[Content_Types].xml": "<Types/>",
    "xl/workbook.xml": '<workbook xmlns:r="r"><sheets><sheet name="S" r:id="R"/></sheets></workbook>',
    "xl/_rels/workbook.xml.rels": '<a><Relationship Id="R" Target="worksheets/a.xml"/></a>',
    "xl/worksheets/a.xml": "<worksheet><row><c><f>1</f></c></row></worksheet>",
}
"""Parts of a workbook; looking into them loads all that looking into any does."""


def prepare(need: str) -> None:
    """Load what the libraries load at their first use, and the encoding or ``zone:`` that is needed."""
    for name in _USUAL:
        codecs.lookup(name)
    if need.startswith(ZONE):
        load_zone(need.removeprefix(ZONE))
    elif need:
        codecs.lookup(need)
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in _SMALLEST.items():
            archive.writestr(name, text)
    table = io.BytesIO()
    with zipfile.ZipFile(table, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in SMALLEST.items():
            archive.writestr(name, text)
    books = ((".xlsx", buffer.getvalue()), (".ods", table.getvalue()))
    for ending, content in ((".csv", b"point"), *books, (".parquet", b"PAR1")):
        with suppress(UnreadableFile):
            answer({"name": "", "ending": ending, "encoding": None, "delimiter": None}, content)


def answer(question: dict[str, Any], content: Bytes) -> Message:
    """The sheets of a file.

    Parameters
    ----------
    question : ``name`` of the file, its ``ending``, and ``encoding`` and ``delimiter`` where a layout states
        them.

    Returns
    -------
    Message : the sheets, or the time zone that must be loaded first, as ``zone``.
    """
    try:
        return as_message([made_visible(sheet) for sheet in _read(question, bytes(content))])
    except NeedsZone as zone:
        return Message({"zone": str(zone)})


def _read(question: dict[str, Any], content: bytes) -> list[Contents]:
    name, ending = str(question["name"]), str(question["ending"])
    if ending in (".xlsx", ".ods"):
        if is_open_document(content):
            return read_open_document(name, content)
        return read_workbook(name, content, check_workbook(name, content))
    if ending == ".parquet":
        return [read_parquet(name, content)]
    return [read_csv(name, content, encoding=question["encoding"], delimiter=question["delimiter"])]
