"""What a reader that was taken over answers: nothing of it gets further than a sound answer would."""

import io
import json

import pytest
from hostile import made_files as made
from PIL import Image

from dashboard.papers import brief_logo
from dashboard.services import sharing
from dashboard.shop import photos
from ingest.errors import UserError
from ingest.sheets import readers
from ingest.sheets.contents import Contents, as_message, texts_of

LYING = "hostile.lying"


def lie(header, pieces=()):
    return json.dumps({"header": header, "pieces": [bytes(piece).hex() for piece in pieces]}).encode()


def drawn(size=(40, 30), kind="JPEG", **more):
    made_of = io.BytesIO()
    Image.new("RGB", size, (9, 90, 200)).save(made_of, kind, **more)
    return made_of.getvalue()


SOUND = drawn()
NOTED = drawn(exif=b"Exif\0\0MM\0*\0\0\0\x08\0\0\0\0\0\0")
MIME = {"mime": "image/jpeg"}
PICTURES = {
    "no picture": [],
    "two pictures": [SOUND, SOUND],
    "a PNG": [drawn(kind="PNG")],
    "a page": [b"<script>fetch('http://192.0.2.1')</script>"],
    "what the camera noted": [NOTED],
    "words inside": [SOUND[:2] + b"\xff\xfe\x00\x06here" + SOUND[2:]],
    "something behind": [SOUND + b"<script>\xff\xd9"],
    "too large a side": [drawn((1_601, 3))],
    "a size that is none": [SOUND.replace(b"\x00\x1e\x00\x28", b"\x00\x00\x00\x28")],
    "cut": [SOUND[:-30]],
    "nothing but ends": [b"\xff\xd8\xff\xd9"],
    "a progressive one": [drawn(progressive=True)],
    "far too many bytes": [bytes(10_000_001)],
}


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_that_is_none_of_ours_is_not_kept(monkeypatch, name):
    monkeypatch.setattr(photos, "KIND", LYING)
    with pytest.raises(UserError, match=r"a\.png"):
        photos.check_photo(lie(MIME, PICTURES[name]), "a.png")


def test_a_picture_as_we_draw_it_is_kept(monkeypatch):
    for each in (SOUND, drawn((1_600, 1_600)), drawn(quality=85)):
        assert photos.check_photo(drawn(kind="PNG"), "a.png").content.startswith(b"\xff\xd8")
        monkeypatch.setattr(photos, "KIND", LYING)
        assert photos.check_photo(lie(MIME, [each]), "a.png").content == each
        monkeypatch.undo()


def test_nobody_vouches_for_a_signature_that_does_not_hold(monkeypatch, tmp_path):
    body = json.loads(made.shared())
    signature = body.pop("signature")
    monkeypatch.setattr(sharing, "KIND", LYING)
    file = tmp_path / "shared.json"
    for changed, signed in (
        ({**body, "railway": "East Valley"}, signature),
        ({**body, "public_key": "AAAA"}, signature),
        (body, ""),
        (body, 3),
        ([body], signature),
    ):
        file.write_bytes(
            lie({"body": changed, "signature": signed, "fingerprint": "0f3a1-9c2de-77b04-51c8e"})
        )
        with pytest.raises(UserError, match="cannot be read"):
            sharing.read_shared(file)
    file.write_bytes(lie({"body": body, "signature": signature, "fingerprint": "a lie"}))
    assert sharing.read_shared(file).fingerprint != "a lie"


def sheet(**changes):
    told = as_message([Contents([texts_of(["point", "P"]), texts_of(["date", "2001-05-01"])], 2, "S")])
    return lie({"sheets": [{**told.header["sheets"][0], **changes}]}, told.pieces)


SHEETS = {
    "rows without end": sheet(n_rows=2**62),
    "fewer pieces": sheet(n_columns=3),
    "no rows": sheet(n_rows="many"),
    "problems that are none": sheet(problems=[[1]]),
    "areas that are none": sheet(merged=[["a", 1, 2, 3]]),
    "no sheet": lie({"sheets": [3]}),
    "no sheets": lie({"sheets": None}),
    "nothing": lie({}),
    "a zone for ever": lie({"zone": "Europe/Berlin"}),
    "a zone elsewhere": lie({"zone": "../../etc/passwd"}),
    "depth": lie({"sheets": json.loads("[" * 500 + "]" * 500)}),
}


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_that_is_none_ends_one_file(monkeypatch, tmp_path, name):
    monkeypatch.setattr(readers, "KIND", LYING)
    (tmp_path / "a.csv").write_bytes(SHEETS[name])
    with pytest.raises(UserError, match=r"a\.csv"):
        readers.read_cells(tmp_path / "a.csv")


def test_cells_and_names_of_sheets_are_made_visible_by_who_asked(monkeypatch, tmp_path):
    monkeypatch.setattr(readers, "KIND", LYING)
    said = as_message([Contents([texts_of(["point", "P\x1b[2J"])], 2, "S", harmless=True)])
    about = {**said.header["sheets"][0], "sheet": "\x1b]0;x\x07", "problems": [[1, "\u202ewhy"]]}
    (tmp_path / "a.csv").write_bytes(lie({"sheets": [about]}, said.pieces))
    (cells,) = readers.read_cells(tmp_path / "a.csv")
    said = f"{cells.sheet}{cells.problems}{cells.cells.to_numpy().tolist()}"
    assert not set(said) & set("\x1b\x07\u202e")
    assert list(cells.problems) == [1, 2]


@pytest.mark.parametrize("mime", ["text/html", "image/svg+xml; x", None, ["image/png"], {"a": 1}])
def test_a_logo_of_no_kind_that_is_drawn(monkeypatch, mime):
    monkeypatch.setattr(brief_logo, "KIND", LYING)
    with pytest.raises(UserError, match="logo"):
        brief_logo.check_logo(lie({"mime": mime}), "logo.png")


def test_a_refusal_is_short_and_harmless(monkeypatch, tmp_path):
    monkeypatch.setattr(readers, "KIND", LYING)
    (tmp_path / "a.csv").write_bytes(lie({"refused": "\x1b[2J" * 100_000, "problem": "SystemExit"}))
    with pytest.raises(UserError) as refused:
        readers.read_cells(tmp_path / "a.csv")
    assert "\x1b" not in str(refused.value)
    assert len(str(refused.value)) < 20_000
