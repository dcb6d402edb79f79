"""Lives of simulated tables as the reference takes them, with its seasons and gauges: made from the tables
by none of the project's own ways."""

from __future__ import annotations

import numpy as np
import pandas as pd
from fleets.bayes_reference import Beside

from models.lives.table import Lives


def lives_of(tables: dict[str, pd.DataFrame], second: str = "") -> tuple[Lives, Beside, list[str]]:
    """Every life with a reading; families are parts of one class, component and quantity.

    Parameters
    ----------
    tables : vehicles, wear_points, mileage, readings, work, all values of a point in one unit.
    second : how the names of second gauges end.

    Returns
    -------
    The lives, what is known beside them, and the point of each life in service ('' of one that ended).
    """
    points = tables["wear_points"].merge(tables["vehicles"][["vehicle", "class"]], on="vehicle")
    logs = {
        v: (_days(log["date"]), log["odometer"].to_numpy()) for v, log in _by(tables["mileage"], "vehicle")
    }
    readings, work = dict(_by(tables["readings"], "point")), dict(_by(tables["work"], "point"))
    years = np.unique(pd.to_datetime(tables["mileage"]["date"]).dt.year)
    ends = (years - 1969).astype("datetime64[Y]").astype("datetime64[D]").astype(int)
    rows = []
    for p in points.itertuples():
        days, odometer = logs[p.vehicle]
        renewed = np.sort(_days(work[p.point]["date"])) if p.point in work else np.array([], dtype=int)
        own = readings.get(p.point)
        if own is None:
            continue
        own = own.assign(day=_days(own["date"])).sort_values("day")
        number = np.searchsorted(renewed, own["day"], side="right")
        for life, read in own.groupby(number):
            begun = np.interp(renewed[life - 1], days, odometer) if life else odometer[0]
            ended = life < len(renewed)
            at = np.interp(ends, days, odometer)
            to = read["odometer"].to_numpy()[:, None]
            from_year = np.maximum(np.append(odometer[0], at[:-1]), begun)
            rows.append(
                {
                    "family": (p[points.columns.get_loc("class") + 1], p.component, p.quantity),
                    "engine": p.vehicle,
                    "miles": read["odometer"].to_numpy() - begun,
                    "wear": (read["value"].to_numpy() - p.new_value)
                    * np.sign(p.condemning_limit - p.new_value),
                    "limit": abs(p.condemning_limit - p.new_value),
                    "as_of": (np.interp(renewed[life], days, odometer) if ended else odometer[-1]) - begun,
                    "ended": ended,
                    "point": "" if ended else p.point,
                    "seasons": np.maximum(np.minimum(at, to) - from_year, 0.0),
                    "second": _second(read, second),
                    "a_season": (odometer[-1] - odometer[0]) / len(years),
                }
            )
    return _padded(pd.DataFrame(rows))


def _by(table: pd.DataFrame, column: str):
    return ((name, rows) for name, rows in table.groupby(column))


def _days(dates: pd.Series) -> np.ndarray:
    return pd.to_datetime(dates).to_numpy().astype("datetime64[D]").astype(int)


def _second(read: pd.DataFrame, ending: str) -> np.ndarray:
    if not ending:
        return np.zeros(len(read), bool)
    return read["gauge"].str.endswith(ending).to_numpy()


def _padded(rows: pd.DataFrame) -> tuple[Lives, Beside, list[str]]:
    width = int(rows["miles"].map(len).max())

    def wide(column, filler):
        shape = np.shape(rows[column].iloc[0])[1:]
        out = np.full((len(rows), width, *shape), filler)
        for i, values in enumerate(rows[column]):
            out[i, : len(values)] = values
        return out

    family = pd.factorize(rows["family"])[0]
    miles = wide("miles", np.nan)
    lives = Lives(
        family=family,
        miles=miles,
        wear=wide("wear", np.nan),
        limit=rows["limit"].to_numpy(float),
        gauge_sd=np.full(miles.shape, np.nan),
        as_of_miles=rows["as_of"].to_numpy(float),
        ended=rows["ended"].to_numpy(bool),
        day=miles,
    )
    beside = Beside(
        second=wide("second", False),
        engine=pd.factorize(rows["engine"])[0],
        season_miles=wide("seasons", 0.0),
        a_season=rows["a_season"].to_numpy(float),
    )
    return lives, beside, list(rows["point"])
