"""The railway's own words for positions and wear points: told once, used from then on."""

import json
import zipfile

import duckdb
import pandas as pd
import pytest

from ingest.names.aliases import Aliases, with_positions
from ingest.store import Store, migrate
from ingest.store.backup import backup, restore
from ingest.store.export import export
from ingest.store.rebuild import MADE_BY, sha256
from ingest.verdicts.add import add_files
from ingest.verdicts.corrections import mend, retry
from ingest.verdicts.undo import undo

WORDS = "as_written,position\nnear side leading,driver 1 left\n"
BY_PLACE = "vehicle,component,position,quantity,date,value,odometer\n"
NEAR_SIDE = BY_PLACE + "410,tire,Near-side Leading,hollow,2001-06-01,1/16,10800\n"


def held(report) -> str:
    (why,) = report.held_back["reasons"]
    return str(why)


def read_at(store: Store) -> list[str]:
    return [str(point) for point in store.read("readings")["point"]]


def test_a_position_in_the_railways_own_words_is_held_back_until_the_word_is_told(add, known, store):
    report = add(readings=NEAR_SIDE)
    assert "no such wear point at the position 'Near-side Leading'; nearest: driver 1 left" in held(report)
    assert "position_aliases" in held(report)
    assert add(position_aliases=WORDS).count("accepted") == 1
    assert read_at(store) == ["HOLLOW"]  # the row that waited for the word
    assert store.held()["outcome"].tolist() == ["released"]
    assert add(readings=NEAR_SIDE).batch is None  # already known


def test_words_and_rows_that_use_them_may_come_together(add, known, store):
    report = add(readings=NEAR_SIDE, position_aliases=WORDS)
    assert (report.count("accepted"), read_at(store)) == (2, ["HOLLOW"])


def test_waiting_rows_are_judged_again_with_the_words(add, known, store):
    add(readings=NEAR_SIDE)
    add(position_aliases=WORDS)
    assert read_at(store) == ["HOLLOW"]
    assert retry(store) == (0, 0)


def test_a_word_may_mean_a_wear_point_in_readings_and_work(add, known, store):
    add(position_aliases="as_written,point\nNo. 1 L hollow,HOLLOW\n")
    add(readings="point,date,value,odometer\nno 1 l HOLLOW,2001-06-01,1/16,10800\n")
    add(work="point,date,action\nNO 1 L Hollow,2001-06-02,renewed\n")
    assert read_at(store) == store.read("work")["point"].tolist() == ["HOLLOW"]


def test_a_word_in_the_column_of_positions_may_mean_one_wear_point(add, known, store):
    add(position_aliases="as_written,point\nfront left tread,HOLLOW\n")
    add(readings="component,position,date,value,odometer\ntire,Front left tread,2001-06-01,1/16,10800\n")
    assert read_at(store) == ["HOLLOW"]


def test_the_name_of_a_wear_point_outranks_a_word(add, known, store):
    add(position_aliases="as_written,point\nTHICK,HOLLOW\n")
    add(readings="point,date,value,odometer\nTHICK,2001-06-01,3 3/8,10800\n")
    assert read_at(store) == ["THICK"]


def test_a_word_of_one_vehicle_stands_over_that_of_all():
    rows = pd.DataFrame(
        [
            ("Links", "", "left", ""),
            ("links", "", "right", "410"),
            ("pin", "A-PIN", "", "A"),
            ("pin", "B-PIN", "", "B"),
            ("nut", "A-NUT", "", "A"),
        ],
        columns=["as_written", "point", "position", "vehicle"],
    )
    words = Aliases(rows)
    assert words.positions("410") == {"links": "right"}
    assert words.positions("411") == {"links": "left"}
    assert (words.point("PIN", "a"), words.point("Pin", "B")) == ("A-PIN", "B-PIN")
    assert words.point("pin", "") == ""  # of which vehicle?
    assert words.point("nut", "") == "A-NUT"
    assert words.point("nut", "B") == ""


def test_a_finding_tells_what_its_words_mean():
    words = pd.DataFrame(
        [
            ("Near-side leading", "", "driver 1 L", ""),
            ("pin", "A-PIN", "", "A"),
            ("lead", "", "driver 3 left", ""),
        ],
        columns=["as_written", "point", "position", "vehicle"],
    )
    points = pd.DataFrame({"point": ["A-PIN"], "vehicle": ["A"], "position": ["driver 3 right"]})
    notes = ["cracked, near side, leading", "pin: cracked", "cracked", "near side leading, driver 1 left"]
    findings = pd.DataFrame({"vehicle": ["A", "B", "A", "A"], "component": "crank pin", "note": notes})
    assert with_positions(findings, words, points)["note"].tolist() == [
        "cracked, near side, leading [driver 1 left, driver 3 right]",
        "pin: cracked",  # the word is of another vehicle
        "cracked [driver 3 right]",
        "near side leading, driver 1 left [driver 3 right]",
    ]
    assert with_positions(findings, words.iloc[:0], points) is findings


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("front,,,", "fill either point or position"),
        ("front,HOLLOW,driver 1 left,", "fill either point or position"),
        (",HOLLOW,,", "as_written: the cell is empty"),
        ("front,HOLOW,,", "nearest: HOLLOW"),
        ("front,,driver 9 left,", "the position 'driver 9 left' is not known; nearest: 'driver 1 left'"),
        ("front,,left,999", "no vehicle of that name is on record"),
    ],
)
def test_a_word_that_means_nothing_on_record_is_held_back(add, known, row, why):
    report = add(position_aliases=f"as_written,point,position,vehicle\n{row}\n")
    assert why in held(report)


