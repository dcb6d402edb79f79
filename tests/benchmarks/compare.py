"""Everything against everything, on one machine, in one run, as one table.

    python tests/benchmarks/compare.py                    up to 10,000 wear points, some minutes
    python tests/benchmarks/compare.py --to 1000000       the whole way, on a machine that does nothing else
    python tests/benchmarks/compare.py --only forecast --only "OLS loop"

Each work is done in a process of its own, its modules imported beforehand, at 10^3, 10^4, ... wear points
of twelve readings each, from an invented fleet. Columns, of the largest size tried: seconds by the clock;
seconds of the processors, of all processes; the most memory that the process held, and the largest of those
that it started; processor seconds per 1,000 wear points, and how often those of the forecast; the slope of
the processor seconds against the wear points on log-log paper (1: twice the points, twice the work); and,
of forecasters, the pinball loss on a fleet whose truth is known (the ``straight`` one of ``accuracy.py``),
a share of a mean life. What a user would take instead is tried as far as it bears; the floor is one pass of
numpy over the readings, and DuckDB's own reading of the CSV file.
"""

import argparse
import importlib
import importlib.util
import json
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import psutil

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
READINGS = 12


@dataclass(frozen=True)
class Work:
    """One line of the table: what to do in a folder of the fleet's files and stores.

    ``most`` : wear points up to which it is tried. ``scored_as`` : the forecaster of the accuracy table that
    gives the same numbers.
    """

    name: str
    kind: str
    do: Callable[[Path], object]
    most: int = 1_000_000
    scored_as: str = ""


def _lives(folder):
    """The fleet's lives as the models take them."""
    from ingest.store import Store
    from models.lives.build import build_lives

    return build_lives(Store(folder / "store.duckdb").read_for_models(*TABLES), as_written=True).lives


TABLES = ("vehicles", "wear_points", "mileage", "readings", "work")


def add(folder):
    """Take the files in."""
    from ingest.store import Store
    from ingest.verdicts.add import add_files

    report = add_files(Store(folder / "new.duckdb"), [folder / "files"])
    assert report.count("accepted") == sum(len(pd.read_csv(f)) for f in (folder / "files").glob("*.csv"))


def forecast(folder):
    """Forecast the store and keep the run."""
    from dashboard.services.forecasting import run_forecast
    from ingest.store import Store

    store = Store(folder / "store.duckdb")
    assert store.read_run(run_forecast(store), "forecast")["miles_p50"].notna().all()


def score(folder):
    """Score the forecast and the straight line on three past days."""
    from dashboard.services.scoring import run_score
    from ingest.store import Store

    run_score(Store(folder / "store.duckdb"), origins=3, slow=False)


def plan(folder):
    """A plan of the first engine in four windows."""
    from click.testing import CliRunner

    command = importlib.import_module("dashboard.commands.plan").command
    windows = [f"--window={year}-11-01:{year + 1}-03-01" for year in range(2026, 2034, 2)]
    call = ["--db", str(folder / "forecast.duckdb"), "--vehicle", "C0000-1", *windows]
    result = CliRunner().invoke(command, call)
    if result.exit_code:
        raise RuntimeError(f"plan: {result.output[-500:]} {result.exception}")


def page(folder):
    """The first page of the dashboard."""
    import os

    from streamlit.testing.v1 import AppTest

    os.environ["MILESLEFT_DB"] = str(folder / "forecast.duckdb")
    app = AppTest.from_file(str(ROOT / "dashboard" / "app.py"), default_timeout=3600).run()
    assert not app.exception, app.exception


def numpy_pass(folder):
    """Floor: sums of one pass over all readings, a least-squares line of each life."""
    from models.rivals.least_squares import fit_lines

    with np.load(folder / "lives.npz") as lives:
        fit_lines(lives["miles"], lives["wear"])


def duckdb_csv(folder):
    """Floor: DuckDB reads the CSV file of readings."""
    import duckdb

    duckdb.sql(
        f"SELECT count(*), sum(value) FROM read_csv('{folder / 'files' / 'readings*.csv'}')"
    ).fetchall()


def _rival(make):
    def do(folder):
        lives = _lives(folder)
        make().fit(lives).predict_remaining([0.05, 0.5, 0.95])

    return do


def _our_model(folder):
    from models.wear.model import PooledWear

    lives = _lives(folder)
    PooledWear().fit(lives).predict_remaining([0.05, 0.5, 0.95])


def _mixed():
    from models.rivals.mixed import MixedModel

    return MixedModel(most_families=10**9)


def _process():
    from models.rivals.gaussian_process import GaussianProcess

    return GaussianProcess(most_lives=10**9)


