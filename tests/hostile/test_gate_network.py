"""No outside address is asked but the provider that the roles file names.

Every server of every test is watched (``knocking.servers``), and so is each test (``tests/conftest.py``): all
pages and all commands.
"""

import os
import shutil
import subprocess
import sys

import pytest
from knocking.servers import ROOT
from knocking.visitor import Visitor
from knocking.watched import Watch
from pages.small_railway import small_railway
from pages.writers import FILES, FOUND, LAYOUT, LINE, PICTURE
from websockets.exceptions import InvalidStatus

from dashboard.cli import COMMANDS

COMMANDS_TRIED = [
    ["forecast", "--out", "{folder}/f.csv"],
    ["checks"],
    ["clocks", "--vehicle", "Nettle"],
    ["tires", "--vehicle", "Nettle"],
    ["parts"],
    ["held"],
    ["undo"],
    ["held", "retry"],
    ["held", "dismiss", "--like", "1", "--reason", "no figure"],
    ["correct", "--gauge", "none", "--read-high", "0.1 mm"],
    ["correct", "--vehicle", "Nettle", "--set", "note=seen", "--store", "--reason", "asked"],
    ["opening", "begin", "Nettle", "--from", "2026-11-01", "--name", "W9"],
    ["opening", "show", "W9"],
    ["opening", "found", "W9", *FOUND, "--picture", "{folder}/a.png"],
    ["opening", "line", "W9", *LINE],
    ["opening", "event", "Nettle", "--what", "hot bearing", "--on", "2026-11-02"],
    ["opening", "papers", "W9", "--what", "contractor", "--out", "{folder}/o.pdf"],
    ["opening", "papers", "W9", "--what", "orders", "--out", "{folder}/o.xlsx"],
    ["opening", "close", "W9", "--until", "2026-12-01"],
    ["limits", "us-cfr-230", "--component", "tire"],
    ["new-vehicle", "--vehicle", "T", "--arrangement", "2-6-0", "--out", "{folder}/t.xlsx"],
    ["layout", "{folder}/files/vehicles.csv"],
    ["export", "{folder}/everything"],
    ["backup", "{folder}/b.milesleft"],
    ["restore", "{folder}/b.milesleft", "--replace"],
    ["add", "{folder}/files/vehicles.csv"],
    ["add", "--look", "{folder}/files/vehicles.csv"],
    ["add", "{folder}/book.csv", "--layout", "{folder}/book.toml"],
    ["share", "--out", "{folder}/s.json", "--name", "T"],
    ["learn-from", "{folder}/s.json"],
    ["brief", "--out", "{folder}/c.pdf", "--vehicle", "Nettle"],
    ["plan", "--vehicle", "Nettle", "--name", "next", "--board", "{folder}/b.pdf"],
    ["plan", "--list"],
    ["plan", "--approve", "next"],
    ["measure-first", "--minutes", "30"],
    ["score", "--quick"],
    ["demo", "--no-serve"],
]


def test_the_watch_sees_what_asks(tmp_path):
    watch = Watch(tmp_path)
    code = "import socket as s\ntry: s.create_connection(('192.0.2.1', 9), 0.01)\nexcept OSError: pass"
    subprocess.run([sys.executable, "-c", code], env={**os.environ, **watch.environment}, check=True)
    assert {each[0] for each in watch.outside()} == {"socket.getaddrinfo", "socket.connect"}


def test_a_foreign_page_makes_the_server_ask_nobody(guarded, unguarded):
    for origin in ("http://evil.example", "https://127.0.0.1:9", "http://10.0.0.1"):
        for visitor in (guarded.visitor("officer"), Visitor(unguarded)):
            with pytest.raises(InvalidStatus), visitor.socket(origin=origin):
                pass
    assert guarded.watch.outside() == []  # of the other, when it stops


def test_signing_in_asks_the_provider_alone(guarded):
    """Its name is looked up away from the loop that serves everybody."""
    nobody = guarded.visitor()
    with nobody.socket() as page:
        page.run()
        page.press("Sign in")
        told = page.read("auth_redirect")
    nobody.get("/" + told.auth_redirect.url.lstrip("/"))
    asked = guarded.watch.asked()
    assert {each[1] for each in asked if each[0] == "socket.connect"} == {"('127.0.0.1', 9)"}
    assert guarded.watch.outside() == []
    assert not [each for each in asked if each[0] == "socket.getaddrinfo" and each[2]]


def test_every_command_is_watched_in_the_long_test():
    assert {words[0] for words in COMMANDS_TRIED} | {"serve"} == set(COMMANDS)


@pytest.mark.long
def test_no_command_asks_the_network_below_python_either(small_store, tmp_path):
    """Libraries that are no Python, too: strace sees every process."""
    assert shutil.which("strace"), "apt install strace"
    db, log = tmp_path / "s.duckdb", tmp_path / "strace.log"
    shutil.copy(small_store, db)
    small_railway(tmp_path / "files")
    (tmp_path / "a.png").write_bytes(PICTURE)
    (tmp_path / "book.csv").write_text(FILES["book"])
    (tmp_path / "book.toml").write_text(LAYOUT)
    trace = ["strace", "-f", "-qq", "-e", "trace=connect,sendto", "-e", "signal=none", "-o", str(log)]
    environment = {**os.environ, "MILESLEFT_DB": str(db)}
    for words in COMMANDS_TRIED:
        told = [word.format(folder=tmp_path) for word in words]
        call = [*trace, sys.executable, "-m", "dashboard.cli", *told]
        done = subprocess.run(call, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=600)
        assert done.returncode in (0, 1), done.stderr
        assert "Traceback" not in done.stderr, done.stderr
        assert [line for line in log.read_text().splitlines() if "sa_family=AF_INET" in line] == [], words
