"""Backups made to break, stall or fill who reads them: one message, exit 1, the store as it was."""

import copy
import hashlib
import io
import json
import random
import shutil
import signal
import tempfile
import threading
import time
import zipfile
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path

import pandas as pd
import psutil
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner

from dashboard.cli import main
from ingest import figures
from ingest.store import Store
from ingest.store.backup import backup

FRAME = "frame_0123456789abcdef"


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A small store with a run, and its backup."""
    folder = tmp_path_factory.mktemp("kept")
    store = Store(folder / "s.duckdb")
    store.save_run("forecast", {}, {"path": pd.DataFrame({"point": ["HOLLOW"], "odometer": [1.0]})})
    backup(store, folder / "whole.zip")
    return folder


@pytest.fixture(scope="module")
def parts(kept):
    """What the backup consists of: content by name, and what it says of itself."""
    with zipfile.ZipFile(kept / "whole.zip") as archive:
        content = {name: archive.read(name) for name in archive.namelist()}
    return content, json.loads(content.pop("about.json"))


@pytest.fixture
def here(kept, tmp_path, monkeypatch):
    """A folder with a store, its backup and a folder for scratch."""
    for name in ("s.duckdb", "whole.zip"):
        shutil.copy(kept / name, tmp_path / name)
    (tmp_path / "tmp").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "tmp"))
    return tmp_path


@pytest.fixture
def bounds():
    """``bounds(name=value)``: other bounds of restoring, as if ``bounds.toml`` said so."""
    known = figures._figures("bounds.toml")["restore"]
    before = {name: dict(each) for name, each in known.items()}

    def change(**values):
        figures.bound.cache_clear()
        for name, value in values.items():
            known[name]["value"] = value

    yield change
    known.update(before)
    figures.bound.cache_clear()


def made(path, parts, frame, rows, kind="BIGINT", compression=zipfile.ZIP_STORED, **about):
    """The backup with one more table, whose Parquet file is `frame`, with checksums that fit."""
    content, said = parts
    name = f"{FRAME}.parquet"
    said = said | {
        "rows": said["rows"] | {FRAME: rows},
        "tables": said["tables"] | {FRAME: [["x", kind]]},
        "sha256": said["sha256"] | {name: hashlib.sha256(frame).hexdigest()},
    }
    with zipfile.ZipFile(path, "w") as archive:
        for part, each in content.items():
            archive.writestr(part, each)
        archive.writestr(name, frame, compression)
        archive.writestr("about.json", json.dumps(said | about))
    return path


def parquet(column, **options):
    buffer = io.BytesIO()
    pq.write_table(pa.table({"x": column}), buffer, **options)
    return buffer.getvalue()


@cache
def endless():
    """A small Parquet file that says it has 40 thousand million rows: its groups share one page."""
    once = parquet(pa.array([7] * 10_000_000, pa.int64()), row_group_size=10_000_000)
    footer = pq.read_metadata(io.BytesIO(once))
    for _ in range(12):
        footer.append_row_groups(footer)
    buffer = io.BytesIO()
    footer.write_metadata_file(buffer)
    length = int.from_bytes(once[-8:-4], "little")
    return once[: -8 - length] + buffer.getvalue()[4:], footer.num_rows


def swollen():
    """A Parquet file whose only page is said to unpack to two gigabytes."""
    whole = parquet(pa.array(["a" * 400] * 3), use_dictionary=False, compression="zstd")
    at = whole.index(b"\x15", 5) + 1  # i32 of the page's header: its size unpacked
    size = next(n for n in range(1, 6) if whole[at + n - 1] < 0x80)
    return whole[:at] + b"\xfe\xff\xff\xff\x0f" + whole[at + size :]


def ended(here, file, *args):
    """What a command says that ends with exit 1, the store as it was and nothing left behind."""
    before = {each.name: each.read_bytes() for each in here.iterdir() if each.is_file()}
    result = CliRunner().invoke(main, [*map(str, args), "--db", str(here / "s.duckdb")])
    assert result.exit_code == 1, result.output
    assert isinstance(result.exception, SystemExit)
    left = {each.name: each.read_bytes() for each in here.iterdir() if each.is_file()}
    assert {name: left.get(name) for name in before} == before
    assert set(left) - set(before) <= {"s.duckdb.lock", "s.duckdb.gate"}
    assert list(here.glob(".*")) == list((here / "tmp").iterdir()) == []
    assert not workers()
    assert result.stderr.count("\n") == 1
    assert str(file) in result.stderr
    return result.stderr


def restored(here, file, *more):
    told = ended(here, file, "restore", file, *(more or ["--replace"]))
    assert told.endswith("Nothing was changed. Use another backup.\n") or told.endswith(
        "Nothing of it was taken. Use another backup.\n"
    ), told
    return told


def workers():
    return [each for each in psutil.Process().children() if "ingest.store.rebuild" in each.cmdline()]


@contextmanager
def struck(sign, *, at_work):
    """The process that reads gets a signal as soon as it is there, or at work on the file."""

    def strike():
        until = time.monotonic() + 20
        while time.monotonic() < until:
            for each in workers():
                with suppress(psutil.Error):
                    if not at_work or (Path(each.cwd()) / "parts").exists():
                        each.send_signal(sign)
                        return
            time.sleep(0.001)

    thread = threading.Thread(target=strike)
    thread.start()
    yield
    thread.join()


def test_rows_without_end_are_ended(here, parts, bounds):
    bounds(seconds=1)
    told = restored(here, made(here / "b.zip", parts, *endless()), "--check")
    assert "it kept its reader busy for more than 1 seconds" in told


def test_a_reader_that_aborts_ends_the_restore_alone(here, parts):
    with struck(signal.SIGABRT, at_work=True):
        told = restored(here, made(here / "b.zip", parts, *endless()))
    assert "its reader broke down on it" in told


def test_a_backup_whose_trial_stands_still_is_not_made(here, bounds):
    bounds(seconds=1)  # of the processor, which a process that stands still does not take
    with struck(signal.SIGSTOP, at_work=False):
        told = ended(here, here / "whole.zip", "backup", here / "whole.zip")
    assert "its reader had not ended after 10 seconds" in told
    assert told.endswith("No backup was made. Try again when the machine has less to do.\n")


def test_a_page_that_is_said_to_unpack_to_two_gigabytes(here, parts):
    told = restored(here, made(here / "b.zip", parts, swollen(), 3, "VARCHAR"))
    assert "it takes more memory than is allowed" in told


def test_rows_that_need_more_memory_than_is_allowed(here, bounds):
    bounds(memory=1_000_000)
    assert "it takes more memory than is allowed" in restored(here, here / "whole.zip")


def test_rows_that_grow_beyond_the_room_on_the_disk(here, parts, bounds):
    bounds(room=8_000_000, room_a_byte=0)
    column = pa.array([random.Random(1).randbytes(50_000).hex()] * 400)
    told = restored(here, made(here / "b.zip", parts, parquet(column), 400, "VARCHAR"))
    assert "what it unpacks to is too large" in told


@pytest.mark.parametrize(
    ("frame", "rows", "says"),
    [
        (b"PAR1" + b"\xff" * 5000 + b"\x00\x10\x00\x00PAR1", 3, "does not fit"),
        (b"no Parquet at all", 3, "does not fit"),
        (parquet(pa.array([1, 2, 3])), 4, "does not hold as many rows"),
    ],
)
def test_bytes_that_are_no_table_of_the_store(here, parts, frame, rows, says):
    assert says in restored(here, made(here / "b.zip", parts, frame, rows))


def test_a_checksum_that_does_not_fit(here, parts):
    content, about = parts
    wrong = about | {"sha256": about["sha256"] | {"readings.parquet": "0" * 64}}
    told = restored(here, made(here / "b.zip", (content, wrong), parquet(pa.array([1])), 1))
    assert "readings.parquet is not what was written" in told


def test_a_part_that_unpacks_to_far_more_is_not_unpacked(here, parts):
    file = made(here / "b.zip", parts, bytes(5_000_000), 1, compression=zipfile.ZIP_DEFLATED)
    assert file.stat().st_size < 1_000_000
    assert "is not a backup of milesleft" in ended(here, file, "restore", file, "--replace")


def test_parts_that_share_their_bytes_are_not_unpacked(here, parts):
    file = made(here / "b.zip", parts, random.Random(1).randbytes(1_000_000), 1)
    with zipfile.ZipFile(file, "a") as archive:
        about = json.loads(archive.read("about.json"))
        shared = archive.getinfo(f"{FRAME}.parquet")
        for number in range(100):
            copied = copy.copy(shared)
            copied.filename = f"{number}.parquet"
            archive.filelist.append(copied)
            archive.NameToInfo[copied.filename] = copied
            about["sha256"][copied.filename] = about["sha256"][f"{FRAME}.parquet"]
        archive.filelist.remove(archive.getinfo("about.json"))
        del archive.NameToInfo["about.json"]
        archive.writestr("about.json", json.dumps(about))
    assert "is not a backup of milesleft" in ended(here, file, "restore", file, "--replace")
