"""As left: a rod that would bind is seen while it is typed, and what was left begins the new lives."""

import pandas as pd
import pytest

from dashboard.papers.opening_papers import opening_paper, trade_of
from dashboard.papers.table_papers import paper_pdf, paper_workbook
from dashboard.shop.as_left import agree, left_in, problems_of, rows_to_store, typed
from dashboard.shop.openings import begin, close, find_opening, openings_of, record
from ingest.errors import WrongUsage
from ingest.store import Store
from ingest.verdicts.add import add_files
from models.lives.build import build_lives

POINTS = """point,vehicle,component,position,quantity,unit,new_value,shop_limit,condemning_limit
ROD,Nettle,side rod,driver 1-2 left,bore centers,in,60,,
GAP-L,Nettle,driving axle,driver 1-2 left,axle centers,in,60,,
GAP-R,Nettle,driving axle,driver 1-2 right,axle centers,in,60,,
SR-1,Nettle,side rod,driver 1 left,clearance,in,0.03,0.06,0.1875
SR-2,Nettle,side rod,driver 2 left,clearance,in,0.03,0.06,0.1875
"""
DAY = pd.Timestamp("2024-02-01").date()


@pytest.fixture
def shop(small, tmp_path):
    """An engine that lies open, with rods and axle spacing to be measured."""
    (tmp_path / "rods.csv").write_text(POINTS)
    store = Store(small)
    add_files(store, [tmp_path / "rods.csv"])
    begin(store, "Nettle", pd.Timestamp("2023-11-01").date(), depth="wheels_out")
    return store


def opening(store):
    return find_opening(openings_of(store), "Nettle")


def entry(store, point, text, **more):
    points = store.read("wear_points").set_index("point", drop=False)
    return typed(points.loc[point], text, DAY, **more)


def test_a_rod_that_would_bind_is_seen_before_it_is_stored(shop):
    base = [
        entry(shop, point, text) for point, text in (("SR-1", "0.03"), ("SR-2", "0.03"), ("GAP-L", "60.000"))
    ]
    fits = agree(shop, opening(shop), [*base, entry(shop, "ROD", "60.02")])
    binds = agree(shop, opening(shop), [*base, entry(shop, "ROD", "60.05")])
    assert not (problems_of(fits)["check"] == "tram").any()
    wrong = problems_of(binds).set_index("check").loc["tram"]
    assert wrong["found"] == pytest.approx(0.05 * 25.4)
    assert wrong["limit"] == pytest.approx(0.03 * 25.4)  # half of both clearances together
    assert shop.read("readings").query("point == 'ROD'").empty


def test_left_against_right_is_held_against_the_published_figure_of_its_catalogue(shop):
    record(shop, {"facts": [{"vehicle": "Nettle", "fact": "limit_set", "value": "de-ebo"}]})
    both = [entry(shop, "GAP-L", "1524.0 mm"), entry(shop, "GAP-R", "1524.7 mm")]
    wrong = problems_of(agree(shop, opening(shop), both)).set_index("check")
    assert wrong.loc["axle spacing, left against right", "limit"] == pytest.approx(
        0.5
    )  # DV 947/300, Anhang 14


def test_what_is_wrong_elsewhere_stays_in_the_list_while_something_else_is_typed(shop):
    record(shop, rows_to_store(opening(shop), [entry(shop, "SR-1", "0.25")]))
    alone = problems_of(agree(shop, opening(shop)))
    typed_too = problems_of(agree(shop, opening(shop), [entry(shop, "SR-2", "0.04")]))
    assert set(alone["points"]) <= set(typed_too["points"])
    assert len(alone)
    assert not typed_too["typed"].any()


def test_who_measured_and_the_unit_are_kept(shop):
    one = entry(shop, "SR-1", "0.031", by="E.L.")
    assert one.words == "0.031 in"
    record(shop, rows_to_store(opening(shop), [one]))
    assert shop.read("readings").query("point == 'SR-1'")["observer"].iloc[-1] == "E.L."


