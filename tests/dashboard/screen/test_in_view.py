"""What stands at the head of a page: the vehicle and the day that its forecast is of."""

from streamlit.testing.v1 import AppTest


def two_vehicles():
    from dataclasses import replace

    import pandas as pd

    from dashboard.screen.in_view import InView, heading
    from dashboard.words.units_shown import Units

    days = pd.to_datetime(["2026-11-14", "2026-10-31"])
    forecast = pd.DataFrame({"vehicle": ["Ash", "Birch"], "as_of": days})
    every = InView("run", "", forecast, forecast, Units())
    for view in (every, replace(every, vehicle="Ash"), replace(every, vehicle="Birch")):
        heading("What?", view)


def test_the_head_of_a_page_names_the_day_of_its_own_vehicle():
    page = AppTest.from_function(two_vehicles, default_timeout=30).run()
    assert not page.exception
    assert [words.value for words in page.markdown] == [
        "all vehicles · as of 14 November 2026",
        "Ash · as of 14 November 2026",
        "Birch · as of 31 October 2026",
    ]
