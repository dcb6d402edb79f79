"""What a Python process and all that it starts ask of the network, by a hook that cannot be undone."""

import json
import os
from pathlib import Path

HOOK = """
import json, os, sys, threading

def _seen(event, arguments):
    if event not in ("socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.sendto"):
        return
    told = arguments[1] if event in ("socket.connect", "socket.sendto") else arguments[:2]
    line = json.dumps([event, repr(told), threading.current_thread() is threading.main_thread()])
    os.write(_log, (line + "\\n").encode())

_log = os.open(os.environ["WATCHED_LOG"], os.O_WRONLY | os.O_APPEND | os.O_CREAT)
sys.addaudithook(_seen)
"""
OWN = ("('127.0.0.1'", "('::1'", "('localhost'", "'/", "b'/", "b'\\x00", "''")


def own(told: str) -> bool:
    """Whether an address is one of this machine."""
    return told.startswith(OWN)


class Watch:
    """Environment for processes that are watched, and what they asked."""

    def __init__(self, folder: Path):
        folder.mkdir(exist_ok=True)
        (folder / "sitecustomize.py").write_text(HOOK)
        self.log = folder / "asked.log"
        self.log.touch()
        known = os.environ.get("PYTHONPATH", "")
        path = f"{folder}{os.pathsep}{known}" if known else str(folder)
        self.environment = {"PYTHONPATH": path, "WATCHED_LOG": str(self.log)}

    def asked(self):
        """All that was asked: event, whom, whether on the main thread."""
        return [json.loads(line) for line in self.log.read_text().splitlines()]

    def outside(self):
        """What went to another machine."""
        return [each for each in self.asked() if not own(each[1])]
