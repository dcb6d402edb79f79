"""``milesleft plan``: from sheets to a plan, its files, its comparisons, and clear words without one."""

import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import replace

import numpy as np
import openpyxl
import pandas as pd
import pypdf
import pytest
from click.testing import CliRunner

from dashboard.cli import main
from ingest.store import Store
from models.measure.first import COLUMNS

DAY = pd.Timestamp("2026-10-31")
PARTS = {"bushing": ("clearance", 0.0, 3.0, 40_000.0), "pin": ("clearance", 0.0, 2.0, 90_000.0)}


def sheets(folder):
    """A small railway: one engine, two families of four parts, five seasons, prices and findings."""
    rng = np.random.default_rng(3)
    folder.mkdir()
    pd.DataFrame({"vehicle": ["Alder"], "name": [""], "arrangement": ["2-8-0"], "class": ["K"]}).to_csv(
        folder / "vehicles.csv", index=False
    )
    days = pd.date_range("2021-10-31", DAY, freq="MS") + pd.Timedelta(days=27)
    run = np.where((days.month >= 5) & (days.month <= 10), 800.0, 0.0)
    log = pd.DataFrame({"vehicle": "Alder", "date": days, "odometer": run.cumsum(), "unit": "mi"})
    log["service_days"] = np.where(run > 0, 12, 0)
    log.to_csv(folder / "mileage.csv", index=False)
    points, readings = [], []
    for component, (quantity, new, limit, life) in PARTS.items():
        for i in range(4):
            name = f"{component.upper()}-{i + 1}"
            points.append((name, "Alder", component, f"driver {i + 1} left", quantity, "mm", new, limit))
            rate = limit / (life * rng.uniform(0.7, 1.3))
            for day, odometer in zip(days[5::12], run.cumsum()[5::12], strict=True):
                wear = rate * (odometer + 0.25 * life) + 0.03 * rng.standard_normal()
                readings.append((name, day, round(max(wear, 0.0), 3)))
    names = ["point", "vehicle", "component", "position", "quantity", "unit", "new_value", "condemning_limit"]
    table = pd.DataFrame(points, columns=names).assign(
        gauge_sd=0.03, access="rods_down", limit_source="own rule"
    )
    table.to_csv(folder / "wear_points.csv", index=False)
    pd.DataFrame(readings, columns=["point", "date", "value"]).to_csv(folder / "readings.csv", index=False)
    pd.DataFrame(
        [
            ("rods_down", "open", 1800, 64, 4),
            ("bushing", "renewed", 690, 9, 1),
            ("pin", "renewed", 380, 7, 1),
        ],
        columns=["component", "action", "cost", "labor_hours", "days_out"],
    ).assign(currency="USD", price_date="2026-03-31").to_csv(folder / "costs.csv", index=False)
    pd.DataFrame(
        [("Alder", "2019-01-10", "pin", 4, 1)],
        columns=["vehicle", "date", "component", "examined", "defective"],
    ).to_csv(folder / "findings.csv", index=False)
    return folder


def run(db, *arguments, code=0):
    result = CliRunner().invoke(main, [*arguments, "--db", str(db)])
    assert result.exit_code == code, result.output
    return result.output


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    folder = tmp_path_factory.mktemp("railway")
    db = folder / "store.duckdb"
    run(db, "add", str(sheets(folder / "sheets")))
    run(db, "forecast", "--quiet")
    return db


def plan(db, *more, **keywords):
    return run(db, "plan", "--years", "6", *more, **keywords)


def test_plan_prints_windows_and_scope_within_100_columns(store):
    text = plan(store, "--name", "first", "--all")
    assert max(len(line) for line in text.splitlines()) <= 100
    assert text.startswith("Alder: ")
    assert "Scope of Nov" in text
    assert "more than the best plan" in text
    assert "never replaces inspection by qualified people" in text
    assert "Kept as first." in text
    assert "jobs worked on at once: 3 [assumption, no source]" in text
    said = " ".join(text.split())
    repeated = r"left until ([^;]*?) it would [^:]*? not later: in \1 it would"
    assert "left until" in said
    assert re.findall(repeated, said) == []


