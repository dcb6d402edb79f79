"""Entries that phones send: each is confirmed by its own number, none twice, conflicts are shown."""

import io
import json
from datetime import date

import pytest
from PIL import Image

from dashboard.pit.confirmed import take_in
from dashboard.pit.entries import entries_of
from dashboard.pit.pictures import take_in_picture
from ingest.errors import UnreadableFile, WrongUsage

TODAY = date(2023, 11, 1)
SAID = {"point": "N-D1L-HOLLOW", "date": "2023-10-20", "value": "0.18", "unit": "in", "observer": "A. R."}


def entry(number, kind="reading", **said):
    return {"id": f"client-{number:04d}", "kind": kind, **SAID, **said}


def sent(store, *entries, who="a phone"):
    body = json.dumps({"entries": entries}).encode()
    return take_in(store, entries_of(body, 500), who, TODAY)


def rows(store, table="readings"):
    return store.read(table).sort_values("row_id")


def test_a_reading_is_stored_with_its_own_number_and_sent_again_changes_nothing(pit_store):
    before, version = len(rows(pit_store)), pit_store.version()
    first = sent(pit_store, entry(1))
    assert [(each["id"], each["verdict"]) for each in first] == [("client-0001", "accepted")]
    stored = rows(pit_store).iloc[-1]
    assert (stored["client_id"], stored["value_text"], stored["observer"]) == ("client-0001", "0.18", "A. R.")
    again = sent(pit_store, entry(1), entry(2, point="N-D1R-HOLLOW", value="0.16"))
    assert [each["verdict"] for each in again] == ["already known", "accepted"]
    assert len(rows(pit_store)) == before + 2
    assert pit_store.version() == version + 2
    sent(pit_store, entry(1), entry(2, point="N-D1R-HOLLOW", value="0.16"))
    assert pit_store.version() == version + 2


def test_two_people_may_read_the_same_and_both_stand(pit_store):
    sent(pit_store, entry(1))
    told = sent(pit_store, entry(2, observer="B. S."))
    assert told[0]["verdict"] == "accepted"
    assert told[0]["others"] == ["0.18 in, read by A. R."]
    assert len(rows(pit_store)[lambda f: f["date"] == "2023-10-20"]) == 2


def test_a_conflict_is_shown_and_held_back_not_resolved(pit_store):
    sent(pit_store, entry(1))
    told = sent(pit_store, entry(2, value="0.29", observer="B. S."))[0]
    assert told["verdict"] == "held back"
    assert "another row of the same point and date says otherwise" in told["reasons"]
    assert told["others"] == ["0.18 in, read by A. R."]
    again = sent(pit_store, entry(2, value="0.29", observer="B. S."))[0]
    assert again["verdict"] == "already known"
    assert len(pit_store.held()) == 1


def test_a_number_used_for_something_else_is_refused_and_nothing_is_stored(pit_store):
    sent(pit_store, entry(1))
    version = pit_store.version()
    assert sent(pit_store, entry(1, value="0.19"))[0]["verdict"] == "refused"
    assert sent(pit_store, entry(1, point="N-D2L-HOLLOW"))[0]["verdict"] == "refused"
    assert pit_store.version() == version


def test_a_corrected_or_undone_reading_does_not_come_back(pit_store):
    from ingest.verdicts.undo import undo

    batch = sent(pit_store, entry(1))[0]["batch"]
    undo(pit_store, batch, "R. T.", "wrong wheel")
    count = len(rows(pit_store))
    assert sent(pit_store, entry(1))[0]["verdict"] == "already known"
    assert len(rows(pit_store)) == count


def test_a_comma_marks_decimals_at_the_engine(pit_store):
    assert sent(pit_store, entry(1, value="4,6 mm"))[0]["verdict"] == "accepted"
    assert rows(pit_store).iloc[-1]["value"] == pytest.approx(4.6)
    assert rows(pit_store).iloc[-1]["value_text"] == "4,6 mm"


def test_a_second_reading_of_the_same_person_stands_beside_the_first_without_a_question(pit_store):
    """The page asks to read again: that is no correction of a sheet."""
    for number, value in ((1, "0.18"), (2, "0.181")):
        assert sent(pit_store, entry(number, value=value))[0]["verdict"] == "accepted"
    assert rows(pit_store)["value_text"].tolist()[-2:] == ["0.18", "0.181"]


