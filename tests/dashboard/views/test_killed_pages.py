"""A page killed at any moment while it stores a batch leaves the store as before or as after."""

import random
import shutil
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest

from ingest.schema import TABLES
from ingest.store import Store

SCRIPT = Path(__file__).parent / "page_to_kill.py"
ROOT = SCRIPT.parents[3]
BROUGHT = 399


@contextmanager
def clicks(db: Path):
    """``click(after)``: store a batch through a page and kill it so long after the click [s].

    It tells whether that had ended by then, and how long it took. [s]
    """
    call = [sys.executable, str(SCRIPT), str(db)]
    with subprocess.Popen(
        call,
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={"PYTHONPATH": str(ROOT)},
    ) as page:
        assert page.stdout.readline() == "ready\n"

        def click(after=""):
            page.stdin.write(f"{after}\n")
            page.stdin.flush()
            done, took = page.stdout.readline().split()
            return done == "1", float(took)

        yield click
        page.stdin.close()


@pytest.mark.parametrize("kills", [4, pytest.param(60, marks=pytest.mark.long)])
def test_a_page_killed_while_it_stores_a_batch_leaves_the_store_as_before_or_after(
    made_store, tmp_path, kills
):
    moments = random.Random(kills)
    db = tmp_path / "killed.duckdb"
    before = {table: len(rows) for table, rows in Store(made_store).read_all().items()}
    first = Store(made_store).version()

    def fresh():
        for left in tmp_path.glob("killed.duckdb*"):
            left.unlink()
        shutil.copy(made_store, db)

    def looked_at(done):
        store = Store(db)
        brought = store.version() - first
        now = {table: len(rows) for table, rows in store.read_all().items()}
        assert now == before | {"readings": before["readings"] + brought * BROUGHT}
        assert brought in (0, 1)
        assert brought == 1 or not done
        assert len(store.batches()) == 1 + brought
        assert set(now) == set(TABLES)
        return brought

    fresh()
    with clicks(db) as click:
        done, span = click()
        assert done
        assert looked_at(done) == 1
        seen = []
        for _ in range(kills):
            fresh()
            done, _ = click(moments.uniform(0.0, 1.1 * span))
            seen.append(looked_at(done))
    assert kills < 10 or set(seen) == {0, 1}  # the kills fell on both sides
    print(f"{seen.count(0)} as before, {seen.count(1)} as after")
