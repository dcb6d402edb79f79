"""Each page without a browser: it opens, it says what it must, and each widget does what it says."""

import json
import re
from pathlib import Path

import pandas as pd
import pytest

from ingest.store import Store

APP_FILE = str(Path(__file__).parents[3] / "dashboard" / "app.py")
VIEWS = {
    "first": "What will stop us first?",
    "point": "driver tire – tread hollow",
    "engine": "Readings at the engine",
    "batch": "Is this batch right?",
    "fit": "Does it still fit together?",
    "window": "When do we open it, and what is in it?",
    "case": "What does it cost, and why now?",
    "record": "How good were our forecasts?",
    "how": "How a forecast is made",
}


def opened(app, view, **address):
    """A page at an address."""
    for key, value in address.items():
        app.query_params[key] = value
    app.run()
    if view != "first":
        app.switch_page(f"views/{view}.py")
        for key, value in address.items():
            app.query_params[key] = value
        app.run()
    assert not app.exception, app.exception
    return app


def said(app):
    """All that stands on the page as text."""
    kinds = (
        app.title,
        app.subheader,
        app.markdown,
        app.caption,
        app.error,
        app.warning,
        app.info,
        app.success,
    )
    return (
        "\n".join(element.value for kind in kinds for element in kind).replace("\\", "").replace("\u2060", "")
    )


@pytest.mark.parametrize(("view", "title"), VIEWS.items())
def test_every_page_opens_with_its_question_and_the_caution(app, view, title):
    page = opened(app, view)
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
    if view not in ("batch", "how"):  # adding the first files and reading how it works need no data
        assert "The first thing" in said(page) or "There are no wear points yet" in said(page)


def version(path):
    return Store(path).version()


def widget(group, label):
    """The widget of that label; there must be exactly one."""
    found = [w for w in group if w.label == label]
    assert len(found) == 1, [w.label for w in group]
    return found[0]


def test_home_names_the_wear_point_that_comes_first_and_what_cannot_be_told(app):
    page = opened(app, "first")
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


def test_the_table_of_all_wear_points_is_in_the_units_chosen(app):
    page = opened(app, "first", length="mm", distance="km")
    widget(page.toggle, "All wear points as a table").set_value(True).run()
    assert not page.exception, page.exception
    rows = page.dataframe[-1].value.set_index("Position")
    assert rows.loc["driver 2 left", "Last value"] == "7.11 mm"  # 0.28 in × 25.4
    assert {"1 in 20 within [km]", "Half within [km]"} <= set(rows)


def test_readings_at_the_engine_say_as_of_when_the_miles_are(app):
    assert re.search(r"as of \d+ \w+ 20\d\d", said(opened(app, "engine")))


def test_units_are_chosen_once_and_stay_in_the_address(app):
    page = opened(app, "point", point="N-D2L-HOLLOW")
    assert page.metric[0].value.endswith(" in")
    widget(page.selectbox, "Lengths in").set_value("mm").run()
    widget(page.selectbox, "Distances in").set_value("km").run()
    assert page.metric[0].value == "7.11 mm"  # 0.28 in × 25.4
    assert page.metric[1].value.endswith(" km") or page.metric[1].value == "now"
    assert page.query_params["length"] == "mm"
    assert page.query_params["distance"] == "km"
    widget(page.selectbox, "Lengths in").set_value("sheet").run()
    assert "length" not in page.query_params  # the default leaves the address


def test_a_link_to_a_wear_point_opens_it(app):
    page = opened(app, "point", point="N-XH-R")
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
    widget(page.button, "Put this value in its place").click().run()
    assert not page.exception, page.exception
    assert "Changed, as batch 2" in said(page)
    old, new = (Store(small).read("readings", version=v) for v in (before, None))
    last = [
        r[(r["point"] == "N-D2L-HOLLOW") & (r["date"] == "2023-09-15")]["value"].iloc[0] for r in (old, new)
    ]
    assert last == pytest.approx([0.28 * 25.4, 0.27 * 25.4])


def test_a_reading_is_withdrawn_only_with_a_reason(app, small):
    page = picked_event(opened(app, "point", point="N-D2L-HOLLOW"), 0)
    widget(page.button, "Withdraw the reading").click().run()
    assert any("reason" in error.value for error in page.error)
    assert len(Store(small).read("readings")) == 30
    page.text_input(key="correct-why").set_value("wrong wheel")
    widget(page.button, "Withdraw the reading").click().run()
    assert len(Store(small).read("readings")) == 29


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


def test_an_old_link_to_a_wear_point_that_is_gone_opens_the_first(app):
    page = opened(app, "point", point="N-GONE")
    assert page.title[0].value.replace("\\", "") == "driver tire – tread hollow"


