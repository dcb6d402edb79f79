"""Servers for tests: ``milesleft serve`` in a process of its own."""

import os
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager
from pathlib import Path

from knocking.watched import Watch

ROOT = Path(__file__).parents[2]


def a_free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@contextmanager
def serving(db: Path, *options: str, port: int | None = None, base: str = ""):
    """``milesleft serve`` in a process of its own; yields its address, stops it at the end.

    The network is watched meanwhile: it may ask no other machine.
    """
    port = port or a_free_port()
    log = db.with_name(f"serve-{port}.log")
    command = [sys.executable, "-m", "dashboard.cli", "serve", "--db", str(db), "--port", str(port), *options]
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("MILESLEFT_", "STREAMLIT_"))}
    watch = Watch(db.with_name(f"watch-{port}"))
    environment |= watch.environment
    with (
        log.open("w") as out,
        subprocess.Popen(command, cwd=ROOT, stdout=out, stderr=out, env=environment) as server,
    ):
        try:
            wait_for(f"http://127.0.0.1:{port}{base}/health", server, log)
            yield f"http://127.0.0.1:{port}{base}"
        finally:
            server.terminate()
            server.wait(20)
    assert server.returncode == 0, log.read_text()
    assert watch.outside() == []


def wait_for(address: str, server: subprocess.Popen, log: Path) -> None:
    """Wait until a server answers."""
    for _ in range(900):  # three minutes: a machine with much else to do starts slowly
        assert server.poll() is None, log.read_text()
        try:
            with urllib.request.urlopen(address, timeout=2) as answer:
                if answer.status == 200:
                    return
        except OSError:
            time.sleep(0.2)
    raise AssertionError(f"the server did not answer:\n{log.read_text()}")
