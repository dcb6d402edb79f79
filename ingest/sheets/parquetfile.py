"""A Parquet file of plain columns, read to cells of text like any other file."""

from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.neutral import quoted
from ingest.sheets.cells import RawCells


def read_parquet(path: Path) -> RawCells:
    """All cells of a Parquet file, the names of its columns as the first row.

    Raises
    ------
    UnreadableFile : no Parquet file, damaged, too large, or a column that holds more than one value a row.
    """
    try:
        about = pq.read_metadata(path)
        _refuse_large(path.name, about)
        table = pq.read_table(path)
    except (pa.ArrowException, OSError) as error:
        raise UnreadableFile(
            f"{quoted(path.name)} cannot be read as a Parquet file: {quoted(str(error))}. Export it again."
        ) from None
    columns = {i: _text(path.name, name, table[name]) for i, name in enumerate(table.column_names)}
    cells = pd.DataFrame(columns, index=range(2, len(table) + 2))
    head = pd.DataFrame([table.column_names], index=[1])
    return RawCells(path.name, None, pd.concat([head, cells]).astype("str"))


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


def _text(name: str, column: str, cells: pa.ChunkedArray) -> pd.Series:
    kind = cells.type
    if pa.types.is_nested(kind) or pa.types.is_binary(kind):
        raise UnreadableFile(
            f"{quoted(name)}, column {quoted(column)}: it holds {kind}; text, numbers and dates are read."
        )
    if pa.types.is_timestamp(kind):
        cells = cells.cast(pa.timestamp("us", tz=kind.tz)).cast(pa.date32(), safe=False)
    text: pd.Series = pc.fill_null(cells.cast(pa.string()), "").to_pandas()
    return text.set_axis(range(2, len(cells) + 2))
