"""From the store through the models back into the store: one forecast run."""

import pandas as pd

from dashboard.services.forecast_runs import forecast_in_runs
from dashboard.services.one_run import AT_ONCE, TABLES, forecast_then, task_of
from dashboard.services.shop_checks import shop_findings
from ingest.errors import NotPossible
from ingest.store import Store
from models.forecast.public import PUBLIC


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
        task = task_of(reading, as_of, data_version)
        in_runs = scheduler is not None or count > AT_ONCE
        tables = {}
        if count and not in_runs:
            tables = reading.read_for_models(*TABLES, version=data_version, until=as_of)
    if count == 0:
        raise NotPossible(
            f"'{store.path}' holds no wear points, so there is nothing to forecast. Add a wear_points sheet "
            "with limits first: 'milesleft add FILE'; 'milesleft new-vehicle' writes one."
        )
    if in_runs:
        run = forecast_in_runs(store, data_version, task, scheduler=scheduler)
        return run, store.read_run(run, "forecast")[PUBLIC]
    made, out_by_finding = forecast_then(tables, task)
    frames = {**made.frames, "condemned": out_by_finding, "check": shop_findings(tables, as_of=as_of)}
    run = store.save_run("forecast", {**made.about, "data_version": data_version}, frames)
    return run, made.frames["forecast"][PUBLIC]
