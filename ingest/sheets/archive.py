"""Is this workbook safe to open? Looked at from outside, before any reader of spreadsheets sees it.

A workbook is an archive of XML. A small one can unpack to more than the memory holds, name a cell at the far
corner of the sheet so that a reader makes room for billions, repeat one long text a million times, or carry
macros. Each part is unpacked here once, in pieces, and counted.
"""

import io
import re
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import pairwise

from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.neutral import quoted
from ingest.sheets.kinds import BROKEN_ARCHIVE, is_archive, refuse_unread_kinds
from ingest.sheets.sheetxml import column_number, walk_sheet

_PIECE = 8_000_000
_OVERLAP = 300  # bytes seen twice, so that a tag on the seam of two pieces is seen whole
_MACROS = re.compile(
    r"(vbaproject\.bin|vbadata\.xml|/macrosheets/|/intlmacrosheets/|^/basic/|^/scripts/)", re.IGNORECASE
)
_ROW = re.compile(rb"\br\s*=\s*[\"'][A-Za-z]{0,7}([0-9]{4,11})[\"']")
_ROW_TAG = re.compile(rb"<(?:[A-Za-z0-9]+:)?row[\s/>]")
_PLACED = re.compile(rb"<(?:[A-Za-z0-9]+:)?c\s(?:[^<>]*?\s)?r\s*=\s*[\"']([A-Za-z]{1,7})[0-9]")
_CELL_TAG = re.compile(rb"<(?:[A-Za-z0-9]+:)?c[\s/>]")
_FORMULA = re.compile(rb"<(?:[A-Za-z0-9]+:)?f[\s/>]")
_ERROR = re.compile(rb"\bt\s*=\s*[\"']e[\"']")
_TEXT_TAG = re.compile(rb"<(?:[A-Za-z0-9]+:)?si[\s/>]")


@dataclass
class _Look:
    """What a quick look at one part counted; an upper bound where it cannot be exact."""

    part: zipfile.ZipInfo
    columns: set[bytes] = field(default_factory=set)
    last_row: int = 0
    n_rows: int = 0
    n_cells: int = 0
    n_unplaced: int = 0
    odd: bool = False

    @property
    def area(self) -> int:
        """Cells of the rectangle that a reader might make room for."""
        width = max((column_number(letters.decode()) for letters in self.columns), default=1)
        return max(self.last_row, self.n_rows, 1) * max(width, 1)


def check_workbook(name: str, content: bytes) -> dict[str, dict[int, str]]:
    """Refuse a workbook that is none, or that is dangerous to open.

    Parameters
    ----------
    name : of the file, for messages.
    content : its bytes.

    Returns
    -------
    Part of a sheet (``xl/worksheets/sheet1.xml``) → row → why a cell of that row cannot be believed.

    Raises
    ------
    UnreadableFile : no archive, damaged, under a password, with macros, unpacking too large, a sheet too
        large.
    """
    with opened(name, content) as archive:
        check_parts(name, archive)
        if "[Content_Types].xml" not in archive.namelist():
            raise UnreadableFile(f"{quoted(name)} is an archive, but no workbook.")
        looks = [_look(name, archive, part) for part in _to_look_at(name, archive)]
        return _walk_where_needed(name, archive, looks)


@contextmanager
def opened(name: str, content: bytes) -> Iterator[zipfile.ZipFile]:
    """The archive of a workbook.

    Raises
    ------
    UnreadableFile : it is none, or breaks while it is unpacked.
    """
    if not is_archive(content):
        raise UnreadableFile(_no_archive(name, content[:512]))
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            yield archive
    except BROKEN_ARCHIVE:
        raise UnreadableFile(
            f"{quoted(name)} is damaged or no workbook: its archive cannot be unpacked. Open it in a "
            "spreadsheet and save it again as .xlsx."
        ) from None


def _no_archive(name: str, head: bytes) -> str:
    if not head:
        return f"{quoted(name)} is empty; a workbook was expected."
    refuse_unread_kinds(name, head, "a workbook")
    kind = "text; if it is a CSV file, its name must end in .csv" if b"\x00" not in head else "something else"
    return f"{quoted(name)} is no workbook but {kind}."


def check_parts(name: str, archive: zipfile.ZipFile) -> None:
    """Sizes, numbers and names as the archive's directory states them.

    Raises
    ------
    UnreadableFile : macros, a password, too many parts, or parts that unpack too large.
    """
    parts = archive.infolist()
    macros = next((p.filename for p in parts if _MACROS.search("/" + p.filename)), None)
    if macros is not None:
        raise UnreadableFile(
            f"{quoted(name)} carries macros ({quoted(macros)}); nothing that holds programs is read. "
            "Save it as a workbook without macros (.xlsx)."
        )
    if any(part.flag_bits & 1 for part in parts):
        raise UnreadableFile(f"{quoted(name)} is under a password; save it without one.")
    if len(parts) > bound("workbook", "most_parts"):
        raise UnreadableFile(f"{quoted(name)} is an archive of {len(parts):,} files, which no workbook is.")
    _check_sizes(name, parts)


def _check_sizes(name: str, parts: list[zipfile.ZipInfo]) -> None:
    """What the parts would unpack to, together and each."""
    unpacked = sum(part.file_size for part in parts)
    if unpacked > bound("workbook", "largest_unpacked"):
        raise UnreadableFile(
            f"{quoted(name)} would unpack to {unpacked / 1e6:,.0f} MB; at most "
            f"{bound('workbook', 'largest_unpacked') / 1e6:,.0f} MB are read. Split it, or save its "
            "sheets as CSV."
        )
    for part in parts:
        packed = max(part.compress_size, 1)
        large = part.file_size > bound("workbook", "ratio_from")
        if large and part.file_size > bound("workbook", "highest_ratio") * packed:
            raise UnreadableFile(
                f"{quoted(name)} unpacks {part.file_size // packed:,} times its size in "
                f"{quoted(part.filename)}, as "
                "no sheet of measurements does; it is not opened. Save its sheets as CSV if they are sound."
            )


