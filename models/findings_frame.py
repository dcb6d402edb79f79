"""One shape for what checks find: what was found, the limit, its source, and what would put it right."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

COLUMNS = [
    "vehicle", "check", "position", "points", "found", "limit", "bound", "base_unit", "verdict", "tier",
    "source", "remedy", "detail", "date",
]  # fmt: skip
VERDICTS = ("condemned", "limit laxer than the law", "not fit to leave the shop", "cannot be told", "within")
CONDEMNED, LAXER, NOT_FIT, UNTOLD, WITHIN = VERDICTS
"""From the worst to the best. ``cannot be told``: a limit or fact is not stated, or not measured."""
NO_LIMIT = "no published figure is in the catalogue and none of the railway's own: state one"
SAME = 1e-6
"""Two lengths nearer than a nanometer are one length: what is left of fractions of an inch in binary. [mm]"""


def judged(found: pd.DataFrame, limits: pd.DataFrame, remedies: dict[str, str]) -> pd.DataFrame:
    """Findings from what was found and the limits of the checks.

    Parameters
    ----------
    found : vehicle, check, position, points, found [base_unit], base_unit, detail, date; optional row_limit
        and row_source: a limit of that row alone; instead: it was found by way of something else, and this is
        to be done to tell.
    limits : check, bound, limit, base_unit, condemned_when, tier, source; the strictest of each check and
        bound holds.
    remedies : by check.

    Returns
    -------
    ``COLUMNS``: one row for each row found and bound of its check; ``limit`` NaN where none is stated.
    """
    if found.empty:
        return pd.DataFrame(columns=COLUMNS)
    strict = strictest(limits)
    own = found.reindex(columns=["row_limit", "row_source", "instead"])
    told = own["instead"].astype(object).where(own["instead"].notna(), "")
    rows = found.assign(
        row_limit=own["row_limit"].astype(float),
        row_source=own["row_source"].astype(object).where(own["row_source"].notna(), ""),
    )
    rows = rows.assign(instead=told).merge(strict, on="check", how="left", suffixes=("", "_limit"))
    by_row = rows["row_limit"].notna() & rows["limit"].isna()
    rows["limit"] = rows["limit"].astype(float).where(~by_row, rows["row_limit"])
    rows["source"] = rows["source"].fillna("").where(~by_row, rows["row_source"])
    rows["bound"] = rows["bound"].fillna("max")
    rows["tier"] = rows["tier"].fillna("").where(~by_row, "shop")
    over = beyond(rows["found"], rows["limit"], rows["bound"], rows["condemned_when"].fillna("beyond"))
    verdict = np.where(over, np.where(rows["tier"] == "shop", NOT_FIT, CONDEMNED), WITHIN)
    untold = rows["limit"].isna() | rows["found"].isna() | (over & (rows["instead"] != ""))
    rows["verdict"] = np.where(untold, UNTOLD, verdict)
    rows["source"] = rows["source"].where(rows["limit"].notna(), NO_LIMIT)
    remedy = rows["check"].map(remedies).fillna("").where(rows["verdict"] != WITHIN, "")
    rows["remedy"] = remedy.where(~over | (rows["instead"] == ""), rows["instead"])
    return rows[COLUMNS]


def strictest(limits: pd.DataFrame) -> pd.DataFrame:
    """The strictest limit of each check and bound, shop limits and condemning ones for themselves."""
    if limits.empty:
        return pd.DataFrame(columns=["check", "bound", "limit", "condemned_when", "tier", "source"])
    key = limits["limit"].where(limits["bound"] == "min", -limits["limit"])
    order = limits.assign(_key=key, _at=limits["condemned_when"] == "at", _shop=limits["tier"] == "shop")
    order = order.sort_values(["check", "bound", "_key", "_at", "_shop"], kind="stable")
    kept = order.drop_duplicates(["check", "bound", "_shop"], keep="last")
    return kept[["check", "bound", "limit", "condemned_when", "tier", "source"]].reset_index(drop=True)


def beyond(found: pd.Series, limit: pd.Series, bound: pd.Series, condemned_when: pd.Series) -> pd.Series:
    """Whether each value is condemned: past its limit, or at it where the limit itself condemns."""
    past = (found - limit).where(bound == "max", limit - found)
    return (past > SAME) | ((condemned_when == "at") & (past >= -SAME))
