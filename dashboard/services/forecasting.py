"""From the store through the models back into the store: one forecast run."""

from dataclasses import replace

import pandas as pd

from dashboard.services.forecast_runs import AT_ONCE, forecast_in_runs
from dashboard.services.one_run import Task
from dashboard.services.shop_checks import condemned, shop_findings
from dashboard.services.sources import sources_of
from ingest.errors import NotPossible
from ingest.store import Store
from models.forecast.public import PUBLIC
from models.forecast.run import make_forecast

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
)


def run_forecast(store: Store, as_of: pd.Timestamp | None = None, *, version: int | None = None) -> str:
    """Forecast every wear point and store the run; returns its id.

    Raises
    ------
    NotPossible : there is no wear point in the store.
    """
    return forecast_and_store(store, as_of, version=version)[0]


def forecast_and_store(
    store: Store,
    as_of: pd.Timestamp | None = None,
    *,
    version: int | None = None,
    scheduler: str | None = None,
) -> tuple[str, pd.DataFrame]:
    """Forecast every wear point and store the run; its id and the public table.

    Parameters
    ----------
    version : data version to forecast from: what was known then gives the forecast that was made then.
    scheduler : address of a Dask scheduler whose workers do it; None: this machine.

    Raises
    ------
    NotPossible : there is no wear point in the store, or the cluster cannot do it.
    """
    with store.at_once() as reading:
        data_version = reading.version() if version is None else version
        count = reading.points(data_version)
        task = Task(as_of, stretch=latest_stretch(reading), sources=sources_of(reading, version))
        in_runs = scheduler is not None or count > AT_ONCE
        tables = {} if in_runs or count == 0 else reading.read_for_models(*TABLES, version=data_version)
    if count == 0:
        raise NotPossible(
            f"'{store.path}' holds no wear points, so there is nothing to forecast. Add a wear_points sheet "
            "with limits first: 'milesleft add FILE'; 'milesleft new-vehicle' writes one."
        )
    if in_runs:
        run = forecast_in_runs(store, data_version, task, scheduler=scheduler)
        return run, store.read_run(run, "forecast")[PUBLIC]
    if as_of is not None:
        tables["findings"] = tables["findings"][tables["findings"]["date"] <= as_of]
    out_by_finding = condemned(tables)
    task = replace(task, condemned=out_by_finding)
    made = make_forecast(tables, **vars(task))
    frames = {**made.frames, "condemned": out_by_finding, "check": shop_findings(tables, as_of=as_of)}
    run = store.save_run("forecast", {**made.about, "data_version": data_version}, frames)
    return run, made.frames["forecast"][PUBLIC]


def latest_stretch(store: Store) -> pd.Series:
    """Stretch of each family's intervals by the last score, by the family's name; 1: nothing is proven.

    Empty where no score was made. ``models.forecast.recalibrate.stretched_remaining`` applies it.
    """
    runs = store.runs("score")
    if runs.empty:
        return pd.Series(dtype=float)
    return store.read_run(str(runs["run_id"].iloc[0]), "recalibration").set_index("family")["factor"]
