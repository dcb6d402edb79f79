"""What goes out comes in again the same, and nothing that goes out runs in a spreadsheet."""

import json
import shutil
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest import units
from ingest.names.as_written import as_written
from ingest.neutral import with_formulas, without_formulas
from ingest.schema import TABLES, Column
from ingest.store import Store
from ingest.store.export import export, texts
from ingest.verdicts.add import add_files
from ingest.verdicts.normalise import normalise

FORMS = ["csv", "xlsx", "parquet"]
ORIGIN = ["row_id", "batch", "source_file", "source_sheet", "source_row"]


def assert_same(one: Store, other: Store) -> None:
    """Same rows in every table, to the last bit, and the same rows waiting."""
    here, there = one.read_all(), other.read_all()
    for name in TABLES:
        left, right = here[name].drop(columns=ORIGIN), there[name].drop(columns=ORIGIN)
        pd.testing.assert_frame_equal(left, right, check_exact=True)
    left, right = one.held(), other.held()
    assert waiting(left[left["outcome"] == ""]) == waiting(right)


def waiting(held: pd.DataFrame) -> list[dict[str, str]]:
    """Cells of the rows that wait; but not whether the file that they came from tells numbers from texts."""
    cells = [json.loads(raw) for raw in held["raw"]]
    return sorted(({k: v for k, v in each.items() if k != ":typed"} for each in cells), key=str)


@pytest.mark.parametrize("form", FORMS)
def test_the_demo_railway_comes_back_the_same(demo_taken, tmp_path, form):
    export(demo_taken, tmp_path / "out", form)
    other = Store(tmp_path / "other.duckdb")
    report = add_files(other, [tmp_path / "out"], today=date(2026, 12, 1))
    assert not report.not_read
    assert len(demo_taken.held()) > 50
    assert_same(demo_taken, other)


@pytest.mark.parametrize("form", FORMS)
def test_odd_rows_come_back_the_same(add, known, store, tmp_path, form):
    add(
        readings="point,date,value,unit,odometer,note\n"
        'HOLLOW,2001-02-01,0.9 mm,,16500 km,"=1+1"\nHOLLOW,2001-03-01,1/16,,,"two\nlines, and ""quotes"""\n'
        "HOLLOW,2001-04-01,minus,,,@home\nTHICK,2001-06-01,3.4,,,\nTHICK,2001-06-01,3.1,,,\nTHICK,2001-04-01,3.3333333333333335,,,'quoted'\nLIFT,2001-04-01,7,,,-\n",
        work="point,date,action,value_before,value_after,unit,note\n"
        "THICK,2001-05-01,cut,3 1/4 in,77.7,mm,+1\n",
        mileage="vehicle,date,odometer,unit,distance,event\n410,2002-02-01,5,km,300,replaced\n410,2002-02-05,,km,17,\n",
        findings="vehicle,date,component,examined,defective\n410,2001-02-01,pin,8,1\n410,2001-02-01,pin,8,1\n",
        costs="component,action,cost,currency,labor_hours\ntire,renewed,$1250.35,USD,7.1\n",
        usage="vehicle,month,miles_planned,miles_sd\n410,May 2027,333.3,20\n",
        funds="date,amount,kind,note\n2020-01-01,0.1,received,<b>bold</b>\n",
    )
    assert len(store.read("readings")) == 4
    assert len(store.held()) == 3  # the one without a number, and two that contradict each other
    export(store, tmp_path / "out", form)
    other = Store(tmp_path / "other.duckdb")
    add_files(other, [tmp_path / "out"])
    assert_same(store, other)