def test_a_reading_far_from_expected_is_to_be_read_again(pit_store):
    assert not sent(pit_store, entry(1, value="0.18"))[0]["again"]
    told = sent(pit_store, entry(2, point="N-XH-L", value="0.2"))[0]
    assert (told["verdict"], told["again"]) == ("accepted", True)


def test_what_cannot_be_right_is_held_back_with_its_reason(pit_store):
    told = sent(pit_store, entry(1, value="18"))[0]
    assert told["verdict"] == "held back"
    assert "far outside what this point can be" in told["reasons"]


def test_a_crack_becomes_a_finding_and_what_was_not_reached_is_on_record(pit_store):
    cracked = entry(1, "cracked", value="", note="at spoke 4")
    unreached = entry(2, "not reached", value="", note="ash pan in the way")
    told = sent(pit_store, cracked, unreached)
    assert [each["verdict"] for each in told] == ["accepted", "accepted"]
    defect = rows(pit_store, "defects").iloc[-1]
    assert (defect["vehicle"], defect["component"], defect["position"]) == (
        "Nettle",
        "driver tire",
        "driver 1 left",
    )
    assert (defect["defect"], defect["method"], defect["found_by"]) == ("looks cracked", "looked_at", "A. R.")
    event = rows(pit_store, "events").iloc[-1]
    assert (event["event"], event["point"]) == ("could not be reached to be read", "N-D1L-HOLLOW")
    assert [each["verdict"] for each in sent(pit_store, cracked, unreached)] == ["already known"] * 2


WRONG = {
    "no JSON": b"{",
    "no entries": b"{}",
    "an empty list": b'{"entries": []}',
    "a number in place of an entry": b'{"entries": [1]}',
    "no number of its own": json.dumps({"entries": [entry(1) | {"id": "x"}]}).encode(),
    "a number with quotes": json.dumps({"entries": [entry(1) | {"id": "a'; drop table --"}]}).encode(),
    "an unknown kind": json.dumps({"entries": [entry(1, "vote")]}).encode(),
    "a list for a text": json.dumps({"entries": [entry(1, value=["0.18"])]}).encode(),
    "no day": json.dumps({"entries": [entry(1, date="soon")]}).encode(),
    "no value": json.dumps({"entries": [entry(1, value=" ")]}).encode(),
    "a long note": json.dumps({"entries": [entry(1, note="x" * 1001)]}).encode(),
    "one number twice": json.dumps({"entries": [entry(1), entry(1)]}).encode(),
    "too many": json.dumps({"entries": [entry(i) for i in range(501)]}).encode(),
    "deep brackets": b"[" * 100_000,
}


@pytest.mark.parametrize("what", WRONG)
def test_what_is_no_message_is_refused_in_words(what):
    with pytest.raises(WrongUsage):
        entries_of(WRONG[what], 500)


def photo(**more):
    out = io.BytesIO()
    Image.new("RGB", (2400, 900), "#805030").save(out, "JPEG", **more)
    return out.getvalue()


ABOUT = {
    "id": "photo-0001",
    "point": "N-D1L-HOLLOW",
    "date": "2023-10-20",
    "observer": "A. R.",
    "note": "flat",
}


def test_a_photo_is_kept_once_small_and_bare(pit_store):
    exif = Image.Exif()
    exif[0x010F], exif[0x8825] = "Maker of phones", {1: "N", 2: (50.0, 1.0, 2.0)}
    content = photo(exif=exif)
    assert b"Maker of phones" in content
    told = take_in_picture(pit_store, content, ABOUT, "a phone", TODAY)
    assert told["verdict"] == "accepted"
    row = rows(pit_store, "pictures").iloc[-1]
    assert (row["point"], row["taken_by"], row["vehicle"]) == ("N-D1L-HOLLOW", "A. R.", "Nettle")
    kept = pit_store.picture(row["picture"])
    assert b"Maker" not in kept
    assert b"Exif" not in kept
    assert Image.open(io.BytesIO(kept)).size == (1600, 600)
    version = pit_store.version()
    assert take_in_picture(pit_store, content, ABOUT, "a phone", TODAY)["verdict"] == "already known"
    assert pit_store.version() == version


@pytest.mark.parametrize("content", [b"", b"\xff\xd8\xff broken", b"<svg/>", photo()[:400]])
def test_what_is_no_picture_is_refused_and_nothing_is_stored(pit_store, content):
    version = pit_store.version()
    with pytest.raises(UnreadableFile):
        take_in_picture(pit_store, content, ABOUT, "a phone", TODAY)
    assert pit_store.version() == version
