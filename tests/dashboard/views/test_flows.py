"""Each of the three users' ways through the pages, end to end, in a real browser."""

import csv
import io
import re
import shutil

import pytest
from pypdf import PdfReader

from ingest.store import Store

pytestmark = pytest.mark.browser


def read(download):
    with open(download.path(), "rb") as file:
        return file.read()


@pytest.fixture
def changed(made_store, tmp_path, serve):
    """A server of one's own over a copy of the small railway: its address and its store."""
    db = tmp_path / "small.duckdb"
    shutil.copy(made_store, db)
    with serve(db) as address:
        yield address, Store(db)


def test_the_officer_goes_from_the_drawing_to_a_wear_point_and_back(served, browser_page):
    page = browser_page()
    page.open(served)
    wheel = page.page.get_by_role("button", name=re.compile("^driver 3 left")).first
    wheel.click()
    page.page.get_by_role("heading", name=re.compile("driver 3 left")).wait_for()
    assert wheel.get_attribute("aria-pressed") == "true"
    listed = page.page.get_by_role("table", name=re.compile("wear points at this place"))
    name = listed.get_by_role("button").first.inner_text()
    listed.get_by_role("button").first.click()
    page.page.get_by_role("heading", name=name, level=1).wait_for()
    assert "/point?" in page.page.url
    address = page.page.url
    page.page.go_back()
    page.page.get_by_role("heading", name="What will stop us first?").wait_for()
    page.open(address)  # as a link that somebody sends
    page.page.get_by_role("heading", name=name, level=1).wait_for()


def test_the_drawing_is_worked_by_keyboard_alone(served, browser_page):
    page = browser_page()
    page.open(served)
    wheel = page.page.get_by_role("button", name=re.compile("^driver 2 right")).first
    wheel.focus()
    page.page.keyboard.press("Enter")
    page.page.get_by_role("heading", name=re.compile("driver 2 right")).wait_for()
    page.settle()
    focused = "() => document.activeElement.shadowRoot?.activeElement?.dataset?.place"
    assert page.page.evaluate(focused).endswith("driver-2-R")  # the rerun left the focus where it was
    page.page.keyboard.press("Tab")
    assert page.page.evaluate(focused) not in (None, "0:driver-2-R")
    page.page.keyboard.press("Space")
    page.settle()
    assert page.page.evaluate(focused)


def test_units_and_vehicle_stay_from_page_to_page(served, browser_page):
    page = browser_page()
    page.open(f"{served}/?vehicle=Hobnail&length=mm&distance=km")
    assert "Quillon" not in page.page.locator("[data-testid=stMain]").inner_text()
    page.page.get_by_role("link", name="One wear point").click()
    page.page.wait_for_url("**/point?**")
    page.settle()
    for kept in ("vehicle=Hobnail", "length=mm", "distance=km"):
        assert kept in page.page.url
    assert page.page.get_by_test_id("stMetricValue").first.inner_text().endswith(" mm")


def test_every_table_and_picture_can_be_taken_along(served, browser_page):
    page = browser_page()
    page.open(f"{served}/point?point=Q-D2L-HOLLOW")
    got = {}
    for word in ("CSV", "XLSX", "SVG", "PNG"):
        with page.page.expect_download() as download:
            page.page.get_by_test_id("stDownloadButton").get_by_text(word, exact=True).first.click()
        got[word] = read(download.value)
    rows = list(csv.reader(io.StringIO(got["CSV"].decode("utf-8-sig"))))
    headings = ["Life", "Date", "Miles in all", "What", "Value", "Expected (8 times in 10)", "Remark"]
    assert rows[0] == [*headings, "Gauge", "Measured by", "Note", "From"]
    assert len(rows) > 20
    assert got["XLSX"][:2] == b"PK"
    assert b"condemning limit" in got["SVG"]
    assert got["PNG"][:8] == b"\x89PNG\r\n\x1a\n"


