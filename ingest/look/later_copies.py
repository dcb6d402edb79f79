"""Readings that came before under an earlier day: a sheet copied out later, or a row that corrects another.

``copies`` pairs rows of the same and of the next day. Further apart two readings are two readings, unless
their figures agree more often than gauges do, or a note says that one corrects the other.
"""

from collections.abc import Iterator
from typing import Literal

import numpy as np
import pandas as pd
from scipy.special import ndtr

from ingest.figures import limit
from ingest.look.copies import correction_question, corrects, earlier_readings, near_others, scatter
from ingest.look.history import Places, point_days, points_and_days, written_step
from ingest.look.question import Question
from ingest.look.sheet import Sheet
from ingest.names.points import by_point

Way = Literal["backward", "forward"]
_FEWEST = 3
_CHANCE = 2.0
"""Equal figures of two sheets, at least, and how many standard deviations above those that two measurements
of the same wear points would have: one pair of sheets in 40 by chance. No published source."""


def judge_later_copies(sheet: Sheet) -> Iterator[Question]:
    """Ask about rows that say what readings of some days before said: corrections, or second readings?"""
    if sheet.table != "readings" or sheet.rows is None or sheet.rows.empty:
        return
    rows = sheet.rows[~sheet.rows.index.isin(near_others(sheet)["at"])]
    if rows.empty:
        return
    for name, part in _copied(rows, sheet).groupby("source_file", sort=False):
        yield correction_question(part, rows, str(name))
    noted = rows[rows["note"].map({note: corrects(note) for note in rows["note"].unique()}).astype(bool)]
    if len(noted):
        others = pd.concat([earlier_readings(sheet, rows), _own(rows)], ignore_index=True)
        pairs = _days_apart(noted, others, "backward", least=1)
        for name, part in pairs.groupby("source_file", sort=False):
            yield correction_question(part, rows, str(name), key="noted")


def _own(rows: pd.DataFrame) -> pd.DataFrame:
    """The rows as readings beside which others of the same sheet stand."""
    return rows.assign(row_id=-1, label=rows.index)


def _days_apart(rows: pd.DataFrame, others: pd.DataFrame, way: Way, *, least: int = 2) -> pd.DataFrame:
    """Rows beside the nearest reading of their point `least` days before (forward: after), or not much more.

    One of each is looked at: a point may have thousands of readings. It must be by the same hand, as far as
    that is said, and of two that were typed with a number of their own neither corrects the other.
    """
    names = ["point", "date", "value", "value_text", "unit", "observer", "client_id", "odometer_read"]
    left, right = _nearest(rows, others, way, least)
    other = others.iloc[right].drop(columns="point")
    other = other.rename(columns={name: f"{name}_other" for name in names}).reset_index(drop=True)
    pairs = pd.concat(
        [rows[names].iloc[left].assign(at=rows.index[left]).reset_index(drop=True), other], axis=1
    )
    alike = (pairs["observer"] == pairs["observer_other"]) | (pairs["observer"] == "")
    alike |= pairs["observer_other"] == ""
    alike &= (pairs[["client_id", "client_id_other"]] == "").any(axis=1)
    return pairs[alike].drop_duplicates(["row_id", "label"]).sort_values("at")


def _nearest(rows: pd.DataFrame, others: pd.DataFrame, way: Way, least: int) -> tuple[Places, Places]:
    """Places of rows, in the order of time, and of the nearest other of each; rows without one left out.

    `least`: days that lie between them. Of a day beside, ``copies`` has seen what is alike.
    """
    names = pd.Index(rows["point"].unique())
    (point, day), (other_point, other_day) = (points_and_days(names, frame) for frame in (rows, others))
    order = np.lexsort((other_day, other_point))
    keys = point_days(other_point, other_day)[order]
    left = np.argsort(day, kind="stable")
    bound = day[left] + (1 - least if way == "backward" else least - 1)
    key = point_days(point[left], bound)
    at = np.searchsorted(keys, key) - 1 if way == "backward" else np.searchsorted(keys, key, side="right")
    found = (at >= 0) & (at < len(keys))
    left, bound, right = left[found], bound[found], order[at[found]]
    days = np.abs(bound - other_day[right])
    near = (point[left] == other_point[right]) & (days <= limit("reading", "copied_within"))
    return left[near], right[near]


def _copied(rows: pd.DataFrame, sheet: Sheet) -> pd.DataFrame:
    """Pairs of sheets that agree in more of their figures than gauges allow, by sheet and days between."""
    others = earlier_readings(sheet, rows)
    if others.empty:
        return others
    pairs = _days_apart(rows, others, "backward")
    if len(rows) >= _FEWEST:
        pairs = pd.concat([pairs, _days_apart(rows, others, "forward")])
    if pairs.empty or len(rows) < _FEWEST:  # a row has one pair in each direction, and those are other groups
        return pairs.iloc[:0]
    equal = np.isclose(pairs["value"], pairs["value_other"])
    near = (pairs["value"] - pairs["value_other"]).abs() <= scatter(pairs["point"], sheet)
    sd = pairs["point"].map(by_point(sheet.known["wear_points"])["gauge_sd"]).astype("float64")
    sd = sd.fillna(scatter(pairs["point"], sheet) / (limit("reading", "disagree_after") * np.sqrt(2)))
    step = written_step(pairs[["point", "value_text", "unit"]])
    chance = _written_alike(step, sd)
    groups = [pairs["source_file"], pairs["source_sheet"], pairs["date"] - pairs["date_other"]]
    stood = pairs["odometer_read"] == pairs["odometer_read_other"]
    said = pd.DataFrame(
        {"equal": equal, "chance": chance, "variance": chance * (1 - chance), "near": near, "stood": stood}
        | {"date": pairs["date"]}
    ).groupby(groups, sort=False)
    n_equal, expected = said["equal"].transform("sum"), said["chance"].transform("sum")
    scattered = np.sqrt(said["variance"].transform("sum"))
    more = (n_equal > expected + _CHANCE * scattered) & (2 * n_equal >= said["near"].transform("size"))
    # Again after so many days, each time at the odometer of before, whatever the gauge: nobody measures so.
    more |= (
        (said["date"].transform("nunique") > 1)
        & said["stood"].transform("all")
        & said["near"].transform("all")
    )
    copied: pd.DataFrame = pairs[more & (n_equal >= _FEWEST) & near].drop_duplicates("at")
    return copied


def _written_alike(step: pd.Series, sd: pd.Series) -> pd.Series:
    """Chance that two readings with a gauge's error `sd` are written alike; 1 where that is not known.

    Two that differ by d are written alike with the chance 1 - |d| / step, wherever between two steps they
    lie; here its mean over d, normal with the variance of both errors.
    """
    ratio = step / (np.sqrt(2.0) * sd.mask(sd <= 0))
    apart = np.sqrt(2.0 / np.pi) / ratio * -np.expm1(-0.5 * ratio**2)
    alike: pd.Series = 2.0 * pd.Series(ndtr(ratio), ratio.index) - 1.0 - apart
    return alike.mask(ratio <= 0, 0.0).fillna(1.0)
