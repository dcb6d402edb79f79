"""``milesleft brief`` end to end: files in, a stored forecast, brief and picture out."""

import json
import shutil

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from pypdf import PdfReader
from scipy.stats import norm

from dashboard.cli import main
from dashboard.services.brief_settings import load_settings
from dashboard.services.casework import case_of, choose_vehicle, prepare, read_material, turned
from dashboard.services.plan_material import PlanChoices
from dashboard.services.planning import plan_and_store
from ingest.errors import NotPossible
from ingest.store import Store
from ingest.verdicts.add import add_files
from models.distribution import PROBABILITIES

SHEETS = {
    "vehicles.csv": """vehicle,name,arrangement,class,service_from
Alder,"Alder, branch engine",2-6-0,mogul,2010-01-01
Birch,Birch,0-6-0,switcher,2010-01-01
""",
    "points.csv": "point,vehicle,component,position,quantity,unit,new_value,condemning_limit,access,"
    """matched_set
A-T1L,Alder,driver tire,driver 1 left,tread hollow,mm,0,8,wheels_out,Alder drivers
A-T1R,Alder,driver tire,driver 1 right,tread hollow,mm,0,8,wheels_out,Alder drivers
A-B1L,Alder,rod bushing,rod 1 left,clearance,mm,0.2,2,rods_down,
A-SH1,Alder,shoe,driver 1 left,thickness,mm,40,30,in_place,
A-NEW,Alder,whistle,front,bore,mm,10,12,in_place,
B-T1L,Birch,driver tire,driver 1 left,tread hollow,mm,0,8,wheels_out,
""",
    "costs.csv": """component,action,cost,currency,labor_hours,days_out,price_date
wheels_out,open,26500,USD,620,45,2026-04-01
driver tire,cut,950,USD,14,3,2026-04-01
driver tire,renewed,4850,USD,26,6,2026-04-01
rod bushing,renewed,690,USD,9,1,2026-04-01
shoe,renewed,410,USD,9,1,2026-04-01
""",
    "findings.csv": """vehicle,date,component,examined,defective,note
Alder,2016-01-10,driver tire,6,0,
Alder,2021-01-10,driver tire,6,1,
Alder,2021-01-10,annual,1,0,
""",
}
LIVES = {"A-T1L": (3000, 22_000), "A-T1R": (3600, 22_000), "A-B1L": (2800, 15_000), "A-SH1": (9000, 40_000)}


def sheets(folder):
    for name, text in SHEETS.items():
        (folder / name).write_text(text)
    days = pd.date_range("2022-05-31", "2026-10-31", freq="ME")
    days = days[days.month.isin(range(5, 11))]
    for vehicle in ("Alder", "Birch"):
        log = pd.DataFrame(
            {"vehicle": vehicle, "date": days, "odometer": 50_000 + 400 * np.arange(len(days))}
        )
        log.assign(service_days=7, unit="mi").to_csv(folder / f"{vehicle}.csv", index=False)
    gifts = pd.DataFrame({"date": pd.date_range("2023-11-05", "2026-10-05", freq="MS"), "amount": 420.0})
    gifts.assign(currency="USD", kind="received", note="").to_csv(folder / "funds.csv", index=False)
    points = list(LIVES)
    readings = pd.DataFrame({"point": points * 2, "date": ["2025-10-05"] * 4 + ["2026-10-05"] * 4})
    readings.assign(value=[3.1, 2.9, 0.9, 36, 4.9, 4.6, 1.4, 35], unit="mm").to_csv(
        folder / "readings.csv", index=False
    )


def quantiles(mean):
    return list(np.maximum(norm.ppf(PROBABILITIES, mean, 0.22 * mean), 0.0))


def store_forecast(store):
    """A forecast run by the contract, so that these tests do not move with the wear model."""
    as_of = pd.Timestamp("2026-10-31")
    points = store.read("wear_points").sort_values("point")
    miles = points["point"].map(lambda point: float(LIVES.get(point, (np.nan, 0))[0]))
    forecast = points[["point", "vehicle", "component", "position", "quantity", "unit"]].assign(
        as_of=as_of,
        as_of_odometer=60_000.0,
        last_value=1.0,
        last_date=as_of,
        condemning_limit=8.0,
        miles_p10=0.72 * miles,
        miles_p50=miles,
        p_beyond_now=0.0,
        flags=["" if x > 0 else "too few" for x in miles],
    )
    known = list(LIVES)
    distribution = pd.DataFrame(
        {
            "point": known,
            "remaining": [quantiles(LIVES[point][0]) for point in known],
            "new_life": [quantiles(LIVES[point][1]) for point in known],
        }
    )
    state = pd.DataFrame({"point": known, "family": "", "life_miles": 9000.0})
    names = ("level", "level_var", "rate", "rate_var", "level_rate_cov", "tau", "sigma", "limit")
    state = state.assign(**dict.fromkeys(names, np.nan))  # no turnings can be worked out from it
    path = pd.DataFrame({name: pd.Series(dtype=float) for name in ("odometer", "p10", "p50", "p90")})
    path = path.assign(point=pd.Series(dtype=str), kind=pd.Series(dtype=str))
    frames = {"forecast": forecast, "distribution": distribution, "state": state, "path": path}
    return store.save_run("forecast", {"as_of": as_of, "data_version": store.version()}, frames)


