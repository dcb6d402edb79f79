"""Trains as given out: a workbook that comes back in, and the running with it."""

import pandas as pd
import pytest
from click.testing import CliRunner

from dashboard.cli import main
from dashboard.planned.trips_file import trips_workbook
from dashboard.words.plan_words import trips_words
from ingest.errors import NotPossible
from ingest.store import Store
from models.trips.share import GIVEN_COLUMNS


def test_what_is_given_out_comes_back_in_and_running_follows(tmp_path):
    (tmp_path / "vehicles.csv").write_text("vehicle,class\nAlder,K\nBirch,K\n")
    (tmp_path / "usage.csv").write_text(
        "vehicle,month,miles_planned\nAlder,2030-05,500\nBirch,2030-05,100\nBirch,2030-06,80\n"
    )
    (tmp_path / "trips.csv").write_text(
        "date,train,engines_able,vehicle,miles,load,note\n"
        "2030-05-01,T1,Alder;Birch,Alder,40,5 coaches,school\n2030-05-02,T1,,Alder,40,,\n"
    )
    db = tmp_path / "railway.duckdb"
    sheets = [str(tmp_path / f"{name}.csv") for name in ("vehicles", "usage", "trips")]
    assert CliRunner().invoke(main, ["add", *sheets, "--db", str(db)]).exit_code == 0
    tables = Store(db).read_all("trips", "usage")
    given = tables["trips"].sort_values("date").assign(was=tables["trips"]["vehicle"], vehicle="Birch")
    file = tmp_path / "given.xlsx"
    file.write_bytes(trips_workbook(given[GIVEN_COLUMNS], tables["usage"]))
    done = CliRunner().invoke(main, ["add", str(file), "--db", str(db)])
    assert done.exit_code == 0, done.output
    after = Store(db).read_all("trips", "usage")
    trips = after["trips"].sort_values("date")
    assert trips["vehicle"].tolist() == ["Birch", "Birch"]
    assert trips["engines_able"].tolist() == ["Alder;Birch", ""]
    assert trips["note"].tolist() == ["school", ""]
    usage = after["usage"].set_index(["vehicle", after["usage"]["month"].dt.strftime("%Y-%m")])
    assert usage["miles_planned"].round(6).to_dict() == {
        ("Alder", "2030-05"): 420.0, ("Birch", "2030-05"): 180.0, ("Birch", "2030-06"): 80.0,
    }  # fmt: skip


def test_without_trains_there_is_no_file():
    with pytest.raises(NotPossible, match="holds no trains"):
        trips_workbook(pd.DataFrame(columns=GIVEN_COLUMNS), pd.DataFrame())


def test_the_share_is_said_engine_by_engine():
    engines = pd.DataFrame(
        {
            "vehicle": ["Alder", "Birch"], "days": [10, 20], "miles": [400.0, 800.0],
            "days_before": [20.0, float("nan")], "miles_before": [800.0, float("nan")],
            "chance": [0.05, 0.1], "chance_before": [0.3, float("nan")],
        }
    )  # fmt: skip
    assert trips_words(engines) == [
        "Alder: 10 days, 400 miles, stopped 1 time in 20 (as they are given now: 20 days, 800 miles,"
        " 3 times in 10).",
        "Birch: 20 days, 800 miles, stopped 1 time in 10.",
    ]
