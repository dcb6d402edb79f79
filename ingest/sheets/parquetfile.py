"""A Parquet file of plain columns, read to cells of text like any other file."""

from contextlib import suppress

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.neutral import quoted
from ingest.sheets.contents import Contents


def read_parquet(name: str, content: bytes) -> Contents:
    """All cells of a Parquet file, the names of its columns as the first row.

    Raises
    ------
    UnreadableFile : no Parquet file, damaged, too large, or a column that holds more than one value a row.
    """
    try:
        file = pq.ParquetFile(pa.BufferReader(content))
        _refuse_large(name, file.metadata)
        table = file.read(use_threads=False)
    except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
        raise UnreadableFile(
            f"{quoted(name)} cannot be read as a Parquet file: {quoted(str(error))}. Export it again."
        ) from None
    columns = [_text(name, heading, table[heading]) for heading in table.column_names]
    return Contents(columns, len(table) + 1)


def _refuse_large(name: str, about: pq.FileMetaData) -> None:
    if about.num_rows > bound("file", "most_rows") or about.num_columns > bound("file", "most_columns"):
        raise UnreadableFile(
            f"{quoted(name)} has {about.num_rows:,} rows and {about.num_columns:,} columns; at most "
            f"{bound('file', 'most_rows'):,} and {bound('file', 'most_columns'):,} are read. Split it."
        )
    unpacked = sum(about.row_group(i).total_byte_size for i in range(about.num_row_groups))
    if unpacked > bound("workbook", "largest_unpacked"):
        raise UnreadableFile(
            f"{quoted(name)} unpacks to {unpacked / 1e6:,.0f} MB, more than is read. Split it."
        )


class NeedsZone(Exception):
    """Days of this time zone cannot be told yet: its rules were not loaded."""


def load_zone(zone: str) -> None:
    """Load the rules of a time zone; nothing for one that this machine does not know."""
    with suppress(pa.ArrowException, NeedsZone):
        _days(pa.chunked_array([pa.array([0], pa.timestamp("us", tz=zone))]))


def _days(moments: pa.ChunkedArray) -> pa.ChunkedArray:
    """The day of each moment where it was recorded."""
    zone = moments.type.tz
    try:
        return moments.cast(pa.timestamp("us", tz=zone)).cast(pa.date32(), safe=False)
    except pa.ArrowInvalid:
        if zone is None:
            raise
        raise NeedsZone(zone) from None


def _text(name: str, heading: str, cells: pa.ChunkedArray) -> pa.LargeStringArray:
    """A column under its heading, as text."""
    kind = cells.type
    if pa.types.is_nested(kind) or pa.types.is_binary(kind):
        raise UnreadableFile(
            f"{quoted(name)}, column {quoted(heading)}: it holds {kind}; text, numbers and dates are read."
        )
    if pa.types.is_timestamp(kind):
        cells = _days(cells)
    text = pc.fill_null(cells.cast(pa.large_string()), "")
    return pa.concat_arrays([pa.array([heading], pa.large_string()), *text.chunks])
