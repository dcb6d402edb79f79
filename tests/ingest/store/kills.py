"""Kill `add` at random moments and look whether the store is as before or after; prints the counts as JSON.

Run: python tests/ingest/store/kills.py STORE KILLS [SEED]. Every add runs in a forked process of its own,
which is killed with SIGKILL; every look at the store is a process of its own too, so that nothing survives a
kill but the files. Two kills of three fall evenly over the time that an add takes, the third near its end,
where rows are written: that moment is followed as it shifts, so that about half of those come too late.
"""

import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from many_at_once import ROWS, add_once, fill

from ingest.store import Store


def in_child(work: Callable[[], object]) -> int:
    """Start the work in a forked process; its id."""
    child = os.fork()
    if child:
        return child
    status = 1
    try:
        work()
        status = 0
    finally:
        os._exit(status)


def answer(work: Callable[[], object]) -> object:
    """What the work gives, done in a process of its own."""
    get, put = os.pipe()
    child = in_child(lambda: os.write(put, json.dumps(work()).encode()))
    os.close(put)
    with os.fdopen(get) as pipe:
        text = pipe.read()
    if os.waitpid(child, 0)[1] != 0:
        raise AssertionError("the store could not be read after a kill")
    return json.loads(text)


def state(path: Path) -> list[int]:
    """Data version, rows of readings, rows of batches: all that an add changes."""
    store = Store(path, wait_s=5)
    if not path.exists():
        return [0, 0, 0]
    return [store.version(), len(store.read("readings")), len(store.batches())]


def main(path: Path, kills: int, seed: int) -> dict[str, int]:
    """Kill that many adds; AssertionError at the first store that is neither as before nor as after."""
    rng = random.Random(seed)
    begun = time.perf_counter()
    os.waitpid(in_child(lambda: fill(path)), 0)
    os.waitpid(in_child(lambda: add_once(path, 0)), 0)
    span = (time.perf_counter() - begun) / 2
    before = answer(lambda: state(path))
    found = {"kills": 0, "as_before": 0, "as_after": 0}
    number = 1
    while found["kills"] < kills:
        child = in_child(lambda n=number: add_once(path, n))  # type: ignore[misc]
        near_end = rng.random() < 1 / 3
        time.sleep(span * rng.uniform(0.9, 1.05) if near_end else span * rng.uniform(0, 1))
        os.kill(child, signal.SIGKILL)
        killed = os.WIFSIGNALED(os.waitpid(child, 0)[1])
        now = answer(lambda: state(path))
        after = [before[0] + 1, before[1] + ROWS, before[2] + 1]
        if now not in (before, after):
            raise AssertionError(f"the store is {now}; before {before}, after {after}")
        found["kills"] += killed
        found["as_before" if now == before else "as_after"] += killed
        if near_end:
            span *= 0.95 if now == after else 1.08
        number += now == after
        before = now
    return found


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]) if len(sys.argv) > 3 else 7)))