def test_plan_as_json_holds_every_frame_and_is_kept(store):
    shown = json.loads(plan(store, "--json", "--name", "json"))
    assert shown["name"] == "json"
    assert {"windows", "scope", "points", "risk", "late", "amounts", "amount_lines", "totals"} <= set(shown)
    line = shown["scope"][0]
    assert {"component", "position", "cost", "labor_hours", "reason", "chance_by_next"} <= set(line)
    assert line["reason"]
    sources = {row["assumption"]: row["source"] for row in shown["assumed"]}
    assert sources["jobs worked on at once"] == "assumption, no source"
    assert "json" in run(store, "plan", "--list")
    amounts = pd.DataFrame(shown["amounts"]).set_index("window")
    parts = pd.DataFrame(shown["amount_lines"]).groupby("window")[["at50", "at80"]].sum()
    np.testing.assert_allclose(parts["at80"], amounts["p80"].loc[parts.index])


def test_scope_as_workbook_and_pdf_for_a_quotation(store, tmp_path):
    book, document, picture = tmp_path / "scope.xlsx", tmp_path / "scope.pdf", tmp_path / "calendar.svg"
    plan(store, "--quiet", "--out", str(book), "--out", str(document), "--out", str(picture))
    sheet = openpyxl.load_workbook(book)
    assert sheet.sheetnames[:3] == ["Scope", "Dimensions", "Windows"]
    head = [cell.value for cell in sheet["Scope"][1]]
    assert {"positions", "hours", "why", "quoted price"} <= set(head)
    dimensions = [cell.value for cell in sheet["Dimensions"][1]]
    assert {"last reading", "5 times in 10 below", "shop limit", "condemning limit"} <= set(dimensions)
    told = [cell.value for row in sheet["Scope"] for cell in row if cell.value]
    assert any("never replaces inspection by qualified people" in str(words) for words in told)
    assert all("never replaces" in page.oddFooter.left.text for page in sheet.worksheets)
    pages = [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(document).pages]
    assert all("never replaces inspection by qualified people" in page for page in pages)
    text = "".join(pages)
    assert "Overhaul plan: Alder" in text
    assert "bushing" in text
    assert picture.read_text().startswith("<svg")
    assert "What the plan assumes" in text
    assumed = [[cell.value for cell in row] for row in sheet["Assumptions"].iter_rows(min_row=2)]
    assert ["money that a day beyond a window costs", "1,000", "USD", "assumption, no source"] in assumed


def test_text_in_the_workbook_is_never_a_formula(store, tmp_path):
    from dashboard.papers.plan_documents import workbook
    from dashboard.services.plan_material import PlanChoices, read_plan_material
    from dashboard.services.planning import plan_from
    from ingest.store import Store

    result = plan_from(read_plan_material(Store(store)), PlanChoices(years=3))
    result.plan.scope.loc[0, "component"] = "=1+1"
    (tmp_path / "plan.xlsx").write_bytes(workbook(result))
    cells = [cell for row in openpyxl.load_workbook(tmp_path / "plan.xlsx")["Scope"] for cell in row]
    assert [cell.data_type for cell in cells if cell.value == "=1+1"] == ["s"]


def test_more_risk_costs_less_and_both_plans_stand_side_by_side(store):
    plan(store, "--quiet", "--name", "careful", "--risk", "0.01")
    plan(store, "--quiet", "--name", "bold", "--risk", "0.3")
    text = run(store, "plan", "--compare", "careful", "bold")
    assert "careful" in text
    table = pd.DataFrame(json.loads(run(store, "plan", "--compare", "careful", "bold", "--json"))).set_index(
        "figure"
    )
    assert table.loc["money", "careful"] >= table.loc["money", "bold"]
    assert table.loc["stop_by_end", "careful"] <= table.loc["stop_by_end", "bold"]


def test_a_stated_window_is_planned_with(store):
    shown = json.loads(plan(store, "--json", "--only-windows", "--window", "2027-06-01:2027-07-15"))
    windows = shown["windows"]
    assert [(row["source"], row["opens"]) for row in windows] == [("by hand", "2027-06-01")]


def test_work_asked_for_now_and_more_running_change_the_plan(store):
    shown = json.loads(plan(store, "--json", "--now", "PIN-4", "--usage", "1.5"))
    first = [line for line in shown["scope"] if line["window"] == 1]
    assert any("PIN-4" in line["points"] for line in first)


