"""The page of an opening without a browser: begun, parts examined, closed."""

from pages.without_browser import opened, said, widget

from ingest.store import Store


def pressed(page, label):
    widget(page.button, label).click().run()
    assert not page.exception, page.exception
    return page


def begun(app):
    page = opened(app, "opening")
    assert "No opening is on record yet" in said(page)
    widget(page.text_input, "Where").set_value("own shop")
    pressed(page, "Begin")
    assert "is open." in said(page)
    return page


def examined(page, position, defect, **more):
    widget(page.selectbox, "Component").set_value("driver tire").run()
    widget(page.selectbox, "Position").set_value(position)
    widget(page.selectbox, "What was found").set_value(defect)
    for label, value in more.items():
        widget(page.text_input, label.replace("_", " ")).set_value(value)
    return pressed(page, "Keep this finding")


def test_an_opening_is_begun_and_its_parts_are_examined(app, small):
    page = begun(app)
    page = opened(page, "opening", part="findings")
    page = examined(page, "driver 1 left", "crack", Where_on_the_part="fillet", Size="3/4 in")
    page = examined(page, "driver 1 right", "nothing found")
    text = said(page)
    assert "2 examined, 1 defective" in text
    assert "driver tire, driver 1 left, fillet: crack, 0.750 in" in text
    rows = Store(small).read("defects")
    assert rows["opening"].nunique() == 1
    assert sorted(rows["defect"]) == ["crack", "nothing found"]


def test_a_line_is_told_again_without_losing_what_was_told_of_it(app, small):
    page = opened(begun(app), "opening", part="scope")
    for label, text in (("Component", "smokebox door"), ("What is done", "welded"), ("Trade", "welding")):
        widget(page.text_input, label).set_value(text)
    widget(page.text_input, "Price of all of it").set_value("120")
    page = pressed(page, "Keep this line")
    assert Store(small).read("scope_lines")["state"].tolist() == ["open"]
    widget(page.selectbox, "Line").set_value(1).run()
    widget(page.selectbox, "It is").set_value("done")
    pressed(page, "Keep this line")
    row = Store(small).read("scope_lines").iloc[0]
    assert (row["state"], row["trade"], row["cost"]) == ("done", "welding", 120.0)


def test_a_size_that_is_none_is_refused_and_nothing_is_kept(app, small):
    page = opened(begun(app), "opening", part="findings")
    page = examined(page, "driver 1 left", "crack", Size="large")
    assert "Expected a length" in said(page)
    assert Store(small).read("defects").empty
