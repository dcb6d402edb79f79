"""Readers and a writer at one store for a while; prints what each of them met, as JSON.

Run: python tests/ingest/store/many_at_once.py STORE SECONDS. Sessions of a dashboard are threads of one
process, other users are processes of their own; here are 12 of the first and 8 of the second, and one
writer that adds readings by the very way of ``milesleft add``.
"""

import json
import multiprocessing
import sys
import threading
import time
from multiprocessing.queues import Queue
from multiprocessing.synchronize import Barrier
from pathlib import Path

import pandas as pd

from ingest.store import Store
from ingest.verdicts.add import add_rows
from ingest.verdicts.handed_in import SHEETS, HandedIn

ROWS = 200  # readings of one add
THREADS, PROCESSES = 12, 8
Met = tuple[list[float], list[str]]
"""Seconds that each read took, and what went wrong."""


def fill(path: Path) -> None:
    """A store with one vehicle, one wear point and no readings."""
    point = {"point": "A-1", "vehicle": "A", "component": "tire", "quantity": "thickness", "unit": "mm"}
    rows = {
        "vehicles": _rows({"vehicle": "A"}, "vehicles.csv"),
        "wear_points": _rows(point, "wear_points.csv"),
    }
    sheets = pd.DataFrame([(f"{table}.csv", "", table, "") for table in rows], columns=SHEETS)
    add_rows(Store(path), HandedIn(rows, sheets))


def _rows(cells: dict[str, object], file: str) -> pd.DataFrame:
    frame = pd.DataFrame(cells, index=range(len(next(iter(cells.values()))) if _listed(cells) else 1))
    return frame.astype("str").assign(source_file=file, source_sheet="", source_row=range(2, len(frame) + 2))


def _listed(cells: dict[str, object]) -> bool:
    return isinstance(next(iter(cells.values())), list)


def add_once(path: Path, number: int) -> None:
    """Add ROWS readings in one call."""
    odometer = [number * ROWS + i for i in range(ROWS)]
    dates = pd.date_range("1950-01-01", periods=ROWS).strftime("%Y-%m-%d").tolist()
    cells = {"point": ["A-1"] * ROWS, "date": dates, "value": [50] * ROWS, "odometer": odometer}
    cells["observer"] = [f"batch {number}"] * ROWS
    sheets = pd.DataFrame([(f"{number}.csv", "", "readings", "")], columns=SHEETS)
    report = add_rows(Store(path), HandedIn({"readings": _rows(cells, f"{number}.csv")}, sheets))
    if report.count("accepted") != ROWS:
        raise AssertionError(report.verdicts)


def read_for(path: Path, until: float, out: list[float], failed: list[str]) -> None:
    """Read until the time is up; every read must see whole batches."""
    store = Store(path)
    first = True
    while first or time.time() < until:
        first, begun = False, time.perf_counter()
        try:
            count = len(store.read("readings"))
            if count % ROWS:
                failed.append(f"{count} readings seen: a batch in part")
        except Exception as error:  # whatever it is, it is a failure to report
            failed.append(repr(error))
        out.append(time.perf_counter() - begun)
        time.sleep(0.05)


def read_in_process(path: Path, seconds: float, ready: "Barrier", queue: "Queue[Met]") -> None:
    """One reader in a process of its own; it begins when all have started."""
    waits: list[float] = []
    failed: list[str] = []
    ready.wait()
    read_for(path, time.time() + seconds, waits, failed)
    queue.put((waits, failed))


def main(path: Path, seconds: float) -> dict[str, object]:
    """Let all of them loose and gather what they met."""
    fill(path)
    context = multiprocessing.get_context("spawn")
    queue, ready = context.Queue(), context.Barrier(PROCESSES + 1)
    arguments = (path, seconds, ready, queue)
    others = [context.Process(target=read_in_process, args=arguments) for _ in range(PROCESSES)]
    for process in others:
        process.start()
    ready.wait()
    until = time.time() + seconds
    reads: list[float] = []
    failed: list[str] = []
    threads = [threading.Thread(target=read_for, args=(path, until, reads, failed)) for _ in range(THREADS)]
    for thread in threads:
        thread.start()
    writes: list[float] = []
    while not writes or time.time() < until:
        begun = time.perf_counter()
        try:
            add_once(path, len(writes))
        except Exception as error:
            failed.append(repr(error))
        writes.append(time.perf_counter() - begun)
        time.sleep(0.2)
    for _ in others:
        waits, words = queue.get()
        reads += waits
        failed += words
    for worker in [*others, *threads]:
        worker.join()
    return {
        "readers": THREADS + PROCESSES,
        "reads": len(reads),
        "longest_read_s": round(max(reads), 3),
        "writes": len(writes),
        "longest_write_s": round(max(writes), 3),
        "median_write_s": round(sorted(writes)[len(writes) // 2], 3),
        "stored": len(Store(path).read("readings")) // ROWS,
        "failed": failed,
    }


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]), float(sys.argv[2])), indent=1))
