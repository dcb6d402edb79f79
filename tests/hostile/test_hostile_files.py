"""Files that want to do harm, through what a person sees: the command, the message, the file beside it."""

import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hostile import made_files as made
from hypothesis import HealthCheck, given, settings

from dashboard.cli import main
from dashboard.papers.brief_logo import check_logo
from dashboard.services.sharing import read_shared
from ingest.errors import UserError
from ingest.layouts.layout import parse_layout
from ingest.sheets.readers import read_cells
from ingest.store import Store
from ingest.store.backup import look
from ingest.verdicts.undo import undo

VEHICLES = "vehicle,class\n410,B\n"
POINTS = (
    "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
    "HOLLOW,410,driver tire,driver 1 left,tread hollow,in,0,5/16\n"
)
LOG = "vehicle,date,odometer,unit\n410,2001-01-01,10000,mi\n410,2002-01-01,12000,mi\n"
READINGS = "point,date,value\nHOLLOW,2001-05-01,1/16\n"


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    """A store that knows a vehicle, its wear point and its mileage. Copy it, do not write."""
    folder = tmp_path_factory.mktemp("begun")
    for name, text in {"vehicles": VEHICLES, "points": POINTS, "log": LOG}.items():
        (folder / f"{name}.csv").write_text(text)
    run("add", "--db", folder / "store.duckdb", *folder.glob("*.csv"))
    return folder / "store.duckdb"


@pytest.fixture
def folder(tmp_path):
    """A folder with a sound file."""
    inside = tmp_path / "files"
    inside.mkdir()
    (inside / "readings.csv").write_text(READINGS)
    return inside


@pytest.fixture
def db(begun, tmp_path):
    return Path(shutil.copy(begun, tmp_path))


def run(*words, code=0):
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == code, result.output
    assert not result.exception or isinstance(result.exception, SystemExit)
    return " ".join(result.output.split())


def add(db, folder, code=1):
    return run("add", "--db", db, folder, code=code)


@pytest.mark.parametrize("number", ["1" + "0" * 30, "4294967296", "-5"])
def test_a_row_number_that_no_counter_holds(folder, db, number):
    """Such a workbook of 1.4 kB ended the whole process that read it."""
    (folder / "odd.xlsx").write_bytes(made.workbook(made.far_row(number)))
    before = psutil.Process().cpu_times().user
    said = add(db, folder, code=1 if "odd.xlsx" in _not_read(db, folder) else 0)
    assert "4 in all" in said or "in all" in said
    assert len(Store(db).read("readings")) == 1  # the file beside it is taken
    assert psutil.Process().cpu_times().user - before < 10


def _not_read(db, folder):
    """Names of the files that are not read; nothing is stored."""
    names = []
    for path in sorted(folder.iterdir()):
        try:
            read_cells(path)
        except UserError:
            names.append(path.name)
    return names


def test_what_breaks_the_reader_ends_one_file_with_what_to_do(folder, db):
    (folder / "odd.xlsx").write_bytes(made.workbook(made.far_row()))
    said = add(db, folder)
    assert "Not read: odd.xlsx" in said
    assert "'odd.xlsx' was not read: its reader broke down on it." in said
    assert "save the table as a new CSV file" in said


