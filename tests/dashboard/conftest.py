"""A small railway whose files are written out here, a server, a browser."""

import json
import os
import shutil
import subprocess
from pathlib import Path
from types import SimpleNamespace

import pytest
from knocking.servers import a_free_port, serving
from pages.small_railway import small_railway_forecast

ROOT = Path(__file__).parents[2]
APP = str(ROOT / "dashboard" / "app.py")
ARTEFACTS = ROOT / "test-artefacts"
CHROMIUM = {
    "executable_path": os.environ.get("CHROMIUM", "/usr/bin/chromium"),
    "args": [
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
    ],
}


@pytest.fixture(scope="session")
def made_store(once):
    """The small railway in a store, with one forecast; copied for each test that changes it."""
    return once("small_store", small_railway_forecast) / "small.duckdb"


@pytest.fixture
def small(made_store, tmp_path, monkeypatch):
    """A copy of the small railway's store, which the pages then show."""
    path = tmp_path / "small.duckdb"
    shutil.copy(made_store, path)
    monkeypatch.setenv("MILESLEFT_DB", str(path))
    monkeypatch.delenv("MILESLEFT_ROLES", raising=False)
    return path


@pytest.fixture
def app(small):
    """The dashboard without a browser; nothing cached from another test."""
    import streamlit as st
    from streamlit.testing.v1 import AppTest

    st.cache_data.clear()
    return AppTest.from_file(APP, default_timeout=30)


@pytest.fixture
def reader(made_store, monkeypatch):
    """The dashboard over the one store that all such tests share, so that each page is worked out once.

    For tests that look and change nothing.
    """
    from streamlit.testing.v1 import AppTest

    monkeypatch.setenv("MILESLEFT_DB", str(made_store))
    monkeypatch.delenv("MILESLEFT_ROLES", raising=False)
    written = made_store.stat().st_mtime_ns
    yield AppTest.from_file(APP, default_timeout=30)
    assert made_store.stat().st_mtime_ns == written


@pytest.fixture(scope="session")
def free_port():
    """``free_port()``: a port that nobody listens on."""
    return a_free_port


@pytest.fixture(scope="session")
def serve():
    """``serve(db, *options)``: a server for the length of a ``with`` block."""
    return serving


@pytest.fixture(scope="session")
def first_visit(milesleft, once):
    """Folder with ``demo.duckdb`` as the README's first command leaves it, and what that command said.

    Whoever changes the store takes a copy.
    """

    def make(folder):
        call = [*milesleft, "demo", "--no-serve", "--db", "demo.duckdb"]
        done = subprocess.run(call, cwd=folder, capture_output=True, text=True, timeout=900)
        assert done.returncode == 0, done.stderr
        (folder / "said.json").write_text(json.dumps({"stdout": done.stdout, "stderr": done.stderr}))

    folder = once("first_visit", make)
    return folder, SimpleNamespace(**json.loads((folder / "said.json").read_text()))


@pytest.fixture(scope="session")
def served(first_visit, tmp_path_factory):
    """The demo railway as a first visitor finds it, on a server; nothing may change it."""
    db = tmp_path_factory.mktemp("served") / "demo.duckdb"
    shutil.copy(first_visit[0] / "demo.duckdb", db)
    with serving(db) as address:
        yield address


@pytest.fixture(scope="session")
def chromium():
    """One browser for the whole session."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(**CHROMIUM)
        yield browser
        browser.close()


# On an address below the root Streamlit asks for its own health under that address first, and then at the
# root; the first question is answered with 404. Nothing of ours.
STREAMLIT_ASKS = ("/_stcore/health", "/_stcore/host-config")


class Page:
    """A browser page that keeps what went wrong on it."""

    def __init__(self, page):
        self.page = page
        self.wrong = []
        self.allowed = ()
        page.on("pageerror", lambda error: self.wrong.append(f"page error: {error}"))
        page.on("console", self._console)
        page.on("request", self._request)

    def _console(self, message):
        url = message.location["url"]
        if message.type == "error" and not url.endswith(STREAMLIT_ASKS) and not url.startswith(self.allowed):
            self.wrong.append(f"console: {message.text} {url}")

    def _request(self, request):
        if not request.url.startswith(
            ("http://127.0.0.1", "data:", "blob:", "ws://127.0.0.1", *self.allowed)
        ):
            self.wrong.append(f"asked outside: {request.url}")

    def open(self, address: str):
        self.page.goto(address)
        self.settle()
        return self.page

    def settle(self) -> None:
        """Wait until the page has been run and drawn."""
        ready = '[data-testid="stApp"][data-test-script-state="notRunning"]'
        self.page.wait_for_selector(ready, timeout=30_000)
        self.page.wait_for_timeout(250)
        self.page.wait_for_selector(ready, timeout=30_000)
        self.page.wait_for_function("() => !document.querySelector('[data-stale=\"true\"]')", timeout=30_000)

    def whole(self, name: str) -> None:
        """A picture of the whole page, for people to look at."""
        ARTEFACTS.mkdir(exist_ok=True)
        size = self.page.viewport_size
        height = self.page.evaluate(
            "() => document.querySelector('[data-testid=stMain]')?.scrollHeight ?? 900"
        )
        self.page.set_viewport_size({"width": size["width"], "height": min(int(height) + 20, 6000)})
        self.page.wait_for_timeout(400)
        self.page.screenshot(path=str(ARTEFACTS / f"{name}.png"))
        self.page.set_viewport_size(size)


WIDTHS = {"desk": (1440, 900), "phone": (390, 844)}


@pytest.fixture
def browser_page(chromium):
    """Makes pages of a width; each must end without anything wrong on it."""
    made = []

    def make(width: str = "desk", state=None) -> Page:
        wide, high = WIDTHS[width]
        viewport = {"width": wide, "height": high}
        context = chromium.new_context(viewport=viewport, accept_downloads=True, storage_state=state)
        context.set_default_timeout(45_000)  # the first case simulates; a busy machine takes its time
        page = Page(context.new_page())
        made.append((context, page))
        return page

    yield make
    for context, _ in made:
        context.close()
    assert [page.wrong for _, page in made] == [[] for _ in made]
