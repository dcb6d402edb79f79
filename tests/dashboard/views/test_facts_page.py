"""The page of facts and what follows from it: stated once in a form, known to checks and inspections."""

import pandas as pd
from pages.without_browser import handed_in, opened, said, widget

from ingest.store import Store


def state(page, fact, value=None, unit=None, source="weighbridge"):
    page.selectbox(key="fact-name").set_value(fact).run()
    if value is not None:
        boxes = [*page.text_input, *page.selectbox]
        widget(boxes, "Value").set_value(value)
    if unit is not None:
        widget(page.selectbox, "Unit").set_value(unit)
    widget(page.text_input, "Source").set_value(source)
    widget(page.button, "State it").click().run()
    assert not page.exception, page.exception
    return page


def test_a_fact_is_stated_once_with_unit_source_and_day_and_decides_the_catalogue(app, small):
    page = opened(app, "facts")
    vehicle = str(widget(page.selectbox, "Facts of").value)
    state(page, "axle load", "22", "t")
    row = Store(small).read("facts").iloc[0]
    assert row[["vehicle", "fact", "value", "unit", "source"]].tolist() == [
        vehicle, "axle load", "22", "t", "weighbridge",
    ]  # fmt: skip
    assert pd.notna(row["date"])
    assert "axle load: 22 t" in said(page)
    state(page, "governing catalogue", "de-ebo")
    page.run()
    assert "Governing catalogue:** Germany, EBO Anlage 6 (stated)" in said(page)
    due = said(opened(app, "fit", part="due"))
    assert f"{vehicle}: no inspection intervals in the catalogue; governing catalogue Germany" in due


def test_a_fact_that_cannot_be_read_is_held_back_on_the_page(app, small):
    page = state(opened(app, "facts"), "axle load", "heavy", "lb")
    assert {metric.label: metric.value for metric in page.metric}["Held back"] == "1"
    assert Store(small).read("facts").empty


POINTS = b"""point,vehicle,component,position,quantity,unit,new_value,condemning_limit
X-PAD,Nettle,axlebox thrust pad,driver 1 left,thickness,in,1,0.5
X-TIRE,Nettle,driver tire,driver 1 left,width,in,6,5.5
"""


def test_what_names_were_taken_for_is_said_on_the_page_of_batches(app):
    text = said(handed_in(app, "points.csv", POINTS))
    assert "axlebox thrust pad, thickness (1): not recognised" in text
    assert "driver tire, width (1): recognised as tire, width" in text


def test_what_is_taken_and_what_is_not_stated_is_said(reader):
    page = opened(reader, "facts")
    text = said(page)
    assert "Governing catalogue" in text
    assert "Track gauge: standard (taken, as none is stated)." in text
    assert "rail brakes" in text  # what is not stated, and what uses it