def test_of_very_many_wear_points_the_first_are_offered_and_the_one_linked_to(app, monkeypatch):
    monkeypatch.setattr("dashboard.sections.point_parts.MOST_OFFERED", 3)
    page = opened(app, "point", point="N-SPRING")
    assert len(page.main.selectbox[0].options) == 4
    assert "Offered are the 3 of" in said(page)
    assert "cannot be told" in page.warning[0].value


def test_in_a_very_large_store_one_vehicle_at_a_time_is_checked_as_among_all(app, monkeypatch):
    everything = opened(app, "fit", vehicle="Nettle").dataframe[0].value
    monkeypatch.setattr("dashboard.sections.fit_parts.MOST_POINTS", 1)
    pd.testing.assert_frame_equal(opened(app, "fit", vehicle="Nettle").dataframe[0].value, everything)
    page = opened(app, "fit", vehicle="")
    assert "Choose a vehicle on the left" in page.info[0].value
    assert not page.dataframe


def test_a_wear_point_without_limit_says_why_nothing_can_be_told(app):
    page = opened(app, "point", point="N-SPRING")
    assert "cannot be told" in page.warning[0].value


def test_every_reading_and_its_expectation_is_listed(app):
    page = opened(app, "point", point="N-D2L-HOLLOW")
    table = page.dataframe[0].value
    assert table["Value"].tolist() == ["0.280 in", "0.230 in", "0.170 in", "0.120 in", "0.060 in"]
    assert (table["Expected (8 in 10)"] != "").all()


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


GOOD = b"point,date,value,unit\nN-D1L-HOLLOW,2023-10-01,0.18,in\n"
MIXED = (
    b"point,date,value,unit\n"
    b"N-D1R-HOLLOW,2023-09-28,0.16,in\n"
    b"N-D1R-HOLLOW,2023-09-29,see sheet 4,in\n"
    b"N-NONE,2023-09-30,0.1,in\n"
)


def handed_in(app, name, content):
    page = opened(app, "batch")
    page.file_uploader(key="batch-files").upload(name, content).run()
    widget(page.button, "Add these files").click().run()
    assert not page.exception, page.exception
    return page


def counts(page):
    return {metric.label: metric.value for metric in page.metric}


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
    page = handed_in(app, "note.csv", b"just a line of text\n")
    assert page.error
    assert "Traceback" not in said(page)
    assert version(small) == before


FAR_OFF = b"point,date,value,unit,odometer\nN-D2L-HOLLOW,2023-11-20,0.9,in,9200\n"


def test_a_reading_far_from_expected_is_marked_on_the_batch_and_its_wear_point_until_settled(app, small):
    page = handed_in(app, "november.csv", FAR_OFF)
    assert "Measure again: 1." in said(page)
    listed = page.dataframe[0].value.iloc[0]
    assert (listed["Wear point"], listed["Read"]) == ("N-D2L-HOLLOW", "0.900 in")
    assert re.fullmatch(r"0\.2\d+ in to 0\.3\d+ in", listed["Expected (8 in 10)"])
    page = opened(page, "point", point="N-D2L-HOLLOW")
    assert "Measure again. 20 November 2023, 0.900 in" in said(page).replace("*", "")
    page = handed_in(app, "second.csv", FAR_OFF.replace(b"-20,0.9", b"-21,0.905").replace(b"9200", b"9210"))
    assert "Measure again: 1." not in said(page)
    page = opened(page, "batch", part="again")
    assert "No reading waits" in said(page)
    assert page.dataframe[0].value["What to do"].unique().tolist() == ["a second reading agrees with it"]
    assert "Measure again." not in said(opened(page, "point", point="N-D2L-HOLLOW"))


def test_a_reading_that_waits_to_be_measured_again_stays_marked_after_the_next_forecast(app, small):
    within_the_log = b"point,date,value,unit\nN-D2L-HOLLOW,2023-09-28,0.9,in\n"
    page = handed_in(app, "september.csv", within_the_log)
    widget(page.button, "Forecast again with this batch").click().run()
    page = opened(page, "point", point="N-D2L-HOLLOW")
    events = page.dataframe[0].value
    marked = events.loc[events["Value"] == "0.900 in", "Remark"].tolist()
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


def held(app):
    """The page of held-back rows after a batch with two bad rows, the first of them picked."""
    handed_in(app, "october.csv", MIXED)
    page = opened(app, "batch", part="held")
    page.session_state["held-table"] = {"selection": {"rows": [0], "columns": [], "cells": []}}
    return page.run()


