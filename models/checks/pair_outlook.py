"""How likely wheels that must agree come to differ too much, from the joint paths of a forecast run."""

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.checks.findings_frame import strictest
from models.checks.joint_limits import chance_differs, chance_spread_exceeds, difference_of
from models.checks.measured import Measured
from models.checks.wheel_checks import Sizes, diameters, one_kind

Floats = NDArray[np.float64]

COLUMNS = [
    "vehicle", "check", "position", "points", "limit", "tier", "source", "difference", "difference_sd",
    "label", "miles", "chance", "how",
]  # fmt: skip


def pair_outlook(
    wear_points: pd.DataFrame,
    state: pd.DataFrame,
    limits: pd.DataFrame,
    horizons: pd.DataFrame,
    *,
    rate_correlation: float = 0.0,
) -> pd.DataFrame:
    """Chance that the wheels of an axle, or of a coupled set, differ beyond their limit before each horizon.

    Parameters
    ----------
    wear_points : with part, measure, group, axle, side, matched_set (``ingest.catalogue.classify``).
    state : frame ``state`` of a forecast run in base unit: point, level, level_var, rate, rate_var,
        level_rate_cov, tau, sign, new_value.
    limits : as ``ingest.catalogue.difference_limits`` gives it.
    horizons : vehicle, label (a date, a lay-up), miles from as-of. [mi], >= 0
    rate_correlation : of the two wheels of an axle. [1] 0 is careful.

    Returns
    -------
    ``COLUMNS``, lengths in mm of diameter, one row an axle or set and horizon. ``tier`` shop: the limit holds
    when the tires are turned, in service it says when they should be.
    """
    values = wear_points.merge(state, on="point", suffixes=("", "_run"))
    values["value"] = values["new_value_run"].fillna(values["new_value"]) + values["sign"] * values["level"]
    values = values.dropna(subset=["value"])
    sizes, held = diameters(Measured.of(values)), strictest(limits)
    drivers = sizes.only((values["group"] == "driver").to_numpy()[sizes.row])
    axles = _wheels(values, sizes.only(one_kind(sizes, sizes.on_axle)))
    sets = _wheels(values, drivers.only(one_kind(drivers, drivers.in_set)))
    parts = [_axles(axles, held, horizons, rate_correlation), *_sets(sets, held, horizons)]
    kept = [part for part in parts if not part.empty]
    return pd.concat(kept, ignore_index=True)[COLUMNS] if kept else pd.DataFrame(columns=COLUMNS)


def _wheels(values: pd.DataFrame, sizes: Sizes) -> pd.DataFrame:
    """Wear points of these wheels, ``value`` their diameter."""
    return values.iloc[sizes.row].assign(
        value=sizes.value, scale=sizes.scale, coupled=sizes.coupled, how=sizes.how
    )


def _axles(
    wheels: pd.DataFrame, held: pd.DataFrame, horizons: pd.DataFrame, correlation: float
) -> pd.DataFrame:
    left, right = (wheels[wheels["side"] == side] for side in ("left", "right"))
    pairs = left.merge(right, on=["vehicle", "group", "axle", "how"], suffixes=("", "_2"))
    limit = held[held["check"] == "same axle diameters"]
    if pairs.empty or limit.empty:
        return pd.DataFrame()
    limit = limit.loc[[limit["limit"].idxmin()]]
    pair = difference_of(_moments(pairs), _moments(pairs, "_2"), correlation)
    parts = []
    for vehicle, ahead in horizons.groupby("vehicle"):
        ahead = ahead.sort_values("miles")
        of_vehicle = (pairs["vehicle"] == vehicle).to_numpy()
        if not of_vehicle.any():
            continue
        differences = pair.only(of_vehicle)
        most = np.full(of_vehicle.sum(), float(limit["limit"].iloc[0]))
        chance = chance_differs(differences, most, ahead["miles"].to_numpy(float))
        rows = pairs[of_vehicle].assign(
            check="same axle diameters",
            position=pairs["group"] + " " + pairs["axle"].astype(str),
            points=pairs["point"] + ", " + pairs["point_2"],
            difference=differences.level,
            difference_sd=np.sqrt(differences.level_var),
        )
        parts.append(_long(rows, limit, ahead, chance))
    return pd.concat(parts) if parts else pd.DataFrame()


def _sets(drivers: pd.DataFrame, held: pd.DataFrame, horizons: pd.DataFrame) -> Iterator[pd.DataFrame]:
    limit = held[held["check"] == "coupled diameters"]
    if limit.empty:
        return
    limit = limit.loc[[limit["limit"].idxmin()]]
    for (vehicle, name), wheels in drivers.groupby(["vehicle", "coupled"]):
        ahead = horizons[horizons["vehicle"] == vehicle].sort_values("miles")
        if len(wheels) < 2 or ahead.empty:
            continue
        moments = _moments(wheels)
        chance = chance_spread_exceeds(moments, float(limit["limit"].iloc[0]), ahead["miles"].to_numpy(float))
        high, low = int(np.argmax(moments["level"])), int(np.argmin(moments["level"]))
        row = wheels.iloc[[0]].assign(
            check="coupled diameters",
            position=str(name),
            points=", ".join(wheels["point"]),
            difference=moments["level"][high] - moments["level"][low],
            difference_sd=np.sqrt(moments["level_var"][high] + moments["level_var"][low]),
        )
        yield _long(row, limit, ahead, chance[None, :])


def _moments(rows: pd.DataFrame, suffix: str = "") -> dict[str, Floats]:
    """State of the diameters: the wear's own, signed and doubled where a thickness stands for a diameter."""
    column = {name: rows[name + suffix].to_numpy(float) for name in ("value", "scale", "sign", *_WEAR)}
    scale, sign = column["scale"], column["sign"]
    return {
        "level": column["value"],
        "level_var": scale**2 * column["level_var"],
        "rate": scale * sign * column["rate"],
        "rate_var": scale**2 * column["rate_var"],
        "level_rate_cov": scale**2 * column["level_rate_cov"],
        "tau": scale * column["tau"],
    }


_WEAR = ("level_var", "rate", "rate_var", "level_rate_cov", "tau")


def _long(rows: pd.DataFrame, limit: pd.DataFrame, ahead: pd.DataFrame, chance: Floats) -> pd.DataFrame:
    n, m = chance.shape
    table = rows[["vehicle", "check", "position", "points", "difference", "difference_sd", "how"]]
    table = table.loc[table.index.repeat(m)].reset_index(drop=True)
    stated = limit.iloc[0]
    return table.assign(
        limit=stated["limit"],
        tier=stated["tier"],
        source=stated["source"],
        label=np.tile(ahead["label"].astype(str).to_numpy(), n),
        miles=np.tile(ahead["miles"].to_numpy(float), n),
        chance=chance.ravel(),
    )
