"""Every command that writes into a store, as it is called on the small railway."""

import base64
import json
from pathlib import Path

from click.testing import CliRunner
from pages.small_railway import small_railway

from dashboard.cli import main

FILES = {
    "more": "point,date,value,unit\nN-XH-L,2023-09-20,0.08,in\nN-XH-L,2023-09-21,worn,in\n"
    "N-XH-R,2023-09-22,worn,in\nN-D1R-HOLLOW,2023-09-25,3.02,in\n",
    "twice": "point,date,value,unit\nN-D2R-HOLLOW,2023-09-28,0.2,in\n",
    "waits": "point,date,value\nN-D1L-HOLLOW,2023-10-05,4.4\nN-D2L-HOLLOW,2023-10-05,7.3\n",
    "new": "point,date,value,unit\nN-XH-L,2023-09-25,0.08,in\nN-XH-L,2023-09-26,worn,in\n",
    "asked": "point,date,value,note\nN-D1L-HOLLOW,2023-10-06,4.4,\nN-D2L-HOLLOW,2023-10-06,7.3,\n",
    "book": "Depot book,,,\n,,,\nEngine,Wear point,2023-10-05,2023-10-06\nNettle,N-XH-L,0.08,0.081\n",
}
"""Rows held back, one of which can be accepted; sheets that ask their unit; one with a layout of its own."""
LAYOUT = """[[table]]
table = "readings"
header = 3
[table.columns]
"Engine" = "vehicle"
"Wear point" = "point"
[table.spread]
columns = ["C", "D"]
headings = ["date"]
"""
PICTURE = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)
"""A picture of one point."""
FOUND = ("--component", "crosshead", "--defect", "crack", "--on", "2023-11-02")
LINE = ("--component", "crosshead", "--action", "renewed", "--cost", "1200")
STORED = ("--store", "--reason", "certificate 12")


def made(folder: Path) -> Path:
    """The files of the small railway, those that the commands need, and what another railway shared."""
    small_railway(folder / "files")
    for name, text in FILES.items():
        (folder / f"{name}.csv").write_text(text)
    (folder / "book.toml").write_text(LAYOUT)
    (folder / "a.png").write_bytes(PICTURE)
    other = folder / "other-railway.duckdb"
    call(other, "add", folder / "files")
    call(other, "forecast")
    call(other, "share", "--out", folder / "families.json", "--name", "Another Railway")
    return folder


def begun(path: Path, folder: Path) -> None:
    """A store with what stands in it before any of them: batches, an opening, a forecast and a plan."""
    for name in ("files", "more.csv", "twice.csv", "waits.csv"):
        call(path, "add", folder / name)
    call(path, "opening", "begin", "Nettle", "--from", "2023-10-20", "--name", "W2")
    call(path, "opening", "close", "W2", "--until", "2023-11-20")
    call(path, "forecast")
    call(path, "plan", "--years", "3", "--name", "short", "--what-if")


def on_store(path: Path, *arguments: object) -> list[str]:
    """The words of a command line that calls a command on the store."""
    name, *rest = map(str, arguments)
    store = ["--db", str(path)]
    return [name, *rest, *store] if name == "opening" else [name, *store, *rest]


def call(path: Path, *arguments: object) -> str:
    """What a command on the store prints; it must end well."""
    done = CliRunner().invoke(main, on_store(path, *arguments))
    assert done.exit_code == 0, (arguments, done.output)
    return done.output


def answer_to(path: Path, sheet: Path) -> tuple[str, str]:
    """The option that answers the one question which a sheet raises on the store: its last answer."""
    (question,) = json.loads(call(path, "add", "--look", "--json", sheet))["questions"]
    return "--answer", f"{question['id']}={question['readings'][-1]['answer']}"


def writers(path: Path, folder: Path) -> dict[str, tuple[object, ...]]:
    """Every command that writes, by what it is called in a report.

    Each can be called on the store of :func:`begun`, and each after those before it.

    Parameters
    ----------
    path : a store as :func:`begun` makes it; it is looked at.
    folder : of :func:`made`.
    """
    one = ("--like", "1", "--where", "point=N-XH-R")
    waiting = answer_to(path, folder / "waits.csv")
    return {
        "add": ("add", folder / "new.csv"),
        "add --answer": ("add", folder / "asked.csv", *answer_to(path, folder / "asked.csv")),
        "add --layout": ("add", folder / "book.csv", "--layout", folder / "book.toml"),
        "held accept": ("held", "accept", "--like", "3", "--reason", "measured twice"),
        "held correct": ("held", "correct", *one, "--set", "value=0.081", "--reason", "asked him"),
        "held dismiss": ("held", "dismiss", "--like", "1", "--reason", "no figure"),
        "held retry": ("held", "retry", *waiting),
        "opening found": ("opening", "found", "W2", *FOUND, "--picture", folder / "a.png"),
        "opening line": ("opening", "line", "W2", *LINE),
        "opening close": ("opening", "close", "W2", "--until", "2023-12-01"),
        "opening begin": ("opening", "begin", "Nettle", "--from", "2024-11-01", "--name", "W9"),
        "correct": ("correct", "--point", "N-XH-R", "--read-high", "4 thou", *STORED),
        "undo": ("undo", "3", "--reason", "there is a figure"),
        "forecast": ("forecast",),
        "score": ("score",),
        "plan": ("plan", "--years", "3", "--name", "later"),
        "plan --approve": ("plan", "--approve", "short"),
        "plan --withdraw": ("plan", "--withdraw", "short"),
        "brief": ("brief", "--out", folder / "brief.html", "--window", "2026-11-01"),
        "share": ("share", "--out", folder / "shared.json", "--name", "Nettle Railway"),
        "learn-from": ("learn-from", folder / "families.json"),
        "learn-from --forget": ("learn-from", "--forget", "Another Railway"),
    }
