"""Which catalogue governs a vehicle: limits, checks, inspections and findings follow one choice."""

import json

import pandas as pd
import pytest
from click.testing import CliRunner

from dashboard.cli import main
from ingest.store import Store

POINTS = """point,vehicle,component,position,quantity,unit,new_value,condemning_limit,limit_source
T,41,driver tire,driver 1 left,thickness,mm,75,20,own rule
P,41,axlebox thrust pad,driver 1 left,thickness,mm,20,4,own rule
CP,41,crank pin,driver 1 left,diameter,mm,150,140,own rule
"""
LOG = "vehicle,date,odometer,unit,service_days\n41,2024-05-01,0,km,0\n41,2025-05-01,1000,km,60\n"
READINGS = "point,date,value\nT,2025-05-01,30\nP,2025-05-01,5\n"
FINDINGS = (
    'vehicle,date,component,examined,defective,note\n41,2025-04-01,crank pin,4,1,"cracked, driver 1 left"\n'
)


@pytest.fixture
def run():
    def call(*words, code=0):
        result = CliRunner().invoke(main, [str(word) for word in words])
        assert result.exit_code == code, result.output
        return result.output

    return call


@pytest.fixture
def engine(tmp_path, run):
    """An engine whose limits cite nobody; facts are added as lines of the table."""
    tables = {"wear_points": POINTS, "mileage": LOG, "readings": READINGS, "findings": FINDINGS}
    tables["vehicles"] = "vehicle,arrangement\n41,2-8-2\n"

    def made(*facts):
        sheets = {**tables, "facts": "\n".join(["vehicle,fact,value,unit,source", *facts])}
        for name, text in sheets.items():
            (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
        db = tmp_path / "s.duckdb"
        files = [tmp_path / f"{name}.csv" for name in sheets if facts or name != "facts"]
        return db, json.loads(run("add", "--db", db, *files, "--json"))

    return made


def checks(run, db):
    return json.loads(run("checks", "--db", db, "--json", "--all"))


def test_a_german_engine_has_the_limit_of_an_engine_and_not_of_a_coach(tmp_path, run):
    # EBO Anlage 6: tires at least 25 mm thick; 35 mm for passenger coaches in cross-border service.
    out = tmp_path / "new.csv"
    words = ["new-vehicle", "--vehicle", "41", "--arrangement", "1'D1'", "--out", out, "--json"]
    said = json.loads(run(*words, "--country", "Germany"))
    assert said["governing"]["limit_set"] == "de-ebo"
    sheet = pd.read_csv(out).set_index("point")
    assert sheet.loc["41-D1L-TIRE", "condemning_limit"] == 25
    assert not sheet["limit_source"].str.contains("CFR").any()


def test_the_choice_that_nobody_stated_is_said(tmp_path, run):
    words = ["new-vehicle", "--vehicle", "41", "--arrangement", "4-6-0", "--out", tmp_path / "new.csv"]
    assert "United States, 49 CFR Part 230 (taken, as no --country" in run(*words)
    abroad = run(*words, "--country", "Atlantis")
    assert "no rules of Atlantis for a locomotive" in abroad
    assert not pd.read_csv(tmp_path / "new.csv")["limit_source"].str.contains("CFR|EBO").any()


def test_a_german_engine_is_checked_by_german_rules_and_has_no_american_inspections(run, engine):
    db, _ = engine("41,country,Germany,,certificate")
    assert json.loads(run("clocks", "--db", db, "--json")) == []
    assert "41: no inspection intervals in the catalogue; governing catalogue Germany, EBO" in run(
        "clocks", "--db", db
    )
    said = checks(run, db)
    lax = next(row for row in said["checks"] if row["check"] == "limit against the law")
    assert (lax["found"], lax["limit"]) == (20, 25)
    assert lax["source"].startswith("EBO Anlage 6")
    assert said["condemned"][0]["paragraph"].startswith("common practice, no source of its own")


def test_an_american_engine_is_held_to_american_rules_throughout(run, engine):
    db, _ = engine("41,governing catalogue,us-cfr-230,,certificate", "41,axle load,23.6 t,,drawing")
    assert {row["source"][:6] for row in json.loads(run("clocks", "--db", db, "--json"))} == {
        "49 CFR",
        "common",
    }
    said = checks(run, db)
    lax = next(row for row in said["checks"] if row["check"] == "limit against the law")
    assert lax["source"].startswith("49 CFR 230.112(d)")
    # 23.6 t are 52,029 lb: the row over 50,000 to 55,000 lb.
    assert "axle load over 50,000 to 55,000 lb" in lax["source"]
    assert said["condemned"][0]["paragraph"].startswith("230.93")


def test_a_stated_catalogue_comes_before_what_the_sheet_cites(run, engine, tmp_path):
    db, _ = engine("41,country,Germany,,certificate")
    cites = POINTS.replace("own rule", "49 CFR 230.112(d)")
    (tmp_path / "wear_points.csv").write_text(cites, encoding="utf-8")
    run("add", "--db", db, tmp_path / "wear_points.csv")
    assert "limit sets mixed" in {row["check"] for row in checks(run, db)["checks"]}
    assert json.loads(run("clocks", "--db", db, "--json")) == []


def test_where_nothing_is_known_no_law_is_taken_and_that_is_said(run, engine):
    db, _ = engine()
    assert "governing catalogue not known: state the country" in run("clocks", "--db", db)
    assert "limit against the law" not in {row["check"] for row in checks(run, db)["checks"]}


def test_an_inspection_stated_as_a_fact_starts_its_clock(run, engine):
    db, _ = engine("41,country,US,,", "41,Annual inspection done,2025-04-01,,form 1")
    rows = {row["clock"]: row for row in json.loads(run("clocks", "--db", db, "--json"))}
    assert rows["annual"]["due"].startswith("2026-04-04")  # 368 days after 1 April 2025, 49 CFR 230.16(a)(1)
    later = json.loads(run("clocks", "--db", db, "--json", "--done", "annual=2025-05-01"))
    assert next(row for row in later if row["clock"] == "annual")["due"].startswith("2026-05-04")


NOT_READ = {
    "41,axle weight,22,t,": "'axle weight' is no fact that anything depends on; nearest: axle load",
    "41,axle load,heavy,lb,": "'heavy'",
    "41,axle load,52000,,": "has no unit: state one of lb, kg, t",
    "41,axle load,22,mm,": "is no unit of load",
    "41,main axle,2.5,,": "expected a whole number above 0",
    "41,main axle,-1,,": "expected a whole number above 0",
    "41,governing catalogue,uk,,": "'uk' is none of us-cfr-230, de-ebo, at-eisbbbv, none",
    "41,Annual inspection done,2025-02-30,,": "30 Feb",
    "41,wheel center diameter,63 kg,,": "no unit of length",
}


def test_facts_that_cannot_be_read_are_held_back_and_say_why(engine):
    _, report = engine(*NOT_READ)
    assert report["held_back"] == len(NOT_READ)
    why = {row["row"]: row["reasons"] for row in report["held_back_rows"]}
    for row, words in enumerate(NOT_READ.values(), start=2):
        assert words in why[row]


def test_what_names_were_taken_for_is_said_at_add(run, engine, tmp_path):
    db, report = engine("41,country,Germany,,")
    took = {row["component"]: row for row in report["recognised"]}
    assert took["axlebox thrust pad"]["recognised_as"] == ""
    assert took["driver tire"]["recognised_as"] == "tire, thickness"
    assert took["driver tire"]["limits_from"] == "EBO Anlage 6 (zu § 21)"
    assert took["crank pin"]["limits_from"] == "none: the railway sets its own"
    pads = POINTS.replace("P,41,axlebox", "P2,41,axlebox")
    (tmp_path / "wear_points.csv").write_text(pads, encoding="utf-8")
    text = run("add", "--db", db, tmp_path / "wear_points.csv")
    assert "axlebox thrust pad, thickness (1): not recognised: no published limit" in text
    assert "driver tire" not in text  # known already
    assert "were recognised as" not in run("add", "--db", db, tmp_path / "wear_points.csv")


def test_facts_beside_the_store_come_before_those_in_it(run, engine, tmp_path):
    db, _ = engine("41,country,US,,", "41,axle load,23.6 t,,")
    said = json.loads(run("checks", "--db", db, "--json", "--fact", "axle_load_lb=60000"))
    assert (
        "axle load over 55,000 lb"
        in next(row for row in said["checks"] if row["check"] == "limit against the law")["source"]
    )


def test_limits_of_a_vehicle_are_those_of_its_catalogue_for_its_facts(run, engine):
    db, _ = engine("41,country,Germany,,", "41,wheel diameter,1.4 m,,drawing", "41,service,domestic,,")
    words = ["limits", "--db", db, "--vehicle", "41", "--component", "tire", "--quantity", "flange thickness"]
    text = run(*words)
    assert "41: governing catalogue Germany, EBO Anlage 6 (Germany, locomotive)." in text
    assert "Holds: condemned beyond 20 mm, EBO Anlage 6" in text  # EBO Anlage 6: wheels over 840 mm, domestic
    assert "CFR" not in text
    assert "In the store: 41" in run("limits", "--db", db, "--vehicle", "42", code=1)


def test_what_a_new_vehicle_was_stated_to_be_is_known_to_the_store(tmp_path, run):
    out, db = tmp_path / "new.csv", tmp_path / "s.duckdb"
    words = ["new-vehicle", "--vehicle", "41", "--arrangement", "1'D1'", "--country", "Germany"]
    said = json.loads(run(*words, "--axle-load", 40000, "--main-axle", 2, "--out", out, "--json"))
    report = json.loads(run("add", "--db", db, *said["files"], "--json"))
    assert report["held_back"] == 0
    facts = Store(db).read("facts").set_index("fact")["value"]
    assert facts[["axle load", "main axle", "country"]].tolist() == ["40000", "2", "Germany"]


def test_a_sheet_of_facts_is_read_like_the_table(run, engine, tmp_path):
    db, _ = engine("41,country,US,,")
    sheet = tmp_path / "beside.csv"
    sheet.write_text("vehicle,fact,value,unit\n41,axle load,23.6,t\n", encoding="utf-8")
    said = json.loads(run("checks", "--db", db, "--json", "--facts", sheet))
    lax = next(row for row in said["checks"] if row["check"] == "limit against the law")
    assert "axle load over 50,000 to 55,000 lb" in lax["source"]
    sheet.write_text("vehicle,fact,value,unit\n41,axle load,23.6,\n", encoding="utf-8")
    assert "has no unit: state one of lb, kg, t" in run("checks", "--db", db, "--facts", sheet, code=2)