def test_a_plan_against_what_was_done(store):
    plan(store, "--quiet", "--name", "held against the record")
    text = run(store, "plan", "--done", "held against the record")
    assert "not yet due" in text


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--window", "2027"], "--window '2027': it is no pair of days"),
        (["--window", "2027-05-01:2027-04-01"], "it closes before it opens"),
        (["--risk", "5"], "Expected a chance between 0 and 1"),
        (["--risk-of", "flange"], "it is not WORDS=CHANCE"),
        (["--out", "plan.docx"], "is no ending that can be written"),
        (["--out", "nowhere/plan.pdf"], "there is no folder"),
        (["--vehicle", "Birch"], "--vehicle Birch: it has no forecast. Expected one of Alder"),
        (["--compare", "none", "none"], "'none': the store holds no such plan"),
    ],
)
def test_wrong_usage_says_what_was_expected(store, arguments, words):
    assert words in run(store, "plan", *arguments, code=2)


def test_strict_names_the_wear_point_and_the_window(store):
    text = plan(store, "--strict", "--risk", "0.0005", code=1)
    assert "no plan keeps every wear point within the accepted risk" in text
    assert "--window DATE:DATE" in text


def test_a_store_without_a_forecast_says_what_to_run(tmp_path):
    db = tmp_path / "empty.duckdb"
    run(db, "add", str(sheets(tmp_path / "sheets")))
    assert "make it first: `milesleft forecast`" in run(db, "plan", code=1)


def test_the_bar_tells_work_and_gap():
    from dashboard.words.plan_progress import PlanBar

    bar = PlanBar(shown=False)
    assert "weighing chances" in bar.line(1)
    bar("Alder", 3, 105.0, 100.0)
    assert bar.line(2) == f"planning [..#{'.' * 21}] 3 nodes, gap Alder 4.8 %"


AMOUNTS = ("amounts", "amount_lines")


def choices_made(shown):
    """What a plan printed, but for its name and the money of the windows, which is compared apart."""
    return {name: shown[name] for name in shown if name not in ("run", "name", *AMOUNTS)}


@pytest.fixture
def own_store(store, tmp_path):
    """A copy in which no plan is kept that another test made."""
    path = tmp_path / "own.duckdb"
    shutil.copy(store, path)
    return path


WIDE = ("--window", "2027-01-05:2027-04-20", "--gap", "0.5")
"""Choices of which no other test keeps a plan; with such a gap a kept plan would stand though far dearer."""


def test_plan_is_the_same_again_and_a_what_if_kept_between_changes_nothing(own_store):
    first = json.loads(plan(own_store, "--json", *WIDE))
    other = json.loads(plan(own_store, "--json", *WIDE, "--now", "PIN-4", "--name", "what if"))
    again = json.loads(plan(own_store, "--json", *WIDE, "--name", "again"))
    assert choices_made(first) == choices_made(again)
    assert (first["amounts"], first["amount_lines"]) == (again["amounts"], again["amount_lines"])
    assert "seconds" not in {row["what"] for row in first["totals"]}
    assert other["scope"] != first["scope"]


def test_newest_plan_kept_with_the_same_choices_is_the_one_begun_from(own_store):
    from dashboard.services.kept_plans import newest_kept
    from dashboard.services.plan_material import PlanChoices, read_plan_material
    from dashboard.services.planning import plan_and_store
    from ingest.store import Store
    from models.plan.rules import Rules

    kept, material = Store(own_store), read_plan_material(Store(own_store))
    asked = PlanChoices(years=4.5, rules=Rules(risk=0.07, risk_by={"clearance": 0.06}))
    assert newest_kept(kept, material, asked) is None
    run_id, _ = plan_and_store(kept, asked)
    for other in (
        replace(asked, effort=2.0),
        replace(asked, gap=0.01),
        replace(asked, usage=1.1),
        replace(asked, rules=Rules(risk=0.07)),
    ):
        assert newest_kept(kept, material, other) is None
    found = newest_kept(kept, material, replace(asked, vehicles=("Alder",)))  # the same vehicles by name
    pd.testing.assert_frame_equal(found, kept.read_run(run_id, "scope"))