@pytest.fixture(scope="module")
def db(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheets")
    sheets(folder)
    store = Store(tmp_path_factory.mktemp("store") / "milesleft.duckdb")
    add_files(store, [folder], who="test")
    assert len(store.read("wear_points")) == 6
    store_forecast(store)
    return store.path


@pytest.fixture(scope="module")
def material(db):
    return read_material(Store(db))


@pytest.fixture(scope="module")
def prepared(material):
    return prepare(material, load_settings(None, {"vehicle": "Alder"}))


@pytest.fixture(autouse=True)
def elsewhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)  # a brief.toml that happens to lie about is not read


def run(db, *words):
    return CliRunner().invoke(main, ["brief", "--db", str(db), *map(str, words)])


def test_brief_and_picture_are_written(db, tmp_path):
    result = run(
        db, "--out", "brief.pdf", "--picture", "campaign.png", "--vehicle", "Alder", "--window", "2027-11-01"
    )
    assert result.exit_code == 0, result.output
    reader = PdfReader(tmp_path / "brief.pdf")
    assert len(reader.pages) <= 2
    text = " ".join(reader.pages[0].extract_text().split())
    assert "Keep Alder running" in text
    assert "Nov 2027" in text
    assert (tmp_path / "campaign.png").read_bytes().startswith(b"\x89PNG")
    assert "still to come in" in result.output
    assert "no promise" in result.output


def test_options_reach_the_page(db, tmp_path):
    words = [
        "--title",
        "Wheels for Alder",
        "--intro",
        "Please help.",
        "--railway",
        "Fernmoor",
        "--numbers",
        "de",
    ]
    result = run(db, "--out", "brief.html", "--vehicle", "Alder", "--window", "2027-11-01", "--quiet", *words)
    assert result.exit_code == 0, result.output
    assert result.output == ""
    page = (tmp_path / "brief.html").read_text()
    assert "<h1>Wheels for Alder</h1>" in page
    assert "Please help." in page
    assert "\xa0$" in page


def test_settings_file_of_the_folder_is_read_and_the_command_wins(db, tmp_path):
    (tmp_path / "brief.toml").write_text(
        '[brief]\ntitle = "From file"\nvehicle = "Alder"\nwindow = 2027-11-01\nrailway = "Fernmoor"\n'
    )
    assert run(db, "--out", "a.html").exit_code == 0
    assert "<h1>From file</h1>" in (tmp_path / "a.html").read_text()
    assert run(db, "--out", "b.html", "--title", "From command").exit_code == 0
    assert "<h1>From command</h1>" in (tmp_path / "b.html").read_text()
    assert "Fernmoor" in (tmp_path / "b.html").read_text()


def test_json_holds_every_frame_and_its_parts_add_up(db):
    result = run(db, "--json", "--vehicle", "Alder", "--window", "2027-11-01")
    assert result.exit_code == 0, result.output
    case = json.loads(result.output)
    assert sum(line["ask"] for line in case["lines"]) == pytest.approx(case["ask"])
    assert sum(bill["amount"] for bill in case["bills"]) == pytest.approx(case["ask"])
    assert sum(month["to_raise"] for month in case["schedule"]) == pytest.approx(case["to_raise"])
    assert case["currency"] == "USD"
    assert {"A-T1L", "A-T1R"} <= set(case["lines"][0]["points"] + case["lines"][1]["points"])
    assert case["run"].startswith("case-")


