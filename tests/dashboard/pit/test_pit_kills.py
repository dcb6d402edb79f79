"""Whatever is killed at any moment, what the page said it kept comes into the store, and once."""

import contextlib
import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from knocking.servers import ROOT, a_free_port, wait_for

from ingest.store import Store

pytestmark = pytest.mark.browser

KINDS = {"reload": 6, "crash": 5, "offline": 4, "full": 3, "browser": 4, "server": 3}
"""What is killed, and how often in 25."""
LONGEST_S = 0.25
"""A kill falls so long after the typing at most, the tap up to twice that: a reading is kept, sent and stored
by then, or the page is gone before it was tapped."""
TAP = "after => setTimeout(() => document.getElementById('keep').click(), after)"
QUIET = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--headless=new"]
QUIET += ["--disable-background-networking", "--disable-component-update", "--disable-sync"]
KEPT = """async () => {
  const keep = await import("./keep.js");
  return (await keep.all("entries")).length;
}"""


class Server:
    """A server that may be killed and comes back under the same address."""

    def __init__(self, db: Path):
        self.db, self.port, self.process = db, a_free_port(), None
        self.address = f"http://127.0.0.1:{self.port}"

    def start(self):
        command = [sys.executable, "-m", "dashboard.cli", "serve", "--db", str(self.db)]
        environment = {k: v for k, v in os.environ.items() if not k.startswith(("MILESLEFT_", "STREAMLIT_"))}
        log = self.db.with_name("serve.log")
        with log.open("a") as out:
            self.process = subprocess.Popen(
                [*command, "--port", str(self.port)], cwd=ROOT, stdout=out, stderr=out, env=environment
            )
        wait_for(f"{self.address}/health", self.process, log)

    def kill(self):
        self.process.kill()
        self.process.wait(20)


