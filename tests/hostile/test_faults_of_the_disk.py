"""A full disk and a disk that can only be read: every command and the pages say so in plain words."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hostile.made_files import shared
from hostile.under_fault import APP
from pages.writers import FILES, FOUND, LAYOUT, LINE, PICTURE, STORED, answer_to, call

from ingest.store import Store
from ingest.store.backup import backup
from ingest.verdicts.add import add_files

PROGRAM = Path(__file__).with_name("under_fault.py")
NEW = "point,date,value,unit\nN-D1L-HOLLOW,2023-10-01,0.18,in\n"
SHEETS = {
    **{name: FILES[name] for name in ("asked", "waits", "book")},
    "new": NEW,
    "odd": "Engine 4;;\nAxle;Left;Right\n1;0.1;0.2\n",
    "wrong": "point,date,value,unit\nN-NONE,2023-10-01,0.18,in\nN-D1R-HOLLOW,2023-09-25,3.02,in\n",
}
ASKED = {"ANSWER": "asked", "WAITING": "waits"}
"""A word that stands for the answer to what a sheet asks."""
DB = ("--db", "s.duckdb")
QUICK = ("--effort", "0.01", "--gap", "1", "--years", "3")
BEFORE = (
    ("opening", "begin", "Nettle", "--from", "2023-10-20", "--name", "W2"),
    ("opening", "close", "W2", "--until", "2023-11-20"),
    ("plan", *QUICK, "--name", "short", "--what-if"),
)
"""What is called before the fault, so that there is an opening and a plan."""
WRITE = {
    "add": ["add", "new.csv", *DB],
    "add to a new store": ["add", "new.csv", "--db", "n.duckdb"],
    "add --answer": ["add", "asked.csv", "ANSWER", *DB],
    "add --layout": ["add", "book.csv", "--layout", "book.toml", *DB],
    "backup": ["backup", "x.milesleft", *DB],
    "brief as PDF": ["brief", "--out", "x.pdf", *DB],
    "brief as HTML": ["brief", "--out", "x.html", "--picture", "x.svg", *DB],
    "brief as JSON": ["brief", "--json", *DB],
    "demo": ["demo", "--no-serve", "--db", "d.duckdb"],
    "export as CSV": ["export", "e", *DB],
    "export as XLSX": ["export", "e", "--form", "xlsx", *DB],
    "export as Parquet": ["export", "e", "--form", "parquet", *DB],
    "correct": ["correct", "--point", "N-XH-R", "--read-high", "4 thou", *STORED, *DB],
    "forecast": ["forecast", *DB],
    "forecast as CSV": ["forecast", "--out", "x.csv", *DB],
    "held dismiss": ["held", *DB, "dismiss", "1", "--reason", "no such point"],
    "held accept": ["held", *DB, "accept", "--like", "2", "--reason", "measured twice"],
    "held correct": ["held", *DB, "correct", "--like", "1", "--set", "point=N-XH-L", "--reason", "asked"],
    "held retry": ["held", *DB, "retry", "WAITING"],
    "layout": ["layout", "odd.csv", "--out", "x.toml"],
    "learn-from": ["learn-from", "families.json", *DB],
    "new-vehicle as CSV": ["new-vehicle", "--vehicle", "T", "--arrangement", "4-8-2", "--out", "t.csv"],
    "new-vehicle as XLSX": ["new-vehicle", "--vehicle", "T", "--arrangement", "4-8-2", "--out", "t.xlsx"],
    "opening begin": ["opening", "begin", "Nettle", "--from", "2024-11-01", *DB],
    "opening close": ["opening", "close", "W2", "--until", "2023-12-01", *DB],
    "opening event": ["opening", "event", "Nettle", "--what", "hot bearing", "--on", "2023-11-02", *DB],
    "opening found": ["opening", "found", "W2", *FOUND, "--picture", "a.png", *DB],
    "opening line": ["opening", "line", "W2", *LINE, *DB],
    "opening papers as PDF": ["opening", "papers", "W2", "--what", "contractor", "--out", "x.pdf", *DB],
    "opening papers as XLSX": ["opening", "papers", "W2", "--what", "orders", "--out", "x.xlsx", *DB],
    "plan": ["plan", *QUICK, *DB],
    "plan --approve": ["plan", "--approve", "short", *DB],
    "plan --withdraw": ["plan", "--withdraw", "short", *DB],
    "plan for the board": ["plan", *QUICK, "--board", "x.pdf", *DB],
    "restore": ["restore", "b.milesleft", "--db", "r.duckdb"],
    "restore --replace": ["restore", "b.milesleft", "--replace", *DB],
    "score": ["score", "--quick", "--origins", "1", *DB],
    "share": ["share", "--out", "y.json", "--name", "Nettle Railway", *DB],
    "undo": ["undo", "1", "--reason", "another engine's", *DB],
}
READ = {
    "add --look": ["add", "--look", "asked.csv", *DB],
    "correct, shown": ["correct", "--point", "N-XH-R", "--read-high", "4 thou", *DB],
    "checks": ["checks", *DB],
    "clocks": ["clocks", *DB],
    "held": ["held", *DB],
    "learn-from --list": ["learn-from", "--list", *DB],
    "opening list": ["opening", "list", *DB],
    "limits": ["limits", "us-cfr-230", "--component", "tire"],
    "measure-first": ["measure-first", "--plan", "short", *DB],
    "opening show": ["opening", "show", "W2", *DB],
    "parts": ["parts", *DB],
    "plan --list": ["plan", "--list", *DB],
    "undo, the list": ["undo", *DB],
}
VIEWS = sorted(path.stem for path in APP.parent.glob("views/[!_]*.py"))
WRITING_PAGES = {
    "page batch": ["batch", "Add these files", {"Files": NEW}],
    "page case": ["case", "Keep this brief"],
    "page facts": ["facts", "State it", {"Fact": "axle load", "Value": "30000"}],
    "page record": ["record", "Score now"],
    "page window": ["window", "Plan"],
}
OPENED = {f"page {name}": ["page", name] for name in VIEWS}
WRITTEN = {f"{name}, written": ["page", *pressed] for name, pressed in WRITING_PAGES.items()}
MEANS = {
    "full": ("the disk is full", "larger than is allowed"),
    "read-only": ("can only be read", "this user may not do that"),
}


@pytest.fixture(scope="module", params=MEANS)
def fault(request):
    return request.param


@pytest.fixture(scope="session")
def ended_all(small_store, once):
    """How every command, and every page that writes, ended under each fault: tried once, both at a time.

    A disk that may not be written is the harder of the two for what writes nothing: pages are opened there.
    """

    def tried(folder):
        whole = {**WRITE, **READ, **WRITTEN}
        asked = prepared({"full": whole, "read-only": whole | OPENED}, small_store, folder)
        (folder / "ended.json").write_text(json.dumps(under(asked)))

    return json.loads((once("faults_of_the_disk", tried) / "ended.json").read_text())


@pytest.fixture
def ended(fault, ended_all):
    return ended_all[fault]


def prepared(asked, small_store, folder):
    """For each fault a folder with all that is needed, and what is asked for in words of a command line."""
    made = folder / "made"
    made.mkdir()
    store = Store(made / "s.duckdb")
    shutil.copy(small_store, store.path)
    for words in BEFORE:
        call(store.path, *words)
    for name, text in SHEETS.items():
        (made / f"{name}.csv").write_text(text)
    (made / "book.toml").write_text(LAYOUT)
    add_files(store, [made / "wrong.csv", made / "waits.csv"])
    (made / "families.json").write_bytes(shared())
    (made / "a.png").write_bytes(PICTURE)
    backup(store, made / "b.milesleft")
    answers = {word: answer_to(store.path, made / f"{sheet}.csv") for word, sheet in ASKED.items()}
    return {
        fault: (
            str(shutil.copytree(made, folder / fault / "disk")),
            {name: in_words(words, answers) for name, words in of_it.items()},
        )
        for fault, of_it in asked.items()
    }


def in_words(words, answers):
    return [part for word in words for part in (answers.get(word, [word]) if type(word) is str else [word])]


def under(asked):
    """How it ended under each fault, by a process of its own."""
    program = [sys.executable, str(PROGRAM)]
    done = subprocess.run(program, input=json.dumps(asked), capture_output=True, text=True, check=False)
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


@pytest.mark.parametrize("name", WRITTEN)
def test_pages_say_what_was_not_written(ended, fault, name):
    result = ended[name]
    assert result["trace"] == ""
    assert result["titles"]
    assert any(words in "".join(result["shown"]) for words in MEANS[fault]), result


def all_shown(found):
    assert [name for name in found if name in OPENED] == list(OPENED)
    assert {name: found[name]["trace"] for name in OPENED if found[name]["trace"]} == {}
    assert {name: found[name]["shown"] for name in OPENED if "".join(found[name]["shown"])} == {}
    assert all(found[name]["titles"] for name in OPENED)


def test_every_page_shows_what_it_can(ended_all):
    all_shown(ended_all["read-only"])


@pytest.mark.long
def test_every_page_shows_what_it_can_on_a_full_disk_too(small_store, tmp_path):
    all_shown(under(prepared({"full": OPENED}, small_store, tmp_path))["full"])