def test_an_excursion_is_told_without_a_file(db):
    words = ["--vehicle", "Alder", "--window", "2027-11-01", "--excursion", "100 km", "--excursion-days", "2"]
    result = run(db, *words, "--excursion-seats", "120")
    assert result.exit_code == 0, result.output
    assert "2 running days, 124 miles in all" in result.output
    assert "Each of the 240 seats sold" in result.output
    case = json.loads(run(db, *words, "--json").output)
    whole, parts = case["excursions"]["trips"][-1], case["excursions"]["parts"]
    assert whole["mean"] == pytest.approx(whole["miles"] * case["mile"][-1]["mean"])
    assert sum(part["mean"] for part in parts[:-1]) == pytest.approx(whole["mean"])
    assert whole["seat_mean"] is None
    tires = next(part for part in parts if part["component"] == "driver tire")
    assert set(tires["points"]) <= {"A-T1L", "A-T1R"}


def test_case_is_kept_as_a_run_with_what_it_was_made_from(db):
    before = len(Store(db).runs("case"))
    assert run(db, "--json", "--vehicle", "Alder", "--window", "2027-11-01").exit_code == 0
    runs = Store(db).runs("case")
    assert len(runs) == before + 1
    about = json.loads(runs["about"].iloc[0])
    assert about["vehicle"] == "Alder"
    assert about["forecast_run"].startswith("forecast-")
    assert about["assumptions"]["inflation"]["source"] == "assumption"
    lines = Store(db).read_run(runs["run_id"].iloc[0], "lines")
    assert lines["ask"].sum() == pytest.approx(about["ask"])


def test_same_data_give_the_same_case(material):
    settings = load_settings(None, {"vehicle": "Alder", "window": "2027-11-01"})
    pd.testing.assert_frame_equal(case_of(material, settings).lines, case_of(material, settings).lines)


def test_turning_the_window_needs_no_new_simulation(prepared):
    cases = [
        turned(prepared, load_settings(None, {"window": f"{year}-11-01", "confidence": 0.8}))
        for year in (2027, 2028)
    ]
    assert cases[0].opens < cases[1].opens
    assert cases[1].amount.p50 > cases[0].amount.p50
    assert cases[0].mile.equals(cases[1].mile)


def test_more_miles_bring_the_limits_nearer(material, prepared, tmp_path):
    (tmp_path / "busy.toml").write_text("[assumptions]\nusage = 1.5\n")
    said = {"vehicle": "Alder", "window": "2027-11-01"}
    calm = turned(prepared, load_settings(None, said))
    busy = case_of(material, load_settings(tmp_path / "busy.toml", said))
    assert busy.window_miles[1] == pytest.approx(1.5 * calm.window_miles[1])
    assert busy.delays["chance_stopped"].iloc[0] > calm.delays["chance_stopped"].iloc[0]
    assert any("150% of those planned" in what for what in busy.assumptions["what"])


def test_part_of_the_fund_can_be_for_this_work(material, prepared, tmp_path):
    (tmp_path / "half.toml").write_text("[assumptions]\nfund_share = 0.5\n")
    said = {"vehicle": "Alder", "window": "2027-11-01"}
    whole = turned(prepared, load_settings(None, said))
    half = case_of(material, load_settings(tmp_path / "half.toml", said))
    assert half.fund.in_hand == pytest.approx(whole.fund.in_hand / 2)
    assert half.rate.per_month == pytest.approx(whole.rate.per_month / 2)
    assert "50% of the fund is for this work" in set(half.assumptions["what"])


def test_labor_is_paid_where_prices_leave_it_out(material, prepared, tmp_path):
    """Two turned tires cost 950 each and take 14 hours each; at 50 an hour they cost 1,650 each."""
    (tmp_path / "labor.toml").write_text("[assumptions]\nlabor_rate = 50\n")
    paid = prepare(material, load_settings(tmp_path / "labor.toml", {"vehicle": "Alder"}))
    prices = [given.jobs.set_index(["component", "action"])["cost"] for given in (prepared, paid)]
    assert [price["driver tire", "cut"] for price in prices] == [1_900.0, 3_300.0]


def test_the_vehicle_whose_limit_may_come_first_is_chosen():
    forecast = pd.DataFrame(
        {
            "vehicle": ["Birch", "Alder", "Alder", "Cedar"],
            "miles_p10": [900.0, 700.0, 4_000.0, np.nan],
            "miles_p50": [1_000.0, 2_000.0, 5_000.0, np.nan],
        }
    )
    assert choose_vehicle(forecast, "") == "Alder"


def test_every_figure_leads_to_its_wear_points(material, prepared):
    case = turned(prepared, load_settings(None, {"window": "2027-11-01"}))
    tires = case.lines[case.lines["component"] == "driver tire"].iloc[0]
    assert tires["points"] == ["A-T1L", "A-T1R"]
    forecast = material.forecast.set_index("point")
    assert forecast.loc[tires["points"], "miles_p50"].tolist() == [3000.0, 3600.0]


