"""The store: versions, runs, one transaction a batch, clear words when it cannot be opened."""

import json
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import duckdb
import numpy as np
import pandas as pd
import pytest

from ingest.errors import StoreBusy, StoreProblem
from ingest.schema import TABLES
from ingest.store import Store
from ingest.store.locks import locked


def vehicles(*names: str) -> pd.DataFrame:
    """Rows of the table vehicles as they are stored."""
    frame = pd.DataFrame({"vehicle": names, "name": "", "arrangement": "", "class": ""})
    return frame.assign(
        service_from=np.datetime64("NaT", "us"),
        source_file="v.csv",
        source_sheet="",
        source_row=range(2, len(names) + 2),
    )


def test_a_store_that_is_not_there_has_version_0_and_says_how_to_make_one(store):
    assert store.version() == 0
    assert store.runs("forecast").empty
    with pytest.raises(StoreProblem, match="milesleft add"):
        store.read("readings")
    assert not store.path.exists()


def test_each_table_reads_with_its_public_and_internal_columns(known, store):
    for name, table in TABLES.items():
        frame = store.read(name)
        expected = [column.name for column in table.all_columns]
        assert list(frame.columns)[: len(expected)] == expected
        for column in table.all_columns:
            kinds = {
                "number": "float64",
                "whole": "float64",
                "date": "datetime64[us]",
                "month": "datetime64[us]",
            }
            assert str(frame[column.name].dtype) == kinds.get(column.kind, "str"), (name, column.name)


def test_any_version_reads_as_it_was(store):
    with store.transaction("add") as batch:
        batch.insert("vehicles", vehicles("A", "B"))
    with store.transaction("add") as batch:
        batch.retract("vehicles", store_row(batch, "A"))
        batch.insert("vehicles", vehicles("C"))
    assert store.version() == 2
    assert store.read("vehicles", 0).empty
    assert store.read("vehicles", 1)["vehicle"].tolist() == ["A", "B"]
    assert store.read("vehicles")["vehicle"].tolist() == ["B", "C"]


def store_row(batch, name: str) -> pd.Series:
    """Number of a vehicle's row."""
    rows = batch.stored()["vehicles"]
    return rows.loc[rows["vehicle"] == name, "row_id"]


def test_a_batch_that_fails_leaves_nothing(store):
    def broken() -> None:
        with store.transaction("add") as batch:
            batch.insert("vehicles", vehicles("A"))
            raise RuntimeError

    with pytest.raises(RuntimeError):
        broken()
    assert store.version() == 0
    assert store.read("vehicles").empty


def test_a_batch_that_stores_nothing_makes_no_version(store):
    with store.transaction("add"):
        pass
    assert store.version() == 0
    assert store.batches().empty


def frames(n: int) -> dict[str, pd.DataFrame]:
    """A run's frames with text, dates, numbers, gaps and lists."""
    rng = np.random.default_rng(3)
    distribution = pd.DataFrame({"point": [f"P{i}" for i in range(n)]})
    distribution["remaining"] = list(np.sort(rng.random((n, 33)), axis=1))
    check = pd.DataFrame(
        {"point": np.repeat(["P0", "P1"], n), "value": rng.random(2 * n), "n": np.arange(2 * n)}
    )
    check["date"] = pd.date_range("2001-01-01", periods=2 * n).astype("datetime64[us]")
    check.loc[0, "value"] = np.nan
    check["kept"] = check["n"] % 2 == 0
    ragged = pd.DataFrame(
        {"point": ["P0", "P1", "P2"], "weights": [np.array([0.5, 0.5]), np.array([1.0]), None]}
    )
    return {"distribution": distribution, "reading_check": check, "ragged": ragged}


def test_frames_of_a_run_come_back_as_they_were_given(store):
    given = frames(50)
    run_id = store.save_run("forecast", {"as_of": "2026-01-01", "model": "m"}, given)
    for name in ("distribution", "reading_check"):
        pd.testing.assert_frame_equal(store.read_run(run_id, name), given[name])
    ragged = store.read_run(run_id, "ragged")["weights"]
    assert [None if cell is None else cell.tolist() for cell in ragged] == [[0.5, 0.5], [1.0], None]


def test_one_point_of_a_run_and_runs_of_one_shape_stay_apart(store):
    ids = [store.save_run("forecast", {"as_of": "2026"}, frames(n)) for n in (5, 7)]
    assert len(store.read_run(ids[0], "distribution")) == 5
    one = store.read_run(ids[1], "distribution", point="P6")
    assert one["point"].tolist() == ["P6"]
    assert one["remaining"].iloc[0].shape == (33,)
    assert store.read_run(ids[0], "distribution", point="P6").empty
    runs = store.runs("forecast")
    assert runs["run_id"].tolist() == ids[::-1]
    assert json.loads(runs["about"].iloc[0]) == {"as_of": "2026"}
    assert runs["data_version"].tolist() == [0, 0]
    assert store.runs("plan").empty


def test_an_empty_frame_of_a_run_keeps_its_columns(store):
    run_id = store.save_run(
        "plan", {}, {"scope": pd.DataFrame({"point": pd.Series([], dtype="str"), "cost": [0.0][:0]})}
    )
    assert list(store.read_run(run_id, "scope").columns) == ["point", "cost"]


def test_a_run_that_is_not_there_is_said(known, store):
    with pytest.raises(StoreProblem, match="no 'forecast' of 'x'"):
        store.read_run("x", "forecast")


