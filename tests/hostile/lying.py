"""A kind of reader that answers what the bytes tell it to: header and pieces, as one taken over might."""

import json

from ingest.apart.wire import Message


def prepare(need):
    pass


def answer(question, content):
    told = json.loads(bytes(content))
    return Message(told["header"], [bytes.fromhex(piece) for piece in told["pieces"]])
