"""The demo railway is what it says it is, and can be written again."""

import csv
from collections import Counter
from datetime import date

import numpy as np
import openpyxl
import pandas as pd
import pytest

from data_demo import generate
from data_demo.roster import roster, table
from data_demo.traffic import ENGINES, LAST_DAY, SEASONS, mileage_log, run
from data_demo.wear_law import remaining
from data_demo.workbook import write_workbook

HERE = generate.HERE


@pytest.fixture(scope="module")
def points():
    return roster()


@pytest.fixture(scope="module")
def truth():
    return pd.read_csv(HERE / "truth" / "life_in_service.csv")


def test_it_is_rewritten_byte_for_byte(tmp_path):
    generate.write_all(tmp_path)
    for folder in ("railway", "winter", "truth"):
        kept = sorted(path.name for path in (HERE / folder).iterdir())
        assert kept == sorted(path.name for path in (tmp_path / folder).iterdir())
        for name in kept:
            assert (HERE / folder / name).read_bytes() == (tmp_path / folder / name).read_bytes(), name


def test_it_stays_small():
    assert sum(path.stat().st_size for path in HERE.rglob("*.*") if path.suffix in (".csv", ".xlsx")) < 3e6


def test_two_engines_with_about_250_wear_points_each(points):
    assert {engine.arrangement for engine in ENGINES} == {"4-8-2", "2-8-0"}
    assert points["vehicle"].value_counts().between(240, 260).all()
    # Wheels by arrangement, tender included: 4 + 8 + 2 + 12 and 2 + 8 + 0 + 8.
    hollow = points[points["quantity"] == "tread hollow"].groupby("vehicle").size()
    assert hollow.to_dict() == {"Quillon": 26, "Hobnail": 18}


def test_every_engine_ran_in_every_season_and_the_record_stops_on_one_day():
    for engine in ENGINES:
        log = mileage_log(run(engine))
        seasons = {day.year for day, n in zip(log["date"], log["service_days"], strict=True) if n}
        assert seasons == set(SEASONS)
        assert len(seasons) == 22
        assert log["date"].max() == LAST_DAY
        assert (np.diff(log["odometer"]) >= 0).all()


def test_some_are_past_their_limit_some_near_most_fine(truth):
    miles = truth["remaining_miles"]
    assert (miles < 0).mean() < 0.1
    assert (miles < 0).sum() >= 5
    assert miles.between(0, 6000).sum() >= 10
    assert (miles > 20000).mean() > 0.5


def test_some_cannot_be_forecast_or_hardly(points):
    """No reading at all, one reading only, no limit."""
    sheets = [*(HERE / "railway").glob("*20??-20??.csv")]
    cells = Counter(
        cell for path in sheets for row in csv.reader(path.read_text("utf-8").splitlines()) for cell in row
    )
    assert cells["Q-DB-DRAWBARPIN"] == 0
    assert {cells[point] for point in ("H-L-CYLINDER", "H-R-CYLINDER")} == {1}
    assert points.loc[points["limit"].isna(), "point"].tolist() == ["H-L-VALVE", "H-R-VALVE"]
    assert cells["H-L-VALVE"] > 3


# The figures are those of the law as printed; tests/published checks the whole of it.
PUBLISHED = {
    "49 CFR 230.113(h)": (5 / 16, "at"),  # "a tread worn hollow 5/16 inch or more"
    "49 CFR 230.113(g)": (15 / 16, "at"),  # "a flange worn to a 15/16 inch thickness or less"
    "49 CFR 230.113(i)": (1 + 1 / 2, "beyond"),  # "nor more than 1 1/2 inches"
    "49 CFR 230.113(j)": (1, "beyond"),  # "rims less than 1 inch thick"
    "49 CFR 230.99, axle load 50,000 lb": (5 + 1 / 2, "beyond"),  # minimum journal
    "49 CFR 230.99, axle load 38,000 lb": (5, "beyond"),
    # 230.112(d): 1 1/4 in, and 1/16 in more for each step of axle load (7) and of center diameter (7).
    "49 CFR 230.112(d), over 55,000 lb an axle, center over 62 to 68 in": (1.25 + (6 + 4) / 16, "beyond"),
    "49 CFR 230.112(d), over 45,000 to 50,000 lb an axle, center over 50 to 56 in": (1.25 + 6 / 16, "beyond"),
}


def test_limits_of_the_law_are_those_of_the_law(points):
    inches = points["limit"].where(points["unit"] == "in", points["limit"] / 25.4)
    for source, (limit, when) in PUBLISHED.items():
        rows = points["limit_source"] == source
        assert rows.any()
        assert inches[rows].to_numpy() == pytest.approx(limit, abs=0.001)  # 7.94 mm is written for 5/16 in
        assert set(points.loc[rows, "when"]) == {when}
    journal = points[points["limit_source"].str.startswith("49 CFR 230.98")]
    lost = (journal["new"] - journal["limit"]).groupby(journal["limit_source"]).unique()
    # "worn 1/2 inch or more", and "3/4 inch or more" on driving axles other than main over 6 in.
    assert lost.to_dict() == {"49 CFR 230.98(a)(6)": [0.5], "49 CFR 230.98(a)(7)": [0.75]}
    crosshead = points[points["limit_source"] == "49 CFR 230.94"]
    limits = crosshead.groupby("quantity")["limit"].unique()
    assert limits.to_dict() == {"vertical clearance": [0.25], "lateral clearance": [0.3125]}


def test_what_is_no_law_says_so(points):
    own_limits = points[~points["limit_source"].str.startswith("49 CFR") & points["limit"].notna()]
    assert set(own_limits["limit_source"]) == {"railway's own limit (invented)"}


def test_every_rate_and_every_gauge_says_where_it_comes_from():
    assert (table("kinds.csv")["basis"] != "").all()
    assert (table("gauges.csv")["basis"] != "").all()


def test_the_crossing_is_drawn_from_the_inverse_gaussian():
    # Mean gap / drift, variance gap tau^2 / drift^3 (first passage of Brownian motion with drift).
    # 4,000 draws; tolerance four standard errors of the mean, and 10 % of the spread (of which one is 2 %).
    miles = np.array([remaining(2.0, 3.0, 50.0, "check", i) for i in range(4000)])
    sd = (50 * 3.0**2 / 2.0**3) ** 0.5
    assert miles.mean() == pytest.approx(25.0, abs=4 * sd / 4000**0.5)
    assert miles.std() == pytest.approx(sd, rel=0.10)


def test_workbooks_are_read_by_others(tmp_path):
    rows = [["Name", "Day", "n"], ['5 < 6 & "x"', date(2026, 5, 3), 1.5], ["", None, 2]]
    write_workbook(tmp_path / "a.xlsx", {"one": rows, "two": [["only"]]})
    book = openpyxl.load_workbook(tmp_path / "a.xlsx")
    assert book.sheetnames == ["one", "two"]
    assert [cell.value for cell in book["one"][2]] == ['5 < 6 & "x"', pd.Timestamp("2026-05-03"), 1.5]
    fast = pd.read_excel(tmp_path / "a.xlsx", engine="calamine")
    assert fast["Day"].iloc[0] == pd.Timestamp("2026-05-03")
    assert fast["n"].tolist() == [1.5, 2]
