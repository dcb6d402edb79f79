"""Many at once and for long: pages while a writer writes, memory over many pages. Long forms by marker."""

import shutil
import threading
import time
from pathlib import Path

import pytest
from knocking.servers import serving
from knocking.visitor import Visitor

from ingest.store import Store
from ingest.verdicts.add import add_files

PAGES = ("", "point", "engine", "batch", "fit", "window", "record", "how")
WRONG = ("Traceback", "Error:", "This app has encountered an error")
BOUNDS = "[sockets]\nkept_s = 2\n"


@pytest.fixture(scope="module")
def served_copy(small_store, tmp_path_factory):
    """A server over a copy of the small store, for these tests alone: its address and its store."""
    folder = tmp_path_factory.mktemp("lasting")
    db = folder / "s.duckdb"
    shutil.copy(small_store, db)
    (folder / "bounds.toml").write_text(BOUNDS)
    with serving(db, "--bounds", str(folder / "bounds.toml")) as address:
        yield address, db


def memory_of(db):
    """Resident memory of the server of a store. [kB]"""
    for process in Path("/proc").glob("[0-9]*"):
        try:
            words = (process / "cmdline").read_bytes().split(b"\0")
        except OSError:  # it ended meanwhile
            continue
        if str(db).encode() in words and b"serve" in words:
            told = (process / "status").read_text()
            return int(told.split("VmRSS:")[1].split()[0])
    raise AssertionError("the server is not there")


class Browsers:
    """Some who open one page after the other until it is enough."""

    def __init__(self, address, number, ends):
        self.seen, self.wrong = 0, []
        self.threads = [
            threading.Thread(target=self._look, args=(address, first, ends)) for first in range(number)
        ]

    def _look(self, address, first, ends):
        place = first
        try:
            while time.monotonic() < ends:
                with Visitor(address).socket() as page:
                    for _ in range(4):
                        page.run(page=PAGES[place % len(PAGES)])
                        self.wrong += [
                            (PAGES[place % len(PAGES)], each) for each in WRONG if page.shows(each)
                        ]
                        self.seen += 1
                        place += 1
        except Exception as error:  # it must be seen in the thread that judges
            self.wrong.append((PAGES[place % len(PAGES)], repr(error)))


@pytest.mark.parametrize(
    ("number", "seconds"), [(3, 6), pytest.param(10, 120, marks=pytest.mark.long)], ids=["short", "long"]
)
def test_many_look_while_one_writes(served_copy, tmp_path, number, seconds):
    address, db = served_copy
    ends = time.monotonic() + seconds
    browsers = Browsers(address, number, ends)
    for each in browsers.threads:
        each.start()
    point, written, slowest = "N-D2L-HOLLOW", 0, 0.0
    before = len(Store(db).read("readings"))
    while time.monotonic() < ends:
        sheet = tmp_path / "more.csv"
        day = f"{2026 + written // 28 // 12 + 1}-{written // 28 % 12 + 1:02d}-{written % 28 + 1:02d}"
        sheet.write_text(f"point,date,value,unit\n{point},{day},0.29,in\n")
        add_files(Store(db), [sheet], who="writer")
        written += 1
        began = time.monotonic()
        assert Visitor(address).get("/health").json()["ok"] is True
        slowest = max(slowest, time.monotonic() - began)
        time.sleep(0.5)
    for each in browsers.threads:
        each.join(120)
    print(f"{browsers.seen} pages, {written} batches, health in {slowest:.2f} s at most")
    assert browsers.wrong == []
    assert browsers.seen >= number
    assert len(Store(db).read("readings")) + len(Store(db).held()) >= before + written
    assert slowest < 10.0


@pytest.mark.parametrize(
    ("first", "more", "most"),
    [(16, 24, 1.15), pytest.param(100, 500, 1.10, marks=pytest.mark.long)],
    ids=["short", "long"],
)
def test_memory_stays_over_many_pages(served_copy, first, more, most):
    address, db = served_copy
    looked = 0

    def look(times):
        nonlocal looked
        for _ in range(0, times, 4):
            with Visitor(address).socket() as page:
                for _ in range(4):
                    page.run(page=PAGES[looked % len(PAGES)])
                    looked += 1

    look(first)
    time.sleep(3.0)
    before = memory_of(db)
    look(more)
    time.sleep(3.0)
    after = memory_of(db)
    print(f"{before / 1024:.0f} MB after {first} pages, {after / 1024:.0f} MB after {more} more")
    assert after <= most * before
