"""The commands of shop knowledge, end to end: sheets written and loaded, checks, tires, clocks, limits."""

import json
import shutil

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from dashboard.cli import main
from dashboard.commands.tires import as_text
from dashboard.services.shop_checks import tear_downs
from dashboard.words.cautions import LIMITS_CAUTION
from dashboard.words.units_shown import Units, figure_in
from ingest.store import Store

VEHICLES = "vehicle,arrangement,class\nM1,0-4-0,K\n"
POINTS = """point,vehicle,component,position,quantity,unit,new_value,condemning_limit,limit_source
DL,M1,driver tire,driver 1 left,diameter,in,,,49 CFR 230.112(a)
DR,M1,driver tire,driver 1 right,diameter,in,,,49 CFR 230.112(a)
HL,M1,driver tire,driver 1 left,tread hollow,in,0,3/8,49 CFR 230.113(h)
CP,M1,crank pin,driver 1 left,diameter,in,5,4.5,own rule
"""
READINGS = "point,date,value\nDL,2025-05-01,50\nDR,2025-05-01,50.2\nHL,2025-05-01,0.1\nCP,2025-05-01,4.9\n"
LOG = "vehicle,date,odometer,unit,service_days\nM1,2024-05-01,0,mi,0\nM1,2025-05-01,1000,mi,60\n"
FINDINGS = """vehicle,date,component,examined,defective,note
M1,2025-04-01,crank pin,4,1,"cracked, driver 1 left"
M1,2024-11-01,Annual inspection,1,0,
"""


@pytest.fixture
def run():
    runner = CliRunner()

    def call(*words, code=0):
        result = runner.invoke(main, [str(word) for word in words])
        assert result.exit_code == code, result.output
        return result.output

    return call


@pytest.fixture
def store(tmp_path, run):
    tables = {
        "vehicles": VEHICLES,
        "wear_points": POINTS,
        "readings": READINGS,
        "mileage": LOG,
        "findings": FINDINGS,
    }
    for name, text in tables.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    db = tmp_path / "s.duckdb"
    run("add", "--db", db, *(tmp_path / f"{name}.csv" for name in tables))
    return db


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_a_new_vehicle_is_written_and_loads(tmp_path, run, ending):
    out, db = tmp_path / f"new.{ending}", tmp_path / "s.duckdb"
    words = [
        "new-vehicle",
        "--vehicle",
        "M1",
        "--arrangement",
        "4-8-2",
        "--tender",
        "2'2'",
        "--out",
        out,
        "--json",
    ]
    said = json.loads(
        run(*words, "--axle-load", 52000, "--wheel-center", 63, "--main-axle", 2, "--class", "K")
    )
    assert said["wear_points"] == said["with_limit"] + said["yours_to_set"] + said["for_checks"]
    report = json.loads(run("add", "--db", db, *said["files"], "--json"))
    assert "held" not in json.dumps(report) or Store(db).read("wear_points").shape[0] == said["wear_points"]
    assert report["not_read"] == []  # the words of caution are a sheet of their own, which is passed over
    if ending == "xlsx":
        note = set(pd.read_excel(out, "Please note", engine="openpyxl")["please note"])
        points = pd.read_excel(out, "wear_points", engine="openpyxl")
        sources = set(points.loc[points["condemning_limit"].notna(), "limit_source"])
        assert sources
        assert {LIMITS_CAUTION, *sources} <= note
    stored = Store(db)
    assert len(stored.read("wear_points")) == said["wear_points"]
    vehicle = stored.read("vehicles").iloc[0]
    assert (vehicle["arrangement"], vehicle["class"]) == ("4-8-2", "K")


def test_a_uic_arrangement_and_own_figures_and_metric_limits(tmp_path, run):
    own = tmp_path / "own.csv"
    own.write_text(
        "component,quantity,bound,value,unit,source\nshoe,thickness,min,12,mm,order 4\n", encoding="utf-8"
    )
    out = tmp_path / "new.csv"
    words = ["new-vehicle", "--vehicle", "M1", "--arrangement", "1'D1'", "--limits", "de-ebo", "--own", own]
    run(*words, "--wheel", 1400, "--fact", "service=domestic", "--out", out)
    sheet = pd.read_csv(out).set_index("point")
    assert sheet.loc["M1-D1L-FLANGE", "condemning_limit"] == 20
    assert sheet.loc["M1-D1L-SHOE", "condemning_limit"] == 12
    assert sheet.loc["M1-D1L-SHOE", "limit_source"] == "the railway's own limit: order 4"
    assert pd.read_csv(tmp_path / "new-vehicle.csv").loc[0, "arrangement"] == "2-8-2"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--arrangement", "4-7-2"], "wheels come in pairs"),
        (["--arrangement", "4-8-2", "--limits", "uk"], "'uk' is not known"),
        (["--arrangement", "4-8-2", "--fact", "service"], "expected NAME=VALUE"),
        (["--arrangement", "4-8-2", "--out", "x.txt"], "Use .xlsx, .csv"),
        (["--arrangement", "4-8-2", "--main-axle", "7"], "1 to 4"),
        ([], "has no axle"),
        (["--tender", "zero"], "is no row of axles"),
    ],
)
def test_what_is_wrong_is_said_and_ends_with_two(run, words, said):
    output = run("new-vehicle", "--vehicle", "M1", *words, code=2)
    assert said in output
    assert "Traceback" not in output


