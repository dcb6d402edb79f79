"""Many at once, and killed at any moment: short runs; the long ones by their marker."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parents[2]


def run(script: str, *arguments: object) -> dict[str, object]:
    """Run a script beside this file and read what it prints."""
    call = [sys.executable, str(HERE / script), *map(str, arguments)]
    environment = {"PYTHONPATH": os.pathsep.join(map(str, (ROOT, ROOT / "tests"))), "PATH": "/usr/bin:/bin"}
    done = subprocess.run(call, capture_output=True, text=True, env=environment, cwd=ROOT)
    assert done.returncode == 0, done.stderr[-2000:]
    return json.loads(done.stdout)


@pytest.mark.parametrize("seconds", [3, pytest.param(60, marks=pytest.mark.long)])
def test_twenty_readers_and_a_writer_all_get_through(tmp_path, seconds):
    found = run("many_at_once.py", tmp_path / "store.duckdb", seconds)
    assert found["failed"] == []
    assert found["writes"] == found["stored"] > 0
    assert found["reads"] >= found["readers"] == 20


@pytest.mark.parametrize("kills", [6, pytest.param(200, marks=pytest.mark.long)])
def test_a_killed_add_leaves_the_store_as_before_or_after(tmp_path, kills):
    found = run("kills.py", tmp_path / "store.duckdb", kills)
    assert found["kills"] == kills == found["as_before"] + found["as_after"]


QUICK = ("add", "held dismiss", "undo", "backup", "restore", "migration", "photo at the engine")
ALL = ()  # all that there are


@pytest.mark.parametrize(
    ("kills", "commands"), [(12, QUICK), pytest.param(500, ALL, marks=pytest.mark.long)], ids=["few", "many"]
)
def test_a_killed_command_leaves_the_store_as_before_or_after_and_nothing_beside_it(
    tmp_path, kills, commands
):
    found = run("kills_of_commands.py", tmp_path / "killed", kills, 7, *commands)
    assert list(found) == list(commands) or len(found) > len(commands) == 0
    assert sum(each["kills"] for each in found.values()) >= kills
    assert all(each["kills"] == each["as_before"] + each["as_after"] > 0 for each in found.values())
