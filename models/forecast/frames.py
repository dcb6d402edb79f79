"""The other frames of a forecast: distributions, states, families, checks of readings, paths."""

import numpy as np
import pandas as pd

from models.combined.combine import WEAR_MODEL
from models.forecast.explain import family_frame
from models.forecast.from_lifetimes import FromLifetimes
from models.forecast.paths import paths_ahead, reading_checks
from models.forecast.worked import Worked
from models.futures.over_futures import IN_FUTURES, PACE
from models.wear.shapes import KINDS
from models.wear.shared_prior import summary_frame


def frames_of(worked: Worked, points: pd.DataFrame, readings: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Frames by name; DEVELOPERS.md lists their columns.

    Parameters
    ----------
    points, readings : tables wear_points and readings in normalised form (``ingest.schema``).
    """
    model, table, point = worked.model, worked.table, worked.point
    points, scale = points.reset_index(drop=True), table.scale
    distribution = pd.DataFrame({"point": points["point"].to_numpy()[point]})
    distribution["remaining"] = list(worked.remaining)
    distribution["new_life"] = list(worked.shared.new_lives(point))
    distribution["life_miles"] = table.lives.as_of_miles[worked.life]
    distribution[IN_FUTURES] = pd.Series(worked.given, dtype=object)
    distribution[PACE] = pd.Series(worked.shared.paces(worked.life), dtype=object)
    return {
        "distribution": distribution,
        "state": _state_frame(worked, points),
        "family": family_frame(model, scale.family_name),
        "summary": summary_frame(model.summary(), scale.part.iloc[model.relative_.family]),
        "reading_check": reading_checks(model, table, readings, points),
        "path": paths_ahead(worked, points, worked.quantile(0.9)),
        "combined": _combined_frame(worked, points),
    }


def with_lifetimes(
    frames: dict[str, pd.DataFrame], unread: FromLifetimes, points: pd.DataFrame
) -> dict[str, pd.DataFrame]:
    """The frames with the wear points that are forecast without readings, which have a distribution alone."""
    if not len(unread.point):
        return frames
    own = pd.DataFrame({"point": points["point"].to_numpy()[unread.point]})
    own["remaining"], own["new_life"] = list(unread.remaining), list(unread.new_life)
    own["life_miles"] = unread.life_miles
    for name in (IN_FUTURES, PACE):
        own[name] = pd.Series([np.empty(0)] * len(own), dtype=object)
    if "distribution" not in frames:
        return {**frames, "distribution": own}
    return {**frames, "distribution": pd.concat([frames["distribution"], own], ignore_index=True)}


def _combined_frame(worked: Worked, points: pd.DataFrame) -> pd.DataFrame:
    """Weight of each forecaster in the forecast of the wear points where there is more than one."""
    together = worked.combination
    weight = together.weight[together.asked]
    names = points["point"].to_numpy()[worked.point[together.asked]]
    parts = [
        pd.DataFrame({"point": names, "forecaster": forecaster, "weight": share})
        for forecaster, share in ((WEAR_MODEL, 1.0 - weight), (together.name, weight))
    ]
    return pd.concat(parts, ignore_index=True)


def _state_frame(worked: Worked, points: pd.DataFrame) -> pd.DataFrame:
    """Wear at as-of of every wear point that is forecast, in base units: level, rate, their variances."""
    table, point, life = worked.table, worked.point, worked.life
    wear = worked.wear_now
    return pd.DataFrame(
        {
            "point": points["point"].to_numpy()[point],
            "family": table.scale.family_name[table.scale.family[point]],
            "level": wear.level + table.cut_now[life],
            "level_var": wear.level_var,
            "rate": wear.rate,
            "rate_var": wear.rate_var,
            "level_rate_cov": wear.cov,
            "tau": wear.tau,
            "sigma": wear.sigma,
            "limit": table.scale.limit[point],
            "sign": table.scale.sign[point],
            "new_value": table.scale.new[point],
            "life_miles": table.lives.as_of_miles[life],
            "life_number": table.number[life],
            "life_began": np.floor(table.began_day[life]).astype("datetime64[D]").astype("datetime64[us]"),
            **{f"weight {kind}": worked.kinds[:, i] for i, kind in enumerate(KINDS)},
        }
    )
