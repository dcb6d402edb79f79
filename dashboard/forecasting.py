"""From the store through the models back into the store: one forecast run."""

import pandas as pd

from ingest.errors import NotPossible
from ingest.store import Store
from models.forecast import PUBLIC, make_forecast

TABLES = ("vehicles", "wear_points", "mileage", "readings", "work", "usage")


def run_forecast(store: Store, as_of: pd.Timestamp | None = None, *, version: int | None = None) -> str:
    """Forecast every wear point and store the run; returns its id.

    Raises
    ------
    NotPossible : there is no wear point in the store.
    """
    return forecast_and_store(store, as_of, version=version)[0]


def forecast_and_store(
    store: Store, as_of: pd.Timestamp | None = None, *, version: int | None = None
) -> tuple[str, pd.DataFrame]:
    """Forecast every wear point and store the run; its id and the public table.

    Parameters
    ----------
    version : data version to forecast from: what was known then gives the forecast that was made then.

    Raises
    ------
    NotPossible : there is no wear point in the store.
    """
    at = store.version() if version is None else version
    tables = store.read_for_models(*TABLES, version=at)
    if tables["wear_points"].empty:
        raise NotPossible(
            f"'{store.path}' holds no wear points, so there is nothing to forecast. Add a wear_points sheet "
            "with limits first: 'milesleft add FILE'; 'milesleft new-vehicle' writes one."
        )
    found = make_forecast(tables, as_of)
    about = {**found.about, "data_version": at}
    run = store.save_run("forecast", about, found.frames)
    return run, found.frames["forecast"][PUBLIC]
