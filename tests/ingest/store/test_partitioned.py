"""The store in parts: every row in its place, read by DuckDB as one table, and back as the store reads it."""

import duckdb
import pandas as pd
import pyarrow as pa
import pytest

from ingest.store import runs
from ingest.store.frames import to_arrow
from ingest.store.partitioned import COLUMNS, OF_POINTS, pack_part, read_part, unpack_part
from models.lives.build import build_lives

VEHICLES = "vehicle,name,arrangement,class\nA,,2-8-0,B\nC,,2-8-0,D\n"
POINTS = """point,vehicle,component,quantity,unit,new_value,condemning_limit
A1,A,box,clearance,mm,0,5
A2,A,pin,clearance,mm,0,5
C1,C,box,clearance,in,0,1/4
"""
LOG = """vehicle,date,odometer,unit
A,2001-01-01,10000,mi
A,2002-01-01,12000,mi
C,2001-01-01,500,km
C,2002-01-01,900,km
"""
READINGS = """point,date,value,unit,odometer
A1,2001-03-01,1.5,mm,
A2,2001-04-01,2.5,mm,11000
C1,2001-05-01,1/8,in,
A1,2001-09-01,1.75,mm,
"""
WORK = "point,date,action\nA2,2001-02-01,renewed\n"
USAGE = "vehicle,month,miles_planned\nC,2002-03,250\n"
RUNS = pd.DataFrame({"point": ["A1", "A2", "C1"], "vehicle": ["A", "A", "C"], "run": [0, 1, 1]})


@pytest.fixture
def parts(add, store, tmp_path):
    add(vehicles=VEHICLES, wear_points=POINTS, mileage=LOG, readings=READINGS, work=WORK, usage=USAGE)
    store.write_parts(tmp_path / "parts", RUNS, store.version())
    return tmp_path / "parts"


def test_duckdb_reads_the_parts_as_one_table(parts, store):
    for table, columns in COLUMNS.items():
        files = f"read_parquet('{parts}/{table}/run=*/*.parquet', hive_partitioning = true)"
        whole = store.read(table)
        if whole.empty:
            assert not any((parts / table).glob("run=*"))
            continue
        found = duckdb.sql(f"SELECT {columns}, run FROM {files}").df()
        if table in OF_POINTS:
            assert sorted(found["row_id"]) == sorted(whole["row_id"])
            run = RUNS.set_index("point")["run"].reindex(found["point"])
            assert (found["run"].to_numpy() == run.to_numpy()).all()
        else:
            assert set(found["row_id"]) == set(whole["row_id"])


def test_a_part_is_read_as_the_store_reads_it(parts, store):
    for run, points in ((0, ["A1"]), (1, ["A2", "C1"])):
        tables = read_part(parts, run)
        for table, sent in unpack_part(pack_part(parts, run)).items():
            pd.testing.assert_frame_equal(sent, tables[table])
        readings = store.read("readings")
        own = readings[readings["point"].isin(points)].sort_values("row_id", ignore_index=True)
        columns = ["point", "date", "value", "odometer", "odometer_sd"]
        pd.testing.assert_frame_equal(tables["readings"][columns], own[columns])
        assert tables["wear_points"]["point"].tolist() == points
        log = store.read("mileage")
        vehicles = ["A"] if run == 0 else ["A", "C"]
        own = log[log["vehicle"].isin(vehicles)].reset_index(drop=True)
        pd.testing.assert_frame_equal(
            tables["mileage"][["vehicle", "odometer"]], own[["vehicle", "odometer"]]
        )


def test_a_part_knows_how_far_the_other_wear_points_of_its_vehicles_were_read(add, store, tmp_path):
    """Read after the log's end: A1 is in another run than A2, and both are as of the same day and miles."""
    late = "point,date,value,unit,odometer\nA1,2002-01-20,1.8,mm,\nA1,2002-01-10,1.8,mm,12100\n"
    add(vehicles=VEHICLES, wear_points=POINTS, mileage=LOG, readings=READINGS)
    add(readings=late)
    store.write_parts(tmp_path / "parts", RUNS, store.version())
    whole = build_lives(store.read_for_models("vehicles", "wear_points", "mileage", "readings", "work"))
    assert whole.as_of_odometer[:2].tolist() == [12100, 12100]
    for run, points in ((0, [0]), (1, [1, 2])):
        table = build_lives(read_part(tmp_path / "parts", run))
        assert table.as_of_odometer.tolist() == whole.as_of_odometer[points].tolist()
        assert table.as_of_day.tolist() == whole.as_of_day[points].tolist()


def test_a_table_without_rows_in_a_run_is_there_and_empty(parts):
    assert len(read_part(parts, 0)["work"]) == 0
    assert read_part(parts, 1)["work"]["point"].tolist() == ["A2"]
    assert read_part(parts, 0)["usage"].columns.tolist() == COLUMNS["usage"].split(", ")


def test_parts_are_those_of_the_version_asked_for(add, store, tmp_path):
    add(vehicles=VEHICLES, wear_points=POINTS, mileage=LOG, readings=READINGS)
    version = store.version()
    add(readings="point,date,value,unit\nA1,2001-11-01,1.9,mm\n")
    for at, count in ((version, 2), (version + 1, 3)):
        store.write_parts(tmp_path / f"parts-{at}", RUNS, at)
        assert len(read_part(tmp_path / f"parts-{at}", 0)["readings"]) == count


def test_a_run_is_stored_from_files_as_from_frames(store, add, tmp_path, basics, monkeypatch):
    monkeypatch.setattr(runs, "ROWS_AT_ONCE", 3)
    monkeypatch.setattr(runs, "ROW_GROUP", 2)  # so that a batch is of two files, and what is left waits
    add(**basics)
    frame = pd.DataFrame({"point": list("abcd"), "miles": [1.5, None, 3.0, 4.0], "q": [[1.0, 2.0]] * 4})
    files = []
    for i, rows in enumerate((frame.iloc[:1], frame.iloc[1:3], frame.iloc[3:])):
        files.append(tmp_path / f"{i}.arrow")
        table = to_arrow(rows)
        with pa.OSFile(str(files[-1]), "wb") as sink, pa.ipc.new_file(sink, table.schema) as stream:
            stream.write_table(table)
    run = store.save_run_files("forecast", {"as_of": "2020-01-01"}, {"forecast": files, "few": files[:1]})
    other = store.save_run("forecast", {}, {"forecast": frame})
    pd.testing.assert_frame_equal(store.read_run(run, "forecast"), store.read_run(other, "forecast"))
    assert store.read_run(run, "forecast", point="c")["miles"].tolist() == [3.0]
    assert len(store.read_run(run, "few")) == 1
