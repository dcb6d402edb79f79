"""The look before storing: questions with ids, rows that wait together, answers that are remembered."""

import pytest

from ingest.verdicts.corrections import retry

HEAD = "point,date,value\n"
UNCLEAR = HEAD + "HOLLOW,03/04/2001,0.1\nHOLLOW,05/06/2001,0.11\n"


def test_a_look_stores_nothing_and_shows_worst_first(milesleft, sheet, known, store):
    before = store.version()
    look = milesleft(
        "add", sheet(HEAD + "HOLLOW,2001-02-01,0.1\nHOLLOW,03/04/2001,0.1\n"), "--look", "--json"
    )
    assert [row["state"] for row in look["rows"]] == ["asked about", "accepted"]
    assert look["rows"][1]["read"]["value"] == 0.1
    assert look["rows"][1]["read"]["date"] == "2001-02-01"
    assert look["rows"][1]["written"] == {"point": "HOLLOW", "date": "2001-02-01", "value": "0.1"}
    assert store.version() == before
    assert store.read("readings").empty


def test_a_look_makes_no_store(milesleft, sheet, store):
    milesleft("add", sheet(UNCLEAR), "--look")
    assert not store.path.exists()


def test_a_question_shows_its_readings_and_waits_under_one_reason(milesleft, sheet, known):
    path = sheet(UNCLEAR)
    (question,) = milesleft("add", path, "--look", "--json")["questions"]
    assert question["answers"] == ["dmy", "mdy"]
    assert question["about"] == {
        "file": "sheet.csv",
        "sheet": "",
        "table": "readings",
        "column": "date",
        "rows": [2, 3],
        "n_rows": 2,
    }
    reads = {(r["written"], r["answer"]): r["reads"] for r in question["readings"]}
    assert reads["03/04/2001", "dmy"] == "2001-04-03"
    assert reads["03/04/2001", "mdy"] == "2001-03-04"
    held = milesleft("add", path, "--json")["held_back_rows"]
    assert len({row["reasons"] for row in held}) == 1
    assert question["id"] in held[0]["reasons"]


def test_an_answer_stores_the_rows_and_is_asked_once(milesleft, sheet, known, store):
    path = sheet(UNCLEAR)
    (question,) = milesleft("add", path, "--look", "--json")["questions"]
    milesleft("add", path)
    report = milesleft("add", path, "--answer", f"{question['id']}=mdy", "--json")
    assert (report["accepted"], report["held_back"], report["questions"]) == (2, 0, [])
    assert store.read("readings")["date"].dt.strftime("%m-%d").tolist() == ["03-04", "05-06"]
    assert (store.held()["outcome"] == "released").all()
    other = sheet(HEAD + "HOLLOW,07/08/2001,0.1\n", "next_winter.csv")
    assert milesleft("add", other, "--json")["accepted"] == 1
    assert store.read("readings")["date"].max().month == 7


def test_rows_that_wait_are_solved_when_the_answer_is_given(milesleft, sheet, known, store):
    path = sheet(UNCLEAR)
    (question,) = milesleft("add", path, "--json")["questions"]
    assert retry(store, answers={question["id"]: "dmy"}) == (2, 0)
    assert store.read("readings")["date"].dt.month.tolist() == [4, 6]


def test_ids_stay_whatever_the_file_is_called(milesleft, sheet, known):
    ids = {
        milesleft("add", sheet(UNCLEAR, name), "--look", "--json")["questions"][0]["id"]
        for name in ("a.csv", "b.csv", "a.csv")
    }
    assert len(ids) == 1


def test_one_date_proves_the_order_of_its_sheet(milesleft, sheet, known, store):
    look = milesleft("add", sheet(UNCLEAR + "HOLLOW,25/12/2001,0.12\n"), "--look", "--json")
    assert look["questions"] == []
    assert sorted(row["read"]["date"] for row in look["rows"]) == ["2001-04-03", "2001-06-05", "2001-12-25"]


@pytest.mark.parametrize("answer", ["nothing=dmy", "{id}=noon"])
def test_an_answer_that_nobody_asked_for_is_refused(milesleft, sheet, known, store, answer):
    path = sheet(UNCLEAR)
    (question,) = milesleft("add", path, "--look", "--json")["questions"]
    version = store.version()
    said = milesleft("add", path, "--answer", answer.format(id=question["id"]), ends=2)
    assert question["id"] in said
    assert store.version() == version
