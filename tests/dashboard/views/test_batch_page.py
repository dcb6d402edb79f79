"""The page about batches: verdicts, rows held back, undo, sheets with a layout of their own, what moved."""

import json
import re
import shutil

import pytest
from pages.without_browser import GOOD, MIXED, counts, handed_in, opened, said, version, widget

from ingest.store import Store
from ingest.verdicts.add import add_files


def test_a_batch_gets_a_verdict_for_every_row_and_they_add_up(app, small):
    page = handed_in(app, "october.csv", MIXED)
    assert counts(page) == {"Rows handed in": "3", "Accepted": "1", "Held back": "2", "Already known": "0"}
    reasons = page.dataframe[0].value["Why"].tolist()
    assert any("see sheet 4" in why for why in reasons)
    assert any("no wear point of that name" in why for why in reasons)
    assert Store(small).batches()["who"].iloc[0] != ""


def test_the_same_batch_again_changes_nothing(app, small):
    handed_in(app, "october.csv", GOOD)
    before = version(small)
    page = handed_in(app, "october.csv", GOOD)
    assert counts(page)["Already known"] == "1"
    assert version(small) == before


def test_a_file_that_is_no_table_is_refused_in_plain_words(app, small):
    before = version(small)
    page = opened(app, "batch")
    page.file_uploader(key="batch-files").upload("note.csv", b"just a line of text\n").run()
    assert not page.exception, page.exception
    assert page.error
    assert "Add these files" not in [button.label for button in page.button]
    assert "Traceback" not in said(page)
    assert version(small) == before


FAR_OFF = b"point,date,value,unit,odometer\nN-D2L-HOLLOW,2023-11-20,0.5,in,9200\n"


def test_a_reading_far_from_expected_is_marked_on_the_batch_and_its_wear_point_until_settled(app, small):
    page = handed_in(app, "november.csv", FAR_OFF)
    assert "Measure again: 1." in said(page)
    listed = page.dataframe[0].value.iloc[0]
    assert (listed["Wear point"], listed["Read"]) == ("N-D2L-HOLLOW", "0.500 in")
    assert re.fullmatch(r"0\.2\d+ in to 0\.3\d+ in", listed["Expected (8 times in 10)"])
    page = opened(page, "point", point="N-D2L-HOLLOW")
    assert "Measure again. 20 November 2023, 0.500 in" in said(page).replace("*", "")
    page = handed_in(app, "second.csv", FAR_OFF.replace(b"-20,0.5", b"-29,0.505").replace(b"9200", b"9290"))
    assert "Measure again: 1." not in said(page)
    page = opened(page, "batch", part="again")
    assert "No reading waits" in said(page)
    assert page.dataframe[0].value["What to do"].unique().tolist() == ["a second reading agrees with it"]
    assert "Measure again." not in said(opened(page, "point", point="N-D2L-HOLLOW"))


def test_a_reading_that_waits_to_be_measured_again_stays_marked_after_the_next_forecast(app, small):
    within_the_log = b"point,date,value,unit\nN-D2L-HOLLOW,2023-09-28,0.5,in\n"
    page = handed_in(app, "september.csv", within_the_log)
    widget(page.button, "Forecast again with this batch").click().run()
    page = opened(page, "point", point="N-D2L-HOLLOW")
    events = page.dataframe[0].value
    marked = events.loc[events["Value"] == "0.500 in", "Remark"].tolist()
    assert marked == ["measure again"]
    page = opened(page, "batch", part="again")
    assert page.dataframe[0].value["Wear point"].tolist() == ["N-D2L-HOLLOW"]


def test_forecasting_again_shows_what_moved(app, small):
    page = handed_in(
        app,
        "october.csv",
        b"point,date,value,unit\nN-D1L-HOLLOW,2023-09-28,0.22,in\nN-D1L-HOLLOW,2023-10-01,0.225,in\n",
    )
    widget(page.button, "Forecast again with this batch").click().run()
    assert not page.exception, page.exception
    assert len(Store(small).runs("forecast")) == 2
    page = opened(page, "batch", part="moved")
    moved = page.dataframe[0].value
    hollow = moved[moved["Quantity"] == "tread hollow"]
    assert hollow["What"].iloc[0] == "sooner"
    assert hollow["Position"].iloc[0] == "driver 1 left"


def with_batch(made_store, folder, content):
    """A copy of the small railway's store with one batch more."""
    store = Store(folder / "small.duckdb")
    shutil.copy(made_store, store.path)
    (folder / "october.csv").write_bytes(content)
    add_files(store, [folder / "october.csv"], who="R. T.")
    return store.path


@pytest.fixture(scope="module")
def mixed_store(made_store, tmp_path_factory):
    return with_batch(made_store, tmp_path_factory.mktemp("mixed"), MIXED)