def test_plan_is_the_same_on_a_busy_machine_and_another_processor(own_store, tmp_path):
    from numpy._core._multiarray_umath import __cpu_dispatch__, __cpu_features__

    fewer = " ".join(name for name in __cpu_dispatch__ if __cpu_features__[name])
    fresh = [tmp_path / f"{name}.duckdb" for name in ("busy", "fewer")]
    for db in fresh:
        shutil.copy(own_store, db)
    asked = ("--json", "--years", "30", "--discount", "0.042", "--gap", "0")
    shown = [json.loads(plan(own_store, *asked))]
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(4)]
    try:
        settings = ({}, {"NPY_DISABLE_CPU_FEATURES": fewer, "OPENBLAS_CORETYPE": "Nehalem"})
        for db, setting in zip(fresh, settings, strict=True):
            command = [sys.executable, "-m", "dashboard.cli", "plan", *asked]
            made = subprocess.run(
                [*command, "--db", str(db)], env={**os.environ, **setting}, capture_output=True, check=True
            )
            shown.append(json.loads(made.stdout))
    finally:
        for process in busy:
            process.kill()
            process.wait()
    for other in shown[1:]:
        assert choices_made(other) == choices_made(shown[0])
        assert [other[name] for name in AMOUNTS] == [shown[0][name] for name in AMOUNTS]


def test_a_limit_of_time_is_taken_and_said_to_change_nothing(own_store):
    result = CliRunner().invoke(
        main, ["plan", "--quiet", "--years", "3", "--time-limit", "5", "--db", str(own_store)]
    )
    assert result.exit_code == 0
    assert "it changes nothing any more" in result.stderr
    assert "--effort" in result.stderr
    shown = CliRunner().invoke(main, ["plan", "--help"]).output
    assert "--effort" in shown
    assert "--time-limit" not in shown


def test_a_withdrawn_plan_is_not_begun_from_and_an_approved_one_goes_before_a_newer(own_store):
    from dashboard.services.kept_plans import newest_kept
    from dashboard.services.plan_material import PlanChoices, read_plan_material
    from dashboard.services.planning import plan_and_store
    from ingest.store import Store

    kept, material = Store(own_store), read_plan_material(Store(own_store))
    asked = PlanChoices(years=3.5)
    first, _ = plan_and_store(kept, asked, name="first")
    scope = kept.read_run(first, "scope")
    newer = kept.save_run("plan", json.loads(kept.runs("plan")["about"].iloc[0]), {"scope": scope.iloc[:1]})
    assert len(newest_kept(kept, material, asked)) == 1
    plan(own_store, "--approve", first)
    assert len(newest_kept(kept, material, asked)) == len(scope)
    plan(own_store, "--withdraw", newer)
    plan(own_store, "--withdraw", first)
    assert newest_kept(kept, material, asked) is None


def test_the_plan_for_the_board_is_one_page(store, tmp_path):
    path = tmp_path / "board.pdf"
    told = plan(store, "--board", str(path))
    pages = pypdf.PdfReader(path).pages
    text = " ".join(pages[0].extract_text().split())
    assert len(pages) == 1
    assert "Overhaul plan for the board: Alder" in text
    assert "taken out of service in a season" in text
    work, lost = re.search(
        r" ([\d,]+ USD) of work at today's prices, ([\d,]+ USD) of lost days", " ".join(told.split())
    ).groups()
    assert f"Work at today's prices costs {work}, days of service lost {lost}." in text
    assert "is no ending" in run(store, "plan", "--board", str(tmp_path / "board.docx"), code=2)


def test_what_to_measure_first_is_a_round_of_the_plan(store):
    shown = json.loads(plan(store, "--json", "--name", "measured for"))
    first = pd.DataFrame(shown["measure_first"])
    table = pd.DataFrame(json.loads(run(store, "measure-first", "--plan", "measured for", "--json")))
    assert set(table["point"]) == set(first["point"]) if len(first) else table.empty
    text = run(store, "measure-first", "--plan", "measured for", "--minutes", "30")
    assert "in walking order" in text or "No reading would change the plan" in text
    assert "'none': the store holds no such plan" in run(store, "measure-first", "--plan", "none", code=2)


def test_an_engine_of_which_no_reading_would_change_the_plan_is_in_it_all_the_same(store, tmp_path):
    db = shutil.copy(store, tmp_path / "store.duckdb")
    plan(db, "--name", "first")
    nothing = {"measure_first": pd.DataFrame(columns=COLUMNS)}
    Store(db).save_run("plan", {"name": "nothing to read", "vehicles": ["Alder"]}, nothing)
    asked = ("measure-first", "--plan", "nothing to read", "--vehicle")
    assert run(db, *asked, "Alder") == "No reading would change the plan.\n"
    assert json.loads(run(db, *asked, "Alder", "--json")) == []
    assert "Birch: it is not in the plan 'nothing to read'. Expected one of Alder" in run(
        db, *asked, "Birch", code=2
    )
    assert "it is not in any plan" in run(db, "measure-first", "--vehicle", "Birch", code=2)
