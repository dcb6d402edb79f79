"""What a killed process left is cleared by the next; what a living one holds is not touched."""

import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

from ingest.scratch import clear_dead, scratch_folder
from ingest.store import Store
from ingest.store.backup import backup, restore
from ingest.writing import whole_file

ROOT = Path(__file__).parents[3]


def left_over(folder):
    return sorted(path.name for path in folder.glob(".milesleft-*"))


def child(work):
    """The work in a forked process."""
    pid = os.fork()
    if pid == 0:
        try:
            work()
        finally:
            os._exit(0)
    return pid


def test_a_scratch_folder_goes_at_the_end_and_on_an_error(tmp_path):
    with scratch_folder(tmp_path) as folder:
        (folder / "a").write_text("x")
    with suppress(ValueError), whole_file(tmp_path / "b") as fresh:
        fresh.write_text("x")
        raise ValueError("no")
    assert list(tmp_path.iterdir()) == []


def test_a_killed_process_leaves_a_folder_that_the_next_one_clears(tmp_path):
    def hold():
        with scratch_folder(tmp_path) as folder:
            (folder / "big").write_bytes(b"0" * 1000)
            time.sleep(60)

    killed, living = child(hold), child(hold)
    until = time.monotonic() + 10
    while len(list(tmp_path.glob(".milesleft-scratch-*/big"))) < 2 and time.monotonic() < until:
        time.sleep(0.01)
    os.kill(killed, signal.SIGKILL)
    os.waitpid(killed, 0)
    assert len(left_over(tmp_path)) == 2
    clear_dead(tmp_path)
    assert len(left_over(tmp_path)) == 1  # the living one's
    os.kill(living, signal.SIGKILL)
    os.waitpid(living, 0)
    with scratch_folder(tmp_path):
        assert len(left_over(tmp_path)) == 1
    assert left_over(tmp_path) == []


def test_a_folder_of_somebody_else_is_never_taken(tmp_path):
    for name in (".restore-abc", ".milesleft-notes", "scratch"):
        (tmp_path / name).mkdir()
    clear_dead(tmp_path)
    assert len(list(tmp_path.iterdir())) == 3


def test_many_that_make_and_clear_at_once_never_take_each_others(tmp_path):
    def busy():
        for i in range(60):
            with whole_file(tmp_path / f"out-{os.getpid()}-{i % 3}") as fresh:
                fresh.write_text(str(i))

    children = [child(busy) for _ in range(4)]
    codes = [os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in children]
    assert codes == [0] * 4
    assert sorted(p.read_text() for p in tmp_path.glob("out-*")) == sorted(["57", "58", "59"] * 4)
    assert left_over(tmp_path) == []


@pytest.mark.parametrize("command", ["backup", "restore"])
def test_a_killed_backup_or_restore_leaves_no_folder_for_long(known, store, tmp_path, command):
    backup(store, tmp_path / "b.zip")
    target = Store(tmp_path / "other" / "s.duckdb")
    target.path.parent.mkdir()
    where = tmp_path if command == "backup" else target.path.parent
    db = str(store.path if command == "backup" else target.path)
    more = ["--replace"] if command == "restore" else []
    call = [sys.executable, "-m", "dashboard.cli", command, str(tmp_path / "b.zip"), *more, "--db", db]
    with subprocess.Popen(call, cwd=ROOT) as process:
        until = time.monotonic() + 30
        while not left_over(where) and time.monotonic() < until:
            time.sleep(0.001)
        process.kill()
    assert left_over(where)
    # Its helper, if it was just being forked, holds the locks a moment longer than the killed one lived.
    until = time.monotonic() + 30
    while left_over(where) and time.monotonic() < until:
        if command == "backup":
            backup(store, tmp_path / "b.zip")
        else:
            restore(target, tmp_path / "b.zip", replace=True)
    assert left_over(where) == []
