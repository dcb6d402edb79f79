"""Each page without a browser: it opens, it says what it must, and each widget does what it says."""

import json
from pathlib import Path

import pandas as pd
import pytest
from pages.without_browser import GOOD, handed_in, opened, said, widget

from ingest.store import Store

APP_FILE = str(Path(__file__).parents[3] / "dashboard" / "app.py")


VIEWS = {
    "first": "What will stop us first?",
    "point": "driver tire – tread hollow",
    "engine": "Readings at the engine",
    "batch": "Is this batch right?",
    "fit": "Does it still fit together?",
    "opening": "What did the opening show?",
    "parts": "Where are our parts?",
    "facts": "What is known of each vehicle?",
    "window": "When do we open it, and what is in it?",
    "case": "What does it cost, and why now?",
    "record": "How good were our forecasts?",
    "how": "How a forecast is made",
    "words": "What the words mean",
}


@pytest.mark.parametrize(("view", "title"), VIEWS.items())
def test_every_page_opens_with_its_question_and_the_caution(reader, view, title):
    page = opened(reader, view)
    assert page.title[0].value.replace("\\", "") == title
    assert "supports and never replaces inspection by qualified people" in said(page)


@pytest.mark.parametrize("view", VIEWS)
def test_an_empty_store_says_what_to_do_first(tmp_path, monkeypatch, view):
    import streamlit as st
    from streamlit.testing.v1 import AppTest

    monkeypatch.setenv("MILESLEFT_DB", str(tmp_path / "none.duckdb"))
    monkeypatch.delenv("MILESLEFT_ROLES", raising=False)
    st.cache_data.clear()
    page = opened(AppTest.from_file(APP_FILE, default_timeout=30), view)
    assert not page.error
    kinds = [element.type for element in page.main]
    assert "info" not in kinds[: kinds.index("title")]  # the question first, then what to do
    if view not in ("batch", "how", "words"):  # adding the first files and reading how it works need no data
        assert "The first thing" in said(page) or "There are no wear points yet" in said(page)


def test_home_names_the_wear_point_that_comes_first_and_what_cannot_be_told(reader):
    page = opened(reader, "first")
    text = said(page)
    assert "driver tire, tread hollow** at **driver 2 left** of Nettle" in text
    assert "Cannot be told: 1" in text
    assert "no condemning limit" in text


def test_home_says_when_the_data_have_changed_since_the_forecast(app, small):
    page = opened(app, "first")
    assert "The data have changed" not in said(page)
    page = handed_in(app, "october.csv", GOOD)
    page = opened(page, "first")
    page.switch_page("views/first.py").run()
    assert "made from batch 1, now there is 2" in said(page)
    widget(page.button, "Forecast again").click().run()
    assert not page.exception, page.exception
    assert "The data have changed" not in said(page)
    assert Store(small).runs("forecast")["data_version"].iloc[0] == 2


def test_the_table_of_all_wear_points_is_in_the_units_chosen(reader):
    page = opened(reader, "first", length="mm", distance="km")
    widget(page.toggle, "All wear points as a table").set_value(True).run()
    assert not page.exception, page.exception
    rows = page.dataframe[-1].value.set_index("Position")
    assert rows.loc["driver 2 left", "Last value"] == "7.11 mm"  # 0.28 in × 25.4
    assert {"1 in 20 after [km]", "Half after [km]"} <= set(rows)


def test_units_are_chosen_once_and_stay_in_the_address(reader):
    page = opened(reader, "point", point="N-D2L-HOLLOW")
    assert page.metric[0].value.endswith(" in")
    widget(page.selectbox, "Lengths in").set_value("mm").run()
    widget(page.selectbox, "Distances in").set_value("km").run()
    assert page.metric[0].value == "7.11 mm"  # 0.28 in × 25.4
    assert page.metric[1].value.endswith(" km") or page.metric[1].value == "now"
    assert page.query_params["length"] == "mm"
    assert page.query_params["distance"] == "km"
    widget(page.selectbox, "Lengths in").set_value("sheet").run()
    assert "length" not in page.query_params  # the default leaves the address


def test_in_a_very_large_store_one_vehicle_at_a_time_is_checked_as_among_all(reader, monkeypatch):
    everything = opened(reader, "fit", vehicle="Nettle").dataframe[0].value
    monkeypatch.setattr("dashboard.sections.fit.MOST_POINTS", 1)
    pd.testing.assert_frame_equal(opened(reader, "fit", vehicle="Nettle").dataframe[0].value, everything)
    page = opened(reader, "fit", vehicle="")
    assert "Choose a vehicle on the left" in page.info[0].value
    assert not page.dataframe


def test_a_look_back_is_made_kept_and_left_again(app, small):
    page = opened(app, "first")
    page.date_input(key="look-back").set_value(pd.Timestamp("2021-12-31").date()).run()
    widget(page.button, "Forecast as of this day").click().run()
    assert not page.exception, page.exception
    assert "as of 31 December 2021" in said(page)
    runs = Store(small).runs("forecast")
    assert len(runs) == 2
    assert page.query_params["forecast"] == runs["run_id"].iloc[0]
    first = runs["run_id"].iloc[1]
    widget(page.selectbox, "Forecast").set_value(first).run()
    assert "as of 1 October 2023" in said(page)
    assert "forecast" not in page.query_params  # the latest day is what everybody sees, whenever it was made


def test_scoring_is_asked_for_and_then_shown(app, small):
    page = opened(app, "record")
    assert "Nothing has been scored yet" in said(page)
    widget(page.button, "Score now").click().run(timeout=120)
    assert not page.exception, page.exception
    assert len(Store(small).runs("score")) == 1
    assert "later readings" in said(page)
    by_family = next(frame.value for frame in page.dataframe if "Family" in frame.value)
    errors = by_family["Error, straight line = 1"].dropna()
    assert errors.is_monotonic_decreasing  # the worst family first


def test_formulas_are_there_for_those_who_want_them(reader):
    page = opened(reader, "how")
    assert not page.latex
    page.toggle(key="formulas").set_value(True).run()
    assert len(page.latex) >= 4


@pytest.mark.parametrize(
    ("part", "words"),
    [("checks", "Check"), ("tires", "Vehicle"), ("boxes", "driving box"), ("due", "Inspection")],
)
def test_what_must_agree_opens_part_by_part(reader, part, words):
    page = opened(reader, "fit", part=part)
    text = said(page) + " ".join(str(table.value.columns.tolist()) for table in page.dataframe)
    text += " ".join(box.label for box in page.selectbox)
    assert words in text


def test_a_plan_is_asked_for_shown_and_held_beside_another(app, small):
    page = opened(app, "window")
    assert "No plan has been made yet" in said(page)
    page.text_input(key="plan-name").set_value("first try")
    widget(page.button, "Plan").click().run(timeout=120)
    assert not page.exception, page.exception
    assert "Open it in" in said(page)
    page.text_input(key="plan-name").set_value("bolder")
    page.number_input(key="plan-risk").set_value(30)
    widget(page.button, "Plan").click().run(timeout=120)
    assert not page.exception, page.exception
    runs = Store(small).runs("plan")
    names = [json.loads(about)["name"] for about in runs["about"]]
    assert names == ["bolder", "first try"]
    assert "Beside another plan" in said(page)
    assert any("This plan" in table.value.columns for table in page.dataframe)
