"""A picture and what it belongs to come into the store together or not at all, whatever is killed."""

import io
import os
import signal
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from PIL import Image

from dashboard.shop.openings import begin
from ingest.errors import StoreProblem
from ingest.store import Store

SCRIPT = Path(__file__).with_name("picture_to_kill.py")
ROOT = SCRIPT.parents[3]


def kept(db, way, moment):
    call = [sys.executable, str(SCRIPT), str(db), way, moment]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run(call, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("way", ["finding", "at the engine"])
@pytest.mark.parametrize("moment", ["before", "after"])
def test_a_picture_stands_with_its_row_or_not_at_all(small, way, moment):
    store = Store(small)
    begin(store, "Nettle", pd.Timestamp("2023-11-01").date())
    before = {table: len(rows) for table, rows in store.read_all().items()}
    done = kept(small, way, moment)
    assert done.returncode == -signal.SIGKILL, done.stderr
    new = {t: len(rows) - before[t] for t, rows in store.read_all().items() if len(rows) > before[t]}
    contents = contents_of(store)
    if moment == "before":
        assert (new, contents) == ({}, [])
        return
    assert new == ({"pictures": 1, "defects": 1} if way == "finding" else {"pictures": 1})
    (name,) = store.read("pictures")["picture"]
    assert contents == [name]
    assert Image.open(io.BytesIO(store.picture(name))).size == (40, 30)
    if way == "finding":
        assert store.read("defects")["picture"].tolist() == [name]


def test_a_finding_told_again_brings_a_content_that_was_missing(small):
    """The row of the picture may have come in from a sheet, without its content."""
    store = Store(small)
    begin(store, "Nettle", pd.Timestamp("2023-11-01").date())
    assert kept(small, "finding", "never").returncode == 0
    (name,) = store.read("pictures")["picture"]
    with store._file.writing() as connection:
        connection.execute("DELETE FROM picture_content").fetchall()
    with pytest.raises(StoreProblem):
        store.picture(name)
    assert kept(small, "finding", "never").returncode == 0
    assert len(store.read("defects")) == 1
    assert store.picture(name)


def contents_of(store):
    with store._file.reading() as connection:
        return [row[0] for row in connection.execute("SELECT picture FROM picture_content").fetchall()]
