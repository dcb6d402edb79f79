"""A kind of reader that answers for a backup with a store of its own making, as one taken over would."""

import json
import os
import zipfile
from pathlib import Path

import duckdb

from ingest.apart.wire import Message
from ingest.store import rebuild

WRITES = True
prepare = rebuild.prepare


def answer(question, content):
    """The store of the backup, and then what the backup's path says is done to it."""
    told = rebuild.answer(question, content)
    with zipfile.ZipFile(question["path"]) as archive:
        way = archive.comment.decode()
    if way in DO:
        DO[way]()
    elif way not in SAID:
        with duckdb.connect(rebuild.BUILT) as connection:
            connection.execute(way)
    return Message(SAID[way]) if way in SAID else told


def link():
    os.rename(rebuild.BUILT, "other.duckdb")
    os.symlink("other.duckdb", rebuild.BUILT)


def second_name():
    os.link(rebuild.BUILT, "other.duckdb")


def log_of_changes():
    Path(f"{rebuild.BUILT}.wal").write_bytes(b"x" * 100)


def folder():
    os.remove(rebuild.BUILT)
    os.mkdir(rebuild.BUILT)


def noise():
    Path(rebuild.BUILT).write_bytes(os.urandom(50_000))


def flipped():
    content = bytearray(Path(rebuild.BUILT).read_bytes())
    for place in range(12_288, len(content), 4_099):
        content[place] ^= 0xFF
    Path(rebuild.BUILT).write_bytes(content)


DO = {
    **{"link": link, "second name": second_name, "log": log_of_changes, "folder": folder},
    **{"noise": noise, "flipped": flipped, "gone": lambda: os.remove(rebuild.BUILT)},
}
SAID = {
    "words": {"about": json.loads("[" * 900 + "]" * 900)},
    "a fault of no machine": {"machine": 10**30},
    "a fault in words": {"machine": "\x1b[2J" * 1000},
    "nothing": {},
}
