"""A kind of reader that makes files and tries to get at what it was not given, as one taken over would."""

import _thread
import os
import resource
import socket
from pathlib import Path

from ingest.apart.wire import Message

WRITES = True


def prepare(need):
    pass


def answer(question, content):
    """What each way out answered: the name of the error, or "open"."""
    given, port, asks = question["reads"][0], question["port"], question["asks"]
    ways = {
        "given": lambda: Path(given).read_bytes(),
        "own folder": lambda: Path("made").write_text("made"),
        "given, written": lambda: os.open(given, os.O_WRONLY),
        "beside the given": lambda: Path(given).with_name("beside").read_bytes(),
        "system": lambda: Path("/etc/passwd").read_bytes(),
        "above": lambda: Path("..", "written").write_text("x"),
        "list": lambda: os.listdir("/"),
        "link": lambda: os.symlink("/etc/passwd", "link"),
        "tcp": lambda: socket.create_connection(("127.0.0.1", port), 1).close(),
        "udp": lambda: socket.socket(socket.AF_INET, socket.SOCK_DGRAM).sendto(b"x", ("127.0.0.1", port)),
        "signal": lambda: os.kill(asks, 0),
        "its limits": lambda: resource.prlimit(asks, resource.RLIMIT_CORE),
        "process": fork,
        "thread": lambda: _thread.start_new_thread(lambda: None, ()),
        "program": lambda: os.posix_spawn("/bin/true", ["true"], {}),
        "more files": lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (10_000, 10_000)),
    }
    return Message({name: _tried(way) for name, way in ways.items()})


def fork():
    """A process of its own would live on when this one is ended."""
    child = os.fork()
    if not child:
        os._exit(0)
    os.waitpid(child, 0)


def _tried(way):
    try:
        way()
    except (OSError, ValueError) as error:
        return type(error).__name__
    return "open"
