"""A store forecast in runs: on one machine, on a cluster, and on one whose workers die."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from distributed import Client, LocalCluster
from fleets.large_fleets import KINDS, write_large

from dashboard.cli import main
from dashboard.services import forecast_runs
from dashboard.services.forecast_runs import forecast_in_runs
from dashboard.services.forecasting import run_forecast
from dashboard.services.one_run import Task
from ingest.errors import NotPossible
from ingest.store import Store
from ingest.verdicts.add import add_files
from models.forecast.public import PUBLIC

POINTS = 2 * 8 * KINDS
FRAMES = ("forecast", "distribution", "state", "family", "reading_check", "path", "condemned")


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    folder = tmp_path_factory.mktemp("large")
    write_large(folder / "files", POINTS, readings=6, seed=3)
    made = Store(folder / "store.duckdb")
    assert add_files(made, [folder / "files"]).count("accepted") > 6 * POINTS
    return made


@pytest.fixture(scope="module")
def in_runs(store):
    """Three runs on this machine."""
    return forecast_in_runs(store, store.version(), Task(), run_points=160)


def test_the_script_of_who_asks_is_not_run_in_each_process(store, in_runs, tmp_path, monkeypatch):
    page = ModuleType("__main__")  # as a page's thread of a server has it
    page.__file__ = str(tmp_path / "page.py")
    Path(page.__file__).write_text(f"open({str(tmp_path / 'ran')!r}, 'w'); raise SystemExit(1)")
    monkeypatch.setitem(sys.modules, "__main__", page)
    again = forecast_in_runs(store, store.version(), Task(), run_points=160)
    assert not (tmp_path / "ran").exists()
    assert sys.modules["__main__"] is page
    assert_same(frames(store, in_runs), frames(store, again))


@pytest.fixture(scope="module")
def cluster():
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as made:
        yield made


def frames(store, run):
    return {name: store.read_run(run, name) for name in FRAMES}


def assert_same(first, other):
    for name in FRAMES:
        pd.testing.assert_frame_equal(first[name], other[name], check_exact=True, obj=name)


def test_every_wear_point_is_in_exactly_one_run(store, in_runs):
    table = store.read_run(in_runs, "forecast")
    assert list(table.columns) == list(PUBLIC)
    assert sorted(table["point"]) == sorted(store.read("wear_points")["point"])
    assert table["miles_p50"].notna().all()
    assert len(store.read_run(in_runs, "reading_check")) == len(store.read("readings"))
    about = store.runs("forecast").set_index("run_id").loc[in_runs, "about"]
    assert '"runs": 3' in about
    assert f'"points": {POINTS}' in about


def test_runs_and_all_at_once_agree_within_what_the_sample_leaves_open(store, in_runs):
    whole = store.read_run(run_forecast(store), "forecast").set_index("point")
    parts = store.read_run(in_runs, "forecast").set_index("point").loc[whole.index]
    # Priors and weights of shapes from another set of families, and fewer nodes: no forecast is the same to
    # the digit, and none of these may be another forecast. The width of the 80 % interval is the yardstick.
    width = whole["miles_p90"] - whole["miles_p10"]
    moved = ((parts["miles_p50"] - whole["miles_p50"]) / width).abs()
    assert moved.median() < 0.05
    assert moved.quantile(0.95) < 0.2
    wider = (parts["miles_p90"] - parts["miles_p10"]) / width
    assert 0.95 < wider.median() < 1.05


def test_a_cluster_gives_the_same_numbers_to_the_last_digit(store, in_runs, cluster):
    run = forecast_in_runs(
        store, store.version(), Task(), scheduler=cluster.scheduler_address, run_points=160
    )
    assert_same(frames(store, run), frames(store, in_runs))


def test_a_small_store_by_the_command_on_a_cluster_is_the_forecast_of_one_machine(store, cluster, tmp_path):
    tables = []
    for more in ([], ["--scheduler", cluster.scheduler_address]):
        out = tmp_path / f"{len(tables)}.parquet"
        result = CliRunner().invoke(main, ["forecast", "--db", str(store.path), "--out", str(out), *more])
        assert result.exit_code == 0, result.output
        tables.append(pd.read_parquet(out))
    pd.testing.assert_frame_equal(*tables, check_exact=True)


def test_a_worker_that_is_killed_in_the_middle_loses_nothing(store, in_runs, cluster):
    with Client(cluster.scheduler_address, set_as_default=False) as client:
        workers = client.run(os.getpid)
        victim = next(iter(workers.values()))
        killed = threading.Event()

        def kill_when_busy():
            while not any(client.processing().values()):
                time.sleep(0.02)
            os.kill(victim, signal.SIGKILL)
            killed.set()

        thread = threading.Thread(target=kill_when_busy)
        thread.start()
        run = forecast_in_runs(
            store, store.version(), Task(), scheduler=cluster.scheduler_address, run_points=160
        )
        thread.join()
    assert killed.is_set()
    assert_same(frames(store, run), frames(store, in_runs))


def test_a_process_of_this_machine_that_is_killed_is_told_and_nothing_stored(store, monkeypatch):
    before = len(store.runs("forecast"))
    handed_out = forecast_runs._on_this_machine

    def killing(pool, *task_parts):
        for worker in list(pool._processes.values()):
            worker.kill()
        yield from handed_out(pool, *task_parts)

    monkeypatch.setattr(forecast_runs, "_on_this_machine", killing)
    with pytest.raises(NotPossible, match="ended from outside"):
        forecast_in_runs(store, store.version(), Task(), run_points=160)
    assert len(store.runs("forecast")) == before


KILLED = """
import os, time
from dashboard.services.forecast_runs import _processes
with _processes(2) as pool:
    print(*{pool.submit(os.getpid).result() for _ in range(20)}, flush=True)
    time.sleep(60)
"""


def test_a_command_that_is_killed_leaves_no_process_behind():
    with subprocess.Popen([sys.executable, "-c", KILLED], stdout=subprocess.PIPE, text=True) as command:
        workers = [int(pid) for pid in command.stdout.readline().split()]
        assert workers
        command.kill()
    for _ in range(100):
        left = [pid for pid in workers if os.path.exists(f"/proc/{pid}")]
        if not left:
            break
        time.sleep(0.1)
    assert not left


def test_a_scheduler_that_does_not_answer_is_told_in_words(store, monkeypatch):
    monkeypatch.setattr("dashboard.services.cluster.PATIENCE_S", 1)
    before = len(store.runs("forecast"))
    with pytest.raises(NotPossible, match=r"tcp://127\.0\.0\.1:9' does not answer"):
        forecast_in_runs(store, store.version(), Task(), scheduler="tcp://127.0.0.1:9")
    assert len(store.runs("forecast")) == before


def test_past_versions_are_forecast_in_runs_as_they_were(store, in_runs, tmp_path):
    version = store.version()
    before = store.read_run(in_runs, "forecast")
    (tmp_path / "readings.csv").write_text("point,date,value,unit\nC0000-1-00L,2025-12-20,9.9,mm\n")
    add_files(store, [tmp_path / "readings.csv"])
    again = forecast_in_runs(store, version, Task(), run_points=160)
    pd.testing.assert_frame_equal(store.read_run(again, "forecast"), before, check_exact=True)
    assert np.isfinite(before["miles_p50"]).all()
