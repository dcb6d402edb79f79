"""``milesleft score``: from files to the track record, on a small simulated fleet."""

import json

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from fleets.fleet_tables import write_fleet
from fleets.simulate import FleetPlan, simulate_fleet

from dashboard.cli import main
from dashboard.services.one_run import latest_stretch
from ingest.store import Store
from models.lives.build import build_lives
from models.score.track_record import record_of


@pytest.fixture(scope="module")
def fleet():
    plan = FleetPlan(n_families=6, n_lives=8, stop=(1.0, 1.8), readings=(6, 12))
    return simulate_fleet(np.random.default_rng(31), plan)


@pytest.fixture(scope="module")
def db(fleet, tmp_path_factory):
    folder = tmp_path_factory.mktemp("fleet")
    write_fleet(fleet, folder)
    path = folder / "store.duckdb"
    files = [str(p) for p in sorted(folder.glob("*.csv"))]
    result = CliRunner().invoke(main, ["add", *files, "--db", str(path)])
    assert result.exit_code == 0, result.output
    return path


@pytest.fixture(scope="module")
def printed(db):
    result = CliRunner().invoke(main, ["score", "--quick", "--origins", "3", "--db", str(db)])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_the_record_from_the_tables_is_the_record_that_was_simulated(db, fleet):
    tables = Store(db).read_all("vehicles", "wear_points", "mileage", "readings", "work")
    record = record_of(build_lives(tables, as_written=True))
    per_day = fleet.families.miles_per_day[fleet.arrays["family"]]
    assert len(record.end_day) == len(fleet.end_day)
    # Points and lives come in the same order. A renewal is dated to the day, some 10 to 40 miles.
    np.testing.assert_array_equal(record.lives.ended, fleet.arrays["ended"])
    assert (np.abs(record.end_day - fleet.end_day) <= 1).all()
    assert (np.abs(record.lives.as_of_miles - fleet.arrays["as_of_miles"]) <= 2 * per_day).all()
    assert (np.abs(record.whole_miles - fleet.whole_miles) <= 2 * per_day).all()


def test_prints_every_forecaster_and_family(printed):
    for words in (
        "milesleft",
        "last two readings",
        "straight line",
        "class V001",
        "class V006",
        "ends that came",
    ):
        assert words in printed
    assert "never replaces inspection by qualified people" in printed.replace("\n", " ")
    assert max(len(line) for line in printed.splitlines()) <= 100


def test_the_run_is_stored_with_its_frames(db, printed):
    store = Store(db)
    run = store.runs("score").iloc[0]
    assert run["data_version"] == store.version()
    about = json.loads(run["about"])
    assert len(about["origins"]) == 3
    assert about["as_of"] == "2025-12-31"
    overall = store.read_run(run["run_id"], "overall")
    assert set(overall["kind"]) == {"readings", "remaining"}
    by_family = store.read_run(run["run_id"], "by_family")
    assert by_family["family"].nunique() == 6
    pit = store.read_run(run["run_id"], "pit")
    shares = pit[pit["family"] == "all"].groupby("forecaster")["share"].sum()
    np.testing.assert_allclose(shares, 1.0)
    assert {"factor", "cover_80_before", "cover_80_after"} <= set(
        store.read_run(run["run_id"], "recalibration")
    )


def test_the_stretch_of_each_family_can_be_asked_for(db, printed, tmp_path):
    stretch = latest_stretch(Store(db))
    assert len(stretch) == 6
    assert ((stretch >= 0.5) & (stretch <= 3.0)).all()
    assert stretch.index.str.startswith("class V").all()
    assert latest_stretch(Store(tmp_path / "none.duckdb")).empty


def test_beats_the_rivals_on_this_fleet_and_holds_its_cover(db, printed):
    store = Store(db)
    overall = store.read_run(store.runs("score").iloc[0]["run_id"], "overall").set_index(
        ["kind", "forecaster"]
    )
    own = overall.loc[("readings", "milesleft")]
    assert own["crps_ratio"] < 0.95
    # Some 48 lives: two standard errors of a cover of 80 % are 12 points.
    assert own["cover_80"] == pytest.approx(0.8, abs=0.12)
    assert own["answered"] == 1.0


def test_json_holds_the_same(db):
    result = CliRunner().invoke(main, ["score", "--quick", "--origins", "3", "--json", "--db", str(db)])
    found = json.loads(result.stdout)
    assert {row["forecaster"] for row in found["overall"]} >= {"milesleft", "straight line"}
    assert found["run"].startswith("score")
    verdicts = {row["verdict"] for row in found["by_family"] if row["forecaster"] == "milesleft"}
    assert verdicts <= {
        "beats the straight line",
        "no better than the straight line",
        "too few to tell",
        "too sure: its ranges hold too little",
    }
    ruler = next(
        r for r in found["overall"] if r["forecaster"] == "last two readings" and r["kind"] == "readings"
    )
    assert ruler["reached"] is None  # missing is null, never NaN


def test_a_store_without_readings_on_two_days_cannot_be_scored(tmp_path):
    folder = tmp_path / "few"
    write_fleet(simulate_fleet(np.random.default_rng(1), FleetPlan(n_families=1, n_lives=2)), folder)
    readings = pd.read_csv(folder / "readings.csv")
    readings[readings["date"] == readings["date"].min()].to_csv(folder / "readings.csv", index=False)
    db = str(tmp_path / "few.duckdb")
    files = [str(p) for p in sorted(folder.glob("*.csv"))]
    assert CliRunner().invoke(main, ["add", *files, "--db", db]).exit_code == 0
    result = CliRunner().invoke(main, ["score", "--quick", "--db", db])
    assert result.exit_code == 1
    assert "read on two different days" in result.stderr
    assert "Traceback" not in result.output


def test_no_store_is_said_plainly(tmp_path):
    result = CliRunner().invoke(main, ["score", "--db", str(tmp_path / "none.duckdb")])
    assert result.exit_code == 1
    assert "none.duckdb" in result.stderr