def test_checks_say_what_condemns_and_why(run, store):
    said = json.loads(run("checks", "--db", store, "--json"))
    rows = {row["check"]: row for row in said["checks"]}
    diameters = rows["same axle diameters"]
    assert diameters["verdict"] == "condemned"
    assert diameters["found"] == pytest.approx(0.2 * 25.4)
    assert diameters["source"] == "49 CFR 230.112(a)"
    assert rows["limit against the law"]["verdict"] == "limit laxer than the law"
    assert [row["point"] for row in said["condemned"]] == ["CP"]
    text = run("checks", "--db", store)
    assert "Condemned:" in text
    assert "0.200 in (max 0.0938 in)" in text
    assert "CP: crack, cracked, driver 1 left" in text
    assert "never replace inspection" in text


def test_checks_take_own_limits_facts_and_all(run, store, tmp_path):
    own = tmp_path / "own.csv"
    own.write_text(
        "component,quantity,bound,value,unit\ncheck,same axle diameters,max,1/32,in\n", encoding="utf-8"
    )
    facts = tmp_path / "facts.csv"
    facts.write_text("vehicle,fact,value\nM1,main_axle,1\n", encoding="utf-8")
    said = json.loads(run("checks", "--db", store, "--own", own, "--facts", facts, "--all", "--json"))
    row = next(row for row in said["checks"] if row["check"] == "same axle diameters")
    assert row["source"] == "the railway's own limit"
    assert row["limit"] == pytest.approx(25.4 / 32)
    earlier = json.loads(run("checks", "--db", store, "--as-of", "2025-04-30", "--all", "--json"))
    assert "same axle diameters" not in {row["check"] for row in earlier["checks"]}


def test_checks_of_nothing_and_of_an_unknown_vehicle(run, store, tmp_path):
    assert "There is no store" in run("checks", "--db", tmp_path / "none.duckdb", code=1)
    assert "In the store: M1" in run("checks", "--db", store, "--vehicle", "X9", code=1)
    bad = tmp_path / "facts.csv"
    bad.write_text("engine,value\nM1,1\n", encoding="utf-8")
    assert "column 'vehicle' is missing" in run("checks", "--db", store, "--facts", bad, code=2)


def test_inspections_on_record_are_no_tear_downs():
    findings = pd.DataFrame({"component": ["Annual", "driver tire", "31 service days"], "defective": 0})
    assert tear_downs({"findings": findings})["component"].tolist() == ["driver tire"]


def test_clocks_come_from_findings_and_from_the_command_line(run, store):
    rows = {row["clock"]: row for row in json.loads(run("clocks", "--db", store, "--json"))}
    assert rows["annual"]["due"] == "2025-11-04"  # 368 days after 1 November 2024
    assert rows["31 service days"]["state"] == "last one not on record"
    done = json.loads(run("clocks", "--db", store, "--done", "31 service days=2024-05-01", "--json"))
    row = next(row for row in done if row["clock"] == "31 service days")
    assert (row["state"], row["service_days_since"]) == ("overdue", 60.0)
    assert "49 CFR 230.16(a)(1)" in run("clocks", "--db", store)
    assert "is no day" in run("clocks", "--db", store, "--done", "annual=May", code=2)
    assert "expected NAME=DATE" in run("clocks", "--db", store, "--done", "weekly=2024-05-01", code=2)
    assert "holds no mileage log" in run("clocks", "--db", store, "--vehicle", "X9", code=1)


def test_limits_list_rows_and_say_which_holds(run):
    words = ["limits", "--component", "tire", "--quantity", "thickness", "--group", "driver"]
    text = run(*words, "--fact", "axle_load_lb=52000", "--fact", "center_in=63")
    assert "Holds: condemned beyond 1.8125 in, 49 CFR 230.112(d)" in text
    assert "1 13/16 in" in text
    assert "1 1/4 in" not in text  # of another load
    metric = json.loads(run("limits", "de-ebo", "--component", "wheelset", "--json"))
    assert {row["unit"] for row in metric["rows"]} == {"mm"}
    assert "Parts there: " in run("limits", "--component", "boiler", code=2)
    assert "'uk' is not known" in run("limits", "uk", code=2)


def test_tires_need_a_forecast(run, store):
    assert "Make one first: 'milesleft forecast'" in run("tires", "--db", store, code=1)