@pytest.mark.parametrize("length", [3_500, 28_000])
def test_a_heading_of_brackets_takes_no_time(folder, db, length):
    """The first was read for minutes; the second kept a server from answering for 91 s."""
    (folder / "odd.csv").write_text("point,date," + "value [" * (length // 7) + "\nHOLLOW,2001-05-01,1\n")
    before = psutil.Process().cpu_times().user
    assert "Not read: odd.csv" in add(db, folder)
    assert psutil.Process().cpu_times().user - before < 5


def test_hundreds_of_long_headings(folder, db):
    (folder / "odd.csv").write_text(",".join(f"value [{i}" + " (" * 5_000 for i in range(300)) + "\n1\n")
    before = psutil.Process().cpu_times().user
    assert "Not read: odd.csv" in add(db, folder)
    assert psutil.Process().cpu_times().user - before < 20  # minutes, where each length is tried with each


@pytest.mark.skipif(sys.platform == "darwin", reason="file names there are always UTF-8")
def test_a_name_that_is_not_utf8_keeps_no_other_file_from_being_read(folder, db):
    name = os.fsdecode(b"m\xe9sure.csv")
    (folder / name).write_text(READINGS)
    said = add(db, folder)
    assert "its name is not written in UTF-8. Rename the file" in said
    assert len(Store(db).read("readings")) == 1
    assert not any("\ud800" <= mark <= "\udfff" for mark in said)


def test_a_file_name_with_terminal_codes_is_printed_harmless(folder, db):
    (folder / "a\x1b[2J\u202e.csv").write_text(READINGS.replace("05-01", "05-02"))
    said = add(db, folder, code=0)
    assert "a<U+001B>[2J<U+202E>.csv" in said
    assert "\x1b" not in said
    assert Store(db).read("readings")["source_file"].str.contains("\x1b", regex=False).sum() == 0


@pytest.mark.parametrize("codec", ["utf-7", "unicode_escape", "raw_unicode_escape", "idna", "zlib", "x"])
def test_an_encoding_that_hides_what_it_says_is_refused(folder, db, tmp_path, codec):
    layout = tmp_path / "layout.toml"
    layout.write_text(f'encoding = "{codec}"\n[[table]]\ntable = "readings"\n')
    (folder / "readings.csv").write_text("point,date,value\n+2AA-,\\ud800,1\n")
    said = run("add", "--db", db, folder / "readings.csv", "--layout", layout, code=1)
    assert f"the encoding '{codec}' is unknown" in said


def test_who_and_why_are_kept_harmless(folder, db):
    run("add", "--db", db, "--who", "A\x1b[2J\udce9", folder)
    undo(Store(db), 2, who="\ud800", why="\x1b]0;x\x07")
    batches = Store(db).batches().query("batch > 1")
    assert set(batches["who"]) == {"A<U+001B>[2J<U+DCE9>", "<U+D800>"}
    assert "\x1b" not in run("undo", "--db", db)
    about = batches.loc[batches["command"] == "undo", "about"].iloc[0]
    assert json.loads(about)["reason"] == "<U+001B>]0;x<U+0007>"


# What other railways share.


@pytest.fixture(scope="module")
def read_once(begun, tmp_path_factory):
    """The same with a reading. Copy it, do not write."""
    folder = tmp_path_factory.mktemp("read")
    (folder / "readings.csv").write_text(READINGS)
    run("add", "--db", shutil.copy(begun, folder), folder / "readings.csv")
    return folder / "store.duckdb"


@pytest.fixture
def learn(read_once, db, tmp_path):
    shutil.copy(read_once, db)

    def learner(*contents, code=0, more=()):
        paths = []
        for number, content in enumerate(contents):
            paths.append(tmp_path / f"shared{number}.json")
            paths[-1].write_bytes(content)
        return run("learn-from", "--db", db, *paths, *more, code=code)

    return learner


def test_a_name_with_half_a_character_and_codes_can_be_listed_used_and_forgotten(learn, db):
    said = learn(made.shared("West\ud800 \x1b[2JValley"))
    assert "West<U+D800> <U+001B>[2JValley: 1 families" in said
    run("forecast", "--db", db, "--quiet")
    run("learn-from", "--db", db, "--forget", "West<U+D800> <U+001B>[2JValley")
    assert run("learn-from", "--db", db, "--list") == "0 railways."


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_the_newer_file_is_used_whichever_comes_last(learn, db, order):
    files = [made.shared(made_on="2025-03-01"), made.shared(made_on="2026-02-01")]
    said = [learn(files[number]) for number in order][-1]
    assert "West Valley: 1 families, 2026-02-01" in said
    assert ("is older than the one of 2026-02-01, which is used" in said) == (order == (1, 0))


def test_one_that_was_forgotten_comes_back_only_by_a_file(learn, db):
    learn(made.shared(made_on="2026-02-01"))
    run("learn-from", "--db", db, "--forget", "WEST  valley")
    assert "0 railways" in run("learn-from", "--db", db, "--list")
    assert "2025-03-01" in learn(made.shared(made_on="2025-03-01"))


def test_another_key_needs_a_word_once_however_the_name_is_written(learn):
    other = Ed25519PrivateKey.from_private_bytes(bytes(32))
    learn(made.shared())
    assert "signed with the key" in learn(made.shared("west  VALLEY", key=other), code=1)
    learn(made.shared(key=other), more=["--new-key"])
    learn(made.shared(key=other, made_on="2026-02-01"))  # it is theirs now
    assert "signed with the key" in learn(made.shared(), code=1)


@pytest.mark.parametrize(
    "odd",
    [
        {"made_on": "9999-12-31"},
        {"made_on": "soon"},
        {"railway": ""},
        {"railway": "x" * 5_000},
        {"families": []},
        {"families": [{"lives": 10**400}]},
        {"families": {"a": 1}},
        {"shapes": "\ud800"},
    ],
)
def test_a_signed_file_that_says_what_cannot_be(tmp_path, odd):
    (tmp_path / "odd.json").write_bytes(made.shared(**odd))
    with pytest.raises(UserError, match="is signed, but cannot be read"):
        read_shared(tmp_path / "odd.json")


@pytest.mark.parametrize(
    "content",
    [b"[" * 100_000, b"{" * 1000, b"\xff\xfe", b"9" * 10_000, b'{"a":' * 50_000],
    ids=["brackets", "braces", "no UTF-8", "figures", "depth"],
)
def test_json_that_no_reader_should_take(tmp_path, content):
    (tmp_path / "odd.json").write_bytes(content)
    with pytest.raises(UserError, match="is no file of shared families"):
        read_shared(tmp_path / "odd.json")


def words_of(function, done):
    """What is said where the function refuses; `done` where it does not."""
    try:
        function()
    except UserError as error:
        return str(error)
    return done


# Logos.

USES = "".join(f'<g id="g{i + 1}">' + f'<use href="#g{i}"/>' * 30 + "</g>" for i in range(8))
BOMB = f'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><g id="g0"><rect/></g>{USES}</svg>'
JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (JPEG + b"\xff\xc0\x00\x0b\x08\xff\xff\xff\xff\x01\x01\x11\x00", "65535 × 65535 pixels"),
        (JPEG + b"\xff\xda\x00\x08", "does not say how large"),
        (
            b"\x89PNG\r\n\x1a\n" + b"\x00\x00\x00\rIHDR" + bytes([0, 0, 0, 9] * 2) + bytes(30),
            "cannot be drawn",
        ),
        (b'<svg xmlns="http://www.w3.org/2000/svg">' + b"<g>" * 200_000 + b"</svg>", "Logo|not read"),
    ],
    ids=["JPEG too large", "JPEG without size", "PNG damaged", "SVG too deep"],
)
def test_a_logo_that_is_none_or_too_large(content, words):
    with pytest.raises(UserError, match=words):
        check_logo(content, "logo")


