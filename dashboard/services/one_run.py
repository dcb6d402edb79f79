"""A forecast of a day, made from what was known on it: its task, its frames, and where they wait for others.

Whoever makes a forecast comes here, ``milesleft forecast`` and the track record alike, so that what is scored
is the forecast itself.
"""

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa

from dashboard.services.shop_checks import condemned
from dashboard.services.sources import sources_of
from ingest import catalogue
from ingest.errors import StoreProblem
from ingest.store import Store
from ingest.store.frames import to_arrow
from models.combined.weights import Evidence
from models.forecast.family_runs import learn_across, sample
from models.forecast.run import Forecast, forecast_alone, make_forecast
from models.forecast.worked import Worked
from models.gauges.read_twice import repeatability
from models.wear.fleet_pool import Sources
from models.wear.priors import Learned

TABLES = (
    "vehicles",
    "wear_points",
    "mileage",
    "readings",
    "work",
    "usage",
    "findings",
    "position_aliases",
    "facts",
    "gauges",
    "defects",
    "openings",
    "parts",
    "fittings",
)
AT_ONCE = 5_000
"""Wear points up to which a store is forecast in one run, all families learning from all."""


@dataclass(frozen=True)
class Task:
    """What every run of one forecast gets beside its tables.

    Attributes
    ----------
    as_of : day up to which the records are believed; None: the last day of each vehicle's log.
    stretch : factor on the intervals by family, from the track record.
    learned : what a sample of the families taught; None where all are in one run.
    condemned : wear points that findings put out, with point, date and kind.
    sources : what other railways shared.
    record : what the track record says of the wear model and its rival together, by quantity.
    repeats : how well gauges repeat, from all that was read twice with them.
    lifetimes : assumptions of forecasts without readings.
    """

    as_of: pd.Timestamp | None = None
    stretch: pd.Series | None = None
    learned: Learned | None = None
    condemned: pd.DataFrame | None = None
    sources: Sources | None = None
    record: dict[str, Evidence] | None = None
    repeats: pd.DataFrame | None = None
    lifetimes: pd.DataFrame = field(default_factory=lambda: catalogue.assumptions("lifetimes"))


def work_out(tables: dict[str, pd.DataFrame], task: Task) -> tuple[dict[str, pa.Table], dict[str, object]]:
    """Frames of one run, and what is said of it."""
    made = make_forecast(tables, **vars(task))
    return {name: to_arrow(frame) for name, frame in made.frames.items()}, made.about


def write_frames(folder: Path, run: int, frames: dict[str, pa.Table]) -> None:
    """Keep the frames of a run until all are done: ``out/FRAME/RUN.arrow``."""
    for name, frame in frames.items():
        into = folder / "out" / name
        into.mkdir(exist_ok=True)
        file = str(into / f"{run:06d}.arrow")
        with pa.OSFile(file, "wb") as sink, pa.ipc.new_file(sink, frame.schema) as stream:
            stream.write_table(frame)


def task_of(store: Store, as_of: pd.Timestamp | None, version: int) -> Task:
    """What a forecast of a day gets beside its tables: nothing in it was learned after that day."""
    return Task(
        as_of,
        stretch=latest_stretch(store, as_of, version),
        sources=sources_of(store, version, as_of),
        record=latest_evidence(store, as_of, version),
        repeats=repeatability(store.read_blind(version, as_of)),
    )


def forecast_then(tables: dict[str, pd.DataFrame], task: Task) -> tuple[Forecast, pd.DataFrame]:
    """The forecast from tables as they were known by the task's day, and what findings had put out by then.

    Parameters
    ----------
    tables : ``TABLES`` as ``Store.read_for_models(..., until=task.as_of)`` gives them.
    """
    out = condemned(tables)
    return make_forecast(tables, **(_given(tables, task) | {"condemned": out})), out


def worked_then(tables: dict[str, pd.DataFrame], task: Task) -> Worked | None:
    """What the very forecast of :func:`forecast_then` is made from, without its frames."""
    given = _given(tables, task)
    del given["condemned"]  # it changes flags, no miles
    return forecast_alone(tables, **given)


def _given(tables: dict[str, pd.DataFrame], task: Task) -> dict[str, Any]:
    """What a forecast is given beside its tables."""
    given = dict(vars(task))
    if task.learned is None and len(tables["wear_points"]) > AT_ONCE:
        given["learned"] = _learned(tables, task)
    return given


def _learned(tables: dict[str, pd.DataFrame], task: Task) -> Learned | None:
    """What a large store's families learn from a sample of them, as its forecast in runs does."""
    points = tables["wear_points"]
    chosen = points[sample(points, tables["vehicles"])]
    some = {
        name: table[table["point"].isin(chosen["point"])].reset_index(drop=True)
        for name, table in tables.items()
        if name in ("readings", "work")
    }
    some["wear_points"] = chosen.reset_index(drop=True)
    return learn_across(tables | some, task.as_of, len(points), task.repeats)


def latest_stretch(store: Store, as_of: pd.Timestamp | None = None, version: int | None = None) -> pd.Series:
    """Stretch of each family's intervals by the last score that a forecast may know, by the family's name.

    Parameters
    ----------
    as_of : day of the forecast; a score that rests on anything later is none for it. None: the newest.
    version : data version of the forecast; None: the newest.

    Returns
    -------
    Factors; 1: nothing is proven. Empty where there is no such score.
    """
    runs = _scores_known(store, as_of, version)
    if not runs:
        return pd.Series(dtype=float)
    return store.read_run(runs[0], "recalibration").set_index("family")["factor"]


def latest_evidence(
    store: Store, as_of: pd.Timestamp | None = None, version: int | None = None
) -> dict[str, Evidence] | None:
    """What the last score that weighed forecasters, and that a forecast may know, says by quantity; or None.

    Parameters
    ----------
    as_of, version : as :func:`latest_stretch` takes them.
    """
    for run in _scores_known(store, as_of, version):
        try:
            rows = store.read_run(run, "weights")
        except StoreProblem:  # a score of an earlier program, which did not weigh
            continue
        if len(rows):  # a quick score weighs nothing, and takes nothing back
            return {
                str(name): Evidence(float(lives), np.asarray(loss, dtype=float))
                for name, lives, loss in zip(rows["quantity"], rows["lives"], rows["loss"], strict=True)
            }
    return None


def _scores_known(store: Store, as_of: pd.Timestamp | None, version: int | None) -> list[str]:
    """Scores made from data of at most a version and a day, the newest first."""
    runs = store.runs("score")
    if runs.empty:
        return []
    last = pd.to_datetime(pd.Series([json.loads(about).get("as_of") or None for about in runs["about"]]))
    early = np.ones(len(runs), dtype=bool)
    if as_of is not None:
        early &= np.asarray(last <= as_of)
    if version is not None:
        early &= pd.to_numeric(runs["data_version"]).to_numpy() <= version
    return [str(run) for run in runs["run_id"][early]]