def ols_loop(folder):
    """A loop over the wear points: statsmodels' OLS, its line and where it crosses."""
    import statsmodels.api as sm

    with np.load(folder / "lives.npz") as lives:
        for miles, wear, limit in zip(lives["miles"], lives["wear"], lives["limit"], strict=True):
            fit = sm.OLS(wear, sm.add_constant(miles)).fit()
            level, rate = fit.params
            assert np.isfinite((limit - level) / rate)
            fit.conf_int(0.2)


def ols_interval_loop(folder):
    """The same with what the forecast gives too: where the bounds of the 80 % interval cross the limit."""
    import statsmodels.api as sm

    with np.load(folder / "lives.npz") as lives:
        for miles, wear, limit in zip(lives["miles"], lives["wear"], lives["limit"], strict=True):
            fit = sm.OLS(wear, sm.add_constant(miles)).fit()
            ahead = np.linspace(miles[-1], miles[-1] + 3.0 * limit / fit.params[1], 200)
            bounds = fit.get_prediction(sm.add_constant(ahead)).summary_frame(alpha=0.2)
            crossed = [np.argmax(bounds[name] >= limit) for name in ("obs_ci_upper", "mean", "obs_ci_lower")]
            assert np.isfinite(ahead[crossed]).all()


def groupby_apply(folder):
    """pandas: read the CSV files, a straight line for each wear point by groupby-apply."""
    readings = pd.read_csv(folder / "files" / "readings.csv", parse_dates=["date"])
    points = pd.read_csv(folder / "files" / "wear_points.csv").set_index("point")

    def line(rows):
        rate, level = np.polyfit(rows["odometer"], rows["value"], 1)
        return pd.Series({"rate": rate, "level": level})

    lines = readings.groupby("point")[["odometer", "value"]].apply(line)
    assert ((points["condemning_limit"] - lines["level"]) / lines["rate"]).notna().all()


WORKS = (
    Work("add", "milesleft", add),
    Work("forecast", "milesleft", forecast, scored_as="milesleft"),
    Work("wear model alone", "milesleft", _our_model, 20_000, scored_as="milesleft"),
    Work("score", "milesleft", score, 100_000),
    Work("plan", "milesleft", plan, 100_000),
    Work("page", "milesleft", page, 100_000),
    Work("OLS loop", "instead", ols_loop, 10_000, scored_as="least squares"),
    Work("OLS loop, interval", "instead", ols_interval_loop, 10_000, scored_as="least squares"),
    Work("mixed model", "instead", _rival(_mixed), 1_000, scored_as="mixed model"),
    Work("Gaussian process", "instead", _rival(_process), 1_000, scored_as="Gaussian process"),
    Work("pandas groupby-apply", "instead", groupby_apply, 100_000),
    Work("numpy pass", "floor", numpy_pass),
    Work("DuckDB reads the CSV", "floor", duckdb_csv),
)
MODULES = (
    *(
        "dashboard.services.forecasting",
        "dashboard.services.scoring",
        "dashboard.commands.plan",
        "ingest.verdicts.add",
        "duckdb",
    ),
    *("models.rivals", "models.wear.model", "sklearn.gaussian_process", "statsmodels.api"),
    "streamlit.testing.v1",
)


def prepare(folder, points):
    """The fleet's files, a store of it, a store with a forecast, and its lives as arrays."""
    import shutil

    from fleets.large_fleets import write_large

    from dashboard.services.forecasting import run_forecast
    from ingest.store import Store
    from ingest.verdicts.add import add_files

    write_large(folder / "files", points, readings=READINGS)
    store = Store(folder / "store.duckdb")
    for name in ("vehicles", "wear_points", "mileage", "readings"):
        add_files(store, sorted((folder / "files").glob(f"{name}*.csv")))
    save_lives(folder)
    if points <= 100_000:
        shutil.copy(folder / "store.duckdb", folder / "forecast.duckdb")
        run_forecast(Store(folder / "forecast.duckdb"))


def save_lives(folder):
    """The readings as arrays, every life with as many, in the order of its wear point."""
    files = sorted((folder / "files").glob("readings*.csv"))
    rows = pd.concat(pd.read_csv(file, usecols=["odometer", "value"]) for file in files)
    points = sorted((folder / "files").glob("wear_points*.csv"))
    limit = pd.concat(pd.read_csv(file, usecols=["condemning_limit"]) for file in points)
    miles, wear = (rows[name].to_numpy().reshape(-1, READINGS) for name in ("odometer", "value"))
    np.savez(folder / "lives.npz", miles=miles, wear=wear, limit=limit["condemning_limit"].to_numpy())


