"""A store that cannot be opened says what it is and what to do; the way back leads over it."""

import os
import shutil
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import duckdb
import pandas as pd
import pytest

from dashboard.cli import main
from ingest.errors import StoreBusy, StoreProblem
from ingest.store import Store, migrate, runs
from ingest.store.backup import backup, restore


@pytest.fixture
def told(known, store, capsys):
    """What a command says of the store, how it ends, and that it is one line without a traceback."""

    def say(*command: str) -> str:
        with pytest.raises(SystemExit) as ended:
            main([*command, "--db", str(store.path)])
        said = capsys.readouterr().err
        assert ended.value.code == 1
        assert "Traceback" not in said
        assert "held open" not in said
        return said

    return say


def closed(store: Store) -> int:
    """Size of the store's file, its log written into it."""
    with duckdb.connect(str(store.path)):
        pass
    return store.path.stat().st_size


@pytest.mark.parametrize("share", [0.0001, 0.01, 0.5])
def test_a_store_that_was_cut_short_is_damaged(told, store, share):
    os.truncate(store.path, max(1, int(closed(store) * share)))
    said = told("forecast")
    assert "damaged" in said
    assert "restore FILE --replace" in said


@pytest.mark.parametrize("at", [0, 8, 12, 4096, 4104, 8200, 12288, 20000])
def test_a_flipped_byte_is_damage_and_not_another_program(told, store, at):
    closed(store)
    with store.path.open("r+b") as file:
        file.seek(at)
        byte = file.read(1)[0]
        file.seek(at)
        file.write(bytes([byte ^ 0x40]))
    assert "damaged" in told("held")


def test_damage_that_shows_while_rows_are_read_is_told_too(told, store):
    size = closed(store)
    with store.path.open("r+b") as file:
        for at in range(12288 + 64, size, 4096):
            file.seek(at)
            file.write(b"\x5a" * 64)
    assert "damaged" in told("export", str(store.path.parent / "out"))


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is an empty file"),
        (b"vehicle,date\n" * 900, "not even a database"),
        (b"x", "not even a database"),
    ],
)
@pytest.mark.parametrize("command", [("forecast",), ("undo", "1", "--reason", "x"), ("backup", "b.zip")])
def test_a_file_that_is_no_store_is_said_to_be_none(
    told, store, content, says, command, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    store.path.write_bytes(content)
    assert says in told(*command)
    assert store.path.read_bytes() == content


def test_a_folder_is_said_to_be_one(known, store, tmp_path):
    backup(store, tmp_path / "b.zip")
    store.path.unlink()
    store.path.mkdir()
    for work in (store.version, lambda: restore(store, tmp_path / "b.zip", replace=True)):
        with pytest.raises(StoreProblem, match="is a folder, not a store"):
            work()


def test_a_store_of_a_newer_program_says_which_to_use(told, store):
    with duckdb.connect(str(store.path)) as connection:
        connection.execute("INSERT INTO migration VALUES (?, 'later.sql')", [migrate.latest() + 1])
    assert "newer milesleft" in told("forecast")


def test_a_store_that_is_held_open_is_still_said_to_be_held(known, store):
    hold = (
        "import duckdb, sys, time; c = duckdb.connect(sys.argv[1]); print('held', flush=True); time.sleep(60)"
    )
    with subprocess.Popen([sys.executable, "-c", hold, str(store.path)], stdout=subprocess.PIPE) as other:
        assert other.stdout is not None
        other.stdout.readline()
        with pytest.raises(StoreBusy, match="held open by another program"):
            store.version()
        other.kill()


@pytest.mark.parametrize("damage", ["cut", "flip", "text", "empty"])
def test_the_way_back_leads_over_a_damaged_store_which_is_kept(known, store, tmp_path, damage):
    backup(store, tmp_path / "b.zip")
    size = closed(store)
    content = bytearray(store.path.read_bytes())
    content[12] ^= 0x01
    bad = {"cut": bytes(content[: size // 3]), "flip": bytes(content), "text": b"text" * 9, "empty": b""}[
        damage
    ]
    store.path.write_bytes(bad)
    with pytest.raises(StoreProblem, match="--replace"):
        restore(store, tmp_path / "b.zip")
    restore(store, tmp_path / "b.zip", replace=True)
    assert store.read("vehicles")["vehicle"].tolist() == ["410"]
    assert store.path.with_name(store.path.name + ".before-restore").read_bytes() == bad


def test_a_log_of_changes_of_a_damaged_store_is_kept_beside_it_and_not_read_into_the_new_one(
    known, store, tmp_path
):
    backup(store, tmp_path / "b.zip")
    store.path.write_bytes(b"text")
    log = store.path.with_name(store.path.name + ".wal")
    log.write_bytes(b"log of the damaged one")
    restore(store, tmp_path / "b.zip", replace=True)
    assert not log.exists()
    aside = store.path.with_name(store.path.name + ".before-restore.wal")
    assert aside.read_bytes() == b"log of the damaged one"


def test_the_newest_run_is_the_one_stored_last_whatever_the_clock_says(known, store, monkeypatch, tmp_path):
    frame = pd.DataFrame({"point": ["HOLLOW"], "odometer": [1.0]})
    first = store.save_run("forecast", {}, {"path": frame})

    class Back(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime(2001, 1, 1, tzinfo=UTC) - timedelta(days=1)

    monkeypatch.setattr(runs, "datetime", Back)
    second = store.save_run("forecast", {}, {"path": frame})
    assert store.runs("forecast")["run_id"].tolist() == [second, first]
    backup(store, tmp_path / "b.zip")
    shutil.rmtree(store.path, ignore_errors=True)
    restore(store, tmp_path / "b.zip", replace=True)
    assert store.runs("forecast")["run_id"].tolist() == [second, first]