@pytest.fixture(scope="module")
def good_store(made_store, tmp_path_factory):
    return with_batch(made_store, tmp_path_factory.mktemp("good"), GOOD)


@pytest.fixture
def held(app, small, mixed_store):
    """The page of held-back rows after a batch with two bad rows, the first of them picked."""
    shutil.copy(mixed_store, small)
    page = opened(app, "batch", part="held")
    page.session_state["held-table"] = {"selection": {"rows": [0], "columns": [], "cells": []}}
    return page.run()


@pytest.fixture
def batches(app, small, good_store):
    """The page of batches after one with one good reading."""
    shutil.copy(good_store, small)
    return opened(app, "batch", part="batches")


def test_a_held_row_is_mended_with_a_reason_and_kept_as_it_came(held, small):
    row = Store(small).held().iloc[0]
    held.text_input(key=f"held-{row['held_id']}-value").set_value("11/64")
    held.text_input(key=f"held-{row['held_id']}-why").set_value("found on sheet 4")
    widget(held.button, "Correct").click().run()
    assert not held.exception, held.exception
    after = Store(small).held().iloc[0]
    assert (after["outcome"], after["settled_because"]) == ("mended", "found on sheet 4")
    assert json.loads(after["raw"])["value"] == "see sheet 4"
    stored = Store(small).read("readings")
    stored = stored[(stored["point"] == "N-D1R-HOLLOW") & (stored["date"] == "2023-09-29")]
    assert stored["value"].iloc[0] == pytest.approx(11 / 64 * 25.4)
    assert "Corrected and stored" in said(held)


def test_a_mend_without_a_reason_is_refused(held, small):
    held_id = Store(small).held()["held_id"].iloc[0]
    held.text_input(key=f"held-{held_id}-value").set_value("11/64")
    before = version(small)
    widget(held.button, "Correct").click().run()
    assert any("reason" in error.value for error in held.error)
    assert version(small) == before


def test_a_mend_that_mends_nothing_says_what_is_still_wrong(held, small):
    held_id = Store(small).held()["held_id"].iloc[0]
    held.text_input(key=f"held-{held_id}-value").set_value("n/a")
    held.text_input(key=f"held-{held_id}-why").set_value("try")
    widget(held.button, "Correct").click().run()
    assert any("still be held back" in error.value for error in held.error)


def test_a_held_row_is_dismissed_with_a_reason(held, small):
    held_id = Store(small).held()["held_id"].iloc[0]
    held.text_input(key=f"held-{held_id}-why").set_value("no such sheet")
    widget(held.button, "Dismiss").click().run()
    assert Store(small).held()["outcome"].tolist() == ["dismissed", ""]
    assert "Held back (1)" in [option for c in held.segmented_control for option in c.options][1]


def test_a_batch_is_undone_with_a_reason(batches, small):
    assert len(Store(small).read("readings")) == 31
    batches.text_input(key="undo-why").set_value("wrong engine")
    widget(batches.button, "Undo the batch").click().run()
    assert not batches.exception, batches.exception
    assert len(Store(small).read("readings")) == 30
    assert Store(small).batches()["command"].iloc[0] == "undo"


def test_an_undo_without_a_reason_is_refused(batches, small):
    widget(batches.button, "Undo the batch").click().run()
    assert any("reason" in error.value for error in batches.error)
    assert len(Store(small).read("readings")) == 31


OWN_MAKE = (
    b"Wheel book of Nettle;;\nPlace;When;Hollow (mm)\n"
    b"N-D1L-HOLLOW;20.09.2023;4,6\nN-D1R-HOLLOW;20.09.2023;4,1\n"
)


LAYOUT = """
dates = "dmy"
decimal = ","
delimiter = ";"
[[table]]
table = "readings"
header = 2
[table.columns]
Place = "point"
When = "date"
"Hollow (mm)" = "value"
[table.fixed]
unit = "mm"
"""


def test_a_layout_may_be_written_as_text(app, small):
    page = opened(app, "batch")
    page.file_uploader(key="batch-files").upload("wheel book.csv", OWN_MAKE).run()
    widget(page.toggle, "Write the layout as text instead (TOML)").set_value(True).run()
    assert not page.exception, page.exception
    assert "table" in page.text_area(key="layout-text-wheel book.csv").value
    page.text_area(key="layout-text-wheel book.csv").set_value(LAYOUT).run()
    assert not page.error, page.error[0].value
    widget(page.button, "Add these files").click().run()
    assert not page.exception, page.exception
    assert counts(page)["Accepted"] == "2"
    stored = Store(small).read("readings")
    assert stored.loc[stored["date"] == "2023-09-20", "value"].tolist() == pytest.approx([4.6, 4.1])