def test_waiting_for_the_store_ends_with_clear_words(known, store):
    impatient = Store(store.path, wait_s=0.05)
    with locked(store.path, "write", 1):
        begun = time.monotonic()
        with pytest.raises(StoreBusy, match=r"did not come free within 0.05 s.*process \d+ since"):
            impatient.read("readings")
        assert time.monotonic() - begun < 5
    impatient.read("readings")


def test_readers_share_the_store_and_keep_a_writer_out(known, store):
    with locked(store.path, "read", 1):
        assert len(Store(store.path, wait_s=1).read("vehicles")) == 1
        with pytest.raises(StoreBusy), Store(store.path, wait_s=0.05).transaction("add"):
            pass


def test_threads_that_open_the_store_at_once_all_find_it_whole(known, store, monkeypatch):
    """One that connects while another is just opening the file may find it without its functions."""
    opening, most = [], []
    connect = duckdb.connect

    def slow(*about, **more):
        opening.append(1)
        most.append(len(opening))
        time.sleep(0.05)  # the others would come meanwhile: they begin together
        try:
            return connect(*about, **more)
        finally:
            opening.pop()

    monkeypatch.setattr(duckdb, "connect", slow)
    with ThreadPoolExecutor(4) as threads:
        found = list(threads.map(lambda number: store.entries_of("readings", [f"id-{number}"]), range(4)))
    assert [len(each) for each in found] == [0] * 4
    assert (len(most), max(most)) == (4, 1)


def test_a_file_that_is_no_store_is_refused_and_kept(tmp_path):
    path = tmp_path / "letter.duckdb"
    path.write_text("Dear Sir")
    with pytest.raises(StoreProblem, match="is no store of milesleft"):
        Store(path).read("readings")
    assert path.read_text() == "Dear Sir"
    other = tmp_path / "other.duckdb"
    with duckdb.connect(str(other)) as connection:
        connection.execute("CREATE TABLE mine (x INTEGER)").fetchall()
    with pytest.raises(StoreProblem, match="not a store of milesleft"):
        Store(other).read("readings")


def test_a_store_of_a_newer_form_is_refused(known, store):
    with duckdb.connect(str(store.path)) as connection:
        connection.execute("INSERT INTO migration VALUES (999, 'later')").fetchall()
    with pytest.raises(StoreProblem, match="form 999"):
        store.read("readings")


def test_opening_the_store_needs_no_contracts():
    """The forecast command opens the store; what the checks of `add` import must not cost it anything."""
    heavy = ["pandera", "scipy", "streamlit", "openpyxl"]
    code = f"import sys, ingest.store; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_rows_of_some_points_are_those_of_the_whole_table(add, known, store):
    head = "point,date,value,unit,odometer\n"
    add(readings=head + "HOLLOW,2001-02-01,0.1,in,\nTHICK,2001-03-01,3.4,in,10300\n")
    add(readings=head + "HOLLOW,2001-05-01,0.11,in,10600\nLIFT,2001-05-01,10,%,10600\n")
    add(work="point,date,action\nHOLLOW,2001-06-01,renewed\n")
    assert store.points_read(1) == ["HOLLOW", "LIFT", "THICK"]
    assert store.points_read(2) == ["HOLLOW", "LIFT"]
    assert store.points_read(1, version=2) == ["HOLLOW", "THICK"]
    names = ["point", "date", "value", "odometer", "odometer_source", "odometer_sd", "batch"]
    whole = store.read("readings")
    some = store.read_of_points(["HOLLOW", "LIFT", "none"], "readings", "wear_points", "work")
    mine = whole[whole["point"].isin(["HOLLOW", "LIFT"])].reset_index(drop=True)
    pd.testing.assert_frame_equal(some["readings"][names], mine[names])
    assert some["wear_points"]["point"].tolist() == ["HOLLOW", "LIFT"]
    assert some["work"]["point"].tolist() == ["HOLLOW"]
    later = store.read_of_points(["HOLLOW"], "readings", "wear_points", since=2)
    assert later["readings"]["date"].dt.month.tolist() == [5]
    assert later["wear_points"]["point"].tolist() == ["HOLLOW"]
    earlier = store.read_of_points(["HOLLOW"], "readings", version=2)
    assert earlier["readings"]["date"].dt.month.tolist() == [2]


def test_the_last_readings_are_those_of_the_last_day(add, known, store):
    head = "point,date,value,unit,odometer,observer\n"
    add(readings=head + "HOLLOW,2001-02-01,0.1,in,10100,A\nHOLLOW,2001-05-01,0.110,in,10600,A\n")
    add(readings=head + "HOLLOW,2001-05-01,0.112,in,10600,B\nTHICK,2001-05-01,3.4,in,10600,B\n")
    last = store.last_readings(["HOLLOW"])
    assert last["value"].tolist() == pytest.approx([0.110 * 25.4, 0.112 * 25.4])
    assert store.last_readings(["HOLLOW"], version=2)["value"].tolist() == pytest.approx([0.110 * 25.4])


def test_several_points_of_a_run_are_read_at_once(store):
    path = pd.DataFrame({"point": ["A", "B", "C", "A"], "p50": [1.0, 2.0, 3.0, 4.0]})
    run = store.save_run("forecast", {}, {"path": path})
    assert sorted(store.read_run(run, "path", point=["A", "C"])["p50"]) == [1.0, 3.0, 4.0]
    assert store.read_run(run, "path", point=[]).empty