def part(page, name):
    """Go to a part of the page about batches."""
    page.page.get_by_test_id("stButtonGroup").get_by_text(name, exact=True).click()
    page.settle()


MIXED = (
    b"point,date,value,unit\n"
    b"N-D1L-HOLLOW,2023-09-20,0.21,in\n"
    b"N-D1L-HOLLOW,2023-09-25,0.21,in\n"
    b"N-D1L-HOLLOW,2023-09-28,o.215,in\n"
)


def test_the_analyst_adds_mends_forecasts_and_sees_what_moved(changed, browser_page):
    address, store = changed
    page = browser_page()
    page.open(f"{address}/batch")
    file = {"name": "september.csv", "mimeType": "text/csv", "buffer": MIXED}
    page.page.locator("input[type=file]").set_input_files(file)
    page.page.get_by_role("button", name="Add these files").click()
    page.page.get_by_text("Stored as batch 2").wait_for()
    page.settle()
    labels, values = (
        page.page.get_by_test_id(f"stMetric{part}").all_inner_texts() for part in ("Label", "Value")
    )
    figures = dict(zip(labels, values, strict=True))
    assert figures == {"Rows handed in": "3", "Accepted": "2", "Held back": "1", "Already known": "0"}
    page.whole("flow-batch-verdicts")

    part(page, "Held back (1)")
    page.settle()
    grid = page.page.get_by_test_id("stDataFrame").first
    box = grid.bounding_box()
    page.page.mouse.click(box["x"] + 18, box["y"] + 52)  # the tick box of the first row; the grid is a canvas
    page.page.get_by_role("textbox", name="value", exact=True).wait_for()
    page.page.get_by_role("textbox", name="value", exact=True).fill("0.215")
    page.page.get_by_role("textbox", name="Why (kept with the correction)").fill("letter o for a nought")
    page.whole("flow-mend")
    page.page.get_by_role("button", name="Correct").click()
    page.page.get_by_text("Corrected and stored as batch 3").wait_for()
    assert store.held()["outcome"].tolist() == ["mended"]

    part(page, "Add files")
    page.page.get_by_role("button", name="Forecast again with this batch").click()
    page.page.get_by_role("button", name="Forecast again with this batch").wait_for(state="detached")
    assert len(store.runs("forecast")) == 2
    part(page, "What moved")
    page.page.get_by_text("Sooner at the limit than thought").wait_for()
    page.whole("flow-moved")


def test_the_fundraiser_turns_the_case_and_takes_the_brief(served, browser_page):
    page = browser_page()
    page.open(f"{served}/case")
    asked = page.page.get_by_test_id("stMetricValue").first.inner_text()
    page.page.get_by_role("combobox", name="The sum is enough").click()
    page.page.get_by_role("option", name="19 times in 20").click()
    page.page.wait_for_url("**sure=95**")
    page.settle()
    surer = page.page.get_by_test_id("stMetricValue").first.inner_text()
    assert surer != asked
    with page.page.expect_download() as download:
        page.page.get_by_role("button", name="Brief as PDF").click()
    reader = PdfReader(io.BytesIO(read(download.value)))
    text = " ".join(sheet.extract_text() for sheet in reader.pages)
    assert surer in text
    assert "supports and never replaces inspection" in re.sub(r"\s+", " ", text)


def test_the_fundraiser_types_an_excursion_and_follows_it_to_a_wear_point(served, browser_page):
    page = browser_page()
    page.open(f"{served}/case?engine=Quillon&trip-days=2")
    box = page.page.get_by_label("Distance of a running day [mi]")
    box.fill("100")
    box.press("Tab")
    page.page.wait_for_url("**trip=100**")
    page.page.get_by_text("2 running days, 200 miles in all").wait_for()
    page.page.reload()
    page.page.get_by_text("2 running days, 200 miles in all").wait_for()  # the address holds it
    page.settle()
    grid = page.page.get_by_test_id("stDataFrame").nth(1)
    grid.scroll_into_view_if_needed()
    grid.click(position={"x": 20, "y": 90})  # the box before the second line
    listed = page.page.get_by_role("table", name=re.compile("wear points under this line"))
    listed.wait_for()
    name = listed.get_by_role("button").first.inner_text()
    listed.get_by_role("button").first.click()
    page.page.get_by_role("heading", name=name, level=1).wait_for()


