"""What is typed to do harm to the commands that put many rows right, answer questions and take layouts."""

import shutil

import pytest
from click.testing import CliRunner
from pages.writers import FILES, LAYOUT, STORED, answer_to

from dashboard.cli import main
from ingest.neutral import HOSTILE
from ingest.store import Store
from ingest.verdicts.add import add_files

LONG = "x" * 1_000_000
ALL = ("correct", "--vehicle", "Nettle", *STORED)
REFUSED = {
    "half a character as a length": ([*ALL, "--read-high", "\ud800 mm"], 2, "<U+D800>"),
    "half a character as a unit": ([*ALL, "--unit", "\ud800"], 1, "the one cannot be turned into the other"),
    "a length without end": ([*ALL, "--read-high", "9" * 5_000 + " in"], 2, "no length with its unit"),
    "no number": ([*ALL, "--read-low", "nan in"], 2, "no length with its unit"),
    "a division by nothing": ([*ALL, "--read-high", "1/0 in"], 2, "no length with its unit"),
    "years beyond the calendar": ([*ALL, "--years", "9" * 30], 1, "no such day"),
    "a column of ours": ([*ALL, "--set", "row_id=1"], 2, "no column row_id"),
    "a cell larger than a sheet's": ([*ALL, "--set", f"note={LONG}"], 1, "more than 32,767 characters"),
    "SQL in the place of a gauge": (["correct", "--gauge", "' OR 1=1 --", "--days", "1"], 1, "No stored row"),
    "a sign for everything as a gauge": (["correct", "--gauge", "%", "--days", "1"], 1, "No stored row"),
    "another such": (["correct", "--observer", "*", "--days", "1"], 1, "No stored row"),
    "a row of no number": (["held", "dismiss", "--like", "9" * 30, "--reason", "x"], 1, "waits"),
    "cells that no row has": (
        ["held", "accept", "--like", "1", "--reason", "x", "--where", f"value={LONG}"],
        1,
        "has value=x",
    ),
    "an answer to nothing": (["add", "asked.csv", "--answer", "\ud800=x"], 2, "'<U+D800>'"),
    "an answer that is none": (["add", "asked.csv", "--answer", "ID=mm\x1b[2J"], 2, "mm<U+001B>[2J"),
    "an answer of a megabyte": (["add", "asked.csv", "--answer", LONG], 2, "was expected"),
}
LAYOUTS = {
    "brackets": ("a=" + "[" * 5_000, "too deep"),
    "a row that no sheet has": (LAYOUT.replace("= 3", f"= {2**70}"), "no row"),
    "true as a row": (LAYOUT.replace("= 3", "= true"), "header is a row number"),
    "a column that no sheet has": (LAYOUT.replace('"D"', '"ZZZZZZZ"'), "no column 'ZZZZZZZ'"),
    "another table": (LAYOUT.replace("readings", "run; DROP TABLE run"), "one of vehicles"),
    "an encoding that unpacks": ('encoding = "zlib_codec"\n' + LAYOUT, "is unknown"),
    "half a character": (LAYOUT.replace('"vehicle"', '"\\ud800"'), "not TOML"),
    "300,000 characters": (LAYOUT + "# " + "x" * 300_000, "at most 200,000"),
    "a device": ("/proc/self/mem", "cannot be read"),
}


@pytest.fixture(scope="module")
def here(small_store, tmp_path_factory):
    """A folder with a store, in which a row is held back, and files; nothing of it is changed."""
    folder = tmp_path_factory.mktemp("commands")
    shutil.copy(small_store, folder / "s.duckdb")
    for name in ("asked", "book"):
        (folder / f"{name}.csv").write_text(FILES[name])
    (folder / "wrong.csv").write_text("point,date,value,unit\nN-NONE,2023-10-01,0.18,in\n")
    add_files(Store(folder / "s.duckdb"), [folder / "wrong.csv"])
    return folder


def called(here, words):
    """How a command in the folder ended, and all that it printed."""
    store = here / "s.duckdb"
    question = (
        answer_to(store, here / "asked.csv")[1].partition("=")[0] if "ID=" in "".join(words[-1:]) else ""
    )
    told = [word.replace("ID=", f"{question}=") for word in words]
    told = [str(here / word) if word.endswith((".csv", ".toml")) else word for word in told]
    done = CliRunner().invoke(main, [told[0], "--db", str(store), *told[1:]])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    assert not HOSTILE.search(done.output)
    assert len(done.output) < 2_000
    return done.exit_code, done.output


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_typed_to_do_harm_is_refused_in_words_and_changes_nothing(here, name):
    words, code, says = REFUSED[name]
    before = (here / "s.duckdb").read_bytes()
    ended, said = called(here, words)
    assert (ended, says in said) == (code, True), said
    assert (here / "s.duckdb").read_bytes() == before


@pytest.mark.parametrize("name", LAYOUTS)
def test_a_layout_made_to_do_harm_is_refused_in_words(here, name):
    text, says = LAYOUTS[name]
    path = here / "harm.toml"
    path.write_text(text)
    ended, said = called(here, ["add", "book.csv", "--layout", text if text[0] == "/" else "harm.toml"])
    assert (ended, says in said) == (1, True), said


def test_what_is_stored_by_a_correction_is_harmless(here, tmp_path):
    shutil.copy(here / "s.duckdb", tmp_path / "s.duckdb")
    words = ["correct", "--point", "N-XH-R", "--set", "note=\x1b[2J\u202e\ud800 =cmd()", *STORED]
    ended, said = called(tmp_path, words)
    assert ended == 0, said
    rows = Store(tmp_path / "s.duckdb").read("readings")
    notes = rows.loc[rows["point"] == "N-XH-R", "note"].unique()
    assert list(notes) == ["<U+001B>[2J<U+202E><U+D800> =cmd()"]
