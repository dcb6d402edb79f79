"""One shape for what checks find: what was found, the limit, its source, and what would put it right."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

COLUMNS = [
    "vehicle", "check", "position", "points", "found", "limit", "bound", "base_unit", "verdict", "tier",
    "source", "remedy", "detail", "date",
]  # fmt: skip
VERDICTS = ("condemned", "limit laxer than the law", "not fit to leave the shop", "no limit stated", "within")
CONDEMNED, LAXER, NOT_FIT, UNSTATED, WITHIN = VERDICTS
"""From the worst to the best."""
NO_LIMIT = "no published figure is in the catalogue and none of the railway's own: state one"
SAME = 1e-6
"""Two lengths nearer than a nanometer are one length: what is left of fractions of an inch in binary. [mm]"""


def judged(found: pd.DataFrame, limits: pd.DataFrame, remedies: dict[str, str]) -> pd.DataFrame:
    """Findings from what was found and the limits of the checks.

    Parameters
    ----------
    found : vehicle, check, position, points, found [base_unit], base_unit, detail, date; optional row_limit
        and row_source: a limit of that row alone.
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
    own = found.reindex(columns=["row_limit", "row_source"])
    rows = found.assign(
        row_limit=own["row_limit"].astype(float),
        row_source=own["row_source"].astype(object).where(own["row_source"].notna(), ""),
    )
    rows = rows.merge(strict, on="check", how="left", suffixes=("", "_limit"))
    by_row = rows["row_limit"].notna() & rows["limit"].isna()
    rows["limit"] = rows["limit"].astype(float).where(~by_row, rows["row_limit"])
    rows["source"] = rows["source"].fillna("").where(~by_row, rows["row_source"])
    rows["bound"] = rows["bound"].fillna("max")
    rows["tier"] = rows["tier"].fillna("").where(~by_row, "shop")
    over = beyond(rows["found"], rows["limit"], rows["bound"], rows["condemned_when"].fillna("beyond"))
    verdict = np.where(over, np.where(rows["tier"] == "shop", NOT_FIT, CONDEMNED), WITHIN)
    rows["verdict"] = np.where(rows["limit"].isna() | rows["found"].isna(), UNSTATED, verdict)
    rows["source"] = rows["source"].where(rows["limit"].notna(), NO_LIMIT)
    rows["remedy"] = rows["check"].map(remedies).fillna("").where(rows["verdict"] != WITHIN, "")
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
