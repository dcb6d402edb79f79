"""Files to cells of text: which files, of which kind. What the cells mean comes later."""

import codecs
import re
from collections.abc import Iterable
from pathlib import Path

from ingest.apart.host import read_apart
from ingest.apart.wire import Message
from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.neutral import quoted, quoted_path, visible
from ingest.sheets.cells import RawCells, as_cells
from ingest.sheets.contents import ZONE, from_message
from ingest.sheets.kinds import DOCUMENT, is_archive, refuse_unread_kinds

TEXT_ENDINGS = (".csv", ".tsv", ".txt")
FOLDER_ENDINGS = (".csv", ".tsv", ".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".parquet")
"""What is taken from a folder; the kinds that are refused too, for no workbook may be passed over unsaid."""
KIND = "ingest.sheets.foreign"
"""Who reads them, in a process of its own."""
_ADVICE = "Open it in a spreadsheet, save the table as a new CSV file, and add that."
_ODD_ENCODINGS = ("utf_7", "unicode_escape", "raw_unicode_escape", "punycode", "idna", "undefined")
"""Ways to write text that no sheet is written in; they can hide characters, or take long to read."""


def find_files(paths: Iterable[Path]) -> list[Path]:
    """Files to read, folders expanded.

    Parameters
    ----------
    paths : files and folders. A file named here is taken whatever its name; of a folder, at any depth, the
        tables.

    Returns
    -------
    list of Path : in the order of `paths`, a folder's files sorted; hidden files and folders and the lock
        files of spreadsheets left out; none twice.

    Raises
    ------
    UnreadableFile : a path that does not exist, or a folder without any table.
    """
    files: dict[Path, None] = {}
    for path in paths:
        if path.is_dir():
            inside = sorted(p for p in path.rglob("*") if _is_table(p.relative_to(path), p))
            if not inside:
                raise UnreadableFile(
                    f"The folder {quoted_path(path)} holds no table; CSV, XLSX or ODS files were expected."
                )
            files |= dict.fromkeys(inside)
        elif path.is_file():
            files[path] = None
        elif path.exists():
            raise UnreadableFile(f"{quoted_path(path)} is neither a file nor a folder.")
        else:
            raise UnreadableFile(
                f"{quoted_path(path)} does not exist. Check the name and the folder you are in."
            )
    return list(files)


def read_cells(path: Path, *, encoding: str | None = None, delimiter: str | None = None) -> list[RawCells]:
    """Cells of a file before headings are looked for; hostile characters are made visible.

    Parameters
    ----------
    path : a CSV file or a workbook (.xlsx, .ods).
    encoding, delimiter : stated by a layout, for CSV files.

    Raises
    ------
    UnreadableFile : the file is no table, damaged, hostile or too large.
    """
    try:
        size = path.stat().st_size
        most = bound("file", "largest_size")
        if size > most:
            raise UnreadableFile(
                f"{quoted(path.name)} has {size / 1e6:,.0f} MB; at most {most / 1e6:,.0f} MB are read. "
                "Split it."
            )
        ending = path.suffix.lower()
        if ending not in (".xlsx", ".ods", ".parquet", *TEXT_ENDINGS):
            raise UnreadableFile(_unknown_kind(path))
        content = path.read_bytes()
    except OSError as error:
        raise UnreadableFile(f"{quoted_path(path)} cannot be read: {error.strerror or error}.") from None
    codec = "" if encoding is None else _known_encoding(path.name, encoding)
    question = {"ending": ending, "encoding": codec or None, "delimiter": delimiter}
    try:
        answer = _ask(path.name, content, codec, question)
        if "zone" in answer.header:  # its process starts with the rules of the zone: it can load none later
            answer = _ask(path.name, content, f"{ZONE}{_known_zone(answer.header['zone'])}", question)
        return [as_cells(visible(path.name), sheet) for sheet in from_message(answer)]
    except (ValueError, KeyError, TypeError):
        raise UnreadableFile(
            f"{quoted(path.name)} was not read: its reader broke down on it. {_ADVICE}"
        ) from None


def _ask(name: str, content: bytes, need: str, question: dict[str, str | None]) -> Message:
    return read_apart(KIND, content, name=name, advice=_ADVICE, need=need, question=question)


def _known_zone(zone: object) -> str:
    """The time zone, if it can be one; ValueError else."""
    if not re.fullmatch(r"[A-Za-z0-9_+:/-]{1,60}", str(zone)):
        raise ValueError("no time zone")
    return str(zone)


def _known_encoding(name: str, encoding: str) -> str:
    """The encoding under the name that Python knows it by; refused if it is none of a sheet."""
    try:
        known = codecs.lookup(encoding)
    except (LookupError, ValueError):
        known = None
    if known is None or not known._is_text_encoding or known.name.replace("-", "_") in _ODD_ENCODINGS:
        raise UnreadableFile(
            f"{quoted(name)}: the encoding {quoted(encoding)} is unknown; utf-8, utf-16 or cp1252 was "
            "expected."
        )
    return known.name


def _unknown_kind(path: Path) -> str:
    """Why a file of that ending is not read; what it is by its content goes before what its name says."""
    ending = path.suffix.lower()
    with path.open("rb") as file:
        head = file.read(512)
    if ending == ".xls" and is_archive(head):
        return f"{quoted(path.name)} is a workbook of today under an old ending: rename it to end in .xlsx."
    refuse_unread_kinds(path.name, head, "a table")
    advice = {
        ".xlsm": "it may carry macros, and nothing that holds programs is read; save it as .xlsx",
        ".xls": "the old kind of workbook is not read; save it as .xlsx",
        ".xlsb": "binary workbooks are not read; save it as .xlsx",
        ".pdf": f"it is {DOCUMENT}",
    }.get(ending, "CSV (.csv, .tsv, .txt) and workbooks (.xlsx, .ods) are read")
    return f"{quoted(path.name)}: {advice}."


def _is_table(inside: Path, path: Path) -> bool:
    shown = not any(part.startswith((".", "~$")) for part in inside.parts)
    return shown and path.suffix.lower() in FOLDER_ENDINGS and path.is_file()
