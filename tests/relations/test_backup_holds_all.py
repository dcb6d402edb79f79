"""What a backup gives back is what the store holds, after every command that writes."""

import hashlib
import json

import duckdb
import pytest
from pages.writers import begun, call, made, writers

from dashboard.cli import COMMANDS
from ingest.store import Store
from ingest.store.run_frames import declared_columns, declared_kind
from ingest.verdicts.layout_advice import keep_layout

WRITE_NO_ROW = {
    *("backup", "restore", "export", "new-vehicle", "layout"),  # files, or a store that is whole at once
    *("checks", "clocks", "limits", "tires", "parts", "measure-first", "serve"),
    "demo",  # add and forecast
}
PICTURE = b"what a picture holds"
NAME = hashlib.sha256(PICTURE).hexdigest()
TABLES_MORE = {
    "facts": "vehicle,fact,value,source,date\nNettle,axle_load_lb,30000,weighed,2016-04-01\n",
    "gauges": "gauge,instrument,unit,resolution,since\nG1,wheel gauge,in,1/64,2015-01-01\n",
    "parts": "part_no,component,maker\nT1,driver tire,a works\n",
    "openings": "opening,vehicle,since,until,depth\nW1,Nettle,2021-11-01,2022-02-01,wheels out\n",
    "fittings": "part_no,vehicle,position,since\nT1,Nettle,driver 1 left,2016-04-01\n",
    "events": "vehicle,date,event,note\nNettle,2020-06-01,water,softened since\n",
    "work": "point,date,action,note\nN-SPRING,2021-12-01,renewed,\n",
    "findings": "vehicle,date,component,examined,defective\nNettle,2021-12-01,back spring hanger pin,8,1\n",
    "pictures": f"picture,file name,media_type,vehicle,date\n{NAME},a.jpg,image/jpeg,Nettle,2021-12-02\n",
    "defects": "vehicle,date,component,defect,place,verdict\nNettle,2021-12-02,crosshead,crack,edge,watch\n",
    "funds": "date,amount,currency,kind\n2023-01-01,5000,USD,received\n",
    "trips": "date,train,engines_able,miles\n2024-05-01,A1,Nettle,20\n",
    "capacities": "resource,trade,month,amount\nlabour,fitting,2024-11,120\n",
    "lead_times": "component,item,lead time\ndriver tire,tires,14\n",
    "position_aliases": "as_written,position\nnear side leading,driver 1 left\n",
}
"""A row in each table that the small railway leaves empty."""
STORED = {
    "double": ("DOUBLE",),
    "int64": ("BIGINT",),
    "string": ("VARCHAR",),
    "bool": ("BOOLEAN",),
    "timestamp[us]": ("TIMESTAMP",),
    "list<item: string>": ("VARCHAR[]",),
    "list<item: double>": ("DOUBLE[]",),
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The files of the commands, and those of the other tables."""
    folder = made(tmp_path_factory.mktemp("relations"))
    (folder / "rest").mkdir()
    for name, text in TABLES_MORE.items():
        (folder / "rest" / f"{name}.csv").write_text(text)
    return folder


def first(path, folder):
    """What stands in the store before the commands, with a row in each table that none of them fills."""
    begun(path, folder)
    keep_layout(Store(path), "depot book", "a kind", (folder / "book.toml").read_text())
    with Store(path).transaction("pictures", "R. T.") as batch:
        batch.keep_picture(PICTURE)
    call(path, "add", folder / "rest")


def commands(path, folder):
    """Every command that writes, one after the other; the slow one with less to do."""
    found = writers(path, folder)
    found["brief"] = ("brief", "--out", folder / "brief.html")  # of the first window that the new plan fills
    found["score"] = ("score", "--quick", "--origins", "2")
    return found


def test_every_command_that_writes_is_among_them(written, folder):
    _, called = written
    assert {words[0] for words in called.values()} | WRITE_NO_ROW == set(COMMANDS)
    assert not {words[0] for words in called.values()} & WRITE_NO_ROW


def contents(path):
    """Every table of a store: its columns and their kinds, its rows in order."""
    with duckdb.connect(str(path), read_only=True) as connection:
        tables = [row[0] for row in connection.execute("SELECT table_name FROM duckdb_tables()").fetchall()]
        return {
            table: (
                connection.execute(f"DESCRIBE {table}").fetchall(),
                [repr(row) for row in connection.execute(f"SELECT * FROM {table}").fetchall()],
            )
            for table in sorted(tables)
        }


def check_backup(path, folder):
    """Back up, restore elsewhere, and compare everything; what the store holds."""
    other = folder / "restored.duckdb"
    call(path, "backup", folder / "b.zip")
    call(other, "restore", folder / "b.zip", "--replace")
    here, there = contents(path), contents(other)
    assert list(here) == list(there)
    for table, content in here.items():
        assert content == there[table], table
    one, two = Store(path), Store(other)
    for kind in ("forecast", "plan", "case", "score", "shared"):
        assert one.runs(kind).equals(two.runs(kind))
    return here


@pytest.fixture(scope="module")
def written(folder):
    """A store that every command has written into, and what was called."""
    path = folder / "all.duckdb"
    first(path, folder)
    called = commands(path, folder)
    for words in called.values():
        call(path, *words)
    return path, called


def test_a_store_that_every_command_wrote_into_comes_back_whole(written, folder):
    path, _ = written
    held = check_backup(path, folder)
    assert [table for table, (_, rows) in held.items() if not rows and not table.startswith("frame_")] == []


@pytest.mark.long
def test_a_backup_after_each_command_comes_back_whole(folder, tmp_path):
    path = tmp_path / "each.duckdb"
    first(path, folder)
    before = check_backup(path, tmp_path)
    for name, words in commands(path, folder).items():
        call(path, *words)
        now = check_backup(path, tmp_path)
        assert now != before or name == "share", f"{name} wrote nothing"
        before = now


def test_a_store_of_which_nothing_can_be_forecast_comes_back_whole(folder, tmp_path):
    path = tmp_path / "new.duckdb"
    call(path, "add", folder / "files" / "vehicles.csv", folder / "files" / "wear_points.csv")
    call(path, "forecast")
    check_backup(path, tmp_path)
    call(path, "add", folder / "files")  # what it compares with the forecast is a frame without rows


def test_every_column_of_every_frame_is_stored_as_it_is_declared(written):
    with duckdb.connect(str(written[0]), read_only=True) as connection:
        frames = connection.execute(
            "SELECT DISTINCT kind, name, stored_in FROM run_frame JOIN run USING (run_id)"
        ).fetchall()
        stored = {table: connection.execute(f"DESCRIBE {table}").fetchall() for _, _, table in frames}
    wrong = []
    for kind, name, table in frames:
        columns = declared_columns(kind, name)
        for column, stored_kind, *_ in stored[table][1:]:
            wanted = STORED.get(str(declared_kind(columns, column)), ())
            if not stored_kind.startswith(tuple(w.rstrip("]") for w in wanted) or ("nothing is declared",)):
                wrong.append([kind, name, column, stored_kind])
    assert wrong == [], "ingest/store/run_frames.toml: " + json.dumps(wrong)
    assert {kind for kind, _, _ in frames} == {"forecast", "plan", "case", "score", "shared"}