def test_a_held_row_is_mended_with_a_reason_and_kept_as_it_came(app, small):
    page = held(app)
    row = Store(small).held().iloc[0]
    page.text_input(key=f"held-{row['held_id']}-value").set_value("11/64")
    page.text_input(key=f"held-{row['held_id']}-why").set_value("found on sheet 4")
    widget(page.button, "Mend").click().run()
    assert not page.exception, page.exception
    after = Store(small).held().iloc[0]
    assert (after["outcome"], after["settled_because"]) == ("mended", "found on sheet 4")
    assert json.loads(after["raw"])["value"] == "see sheet 4"
    stored = Store(small).read("readings")
    stored = stored[(stored["point"] == "N-D1R-HOLLOW") & (stored["date"] == "2023-09-29")]
    assert stored["value"].iloc[0] == pytest.approx(11 / 64 * 25.4)
    assert "Mended and stored" in said(page)


def test_a_mend_without_a_reason_is_refused(app, small):
    page = held(app)
    held_id = Store(small).held()["held_id"].iloc[0]
    page.text_input(key=f"held-{held_id}-value").set_value("11/64")
    before = version(small)
    widget(page.button, "Mend").click().run()
    assert any("reason" in error.value for error in page.error)
    assert version(small) == before


def test_a_mend_that_mends_nothing_says_what_is_still_wrong(app, small):
    page = held(app)
    held_id = Store(small).held()["held_id"].iloc[0]
    page.text_input(key=f"held-{held_id}-value").set_value("n/a")
    page.text_input(key=f"held-{held_id}-why").set_value("try")
    widget(page.button, "Mend").click().run()
    assert any("still be held back" in error.value for error in page.error)


def test_a_held_row_is_dismissed_with_a_reason(app, small):
    page = held(app)
    held_id = Store(small).held()["held_id"].iloc[0]
    page.text_input(key=f"held-{held_id}-why").set_value("no such sheet")
    widget(page.button, "Dismiss").click().run()
    assert Store(small).held()["outcome"].tolist() == ["dismissed", ""]
    assert "Held back (1)" in [option for c in page.segmented_control for option in c.options][2]


def test_a_batch_is_undone_with_a_reason(app, small):
    handed_in(app, "october.csv", GOOD)
    assert len(Store(small).read("readings")) == 31
    page = opened(app, "batch", part="batches")
    page.text_input(key="undo-why").set_value("wrong engine")
    widget(page.button, "Undo the batch").click().run()
    assert not page.exception, page.exception
    assert len(Store(small).read("readings")) == 30
    assert Store(small).batches()["command"].iloc[0] == "undo"


def test_an_undo_without_a_reason_is_refused(app, small):
    handed_in(app, "october.csv", GOOD)
    page = opened(app, "batch", part="batches")
    widget(page.button, "Undo the batch").click().run()
    assert any("reason" in error.value for error in page.error)
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


def test_a_sheet_of_another_make_is_proposed_previewed_and_added(app, small):
    page = opened(app, "batch", part="layout")
    page.file_uploader(key="layout-file").upload("wheel book.csv", OWN_MAKE).run()
    assert not page.exception, page.exception
    text = page.text_area(key="layout-text").value
    assert "table" in text
    page.text_area(key="layout-text").set_value(LAYOUT).run()
    assert not page.error, page.error[0].value
    widget(page.button, "Add the file with this layout").click().run()
    assert not page.exception, page.exception
    assert counts(page)["Accepted"] == "2"
    stored = Store(small).read("readings")
    assert stored.loc[stored["date"] == "2023-09-20", "value"].tolist() == pytest.approx([4.6, 4.1])


def at_wheel(app, place="driver-2-L"):
    page = opened(app, "engine")
    page.session_state["engine-gear-Nettle"] = {"place": f"0:{place}"}
    return page.run()


def test_a_reading_is_judged_at_once_kept_and_saved(app, small):
    page = at_wheel(app)
    assert "Expected now" in said(page)
    assert "The mileage log ends on 1 October 2023" in said(page)
    page.number_input(key="engine-odometer").set_value(9100.0).run()
    page.text_input(key="engine-value-N-D2L-HOLLOW").set_value("19/64").run()
    assert "Within the condemning limit, past the shop limit" in said(page)
    widget(page.button, "Keep this reading").click().run()
    assert "19/64" in said(page)
    widget(page.button, "Save 1 as a batch").click().run()
    assert not page.exception, page.exception
    assert counts(page)["Accepted"] == "1", said(page)
    assert Store(small).read("readings")["value_text"].tolist().count("19/64") == 1


def test_past_the_limit_and_far_from_expected_is_said(app):
    page = at_wheel(app)
    page.text_input(key="engine-value-N-D2L-HOLLOW").set_value("9/16").run()
    assert "Past the condemning limit" in said(page)
    assert "Measure again" in said(page)


def test_a_reading_that_is_none_cannot_be_kept(app):
    page = at_wheel(app)
    page.text_input(key="engine-value-N-D2L-HOLLOW").set_value("about half").run()
    assert "cannot be read" in said(page)
    assert "Keep this reading" not in [button.label for button in page.button]


