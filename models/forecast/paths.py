"""Wear over the miles, for pictures: the path ahead, and every reading against the model."""

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.lives.table import LifeTable
from models.wear.relative import known_or_zero

if TYPE_CHECKING:
    from models.forecast.worked import Worked
    from models.wear.model import PooledWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STEPS_AHEAD = 12
MANY_POINTS = 20_000
"""Wear points from which their pictures are drawn with fewer strokes."""
BAND = np.array([0.1, 0.5, 0.9])


def paths_ahead(worked: "Worked", points: pd.DataFrame, late: Floats) -> pd.DataFrame:
    """Fitted path at the readings and path ahead of every wear point forecast, in its own unit.

    Parameters
    ----------
    shared : the wear model and what the parts of each vehicle share.
    late : shape (f,). Miles from as-of to the 90 % quantile of the crossing, where the path ends; inf:
        never. [mi]

    Returns
    -------
    point, odometer [mi], p10, p50, p90 [own unit], kind (fitted / ahead): ordered by point and odometer.
    """
    model, table, point, life = worked.model, worked.table, worked.point, worked.life
    fitted = fitted_band(model, life)  # (f, k, 3)
    miles = table.lives.miles[life]
    start = table.lives.as_of_miles[life]
    rel = model.relative_
    rel_life = rel.per_life(rel.life)[model.row_of_[life]]
    # A crossing that may never come is drawn over one life.
    span = np.maximum(np.where(np.isfinite(late), late, rel_life) * 1.1, 0.05 * rel_life)
    many = model.known is not None or len(point) > MANY_POINTS  # a run of families is one of many
    steps, nodes = (STEPS_AHEAD // 2, 1) if many else (STEPS_AHEAD, 3)
    if many:
        miles = np.where(_spread_out(np.isfinite(miles), STEPS_AHEAD // 2), miles, np.nan)
    ahead = start[:, None] + span[:, None] * np.linspace(0.0, 1.0, steps + 1)
    quantiles = worked.wear_ahead(ahead, BAND, gauge=False, nodes=nodes)
    drawn_at = np.concatenate([miles, ahead], axis=1)
    wear = np.concatenate([fitted, quantiles], axis=1)
    kind = np.concatenate([np.zeros(miles.shape, int), np.ones(ahead.shape, int)], axis=1)
    taken = np.concatenate(
        [table.cut[life], np.repeat(table.cut_now[life][:, None], ahead.shape[1], axis=1)], axis=1
    )
    row, column = np.nonzero(np.isfinite(drawn_at))
    odometer = table.began_odometer[life][row] + drawn_at[row, column]
    sign, new = table.scale.sign[point][row], table.scale.new[point][row]
    per_base = points["per_base"].to_numpy(float)[point][row]
    worn = wear[row, column] + taken[row, column][:, None]
    values = (new[:, None] + sign[:, None] * worn) * per_base[:, None]
    values = np.sort(values, axis=1)
    return pd.DataFrame(
        {
            "point": _named(row, points["point"].to_numpy()[point]),
            "odometer": odometer,
            "p10": values[:, 0],
            "p50": values[:, 1],
            "p90": values[:, 2],
            "kind": _named(kind[row, column], np.array(["fitted", "ahead"], dtype=object)),
        }
    )


def _spread_out(present: NDArray[np.bool_], most: int) -> NDArray[np.bool_]:
    """At most so many of the readings of each life, (n, k): the first, the last, and evenly between."""
    place = np.cumsum(present, axis=1) - 1
    last = np.maximum(place[:, -1:], 1)
    share = place * (most - 1) // last
    new = np.diff(share, axis=1, prepend=-1) > 0
    return np.asarray(present & (new | (last < most)))


def reading_checks(
    model: "PooledWear", table: LifeTable, readings: pd.DataFrame, points: pd.DataFrame
) -> pd.DataFrame:
    """Every reading against what all the others of its life and family say, in the point's own unit.

    Returns
    -------
    row_id (-1 where the readings have none), point, date, value, odometer, life (number), life_miles,
    expected, expected_sd, weight (1: taken whole), verdict.
    """
    lives = table.lives
    row, column = np.nonzero(np.isfinite(lives.wear) & (table.source >= 0))
    source = table.source[row, column]
    point = table.point[row]
    per_base = points["per_base"].to_numpy(float)[point]
    sign, new = table.scale.sign[point], table.scale.new[point]
    expected, sd, wild = (x[row, column] for x in checked_readings(model))
    off = 0.0 if table.read_off is None else table.read_off[row, column]
    row_id = readings["row_id"].to_numpy(np.int64) if "row_id" in readings else np.full(len(readings), -1)
    verdict = np.select([wild >= 0.5, wild >= 0.1], [2, 1], 0)
    return pd.DataFrame(
        {
            "point": _named(point, points["point"].to_numpy()),
            "date": readings["date"].to_numpy()[source],
            "value": readings["value"].to_numpy(float)[source] * per_base,
            "odometer": readings["odometer"].to_numpy(float)[source],
            "life": table.number[row],
            "life_miles": lives.miles[row, column],
            "expected": (new + sign * (expected + off + table.cut[row, column])) * per_base,
            "expected_sd": sd * per_base,
            "weight": 1.0 - wild,
            "row_id": row_id[source],
            "verdict": _named(verdict, np.array(["sound", "doubtful", "odd: measure again"], dtype=object)),
        }
    )


def _named(code: Ints, names: NDArray[np.object_]) -> pd.Categorical:
    """Names by their number; a million of them are stored as numbers."""
    return pd.Categorical.from_codes(code, categories=pd.Index(names))


def fitted_band(model: "PooledWear", life: Ints) -> Floats:
    """10, 50 and 90 % of the wear at each reading of a life from all its readings, (f, k, 3); heaviest
    shape."""
    rel, checked = model.relative_, model.deletion_
    row = model.row_of_[life]
    level, sd = checked.level[row], np.sqrt(checked.level_var[row])
    band = level[..., None] + sd[..., None] * np.array([-1.2815515655446004, 0.0, 1.2815515655446004])
    out = np.empty_like(band)
    best = rel.per_life(model.shape_weight_.argmax(axis=0))[row]
    for i in np.unique(best):
        out[best == i] = model.fits_[i].shape.straight_wear(band[best == i])
    band = np.clip(out, -5.0, 5.0)
    return np.asarray(band * rel.per_life(rel.allowance)[row][:, None, None])


def checked_readings(model: "PooledWear") -> tuple[Floats, Floats, Floats]:
    """Of every reading, (n, k) in the order of the lives: what the others expect, its spread, the chance
    that it is wild."""
    rel, checked = model.relative_, model.deletion_
    expected, sd = np.full(rel.w.shape, np.nan), np.full(rel.w.shape, np.nan)
    best = rel.per_life(model.shape_weight_.argmax(axis=0))
    for i in np.unique(best):
        shape, rows = model.fits_[i].shape, best == i
        z = shape.wear(known_or_zero(rel.w[rows])) - checked.miss[rows]
        wear = np.clip(shape.straight_wear(z), -5.0, 5.0)
        expected[rows] = wear
        sd[rows] = np.sqrt(checked.doubt[rows] + checked.own[rows]) / shape.slope(np.clip(wear, -0.5, 1.5))
    scale = rel.per_life(rel.allowance)[:, None]
    row = model.row_of_
    return (expected * scale)[row], (sd * scale)[row], model.wild_[row]
