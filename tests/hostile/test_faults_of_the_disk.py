"""A full disk and a disk that can only be read: every command and the pages say so in plain words."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from ingest.store import Store
from ingest.store.backup import backup
from ingest.verdicts.add import add_files

PROGRAM = Path(__file__).with_name("under_fault.py")
NEW = "point,date,value,unit\nN-D1L-HOLLOW,2023-10-01,0.18,in\n"
DB = ("--db", "s.duckdb")
WRITE = {
    "add": ["add", "new.csv", *DB],
    "add to a new store": ["add", "new.csv", "--db", "n.duckdb"],
    "backup": ["backup", "x.milesleft", *DB],
    "brief as PDF": ["brief", "--out", "x.pdf", *DB],
    "brief as HTML": ["brief", "--out", "x.html", "--picture", "x.svg", *DB],
    "brief as JSON": ["brief", "--json", *DB],
    "demo": ["demo", "--no-serve", "--db", "d.duckdb"],
    "export as CSV": ["export", "e", *DB],
    "export as XLSX": ["export", "e", "--form", "xlsx", *DB],
    "export as Parquet": ["export", "e", "--form", "parquet", *DB],
    "forecast": ["forecast", *DB],
    "forecast as CSV": ["forecast", "--out", "x.csv", *DB],
    "held dismiss": ["held", *DB, "dismiss", "1", "--reason", "no such point"],
    "layout": ["layout", "odd.csv", "--out", "x.toml"],
    "new-vehicle as CSV": ["new-vehicle", "--vehicle", "T", "--arrangement", "4-8-2", "--out", "t.csv"],
    "new-vehicle as XLSX": ["new-vehicle", "--vehicle", "T", "--arrangement", "4-8-2", "--out", "t.xlsx"],
    "plan": ["plan", "--effort", "0.01", "--gap", "1", "--years", "3", *DB],
    "restore": ["restore", "b.milesleft", "--db", "r.duckdb"],
    "restore --replace": ["restore", "b.milesleft", "--replace", *DB],
    "score": ["score", "--quick", "--origins", "1", *DB],
    "share": ["share", "--out", "y.json", "--name", "Nettle Railway", *DB],
    "undo": ["undo", "1", "--reason", "another engine's", *DB],
}
READ = {
    "checks": ["checks", *DB],
    "clocks": ["clocks", *DB],
    "held": ["held", *DB],
    "learn-from --list": ["learn-from", "--list", *DB],
    "limits": ["limits", "us-cfr-230", "--component", "tire"],
    "undo, the list": ["undo", *DB],
}
PAGES = {
    **{f"page {name}": ["page", name] for name in ("first", "point", "engine", "batch", "window", "how")},
    "page batch, a file": ["page", "batch", NEW],
}
MEANS = {
    "full": ("the disk is full", "larger than is allowed"),
    "read-only": ("can only be read", "this user may not do that"),
}


@pytest.fixture(scope="module", params=MEANS)
def fault(request):
    return request.param


@pytest.fixture(scope="module")
def ended(fault, small_store, tmp_path_factory):
    """How everything ended under a fault."""
    folder = tmp_path_factory.mktemp("disk") / "disk"
    folder.mkdir()
    store = Store(folder / "s.duckdb")
    shutil.copy(small_store, store.path)
    (folder / "wrong.csv").write_text("point,date,value,unit\nN-NONE,2023-10-01,0.18,in\n")
    add_files(store, [folder / "wrong.csv"])
    backup(store, folder / "b.milesleft")
    (folder / "new.csv").write_text(NEW)
    (folder / "odd.csv").write_text("Engine 4;;\nAxle;Left;Right\n1;0.1;0.2\n")
    asked = json.dumps({**WRITE, **READ, **PAGES})
    call = [sys.executable, str(PROGRAM), fault, str(folder)]
    done = subprocess.run(call, input=asked, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.parametrize("name", WRITE)
def test_what_cannot_be_written_is_said(ended, fault, name):
    result = ended[name]
    assert result["trace"] == ""
    assert "Traceback" not in result["err"]
    assert result["code"] == 1, result
    assert any(words in result["err"] for words in MEANS[fault]), result["err"]
    assert "Errno" not in result["err"]
    assert result["left"] == []


@pytest.mark.parametrize("name", READ)
def test_what_only_reads_goes_on(ended, name):
    assert (ended[name]["trace"], ended[name]["code"]) == ("", 0), ended[name]


@pytest.mark.parametrize("name", PAGES)
def test_pages_show_what_they_can(ended, fault, name):
    result = ended[name]
    assert result["trace"] == ""
    assert result["titles"]
    said = "".join(result["shown"])
    if name.endswith("a file"):
        assert any(words in said for words in MEANS[fault]), result
    else:
        assert said == ""
