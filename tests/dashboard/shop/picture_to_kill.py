"""Keeps a picture with what it belongs to, and kills itself beside the first commit: ``DB WAY MOMENT``."""

import io
import os
import signal
import sys
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from PIL import Image

from dashboard.pit.pictures import take_in_picture
from dashboard.shop.entries import store_finding
from dashboard.shop.openings import find_opening, openings_of
from dashboard.shop.photos import check_photo
from ingest.store import Store
from ingest.store.opening import DatabaseFile

ON = date(2023, 11, 3)


def picture() -> bytes:
    """A file as a camera gives it."""
    made = io.BytesIO()
    Image.new("RGB", (40, 30), (120, 30, 30)).save(made, "PNG")
    return made.getvalue()


def finding(store: Store) -> None:
    """A crack found in an opening, with its picture."""
    row = {"component": "crosshead", "position": "left", "defect": "crack", "date": ON}
    photo = check_photo(picture(), "a.png")
    store_finding(store, find_opening(openings_of(store), "Nettle"), row, photo, who="R. T.")


def at_the_engine(store: Store) -> None:
    """A photo that a phone sends."""
    about = {"id": "3f0e8c1a-7d55-4b1e-9d0e-2a6b1c9f0e11", "point": "N-XH-L", "date": "2023-11-03"}
    about |= {"observer": "R. T.", "note": ""}
    told = take_in_picture(store, picture(), about, "a phone", ON)
    assert told["verdict"] == "accepted", told


def killed(moment: str) -> None:
    """From now on the process dies beside the first commit that it makes."""
    whole = DatabaseFile.writing

    @contextmanager
    def until_then(self):
        with whole(self) as connection:
            yield connection
            if moment == "before":
                os.kill(os.getpid(), signal.SIGKILL)
        if moment == "after":
            os.kill(os.getpid(), signal.SIGKILL)

    DatabaseFile.writing = until_then


if __name__ == "__main__":
    db, way, moment = sys.argv[1:]
    killed(moment)
    {"finding": finding, "at the engine": at_the_engine}[way](Store(Path(db)))
