"""A backup holds everything, a damaged one is refused, a restore is whole or not at all; migrations."""

import json
import shutil
import zipfile

import duckdb
import pandas as pd
import pytest

from ingest.errors import StoreProblem, UnreadableFile
from ingest.schema import TABLES
from ingest.store import Store, migrate
from ingest.store.backup import backup, look, restore
from ingest.verdicts.corrections import dismiss
from ingest.verdicts.undo import undo


@pytest.fixture
def full(add, known, store):
    """A store with several batches, held and settled rows, an undo, and a run with lists."""
    head = "point,date,value\n"
    add(readings=head + "HOLLOW,2001-02-01,1/16\nHOLLOW,2001-02-02,none\nHOLLOW,2001-02-03,none\n")
    undo(store, add(readings=head + "HOLLOW,2001-03-01,1/16\n").batch, why="twice")
    dismiss(store, [1], reason="nothing there")
    distribution = pd.DataFrame({"point": ["HOLLOW"], "remaining": [[float(i) for i in range(33)]]})
    store.save_run("forecast", {"as_of": "2002-01-01"}, {"distribution": distribution})
    return store


def assert_same_history(one: Store, other: Store) -> None:
    """Same tables at every version, same held rows, batches and runs."""
    assert one.version() == other.version()
    for version in range(one.version() + 1):
        left, right = one.read_all(version=version), other.read_all(version=version)
        for name in TABLES:
            pd.testing.assert_frame_equal(left[name], right[name])
        pd.testing.assert_frame_equal(one.held(version), other.held(version))
    pd.testing.assert_frame_equal(one.batches(), other.batches())
    pd.testing.assert_frame_equal(one.runs("forecast"), other.runs("forecast"))
    for run_id in one.runs("forecast")["run_id"]:
        left, right = one.read_run(run_id, "distribution"), other.read_run(run_id, "distribution")
        pd.testing.assert_frame_equal(left, right)


def test_a_restored_store_has_the_whole_history_and_works_on(full, tmp_path):
    made = backup(full, tmp_path / "store.backup")
    other = Store(tmp_path / "other.duckdb")
    assert restore(other, tmp_path / "store.backup") == made == look(tmp_path / "store.backup")
    assert_same_history(full, other)
    point = full.read_run(full.runs("forecast")["run_id"].iloc[0], "distribution", point="HOLLOW")
    other.save_run("forecast", {}, {"distribution": point})
    assert len(other.runs("forecast")) == 2
    with other.transaction("add") as batch:
        batch.retract("vehicles", batch.stored()["vehicles"]["row_id"])
    assert other.version() == full.version() + 1


def test_every_part_is_parquet_with_its_checksum(full, tmp_path):
    backup(full, tmp_path / "b")
    with zipfile.ZipFile(tmp_path / "b") as archive:
        about = json.loads(archive.read("about.json"))
        assert set(archive.namelist()) == {"about.json", *about["sha256"]}
        assert all(archive.read(name)[:4] == b"PAR1" for name in about["sha256"])
        assert {f"{table}.parquet" for table in TABLES} <= set(about["sha256"])


def test_a_single_changed_byte_anywhere_in_a_part_is_found(full, tmp_path):
    backup(full, tmp_path / "b")
    content = bytearray((tmp_path / "b").read_bytes())
    at = content.find(b"PAR1") + 20
    content[at] ^= 0x01
    (tmp_path / "b").write_bytes(content)
    target = Store(tmp_path / "other.duckdb")
    with pytest.raises(UnreadableFile, match="damaged"):
        restore(target, tmp_path / "b")
    assert not target.path.exists()


def test_a_part_that_was_exchanged_with_its_crc_is_found_by_its_checksum(full, tmp_path):
    backup(full, tmp_path / "b")
    with zipfile.ZipFile(tmp_path / "b") as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts["vehicles.parquet"], parts["readings.parquet"] = (
        parts["readings.parquet"],
        parts["vehicles.parquet"],
    )
    with zipfile.ZipFile(tmp_path / "c", "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    with pytest.raises(
        UnreadableFile, match=r"readings\.parquet is not what was written|vehicles\.parquet is not"
    ):
        look(tmp_path / "c")


@pytest.mark.parametrize("cut", [10, 200, 3000])
def test_a_backup_cut_short_is_refused(full, tmp_path, cut):
    backup(full, tmp_path / "b")
    content = (tmp_path / "b").read_bytes()
    (tmp_path / "b").write_bytes(content[:-cut])
    with pytest.raises(UnreadableFile, match=r"damaged|not a backup"):
        look(tmp_path / "b")


def test_other_files_are_no_backups(tmp_path):
    (tmp_path / "letter").write_text("Dear Sir")
    with pytest.raises(UnreadableFile, match="not a backup"):
        look(tmp_path / "letter")
    with zipfile.ZipFile(tmp_path / "z", "w") as archive:
        archive.writestr("about.json", "{}")
    with pytest.raises(UnreadableFile, match="not a backup"):
        look(tmp_path / "z")
    with pytest.raises(UnreadableFile, match="does not exist"):
        look(tmp_path / "none")


