"""The next season of a plan: its trains, and what it means for each engine."""

import numpy as np
import pandas as pd

from models.plan.jobs import jobs_of
from models.plan.planner import Plan, PlanInputs
from models.trips.share import EngineSeason, Share, engine_season, given_out


def season_of(windows: pd.DataFrame) -> tuple[pd.Timestamp, pd.Timestamp] | None:
    """First and last day of the season that all engines planned run after their first window.

    Parameters
    ----------
    windows : of a plan: vehicle, window, opens, closes. None where an engine has no second window.
    """
    ordered = windows.sort_values(["vehicle", "opens"])
    place = ordered.groupby("vehicle").cumcount()
    first, second = ordered[place == 0], ordered[place == 1]
    if len(first) != len(second) or first.empty:
        return None
    begins = first["closes"].max() + pd.Timedelta(days=1)
    ends = second["opens"].min() - pd.Timedelta(days=1)
    return (begins, ends) if begins <= ends else None


def share_of_season(inputs: PlanInputs, plan: Plan, trips: pd.DataFrame) -> Share | None:
    """Trains of the next season given to the engines of a plan that stands; None where there are none.

    Trains of engines that the plan leaves out stay with these; where one may be run by such an engine and has
    none yet, nobody knows from this plan whether it is left for its own.

    Parameters
    ----------
    inputs, plan : what the plan was made from, and what it does. trips : table of the store.
    """
    season = season_of(plan.windows)
    if season is None:
        return None
    asked = trips[trips["date"].between(*season)]
    asked = asked[_of_these(asked, set(inputs.simulation.vehicles))]
    if asked.empty:
        return None
    engines = [_engine(inputs, plan, vehicle, asked, season) for vehicle in inputs.simulation.vehicles]
    return given_out(asked, engines)


def _of_these(asked: pd.DataFrame, planned: set[str]) -> np.ndarray:
    """Which trains the engines planned have, or no engine has and these alone may take."""
    had = asked["vehicle"].fillna("").astype(str).str.strip()
    able = [set(map(str.strip, str(names).split(";"))) for names in asked["engines_able"].fillna("")]
    everybody = set(had) | set().union(*able)
    open_to = [(names - {""}) or (everybody - {""}) for names in able]
    alone = np.array([names <= planned for names in open_to], dtype=bool)
    return np.asarray(had.isin(list(planned)) | ((had == "") & alone), dtype=bool)


def _engine(
    inputs: PlanInputs,
    plan: Plan,
    vehicle: str,
    trips: pd.DataFrame,
    season: tuple[pd.Timestamp, pd.Timestamp],
) -> EngineSeason:
    own = plan.points[plan.points["vehicle"] == vehicle]
    numbers = sorted(plan.windows.loc[plan.windows["vehicle"] == vehicle, "window"])
    renewed, out_next = (set(own.loc[own["window"] == number, "point"]) for number in numbers[:2])
    jobs = jobs_of(inputs.simulation.points, inputs.costs)
    priced = jobs[(jobs["vehicle"] == vehicle) & jobs["cost"].notna()].explode("points")
    each = (priced["cost"] / priced["parts"]).groupby(priced["points"]).min()
    kept = {str(name): float(price) for name, price in each.items() if name not in out_next}
    before, run = _miles(inputs, vehicle, season)
    trains = float(trips.loc[trips["vehicle"] == vehicle, "miles"].fillna(0.0).sum())
    return engine_season(
        inputs.simulation, vehicle, sorted(renewed), kept, plan.rules,
        other_miles=max(run - trains, 0.0), miles_before=before,
    )  # fmt: skip


def _miles(
    inputs: PlanInputs, vehicle: str, season: tuple[pd.Timestamp, pd.Timestamp]
) -> tuple[float, float]:
    """Miles that the engine is planned to run up to the season, and in it. [mi]"""
    own = inputs.usage[inputs.usage["vehicle"] == vehicle].sort_values("month")
    edge = np.concatenate([[0.0], np.cumsum(own["miles"].fillna(0.0).to_numpy(float))])
    starts = own["month"].to_numpy().astype("datetime64[D]").astype(float)
    days = np.append(starts, starts[-1] + 31.0)
    asked = [np.datetime64(day, "D").astype(float) for day in (season[0], season[1] + pd.Timedelta(days=1))]
    begins, ends = np.interp(asked, days, edge)
    return float(begins), float(ends - begins)
