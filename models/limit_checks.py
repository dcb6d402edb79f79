"""Limits held against the law: laxer ones, sets that were mixed, the bound on the side away from the wear."""

import numpy as np
import pandas as pd

from models.findings_frame import COLUMNS, CONDEMNED, LAXER, SAME, UNTOLD, beyond

FAMILIES = {"us": ("49 CFR 230",), "ce": ("EBO", "EisbBBV", "DV 9", "DR Handbuch")}
"""Words in ``limit_source`` by which a family of limit sets is known."""


BOTH_SIDES = ("back to back", "over flanges")
"""Measures that do not wear toward a limit: a check of their own holds them to both bounds."""


def lax_limits(wear_points: pd.DataFrame, law: pd.DataFrame) -> pd.DataFrame:
    """Wear points whose own limit is laxer than the law's, or which have none where the law has one.

    Parameters
    ----------
    wear_points : point, vehicle, position, measure, condemning_limit [base unit], condemned_when, base_unit.
    law : point, bound, law_limit, law_laxest [base unit], law_condemned_when, law_source, law_tier,
        law_unstated.

    Returns
    -------
    Findings; ``found`` is the sheet's limit, ``limit`` the law's. Where the law's limit hangs on facts not
    stated, a limit between the laxest and the strictest row cannot be told, and ``remedy`` names the facts.
    """
    rows = wear_points.merge(law[law["law_tier"] == "law"], on="point", how="inner")
    rows = rows[~rows["measure"].isin(BOTH_SIDES)]
    own, limit, laxest = rows["condemning_limit"], rows["law_limit"], rows["law_laxest"]
    surely, maybe = (_laxer(own, text, rows) for text in (laxest, limit))
    missing = own.isna() & limit.notna()
    return pd.concat([_of_points(rows, surely, missing), _of_facts(rows[maybe & ~surely & ~missing])])


def _laxer(own: pd.Series, limit: pd.Series, rows: pd.DataFrame) -> pd.Series:
    """Whether the law's limit is reached before the sheet's: wear between the two would be called fit."""
    laxer = (own - limit).where(rows["bound"] == "max", limit - own) > SAME
    same = (own - limit).abs() <= SAME
    return laxer | (same & (rows["law_condemned_when"] == "at") & (rows["condemned_when"] == "beyond"))


def _of_points(rows: pd.DataFrame, laxer: pd.Series, missing: pd.Series) -> pd.DataFrame:
    words = np.where(missing, "the sheet has no limit", "the sheet's limit is laxer")
    limit = rows["law_laxest"].where(~missing, rows["law_limit"])
    some = _together(rows.assign(_words=words, law_limit=limit)[laxer | missing])
    return _findings(
        some,
        check="limit against the law",
        verdict=np.where(some["condemning_limit"].isna(), UNTOLD, LAXER),
        found=some["condemning_limit"],
        limit=some["law_limit"],
        source=some["law_source"],
        remedy="Put the law's limit, or a stricter one, into the sheet and load it again.",
        detail=some["_words"],
    )


def _of_facts(rows: pd.DataFrame) -> pd.DataFrame:
    some = _together(rows.assign(_words="the sheet's limit is laxer than the strictest row that may hold"))
    return _findings(
        some,
        check="limit against the law",
        verdict=UNTOLD,
        found=some["condemning_limit"],
        limit=some["law_limit"],
        source=some["law_source"],
        remedy="State " + some["law_unstated"] + ": the law's limit hangs on it.",
        detail=some["_words"],
    )


def _together(rows: pd.DataFrame) -> pd.DataFrame:
    """One row for all points of a vehicle with one limit and one rule, not one a wheel."""
    key = [
        "vehicle",
        "bound",
        "base_unit",
        "law_limit",
        "law_source",
        "law_unstated",
        "condemning_limit",
        "_words",
    ]
    grouped = rows.groupby(key, sort=False, dropna=False)
    some = grouped[["point", "position"]].agg(", ".join).reset_index()
    many = grouped.size().to_numpy() > 1
    return some.assign(position=some["position"].where(~many, ""))


def other_bounds(values: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    """Readings beyond the law's bound on the side away from the wear: a flange too low, wheels too far apart.

    Parameters
    ----------
    values : wear points with value and date of the last reading.
    other : as ``ingest.catalogue.law_limits_of(..., other_bound=True)`` gives it.

    Returns
    -------
    Findings of the points beyond that bound.
    """
    rows = values.merge(other[other["law_tier"] == "law"], on="point", how="inner")
    rows = rows[rows["law_limit"].notna() & ~rows["measure"].isin(BOTH_SIDES)]
    past = beyond(rows["value"], rows["law_limit"], rows["bound"], rows["law_condemned_when"])
    rows = rows[past]
    return _findings(
        rows,
        check="other bound of the law",
        verdict=np.where(rows["law_unstated"] != "", UNTOLD, CONDEMNED),
        found=rows["value"],
        limit=rows["law_limit"],
        source=rows["law_source"],
        remedy="Turn the wheel to its profile, or renew it.",
        detail=rows["law_unstated"].map(lambda facts: f"hangs on {facts}, not stated" if facts else ""),
    )


def mixed_sets(wear_points: pd.DataFrame) -> pd.DataFrame:
    """Vehicles whose limits cite both American and Central European rules, whose ranges do not overlap.

    Returns
    -------
    Findings, one a vehicle.
    """
    source = wear_points["limit_source"].fillna("")
    cited = pd.DataFrame({name: source.str.contains("|".join(words)) for name, words in FAMILIES.items()})
    both = cited.groupby(wear_points["vehicle"]).any().all(axis=1)
    vehicles = both.index[both]
    rows = pd.DataFrame({"vehicle": vehicles, "position": "", "point": "", "base_unit": "", "bound": ""})
    return _findings(
        rows,
        check="limit sets mixed",
        verdict=CONDEMNED,
        found=np.nan,
        limit=np.nan,
        source="49 CFR 230.112(b): 1346.2 to 1355.7 mm inside the flanges; EBO Anlage 6: 1357 to 1363 mm",
        remedy="Keep one set: a wheelset that is right under one is out of limits under the other.",
        detail="limits of both the American and the Central European set",
    )


def _findings(rows: pd.DataFrame, **columns: object) -> pd.DataFrame:
    base = rows.rename(columns={"point": "points"}).reindex(
        columns=["vehicle", "position", "points", "bound", "base_unit", "date"]
    )
    return base.assign(tier="law", **columns)[COLUMNS]  # type: ignore[arg-type]