def test_a_part_that_would_lie_outside_the_folder_is_refused(tmp_path):
    about = {"made_by": "milesleft backup", "sha256": {"../evil.parquet": "0"}, "tables": {}}
    with zipfile.ZipFile(tmp_path / "z", "w") as archive:
        archive.writestr("about.json", json.dumps(about))
        archive.writestr("../evil.parquet", "x")
    with pytest.raises(UnreadableFile, match="not a backup"):
        look(tmp_path / "z")


def test_a_store_that_is_there_is_replaced_only_when_told_and_is_kept(full, tmp_path):
    backup(full, tmp_path / "b")
    target = Store(tmp_path / "other.duckdb")
    with target.transaction("add") as batch:
        batch.insert("vehicles", full.stored()[1]["vehicles"].drop(columns="row_id"))
    before = target.path.read_bytes()
    with pytest.raises(StoreProblem, match="exists"):
        restore(target, tmp_path / "b")
    assert target.path.read_bytes() == before
    restore(target, tmp_path / "b", replace=True)
    assert_same_history(full, target)
    assert len(Store(tmp_path / "other.duckdb.before-restore").read("vehicles")) == 1


def test_the_log_of_changes_of_an_older_store_is_not_mixed_in(full, tmp_path):
    """A process that died may leave a log of changes behind; it must not reach the restored store."""
    backup(full, tmp_path / "b")
    target = Store(tmp_path / "other.duckdb")
    log = target.path.with_name("other.duckdb.wal")
    shutil.copyfile(full.path, target.path)
    with duckdb.connect(str(target.path)) as connection:
        connection.execute("DELETE FROM vehicles").fetchall()
        left = log.read_bytes()
    target.path.unlink()
    log.write_bytes(left)
    restore(target, tmp_path / "b")
    assert_same_history(full, target)


def test_a_backup_of_a_newer_form_is_refused(full, tmp_path):
    backup(full, tmp_path / "b")
    with zipfile.ZipFile(tmp_path / "b") as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    about = json.loads(parts["about.json"]) | {"form": migrate.latest() + 1}
    with zipfile.ZipFile(tmp_path / "c", "w") as archive:
        for name, content in (parts | {"about.json": json.dumps(about).encode()}).items():
            archive.writestr(name, content)
    with pytest.raises(StoreProblem, match="newer milesleft"):
        restore(Store(tmp_path / "other.duckdb"), tmp_path / "c")


def test_the_first_form_of_the_store_is_brought_up_to_date_when_it_is_opened(tmp_path):
    path = tmp_path / "old.duckdb"
    connection = duckdb.connect(str(path))
    migrate.bring_up_to_date(connection, until=1)
    connection.execute(
        "INSERT INTO vehicles VALUES (1, 'A', '', '', '', NULL, 1, 'v.csv', '', 2, 1, NULL);"
        "INSERT INTO batch VALUES (1, TIMESTAMP '2001-01-01', 'x', 'add', '{}')"
    )
    connection.close()
    assert Store(path).read("vehicles")["vehicle"].tolist() == ["A"]
    with duckdb.connect(str(path)) as now:
        assert now.execute("SELECT max(number) FROM migration").fetchall() == [(migrate.latest(),)]


def test_a_step_that_fails_leaves_the_store_in_its_old_form(tmp_path, monkeypatch):
    path = tmp_path / "old.duckdb"
    connection = duckdb.connect(str(path))
    migrate.bring_up_to_date(connection)
    latest = migrate.latest()
    steps = migrate.steps() | {
        latest + 1: ("broken.sql", "CREATE TABLE half (x INTEGER); SELECT nothing FROM nowhere")
    }
    monkeypatch.setattr(migrate, "steps", lambda: steps)
    with pytest.raises(duckdb.Error):
        migrate.bring_up_to_date(connection)
    tables = {row[0] for row in connection.execute("SELECT table_name FROM duckdb_tables()").fetchall()}
    assert "half" not in tables
    assert migrate.applied(connection, path) == latest
    connection.close()


def test_the_tables_of_the_store_are_those_of_the_contract(full):
    copied = full.path.with_name("copy.duckdb")
    shutil.copyfile(full.path, copied)
    with duckdb.connect(str(copied)) as connection:
        rows = connection.execute(
            "SELECT table_name, column_name FROM duckdb_columns() WHERE NOT internal"
        ).fetchall()
    stored = {table: {column for name, column in rows if name == table} for table in TABLES}
    kept = {"row_id", "batch", "brought_by", "retracted_in", "source_file", "source_sheet", "source_row"}
    computed = {"odometer", "odometer_source", "odometer_sd"}
    for name, table in TABLES.items():
        columns = {column.name for column in table.all_columns}
        if name in ("mileage", "readings"):
            columns = (columns - computed) | {"odometer_read"}
        assert stored[name] == columns | kept
