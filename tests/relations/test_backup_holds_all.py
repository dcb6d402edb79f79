"""What a backup gives back is what the store holds, after every command that writes."""

import json

import duckdb
import pytest
from pages.small_railway import small_railway

from dashboard.cli import main
from ingest.store import Store
from ingest.store.run_frames import declared_columns, declared_kind

MORE = (
    "point,date,value,unit\nN-XH-L,2023-09-20,0.08,in\nN-XH-L,2023-09-21,worn,in\nN-XH-R,2023-09-22,worn,in\n"
)
STORED = {
    "double": ("DOUBLE",),
    "int64": ("BIGINT",),
    "string": ("VARCHAR",),
    "bool": ("BOOLEAN",),
    "timestamp[us]": ("TIMESTAMP",),
    "list<item: string>": ("VARCHAR[]",),
    "list<item: double>": ("DOUBLE[]",),
}


def run(path, *arguments):
    """A command on the store; it must end well."""
    with pytest.raises(SystemExit) as ended:
        main([str(arguments[0]), "--db", str(path), "--quiet", *map(str, arguments[1:])])
    assert ended.value.code == 0, arguments


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The small railway's files, more readings, and what another railway shared."""
    folder = tmp_path_factory.mktemp("relations")
    files = small_railway(folder / "files")
    (folder / "more.csv").write_text(MORE)
    other = folder / "other.duckdb"
    run(other, "add", files)
    run(other, "forecast")
    run(other, "share", "--out", folder / "families.json", "--name", "Another Railway")
    return folder


def commands(folder):
    """Every command that writes into a store, with what it needs."""
    return [
        ("add", folder / "files"),
        ("forecast",),
        ("score",),
        ("brief", "--out", folder / "brief.html", "--window", "2026-11-01"),
        ("plan", "--years", "3", "--name", "short"),
        ("add", folder / "more.csv"),
        ("held", "dismiss", "1", "--reason", "no figure"),
        ("learn-from", folder / "families.json"),
        ("forecast",),
        ("undo", "3", "--reason", "there is a figure"),
    ]


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
    """Back up, restore elsewhere, and compare everything."""
    other = folder / "restored.duckdb"
    run(path, "backup", folder / "b.zip")
    run(other, "restore", folder / "b.zip", "--replace")
    here, there = contents(path), contents(other)
    assert list(here) == list(there)
    for table, content in here.items():
        assert content == there[table], table
    one, two = Store(path), Store(other)
    for kind in ("forecast", "plan", "case", "score", "shared"):
        assert one.runs(kind).equals(two.runs(kind))


@pytest.fixture(scope="module")
def written(folder):
    """A store that every command has written into."""
    path = folder / "all.duckdb"
    for command in commands(folder):
        run(path, *command)
    return path


def test_a_store_that_every_command_wrote_into_comes_back_whole(written, folder):
    check_backup(written, folder)


@pytest.mark.long
def test_a_backup_after_each_command_comes_back_whole(folder, tmp_path):
    path = tmp_path / "each.duckdb"
    for command in commands(folder):
        run(path, *command)
        check_backup(path, tmp_path)


def test_a_store_of_which_nothing_can_be_forecast_comes_back_whole(folder, tmp_path):
    path = tmp_path / "new.duckdb"
    run(path, "add", folder / "files" / "vehicles.csv", folder / "files" / "wear_points.csv")
    run(path, "forecast")
    check_backup(path, tmp_path)
    run(path, "add", folder / "files")  # what it compares with the forecast is a frame without rows


def test_every_column_of_every_frame_is_stored_as_it_is_declared(written):
    with duckdb.connect(str(written), read_only=True) as connection:
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
