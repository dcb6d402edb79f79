"""Many rows corrected alike: chosen, shown, stored as one batch, taken back."""

from datetime import date

import pytest

from ingest.errors import NotPossible, WrongUsage
from ingest.verdicts.correct_many import Change, Chosen, correct_many, propose
from ingest.verdicts.undo import batch_list, undo

READINGS = """point,date,value,unit,gauge,observer,note
HOLLOW,2001-02-01,0.104,in,G 7,J.D.,first
HOLLOW,2001-03-01,3/32,in,g7,J.D.,
HOLLOW,2001-04-01,2.5 mm,,G7,A.V.,
THICK,2001-03-01,3.4,in,G7,A.V.,
THICK,2001-03-05,86,mm,G8,A.V.,
LIFT,2001-03-01,10,%,G7,A.V.,
"""


@pytest.fixture
def gauged(known, add, store):
    """The basics and readings with two gauges."""
    report = add(earlier="vehicle,date,odometer,unit\n410,1999-01-01,5000,mi\n", readings=READINGS)
    assert report.count("accepted") == 7
    return store


def texts(store, column="value_text"):
    rows = store.read("readings").sort_values(["point", "date"])
    return dict(zip(rows["point"] + rows["date"].dt.strftime(" %m-%d"), rows[column], strict=True))


def test_a_gauge_read_high_by_its_certificate(gauged):
    chosen = Chosen(gauge="G7", vehicle="410", since=date(2001, 2, 15), until=date(2001, 4, 1))
    chosen = Chosen(**{**vars(chosen), "point": "HOLLOW"})
    proposed = propose(gauged, chosen, Change(read_high="4 thou"))
    assert proposed.rows[["before", "after"]].to_numpy().tolist() == [
        ["3/32 in", "0.08975 in"],
        ["2.5 mm", "2.3984 mm"],
    ]
    assert gauged.version() == 2
    batch, changed = correct_many(
        gauged,
        chosen,
        Change(read_high="4 thou"),
        reason="certificate 12 says it read 4 thou high",
        who="A. V.",
    )
    assert (batch, changed) == (3, 2)
    stored = gauged.read("readings").set_index(["point", "date"])["value"]
    assert stored["HOLLOW"].tolist() == pytest.approx([0.104 * 25.4, 0.08975 * 25.4, 2.3984])
    assert gauged.read("readings", version=2)["value_text"].tolist() != list(texts(gauged).values())
    origin = gauged.read("readings").query("batch == 3")
    assert origin["source_file"].tolist() == ["readings.csv"] * 2
    assert origin["source_row"].tolist() == [3, 4]
    undo(gauged, 3, why="the certificate was another gauge's")
    assert texts(gauged)["HOLLOW 03-01"] == "3/32"


def test_what_is_no_length_is_refused_and_nothing_changed(gauged):
    chosen, change = Chosen(gauge="G7"), Change(read_high="4 thou")
    proposed = propose(gauged, chosen, change)
    assert proposed.refused["point"].tolist() == ["LIFT"]
    with pytest.raises(NotPossible, match=r"1 of 5 rows cannot be corrected so.*row 7.*no length"):
        correct_many(gauged, chosen, change, reason="certificate")
    assert gauged.version() == 2


def test_a_reading_below_zero_is_told_as_a_doubt(gauged):
    proposed = propose(gauged, Chosen(point="HOLLOW", until=date(2001, 2, 1)), Change(read_high="1 in"))
    assert "negative" in proposed.rows["doubt"].iloc[0]
    assert proposed.rows["why_not"].iloc[0] == ""


def test_a_sheet_that_is_off_by_a_year(gauged):
    batch, changed = correct_many(
        gauged,
        Chosen(file="readings.csv", observer="j d"),
        Change(years=-1, days=1),
        reason="written in January",
    )
    assert changed == 2
    days = gauged.read("readings").query(f"batch == {batch}")["date"].dt.strftime("%Y-%m-%d")
    assert sorted(days) == ["2000-02-02", "2000-03-02"]


def test_values_written_in_another_unit(gauged):
    proposed = propose(gauged, Chosen(gauge="G7", point="HOLLOW"), Change(unit="mm"))
    why = dict(zip(proposed.rows["date"].dt.month, proposed.rows["why_not"], strict=True))
    assert why[2] == ""
    assert "names the unit itself" in why[4]
    correct_many(
        gauged, Chosen(point="HOLLOW", until=date(2001, 2, 1)), Change(unit="mm"), reason="a metric rule"
    )
    assert gauged.read("readings").query("point == 'HOLLOW'")["value"].iloc[0] == pytest.approx(0.104)


def test_text_put_in_and_mileage_moved(gauged):
    correct_many(gauged, Chosen(observer="J.D."), Change(cells={"observer": "J. Dale"}), reason="his name")
    assert gauged.read("readings")["observer"].tolist().count("J. Dale") == 2
    correct_many(
        gauged, Chosen("mileage", vehicle="410", since=date(2002, 1, 1)), Change(days=1), reason="late"
    )
    assert gauged.read("mileage")["date"].max().isoformat()[:10] == "2002-01-02"


@pytest.mark.parametrize(
    ("chosen", "change", "error", "words"),
    [
        (Chosen(gauge="G9"), Change(unit="mm"), NotPossible, "No stored row"),
        (Chosen(gauge="G8"), Change(unit="mm"), NotPossible, "stay as they are"),
        (Chosen(gauge="G7"), Change(read_high="4"), WrongUsage, "4 thou"),
        (Chosen(gauge="G7"), Change(cells={"colour": "red"}), WrongUsage, "no column colour"),
        (Chosen("mileage", gauge="G7"), Change(days=1), WrongUsage, "name no gauge"),
        (Chosen("mileage", vehicle="410"), Change(read_high="1 mm"), WrongUsage, "no measured value"),
        (Chosen("vehicles", vehicle="410"), Change(days=1), WrongUsage, "one by one"),
    ],
)
def test_what_cannot_be_asked(gauged, chosen, change, error, words):
    with pytest.raises(error, match=words):
        propose(gauged, chosen, change)


def test_two_rows_do_not_become_one(gauged):
    change = Change(cells={"date": "2001-06-01", "value": "0.1", "gauge": "G7", "note": ""})
    with pytest.raises(NotPossible, match="the same as another stored row"):
        correct_many(gauged, Chosen(observer="J.D."), change, reason="x")


def test_a_reason_is_needed(gauged):
    with pytest.raises(NotPossible, match="reason"):
        correct_many(gauged, Chosen(gauge="G8"), Change(days=1), reason=" ")


def test_batches_say_what_they_did_and_whether_they_were_undone(gauged):
    correct_many(gauged, Chosen(gauge="G8"), Change(days=1), reason="late")
    undo(gauged, 3, why="not late")
    listed = batch_list(gauged).set_index("batch")
    assert listed.loc[2, ["brought", "hold", "taken", "undone_in"]].tolist() == [7, 7, 0, 0]
    assert listed.loc[3, ["brought", "hold", "taken", "undone_in"]].tolist() == [1, 0, 1, 4]
    assert {table: len(rows) for table, rows in gauged.rows_of_batch(2).items()} == {
        "mileage": 1,
        "readings": 6,
    }
    assert gauged.rows_of_batch(2)["readings"]["holds"].sum() == 5
