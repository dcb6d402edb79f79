"""``milesleft demo``: from the sheets to the printed table."""

import json
import socket
import subprocess
import time
import urllib.error
import urllib.request
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from dashboard.cli import main
from dashboard.papers.shortest_lived import WIDTH, as_table, shortest_lived
from dashboard.words.cautions import FORECAST_CAUTION
from ingest.store import Store
from ingest.verdicts.add import add_files


def forecast(**columns):
    """A small forecast table: four wear points, one past its limit, one that cannot be told."""
    base = {
        "point": ["A", "B", "C", "D"],
        "component": "driver tire",
        "quantity": "tread hollow",
        "as_of": pd.Timestamp("2026-10-31"),
        "miles_p05": [900.0, 0.0, 400.0, np.nan],
        "miles_p50": [1500.4, 0.0, 9000.0, np.nan],
        "date_p50": [pd.Timestamp("2027-05-01"), pd.Timestamp("2026-10-31"), pd.NaT, pd.NaT],
        "p_beyond_now": [0.0, 0.8, 0.01, np.nan],
        "flags": ["", "limit may be passed", "", "no condemning limit is stated"],
    }
    return pd.DataFrame({**base, **columns})


def test_past_its_limit_comes_first_then_the_careful_figure():
    assert shortest_lived(forecast())["point"].tolist() == ["B", "C", "A"]
    assert shortest_lived(forecast(), past=1, others=1)["point"].tolist() == ["B", "C"]


def test_the_table_says_what_it_shows():
    text = as_table(forecast())
    rows = [line.split() for line in text.splitlines()]
    assert ["A", "driver", "tire,", "tread", "hollow", "900", "1,500", "2027-05-01"] in rows
    assert ["B", "driver", "tire,", "tread", "hollow", "80", "in", "100", "0", "0", "2026-10-31"] in rows
    assert ["C", "driver", "tire,", "tread", "hollow", "1", "in", "100", "400", "9,000"] in rows
    assert "2026-10-31" in text
    assert "1 cannot be forecast" in " ".join(text.split())
    assert FORECAST_CAUTION in " ".join(text.split())


def test_flags_of_most_are_said_once_and_the_others_where_they_belong():
    text = as_table(
        forecast(flags=["old", "past its limit now 80 times in 100; old", "old; odd reading", "old"])
    )
    assert text.count("old") == 1
    assert "past its limit now" not in text
    lines = text.splitlines()
    assert lines[lines.index("    odd reading") - 1].startswith("C ")


def test_what_does_not_fit_is_counted():
    points = [f"P{i}" for i in range(13)]
    many = pd.concat([forecast().iloc[[1]]] * 13).assign(point=points)
    assert "3 more are past their limit, as last read or probably" in " ".join(as_table(many).split())


def test_the_table_fits_100_columns_whatever_is_in_it():
    long = forecast(
        point=["H-T4R-BRAKEHANGER-OUTER"] * 4,
        component="tender truck bolster and more",
        quantity="side bearing clearance, outer",
        miles_p50=1_234_567.0,
        flags=[f"few readings {i}; outside the range; measure again soon please, this {i}" for i in range(4)],
    )
    lines = as_table(long).splitlines()
    assert max(map(len, lines)) <= WIDTH
    assert " ".join(" ".join(lines).split()).count("measure again soon please") == 4


def test_nothing_told_is_a_table_without_rows():
    assert "wear point" in as_table(forecast().tail(1))


@pytest.fixture(scope="module")
def ran(first_visit):
    return first_visit


def test_it_ends_with_the_printed_table(ran):
    done = ran[1]
    assert max(map(len, done.stdout.splitlines())) <= WIDTH
    for word in ("accepted", "held back", "already known", "Forecast of 500 wear points", "half by"):
        assert word in " ".join(done.stdout.split())
    assert 15 < done.stdout.count("\nQ-") + done.stdout.count("\nH-") <= 25


def test_again_all_is_known_nothing_is_made_and_json_says_the_same(ran, milesleft):
    store = Store(ran[0] / "demo.duckdb")
    kinds = ("forecast", "score", "plan", "case")
    before = {kind: store.runs(kind)["run_id"].tolist() for kind in kinds}
    assert [len(before[kind]) for kind in kinds] == [2, 1, 1, 1]
    call = [*milesleft, "demo", "--no-serve", "--db", "demo.duckdb", "--json"]
    done = subprocess.run(call, cwd=ran[0], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    assert (said["accepted"], said["held_back"]) == (0, 0)
    assert said["already_known"] > 10_000
    printed = [line.split()[0] for line in ran[1].stdout.splitlines() if line.startswith(("Q-", "H-"))]
    assert [row["point"] for row in said["shortest_lived"]] == printed
    assert {kind: store.runs(kind)["run_id"].tolist() for kind in kinds} == before


def test_each_step_is_told_while_it_is_done(ran):
    for word in ("22 seasons", "this winter", "past days", "Planning", "brief"):
        assert word in ran[1].stderr


def test_quiet_it_only_serves(ran, milesleft):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    call = [*milesleft, "demo", "--db", "demo.duckdb", "--port", str(port), "--quiet"]
    with subprocess.Popen(
        call, cwd=ran[0], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as served:
        try:
            assert answer(f"http://127.0.0.1:{port}/health")["ok"] is True
        finally:
            served.terminate()
        assert "Forecast" not in served.communicate(timeout=30)[0]


def answer(url, seconds=90):
    """What the server says once it is up."""
    for _ in range(seconds * 2):
        try:
            with urllib.request.urlopen(url, timeout=5) as response:
                return json.load(response)
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.5)
    pytest.fail(f"{url} did not answer within {seconds} s")


def test_it_is_not_mixed_into_another_railways_store(tmp_path):
    (tmp_path / "vehicles.csv").write_text("vehicle,name,arrangement\nOwn engine,,2-6-0\n", "utf-8")
    db = tmp_path / "own.duckdb"
    add_files(Store(db), [tmp_path / "vehicles.csv"])
    version = Store(db).version()
    result = CliRunner().invoke(main, ["demo", "--no-serve", "--db", str(db)])
    assert result.exit_code == 1
    assert "Own engine" in result.output
    assert "--db" in result.output
    assert Store(db).version() == version
    assert Path(db).exists()