def test_tires_of_the_demo_engine(run, demo_store, tmp_path):
    vehicle = sorted(Store(demo_store).read("vehicles")["vehicle"])[0]
    said = json.loads(run("tires", "--db", demo_store, "--vehicle", vehicle, "--paths", 500, "--json"))
    sets = pd.DataFrame(said[vehicle]["sets"])
    assert set(sets["policy"]) == {"at the limit", "early at lay-ups", "one axle lags"}
    assert (sets["miles_p05"] <= sets["miles_p50"]).all()
    assert len(said[vehicle]["assumptions"]) == 11
    own = tmp_path / "own.csv"
    own.write_text("assumption,value,source\nclean_up,1/4,our lathe\n", encoding="utf-8")
    text_of = ["tires", "--db", demo_store, "--vehicle", vehicle, "--paths", 500]
    text = run(*text_of, "--assume", own)
    assert "clean the whole profile: 0.250 in [our lathe], as clean_up [in]" in text
    assert "From the railway's own record of turnings" in text
    assert "(without that record 2.75) [the railway's own record" in text
    assert "flange face): 2.75" not in text
    assert "[our lathe]" in text
    assert "never replaces inspection" in text
    own.write_text("assumption,value,unit\nclean_up,6.35,mm\n", encoding="utf-8")
    assert "clean the whole profile: 0.250 in" in run(*text_of, "--assume", own)
    own.write_text("assumption,value,unit\nclean_up,6.35,kg\n", encoding="utf-8")
    assert "'kg' is no unit for clean_up, which is in 'in'" in run(*text_of, "--assume", own, code=2)
    own.write_text("assumption,value\ncleanup,1/4\n", encoding="utf-8")
    assert "'cleanup' is not known" in run("tires", "--db", demo_store, "--assume", own, code=2)
    assert "In the store:" in run("tires", "--db", demo_store, "--vehicle", "X9", code=1)


def test_tires_say_what_ends_them_and_when_the_lathe_is_next_needed():
    sets = pd.DataFrame(
        {
            "matched_set": "drivers",
            "policy": ["early at lay-ups", "at the limit"],
            "miles_p05": [30_100.0, 20_100.0],
            "miles_p50": [40_200.0, 31_200.0],
            "miles_p95": [np.inf, 52_300.0],
            "turnings_p10": [2.0, 1.0],
            "turnings_p50": [3.0, 1.0],
            "turnings_p90": [4.0, 1.0],
            "next_turning_p50": [7_000.0, np.inf],
            "chance_worn": [0.7, 0.2],
            "chance_too_thin": [0.3, 0.8],
            "next_life_p50": [80_000.0, 70_000.0],
            "next_turnings_p50": [5.0, 4.0],
        }
    )
    assumed = pd.DataFrame(columns=["assumption", "value", "unit", "meaning", "source", "turnings"])
    early, late = as_text("M1", sets, assumed, figure_in(Units())).splitlines()[2:4]
    assert early.split("lay-ups")[1].split() == [
        "30,100",
        "40,200",
        "beyond",
        "3",
        "(2-4)",
        "7,000",
        "80,000",
        "5",
        "worn",
        "through",
    ]
    assert late.split("limit")[1].split()[:5] == ["20,100", "31,200", "52,300", "1", "none"]
    assert late.endswith("too thin to turn")


def test_wheels_that_must_agree_have_a_chance_ahead(demo_store):
    from dashboard.services.shop_checks import wheels_ahead

    store = Store(demo_store)
    tables = store.read_all("vehicles", "wear_points", "mileage", "usage")
    table = wheels_ahead(tables, store, str(store.runs("forecast")["run_id"].iloc[0]))
    assert {"same axle diameters", "coupled diameters"} == set(table["check"])
    assert table["chance"].between(0, 1).all()
    assert (table.groupby(["vehicle", "check", "position"])["chance"].diff().dropna() >= -1e-9).all()
    assert table.groupby(["vehicle", "check", "position"]).size().eq(4).all()


def test_an_engine_whose_tires_cannot_be_told_does_not_hide_the_others(run, demo_store, tmp_path):
    db = tmp_path / "demo.duckdb"
    shutil.copy(demo_store, db)
    (tmp_path / "wear_points.csv").write_text(
        "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
        "B-PIN,Bramble,crosshead,left,clearance,in,0.01,0.1\n",
        encoding="utf-8",
    )
    (tmp_path / "vehicles.csv").write_text("vehicle,arrangement\nBramble,0-6-0\n", encoding="utf-8")
    run("add", "--db", db, tmp_path / "vehicles.csv", tmp_path / "wear_points.csv")
    run("forecast", "--db", db)
    text = run("tires", "--db", db, "--paths", 200)
    assert "Hobnail: miles until" in text
    assert "Bramble: turning of tires: no tire has both" in text
    said = json.loads(run("tires", "--db", db, "--paths", 200, "--json"))
    assert said["Bramble"]["sets"] == []
    assert said["Hobnail"]["sets"]