def _look(name: str, archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> _Look:
    """Count what one part holds."""
    look = _Look(part)
    for piece in _pieces(archive, part):
        if b"<!DOCTYPE" in piece or b"<!ENTITY" in piece:
            raise UnreadableFile(
                f"{quoted(name)}: {quoted(part.filename)} declares entities, which no spreadsheet does; "
                "it is not opened."
            )
        placed = _PLACED.findall(piece)
        look.columns |= set(placed)
        look.last_row = max(look.last_row, max(map(int, _ROW.findall(piece)), default=999))
        look.n_rows += len(_ROW_TAG.findall(piece))
        n_cells = len(_CELL_TAG.findall(piece))
        look.n_cells += n_cells
        # A cell that does not say where it is follows the one before, perhaps far to the right. One cell of a
        # piece may seem so because its tag is cut at the end; it is seen whole in the next.
        look.n_unplaced += max(n_cells - len(placed) - 1, 0)
        look.odd = look.odd or _is_odd(piece)
    return look


def _to_look_at(name: str, archive: zipfile.ZipFile) -> list[zipfile.ZipInfo]:
    """The parts that a reader may take for XML: by their name, by their first byte, or by the links to
    sheets."""
    links = b"".join(
        archive.read(part)
        for part in archive.infolist()
        if part.filename.lower().endswith("workbook.xml.rels")
    ).lower()
    chosen = []
    for part in archive.infolist():
        with archive.open(part) as stream:
            head = stream.read(64)
        if b"\x00" in head[:4] and b"<" in head[:4]:
            raise UnreadableFile(
                f"{quoted(name)}: {quoted(part.filename)} is not UTF-8, as a spreadsheet writes it; it is "
                "not opened."
            )
        linked = part.filename.rpartition("/")[2].lower().encode() in links or b"&#" in links
        is_xml = head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<")
        if linked or is_xml or part.filename.lower().endswith((".xml", ".rels")):
            chosen.append(part)
    return chosen


def _is_odd(piece: bytes) -> bool:
    """Whether a piece holds a formula or an error value; the first look is the quick one."""
    formula = (b"<f" in piece or b":f" in piece) and _FORMULA.search(piece) is not None
    return formula or ((b'"e"' in piece or b"'e'" in piece) and _ERROR.search(piece) is not None)


def _pieces(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> Iterator[bytes]:
    """The part unpacked, each piece beginning with the end of the one before."""
    tail = b""
    with archive.open(part) as stream:
        while piece := stream.read(_PIECE):
            yield tail + piece
            tail = piece[-_OVERLAP:]


def _walk_where_needed(name: str, archive: zipfile.ZipFile, looks: list[_Look]) -> dict[str, dict[int, str]]:
    """Walk through the sheets that the quick look did not clear; refuse what is too large."""
    lengths = _text_lengths(archive, sum(look.n_cells for look in looks))
    uncalculated = _never_calculated(archive)
    problems: dict[str, dict[int, str]] = {}
    repeated = 0
    for look in looks:
        far = look.n_unplaced > 0 or look.area > bound("workbook", "largest_area")
        if not look.n_cells or not (look.odd or far or lengths):
            continue
        try:
            with archive.open(look.part) as stream:
                walk = walk_sheet(stream, lengths, never_calculated=uncalculated)
        except UnreadableFile as error:
            raise UnreadableFile(f"{quoted(name)}: {quoted(look.part.filename)}: {error}") from None
        check_area(name, walk.last_row, walk.last_column)
        repeated += walk.repeated_text
        if repeated > bound("workbook", "largest_unpacked"):
            raise UnreadableFile(
                f"{quoted(name)} repeats one long text until it fills more than "
                f"{bound('workbook', 'largest_unpacked') / 1e6:,.0f} MB; it is not opened."
            )
        problems[look.part.filename] = walk.problems
    return problems


def check_area(name: str, last_row: int, last_column: int) -> None:
    """UnreadableFile for a sheet whose last filled cell is too far off."""
    area, most = last_row * last_column, bound("workbook", "largest_area")
    if area > most:
        raise UnreadableFile(
            f"{quoted(name)} has a sheet whose last filled cell is in row {last_row:,}, column "
            f"{last_column:,}: {area:,} cells, of which at most {most:,} are read. Delete the far cell."
        )


def _text_lengths(archive: zipfile.ZipFile, n_cells: int) -> list[int]:
    """Bytes of each shared text if their repetition could fill the memory, otherwise nothing."""
    part = next((p for p in archive.infolist() if p.filename.lower() == "xl/sharedstrings.xml"), None)
    most = bound("workbook", "largest_unpacked")
    if part is None or part.file_size * n_cells <= most:
        return []
    content = archive.read(part)
    starts = [tag.start() for tag in _TEXT_TAG.finditer(content)] + [len(content)]
    lengths = [after - before for before, after in pairwise(starts)]
    return lengths if max(lengths, default=0) * n_cells > most else []


def _never_calculated(archive: zipfile.ZipFile) -> bool:
    """Whether the workbook asks to be calculated when it is opened: a program wrote it, not a spreadsheet."""
    if "xl/workbook.xml" not in archive.namelist():
        return False
    return re.search(rb"fullCalcOnLoad\s*=\s*[\"'](1|true)", archive.read("xl/workbook.xml")) is not None
