"""What the system refuses a reader that foreign bytes took over, on kernels with and without Landlock."""

import os
import platform
import socket
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import psutil
import pytest

from dashboard.shop.photos import KIND as PICTURES
from ingest.apart.host import builder, read_apart
from ingest.apart.walls import filters_calls, landlock_version
from ingest.errors import UnreadableFile

KIND = "hostile.breaking_out"
FILES = {"given, written", "beside the given", "system", "above", "list", "link"}
CALLS = {"udp", "signal", "its limits", "program", "process"}
KINDS = {
    "ingest.sheets.foreign": {"ending": ".csv", "encoding": None, "delimiter": None},
    "ingest.apart.signed": {},
    "dashboard.papers.logo_bytes": {},
    PICTURES: {},
}


@pytest.fixture(scope="module")
def listening():
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield server.getsockname()[1]


@pytest.fixture(scope="module")
def tried(tmp_path_factory, listening):
    """What a reader that may write in its folder could do from there."""
    folder = tmp_path_factory.mktemp("walls")
    (folder / "given").write_bytes(b"backup")
    (folder / "beside").write_bytes(b"private")
    (folder / "scratch").mkdir()
    asked = {"reads": [str(folder / "given")], "port": listening, "asks": os.getpid(), "most_written": 1000}
    with builder(KIND, folder / "scratch") as process:
        found = process.ask(asked, name="given", advice="", seconds=20).header
    assert (folder / "scratch" / "made").read_text() == "made"
    assert not (folder / "scratch" / "link").is_symlink() or not landlock_version()
    return found


def test_it_has_what_it_was_given_and_its_folder(tried):
    assert {tried[way] for way in ("given", "own folder")} == {"open"}


def test_no_other_file_where_the_kernel_has_landlock(tried):
    """Where it has none, the permissions of the files alone decide: nobody is told more than is true."""
    others = {way: tried[way] for way in FILES}
    if landlock_version():
        assert set(others.values()) == {"PermissionError"}, others
    else:
        assert others["system"] == "open", "this kernel keeps files from it: the threat model says otherwise"


def test_no_connection_no_signal_no_program(tried):
    refused = {way: tried[way] for way in CALLS}
    if filters_calls():
        assert set(refused.values()) == {"PermissionError"}, refused
    assert tried["thread"] == "open"  # libraries have them
    assert (tried["tcp"] == "PermissionError") == (filters_calls() or landlock_version() >= 4), tried


def test_no_limit_is_taken_back_even_by_the_superuser(tried):
    assert tried["more files"] == "ValueError"


def test_the_kernel_is_asked_what_it_has():
    """The version is what the system call says; the filter is written for two kinds of machines."""
    assert (landlock_version() > 0) <= (sys.platform == "linux")
    assert filters_calls() == (sys.platform == "linux" and platform.machine() in ("x86_64", "aarch64"))


def behind(kind):
    """Number of threads of the readers of a kind, each of which is seen to stand behind the walls."""
    threads = 0
    for child in psutil.Process().children():
        for status in Path(f"/proc/{child.pid}/task").glob("*/status") if kind in child.cmdline() else ():
            told = dict(line.split(":\t", 1) for line in status.read_text().splitlines() if ":\t" in line)
            assert told["NoNewPrivs"] == "1", kind
            assert not filters_calls() or told["Seccomp"] == "2", kind
            assert int(told["CapEff"], 16) & ~0b110 == 0, kind
            threads += 1
    return threads


@pytest.mark.parametrize("kind", KINDS)
def test_every_thread_of_every_reader_is_behind_the_walls(kind):
    """A thread that a library starts before they are put up would stand outside them."""
    with suppress(UnreadableFile):
        read_apart(kind, b"point,date\n", name="a.csv", advice="", question=KINDS[kind])
    assert behind(kind)


def test_the_reader_of_backups_has_one_thread_when_its_files_are_shut():
    """Those that it starts later see no more of the disk than it does; one begun before would."""
    code = (
        "import os, ingest.store.rebuild as kind; kind.prepare('');"
        "print(len(os.listdir('/proc/self/task')) if os.path.isdir('/proc/self/task') else 1)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "1\n"
