"""Whether the wheels of a spare agree with those that stay: diameters on an axle and in a set, spacing."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import pandas as pd

from models.checks.cross_checks import READ, check_all
from models.checks.findings_frame import NOT_FIT, OUT, SAME


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
    """Whether a part that measures so puts nothing past a limit that compares wheels, nor further past it.

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
    limits = checks.limits[vehicle]
    before = _past(check_all(own, stay, limits))
    after = _past(check_all(own, pd.concat([stay, comes])[["point", *READ]], limits))
    return all(by <= before.get(check, 0.0) + SAME for check, by in after.items())


def _past(found: pd.DataFrame) -> dict[tuple[str, str, str], float]:
    """By how much each check, at its position and by its bound, is past its limit; only those that are."""
    past = found[found["verdict"].isin([*OUT, NOT_FIT])]
    checks = zip(past["check"], past["position"], past["bound"], strict=True)
    return dict(zip(checks, (past["found"] - past["limit"]).abs(), strict=True))
