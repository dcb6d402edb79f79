"""The declared columns of the frames of runs: a frame has them whether it has rows or not.

What they are is data, in ``run_frames.toml``: a frame without rows, or a column without a value, says nothing
of its kind by itself, and a table made from it would have columns that hold nothing else.
"""

import tomllib
from functools import cache
from importlib.resources import files

import pyarrow as pa

_KINDS = {
    "text": pa.string(),
    "number": pa.float64(),
    "whole": pa.int64(),
    "day": pa.timestamp("us"),
    "yes_no": pa.bool_(),
    "texts": pa.list_(pa.string()),
    "numbers": pa.list_(pa.float64()),
}
Columns = dict[str, pa.DataType]


@cache
def _declared() -> dict[str, dict[str, tuple[Columns, bool]]]:
    """Kind of run -> frame -> its columns, and whether every run of the kind has it."""
    written = tomllib.loads((files("ingest.store") / "run_frames.toml").read_text(encoding="utf-8"))
    return {
        kind: {name: _columns(frame) for name, frame in frames.items()} for kind, frames in written.items()
    }


def _columns(frame: dict[str, list[str]]) -> tuple[Columns, bool]:
    columns = {name: _KINDS[kind] for kind, names in frame.items() if kind in _KINDS for name in names}
    return columns, bool(frame.get("always", True))


def declared_columns(kind: str, name: str) -> Columns:
    """Column -> kind of a frame of a run, names that end in * among them; empty where nothing is declared."""
    return _declared().get(kind, {}).get(name, ({}, True))[0]


def declared_kind(columns: Columns, column: str) -> pa.DataType | None:
    """What is declared of one column; None if nothing is."""
    for name, kind in columns.items():
        if name == column or (name.endswith("*") and column.startswith(name[:-1])):
            return kind
    return None


def missing_frames(kind: str, given: list[str]) -> dict[str, pa.Table]:
    """The frames that every run of a kind has and that were not given, without rows."""
    return {
        name: pa.table(
            {column: pa.array([], type_) for column, type_ in columns.items() if column[-1] != "*"}
        )
        for name, (columns, always) in _declared().get(kind, {}).items()
        if always and name not in given
    }


def as_declared(kind: str, name: str, frame: pa.Table) -> pa.Table:
    """A frame with the declared kinds of columns; a column of which nothing is known holds text."""
    columns = declared_columns(kind, name)
    for i, field in enumerate(frame.schema):
        wanted = declared_kind(columns, field.name)
        if wanted is None and pa.types.is_null(field.type):
            wanted = pa.string()
        if wanted is not None and not _is_such(field.type, wanted):
            frame = frame.set_column(i, field.name, _cast(frame.column(i), wanted))
    return frame


def _is_such(kind: pa.DataType, wanted: pa.DataType) -> bool:
    """Whether a column is of the kind wanted; a list may have a fixed length."""
    if pa.types.is_list(wanted) and (pa.types.is_fixed_size_list(kind) or pa.types.is_list(kind)):
        return bool(kind.value_type == wanted.value_type)
    return bool(kind == wanted)


def _cast(column: pa.ChunkedArray, wanted: pa.DataType) -> pa.ChunkedArray:
    if column.null_count == len(column):
        return pa.chunked_array([pa.nulls(len(column), wanted)], wanted)
    try:
        return column.cast(wanted)
    except (pa.ArrowInvalid, pa.ArrowNotImplementedError):
        return column  # what does not fit is kept as it is: a run is never lost by its declaration
