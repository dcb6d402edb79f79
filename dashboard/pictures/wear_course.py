"""The wear of a part over the years planned, with the work and without it, as two strokes."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from models.distribution import PROBABILITIES, Floats

STEPS = 24
"""Steps of a stroke."""
HIGHEST = 1.3
"""Wear beyond this is not drawn; the limit is 1. [share of the wear from new to the limit]"""

Stroke = list[list[float]]


def courses(
    points: pd.DataFrame, path: pd.DataFrame, forecast: pd.DataFrame, distribution: pd.DataFrame
) -> dict[str, dict[str, Stroke]]:
    """Strokes of each wear point that a plan renews, those of one engine.

    Parameters
    ----------
    points : frame of the plan: point, miles [mi from as-of to the window], new_value, condemning_limit [own
        unit].
    path, forecast, distribution : frames of the forecast that the plan was made from: point, odometer, p50
        [own unit], kind; point, as_of_odometer; point, new_life.

    Returns
    -------
    By point the strokes ``without`` and ``with``: pairs of the share of the years planned [1, by miles] and
    of wear from new to the limit [1]. Wear points whose wear cannot be drawn are left out.

    Notes
    -----
    The wear in the middle of its range. Beyond the forecast's own path it goes on as straight as the path
    ends; a new part wears straight to its limit over half of its lives.
    """
    last = float(points["miles"].max()) * 1.08 if len(points) else 0.0
    if not last > 0:
        return {}
    begun = forecast.drop_duplicates("point").set_index("point")["as_of_odometer"]
    middle = int(np.argmin(np.abs(PROBABILITIES - 0.5)))
    lives = distribution.drop_duplicates("point").set_index("point")["new_life"]
    ahead = {str(name): steps for name, steps in path[path["kind"] == "ahead"].groupby("point")}
    out = {}
    for name, own in points.sort_values("miles").groupby("point"):
        steps, limits = ahead.get(str(name)), own.iloc[0]
        span = float(limits["condemning_limit"]) - float(limits["new_value"])
        if steps is None or len(steps) < 2 or not abs(span) > 0 or name not in begun or name not in lives:
            continue
        run = steps["odometer"].to_numpy(float) - float(begun[name])
        worn = (steps["p50"].to_numpy(float) - float(limits["new_value"])) / span
        new_life = float(np.asarray(lives[name], dtype=np.float64)[middle])
        out[str(name)] = _strokes(run, worn, own["miles"].to_numpy(float), new_life, last)
    return out


def _strokes(run: Floats, worn: Floats, renewed: Floats, new_life: float, last: float) -> dict[str, Stroke]:
    grid = np.linspace(0.0, last, STEPS + 1)
    slope = max((worn[-1] - worn[0]) / max(run[-1] - run[0], 1.0), 0.0)

    def first(miles: Floats) -> Floats:
        beyond = worn[-1] + slope * (miles - run[-1])
        return np.where(miles <= run[-1], np.interp(miles, run, worn), beyond)

    without = _drawn(grid, first(grid), last)
    stops = np.unique(np.concatenate([grid, renewed]))
    pieces, begins = [], 0.0
    for place, ends in enumerate([*renewed, last]):
        miles = stops[(stops >= begins) & (stops <= ends)]
        fresh = (miles - begins) / new_life if 0 < new_life < np.inf else np.zeros(len(miles))
        pieces += _drawn(miles, first(miles) if place == 0 else fresh, last)
        begins = float(ends)
    return {"without": without, "with": pieces}


def _drawn(miles: Floats, worn: Floats, last: float) -> Stroke:
    pairs = np.stack([miles / last, np.clip(worn, 0.0, HIGHEST)], axis=1)
    return [[float(x), float(y)] for x, y in pairs.round(4)]


def end_words(course: Mapping[str, Stroke]) -> str:
    """What the two strokes show, for those who do not see them."""
    most = {name: max(wear for _, wear in stroke) for name, stroke in course.items()}
    limit = "reaches" if most["without"] >= 1.0 else "stays within"
    kept = "reaches" if most["with"] >= 1.0 else "stays within"
    return f"Without the work the middle of its wear {limit} the limit, with the work it {kept} it."
