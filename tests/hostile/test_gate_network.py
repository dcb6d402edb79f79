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
from websockets.exceptions import InvalidStatus

from dashboard.cli import COMMANDS

COMMANDS_TRIED = [
    ["forecast", "--out", "{folder}/f.csv"],
    ["checks"],
    ["clocks", "--vehicle", "Quillon"],
    ["tires", "--vehicle", "Quillon"],
    ["held"],
    ["undo"],
    ["limits", "us-cfr-230", "--component", "tire"],
    ["new-vehicle", "--vehicle", "T", "--arrangement", "2-6-0", "--out", "{folder}/t.xlsx"],
    ["layout", "{sheets}/vehicles.csv"],
    ["export", "{folder}/everything"],
    ["backup", "{folder}/b.milesleft"],
    ["restore", "{folder}/b.milesleft", "--replace"],
    ["add", "{sheets}/vehicles.csv"],
    ["share", "--out", "{folder}/s.json", "--name", "T"],
    ["learn-from", "{folder}/s.json"],
    ["brief", "--out", "{folder}/c.pdf", "--vehicle", "Quillon"],
    ["plan", "--vehicle", "Quillon"],
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
def test_no_command_asks_the_network_below_python_either(demo_store, tmp_path):
    """Libraries that are no Python, too: strace sees every process."""
    assert shutil.which("strace"), "apt install strace"
    db, log = tmp_path / "demo.duckdb", tmp_path / "strace.log"
    shutil.copy(demo_store, db)
    trace = ["strace", "-f", "-qq", "-e", "trace=connect,sendto", "-e", "signal=none", "-o", str(log)]
    environment = {**os.environ, "MILESLEFT_DB": str(db)}
    for words in COMMANDS_TRIED:
        told = [word.format(folder=tmp_path, sheets=ROOT / "data_demo" / "railway") for word in words]
        call = [*trace, sys.executable, "-m", "dashboard.cli", *told]
        done = subprocess.run(call, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=600)
        assert done.returncode in (0, 1), done.stderr
        assert [line for line in log.read_text().splitlines() if "sa_family=AF_INET" in line] == [], words
