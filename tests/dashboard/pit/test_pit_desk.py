"""A written sheet typed in at the desk with the keyboard alone, and the sheet that it was written on."""

import io
import json
import shutil
import time
from datetime import date

import pytest
from axe_playwright_python.sync_playwright import Axe
from knocking.servers import serving
from PIL import Image
from pypdf import PdfReader

from dashboard.papers.round_sheet import ROWS, parts_of
from dashboard.pit.rounds import round_of
from dashboard.pit.sheets import kept
from ingest.store import Store

pytestmark = pytest.mark.browser

LINES = 60


@pytest.fixture(scope="module")
def railway(demo_store, tmp_path_factory):
    """The demo railway served, and its store."""
    path = tmp_path_factory.mktemp("desk") / "desk.duckdb"
    shutil.copy(demo_store, path)
    with serving(path) as address:
        yield address, Store(path)


def plausible(point):
    """A value between new and limit, written as the sheet would have it."""
    ends = [point[name] for name in ("new", "condemning") if point[name] is not None]
    return f"{sum(ends) / len(ends):.4g}" if ends else "1"


def test_sixty_readings_of_a_sheet_are_typed_by_keyboard_alone(railway, chromium):
    address, store = railway
    told = round_of(store, "Quillon", date.today())  # the page's own day
    names = [point["point"] for point in told["points"]]
    codes = [sheet["code"] for sheet in kept(store, "Quillon", parts_of(names, "a4"))]
    page = chromium.new_page(viewport={"width": 1440, "height": 900})
    page.set_default_timeout(60_000)
    page.goto(f"{address}/pit/desk?vehicle=Hobnail")  # the code leads to its engine
    page.wait_for_selector("body[data-ready]")
    found = Axe().run(page).response["violations"]
    assert [each["id"] for each in found] == []
    began = time.perf_counter()
    written = [(point["point"], plausible(point)) for point in told["points"][:LINES]]
    for place, (name, value) in enumerate(written):
        if place % ROWS["a4"] == 0:  # the last line led to the field of the code
            page.keyboard.type(codes[place // ROWS["a4"]])
            page.keyboard.press("Enter")
            page.wait_for_function("() => document.activeElement.closest('tr')")
        assert page.evaluate("() => document.activeElement.closest('tr').dataset.point") == name
        page.keyboard.type(value)
        page.keyboard.press("Enter")
        row = f'tr[data-point="{name}"]'
        page.wait_for_function(
            "row => { const r = document.querySelector(row); return r.dataset.kept || r.dataset.asked; }",
            arg=row,
        )
        if not page.get_attribute(row, "data-kept"):  # it is far from expected: asked once, then it stands
            page.keyboard.press("Enter")
            page.wait_for_selector(f"{row}[data-kept]")
    seconds = time.perf_counter() - began
    page.wait_for_function(
        "() => document.getElementById('sent').textContent.startsWith('All sent')", timeout=180_000
    )
    print(f"{LINES} readings typed in {seconds:.1f} s")  # a figure for people, not held here
    stored = store.read("readings")
    stored = stored[stored["client_id"] != ""]
    held = [json.loads(raw) for raw in store.held()["raw"]]
    came = set(zip(stored["point"], stored["value_text"], strict=True))
    came |= {(row.get("point"), row.get("value")) for row in held}
    assert set(written) <= came
    page.close()


def test_the_sheet_is_printed_and_a_scan_lies_beside_the_entry(railway, chromium):
    address, _ = railway
    page = chromium.new_page(viewport={"width": 1440, "height": 900})
    page.set_default_timeout(60_000)
    page.goto(f"{address}/pit/desk?vehicle=Hobnail")
    page.wait_for_selector("body[data-ready]")
    answer = page.request.get(f"{address}/pit/api/sheet?vehicle=Hobnail&paper=letter&places=all")
    assert answer.headers["content-type"] == "application/pdf"
    paper = "".join(p.extract_text() for p in PdfReader(io.BytesIO(answer.body())).pages)
    assert "driver 1 left" in paper
    assert "c: looks cracked" in paper
    for wrong in ("paper=a5", "places=some"):
        assert page.request.get(f"{address}/pit/api/sheet?vehicle=Hobnail&{wrong}").status == 400
    scan = io.BytesIO()
    Image.new("RGB", (60, 80), "#ffffff").save(scan, "PNG")
    page.set_input_files("#scan", {"name": "s.png", "mimeType": "image/png", "buffer": scan.getvalue()})
    page.wait_for_function("() => document.getElementById('sheet-image').naturalWidth === 60")
    page.fill("#code", "XXXXX")
    page.press("#code", "Enter")
    page.wait_for_function(
        "() => document.getElementById('says').textContent.includes(\"'XXXXX' was printed\")"
    )
    page.close()


def typed(page, point, text):
    """A line filled and entered; what is said beside it."""
    row = page.locator(f'tr[data-point="{point}"]')
    row.locator("input").fill(text)
    row.locator("input").press("Enter")
    return row.locator("td:nth-child(4)")


def test_a_line_has_its_note_says_what_was_not_reached_and_asks_before_a_second_reading(railway, chromium):
    address, store = railway
    point = next(each for each in round_of(store, "Hobnail", date.today())["points"] if each["condemning"])
    name, value = point["point"], plausible(point)
    page = chromium.new_page(viewport={"width": 1440, "height": 900})
    page.set_default_timeout(60_000)
    page.goto(f"{address}/pit/desk?vehicle=Hobnail")
    page.wait_for_selector("body[data-ready]")
    page.fill("#odometer", "1")
    assert "does not fit its last entry" in page.inner_text("#odometer-doubt")
    page.fill("#odometer", "")
    assert "before the semicolon" in typed(page, name, "; by lamp").inner_text()
    typed(page, name, f"{value}; by lamp")
    if not page.get_attribute(f'tr[data-point="{name}"]', "data-kept"):  # far from expected
        typed(page, name, f"{value}; by lamp")
    page.wait_for_selector(f'tr[data-point="{name}"][data-kept]')
    typed(page, name, "n; behind the brake gear")
    row = page.locator(f'tr[data-point="{name}"]')
    assert "is kept for this line already. Enter again keeps this one beside it" in row.inner_text()
    row.locator("input").press("Enter")
    page.wait_for_function(
        "row => document.querySelector(row).innerText.includes('could not be reached: kept')",
        arg=f'tr[data-point="{name}"]',
    )
    said = typed(page, name, "c; at the fillet")  # beside the reading, and not asked about
    page.wait_for_function(
        "row => document.querySelector(row).innerText.includes('kept as a finding')",
        arg=f'tr[data-point="{name}"]',
    )
    assert "looks cracked" in said.inner_text()
    page.wait_for_function(
        "() => document.getElementById('sent').textContent.startsWith('All sent')", timeout=180_000
    )
    cracks = store.read("defects")
    cracks = cracks[cracks["client_id"] != ""] if "client_id" in cracks else cracks
    assert cracks.loc[cracks["point"] == name, ["defect", "note"]].to_numpy().tolist() == [
        ["looks cracked", "at the fillet"]
    ]
    events = store.read("events")
    assert events.loc[events["point"] == name, "note"].tolist() == ["behind the brake gear"]
    readings = store.read("readings")
    mine = readings[(readings["point"] == name) & (readings["client_id"] != "")]
    notes = mine["note"].tolist() + [json.loads(raw).get("note", "") for raw in store.held()["raw"]]
    assert "by lamp" in notes
    page.reload()
    page.wait_for_selector("body[data-ready]")
    assert "Noted for this day" in page.inner_text(f'tr[data-point="{name}"]')  # where to go on
    page.close()
