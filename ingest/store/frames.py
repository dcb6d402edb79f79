"""Frames to Arrow and back: what the database takes and gives, with list columns as arrays."""

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc


def to_arrow(frame: pd.DataFrame) -> pa.Table:
    """Arrow table of a frame; its index is left out, NaN becomes null.

    A column of equally long numeric lists (or arrays) becomes a fixed-size list, which is stored and read
    as one block of numbers.
    """
    arrays = [_column(frame[name]) for name in frame.columns]
    return pa.table(dict(zip((str(name) for name in frame.columns), arrays, strict=True)))


def to_pandas(table: pa.Table) -> pd.DataFrame:
    """Frame of an Arrow table: text as ``str``, dates as ``datetime64[us]``, lists as numpy arrays."""
    lists = [field.name for field in table.schema if _is_list(field.type)]
    plain = table.drop_columns(lists) if lists else table
    frame = plain.to_pandas()
    for name in lists:
        frame[name] = _list_column(table[name])
    ordered: pd.DataFrame = frame[table.column_names] if lists else frame
    return ordered


def _is_list(kind: pa.DataType) -> bool:
    return bool(pa.types.is_list(kind) or pa.types.is_fixed_size_list(kind) or pa.types.is_large_list(kind))


def _column(column: pd.Series) -> pa.Array | pa.ChunkedArray:
    if column.dtype == object and len(column) and isinstance(column.iloc[0], (list, tuple, np.ndarray)):
        return _lists(column)
    if isinstance(column.dtype, pd.CategoricalDtype):
        return pa.array(column, from_pandas=True).cast(pa.string())
    return pa.array(column, from_pandas=True)


def _lists(column: pd.Series) -> pa.Array:
    cells = column.to_numpy()
    try:
        block = np.stack([np.asarray(cell) for cell in cells])
    except (ValueError, TypeError):  # ragged, or some cells are missing
        return pa.array([None if cell is None else list(np.atleast_1d(cell)) for cell in cells])
    if block.ndim != 2 or block.dtype.kind not in "fiub" or block.shape[1] == 0:
        return pa.array([list(cell) for cell in cells])
    return pa.FixedSizeListArray.from_arrays(pa.array(block.ravel()), block.shape[1])


def _list_column(column: pa.ChunkedArray) -> pd.Series:
    whole = column.combine_chunks() if column.num_chunks != 1 else column.chunk(0)
    cells = np.empty(len(whole), dtype=object)
    size = _common_length(whole)
    if size:
        block = whole.flatten().to_numpy(zero_copy_only=False).reshape(len(whole), size)
        cells[:] = list(block)
    else:
        for i, cell in enumerate(whole.to_pylist()):
            cells[i] = None if cell is None else np.asarray(cell)
    return pd.Series(cells, dtype=object)


def _common_length(lists: pa.Array) -> int:
    """Length that all lists have; 0 where they differ or one is missing."""
    if not len(lists) or lists.null_count:
        return 0
    length = pc.list_value_length(lists)
    shortest, longest = pc.min(length).as_py(), pc.max(length).as_py()
    return int(longest) if shortest == longest else 0
