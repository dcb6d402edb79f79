"""The page of an opening behind the gate: pictures, papers and what is handed in there, for each role."""

import io
import re
from datetime import date

import pytest
from hostile.test_hostile_uploads import picture_bomb
from PIL import Image

from dashboard.shop.entries import store_finding
from dashboard.shop.openings import begin, find_opening, openings_of
from dashboard.shop.photos import check_photo
from ingest.store import Store

FINDINGS = "opening=W2&part=findings"
KEEP = "Keep this finding"
HOSTILE = {
    "bomb.png": picture_bomb(),
    "page.png": b"<html><script>alert(1)</script>" * 100,
    "drawing.jpg": b"<svg xmlns='http://www.w3.org/2000/svg'><image href='http://192.0.2.1/a'/></svg>",
    "cut.jpg": b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00\xff\xc0\x00\x11\x08",
    "\u202egpj.exe.png": b"MZ" + bytes(5_000),
}


def drawn():
    made = io.BytesIO()
    Image.new("RGB", (40, 30), (120, 30, 30)).save(made, "PNG")
    return made.getvalue()


@pytest.fixture(scope="module")
def shop(guarded):
    """The store of the server, in which an engine was opened and a crack found, with a picture."""
    store = Store(guarded.folder / "demo.duckdb")
    begin(store, "Nettle", date(2023, 10, 20), name="W2")
    row = {"component": "crosshead", "position": "left", "defect": "crack", "date": date(2023, 10, 21)}
    store_finding(store, find_opening(openings_of(store), "W2"), row, check_photo(drawn(), "a.png"))
    return store


def test_a_picture_of_a_finding_is_shown_to_who_may_look_and_to_nobody_else(guarded, shop):
    friend = guarded.visitor("friend")
    with friend.socket() as page:
        page.run(page="opening", query=FINDINGS)
        assert page.shows("crack")
        (picture,) = set(re.findall(rb"/media/[0-9a-f]+\.(?:jpg|jpeg)", page.content))
        path = picture.decode()
        for who, status in ((None, 403), ("stranger", 403), ("friend", 200), ("fitter", 200)):
            answer = guarded.visitor(who).get(path)
            assert answer.status_code == status, who
            assert (answer.content[:2] == b"\xff\xd8") == (status == 200)
        assert answer.headers["content-type"] == "image/jpeg"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert guarded.visitor("friend").get(path, origin="https://evil.example").status_code == 403


def test_papers_are_made_for_who_may_look_and_not_for_the_door(guarded, shop):
    with guarded.visitor("friend").socket() as page:
        page.run(page="opening", query="opening=W2&part=papers")
        path = page.download("XLSX")
        assert guarded.visitor().get(path).status_code == 403
        assert guarded.visitor("friend").get(path).content.startswith(b"PK")
    with guarded.visitor().socket() as page:
        page.run(page="opening", query="opening=W2&part=papers")
        assert page.files == {}
        assert not page.shows("Nettle")


def test_who_may_not_add_keeps_no_finding(guarded, shop):
    before = len(shop.read("defects"))
    with guarded.visitor("fitter").socket() as page:
        page.run(page="opening", query=FINDINGS)
        button = page.buttons[KEEP]
    with guarded.visitor("friend").socket() as page:
        page.run(page="opening", query=FINDINGS)
        assert KEEP not in page.buttons
        assert page.uploaders == {}
        assert guarded.visitor("friend").put(page.session, drawn(), name="a.png").status_code == 403
        page.buttons[KEEP] = button  # as the page of another has it
        page.press(KEEP)
        page.read()
    assert len(shop.read("defects")) == before


@pytest.mark.parametrize("name", HOSTILE)
def test_a_picture_made_to_do_harm_ends_in_words_and_nothing_is_kept(guarded, shop, name):
    before = shop.version()
    fitter = guarded.visitor("fitter")
    with fitter.socket() as page:
        page.run(page="opening", query=FINDINGS)
        assert fitter.put(page.session, HOSTILE[name], name="a.png", file="mark").status_code == 204
        page.press(KEEP, Picture=[("mark", name, len(HOSTILE[name]))])
        page.read()
        assert b"Traceback" not in page.content
        assert page.shows("Picture")
        assert page.shows("pixels") or page.shows("cannot be drawn")
    assert shop.version() == before