def test_inspections_on_record_are_not_hidden_damage(prepared):
    case = turned(prepared, load_settings(None, {"window": "2027-11-01"}))
    assert "annual" not in set(case.unpriced["component"]) | set(case.lines["component"])
    assert "driver tire" in set(case.lines["component"])


def test_point_without_forecast_is_counted(db):
    case = case_of(
        read_material(Store(db)), load_settings(None, {"vehicle": "Alder", "window": "2027-11-01"})
    )
    assert case.unforecast["point"].tolist() == ["A-NEW"]
    assert case.points == 5


def test_another_currency_needs_a_rate(db, tmp_path):
    result = run(db, "--out", "b.pdf", "--vehicle", "Alder", "--window", "2027-11-01", "--currency", "EUR")
    assert result.exit_code == 1
    assert "[rates]" in result.output
    (tmp_path / "r.toml").write_text("[rates]\nUSD = 0.9\n")
    result = run(
        db,
        "--json",
        "--vehicle",
        "Alder",
        "--window",
        "2027-11-01",
        "--currency",
        "EUR",
        "--settings",
        "r.toml",
    )
    assert result.exit_code == 0, result.output
    euro = json.loads(result.output)
    dollar = json.loads(run(db, "--json", "--vehicle", "Alder", "--window", "2027-11-01").output)
    assert euro["ask"] == pytest.approx(0.9 * dollar["ask"])


def test_case_of_a_planned_window_is_the_plans_own_amount(db, tmp_path):
    """Planned with everything as it is set out of the box: the same futures, the same sums."""
    store = Store(shutil.copy(db, tmp_path / "planned.duckdb"))
    _, plan = plan_and_store(store, PlanChoices(vehicles=("Alder",)))
    opened = plan.amounts.sort_values("p80").iloc[-1]
    day = f"{opened['opens']:%Y-%m-%d}"
    case = case_of(read_material(store), load_settings(None, {"vehicle": "Alder", "window": day}))
    assert case.is_planned
    assert case.amount.p50 == pytest.approx(opened["p50"])
    assert case.ask == pytest.approx(opened["p80"])
    planned_lines = plan.lines[plan.lines["window"] == opened["window"]]
    assert case.lines["ask"].sum() == pytest.approx(planned_lines["at80"].sum())


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["--out", "brief.doc"], 2, "Expected .pdf or .html"),
        ([], 2, "nowhere to write"),
        (
            ["--out", "b.pdf", "--vehicle", "Cedar"],
            2,
            "'Cedar' has no forecast. Expected one of Alder, Birch",
        ),
        (["--out", "b.pdf", "--window", "soon"], 2, "Expected a day"),
        (["--out", "b.pdf", "--vehicle", "Alder", "--window", "2026-01-01"], 1, "choose another window"),
        (["--out", "b.pdf", "--vehicle", "Alder", "--window", "2099-01-01"], 1, "choose another window"),
        (["--out", "b.pdf", "--vehicle", "Alder", "--numbers", "klingon"], 2, "--numbers"),
        (["--out", "b.pdf", "--vehicle", "Alder", "--currency", "coins"], 2, "is no currency"),
        (["--out", "b.pdf", "--logo", "none.png"], 1, "no such file"),
        (["--out", "b.pdf", "--settings", "none.toml"], 1, "no such file"),
        (["--out", "b.pdf", "--confidence", "1.5"], 2, "Expected a share"),
        (["--out", "b.pdf", "--paper", "a3"], 2, "a3"),
        (["--excursion", "far"], 2, "--excursion: 'far' is no distance"),
        (["--excursion", "62mi", "--excursion-days", "0"], 2, "days is 0"),
    ],
)
def test_what_cannot_be_done_is_said_without_a_traceback(db, words, code, says):
    result = run(db, *words)
    assert result.exit_code == code, result.output
    assert says in result.output
    assert "Traceback" not in result.output


def test_store_without_forecast_says_what_to_do(tmp_path):
    store = Store(tmp_path / "new.duckdb")
    sheets(tmp_path)
    add_files(store, [tmp_path / "vehicles.csv"], who="test")
    with pytest.raises(NotPossible, match="milesleft forecast"):
        read_material(store)
    result = run(tmp_path / "new.duckdb", "--out", "b.pdf")
    assert result.exit_code == 1
    assert "holds no forecast" in result.output
