"""What a turning takes off, learned from the turnings on record; the assumption only fills in.

All tires of a matched set come out alike, so one of them, the ruling tire, says what the turning had to take:
``cut = clean_up + flange_slope * flange restored``, or ``clean_up + hollow_share * hollow`` where that is
deeper. The other tires were cut deeper than they needed.

The two figures are estimated together, by Bayesian linear regression with known spread: the assumption counts
as one observation of the spread stated beside it, each recorded turning as one of the spread ``cut_sd``. The
estimate is the mean of both, each weighted by its evidence.

References
----------
.. [1] D. V. Lindley, A. F. M. Smith, "Bayes estimates for the linear model", Journal of the Royal Statistical
   Society B 34 (1972) 1-41, equations 7 and 8.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.units import to_base
from models.assumed import assumed_values

Floats = NDArray[np.float64]

LEARNED = ("clean_up", "flange_slope")
"""Assumptions that recorded turnings replace."""
SPREADS = ("clean_up_sd", "flange_slope_sd", "cut_sd")
STATED_SD = 1e-9
"""Spread of a figure that the railway states itself: no record moves it."""
DIGITS = 4
"""Decimals of what is learned: further ones differ from processor to processor."""
MOST_ROUNDS = 20
"""Rounds after which the choice of the ruling tires is left as it is; two or three are the rule."""


@dataclass(frozen=True)
class Learned:
    """What recorded turnings teach.

    Attributes
    ----------
    value : by assumption, in base unit: clean_up [mm], flange_slope [1].
    weight : by assumption, share of the estimate that the record carries. [1], in [0, 1]
    turnings : how many turnings of sets were learned from.
    """

    value: dict[str, float]
    weight: dict[str, float]
    turnings: int


def recorded_turnings(work: pd.DataFrame, points: pd.DataFrame) -> pd.DataFrame:
    """Turnings on record, a row a tire.

    Parameters
    ----------
    work : point, date, action, value_before, value_after [mm].
    points : wear points: point, vehicle, position, matched_set, part, measure, role
        (``ingest.catalogue.classify``).

    Returns
    -------
    set (vehicle and matched set, or the tire), date, before (thickness) [mm], cut [mm], restored (flange
    thickness given back; 0 where none is measured on the tire) [mm], hollow (before it; 0 where none is on
    record) [mm]. A tire whose cut or flange is not on record before and after is left out, as is one that
    nothing was taken from.
    """
    own = points[points["role"].isin(["metal", "profile"])]
    tire = own["vehicle"].astype(str) + " " + own["position"].astype(str)
    matched = own["matched_set"].fillna("").astype(str)
    own = own.assign(tire=tire, set=(own["vehicle"].astype(str) + " " + matched).where(matched != "", tire))
    rows = work.merge(own[["point", "tire", "set", "measure", "role"]], on="point")
    rows = rows.assign(change=rows["value_before"] - rows["value_after"])
    cuts = rows[(rows["role"] == "metal") & (rows["action"] == "cut") & (rows["change"] > 0)]
    cuts = cuts.drop_duplicates(["tire", "date"], keep="last")
    flange, hollow = (rows[rows["measure"] == name] for name in ("flange thickness", "tread hollow"))
    with_flange = set(own.loc[own["measure"] == "flange thickness", "tire"])
    key = pd.MultiIndex.from_frame(cuts[["tire", "date"]])
    restored = -_first(flange, "change").reindex(key).to_numpy(float)
    restored = np.where(cuts["tire"].isin(with_flange), np.maximum(restored, 0.0), 0.0)
    worn = _first(hollow, "value_before").reindex(key).to_numpy(float)
    out = pd.DataFrame(
        {
            "set": cuts["set"].to_numpy(),
            "date": cuts["date"].to_numpy(),
            "before": cuts["value_before"].to_numpy(float),
            "cut": cuts["change"].to_numpy(float),
            "restored": restored,
            "hollow": np.nan_to_num(worn),
        }
    )
    return out.dropna(subset=["restored"]).sort_values(["set", "date"], kind="stable", ignore_index=True)


def _first(rows: pd.DataFrame, column: str) -> pd.Series:
    known = rows.dropna(subset=[column]).drop_duplicates(["tire", "date"], keep="last")
    return known.set_index(["tire", "date"])[column]


def with_record(assumed: pd.DataFrame, turnings: pd.DataFrame, stated: Collection[str] = ()) -> pd.DataFrame:
    """Assumptions with what the turnings on record put in their place.

    Parameters
    ----------
    assumed : assumption, value, unit, source: rows of the topic ``turning``.
    turnings : as :func:`recorded_turnings` gives them.
    stated : assumptions that the railway states itself; they stay as they are.

    Returns
    -------
    The same rows, and turnings (how many were learned from, 0 where the assumption stands), weight (share of
    the value that they carry) [1] and assumed (what would stand without them; NaN where it does).
    """
    table = assumed.assign(turnings=0, weight=0.0, assumed=np.nan)
    learned = learn(turnings, assumed, stated)
    for name in LEARNED:
        if name in stated or not learned.turnings:
            continue
        row = table.index[table["assumption"] == name][0]
        unit = str(table.loc[row, "unit"])
        table.loc[row, "assumed"] = table.loc[row, "value"]
        table.loc[row, "value"] = round(learned.value[name] / to_base(1.0, unit), DIGITS)
        table.loc[row, "source"] = (
            f"the railway's own record, {learned.turnings} turnings of sets, weight"
            f" {100 * learned.weight[name]:.0f} %; the rest: {table.loc[row, 'source']}"
        )
        table.loc[row, "turnings"], table.loc[row, "weight"] = learned.turnings, learned.weight[name]
    return table


def learn(turnings: pd.DataFrame, assumed: pd.DataFrame, stated: Collection[str] = ()) -> Learned:
    """Clean-up and slope from recorded turnings and the assumption, by weight of evidence.

    Parameters
    ----------
    turnings : as :func:`recorded_turnings` gives them.
    assumed : assumption, value, unit: rows of the topic ``turning``, ``SPREADS`` among them.
    stated : assumptions that the railway states itself: they are taken as known.

    Notes
    -----
    Which tire ruled is found in turn with the figures: the one that the figures would leave thinnest. Where
    the true one is not on record, another is taken for it, which was cut deeper than it needed: the estimate
    then errs toward more metal. Neither figure is let below zero.
    """
    given = assumed_values(assumed, [*LEARNED, *SPREADS, "hollow_share"], "turning of tires")
    prior = np.array([given[name] for name in LEARNED])
    spread = [STATED_SD if name in stated else given[f"{name}_sd"] for name in LEARNED]
    precision = np.diag(np.array(spread) ** -2.0)
    mean, posterior = prior, precision
    hollow = given["hollow_share"] * turnings["hollow"].to_numpy(float)
    group = turnings.groupby(["set", "date"], sort=False).ngroup().to_numpy()
    n = int(group.max()) + 1 if len(group) else 0
    ruling: list[int] = []
    for _ in range(MOST_ROUNDS if n else 0):
        flange = mean[1] * turnings["restored"].to_numpy(float)
        left = turnings["before"].to_numpy(float) - mean[0] - np.maximum(flange, hollow)
        order = np.lexsort((np.arange(len(group)), left, group))
        chosen = order[np.searchsorted(group[order], np.arange(n))].tolist()
        if chosen == ruling:
            break
        ruling = chosen
        by_flange = (flange >= hollow)[ruling]
        took = turnings["cut"].to_numpy(float)[ruling] - np.where(by_flange, 0.0, hollow[ruling])
        restored = np.where(by_flange, turnings["restored"].to_numpy(float)[ruling], 0.0)
        terms = np.stack([np.ones(n), restored], axis=1)
        posterior = precision + terms.T @ terms / given["cut_sd"] ** 2
        mean = np.linalg.solve(posterior, precision @ prior + terms.T @ took / given["cut_sd"] ** 2)
        mean = np.maximum(mean, 0.0)
    left_open = np.diag(np.linalg.inv(posterior)) * np.diag(precision)
    return Learned(
        value=dict(zip(LEARNED, mean.tolist(), strict=True)),
        weight=dict(zip(LEARNED, np.clip(1.0 - left_open, 0.0, 1.0).tolist(), strict=True)),
        turnings=n,
    )