class Browser:
    """A browser of its own process, with a folder that outlives it."""

    def __init__(self, playwright, folder: Path):
        self._playwright, self._folder, self.process, self.page = playwright, folder, None, None

    def start(self, address: str):
        port = a_free_port()
        program = os.environ.get("CHROMIUM", "/usr/bin/chromium")
        told = [f"--user-data-dir={self._folder}", f"--remote-debugging-port={port}", "about:blank"]
        self.process = subprocess.Popen(
            [program, *QUIET, *told],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        for _ in range(200):
            with contextlib.suppress(Exception):  # it is not there yet
                self._browser = self._playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
                break
            time.sleep(0.1)
        self.context = self._browser.contexts[0]
        self.context.set_default_timeout(60_000)
        self.open(address)

    def open(self, address: str):
        for page in self.context.pages[1:]:
            with contextlib.suppress(Exception):  # a page that crashed
                page.close()
        self.page = self.context.new_page()
        self.page.goto(f"{address}/pit/?vehicle=Nettle")
        self.begin()

    def begin(self):
        self.page.wait_for_selector("body[data-ready]")
        if self.page.locator("#setup-box[open]").count():
            self.page.fill("#observer", "A. Reader")
            self.page.fill("#odometer", "9100")
            self.page.click("#begin")
            self.page.wait_for_selector("#setup-box", state="hidden")

    def quota(self, address, size):
        line = self.context.new_cdp_session(self.page)
        more = {} if size is None else {"quotaSize": size}
        line.send("Storage.overrideQuotaForOrigin", {"origin": address, **more})

    def kill(self):
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(20)
        (self._folder / "SingletonLock").unlink(missing_ok=True)


class Sitting:
    """Readings typed one after the other while things are killed."""

    def __init__(self, server, browser, seed):
        self.server, self.browser, self.drawn = server, browser, random.Random(seed)
        self.kept, self.perhaps, self.cut_short = [], [], {True: 0, False: 0}

    def read(self, after, tap=None):
        """Type a reading and look, so long after it, whether the page has said that it is kept.

        The tap comes at once, or `tap` seconds later by itself.
        """
        page = self.browser.page
        hollow = "hollow" in page.inner_text("#what")
        low, high = (
            (2_000_000, 2_999_999) if hollow else (650_000, 899_999)
        )  # what fits, so that one walks on
        text = f"0.{self.drawn.randint(low, high):07d}"
        for _ in range(40):  # what a reload left half typed
            if page.inner_text("#typed") == "":
                break
            page.keyboard.press("Backspace")
        page.keyboard.type(text)
        self.perhaps.append(text)
        if tap is None:
            page.click("#keep")
        else:
            page.evaluate(TAP, 1000 * tap)
        time.sleep(after)
        said = page.inner_text("#says")
        is_kept = bool(re.search(rf"{re.escape(text)}\. Kept", said))
        if is_kept:
            self.kept.append(text)
        return is_kept

    def read_and_lose(self, after):
        """As `read`, before the page itself is killed: the tap may not have been made by then."""
        self.cut_short[self.read(after, self.drawn.uniform(0.0, 2 * LONGEST_S))] += 1

    def kill(self, kind):
        getattr(self, f"_{kind}")(self.drawn.uniform(0.0, LONGEST_S))

    def _reload(self, after):
        self.read_and_lose(after)
        self.browser.page.reload()
        self.browser.begin()

    def _crash(self, after):
        self.read_and_lose(after)
        with contextlib.suppress(Exception):  # the page is gone: that is what it says
            self.browser.page.goto("chrome://crash", timeout=5_000)
        self.browser.open(self.server.address)

    def _offline(self, after):
        self.browser.context.set_offline(True)
        self.read(after)
        self.read(0.3)
        self.browser.page.reload()
        self.browser.begin()
        self.browser.context.set_offline(False)

    def _full(self, after):
        page = self.browser.page
        used = page.evaluate("async () => (await navigator.storage.estimate()).usage")
        self.browser.quota(self.server.address, used + self.drawn.choice([0, 500, 20_000]))
        self.read(after + 0.2)
        self.browser.quota(self.server.address, None)
        page.reload()
        self.browser.begin()

    def _browser(self, after):
        self.read_and_lose(after)
        self.browser.kill()
        self.browser.start(self.server.address)

    def _server(self, after):
        self.read(after)
        self.server.kill()
        self.read(0.3)
        self.server.start()


def arrived(store):
    """Texts of the sitting in the store, as often as they are there: accepted, and held back."""
    stored = store.read("readings")
    accepted = stored.loc[stored["client_id"] != "", "value_text"].tolist()
    return accepted, [json.loads(raw).get("value", "") for raw in store.held()["raw"]]


@pytest.mark.parametrize("kills", [10, pytest.param(300, marks=pytest.mark.long)])
def test_what_the_page_kept_is_stored_once_whatever_is_killed(made_store, tmp_path, chromium, kills):
    db = tmp_path / "kills.duckdb"
    shutil.copy(made_store, db)
    server = Server(db)
    browser = Browser(_playwright_of(chromium), tmp_path / "profile")
    sitting = Sitting(server, browser, seed=kills)
    order = [kind for kind, often in KINDS.items() for _ in range(often)]
    sitting.drawn.shuffle(order)
    if kills < len(order):
        order = [*KINDS, *order][:kills]
    counts = dict.fromkeys(KINDS, 0)
    try:
        server.start()
        browser.start(server.address)
        for number in range(kills):
            kind = order[number % len(order)]
            counts[kind] += 1
            sitting.kill(kind)
        browser.page.reload()
        browser.begin()
        browser.page.wait_for_function(
            "() => document.getElementById('sent').textContent.startsWith('All sent')",
            timeout=60_000 + 1_000 * kills,  # of each place dozens wait by then, and are looked at once more
        )
        left = browser.page.evaluate(KEPT)
    finally:
        browser.kill()
        server.kill()
    accepted, held = arrived(Store(db))
    found = accepted + held
    told = (
        f"{len(sitting.perhaps)} typed, {len(sitting.kept)} kept, {sitting.cut_short} before a page was lost"
    )
    print(f"{counts}; {told}, {len(accepted)} accepted, {len(held)} held")
    assert [text for text in sitting.kept if found.count(text) != 1] == []
    assert len(found) == len(set(found))
    assert set(found) <= set(sitting.perhaps)
    assert left == len(found)
    assert min(len(accepted), len(held)) > kills / 20  # both ways of the server were gone
    assert len(sitting.kept) > kills / 4
    # Six kills in ten take the page, most of them before or after the keeping by more than it lasts.
    assert kills < 100 or min(sitting.cut_short.values()) > kills / 20, sitting.cut_short


def _playwright_of(browser):
    """The one Playwright of this process; a second cannot be started beside it."""

    class Held:
        chromium = browser.browser_type

    return Held
