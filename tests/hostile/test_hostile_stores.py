"""A store that the reader of backups hands on although it was taken over: looked at, and none of it taken."""

import os
import shutil
import zipfile

import pandas as pd
import psutil
import pytest
from click.testing import CliRunner

from dashboard.cli import main
from ingest.store import Store
from ingest.store import backup as backups
from ingest.store.given import must_be_as_told
from ingest.store.rebuild import BUILT

WAYS = {
    "a view that reads a file": "ALTER TABLE readings RENAME TO other; "
    "CREATE VIEW readings AS SELECT * FROM read_text('/etc/passwd')",
    "one more view": "CREATE VIEW more AS SELECT 1",
    "a function that counts": "CREATE MACRO count(x) AS 7",
    "a function in the place of the list of tables": "CREATE MACRO duckdb_tables() AS TABLE "
    "SELECT 'migration' AS table_name",
    "a default that asks": "ALTER TABLE readings ALTER COLUMN note SET DEFAULT current_setting('threads')",
    "a column more": "ALTER TABLE readings ADD COLUMN more VARCHAR",
    "a column of another kind": "ALTER TABLE readings ALTER COLUMN note SET DATA TYPE BLOB",
    "a column that may be empty": "ALTER TABLE readings ALTER COLUMN note DROP NOT NULL",
    "a table more": "CREATE TABLE frame_0123456789abcdee (x BIGINT)",
    "a sequence": "CREATE SEQUENCE s",
    "a schema": "CREATE SCHEMA other",
    "a kind": "CREATE TYPE mood AS ENUM ('good')",
    "an index": "CREATE INDEX i ON readings (point)",
    "a form to come": "INSERT INTO migration VALUES (99, 'later')",
    "a row not told of": "INSERT INTO position_aliases SELECT 1, 'V', '', '', '', '', 1, '', '', 1, 1, 1",
    **{name: name for name in ("link", "second name", "log", "folder", "noise", "flipped", "gone")},
    **{name: name for name in ("words", "nothing", "a fault of no machine", "a fault in words")},
}


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A small store with a run, and its backup."""
    folder = tmp_path_factory.mktemp("kept")
    store = Store(folder / "s.duckdb")
    store.save_run("forecast", {}, {"path": pd.DataFrame({"point": ["HOLLOW"], "odometer": [1.0]})})
    backups.backup(store, folder / "whole.zip")
    return folder


@pytest.mark.parametrize("way", WAYS)
def test_nothing_of_it_is_taken(kept, tmp_path, monkeypatch, way):
    monkeypatch.setattr(backups, "_KIND", "hostile.breaking_stores")
    shutil.copy(kept / "s.duckdb", tmp_path)
    file = shutil.copy(kept / "whole.zip", tmp_path)
    with zipfile.ZipFile(file, "a") as archive:
        archive.comment = WAYS[way].encode()
    before = (tmp_path / "s.duckdb").read_bytes()
    call = ["restore", file, "--replace", "--db", str(tmp_path / "s.duckdb")]
    result = CliRunner().invoke(main, call)
    assert (result.exit_code, type(result.exception)) == (1, SystemExit), result.output
    assert result.stderr.count("\n") == 1
    assert "Nothing was changed" in result.stderr or "Nothing of it was taken" in result.stderr
    assert "root:" not in result.stderr
    assert "its reader broke down" not in result.stderr or way == "link", "it did not do it"  # Landlock
    assert ".milesleft-scratch" not in result.stderr
    assert (tmp_path / "s.duckdb").read_bytes() == before
    assert {each.name for each in tmp_path.iterdir()} - {"s.duckdb.lock", "s.duckdb.gate"} == {
        "s.duckdb",
        "whole.zip",
    }


def test_what_was_read_apart_has_ended_before_it_is_looked_at(kept, tmp_path, monkeypatch):
    """Whoever still runs could change the file after it was looked at."""
    seen = []

    def look(path, about):
        seen.append(
            [each for each in psutil.Process().children() if "ingest.store.rebuild" in each.cmdline()]
        )
        assert os.path.basename(path) == BUILT
        must_be_as_told(path, about)

    monkeypatch.setattr(backups, "must_be_as_told", look)
    backups.restore(Store(tmp_path / "r.duckdb"), kept / "whole.zip")
    assert seen == [[]]
    assert Store(tmp_path / "r.duckdb").runs("forecast").equals(Store(kept / "s.duckdb").runs("forecast"))
