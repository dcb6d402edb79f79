"""A workbook (.xlsx), read to the cells of its sheets."""

import datetime as dt
import io
import posixpath
import re
import zipfile
from collections.abc import Mapping
from dataclasses import replace
from xml.etree import ElementTree  # safe after `check_workbook`: it refuses declarations and bombs

from python_calamine import CalamineError, CalamineWorkbook, SheetTypeEnum

from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.neutral import quoted
from ingest.sheets.contents import Contents, texts_of

Cell = str | float | bool | dt.date | dt.time | dt.timedelta


def read_workbook(name: str, content: bytes, problems: Mapping[str, dict[int, str]]) -> list[Contents]:
    """Cells of every worksheet that holds any, hidden ones too.

    Parameters
    ----------
    name : of the file, for messages.
    content : bytes that `ingest.sheets.archive.check_workbook` let pass: macros, bombs and passwords are
        refused there, before they are opened here.
    problems : what that check returned, part of a sheet → row → why a cell of it cannot be believed.

    Returns
    -------
    list of Contents, in the order of the sheets. Numbers come with up to 15 figures, as a spreadsheet keeps
    them; dates as ``1998-05-03``; rows with formulas that were never calculated, or with error values, have
    their reason in ``problems``.

    Raises
    ------
    UnreadableFile : a sheet of too many columns; a damaged workbook.
    """
    part_of = _parts_of_sheets(content)
    return [
        replace(raw, problems=problems.get(part_of.get(raw.sheet or "", ""), {}))
        for raw in _read_sheets(name, content)
        if raw.n_rows and raw.columns
    ]


def _read_sheets(name: str, content: bytes) -> list[Contents]:
    """The worksheets as the reader of workbooks gives them; its ways to fail in words."""
    try:
        with CalamineWorkbook.from_filelike(io.BytesIO(content)) as book:
            sheets = [sheet.name for sheet in book.sheets_metadata if sheet.typ == SheetTypeEnum.WorkSheet]
            return [_read_sheet(name, book, sheet) for sheet in sheets]
    except CalamineError as error:
        raise UnreadableFile(
            f"{quoted(name)} is damaged: {quoted(str(error), 100)}. Open it in a spreadsheet and "
            "save it again."
        ) from None
    except UnreadableFile:
        raise
    except BaseException as error:
        # The reader is not Python; what stops it comes as a class of its own, outside Exception.
        if type(error).__name__ != "PanicException":
            raise
        raise UnreadableFile(f"{quoted(name)} is damaged so that it cannot be read; save it again.") from None


def _read_sheet(file: str, book: CalamineWorkbook, name: str) -> Contents:
    sheet = book.get_sheet_by_name(name)
    if sheet.end is not None and sheet.end[1] >= bound("file", "most_columns"):
        raise UnreadableFile(
            f"{quoted(file)}, sheet {quoted(name)} has {sheet.end[1] + 1:,} columns; at most "
            f"{bound('file', 'most_columns'):,} are read."
        )
    rows = sheet.to_python(skip_empty_area=False)
    columns = [texts_of([_text(cell) for cell in column]) for column in zip(*rows, strict=True)]
    merged = tuple(
        (first[0] + 1, first[1], last[0] + 1, last[1]) for first, last in sheet.merged_cell_ranges or []
    )
    return Contents(columns, len(rows), name, merged=merged)


def _text(cell: Cell) -> str:
    """What a cell shows, without its format."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, float | int):
        return f"{cell:.15g}"
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat() if cell.time() == dt.time() else cell.isoformat(" ", "seconds")
    return cell.isoformat() if isinstance(cell, dt.date | dt.time) else str(cell)


def _parts_of_sheets(content: bytes) -> dict[str, str]:
    """Sheet name → its part in the archive; nothing for a workbook that does not say."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        try:
            book = ElementTree.fromstring(archive.read("xl/workbook.xml"))  # noqa: S314
            links = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))  # noqa: S314
        except (KeyError, ElementTree.ParseError):
            return {}
    target = {link.get("Id", ""): link.get("Target", "") for link in links}
    part_of_sheet = {}
    for sheet in book.iter():
        if sheet.tag.endswith("}sheet"):
            link = next(
                (value for name, value in sheet.attrib.items() if re.fullmatch(r"\{.*\}id", name)), ""
            )
            part = target.get(link, "")
            part_of_sheet[sheet.get("name", "")] = (
                part.lstrip("/") if part.startswith("/") else posixpath.normpath("xl/" + part)
            )
    return part_of_sheet
