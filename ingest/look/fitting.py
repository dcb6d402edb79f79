"""How well values fit their wear points: what new, limit and earlier readings leave room for.

The bounds are wide: they part readings of a column from the same figures in another unit or with another
decimal mark, which differ by eight times and more.
"""

from collections.abc import Mapping
from typing import Literal

import numpy as np
import pandas as pd

from ingest.figures import limit
from ingest.names.points import by_point


def places(rows: pd.DataFrame, known: Mapping[str, pd.DataFrame], *, history: bool = True) -> pd.DataFrame:
    """What is known of the wear point of each row on its day.

    Parameters
    ----------
    rows : point, date.
    known : wear_points, readings, work as stored.
    history : without it, before and after are left out (NaN): a glance that costs little.

    Returns
    -------
    Frame with the index of ``rows``: new, condemning [base unit], NaN where not stated; before, the last
    reading of an earlier day of the same life, after, the next one [base unit], NaN where there is none.
    """
    points = by_point(known["wear_points"])
    out = pd.DataFrame(index=rows.index)
    for name, column in (("new", "new_value"), ("condemning", "condemning_limit")):
        out[name] = rows["point"].map(points[column]).astype("float64")
    near = _nearest(rows, known) if history else {"before": np.nan, "after": np.nan}
    return out.assign(**near)


def _nearest(rows: pd.DataFrame, known: Mapping[str, pd.DataFrame]) -> dict[str, pd.Series]:
    """Value of the nearest reading of an earlier and a later day, unless work at the point lies between."""
    names, wanted = ["point", "date"], rows["point"].unique()
    read = known["readings"].loc[known["readings"]["point"].isin(wanted), [*names, "value"]]
    work = known["work"].loc[known["work"]["point"].isin(wanted), names]
    events = pd.concat([read, work.assign(value=np.nan)]).dropna(subset=["date"])
    dated = rows.loc[rows["date"].notna(), names]
    if events.empty or dated.empty:
        nothing = pd.Series(np.nan, rows.index, dtype="float64")
        return {"before": nothing, "after": nothing}
    code = {point: number for number, point in enumerate(wanted)}
    left, right = (
        frame.assign(
            point=frame["point"].map(code).astype("int64"), date=frame["date"].astype("datetime64[us]")
        )
        for frame in (dated.assign(at=dated.index), events)
    )
    left, right = left.sort_values("date", kind="stable"), right.sort_values("date", kind="stable")
    found = {}
    ways: dict[str, Literal["backward", "forward"]] = {"before": "backward", "after": "forward"}
    for name, way in ways.items():
        near = pd.merge_asof(left, right, on="date", by="point", direction=way, allow_exact_matches=False)
        found[name] = near.set_index("at")["value"].reindex(rows.index).astype("float64")
    return found


def fits(values: pd.Series, places: pd.DataFrame) -> pd.Series:
    """Whether each value is one that its wear point can have.

    Parameters
    ----------
    values : [base unit].
    places : as :func:`places` returns it, same index.

    Returns
    -------
    Series of 1 (fits), 0 (does not), NaN (nothing is known of the point).
    """
    span = places["condemning"] - places["new"]
    share = (values - places["new"]) / span
    low, high = -limit("look", "before_new"), 1 + limit("look", "past_limit")
    known = span.notna() & (span != 0)
    ok = (share >= low) & (share <= high)
    for side, toward in (("before", 1), ("after", -1)):
        moved = toward * (values - places[side]) / span
        near = (moved >= -limit("look", "back")) & (moved <= limit("look", "forth"))
        ok &= near | places[side].isna()
    ratio = values / places["before"].fillna(places["after"])
    most = limit("look", "ratio")
    alike = (ratio >= 1 / most) & (ratio <= most)
    answer = ok.astype("float64").where(known, alike.astype("float64").where(ratio.notna()))
    return answer.where(values.notna())
