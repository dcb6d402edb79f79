"""A frame has its declared columns whether it has rows or not, and comes back so from a backup."""

from pathlib import Path

import pandas as pd
import pyarrow as pa

from ingest.store import Store
from ingest.store.backup import backup, look, restore
from ingest.store.run_frames import as_declared, declared_columns, declared_kind, missing_frames

OLD = Path(__file__).parent / "data" / "backup_of_form_2.zip"
"""Made by an earlier milesleft from a store with a forecast in which no part was condemned."""


def kinds(frame):
    return {name: str(kind) for name, kind in frame.dtypes.items()}


def test_a_backup_with_columns_that_never_held_a_value_comes_back(tmp_path):
    assert look(OLD).form == 2
    store = Store(tmp_path / "s.duckdb")
    restore(store, OLD)
    run = store.runs("forecast")["run_id"].iloc[0]
    condemned = store.read_run(run, "condemned")
    assert condemned.empty
    assert kinds(condemned)["date"] == "datetime64[us]"
    assert kinds(condemned)["point"] == "str"
    assert len(store.read_run(run, "path")) == 16
    assert store.read("readings")["found_or_left"].tolist() == ["", "", ""]
    backup(store, tmp_path / "again.zip")


def test_runs_without_rows_come_back_with_their_kinds_of_columns(known, store, tmp_path):
    runs = {kind: store.save_run(kind, {}, {}) for kind in ("forecast", "plan", "case", "score", "shared")}
    backup(store, tmp_path / "b.zip")
    other = Store(tmp_path / "other.duckdb")
    restore(other, tmp_path / "b.zip")
    expected = {"double": "float64", "int64": "int64", "string": "str", "bool": "bool"}
    with store.at_once() as one, other.at_once() as two:
        for kind, name in [(each, name) for each in runs for name in missing_frames(each, [])]:
            here, there = one.read_run(runs[kind], name), two.read_run(runs[kind], name)
            pd.testing.assert_frame_equal(here, there)
            for column in here:
                declared = str(declared_kind(declared_columns(kind, name), column))
                assert kinds(here)[column] == expected.get(declared, kinds(here)[column])


def test_rows_do_not_change_the_kinds_and_the_kinds_do_not_change_the_rows(known, store):
    frame = pd.DataFrame({"point": ["A", "B"], "vehicle": ["V", "V"], "date": pd.NaT, "note": [None, None]})
    run = store.save_run("forecast", {}, {"condemned": frame, "unheard": pd.DataFrame({"x": [None]})})
    back = store.read_run(run, "condemned")
    assert back["point"].tolist() == ["A", "B"]
    assert kinds(back)["date"] == "datetime64[us]"
    assert kinds(back)["note"] == "str"
    assert kinds(store.read_run(run, "unheard"))["x"] == "str"


def test_what_does_not_fit_its_declaration_is_kept_as_it_is():
    frame = pa.table({"readings_used": pa.array([1.5, 2.0]), "miles_p50": pa.array(["many", "few"])})
    kept = as_declared("forecast", "forecast", frame)
    assert kept.equals(frame)
    whole = as_declared("forecast", "forecast", pa.table({"readings_used": pa.array([1.0, None])}))
    assert whole.column(0).to_pylist() == [1, None]
