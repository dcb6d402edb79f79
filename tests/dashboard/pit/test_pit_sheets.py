"""A printed sheet is found again by its code, whatever was printed, read or put on record since."""

import io
from datetime import date

import pytest
from pypdf import PdfReader

from dashboard.papers.round_sheet import code_of
from dashboard.pit.rounds import round_of
from dashboard.pit.sheets import kept, printed, sheet_of
from ingest.errors import NotPossible

TODAY = date(2023, 11, 1)


def test_a_sheet_of_what_is_due_leads_back_to_its_engine_and_its_lines(pit_store):
    told = round_of(pit_store, "Nettle", TODAY)
    due = [each["point"] for each in told["points"] if each["due"]]
    assert 0 < len(due) < len(told["points"])
    text = PdfReader(io.BytesIO(printed(pit_store, told, "due", "a4"))).pages[0].extract_text()
    assert "what is due" in text
    code = code_of(due)
    assert code in text
    found = sheet_of(pit_store, f" {code.lower()} ")
    assert found == {"code": code, "vehicle": "Nettle", "points": due}
    printed(pit_store, told, "all", "letter")
    assert sheet_of(pit_store, code) == found


def test_printing_again_keeps_nothing_new_and_changes_no_data(pit_store):
    version = pit_store.version()
    told = round_of(pit_store, "Nettle", TODAY)
    for _ in range(3):
        printed(pit_store, told, "all", "a4")
    assert len(pit_store.runs("round")) == 1
    assert pit_store.version() == version


def test_no_two_sheets_ever_have_one_code(pit_store):
    """Another sheet stands under the code already, as happens once in some millions."""
    pit_store.save_run("round", {"code": code_of(["a", "b"]), "vehicle": "Nettle", "points": ["c"]}, {})
    made = kept(pit_store, "Nettle", [["a", "b"]])
    assert made[0]["code"] != code_of(["a", "b"])
    assert sheet_of(pit_store, made[0]["code"])["points"] == ["a", "b"]
    assert kept(pit_store, "Nettle", [["a", "b"]]) == made


def test_a_code_that_is_none_and_a_round_of_nothing_are_said_plainly(pit_store):
    with pytest.raises(NotPossible, match="No sheet with the code 'QQQQQ' was printed here"):
        sheet_of(pit_store, "qqqqq")
    told = round_of(pit_store, "Nettle", TODAY)
    told["points"] = [each | {"due": ""} for each in told["points"]]
    with pytest.raises(NotPossible, match="Nothing is due"):
        printed(pit_store, told, "due", "a4")
