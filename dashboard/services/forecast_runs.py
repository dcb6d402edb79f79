"""The forecast of a large store, run by run of families: in processes of this machine, or on a cluster.

The runs are cut by the data alone and each is worked out by the same function, so that who does it makes no
difference to a digit. Nothing is stored before all runs are done.
"""

import os
import sys
import tempfile
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor, process
from contextlib import contextmanager
from dataclasses import replace
from multiprocessing.context import ForkServerContext, ForkServerProcess
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd

from dashboard.process import end_with_parent, keep_memory, settle
from dashboard.services.after_add import MOST_POINTS
from dashboard.services.cluster import on_cluster
from dashboard.services.one_run import AT_ONCE, Task, work_out, write_frames
from dashboard.services.shop_checks import condemned, shop_findings
from ingest.errors import NotPossible
from ingest.store import Store
from ingest.store.frames import to_arrow
from ingest.store.partitioned import read_part
from models.forecast.family_runs import RUN_POINTS, cut_in_runs, learn_across, sample
from models.threads import use_threads
from models.wear.priors import Learned

CHECKED = ("vehicles", "wear_points", "readings", "facts", "mileage", "parts", "fittings", "work")
"""Tables that the checks across points look at."""
NO_WORK = pd.DataFrame({"point": [], "date": [], "action": []})