def test_a_drawing_that_uses_itself_a_thousand_million_times_ends_in_words():
    assert "logo" in words_of(lambda: check_logo(BOMB.encode(), "logo.svg"), "logo is drawn")


# Layouts.


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a = " + "[" * 5_000, "too deep"),
        ("a." * 20_000 + "a = 1", "full stops"),
        ("# " + "x" * 300_000, "300,002 characters"),
        ('dates = "\\u001b[2J"\n[[table]]\ntable = "readings"', "<U[+]001B>"),
    ],
    ids=["deep", "dotted", "long", "codes"],
)
def test_a_layout_that_takes_long_or_hides_codes(text, words):
    before = time.process_time()
    with pytest.raises(UserError, match=words) as refused:
        parse_layout(text)
    assert "\x1b" not in str(refused.value)
    assert time.process_time() - before < 2


# Anything.

EACH = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.mark.parametrize("kind", ["workbooks", "csv_files", "archives"])
def test_any_sheet_ends_in_cells_or_words(tmp_path, kind):
    @EACH
    @given(getattr(made, kind)())
    def tried(file):
        content, ending = file
        path = tmp_path / f"odd{ending}"
        path.write_bytes(content)
        words = words_of(lambda: read_cells(path), "odd is read")
        assert "odd" in words
        assert "\x1b" not in words

    tried()


@pytest.mark.parametrize(
    ("strategy", "ending", "read"),
    [
        (made.shared_files(), ".json", read_shared),
        (made.pictures(), ".png", lambda path: check_logo(path.read_bytes(), path.name)),
        (made.tomls().map(str.encode), ".toml", lambda path: parse_layout(path.read_text(), path.name)),
        (made.archives().map(lambda file: file[0]), ".backup", look),
    ],
    ids=["shared", "pictures", "layouts", "backups"],
)
def test_anything_else_ends_in_what_it_is_or_words(tmp_path, strategy, ending, read):
    @EACH
    @given(strategy)
    def tried(content):
        path = tmp_path / f"odd{ending}"
        path.write_bytes(content)
        assert words_of(lambda: read(path), "read")

    tried()


def test_a_command_that_is_killed_while_it_reads_leaves_nothing_running(folder, db):
    """A real process, killed in the middle of a large file."""
    rows = "".join(f"HOLLOW,2001-05-01,{n}\n" for n in range(400_000))
    (folder / "a.csv").write_text("point,date,value\n" + rows)
    call = [sys.executable, "-m", "dashboard.cli", "add", "--db", str(db), str(folder)]
    with subprocess.Popen(call, stdout=subprocess.DEVNULL) as adding:
        own = psutil.Process(adding.pid)
        while not (readers := own.children()):
            time.sleep(0.01)
        time.sleep(0.5)
        adding.kill()
    _gone, alive = psutil.wait_procs(readers, timeout=20)
    assert not [left for left in alive if left.is_running() and left.status() != psutil.STATUS_ZOMBIE]