def test_a_kept_reading_can_be_taken_out_again(app):
    page = at_wheel(app)
    page.text_input(key="engine-value-N-D2L-HOLLOW").set_value("19/64").run()
    widget(page.button, "Keep this reading").click().run()
    widget(page.button, "Take out").click().run()
    assert "Save 1 as a batch" not in [button.label for button in page.button]


def test_the_case_turns_with_its_knobs(app):
    page = opened(app, "case")
    asked = counts(page)["What it takes"]
    widget(page.selectbox, "Enough in").set_value("95").run()
    assert not page.exception, page.exception
    surer = counts(page)["What it takes"]

    def money(text):
        return float(text.strip("$").replace(",", ""))

    assert money(surer) > money(asked)
    assert page.query_params["sure"] == "95"


def test_the_lines_of_the_case_add_up_and_lead_to_wear_points(app):
    page = opened(app, "case")
    lines = page.dataframe[0].value
    total = float(counts(page)["What it takes"].strip("$").replace(",", ""))
    asked = lines["Enough in 8 of 10 cases [USD]"]
    assert lines["Work"].iloc[0] == "All together"
    assert asked.iloc[0] == total
    assert asked.iloc[1:].sum() == total


@pytest.mark.parametrize(
    ("under", "column"),
    [
        ("gifts", "Costs about [USD]"),
        ("mile", "Used up by one km [USD]"),
        ("miles", "Half within [km]"),
    ],
)
def test_other_figures_of_the_case_lead_to_wear_points_too(app, under, column):
    page = opened(app, "case", under=under, distance="km")
    figures = page.dataframe[0].value
    assert (figures["From"] <= figures[column]).all()
    assert (figures[column] <= figures["To"]).all()
    if under == "mile":
        whole, parts = figures[column].iloc[0], figures[column].iloc[1:]
        assert parts.sum() == pytest.approx(whole)
    page.session_state[f"case-{under}-line"] = {"selection": {"rows": [0], "columns": [], "cells": []}}
    page.run()
    assert not page.exception, page.exception
    assert f"get-case-{under}-points.csv" in [button.key for button in page.get("download_button")]


def test_an_excursion_is_typed_in_the_chosen_unit_and_its_parts_add_up(app):
    page = opened(app, "case", trip="62.1371", distance="km")
    assert widget(page.number_input, "Distance of a running day [km]").value == 100.0
    widget(page.number_input, "Running days").set_value(3).run()
    widget(page.number_input, "Seats sold each day").set_value(100).run()
    assert not page.exception, page.exception
    assert (page.query_params["trip-days"], page.query_params["trip-seats"]) == ("3", "100")
    assert "3 running days, 300 kilometres in all" in said(page)
    assert "Each of the 300 seats sold must carry" in said(page)
    parts = page.dataframe[1].value["Uses up about [USD]"]
    assert parts.iloc[1:].sum() == parts.iloc[0] > 0
    widget(page.number_input, "Running days").set_value(6).run()
    assert page.dataframe[1].value["Uses up about [USD]"].iloc[0] == pytest.approx(
        2 * parts.iloc[0], rel=0.01
    )


def test_a_distance_that_is_none_in_the_address_counts_as_the_usual_day(app):
    page = opened(app, "case", trip="far")
    assert widget(page.number_input, "Distance of a running day [mi]").value >= 1
    assert not page.exception


def test_the_page_takes_currency_and_words_of_the_settings_file(app, small):
    settings = small.parent / "brief.toml"
    settings.write_text('[brief]\ntitle = "Keep Nettle"\ncurrency = "EUR"\n[rates]\nUSD = 0.5\n')
    page = opened(app, "case")
    assert counts(page)["What it takes"].startswith("€")
    settings.write_text("[brief]\npaper = 4\n")
    page.run()
    assert "paper is 4. Expected a4 or letter" in page.error[0].value.replace("\\", "")


def test_a_case_is_kept_for_donors(app, small):
    page = opened(app, "case")
    widget(page.button, "Keep this case").click().run()
    assert not page.exception, page.exception
    assert len(Store(small).runs("case")) == 1


def test_scoring_is_asked_for_and_then_shown(app, small):
    page = opened(app, "record")
    assert "Nothing has been scored yet" in said(page)
    widget(page.button, "Score now").click().run(timeout=120)
    assert not page.exception, page.exception
    assert len(Store(small).runs("score")) == 1
    assert "later readings" in said(page)


def test_formulas_are_there_for_those_who_want_them(app):
    page = opened(app, "how")
    assert not page.latex
    page.toggle(key="formulas").set_value(True).run()
    assert len(page.latex) >= 4


@pytest.mark.parametrize(
    ("part", "words"),
    [("checks", "Check"), ("tires", "Engine"), ("boxes", "driving box"), ("due", "Inspection")],
)
def test_what_must_agree_opens_part_by_part(app, part, words):
    page = opened(app, "fit", part=part)
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