def test_one_word_in_two_spellings_means_one_thing(add, known, store):
    add(position_aliases=WORDS)
    report = add(position_aliases="as_written,position\nNear side: leading,left\n")
    assert "means 'driver 1 left' already" in held(report)
    assert (
        add(position_aliases="as_written,position\nNear-side leading,driver 1 left\n").count("accepted") == 1
    )
    changed = add(position_aliases="as_written,position\nnear side leading,left\n")  # in the first spelling
    assert "written 'Near-side leading' means 'driver 1 left'" in held(changed)


def test_a_word_told_anew_replaces_the_old_one_and_the_past_stays(add, known, store):
    add(position_aliases=WORDS)
    add(position_aliases="as_written,position\nnear side leading,left\n")
    assert store.read("position_aliases")["position"].tolist() == ["left"]
    assert store.read("position_aliases", version=2)["position"].tolist() == ["driver 1 left"]


def test_a_held_word_is_mended(add, known, store):
    add(position_aliases="as_written,position\nnear side leading,driver 9 left\n")
    mend(store, 1, {"position": "driver 1 left"}, reason="slip", who="tester")
    add(readings=NEAR_SIDE)
    assert read_at(store) == ["HOLLOW"]


def test_an_undone_word_is_not_used(add, known, store):
    batch = add(position_aliases=WORDS).batch
    undo(store, batch, why="wrong side")
    assert store.read("position_aliases").empty
    assert "no such wear point" in held(add(readings=NEAR_SIDE))


@pytest.mark.parametrize("form", ["csv", "xlsx", "parquet"])
def test_words_come_back_the_same_from_an_export(add, known, store, tmp_path, form):
    add(position_aliases="as_written,point,position,vehicle,note\n=near,,left,410,x\n")
    add(position_aliases='as_written,point\n"hin, ten",HOLLOW\n')
    export(store, tmp_path / "out", form)
    other = Store(tmp_path / "other.duckdb")
    add_files(other, [tmp_path / "out"])
    names = ["as_written", "point", "position", "vehicle", "note"]
    words, words_again = (s.read("position_aliases")[names] for s in (store, other))
    assert len(words) == 2
    pd.testing.assert_frame_equal(words, words_again)


def test_words_come_back_from_a_backup(add, known, store, tmp_path):
    add(position_aliases=WORDS)
    backup(store, tmp_path / "b.milesleft")
    other = Store(tmp_path / "other.duckdb")
    restore(other, tmp_path / "b.milesleft")
    pd.testing.assert_frame_equal(other.read("position_aliases"), store.read("position_aliases"))


def test_a_store_of_the_first_form_gets_the_table(tmp_path, known_once):
    old = Store(tmp_path / "old.duckdb")
    with duckdb.connect(str(old.path)) as connection:
        migrate.bring_up_to_date(connection, until=1)
    assert old.read("position_aliases").empty
    with duckdb.connect(str(old.path)) as connection:
        assert connection.execute("SELECT max(number) FROM migration").fetchall() == [(migrate.latest(),)]


def test_a_backup_of_the_first_form_is_restored_with_the_table(tmp_path, monkeypatch):
    old = Store(tmp_path / "old.duckdb")
    with duckdb.connect(str(old.path)) as connection:
        migrate.bring_up_to_date(connection, until=1)
        connection.execute(
            "INSERT INTO vehicles VALUES (1, 'A', '', '', '', NULL, 1, 'v.csv', '', 2, 1, NULL);"
            "INSERT INTO batch VALUES (1, TIMESTAMP '2001-01-01', 'x', 'add', '{}')"
        )
    first = {1: migrate.steps()[1]}
    (tmp_path / "parts").mkdir()
    with monkeypatch.context() as then:  # as the program of that time wrote it
        then.setattr(migrate, "steps", lambda: first)
        about = old.dump_to(tmp_path / "parts")
    parts = list((tmp_path / "parts").iterdir())
    about |= {"made_by": MADE_BY, "made_at": "2001-01-01 00:00:00"}
    about |= {"sha256": {part.name: sha256(part) for part in parts}}
    with zipfile.ZipFile(tmp_path / "b.milesleft", "w") as archive:
        for part in parts:
            archive.write(part, part.name)
        archive.writestr("about.json", json.dumps(about))
    made = Store(tmp_path / "made.duckdb")
    restore(made, tmp_path / "b.milesleft")
    assert made.read("vehicles")["vehicle"].tolist() == ["A"]
    assert made.read("position_aliases").empty
