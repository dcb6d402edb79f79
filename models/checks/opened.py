"""Readings of an opening, each as found or as left: as it is written, else by the day of the work."""

from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np
import pandas as pd

FOUND, LEFT = "found", "left"
SOURCE = ["source_file", "source_sheet", "source_row"]
COLUMNS = ["point", "date", "value", "odometer", "state", "kind", *SOURCE]
Opening = Mapping[Hashable, Any]


def told_in(
    readings: pd.DataFrame, work: pd.DataFrame, points: pd.DataFrame, opening: Opening
) -> pd.DataFrame:
    """What was measured in an opening.

    Parameters
    ----------
    readings : point, date, value [base unit], odometer [mi], opening, found_or_left, and where each was read.
    work : point, date, value_before, value_after [base unit], opening, and where each was read.
    points : point, vehicle. opening : opening, vehicle, since, until.

    Returns
    -------
    ``COLUMNS``: state is found or left, kind is reading or work. A reading that does not say which is as
    found before any work on its point in the opening, as left after the last of it; one of the very day of
    the work is neither, as nobody knows.
    """
    mine = set(points.loc[points["vehicle"] == opening["vehicle"], "point"])
    taken, done = (of_opening(frame, mine, opening) for frame in (readings, work))
    first, last = (getattr(done.groupby("point")["date"], way)() for way in ("min", "max"))
    begun, ended = (days.reindex(taken["point"]).to_numpy() for days in (first, last))
    day = taken["date"].to_numpy()
    by_day = np.select([np.isnat(begun) | (day < begun), day > ended], [FOUND, LEFT], "")
    said = taken["found_or_left"].to_numpy(object)
    parts = [taken.assign(state=np.where(said == "", by_day, said), kind="reading")]
    for state, column in ((FOUND, "value_before"), (LEFT, "value_after")):
        known = done[done[column].notna()]
        parts.append(known.assign(value=known[column], odometer=np.nan, state=state, kind="work"))
    filled = [part[COLUMNS] for part in parts if len(part)] or [parts[0][COLUMNS]]
    told = pd.concat(filled, ignore_index=True)
    return told[(told["state"] != "") & told["value"].notna()].reset_index(drop=True)


def as_found(told: pd.DataFrame) -> pd.DataFrame:
    """The first that was found of each wear point, of what :func:`told_in` gives."""
    found = told[told["state"] == FOUND].sort_values(["point", "date", "kind"], kind="stable")
    return found.drop_duplicates("point").reset_index(drop=True)


def as_left(told: pd.DataFrame) -> pd.DataFrame:
    """How each wear point went back: the last that was left, else as it was found, of :func:`told_in`.

    ``state`` says which; where a point was read once only, that is how it was found and how it went back.
    """
    order = told.assign(rank=(told["state"] == LEFT).astype(int))
    # Of one day a reading of the finished work goes before the figure of the work book.
    order = order.sort_values(["point", "rank", "date", "kind"], ascending=[True, True, True, False])
    return order.drop_duplicates("point", keep="last").drop(columns="rank").reset_index(drop=True)


def of_opening(frame: pd.DataFrame, mine: set[object], opening: Opening) -> pd.DataFrame:
    """Rows that name the opening, and those of its vehicle and days that name none."""
    inside = frame["date"] >= opening["since"]
    if pd.notna(opening["until"]):
        inside &= frame["date"] <= opening["until"]
    named = frame["opening"] == opening["opening"]
    chosen: pd.DataFrame = frame[frame["point"].isin(mine) & (named | (inside & (frame["opening"] == "")))]
    return chosen
