"""Whatever the bytes of a file are, reading it ends in tables or in a message for the user."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.errors import UserError
from ingest.layouts.apply import read_tables

HEADS = [
    b"",
    b"PK\x03\x04",
    b"point,date,value\n",
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b"sep=;\n",
    b"\xd0\xcf\x11\xe0",
]
TEXTS = st.text().map(lambda text: text.encode("utf-8")) | st.text('",;\t\n\r|\x00ab1', max_size=60).map(
    str.encode
)


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return tmp_path_factory.mktemp("bytes")


@settings(deadline=None, max_examples=400)
@given(
    st.sampled_from(HEADS),
    st.binary(max_size=300) | TEXTS,
    st.sampled_from([".csv", ".tsv", ".xlsx", ".xls"]),
)
def test_any_bytes(place, head, tail, ending):
    path = place / f"sheet{ending}"
    path.write_bytes(head + tail)
    try:
        tables = read_tables(path)
    except UserError:
        return
    for table in tables:
        assert table.rows.shape[1] == len(table.columns)
        assert table.rows.index.is_monotonic_increasing
        assert not table.rows.isna().any().any()
        assert set(table.problems) <= set(table.rows.index)
        assert not any("\x00" in cell for cell in table.rows.to_numpy().ravel())
