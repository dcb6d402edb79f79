"""What crosses from the process that reads files: zones of time, encodings, columns, each checked again."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from ingest.apart.wire import Message
from ingest.errors import UnreadableFile
from ingest.sheets.contents import Contents, as_message, from_message, texts_of
from ingest.sheets.readers import read_cells


@pytest.mark.parametrize(
    ("zone", "day"),
    [("Europe/Berlin", "2001-01-02"), ("America/New_York", "2001-01-01"), (None, "2001-01-01")],
)
def test_a_moment_is_of_the_day_that_it_was_where_it_was_recorded(tmp_path, zone, day):
    moments = pa.array([dt.datetime(2001, 1, 1, 23, 30), None], pa.timestamp("ns", tz=zone))
    pq.write_table(pa.table({"point": ["P", "Q"], "date": moments}), tmp_path / "a.parquet")
    (sheet,) = read_cells(tmp_path / "a.parquet")
    assert sheet.cells.to_numpy().tolist() == [["point", "date"], ["P", day], ["Q", ""]]
    assert sheet.cells.index.tolist() == [1, 2, 3]


def test_a_zone_that_nobody_knows(tmp_path):
    moments = pa.array([0], pa.timestamp("us", tz="Nowhere/At_all"))
    pq.write_table(pa.table({"date": moments}), tmp_path / "a.parquet")
    with pytest.raises(UnreadableFile, match="was not read"):
        read_cells(tmp_path / "a.parquet")


@pytest.mark.parametrize("encoding", ["shift_jis", "cp1250", "iso8859-15", "utf-16-le"])
def test_a_stated_encoding_is_known_there(tmp_path, encoding):
    (tmp_path / "a.csv").write_bytes("point,note\nP,ž\n".encode(encoding, "replace"))
    (sheet,) = read_cells(tmp_path / "a.csv", encoding=encoding)
    assert sheet.cells.iloc[1, 0] == "P"


AREA = ((1, 0, 2, 1),)
SHEET = Contents([texts_of(["a", "é", ""]), texts_of(["", "b", "c" * 100])], 3, "S", 2, {3: "why"}, AREA)


def test_a_sheet_comes_across_as_it_was():
    (there,) = from_message(as_message([SHEET]))
    assert [texts.to_pylist() for texts in there.columns] == [texts.to_pylist() for texts in SHEET.columns]
    assert (there.sheet, there.first_row, there.problems, there.merged) == ("S", 2, {3: "why"}, AREA)


def test_an_answer_that_was_tampered_with_is_no_sheet():
    """A process that hostile bytes took over may send anything: none of it gets further."""
    sound = as_message([SHEET])
    rng = np.random.default_rng(7)
    for _ in range(300):
        pieces = [bytearray(piece) for piece in sound.pieces]
        piece = pieces[rng.integers(len(pieces))]
        if rng.random() < 0.3:
            del piece[rng.integers(len(piece)) :]
        for place in rng.integers(0, max(len(piece), 1), 3):
            if piece:
                piece[place % len(piece)] = rng.integers(256)
        try:
            (sheet,) = from_message(Message(sound.header, [bytes(piece) for piece in pieces]))
        except (ValueError, KeyError, TypeError):
            continue
        assert all(isinstance(text, str) for column in sheet.columns for text in column.to_pylist())


@pytest.mark.parametrize(
    "odd", ["a\x1b[2Jb", "\u202ea", "a\x00", "x" * 40_000], ids=["codes", "turned", "zero", "long"]
)
def test_a_reader_is_not_believed_that_its_cells_are_harmless(odd):
    said = Contents([texts_of(["point", "P", "Q"]), pa.array(["date", odd, "é"], pa.large_string())], 3)
    (there,) = from_message(as_message([replace(said, harmless=True)]))
    (cell,) = there.columns[1].to_pylist()[1:2]
    assert list(there.problems) == [2]
    assert not set(cell) & set("\x1b\u202e\x00")
    assert len(cell) <= 32_767
    assert there.columns[0].to_pylist() == ["point", "P", "Q"]


@pytest.mark.parametrize("change", [{"n_rows": 3_000_002}, {"n_columns": 20_000}, {"n_rows": -1}])
def test_a_sheet_of_no_size_that_is_read_is_none(change):
    sound = as_message([SHEET])
    header = {"sheets": [{**sound.header["sheets"][0], **change}]}
    with pytest.raises(ValueError, match="no such sheet"):
        from_message(Message(header, sound.pieces))


def test_more_sheets_than_are_read_are_none():
    sound = as_message([SHEET])
    with pytest.raises(ValueError, match="more sheets"):
        from_message(Message({"sheets": sound.header["sheets"] * 501}, list(sound.pieces) * 501))