def test_a_reading_at_the_engine_by_telephone(changed, browser_page):
    address, store = changed
    page = browser_page("phone")
    page.open(f"{address}/engine")
    page.page.get_by_text(f"{address}/pit/").wait_for()
    page.whole("flow-engine-doorway")
    with page.page.context.expect_page() as opened:
        page.page.get_by_role("link", name="Take readings").click()
    pit = opened.value
    pit.wait_for_selector("body[data-ready]")
    pit.get_by_label("Who reads").fill("A. Reader")
    pit.get_by_label(re.compile("^Odometer")).fill("9100")
    pit.get_by_role("button", name="Begin").click()
    pit.wait_for_selector("#setup-box", state="hidden")
    where = pit.inner_text("#where")
    pit.keyboard.type("19/64")
    pit.keyboard.press("Enter")
    pit.wait_for_function("() => document.getElementById('says').textContent.includes('19/64. Kept')")
    pit.wait_for_function("() => document.getElementById('sent').textContent.startsWith('All sent')")
    assert where
    assert "19/64" in store.read("readings")["value_text"].tolist()


EVIL = "<img src=x onerror=alert(1)> [go](http://evil.example) **b** http://evil.example :smile: $x$"


def test_names_out_of_files_stay_names_on_every_page(tmp_path, serve, browser_page):
    from dashboard.services.forecasting import run_forecast
    from ingest.verdicts.add import add_files

    rows = [["vehicle", "name", "arrangement"], [EVIL, EVIL, "2-6-0"]]
    points = [
        [
            "point",
            "vehicle",
            "component",
            "position",
            "quantity",
            "unit",
            "new_value",
            "condemning_limit",
            "limit_source",
        ]
    ]
    points += [
        [f"P{n} {EVIL}", EVIL, f"tire {EVIL}", "driver 1 left", f"hollow {EVIL}", "in", "0", "0.3125", EVIL]
        for n in (1, 2)
    ]
    log = [["vehicle", "date", "odometer"], [EVIL, "2020-01-01", "0"], [EVIL, "2023-01-01", "9000"]]
    readings = [["point", "date", "value", "observer", "note"]]
    readings += [
        [f"P{n} {EVIL}", f"202{y}-06-01", f"0.{y}{n}", EVIL, EVIL] for n in (1, 2) for y in (0, 1, 2)
    ]
    readings += [[f"P1 {EVIL}", "2022-07-01", EVIL, EVIL, EVIL]]
    for name, table in {
        "vehicles": rows,
        "wear_points": points,
        "mileage": log,
        "readings": readings,
    }.items():
        with (tmp_path / f"{name}.csv").open("w", newline="") as file:
            csv.writer(file).writerows(table)
    store = Store(tmp_path / "evil.duckdb")
    add_files(store, sorted(tmp_path.glob("*.csv")))
    run_forecast(store)
    assert len(store.read("readings")) == 6
    with serve(store.path) as address:
        page = browser_page()
        dialogs = []
        page.page.on("dialog", lambda dialog: (dialogs.append(dialog.message), dialog.dismiss()))
        for path in ("", "point", "engine", "batch?part=held", "batch?part=batches", "case"):
            page.open(f"{address}/{path}")
            assert page.page.locator("img[src=x]").count() == 0
            assert page.page.locator("a[href*='evil.example']").count() == 0
            assert page.page.get_by_text("😄").count() == 0
        assert dialogs == []
