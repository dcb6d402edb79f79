"""The list of readings to take, by what each saves per minute, and the round in which they are walked to."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from models.futures.simulation import Simulation
from models.measure.value import savings, told_by_reading
from models.plan.engine import Chosen
from models.plan.rules import Rules

COLUMNS = [
    "vehicle", "rank", "point", "component", "position", "quantity", "access", "last_date", "minutes",
    "saves", "saves_per_minute", "carries", "stop",
]  # fmt: skip
"""Columns of :func:`measure_first`.

rank : place in the list of its vehicle, what saves most per minute first. last_date : of the last reading,
NaT.
minutes : what measuring takes. [min] saves : what the plan is expected to cost less for the reading. [money]
carries : price of the first work that the plan does on the wear point, NaN without one. [money]
stop : place in the walk around the engine.
"""


def measure_first(
    chosen: list[Chosen],
    simulation: Simulation,
    state: pd.DataFrame,
    last_dates: pd.Series,
    minutes: Mapping[str, float],
    scope: pd.DataFrame,
    rules: Rules,
    walk: Mapping[str, int],
) -> pd.DataFrame:
    """Readings of all engines planned, ranked.

    Parameters
    ----------
    chosen : plan of each engine; simulation : the futures that it was made from.
    state : frame of the forecast run. last_dates : day of the last reading, by point.
    minutes : minutes of a reading by access.
    scope : lines of the plan. rules : of the plan.
    walk : place of each wear point in the walk around its engine.

    Returns
    -------
    Columns ``COLUMNS``; wear points whose reading saves nothing are left out.
    """
    told = told_by_reading(state)
    carries = _carried(scope)
    parts = []
    for each in chosen:
        points = each.programme.lives.points
        own = np.flatnonzero((simulation.points["vehicle"] == each.programme.vehicle).to_numpy())
        saves = savings(each, simulation.remaining[:, own], told, rules).to_numpy()
        frame = points[["vehicle", "point", "component", "position", "quantity", "access"]].assign(
            saves=saves
        )
        frame["minutes"] = frame["access"].map(dict(minutes)).fillna(max(minutes.values()))
        frame["saves_per_minute"] = frame["saves"] / frame["minutes"]
        frame = frame[frame["saves"] > 0].sort_values(["saves_per_minute", "point"], ascending=[False, True])
        stop = frame["point"].map(dict(walk)).rank(method="first").astype("int64")
        parts.append(frame.assign(rank=np.arange(1, len(frame) + 1), stop=stop))
    table = pd.concat(parts, ignore_index=True)
    table["last_date"] = pd.to_datetime(table["point"].map(last_dates)).astype("datetime64[us]")
    table["carries"] = table["point"].map(carries).astype(float)
    return table[COLUMNS]


def _carried(scope: pd.DataFrame) -> pd.Series:
    """Price of the first line of each wear point, by point."""
    lines = scope.sort_values("window", kind="stable")[["points", "cost"]].explode("points")
    return lines.dropna(subset=["points"]).drop_duplicates("points").set_index("points")["cost"]
