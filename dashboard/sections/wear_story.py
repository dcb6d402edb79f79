"""What one wear point's page shows, put together from stored frames; nothing is fitted here."""

import pandas as pd

from dashboard.pictures.charts import WearPicture
from dashboard.words.units_shown import Units

ODD_BELOW = 0.5
"""A reading that counted less than half is pointed out. [1]"""


def picture(
    point: pd.Series, path: pd.DataFrame, readings: pd.DataFrame, work: pd.DataFrame, units: Units
) -> WearPicture:
    """Readings, path, limits and renewals of one wear point in the units shown.

    Parameters
    ----------
    point : its row of ``wear_points``: limits in base unit, ``per_base``, ``unit``.
    path : of the forecast run, values in the point's own unit.
    readings : of the forecast run's reading_check, values in the point's own unit, with ``weight``.
    work : with ``odometer``.
    """
    own = str(point["unit"])
    shown = units.unit(own)
    lines = path.assign(
        distance=units.miles(path["odometer"]),
        low=units.value(path["p10"], own),
        middle=units.value(path["p50"], own),
        high=units.value(path["p90"], own),
    )
    dots = readings.assign(
        distance=units.miles(readings["odometer"]),
        value=units.value(readings["value"], own),
        verdict=(readings["weight"].fillna(1.0) < ODD_BELOW).map({True: "odd", False: "taken"}),
    )
    renewed = work[work["action"] == "renewed"]
    return WearPicture(
        readings=dots[["distance", "value", "date", "verdict"]],
        path=lines[["distance", "low", "middle", "high", "kind"]],
        limits=_limits(point, units),
        renewals=pd.DataFrame(
            {
                "distance": units.miles(renewed["odometer"]),
                "name": renewed["date"].dt.strftime("renewed %b %Y"),
            }
        ).dropna(),
        value_title=f"{point['quantity']} [{shown}]",
        distance_title=f"odometer [{units.distance}]",
    )


def _limits(point: pd.Series, units: Units) -> pd.DataFrame:
    own, per_base = str(point["unit"]), float(point["per_base"])
    rows = [
        (
            units.value(float(point[column]) * per_base, own),
            f"{word} {units.text(float(point[column]) * per_base, own)}",
        )
        for column, word in (("condemning_limit", "condemning limit"), ("shop_limit", "shop limit"))
        if pd.notna(point[column])
    ]
    return pd.DataFrame(rows, columns=["value", "name"])


def events(readings: pd.DataFrame, work: pd.DataFrame, own: str, units: Units) -> pd.DataFrame:
    """Readings and work in one list, newest first, as people read them."""
    measured = pd.DataFrame(
        {
            "life": readings["life"].astype("Int64"),
            "date": readings["date"],
            "odometer": readings["odometer"],
            "what": "reading",
            "value": [units.text(v, own) for v in readings["value"]],
            "expected": [
                _expected(e, s, own, units)
                for e, s in zip(readings["expected"], readings["expected_sd"], strict=True)
            ],
            "verdict": readings["verdict"].fillna("").replace("sound", ""),
        }
    )
    done = pd.DataFrame(
        {
            "life": pd.Series(pd.NA, index=work.index, dtype="Int64"),
            "date": work["date"],
            "odometer": work["odometer"],
            "what": work["action"],
            "value": [units.text(v, own) for v in work["value_after"]],
            "expected": "",
            "verdict": "",
        }
    )
    both = pd.concat([f for f in (measured, done) if len(f)] or [measured])
    both["odometer"] = units.miles(both["odometer"]).round()
    return both.sort_values("date", ascending=False).reset_index(drop=True)


def _expected(expected: float, sd: float, own: str, units: Units) -> str:
    if pd.isna(expected):
        return ""
    spread = "" if pd.isna(sd) else f" ± {units.text(1.28 * sd, own)}"  # 80 %: normal 90 % quantile 1.2816
    return f"{units.text(expected, own)}{spread}"
