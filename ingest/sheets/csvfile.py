"""A file of text with a delimiter, read to cells: encoding by its mark, delimiter by its headings."""

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator
from itertools import islice

import pyarrow as pa
import pyarrow.compute as pc

from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.neutral import HOSTILE, quoted
from ingest.sheets.contents import Contents, texts_of
from ingest.sheets.kinds import is_archive, refuse_unread_kinds

DELIMITERS = ",;\t|"
_CHUNK = 50_000  # rows held as Python text at once
_MARKED = {  # the longer mark first: that of UTF-32 begins with that of UTF-16
    codecs.BOM_UTF8: "utf-8-sig",
    codecs.BOM_UTF32_LE: "utf-32",
    codecs.BOM_UTF32_BE: "utf-32",
    codecs.BOM_UTF16_LE: "utf-16",
    codecs.BOM_UTF16_BE: "utf-16",
}


def read_csv(
    name: str, content: bytes, *, encoding: str | None = None, delimiter: str | None = None
) -> Contents:
    """All cells of a CSV file.

    Parameters
    ----------
    name : of the file, for messages.
    content : its bytes.
    encoding : stated by a layout, for files that carry no mark and are not UTF-8 (``cp1252``).
    delimiter : stated by a layout; otherwise the one of ``, ; tab |`` that parts the rows alike.

    Returns
    -------
    Contents : sheet None; a row for each record of the file, empty ones too, so that row numbers are those
        of a spreadsheet, whatever line ends stand within quotation marks.

    Raises
    ------
    UnreadableFile : not text, another encoding, an unclosed quotation mark, too many rows or columns,
        nothing in it.
    """
    _refuse_other_kinds(name, content)
    text = _decode(name, content, encoding)
    hostile = _holds_hostile(content, text)
    del content
    columns, n_rows = _columns(name, text, delimiter or _delimiter(text))
    if text[:4].lower() == "sep=":  # a line for the spreadsheet alone
        rest = [texts_of(column.to_pylist()[1:]) for column in columns]
        return Contents(rest, n_rows - 1, first_row=2, harmless=not hostile)
    return Contents(columns, n_rows, harmless=not hostile)


def _refuse_other_kinds(name: str, content: bytes) -> None:
    if not content.strip(b"\x00\t\r\n \xef\xbb\xbf"):
        raise UnreadableFile(f"{quoted(name)} is empty; a table with headings in its first row was expected.")
    if is_archive(content):
        raise UnreadableFile(
            f"{quoted(name)} is not a CSV file but a workbook or another archive; if it is a workbook, its "
            "name must end in .xlsx or .ods."
        )
    refuse_unread_kinds(name, content, "a CSV file")


def _decode(name: str, content: bytes, encoding: str | None) -> str:
    """Text of the file by its mark, as stated, or as UTF-8; never by a guess."""
    marked = next((codec for mark, codec in _MARKED.items() if content.startswith(mark)), None)
    codec = marked or encoding or "utf-8"
    try:
        text = content.decode(codec)
    except UnicodeDecodeError as error:
        row = content.count(b"\n", 0, error.start) + 1
        advice = (
            "The file begins with a mark of this encoding, but is damaged; save it again."
            if marked
            else "Save it as 'CSV UTF-8', or state its encoding in a layout (often cp1252 from Windows)."
        )
        raise UnreadableFile(
            f"{quoted(name)}, line {row}: byte {error.start + 1:,} (0x{content[error.start]:02X}) is no "
            f"{codec}. {advice}"
        ) from None
    except LookupError:
        raise UnreadableFile(
            f"{quoted(name)}: the encoding {quoted(codec)} is unknown; utf-8, utf-16 or cp1252 was expected."
        ) from None
    if text[:2000].count("\x00") * 10 > min(len(text), 2000):
        raise UnreadableFile(
            f"{quoted(name)} is not text that can be read: it is full of zero bytes. If it is UTF-16 "
            "without its mark, "
            "save it as 'CSV UTF-8'."
        )
    return text


def _holds_hostile(content: bytes, text: str) -> bool:
    """Whether any cell needs a closer look; a fast answer for the usual file."""
    if text.isascii() and len(text) == len(content):
        return bool(content.translate(None, bytes([9, 10, 13, *range(32, 127)])))
    return HOSTILE.search(text) is not None


def _delimiter(text: str) -> str:
    """The mark that parts most rows into equally many cells; of equals, into most."""
    first_line = text[: text.find("\n") + 1].strip().lower()
    if len(first_line) == 5 and first_line.startswith("sep="):  # how some spreadsheets state it
        return text.strip()[4]

    def parted(mark: str) -> tuple[int, int]:
        sample = io.StringIO(text[:200_000], newline="")
        try:
            widths = Counter(len(row) for row in islice(csv.reader(sample, delimiter=mark), 50) if any(row))
        except csv.Error:
            return 0, 0
        return max(((count, width) for width, count in widths.items() if width > 1), default=(0, 0))

    return max(DELIMITERS, key=parted)


def _columns(name: str, text: str, mark: str) -> tuple[list[pa.LargeStringArray], int]:
    """All records as columns of text, shorter rows filled up with nothing; and their number."""
    chunks: list[list[pa.Array]] = []
    n_rows = 0
    for chunk in _chunks(name, text, mark):
        width = max(1, *map(len, chunk))
        if min(map(len, chunk)) != width:
            chunk = [row + [""] * (width - len(row)) for row in chunk]
        n_rows += len(chunk)
        _refuse_too_large(name, n_rows, width)
        chunks.append([pa.array(column, pa.large_string()) for column in zip(*chunk, strict=True)])
    width = max(map(len, chunks), default=0)
    return [_column(chunks, p) for p in range(width)], n_rows


def _column(chunks: list[list[pa.Array]], position: int) -> pa.LargeStringArray:
    """One column over all chunks, trimmed; "" where a chunk is narrower."""
    parts = [
        chunk[position] if position < len(chunk) else pa.array([""] * len(chunk[0]), pa.large_string())
        for chunk in chunks
    ]
    return pc.utf8_trim_whitespace(pa.concat_arrays(parts))


def _chunks(name: str, text: str, mark: str) -> Iterator[list[list[str]]]:
    """Records, some ten thousand at a time; an empty line is a record without cells."""
    earlier = csv.field_size_limit(bound("cell", "longest_text"))
    records = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        while chunk := list(islice(records, _CHUNK)):
            yield chunk
    except csv.Error as error:
        raise UnreadableFile(
            f"{quoted(name)}, line {records.line_num} or above: {_in_words(error)}. "
            "A cell that begins with a quotation mark must end with one, and marks within it are doubled."
        ) from None
    finally:
        csv.field_size_limit(earlier)


def _in_words(error: csv.Error) -> str:
    text = str(error)
    if "field larger" in text:
        return f"a cell holds more than {bound('cell', 'longest_text'):,} characters; is a mark unclosed?"
    if "end of data" in text:
        return "a quotation mark is opened and never closed"
    if "expected after" in text:
        return "something stands after a closing quotation mark"
    return "the line cannot be parted into cells"


def _refuse_too_large(name: str, n_rows: int, width: int) -> None:
    most_rows, most_columns = bound("file", "most_rows"), bound("file", "most_columns")
    if n_rows > most_rows:
        raise UnreadableFile(f"{quoted(name)} has more than {most_rows:,} rows; split it into smaller files.")
    if width > most_columns:
        raise UnreadableFile(
            f"{quoted(name)} has a row of {width:,} cells; at most {most_columns:,} are read. Is its "
            "delimiter right?"
        )