def test_a_pin_that_its_bushing_would_grip_is_seen_before_the_rod_is_hung(shop, tmp_path):
    rows = [
        "BORE,Nettle,side rod bushing,driver 1 left,bore,in,5,,",
        "PIN,Nettle,crank pin,driver 1 left,diameter,in,5,,",
    ]
    (tmp_path / "pins.csv").write_text("\n".join([POINTS.splitlines()[0], *rows]))
    add_files(shop, [tmp_path / "pins.csv"])
    pin = entry(shop, "PIN", "5.000")
    tight = problems_of(agree(shop, opening(shop), [pin, entry(shop, "BORE", "5.002")]))
    free = agree(shop, opening(shop), [pin, entry(shop, "BORE", "5.008")])
    check = "running fit of the rod on its pin"
    assert check in set(tight["check"])
    assert free.set_index("check").loc[check, "verdict"] == "within"


def test_what_is_no_dimension_is_refused(shop):
    with pytest.raises(WrongUsage, match="SR-1"):
        entry(shop, "SR-1", "tight")


def test_as_left_begins_the_new_life_and_stands_in_the_record(shop):
    kept = [entry(shop, "N-XH-L", "0.016", done="renewed", why="worn"), entry(shop, "SR-1", "1/32")]
    record(shop, rows_to_store(opening(shop), kept))
    left = left_in(shop, opening(shop)).set_index("point")
    assert left.loc[["N-XH-L", "SR-1"], "how"].tolist() == ["left", "left"]
    assert left.loc["N-D1L-HOLLOW", "how"] == ""
    lives = build_lives(shop.read_for_models("vehicles", "wear_points", "mileage", "readings", "work"))
    point = list(shop.read("wear_points")["point"]).index("N-XH-L")
    last = lives.in_service[point]
    assert lives.number[last] == 2
    assert lives.lives.wear[last, 0] == pytest.approx(0.001 * 25.4)
    close(shop, opening(shop), pd.Timestamp("2024-03-01").date())


@pytest.mark.parametrize(
    ("action", "told", "trade"),
    [
        ("cut", "", "machining"),
        ("welded up", "", "welding"),
        ("renewed", "", "fitting"),
        ("renewed", "Foundry", "foundry"),
    ],
)
def test_the_trade_of_a_line(action, told, trade):
    assert trade_of({"action": action, "trade": told}) == trade


def test_what_was_read_after_an_opening_ended_is_in_none_of_its_papers(shop, tmp_path):
    close(shop, opening(shop), pd.Timestamp("2024-03-01").date())
    (tmp_path / "later.csv").write_text(
        "point,date,value,unit\nSR-1,2024-02-10,0.032,in\nSR-1,2024-11-10,0.041,in\n"
    )
    add_files(shop, [tmp_path / "later.csv"])
    paper = opening_paper(shop, opening(shop), "inspector")
    read = [row for table in paper.tables for row in table.rows if str(row[-1]).startswith("later.csv")]
    assert [row[3] for row in read] == ["0.032 in"]
    assert paper.tables[0].words[0].endswith("up to 2024-03-01.")


@pytest.mark.parametrize("what", ["contractor", "orders", "as-left", "inspector"])
def test_each_paper_leads_back_to_its_rows_and_bears_the_caution(shop, what):
    from io import BytesIO

    import pypdf
    from openpyxl import load_workbook

    finding = {
        "vehicle": "Nettle",
        "opening": opening(shop)["opening"],
        "date": DAY,
        "component": "crosshead",
    }
    finding |= {"position": "left", "defect": "crack", "verdict": "renew"}
    record(shop, {"defects": [finding]})
    record(shop, rows_to_store(opening(shop), [entry(shop, "SR-1", "0.031")]))
    lead = {
        "component": "crosshead",
        "action": "renewed",
        "item": "casting",
        "months": 5,
        "supplier": "foundry",
    }
    record(shop, {"lead_times": [lead]})
    paper = opening_paper(shop, opening(shop), what)
    cells = [str(cell) for table in paper.tables for row in table.rows for cell in row]
    origin = {"contractor": "-defects.csv, row 2", "orders": "-defects.csv, row 2"}.get(
        what, "-readings.csv, row 2"
    )
    assert any(cell.endswith(origin) for cell in cells)
    pdf = pypdf.PdfReader(BytesIO(paper_pdf(paper)))
    for page in pdf.pages:
        assert "never replaces inspection by qualified people" in " ".join(page.extract_text().split())
    book = load_workbook(BytesIO(paper_workbook(paper)))
    assert len(book.sheetnames) == len(paper.tables)
    assert "None" not in cells or what in ("contractor", "orders")  # left empty there, for a pen
    if what == "orders":
        assert {"casting", "foundry"} <= set(cells)
