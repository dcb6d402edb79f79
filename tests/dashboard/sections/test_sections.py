"""Small parts of pages that decide something: what was picked, what an upload is called, what is said."""

import json

import pandas as pd
import pytest

from dashboard.pictures.places import drawings, miles_label
from dashboard.screen.address import _told_apart
from dashboard.screen.components import month, picked_place
from dashboard.sections import first
from dashboard.sections.case import Turned
from dashboard.sections.point import flag_words
from dashboard.sections.taking_in import Made, keep
from dashboard.words.batch_words import about_words, in_words
from dashboard.words.gear_places import Place
from dashboard.words.units_shown import Units
from dashboard.words.walking import with_place


@pytest.mark.parametrize(
    ("told", "picked"),
    [
        ("0:driver-2-L", ("Nettle", "driver-2-L")),
        ("1:motion-R", ("Bramble", "motion-R")),
        ("2:driver-1-L", None),
        ("-1:driver-1-L", None),
        ("0:", None),
        ("", None),
        (None, None),
        ({"a": 1}, None),
    ],
)
def test_only_a_place_that_is_shown_can_be_picked(told, picked):
    assert picked_place(told, ["Nettle", "Bramble"]) == picked


@pytest.mark.parametrize(
    "name", ["../../evil.csv", "/etc/evil.csv", "C:\\Users\\me\\evil.csv", "..\\evil.csv", "evil.csv"]
)
def test_an_upload_stays_in_its_folder_whatever_it_is_called(tmp_path, name):
    folder = tmp_path / "in"
    path = keep(Made(name, b"x"), folder)
    assert path == folder / "evil.csv"
    assert path.read_bytes() == b"x"


@pytest.mark.parametrize("name", ["..", ".", "/", "\x00", ""])
def test_an_upload_without_a_name_gets_one(tmp_path, name):
    path = keep(Made(name, b"x"), tmp_path / "in")
    assert path.parent == tmp_path / "in"
    assert path.is_file()


def test_a_month_is_said_and_a_missing_date_is_not():
    assert month(pd.Timestamp("2027-05-31")) == "May 2027"
    assert month(pd.NaT) == ""


def test_options_of_the_same_words_are_told_apart():
    words = {"a": "A", "b": "A", "c": "A (2)", "d": "A", "e": "Z"}
    said = _told_apart(list(words), words.__getitem__)
    assert said("a") == "A"
    assert said("e") == "Z"
    assert len({said(option) for option in words}) == len(words)


NAN = float("nan")


def points(*rows):
    names = ["vehicle", "position", "component", "quantity", "state", "miles_p05"]
    return with_place(pd.DataFrame(rows, columns=names))


VEHICLES = pd.DataFrame({"vehicle": ["Nettle"], "arrangement": ["0-4-0"]})


def label_of(*rows):
    frame = points(*[("Nettle", "driver 1 left", *row) for row in rows])
    return miles_label(Units())(Place("driver", 1, "L"), frame.to_dict("records"))


def test_the_first_wear_point_to_reach_its_limit_speaks_for_the_place():
    said = label_of(("tire", "hollow", "three", 9000.0), ("brass", "thickness", "year", 1200.0))
    assert (said.state, said.text) == ("year", "1.2k")
    assert said.spoken == (
        "driver 1 left: first to reach its limit: brass thickness, 1 in 20 after 1,200 mi; 2 wear points"
    )


def test_what_is_past_its_limit_outranks_everything():
    said = label_of(("tire", "hollow", "past", 0.0), ("brass", "thickness", "later", 50_000.0))
    assert (said.state, said.text) == ("past", "past")


def test_a_place_of_which_nothing_is_told_says_so():
    said = label_of(("tire", "hollow", "unknown", NAN))
    assert (said.state, said.text) == ("unknown", "?")
    assert "cannot be told" in said.spoken


def test_a_gap_is_read_out_beside_what_is_told():
    said = label_of(("tire", "hollow", "later", 50_000.0), ("brass", "thickness", "unknown", NAN))
    assert said.state == "later"
    assert "of 1 more nothing can be told" in said.spoken


def test_engine_and_tender_are_pictures_of_their_own():
    frame = points(
        ("Nettle", "driver 1 left", "tire", "hollow", "year", 900.0),
        ("Nettle", "tender 2 right", "wheel", "hollow", "year", 900.0),
        ("Nettle", "drawbar", "pin", "diameter", "year", 900.0),
    )
    made = drawings(frame, VEHICLES, miles_label(Units()))
    assert list(made) == [("Nettle", ""), ("Nettle", "tender")]
    assert [p.key for p in made["Nettle", "tender"].places] == ["tender-2-R"]


def test_what_is_not_turned_keeps_its_default():
    settings = Turned("Nettle", "", 80, "1.0").settings()
    assert settings.value("usage") == 1.0
    assert settings.assumptions["usage"]["source"] == "assumption"
    turned = Turned("Nettle", "", 95, "0.5").settings()
    assert turned.value("usage") == 0.5
    assert turned.brief["confidence"] == 0.95


def test_a_kept_plan_gives_the_files_that_it_gave_when_it_was_made(small):
    import streamlit as st

    from dashboard.papers.plan_documents import plan_json
    from dashboard.sections.plan_files import kept as kept_plan
    from dashboard.services.plan_material import PlanChoices
    from dashboard.services.planning import plan_and_store
    from ingest.store import Store

    st.cache_data.clear()
    run, made = plan_and_store(Store(small), PlanChoices(years=4.0), name="four years")
    again, first = (json.loads(plan_json(result)) for result in (kept_plan(run), made))
    assert again["scope"] == first["scope"]
    assert again["windows"] == first["windows"]
    assert again["about"]["rules"] == first["about"]["rules"]
    assert again["usage"] == first["usage"]


@pytest.mark.parametrize(
    ("flags", "said"),
    [
        ("", ""),
        ("past its limit now 62 times in 100", ""),
        (
            "past its limit now 62 times in 100; odd reading on 2020-02-28: counts little",
            "Odd reading on 28 Feb 2020: counts little.",
        ),
        ("wear is not straight; one reading in this life", "Wear is not straight; one reading in this life."),
    ],
)
def test_remarks_on_a_wear_point_are_a_sentence(flags, said):
    assert flag_words(flags) == said


@pytest.mark.parametrize(
    ("about", "said"),
    [
        ({"files": ["a.csv"]}, "1 file: a.csv"),
        ({"files": ["a", "b", "c", "d", "e"]}, "5 files: a, b, c and 2 more"),
        ({"undone": 7, "reason": "wrong engine"}, "batch 7; why: wrong engine"),
        ({"held_ids": [3, 4], "reason": "twice"}, "held rows 3, 4; why: twice"),
        (
            {"held_id": 12, "changes": {"value": "1 3/8"}, "reason": "read again"},
            "held row 12; value = 1 3/8; why: read again",
        ),
        ({"table": "readings", "row_id": 5, "reason": "x"}, "row 5 of readings; why: x"),
        ({}, ""),
    ],
)
def test_what_a_batch_did_is_said_in_words(about, said):
    assert about_words(json.dumps(about)) == said


def test_a_batch_that_nobody_foresaw_is_shown_as_it_is_kept():
    assert about_words("not JSON") == "not JSON"
    batches = pd.DataFrame({"command": ["add", "move"], "about": ["", ""]})
    assert in_words(batches)["command"].tolist() == ["files added", "move"]


def test_a_pick_on_the_drawing_runs_the_drawing_alone():
    # What st.fragment wraps keeps the function that it wrapped; a whole run of the page takes far longer.
    assert hasattr(first.running_gear, "__wrapped__")
