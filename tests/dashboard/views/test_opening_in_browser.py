"""An opening in a real browser, from the first finding to the as-left record: desk and telephone."""

import re
import shutil

import pytest

from ingest.store import Store

pytestmark = pytest.mark.browser


@pytest.fixture
def changed(made_store, tmp_path, serve):
    """A server of one's own over a copy of the small railway, its log years old: address and store."""
    db = tmp_path / "small.duckdb"
    shutil.copy(made_store, db)
    with serve(db) as address:
        yield address, Store(db)


def choose(page, label, option):
    page.page.get_by_role("combobox", name=re.compile(f"^{label}|{label}$")).first.click()
    page.page.keyboard.type(option)  # a long list shows only some of its options
    page.page.get_by_role("option", name=option, exact=True).click()
    page.settle()  # what depends on the choice comes anew


def press(page, name):
    page.page.get_by_role("button", name=name).first.click()
    page.settle()


def test_from_the_first_finding_to_the_as_left_record(changed, browser_page):
    address, store = changed
    desk = browser_page("desk")
    desk.open(f"{address}/opening")
    desk.page.get_by_text("An engine is opened", exact=True).click()
    desk.page.get_by_label("Where").fill("own shop")
    press(desk, "Begin")
    desk.page.get_by_text("is open.").wait_for()
    name = store.read("openings")["opening"].iloc[0]

    phone = browser_page("phone")
    phone.open(f"{address}/opening?part=findings")
    phone.page.get_by_label("Where on the part").fill("fillet")
    phone.page.get_by_label("Found by").fill("E.L.")
    choose(phone, "What was found", "crack")
    choose(phone, "Verdict", "renew")
    press(phone, "Keep this finding")
    phone.page.get_by_text("1 examined, 1 defective").wait_for()
    phone.page.get_by_text("by E.L.").wait_for()
    wide = phone.page.evaluate("() => document.querySelector('[data-testid=stMain]').scrollWidth")
    assert wide <= phone.page.viewport_size["width"]
    phone.whole("opening-findings-fitter")

    desk.open(f"{address}/opening?part=scope")
    desk.page.get_by_text("To finish, enough 8 times in 10").wait_for()
    assert desk.page.get_by_role("gridcell", name="None").count() == 0
    desk.whole("opening-scope-officer")

    phone.open(f"{address}/opening?part=left")
    phone.page.get_by_text("would be held back").wait_for()  # said before anything is typed
    last = store.read("mileage").query("vehicle == 'Nettle'")["odometer_read"].iloc[-1]
    phone.page.get_by_label(re.compile("^Odometer")).fill(f"{last:.0f}")
    press(phone, "Add to the mileage log")
    phone.page.get_by_text("The mileage log of Nettle goes on to").wait_for()
    assert phone.page.get_by_text("would be held back").count() == 0
    choose(phone, "Dimension", "crosshead, vertical clearance: left")
    phone.page.get_by_label(re.compile(r"^As left \[")).fill("0.3")
    phone.page.keyboard.press("Enter")
    phone.page.get_by_text("Past its limit").wait_for()
    phone.page.get_by_label(re.compile(r"^As left \[")).fill("0.016")
    phone.page.keyboard.press("Enter")
    phone.page.get_by_text("Within its limits").wait_for()
    phone.settle()
    choose(phone, "The part was", "renewed")
    phone.settle()
    press(phone, "Keep this dimension")
    assert phone.page.get_by_label(re.compile(r"^As left \[")).input_value() == ""
    press(phone, "Store 1 as left")
    phone.page.get_by_text("They begin the new lives").wait_for()
    phone.settle()
    assert phone.page.get_by_text("Kept so far").count() == 0
    phone.whole("opening-left-fitter")
    row = store.read("readings").query("found_or_left == 'left'").iloc[0]
    assert (row["opening"], row["point"]) == (name, "N-XH-L")
    assert store.read("work")["action"].tolist() == ["renewed"]

    desk.open(f"{address}/opening?part=papers")
    with desk.page.expect_download() as got:
        desk.page.get_by_role("button", name="PDF").nth(2).click()
    with open(got.value.path(), "rb") as file:
        assert file.read(5) == b"%PDF-"
    desk.whole("opening-papers-officer")