def forecast_in_runs(
    store: Store,
    version: int,
    task: Task,
    *,
    scheduler: str | None = None,
    run_points: int | None = None,
) -> str:
    """Forecast every wear point in runs of families and store it; the run's id.

    Parameters
    ----------
    version : data version to forecast from.
    task : what every run gets; what is missing in it is made here.
    scheduler : address of a Dask scheduler (``tcp://host:port``); None: processes of this machine.
    run_points : wear points of a run, about; None: all at once up to ``AT_ONCE``, then as
        :func:`models.forecast.family_runs.cut_in_runs` cuts.

    Raises
    ------
    NotPossible : the cluster cannot be reached, or its workers die; nothing is stored then.
    """
    with tempfile.TemporaryDirectory(prefix="milesleft-") as name:
        folder = Path(name)
        if scheduler is None:
            most = -(-store.points(version) // (run_points or RUN_POINTS)) + 1
            with _processes(most) as pool:
                runs, task = _prepare(store, folder, version, task, run_points, pool)
                about = _together(list(_on_this_machine(pool, folder, runs, task)))
        else:
            runs, task = _prepare(store, folder, version, task, run_points, None)
            about = _together(list(on_cluster(scheduler, folder, runs, task)))
        files = {path.name: sorted(path.glob("*.arrow")) for path in sorted((folder / "out").iterdir())}
        return store.save_run_files("forecast", {**about, "data_version": version, "runs": runs}, files)


def _prepare(
    store: Store,
    folder: Path,
    version: int,
    task: Task,
    run_points: int | None,
    pool: ProcessPoolExecutor | None,
) -> tuple[int, Task]:
    """Write the parts and learn from the sample, in one of the processes if there are any; the number of runs
    and the task of each."""
    keys, vehicles = store.family_keys(version)
    (folder / "out").mkdir()
    condemned_points = _condemned(store, keys, version, task.as_of)
    write_frames(folder, 0, {"condemned": to_arrow(condemned_points)})
    task = replace(task, condemned=condemned_points)
    if len(keys) <= MOST_POINTS:
        tables = store.read_for_models(*CHECKED, version=version, until=task.as_of)
        write_frames(folder, 0, {"check": to_arrow(shop_findings(tables, as_of=task.as_of))})
    if run_points is None and len(keys) <= AT_ONCE:
        store.write_parts(folder / "parts", keys.assign(run=0), version, task.as_of)
        return 1, task
    store.write_parts(folder / "sample", keys[sample(keys, vehicles)].assign(run=0), version, task.as_of)
    learn = (folder, task.as_of, len(keys), task.repeats)
    with ThreadPoolExecutor(1) as aside:
        learning = aside.submit(lambda: pool.submit(_learn, *learn).result() if pool else _learn(*learn))
        run = cut_in_runs(keys, vehicles, run_points)
        store.write_parts(folder / "parts", keys.assign(run=run), version, task.as_of)
        learned = learning.result()
    return int(run.max()) + 1, replace(task, learned=learned)


def _learn(
    folder: Path, as_of: pd.Timestamp | None, points_in_all: int, repeats: pd.DataFrame | None
) -> Learned | None:
    """What the sample teaches."""
    return learn_across(read_part(folder / "sample", 0), as_of, points_in_all, repeats)


def _condemned(store: Store, keys: pd.DataFrame, version: int, as_of: pd.Timestamp | None) -> pd.DataFrame:
    """Wear points out by a finding: a finding speaks of a whole vehicle, which the runs may divide."""
    tables = store.read_for_models(
        "findings", "position_aliases", "facts", "defects", "openings", version=version, until=as_of
    )
    some = len(tables["findings"]) + len(tables["defects"]) > 0
    work = store.read_for_models("work", version=version, until=as_of) if some else {"work": NO_WORK}
    return condemned({**tables, "wear_points": keys, **work})


@contextmanager
def _processes(most: int) -> Iterator[ProcessPoolExecutor]:
    """A process for each processor, at most so many; they start at once, while the runs are being cut.

    Raises
    ------
    NotPossible : one of them was ended from outside.
    """
    count = min(len(os.sched_getaffinity(0)), most)
    try:
        with ProcessPoolExecutor(count, _forking(), _begin) as pool, ThreadPoolExecutor(1) as aside:
            aside.submit(_start, pool, count)  # waits until the libraries are loaded
            yield pool
    except process.BrokenProcessPool:
        raise NotPossible(
            "A process of the forecast was ended from outside, most likely because memory ran out. "
            "Nothing was stored. Free some memory and forecast again."
        ) from None


class _Worker(ForkServerProcess):
    """A process that does not run the script again that this one was started with.

    On a page of a server that is the page itself, which would be worked out once more in each process, or
    break there.
    """

    def start(self) -> None:
        """Start it, while this process has no script."""
        script = sys.modules["__main__"]
        sys.modules["__main__"] = ModuleType("__main__")
        try:
            super().start()
        finally:
            sys.modules["__main__"] = script


class _Forking(ForkServerContext):
    Process = _Worker


def _forking() -> ForkServerContext:
    """Processes that fork from one which has loaded the libraries and does nothing else: loaded once,
    and nothing of this process is in them."""
    context = _Forking()
    context.set_forkserver_preload([__name__])
    return context


def _begin() -> None:
    """What a process does first."""
    end_with_parent()
    use_threads(1)
    keep_memory()
    settle()


def _start(pool: ProcessPoolExecutor, count: int) -> None:
    """Start every process, by giving it work that takes no time."""
    for _ in range(count):
        pool.submit(os.getpid)


def _on_this_machine(
    pool: ProcessPoolExecutor, folder: Path, runs: int, task: Task
) -> Iterator[dict[str, object]]:
    """Every run in one of the processes; a single run in this one."""
    if runs == 1:
        yield _one(folder, 0, task)
        return
    yield from pool.map(_one, *zip(*((folder, run, task) for run in range(runs)), strict=True))


def _one(folder: Path, run: int, task: Task) -> dict[str, object]:
    frames, about = work_out(read_part(folder / "parts", run), task)
    write_frames(folder, run, frames)
    return about


def _together(about: Iterable[dict[str, object]]) -> dict[str, object]:
    """What is said of the whole forecast from what is said of its runs."""
    table = pd.DataFrame(list(about))
    counted = {name: int(np.sum(table[name])) for name in ("points", "forecast")}
    last = table["as_of"].dropna()
    return {"as_of": last.max() if len(last) else None, "model": table["model"].iloc[0], **counted}
