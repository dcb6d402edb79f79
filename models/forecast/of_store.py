"""Frames of a forecast that followed parts, for the store's own wear points; the spares rack apart."""

import numpy as np
import pandas as pd

from models.lives.follow import TRACKS, own_points

OF_POINTS = ("distribution", "state", "reading_check", "path", "combined")
"""Frames whose rows name a wear point."""
ABOUT_SPARES = [
    "component", "position", "quantity", "unit", "vehicle", "last_date", "last_value", "condemning_limit",
    "rate_per_1000_mi", "miles_p05", "miles_p10", "miles_p50", "miles_p90", "miles_p95", "readings_used",
]  # fmt: skip
ALARM = ["kind", "vehicle", "since", "words", "settled"]


def of_store(frames: dict[str, pd.DataFrame], tables: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """The frames without rows of parts that are fitted nowhere, and ``spares``: those on the rack.

    Parameters
    ----------
    frames : of a forecast of ``tables``, the frame ``forecast`` among them.
    tables : as :func:`models.lives.follow.follow_parts` gives them.

    Returns
    -------
    The frames as they were where no part moved. ``spares``: part_no, point (where it was last, whose limits
    and vehicle it is forecast with), ``ABOUT_SPARES``, remaining (quantiles as in ``distribution``).
    """
    if TRACKS not in tables:
        return frames
    own = own_points(tables)
    tracks, points = tables[TRACKS], tables["wear_points"]
    apart = tracks[tracks["target"] >= own]
    place = points["point"].to_numpy()[apart["row"]]
    place_of = dict(zip(points["point"].to_numpy()[apart["target"]], place, strict=True))
    kept = dict(frames)
    for name in OF_POINTS:
        if name in frames:
            kept[name] = frames[name][~frames[name]["point"].isin(place_of.keys())].reset_index(drop=True)
            if isinstance(kept[name]["point"].dtype, pd.CategoricalDtype):
                kept[name]["point"] = kept[name]["point"].cat.remove_unused_categories()
    kept["forecast"] = frames["forecast"].iloc[:own].reset_index(drop=True)
    kept["alarms"] = _alarms(frames["alarms"], place_of)
    if "distribution" in frames:
        kept["spares"] = _spares(frames, apart[apart["spare"].astype(bool)], place_of)
    return kept


def _alarms(alarms: pd.DataFrame, place_of: dict[str, str]) -> pd.DataFrame:
    """Alarms that concern what is fitted; readings of parts that went stand at the place where they were."""
    of_gone = alarms["point"].isin(place_of.keys())
    fitted = ~of_gone.groupby([alarms[name] for name in ALARM]).transform("all") if len(alarms) else ~of_gone
    kept = alarms[fitted.astype(bool)]
    return kept.assign(point=kept["point"].replace(place_of)).reset_index(drop=True)


def _spares(frames: dict[str, pd.DataFrame], spares: pd.DataFrame, place_of: dict[str, str]) -> pd.DataFrame:
    """What each part on the rack measured last, and the miles left in it where it was fitted last."""
    about = frames["forecast"].iloc[spares["target"].to_numpy(np.int64)].reset_index(drop=True)
    names = about["point"].astype(object)
    remaining = frames["distribution"].set_index("point")["remaining"].to_dict()
    made = about[ABOUT_SPARES].assign(
        part_no=spares["part_no"].to_numpy(dtype=object),
        point=names.map(place_of).astype(object),
    )
    made["remaining"] = pd.Series([remaining.get(name, np.empty(0)) for name in names], dtype=object)
    return made[["part_no", "point", *ABOUT_SPARES, "remaining"]]
