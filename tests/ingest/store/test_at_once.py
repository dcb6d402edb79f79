"""Reads that follow each other share one opening of the store."""

import duckdb
import pandas as pd
import pytest

from ingest.errors import StoreBusy, StoreProblem
from ingest.schema import TABLES
from ingest.store import Store
from ingest.store.reading import LEAN


def test_reads_of_a_block_open_the_store_once_and_read_the_same(known, store, monkeypatch):
    opened = []
    connect = duckdb.connect

    def counted(*args, **config):
        opened.append(args)
        return connect(*args, **config)

    apart = {table: store.read(table) for table in TABLES}
    monkeypatch.setattr(duckdb, "connect", counted)
    with store.at_once() as now:
        assert now.version() == 1
        assert now.points() == len(apart["wear_points"])
        assert now.runs("forecast").empty
        for table, frame in now.read_all().items():
            pd.testing.assert_frame_equal(frame, apart[table])
        lean = now.read_for_models("readings")["readings"]
        with now.at_once() as same:
            assert same.version() == 1
    assert len(opened) == 1
    columns = ["point", "date", "value"]
    placed = apart["readings"][LEAN].sort_values(columns, ignore_index=True)
    pd.testing.assert_frame_equal(lean.sort_values(columns, ignore_index=True), placed)
    assert store.version() == 1  # opens again
    assert len(opened) == 2


def test_nobody_writes_while_a_block_reads(known, store):
    with store.at_once(), pytest.raises(StoreBusy), Store(store.path, 0.1).transaction("add"):
        pass
    with store.transaction("add"):
        pass


def test_a_block_on_a_store_that_is_not_there_says_how_to_make_one(store):
    with pytest.raises(StoreProblem, match="milesleft add"), store.at_once():
        pass
