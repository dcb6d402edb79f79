"""One shape for what checks find: what was found, the limit, its source, and what would put it right."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.checks.measured import Bools, Dates, Floats, Ints, Texts

COLUMNS = [
    "vehicle", "check", "position", "points", "found", "limit", "bound", "base_unit", "verdict", "tier",
    "source", "remedy", "detail", "date",
]  # fmt: skip
VERDICTS = (
    "condemned",
    "past its limit",
    "limit laxer than the law",
    "not fit to leave the shop",
    "cannot be told",
    "within",
)
CONDEMNED, PAST, LAXER, NOT_FIT, UNTOLD, WITHIN = VERDICTS
"""From the worst to the best. ``past its limit``: as far as it was measured or the facts are stated; a better
measurement or a fact may show otherwise, and until then it is past. ``cannot be told``: a limit or fact is
not stated, or not measured, and nothing that was read is past a limit."""
OUT = (CONDEMNED, PAST)
"""Verdicts on what has passed a limit of the law or the railway."""
NO_LIMIT = "no published figure is in the catalogue and none of the railway's own: state one"
SAME = 1e-6
"""Two lengths nearer than a nanometer are one length: what is left of fractions of an inch in binary. [mm]"""


@dataclass(frozen=True)
class Found:
    """What one check found, a row each: arrays of one length, or one value for all rows.

    Attributes
    ----------
    vehicle, position, points, detail : where it was found, and words about it.
    found : in ``base_unit``.
    date : of the older of its readings.
    instead : it was found by way of something else, and this is to be done to tell; empty: it was not.
    limited_as : name of the check among the limits, where it may be another than ``check``.
    row_limit, row_source : a limit of that row alone, where no other is stated; NaN: there is none.
    """

    check: Texts | str
    vehicle: Texts
    position: Texts
    points: Texts
    found: Floats
    date: Dates
    detail: Texts | str
    base_unit: str = "mm"
    instead: Texts | str = ""
    limited_as: Texts | str = ""
    row_limit: Floats | float = np.nan
    row_source: str = ""


def judged(found: Iterable[Found], limits: pd.DataFrame, remedies: Mapping[str, str]) -> pd.DataFrame:
    """Findings from what was found and the limits of the checks.

    Parameters
    ----------
    found : what the checks found.
    limits : check, bound, limit, base_unit, condemned_when, tier, source; the strictest of each check and
        bound holds.
    remedies : by check.

    Returns
    -------
    ``COLUMNS``: one row for each row found and bound of its check; ``limit`` NaN where none is stated.
    """
    rows = _joined(found)
    known = set(limits["check"])
    named = [
        own if own in known else check for check, own in zip(rows["check"], rows["limited_as"], strict=True)
    ]
    row, held = _with_limits(np.array(named, object), strictest(limits))
    rows = {name: column[row] for name, column in rows.items()}
    by_row = np.isnan(held["limit"]) & ~np.isnan(rows["row_limit"])
    limit = np.where(by_row, rows["row_limit"], held["limit"])
    tier = np.where(by_row, "shop", held["tier"])
    over = beyond(rows["found"], limit, held["bound"], held["condemned_when"])
    by_way = rows["instead"] != ""
    verdict = np.where(over, np.where(tier == "shop", NOT_FIT, np.where(by_way, PAST, CONDEMNED)), WITHIN)
    verdict = np.where(np.isnan(limit) | np.isnan(rows["found"]), UNTOLD, verdict)
    source = np.where(by_row, rows["row_source"], held["source"])
    remedy = np.where(verdict == WITHIN, "", [remedies.get(check, "") for check in rows["check"]])
    judgement = {
        "limit": limit,
        "bound": held["bound"],
        "verdict": verdict,
        "tier": tier,
        "source": np.where(np.isnan(limit), NO_LIMIT, source),
        "remedy": np.where(over & (rows["instead"] != ""), rows["instead"], remedy),
    }
    return pd.DataFrame({name: {**rows, **judgement}[name] for name in COLUMNS})


def worst_first(rows: pd.DataFrame) -> pd.DataFrame:
    """Findings by verdict, the worst first; of one verdict those furthest past their limit, for its size."""
    rank = rows["verdict"].map({verdict: place for place, verdict in enumerate(VERDICTS)}).to_numpy()
    found, limit = (rows[name].to_numpy(float) for name in ("found", "limit"))
    with np.errstate(divide="ignore", invalid="ignore"):
        past = np.where(rows["bound"] == "min", limit - found, found - limit) / np.abs(limit)
    order = np.lexsort((-np.nan_to_num(past, nan=-np.inf, posinf=1e9), rank))
    return rows.iloc[order].reset_index(drop=True)


def _joined(found: Iterable[Found]) -> dict[str, NDArray]:
    """All rows found, by the names of the attributes."""
    parts = [
        {name: _whole(value, len(check.found)) for name, value in vars(check).items()} for check in found
    ]
    return {field.name: np.concatenate([part[field.name] for part in parts]) for field in fields(Found)}


def _whole(value: NDArray | str | float, length: int) -> NDArray:
    if isinstance(value, np.ndarray):
        return value
    return np.full(length, value, float if isinstance(value, float) else object)


def _with_limits(checks: Texts, held: pd.DataFrame) -> tuple[Ints, dict[str, NDArray]]:
    """Each row found once for every limit of its check, once where there is none; the limits beside them."""
    none = len(held)
    rows_of_check: dict[str, list[int]] = {}
    for place, check in enumerate(held["check"]):
        rows_of_check.setdefault(check, []).append(place)
    which = [rows_of_check.get(check, [none]) for check in checks]
    row = np.repeat(np.arange(len(checks)), [len(places) for places in which])
    chosen = np.array([place for places in which for place in places], np.int64)
    without: dict[str, object] = {
        "bound": "max",
        "limit": np.nan,
        "condemned_when": "beyond",
        "tier": "",
        "source": "",
    }
    columns = {
        name: np.append(held[name].to_numpy(object), np.array([value], object))
        for name, value in without.items()
    }
    beside = {name: column[chosen] for name, column in columns.items()}
    return row, {**beside, "limit": beside["limit"].astype(float)}


def strictest(limits: pd.DataFrame) -> pd.DataFrame:
    """The strictest limit of each check and bound, shop limits and condemning ones for themselves."""
    names = ["check", "bound", "limit", "condemned_when", "tier", "source"]
    if limits.empty:
        return pd.DataFrame(columns=names)
    columns = (limits[name].tolist() for name in names[:5])
    asked = []
    for place, (check, bound, limit, when, tier) in enumerate(zip(*columns, strict=True)):
        strictness = limit if bound == "min" else -limit
        asked.append((check, bound, strictness, when == "at", tier == "shop", place))
    kept: dict[tuple[str, str, bool], int] = {}
    for check, bound, _, _, shop, place in sorted(asked):
        kept.pop((check, bound, shop), None)
        kept[check, bound, shop] = place
    return limits[names].iloc[list(kept.values())].reset_index(drop=True)


def beyond(found: Floats, limit: Floats, bound: Texts, condemned_when: Texts) -> Bools:
    """Whether each value is condemned: past its limit, or at it where the limit itself condemns."""
    past = np.where(bound == "max", found - limit, limit - found)
    condemned: Bools = (past > SAME) | ((condemned_when == "at") & (past >= -SAME))
    return condemned
