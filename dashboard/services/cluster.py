"""Runs of a forecast on a Dask cluster: any scheduler that can be reached, workers that have milesleft.

A run's tables travel with its task, so that workers need no common disk, and a run whose worker died is
worked out by another.
"""

import warnings
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dashboard.services.one_run import Task, work_out, write_frames
from ingest.errors import NotPossible
from ingest.store.partitioned import Raw, pack_part, packed, unpack_part, unpacked
from models.threads import use_threads

if TYPE_CHECKING:
    from distributed import Client, Future

AHEAD = 2
"""Runs that wait at the cluster for each worker: enough that none is idle, few enough for its memory."""
PATIENCE_S = 10
"""How long the scheduler is waited for. [s]"""


def on_cluster(scheduler: str, folder: Path, runs: int, task: Task) -> Iterator[dict[str, object]]:
    """Work out all runs of ``folder/parts`` and write their frames into ``folder/out``; what is said of each.

    Raises
    ------
    NotPossible : Dask is not installed, the scheduler does not answer or has no worker, or a run failed on
        several workers.
    """
    try:
        import distributed
    except ImportError:
        raise NotPossible(
            "A cluster needs Dask, which is not installed. Install it with: pip install 'milesleft[cluster]'."
        ) from None
    try:
        connect: Any = distributed.Client
        client = connect(scheduler, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise NotPossible(
            f"The scheduler '{scheduler}' does not answer ({str(error).splitlines()[0][:120]}). Its address "
            "looks like tcp://host:8786; start one with 'dask scheduler' and workers with 'dask worker'."
        ) from None
    with client, warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Sending large graph")  # the tables are the task, by intent
        try:
            client.wait_for_workers(1, timeout=PATIENCE_S)
            yield from _worked_out(client, (folder, runs, task))
        except TimeoutError:
            raise NotPossible(
                f"The scheduler '{scheduler}' has no worker. Start one: 'dask worker {scheduler}'."
            ) from None
        except distributed.scheduler.KilledWorker as error:
            raise NotPossible(
                f"The forecast ended several workers, the last on {error.last_worker.address}; most "
                "likely they want memory. Nothing was stored. Give the workers more and forecast again."
            ) from None


def _worked_out(client: "Client", of: tuple[Path, int, Task]) -> Iterator[dict[str, object]]:
    """Hand out the runs, a few ahead of the workers, and keep what comes back."""
    from distributed import as_completed

    as_they_come: Any = as_completed
    folder, runs, task = of
    most = AHEAD * max(len(client.scheduler_info()["workers"]), 1) + 1
    number: dict[str, int] = {}
    waiting = iter(range(runs))

    def hand_out(count: int) -> "list[Future]":
        futures = []
        for run in islice(waiting, count):
            future = client.submit(on_worker, pack_part(folder / "parts", run), task, pure=False)
            number[str(future.key)] = run
            futures.append(future)
        return futures

    flying = as_they_come(hand_out(most), loop=client.loop)
    for future in flying:
        frames, about = future.result()
        run = number.pop(str(future.key))
        write_frames(folder, run, {name: unpacked(frame) for name, frame in frames.items()})
        flying.update(hand_out(1))
        yield about


def on_worker(raw: Raw, task: Task) -> tuple[Raw, dict[str, object]]:
    """One run on a worker: its frames as streams, and what is said of it. The workers are the threads."""
    use_threads(1)
    frames, about = work_out(unpack_part(raw), task)
    return {name: packed(frame) for name, frame in frames.items()}, about
