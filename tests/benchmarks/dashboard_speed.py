"""How fast the dashboard answers in a browser, and what twenty people at once cost.

Run by hand, on a machine that does nothing else:

    python tests/benchmarks/dashboard_speed.py [STORE]

Without a store the demo railway is made, planned and scored first: two engines, 500 wear points. Printed:
medians of the first meaningful screen, of a page change, of a click on the drawing, and the memory of the
server with 20 sessions.
"""

import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).parents[2]
TARGETS = {"first screen": 2.0, "page change": 0.5, "click on the drawing": 0.3}
"""Median seconds that are asked for."""
SESSIONS, MOST_GIB = 20, 1.5
CHROMIUM = {
    "executable_path": os.environ.get("CHROMIUM", "/usr/bin/chromium"),
    "args": ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"],
}
AT_REST = '[data-testid="stApp"][data-test-script-state="notRunning"]'
PAGES = {
    "One wear point": "Readings and what they say",
    "Is this batch right?": "Is this batch right?",
    "Does it still fit together?": "Does it still fit together?",
    "When do we open it?": "When do we open it, and what is in it?",
    "What does it cost?": "What does it cost, and why now?",
    "How good were our forecasts?": "How good were our forecasts?",
    "How a forecast is made": "How a forecast is made",
    "What will stop us first?": "What will stop us first?",
}


def main() -> int:
    """Measure, print, and say with the exit code whether every target is met."""
    with tempfile.TemporaryDirectory() as folder:
        db = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(folder) / "demo.duckdb"
        if not db.exists():
            run(["demo", "--no-serve", "--quiet", "--db", str(db)])
            run(["plan", "--quiet", "--db", str(db)])
            run(["score", "--quick", "--quiet", "--db", str(db)])
        port = free_port()
        command = [
            sys.executable,
            "-m",
            "dashboard.cli",
            "serve",
            "--quiet",
            "--db",
            str(db),
            "--port",
            str(port),
        ]
        with subprocess.Popen(
            command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as server:
            try:
                wait(f"http://127.0.0.1:{port}/health")
                met = measure(f"http://127.0.0.1:{port}", server.pid)
            finally:
                server.terminate()
    return 0 if met else 1


def measure(address: str, pid: int) -> bool:
    """All figures, printed one a line with its target."""
    met = True
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(**CHROMIUM)
        first_screen(browser, address)  # the very first visitor also fills the server's memory
        times = {
            "first screen": [first_screen(browser, address) for _ in range(7)],
            "page change": page_changes(browser, address),
            "click on the drawing": clicks(browser, address),
        }
        for what, seconds in times.items():
            median = statistics.median(seconds)
            met &= median <= TARGETS[what]
            worst = max(seconds)
            print(
                f"{what:24} median {median:5.2f} s, worst {worst:5.2f} s (asked: {TARGETS[what]:.1f} s, "
                f"{len(seconds)} times)"
            )
        gib = memory_with_sessions(browser, address, pid)
        met &= gib <= MOST_GIB
        print(f"{SESSIONS} sessions at once      {gib:5.2f} GiB resident (asked: {MOST_GIB} GiB)")
        browser.close()
    return met


def first_screen(browser: Browser, address: str) -> float:
    """From asking for the address to the drawing and the list being there, in a fresh browser profile."""
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    page = context.new_page()
    began = time.perf_counter()
    page.goto(address, wait_until="commit")
    page.locator(".gear [data-place]").first.wait_for()
    page.locator(".ranked tbody tr").first.wait_for()
    seconds = time.perf_counter() - began
    context.close()
    return seconds


def opened(browser: Browser, address: str) -> Page:
    """A page that has come to rest."""
    page = browser.new_page(viewport={"width": 1440, "height": 900})
    page.goto(address)
    page.locator(".ranked tbody tr").first.wait_for()
    page.wait_for_timeout(1500)
    return page


def page_changes(browser: Browser, address: str) -> list[float]:
    """From the click on a link of the sidebar to all of the other page; every page seen once before."""
    page = opened(browser, address)
    seconds = []
    for turn in range(3):
        for link, heading in PAGES.items():
            began = time.perf_counter()
            page.get_by_role("link", name=link).click()
            page.get_by_role("heading", name=heading).first.wait_for()
            page.wait_for_selector(AT_REST)
            if turn:
                seconds.append(time.perf_counter() - began)
            page.wait_for_timeout(700)
    page.close()
    return seconds


def clicks(browser: Browser, address: str) -> list[float]:
    """From the click on a wheel to its wear points being listed."""
    page = opened(browser, address)
    places = page.locator('.gear [data-place^="1:driver"], .gear [data-place^="2:driver"]')
    seconds = []
    for place in range(min(places.count(), 12)):
        wheel = places.nth(place)
        words = wheel.get_attribute("aria-label").split(":")[0]
        began = time.perf_counter()
        wheel.click()
        page.get_by_role("heading", name=words).wait_for()
        seconds.append(time.perf_counter() - began)
        page.wait_for_timeout(400)
    page.close()
    return seconds[1:]


def memory_with_sessions(browser: Browser, address: str, pid: int) -> float:
    """Resident memory of the server while twenty browsers look at different pages. [GiB]"""
    contexts = [browser.new_context() for _ in range(SESSIONS)]
    paths = ["", "point", "batch?part=held", "case", "engine", "record", "fit", "window"]
    pages = []
    for place, context in enumerate(contexts):
        page = context.new_page()
        page.goto(f"{address}/{paths[place % len(paths)]}")
        pages.append(page)
    for page in pages:
        page.locator("h1").first.wait_for(timeout=60_000)
    pages[0].wait_for_timeout(8000)
    pages_kib = next(
        line for line in Path(f"/proc/{pid}/status").read_text().splitlines() if line.startswith("VmRSS")
    )
    for context in contexts:
        context.close()
    return int(pages_kib.split()[1]) / 1024**2


def run(arguments: list[str]) -> None:
    subprocess.run([sys.executable, "-m", "dashboard.cli", *arguments], cwd=ROOT, check=True)


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def wait(address: str) -> None:
    for _ in range(200):
        try:
            urllib.request.urlopen(address, timeout=2).close()
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise TimeoutError(address)


if __name__ == "__main__":
    sys.exit(main())