def measure(name, folder):
    """Do one work in this process: seconds, processor seconds, peak memory [MB]."""
    work = next(w for w in WORKS if w.name == name)
    for module in MODULES:
        importlib.import_module(module)
    before = time.process_time()
    with Others() as others:
        began = time.perf_counter()
        work.do(folder)
        seconds = time.perf_counter() - began
        cpu = time.process_time() - before
    return {
        "seconds": seconds,
        "cpu": cpu + sum(others.cpu.values()),
        "peak_mb": _own_peak() / 1024,
        "worker_mb": max(others.held.values(), default=0) / 2**20,
    }


def _own_peak():
    """Most memory that this process held [kB]; ru_maxrss would begin at that of the process before it."""
    status = Path("/proc/self/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0])


class Others(threading.Thread):
    """What the processes that this one started, and those that they started, held [B] and used [s] at most:
    looked at twenty times a second, as the system tells a process of its own children only."""

    def __init__(self):
        super().__init__(daemon=True)
        self.cpu, self.held, self.ended = {}, {}, threading.Event()

    def __enter__(self):
        self.start()
        return self

    def __exit__(self, *_):
        self.ended.set()
        self.join()

    def run(self):
        while not self.ended.wait(0.05):
            for one in psutil.Process().children(recursive=True):
                with suppress(psutil.Error):
                    used = one.cpu_times()
                    self.cpu[one.pid] = used.user + used.system
                    self.held[one.pid] = max(self.held.get(one.pid, 0), one.memory_info().rss)


def in_own_process(name, folder):
    """Measure a work in a fresh process, so that its memory is its own."""
    call = [sys.executable, __file__, "--in-process", name, "--folder", str(folder)]
    done = subprocess.run(call, capture_output=True, text=True, cwd=ROOT)
    if done.returncode:
        raise RuntimeError(f"{name}: {done.stderr[-2000:]}")
    return json.loads(done.stdout.splitlines()[-1])


def compare(sizes, works, say=print):
    """Measure every work at every size; a row each."""
    rows = []
    for points in sizes:
        with tempfile.TemporaryDirectory(prefix="milesleft-compare-") as name:
            folder = Path(name)
            in_own_process(f"prepare {points}", folder)
            for work in works:
                if points <= work.most:
                    rows.append(
                        {
                            "work": work.name,
                            "kind": work.kind,
                            "points": points,
                            **in_own_process(work.name, folder),
                        }
                    )
                    say(f"{points:>9,}  {work.name:<22} {rows[-1]['seconds']:9.2f} s")
    return pd.DataFrame(rows)


def table_of(rows, works, losses):
    """One line a work; see the top of the module.

    Parameters
    ----------
    rows : as :func:`compare` gives them.
    losses : forecaster of the accuracy table -> pinball loss.
    """
    scored_as = {work.name: work.scored_as for work in works}
    lines = []
    for work in rows["work"].unique():
        own = rows[rows["work"] == work].sort_values("points")
        last = own.iloc[-1]
        slope = np.polyfit(np.log(own["points"]), np.log(own["cpu"] + 1e-4), 1)[0] if len(own) > 1 else np.nan
        each = last["cpu"] / last["points"] * 1000
        lines.append(
            {**last, "cpu_per_1000": each, "slope": slope, "loss": losses.get(scored_as[work], np.nan)}
        )
    table = pd.DataFrame(lines)
    ours = table.loc[table["work"] == "forecast", "cpu_per_1000"]
    return table.assign(times_forecast=table["cpu_per_1000"] / ours.iloc[0] if len(ours) else np.nan)


def losses_of(works):
    """Pinball loss of the forecasters among the works, on a fleet whose truth is known."""
    wanted = {work.scored_as for work in works if work.scored_as}
    if not wanted:
        return {}
    from fleets.accuracy_table import accuracy_table

    place = Path(__file__).with_name("accuracy.py")
    spec = importlib.util.spec_from_file_location("accuracy_cases", place)
    cases = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(cases)
    every = cases.ours() | cases.rivals(slow=True)
    some = {name: every[name] for name in every if name in wanted | {"least squares"}}
    return accuracy_table(some, [cases.simulated("straight")]).set_index("forecaster")["pinball"].to_dict()


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--to", type=int, default=10_000, help="Wear points at most.")
    parser.add_argument("--only", action="append", help="Names of works; all if not given.")
    parser.add_argument("--in-process", help=argparse.SUPPRESS)
    parser.add_argument("--folder", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.in_process:
        name = options.in_process
        if name.startswith("prepare "):
            prepare(options.folder, int(name.split()[1]))
            print("{}")
        else:
            print(json.dumps(measure(name, options.folder)))
        return
    works = [w for w in WORKS if not options.only or w.name in options.only]
    sizes = [10**k for k in range(3, 7) if 10**k <= options.to]
    table = table_of(compare(sizes, works), works, losses_of(works))
    with pd.option_context("display.width", 160, "display.max_columns", 20):
        print("\n" + table.round(3).to_string(index=False))


if __name__ == "__main__":
    main()
