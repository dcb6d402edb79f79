"""A kind of reader that does what hostile bytes might make one do, in a real process of its own."""

import os
import re
import socket
import time

from ingest.apart.wire import Message
from ingest.errors import UnreadableFile


def prepare(need):
    pass


def answer(question, content):
    return DO[bytes(content).decode()]()


def abort():
    os.abort()


def loop():
    while True:
        pass


def wait():
    began = time.monotonic()
    time.sleep(1.5)
    return Message({"waited": time.monotonic() - began})


def hold_the_interpreter():
    re.fullmatch(r"(?:a|a)*b", "a" * 60)


def take_memory():
    taken = []
    while True:
        taken.append(bytes(500_000_000))


def answer_too_much():
    piece = bytes(1_000_000_000)
    return Message({}, [piece] * 4)


def write_into_the_answer():
    for number in range(3, 40):
        try:
            os.write(number, b"\x80\x04cposix\nsystem\n(S'true'\ntR." * 20)
        except OSError:
            continue
    os._exit(0)


def look_around():
    found = {"environment": dict(os.environ), "folder": os.getcwd(), "pid": os.getpid()}
    for name, way_out in WAYS_OUT.items():
        try:
            way_out()
        except OSError as error:
            found[name] = type(error).__name__
        else:
            found[name] = "open"
    return Message(found)


WAYS_OUT = {
    "read": lambda: os.open("/etc/hostname", os.O_RDONLY),
    "write": lambda: os.open("/tmp/written-by-a-reader", os.O_WRONLY | os.O_CREAT),
    "network": lambda: socket.socket(),
    "pipe": os.pipe,
}

DO = {
    "abort": abort,
    "loop": loop,
    "hold": hold_the_interpreter,
    "memory": take_memory,
    "large": answer_too_much,
    "garbage": write_into_the_answer,
    "look": look_around,
    "refuse": lambda: (_ for _ in ()).throw(UnreadableFile("\x1b[2J no table")),
    "fault": lambda: 1 // 0,
    "nothing": lambda: None,
    "sleep": lambda: time.sleep(60),
    "wait": wait,
}
