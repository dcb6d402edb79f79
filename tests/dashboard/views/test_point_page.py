"""The page of one wear point: what it says of it, what is recorded and corrected on it."""

import re

import duckdb
import pandas as pd
import pytest
from pages.without_browser import counts, opened, said, version, widget

from dashboard.services.forecasting import run_forecast
from ingest.store import Store
from ingest.verdicts.add import add_files


def test_a_link_to_a_wear_point_opens_it(reader):
    page = opened(reader, "point", point="N-XH-R")
    assert page.title[0].value.replace("\\", "") == "crosshead – vertical clearance"
    assert "49 CFR 230.94" in said(page)


def picked_event(page, row):
    page.session_state["point-events"] = {"selection": {"rows": [row], "columns": [], "cells": []}}
    return page.run()


def test_a_reading_is_corrected_with_a_reason_and_the_old_one_kept(app, small):
    page = picked_event(opened(app, "point", point="N-D2L-HOLLOW"), 0)
    before = version(small)
    page.text_input(key="correct-value").set_value("0.27")
    page.text_input(key="correct-why").set_value("gauge set wrong")
    widget(page.button, "Put this in its place").click().run()
    assert not page.exception, page.exception
    assert "Changed, as batch 2" in said(page)
    old, new = (Store(small).read("readings", version=v) for v in (before, None))
    last = [
        r[(r["point"] == "N-D2L-HOLLOW") & (r["date"] == "2023-09-15")]["value"].iloc[0] for r in (old, new)
    ]
    assert last == pytest.approx([0.28 * 25.4, 0.27 * 25.4])


def test_a_reading_leads_back_to_file_row_and_who_brought_it(app, small):
    page = picked_event(opened(app, "point", point="N-D2L-HOLLOW"), 0)
    where = Store(small).read("readings").query("point == 'N-D2L-HOLLOW'")["source_row"].max()
    told = said(page).replace("\\", "")
    assert f"From readings.csv, row {where}; batch 1, R. T., " in told
    (story,) = [table.value for table in page.dataframe if "From" in table.value]
    assert story["From"].iloc[0] == f"readings.csv, row {where} (batch 1)"


def test_a_reading_is_withdrawn_only_with_a_reason(app, small):
    page = picked_event(opened(app, "point", point="N-D2L-HOLLOW"), 0)
    widget(page.button, "Withdraw the reading").click().run()
    assert any("reason" in error.value for error in page.error)
    assert len(Store(small).read("readings")) == 30
    page.text_input(key="correct-why").set_value("wrong wheel")
    widget(page.button, "Withdraw the reading").click().run()
    assert len(Store(small).read("readings")) == 29


def two_of_a_day(small):
    """A second reading of the day of the last one, taken before it in the order of the file; both hold."""
    store = Store(small)
    row = b'point,date,value,unit,odometer,observer\nN-D2L-HOLLOW,2023-09-15,0.281,in,"8,916",J. W.\n'
    (small.parent / "second.csv").write_bytes(row)
    files = [small.parent / "second.csv"]
    asked = re.search(r"question (correction-\w+)", add_files(store, files).held_back["reasons"].iloc[0])
    assert add_files(store, files, answers={asked[1]: "second"}).count("accepted") == 1
    run_forecast(store)
    rows = store.read("readings")
    return rows[(rows["point"] == "N-D2L-HOLLOW") & (rows["date"] == "2023-09-15")]


@pytest.mark.parametrize("wanted", ["0.280 in", "0.281 in"])
def test_of_two_readings_of_a_day_the_one_that_was_picked_is_withdrawn(app, small, wanted):
    before = two_of_a_day(small)
    page = opened(app, "point", point="N-D2L-HOLLOW")
    row = page.dataframe[0].value["Value"].tolist().index(wanted)
    page = picked_event(page, row)
    page.text_input(key="correct-why").set_value("wrong wheel")
    widget(page.button, "Withdraw the reading").click().run()
    assert not page.exception, page.exception
    left = Store(small).read("readings")
    left = left[left["row_id"].isin(before["row_id"])]
    assert left["value_text"].tolist() == [{"0.280 in": "0.281", "0.281 in": "0.28"}[wanted]]


