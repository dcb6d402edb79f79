"""Files that want to do harm, handed in on the page of a server that others use meanwhile."""

import io
import struct
import threading
import time
import zipfile
import zlib

import pytest
from hostile import made_files as made
from knocking.visitor import Visitor

LONGEST = 0.25
"""Share of the time that reading takes within which the server tells others that it is well: one that is
held up by a file answers when that has been read. A busy machine makes both longer."""
WORDS = {
    "far.xlsx": "'far.xlsx' was not read: its reader broke down on it. Nothing of it was taken.",
    "heading.csv": "heading.csv is arranged",
    "bomb.xlsx": "times its size in 'xl/worksheets/sheet2.xml', as no sheet of measurements does",
    "picture.csv": "'picture.csv' is not a CSV file but a picture",
    "pictures.xlsx": "pictures.xlsx",
}
"""What is said of each file."""


class Pulse:
    """Asks the server again and again whether it is well, as a proxy does."""

    def __init__(self, address):
        self.slowest, self.wrong, self.asked, self.goes = 0.0, [], 0, True
        self.visitor = Visitor(address)
        self.thread = threading.Thread(target=self._ask)

    def __enter__(self):
        self.thread.start()
        return self

    def __exit__(self, *_):
        self.goes = False
        self.thread.join(30)

    def _ask(self):
        while self.goes:
            began = time.monotonic()
            try:
                answer = self.visitor.get("/_stcore/health")
                if answer.status_code != 200:
                    self.wrong.append(answer.status_code)
            except Exception as error:  # it must be seen in the thread that judges
                self.wrong.append(repr(error))
            self.slowest = max(self.slowest, time.monotonic() - began)
            self.asked += 1
            time.sleep(0.05)


def picture_bomb(side=20_000):
    """A PNG of under 100 kB that is 400 million pixels."""

    def chunk(kind, content):
        return (
            struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
        )

    head = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    rows = zlib.compress(bytes((side // 8 + 1) * side), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def zip_bomb(size=150_000_000):
    """A workbook of 150 kB with a sheet of 150 MB of zeros."""
    buffer = io.BytesIO(made.workbook())
    with zipfile.ZipFile(buffer, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet2.xml", bytes(size))
    return buffer.getvalue()


@pytest.fixture(scope="module")
def files():
    """What is handed in, by name; one sound file among them."""
    return {
        "far.xlsx": made.workbook(made.far_row()),
        "heading.csv": ("point,date," + "value [" * 4_000 + "\nN-D1L-HOLLOW,2023-10-01,0.18\n").encode(),
        "bomb.xlsx": zip_bomb(),
        "picture.csv": picture_bomb(),
        "pictures.xlsx": made.workbook(**{"xl/media/image1.png": picture_bomb()}),
        "sound.csv": b"point,date,value,unit\nN-D1L-HOLLOW,2023-10-01,0.18,in\n",
    }


def test_hostile_files_handed_in_on_a_page_end_in_words_and_nobody_waits(unguarded, files):
    visitor = Visitor(unguarded)
    with visitor.socket() as page, Pulse(unguarded) as pulse:
        page.run(page="batch")
        began = time.monotonic()
        for name, content in files.items():
            assert visitor.put(page.session, content, name=name, file=f"mark-{name}").status_code == 204
        chosen = {"Files": [(f"mark-{name}", name, len(content)) for name, content in files.items()]}
        page.choose(**chosen)
        page.press("Add these files", **chosen)
        page.read()
        said = page.content.decode("utf-8", "replace")
        page.read()  # once more, with the batch told above the button
        said = (said + page.content.decode("utf-8", "replace")).replace("\\", "")
        took = time.monotonic() - began
        page.run(page="batch", query="part=batches")  # the same page goes on
        assert page.shows("Undo the batch")
    print(f"health asked {pulse.asked} times, {pulse.slowest:.2f} s of {took:.2f} s at most")
    for name, words in WORDS.items():
        assert words in said, name
    assert "Traceback" not in said
    assert pulse.wrong == []
    assert pulse.asked > 10
    assert pulse.slowest < LONGEST * took
