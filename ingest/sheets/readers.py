"""Files to cells of text: which files, of which kind. What the cells mean comes later."""

from collections.abc import Iterable
from pathlib import Path

from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.neutral import quoted, quoted_path
from ingest.sheets.archive import check_workbook
from ingest.sheets.cells import RawCells, made_visible
from ingest.sheets.csvfile import read_csv
from ingest.sheets.parquetfile import read_parquet
from ingest.sheets.workbook import read_workbook

TEXT_ENDINGS = (".csv", ".tsv", ".txt")
FOLDER_ENDINGS = (".csv", ".tsv", ".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".parquet")
"""What is taken from a folder; the kinds that are refused too, for no workbook may be passed over unsaid."""


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
                    f"The folder {quoted_path(path)} holds no table; CSV or XLSX files were expected."
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
    path : a CSV file or a workbook (.xlsx).
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
        if ending not in (".xlsx", ".parquet", *TEXT_ENDINGS):
            raise UnreadableFile(_unknown_kind(path))
        if ending == ".xlsx":
            problems = check_workbook(path)
            sheets = read_workbook(path, problems)
        elif ending == ".parquet":
            sheets = [read_parquet(path)]
        else:
            sheets = [read_csv(path, encoding=encoding, delimiter=delimiter)]
    except OSError as error:
        raise UnreadableFile(f"{quoted_path(path)} cannot be read: {error.strerror or error}.") from None
    return [made_visible(sheet) for sheet in sheets]


def _unknown_kind(path: Path) -> str:
    advice = {
        ".xlsm": "it may carry macros, and nothing that holds programs is read; save it as .xlsx",
        ".xls": "the old kind of workbook is not read; save it as .xlsx",
        ".xlsb": "binary workbooks are not read; save it as .xlsx",
        ".ods": "this kind of workbook is not read; save it as .xlsx or its sheets as CSV",
    }.get(path.suffix.lower(), "CSV (.csv, .tsv, .txt) and workbooks (.xlsx) are read")
    return f"{quoted(path.name)}: {advice}."


def _is_table(inside: Path, path: Path) -> bool:
    shown = not any(part.startswith((".", "~$")) for part in inside.parts)
    return shown and path.suffix.lower() in FOLDER_ENDINGS and path.is_file()
