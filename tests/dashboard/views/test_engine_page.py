"""Readings at the engine: judged at once, kept, saved as a batch."""

import pytest
from pages.without_browser import counts, opened, said, widget

from ingest.store import Store


def at_wheel(app, place="driver-2-L"):
    page = opened(app, "engine")
    page.session_state["engine-gear-Nettle"] = {"place": f"0:{place}"}
    return page.run()


def test_a_reading_is_judged_at_once_kept_and_saved(app, small):
    page = at_wheel(app)
    assert "Expected now" in said(page)
    assert "Its last entry in the log: 9,000 mi on 1 October 2023" in said(page)
    assert "This will be held back" in said(page)  # by its plan it has run for years since
    assert "by its plan and its earlier seasons it has run" in said(page)
    page.number_input(key="engine-odometer-Nettle").set_value(9100.0).run()
    assert "This will be held back" not in said(page)
    page.text_input(key="engine-value-N-D2L-HOLLOW").set_value("19/64").run()
    assert "Within the condemning limit, past the shop limit" in said(page)
    widget(page.button, "Keep this reading").click().run()
    assert "19/64" in said(page)
    widget(page.button, "Save 1 as a batch").click().run()
    assert not page.exception, page.exception
    assert counts(page)["Accepted"] == "1", said(page)
    assert Store(small).read("readings")["value_text"].tolist().count("19/64") == 1


def test_past_the_limit_and_far_from_expected_is_said(reader):
    page = at_wheel(reader)
    page.text_input(key="engine-value-N-D2L-HOLLOW").set_value("9/16").run()
    assert "Past the condemning limit" in said(page)
    assert "Measure again" in said(page)


@pytest.mark.parametrize(("reading", "words"), [("0.29", "As expected."), ("0.31", "A little off")])
def test_a_reading_off_the_expected_range_is_said_to_be_so(reader, reading, words):
    page = at_wheel(reader)
    page.text_input(key="engine-value-N-D2L-HOLLOW").set_value(reading).run()
    assert words in said(page)


def test_a_reading_that_is_none_cannot_be_kept(reader):
    page = at_wheel(reader)
    page.text_input(key="engine-value-N-D2L-HOLLOW").set_value("about half").run()
    assert "cannot be read" in said(page)
    assert "Keep this reading" not in [button.label for button in page.button]


def test_a_kept_reading_can_be_taken_out_again(reader):
    page = at_wheel(reader)
    page.text_input(key="engine-value-N-D2L-HOLLOW").set_value("19/64").run()
    widget(page.button, "Keep this reading").click().run()
    widget(page.button, "Take out").click().run()
    assert "Save 1 as a batch" not in [button.label for button in page.button]
