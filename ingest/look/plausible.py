"""What a value of a wear point can be: by new value and limit, else by what was read of its family."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from ingest.figures import limit
from ingest.names.points import by_point
from ingest.value_state import furthest, not_below


def plausible_range(points: pd.Series, known: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Smallest and largest value that is taken without asking.

    Parameters
    ----------
    points : names of wear points, one for each row asked about.
    known : tables that hold: wear_points, readings.

    Returns
    -------
    Index of `points`: low, high [base unit], NaN where nothing tells; seen (bool): by the stored readings of
    the family, of which there are enough (``reading.family_readings``), where new value or limit lack. They
    lie in the middle of that range, which is three times as wide.
    """
    about = by_point(known["wear_points"])
    new, condemning = (_of_point(points, about[name]) for name in ("new_value", "condemning_limit"))
    out = furthest(new, condemning).assign(seen=False)
    unknown = out["low"].isna()
    if unknown.any():
        seen = _seen(points[unknown], about, known["readings"])
        width = seen["high"] - seen["low"]
        out.loc[unknown, "low"] = seen["low"] - width
        out.loc[unknown, "high"] = seen["high"] + width
        out["seen"] = unknown & out["low"].notna()
    return out


def possible_between(points: pd.Series, known: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """As :func:`plausible_range`, and not negative: low, high [base unit], NaN where nothing tells."""
    about = by_point(known["wear_points"])
    new, condemning = (_of_point(points, about[name]) for name in ("new_value", "condemning_limit"))
    reach = plausible_range(points, known)
    low = np.fmax(reach["low"], not_below(new, condemning))
    return pd.DataFrame({"low": low, "high": reach["high"]}, index=points.index)


def is_possible(points: pd.Series, values: pd.Series, known: Mapping[str, pd.DataFrame]) -> pd.Series:
    """Which values are :func:`possible_between`; those of which nothing tells are."""
    reach = possible_between(points, known)
    out: pd.Series = ~((values < reach["low"]) | (values > reach["high"]))
    return out


def _seen(points: pd.Series, about: pd.DataFrame, readings: pd.DataFrame) -> pd.DataFrame:
    """Smallest and largest stored reading of each point's family; NaN where too few, or all alike."""
    family = about["component"] + "; " + about["quantity"] + "; " + about["base_unit"]
    own = family[family.isin(family[family.index.isin(points.unique())].unique())]
    readings = readings[readings["point"].isin(own.index)]
    told = readings["value"].groupby(_words(readings["point"], own)).agg(["min", "max", "size"])
    told = told[(told["size"] >= limit("reading", "family_readings")) & (told["max"] > told["min"])]
    code = _words(points, own)
    return pd.DataFrame(
        {"low": _of_point(code, told["min"]), "high": _of_point(code, told["max"])}, index=points.index
    )


def _of_point(points: pd.Series, figures: pd.Series) -> pd.Series:
    return points.map(figures).astype("float64")


def _words(points: pd.Series, texts: pd.Series) -> pd.Series:
    return points.map(texts).astype(object).fillna("").astype("str")
