"""A workbook (.xlsx), read to the cells of its sheets."""

import datetime as dt
import io
import posixpath
import re
import zipfile
from collections.abc import Iterable, Mapping
from dataclasses import replace
from xml.etree import ElementTree  # safe after `check_workbook`: it refuses declarations and bombs

import pyarrow as pa
from python_calamine import CalamineError, CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.neutral import quoted
from ingest.sheets.contents import (
    AS_TEXT,
    HIDDEN_CELL,
    HIDDEN_COLUMN,
    HIDDEN_ROW,
    HIDDEN_SHEET,
    STRUCK,
    SUM,
    Contents,
    texts_of,
    without_marks,
)
from ingest.sheets.marks import SheetMarks, sheet_marks
from ingest.sheets.remarks import behind, cell_remarks
from ingest.unit_names import unit_of

_NUMBER = re.compile(r"-?[0-9.]+(?:e[-+]?[0-9]+)?")
_COUNTED = re.compile(r"1/([0-9]{1,3}) ([a-z]{2})")
_LIKE_A_NUMBER = re.compile(r"[0-9][.,][0-9]|^\s*[.,][0-9]")
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
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return [
            replace(
                with_marks(raw, _marks_of(archive, part_of.get(raw.sheet or "", ""))),
                problems=problems.get(part_of.get(raw.sheet or "", ""), {}),
            )
            for raw in read_sheets(name, content)
            if raw.n_rows and raw.columns
        ]


def _marks_of(archive: zipfile.ZipFile, part: str) -> SheetMarks:
    marks = sheet_marks(archive, part)
    marks.remarks = cell_remarks(archive, part)
    return marks


def read_sheets(name: str, content: bytes) -> list[Contents]:
    """The worksheets as the reader of workbooks (.xlsx, .ods) gives them; its ways to fail in words."""
    try:
        with CalamineWorkbook.from_filelike(io.BytesIO(content)) as book:
            sheets = [sheet for sheet in book.sheets_metadata if sheet.typ == SheetTypeEnum.WorkSheet]
            return [
                _read_sheet(name, book, sheet.name, hidden=sheet.visible != SheetVisibleEnum.Visible)
                for sheet in sheets
            ]
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


def _read_sheet(file: str, book: CalamineWorkbook, name: str, *, hidden: bool) -> Contents:
    sheet = book.get_sheet_by_name(name)
    if sheet.end is not None and sheet.end[1] >= bound("file", "most_columns"):
        raise UnreadableFile(
            f"{quoted(file)}, sheet {quoted(name)} has {sheet.end[1] + 1:,} columns; at most "
            f"{bound('file', 'most_columns'):,} are read."
        )
    rows = sheet.to_python(skip_empty_area=False)
    columns = [texts_of([_text(cell) for cell in column]) for column in zip(*rows, strict=True)]
    if hidden:
        columns = [_all_marked(column, HIDDEN_SHEET) for column in columns]
    merged = tuple(
        (first[0] + 1, first[1], last[0] + 1, last[1]) for first, last in sheet.merged_cell_ranges or []
    )
    return Contents(columns, len(rows), name, merged=merged, typed=True)


def with_marks(sheet: Contents, marks: SheetMarks) -> Contents:
    """The sheet with what its workbook says of cells behind their texts, and units of their formats."""
    columns = [column.to_pylist() for column in sheet.columns] if marks.any() else []
    for (row, column), unit in marks.units.items():
        if _is_there(columns, row, column) and _NUMBER.fullmatch(columns[column - 1][row - 1]):
            columns[column - 1][row - 1] = _in_unit(columns[column - 1][row - 1], unit)
    for row in marks.hidden_rows:  # after the units, which are for numbers without a mark behind them
        _mark(columns, [(row, column) for column in range(1, len(columns) + 1)], HIDDEN_ROW)
    for column in marks.hidden_columns:
        _mark(columns, [(row, column) for row in range(1, sheet.n_rows + 1)], HIDDEN_COLUMN)
    _mark(columns, marks.struck, STRUCK)
    _mark(columns, marks.unseen, HIDDEN_CELL)
    _mark(columns, marks.sums, SUM)
    for cell, said in marks.remarks.items():
        _mark(columns, [cell], behind(said))
    return replace(sheet, columns=[texts_of(column) for column in columns]) if columns else sheet


def _mark(columns: list[list[str]], cells: Iterable[tuple[int, int]], mark: str) -> None:
    """Put a mark behind the text of cells that hold anything; rows and columns count from 1."""
    for row, column in cells:
        if _is_there(columns, row, column) and columns[column - 1][row - 1]:
            columns[column - 1][row - 1] += mark


def _is_there(columns: list[list[str]], row: int, column: int) -> bool:
    return 0 < column <= len(columns) and 0 < row <= len(columns[column - 1])


def _all_marked(column: pa.LargeStringArray, mark: str) -> pa.LargeStringArray:
    return texts_of([text + mark if text else text for text in column.to_pylist()])


def _in_unit(number: str, unit: str) -> str:
    """A number as its format shows it: with the unit; a share as per cent, a count of parts in whole units.

    ``88 1/64 in`` would be eighty-eight inches and a bit.
    """
    counted = _COUNTED.fullmatch(unit_of(unit) or "")
    if counted:
        return f"{float(number) / int(counted[1]):.12g} {counted[2]}"
    return f"{float(number) * 100:.12g} %" if unit == "%" else f"{number} {unit}"


def _text(cell: Cell) -> str:
    """What a cell shows, without its format."""
    if isinstance(cell, str):
        cell = without_marks(cell)
        return cell + AS_TEXT if _LIKE_A_NUMBER.search(cell) else cell
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
