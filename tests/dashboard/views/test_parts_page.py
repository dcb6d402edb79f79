"""The page of parts: nothing told, then an exchange told on it, and what the wear point's page says then."""

from datetime import date

from pages.without_browser import opened, said, widget

from dashboard.services.forecasting import run_forecast
from ingest.store import Store


def test_a_railway_that_names_no_part_is_told_so(reader):
    assert "wear belongs to its place" in said(opened(reader, "parts"))


def test_an_exchange_is_told_on_the_page_and_seen_on_that_of_the_wear_point(app, small):
    page = opened(app, "parts")
    points = Store(small).read("wear_points")
    drivers = points[points["quantity"] == "tread hollow"]
    vehicle = str(drivers["vehicle"].iloc[0])
    page.selectbox(key="swap-kind").set_value("wheelset").run()
    page.selectbox(key="swap-vehicle").set_value(vehicle).run()
    places = page.selectbox(key="swap-one").options
    page.selectbox(key="swap-one").set_value(places[0])
    page.selectbox(key="swap-other").set_value(places[1])
    page.date_input(key="swap-day").set_value(date(2023, 1, 15))
    widget(page.button, "Save").click().run()
    assert not page.exception, page.exception
    fittings = Store(small).read("fittings")
    assert len(fittings) == 4
    assert len(Store(small).read("parts")) == 2
    run_forecast(Store(small))
    (fitted,) = [
        each.proto.body
        for each in opened(app, "parts").get("html")
        if ">Places so far</th>" in each.proto.body
    ]
    assert fitted.count('data-head="Since">15 Jan 2023</td>') == 2
    point = drivers[drivers["position"].str.startswith(places[0])]["point"].iloc[0]
    page = opened(app, "point", point=point)
    assert f"Part wheelset {vehicle} {places[1]}** is fitted here since 15 Jan 2023" in said(page)
    (story,) = [table.value for table in page.dataframe if "From" in table.value]
    remarks = set(story["Remark"])
    assert "of the part that was here before" in remarks
    assert any(remark.startswith("read at ") for remark in remarks)