@pytest.mark.parametrize("wanted", ["0.280 in", "0.281 in"])
def test_of_two_readings_of_a_day_the_one_that_was_picked_is_corrected(app, small, wanted):
    two_of_a_day(small)
    page = opened(app, "point", point="N-D2L-HOLLOW")
    page = picked_event(page, page.dataframe[0].value["Value"].tolist().index(wanted))
    page.text_input(key="correct-value").set_value("0.27")
    page.text_input(key="correct-why").set_value("gauge set wrong")
    widget(page.button, "Put this in its place").click().run()
    assert not page.exception, page.exception
    now = Store(small).read("readings")
    now = now[(now["point"] == "N-D2L-HOLLOW") & (now["date"] == "2023-09-15")]
    assert sorted(now["value_text"]) == sorted(["0.27", {"0.280 in": "0.281", "0.281 in": "0.28"}[wanted]])


def test_the_odometer_of_a_reading_is_corrected_in_what_the_instrument_shows(app, small):
    page = picked_event(opened(app, "point", point="N-D2L-HOLLOW"), 0)
    assert "without an odometer: it has its miles from the log" in said(page)
    page.text_input(key="correct-odometer").set_value("8910")
    page.text_input(key="correct-why").set_value("read from the counter")
    widget(page.button, "Put this in its place").click().run()
    assert not page.exception, page.exception
    now = Store(small).read("readings")
    now = now[(now["point"] == "N-D2L-HOLLOW") & (now["date"] == "2023-09-15")]
    assert (now["odometer_text"].tolist(), now["value_text"].tolist()) == (["8910 mi"], ["0.28"])


def test_a_wear_point_without_limit_lists_its_readings_and_lets_them_be_corrected(app, small):
    (small.parent / "spring.csv").write_bytes(b"point,date,value,unit\nN-SPRING,2023-09-15,0.02,in\n")
    add_files(Store(small), [small.parent / "spring.csv"])
    page = opened(app, "point", point="N-SPRING")
    table = page.dataframe[0].value
    assert table["Value"].tolist() == ["0.020 in"]
    assert table["Remark"].tolist() == ["came in after this forecast"]
    page = picked_event(page, 0)
    page.text_input(key="correct-why").set_value("wrong pin")
    widget(page.button, "Withdraw the reading").click().run()
    assert Store(small).read("readings")["point"].tolist().count("N-SPRING") == 0


def test_work_done_is_recorded_as_a_batch(app, small):
    page = opened(app, "point", point="N-D2L-HOLLOW")
    page.date_input(key="work-date").set_value(pd.Timestamp("2023-09-20").date())
    page.text_input(key="work-after").set_value("0.01")
    widget(page.button, "Save").click().run()
    assert not page.exception, page.exception
    assert counts(page)["Accepted"] == "1", said(page)
    work = Store(small).read("work")
    assert work["action"].tolist() == ["renewed"]
    assert work["value_after"].tolist() == pytest.approx([0.254])


def test_an_old_link_to_a_wear_point_that_is_gone_opens_the_first(reader):
    page = opened(reader, "point", point="N-GONE")
    assert page.title[0].value.replace("\\", "") == "driver tire – tread hollow"


def test_of_very_many_wear_points_the_first_are_offered_and_the_one_linked_to(reader, monkeypatch):
    monkeypatch.setattr("dashboard.sections.point.MOST_OFFERED", 3)
    page = opened(reader, "point", point="N-SPRING")
    assert len(page.main.selectbox[0].options) == 4
    assert "Offered are the 3 of" in said(page)
    assert "cannot be told" in page.warning[0].value


def test_a_wear_point_without_limit_says_why_nothing_can_be_told(reader):
    page = opened(reader, "point", point="N-SPRING")
    assert "cannot be told" in page.warning[0].value


def test_what_may_not_run_is_said_of_the_limit_and_not_of_the_new_part(reader):
    text = said(opened(reader, "point", point="N-XH-R"))
    assert "Condemning limit 0.250 in (may not run at this value) · New part 0.015 in" in text.replace(
        "*", ""
    )


def test_every_reading_and_its_expectation_is_listed(reader):
    page = opened(reader, "point", point="N-D2L-HOLLOW")
    table = page.dataframe[0].value
    assert table["Value"].tolist() == ["0.280 in", "0.230 in", "0.170 in", "0.120 in", "0.060 in"]
    assert (table["Expected (8 times in 10)"] != "").all()


@pytest.mark.parametrize("frame", ["path", "state"])
def test_a_forecast_of_an_earlier_kind_says_to_make_a_new_one(app, small, frame):
    with duckdb.connect(str(small)) as connection:
        connection.execute("DELETE FROM run_frame WHERE name = ?", [frame])
    page = opened(app, "point", point="N-D2L-HOLLOW")
    assert not page.exception
    assert "of an earlier kind" in said(page)
    widget(page.button, "Make a forecast").click().run()
    assert not page.exception
    assert "Its lives and events" in said(page)