def test_a_new_number_column_of_readings_goes_out_as_its_own_number(known, store, monkeypatch):
    readings = TABLES["readings"]
    new = (
        Column("groove", "number", "depth", unit="base"),
        Column("warmth", "number", "of the day", unit="1"),
    )
    monkeypatch.setitem(TABLES, "readings", replace(readings, columns=(*readings.columns, *new)))
    row = {"point": "HOLLOW", "date": "2001-02-01", "value": "1/16", "unit": "in", "odometer": "16500 km"}
    came = pd.DataFrame([row | {"groove": "0.5", "warmth": "21"}], dtype="str")
    raw = came.assign(source_file="a.csv", source_sheet="", source_row=2)
    known_rows = {table: store.read(table) for table in ("wear_points", "mileage", "position_aliases")}
    rows = normalise("readings", raw, known_rows, today=date(2026, 12, 1)).rows
    written = as_written("readings", rows)
    assert written[list(came)].iloc[0].to_dict() == came.iloc[0].to_dict()


def test_days_in_a_log_of_kilometres_go_out_as_days():
    log = {"vehicle": "410", "date": pd.Timestamp("2001-02-01"), "unit": "km", "event": "", "note": ""}
    numbers = {"odometer_read": units.to_base(100.0, "km"), "distance": np.nan, "service_days": 3.0}
    written = as_written("mileage", pd.DataFrame([log | numbers])).iloc[0]
    assert (written["odometer"], written["distance"], written["service_days"]) == ("100", "", "3")


def test_a_past_version_can_be_exported(add, known, store, tmp_path):
    add(readings="point,date,value\nHOLLOW,2001-02-01,0.1\n")
    assert "readings" in texts(store)
    assert "readings" not in texts(store, known.batch)


def test_no_cell_that_goes_out_is_a_formula(add, known, store, tmp_path):
    notes = ["=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(A1)", "\t=1", "-5"]
    rows = "".join(f'HOLLOW,2001-02-{i + 1:02},0.1,"{note}"\n' for i, note in enumerate(notes))
    add(readings="point,date,value,note\n" + rows)
    (path,) = [p for p in export(store, tmp_path / "out") if p.name == "readings.csv"]
    written = pd.read_csv(path, dtype="str", keep_default_na=False)["note"]
    risky = written[written.str.match(r"[=+\-@\t\r]")]
    assert risky.tolist() == ["-5"]  # a number runs nothing
    assert store.read("readings")["note"].tolist() == [note.strip() for note in notes]


@settings(deadline=None)
@given(st.lists(st.text(alphabet="'=+-@\t1a ", max_size=6), min_size=1))
def test_neutralising_is_undone_exactly(cells):
    text = pd.Series(cells, dtype="str")
    safe = without_formulas(text.to_frame("note"))["note"]
    numbers = text.str.fullmatch(r"[-+]?[0-9.]+(e[-+]?[0-9]+)?")
    assert not (safe.str.match(r"[=+\-@\t\r]") & ~numbers).any()
    escaped = text.str.match(r"'+[=+\-@\t\r]") & numbers  # never: a number has no apostrophe
    assert not escaped.any()
    assert with_formulas(safe).tolist() == text.tolist()


@settings(deadline=None, max_examples=200)
@given(st.floats(0, 1e5), st.sampled_from(["in", "mm", "thou", "1/64 in", "ft", "%"]))
def test_a_figure_that_goes_out_reads_as_the_same_bits(number, unit):
    value = number * units.per_unit(unit)
    row = pd.DataFrame(
        {"point": ["A"], "date": [pd.Timestamp("2001-01-01")], "action": ["cut"], "note": [""]}
    )
    row = row.assign(value_before=value, value_after=np.nan, unit=unit)
    text = as_written("work", row)["value_before"].iloc[0]
    figure, _, base = text.partition(" ")
    assert float(figure) * units.per_unit(base or unit) == value


def test_a_file_that_is_there_is_replaced_in_one_step(known, store, tmp_path):
    out = tmp_path / "out"
    export(store, out)
    first = (out / "vehicles.csv").read_text()
    (out / "vehicles.csv").write_text("old")
    export(store, out)
    assert (out / "vehicles.csv").read_text() == first
    assert not [p for p in out.iterdir() if p.name.startswith(".")]
    shutil.rmtree(out)
