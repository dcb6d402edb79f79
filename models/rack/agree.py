"""Whether the wheels of a spare agree with those that stay: diameters on an axle and in a set, spacing."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import pandas as pd

from models.checks.cross_checks import READ, check_all
from models.checks.findings_frame import NOT_FIT, OUT


@dataclass(frozen=True)
class WheelChecks:
    """What wheels are held against.

    Attributes
    ----------
    points : wear points of the store, classified. latest : their last readings, of what is fitted now
        (``models.checks.cross_checks.latest_readings``).
    limits : by vehicle, limits of the checks (``ingest.catalogue.difference_limits``).
    """

    points: pd.DataFrame = field(default_factory=pd.DataFrame)
    latest: pd.DataFrame = field(default_factory=pd.DataFrame)
    limits: Mapping[str, pd.DataFrame] = field(default_factory=dict)


def agrees(checks: WheelChecks, vehicle: str, values: Mapping[str, float]) -> bool:
    """Whether nothing is past a limit that compares wheels, with a part in place that measures so.

    Parameters
    ----------
    vehicle : on which the part is fitted. values : what it measures, by wear point. [base unit]

    Returns
    -------
    True where no limit is stated: nothing then says that it does not fit.
    """
    if vehicle not in checks.limits:
        return True
    own = checks.points[checks.points["vehicle"] == vehicle]
    stay = checks.latest[checks.latest["point"].isin(own["point"]) & ~checks.latest["point"].isin(values)]
    comes = pd.DataFrame({"point": list(values), "value": list(values.values())})
    day = checks.latest["date"].max()
    comes = comes.assign(low=comes["value"], high=comes["value"], places=1, date=day)
    found = check_all(own, pd.concat([stay, comes])[["point", *READ]], checks.limits[vehicle])
    past = found.loc[found["verdict"].isin([*OUT, NOT_FIT]), "points"]
    return not any(set(points.split(", ")) & set(values) for points in past)
