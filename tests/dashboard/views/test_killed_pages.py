"""A page killed at any moment while it stores a batch leaves the store as before or as after."""

import random
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from ingest.schema import TABLES
from ingest.store import Store

SCRIPT = Path(__file__).parent / "page_to_kill.py"
ROOT = SCRIPT.parents[3]
BROUGHT = {"upload": 400, "engine": 1}
LONGEST_S = 3.0
"""Kills fall this long after the click at most: a batch is stored in less."""


def killed(db: Path, what: str, after: float) -> bool:
    """Store a batch through a page and kill it so long after the click [s]; whether it had ended by then."""
    call = [sys.executable, str(SCRIPT), str(db), what]
    with subprocess.Popen(
        call, cwd=ROOT, stdout=subprocess.PIPE, text=True, env={"PYTHONPATH": str(ROOT)}
    ) as page:
        assert page.stdout.readline() == "now\n"
        time.sleep(after)
        page.kill()
        return page.stdout.read() == "done\n"


@pytest.mark.parametrize("what", ["upload", "engine"])
@pytest.mark.parametrize("kills", [2, pytest.param(60, marks=pytest.mark.long)])
def test_a_page_killed_while_it_stores_a_batch_leaves_the_store_as_before_or_after(
    made_store, tmp_path, what, kills
):
    moments = random.Random(kills)
    before = {table: len(rows) for table, rows in Store(made_store).read_all().items()}
    seen = set()
    for number in range(kills):
        db = tmp_path / f"killed-{number}.duckdb"
        shutil.copy(made_store, db)
        done = killed(db, what, moments.uniform(0.0, LONGEST_S))
        store = Store(db)
        brought = store.version() - Store(made_store).version()
        now = {table: len(rows) for table, rows in store.read_all().items()}
        assert now == before | {"readings": before["readings"] + brought * BROUGHT[what]}
        assert brought in (0, 1)
        assert brought == 1 or not done
        assert len(store.batches()) == 1 + brought
        assert set(now) == set(TABLES)
        seen.add(brought)
    assert kills < 10 or seen == {0, 1}  # the kills fell on both sides
