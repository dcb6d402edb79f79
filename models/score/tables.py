"""Scored outcomes as tables: means by forecaster and family, the PIT histogram, what recalibration does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.distribution import PROBABILITIES, chance_by
from models.forecast.recalibrate import half_widths, life_weights, proven_short, stretch_factors
from models.score.scoring_rules import covered, crps, pinball, pit
from models.wear.estimator import Floats

Ints = NDArray[np.int64]

READING_AT: Floats = np.concatenate([[0.025], np.arange(1, 20) / 20, [0.975]])
"""Probabilities of the quantiles by which readings are scored. [1], shape (21,)"""

PINBALL_AT: Floats = np.array([0.05, 0.1, 0.5, 0.9, 0.95])
LEVELS = (0.5, 0.8, 0.9)
PIT_BINS = 10
FEWEST, FEWEST_LIVES = 10, 3
"""Fewer scored readings, or lives that they belong to, say nothing about a family."""

BEATS, NO_BETTER, TOO_FEW = "beats the straight line", "no better than the straight line", "too few to tell"
TOO_SURE = "too sure: its ranges hold too little"


@dataclass(frozen=True)
class Outcomes:
    """Outcomes of one kind, m of them: whose they are, what happened, what each forecaster had said.

    Attributes
    ----------
    family, life : shape (m,). Indices.
    outcome : shape (m,). A reading as a share of the limit; or miles to the limit, at most ``observed``. [mi]
    observed : shape (m,). Miles from the origin to the reading, or to the end of what was seen. [mi]
    reached : shape (m,). The limit was reached within those.
    quantiles : by forecaster, shape (m, p). At READING_AT as shares of the limit, or at PROBABILITIES. [mi]
    day : shape (m,), optional. Day on which the outcome was known. [d since 1970-01-01]
    stretch : shape (m,), optional. Factor on the intervals that our own forecast had; none: 1.
    """

    family: Ints
    life: Ints
    outcome: Floats
    observed: Floats
    reached: NDArray[np.bool_]
    quantiles: dict[str, NDArray[np.floating]]
    day: Floats | None = None
    stretch: Floats | None = None

    def away(self, own: str) -> Floats:
        """Distance of each reading from our median, in half-widths of the 80 % interval without stretch."""
        q = np.asarray(self.quantiles[own], dtype=float)
        low, middle, high = (q[:, int(np.abs(READING_AT - p).argmin())] for p in (0.1, 0.5, 0.9))
        away = half_widths(low, middle, high, self.outcome)
        return away if self.stretch is None else away * self.stretch

    def up_to(self, day: float) -> Outcomes:
        """The outcomes that were known by a day."""
        known = np.ones(len(self.outcome), dtype=bool) if self.day is None else self.day <= day
        rest: dict[str, Any] = {
            name: None if values is None else values[known]
            for name, values in vars(self).items()
            if name != "quantiles"
        }
        return Outcomes(quantiles={name: q[known] for name, q in self.quantiles.items()}, **rest)


def _losses(outcomes: Outcomes, q: NDArray[np.floating], remaining: bool) -> dict[str, Floats]:
    """Each outcome's losses and whether the intervals held it; miles as shares of the miles observed."""
    levels, y = READING_AT, outcomes.outcome
    if remaining:
        levels, y = PROBABILITIES, y / outcomes.observed
        hazard = _hazard(q, outcomes.outcome)
        q = np.minimum(q / outcomes.observed[:, None], 1.0)
    columns = np.abs(levels[:, None] - PINBALL_AT).argmin(axis=0)
    losses = {"pinball": pinball(q[:, columns], PINBALL_AT, y), "crps": crps(q, levels, y)}
    if remaining:
        return losses | {"expected": hazard, "reached": np.where(np.isnan(hazard), np.nan, outcomes.reached)}
    return losses | {f"cover_{100 * level:.0f}": covered(q, levels, y, level) for level in LEVELS}


def _hazard(q: NDArray[np.floating], outcome: Floats) -> Floats:
    """Cumulative hazard that was forecast up to what happened; its sum is the number of ends to expect.

    Counting stops at the end itself, so that the plain chance would count each end as one half (Cox and
    Snell, *A general definition of residuals*, J. R. Stat. Soc. B 30 (1968) 248-275).
    """
    answered = ~np.isnan(q).any(axis=1)
    hazard = np.full(len(q), np.nan)
    held = np.minimum(
        np.where(np.isfinite(q), q, 1e12), 1e12
    )  # linear between quantiles: no room for infinity
    hazard[answered] = -np.log1p(-chance_by(held[answered], outcome[answered, None])[:, 0])
    return hazard


def scored(
    readings: Outcomes,
    remaining: Outcomes,
    own: str,
    reference: str,
    *,
    key: Ints | None = None,
    name: str = "family",
) -> pd.DataFrame:
    """Means of all outcomes, and the ratio to the straight line on what both answered.

    Parameters
    ----------
    key : shape (families,), optional. Number under which the outcomes of each family are put together; the
        column ``name`` of the table. All together if not given.
    """
    tables = []
    for kind, outcomes in (("readings", readings), ("remaining", remaining)):
        base = pd.DataFrame(_losses(outcomes, outcomes.quantiles[reference], kind == "remaining"))
        keys = np.full(len(outcomes.family), -1) if key is None else key[outcomes.family]
        for forecaster, q in outcomes.quantiles.items():
            losses = pd.DataFrame(_losses(outcomes, q, kind == "remaining"))
            table = _means(losses, base, keys, outcomes.life).rename(columns={"family": name})
            table.insert(1, "kind", kind)
            table.insert(2, "forecaster", forecaster)
            tables.append(table)
    table = pd.concat(tables, ignore_index=True)
    table["verdict"] = np.where(table["forecaster"] == own, _verdicts(table), "")
    ratios = ["pinball_ratio", "crps_ratio"]  # where the straight line was never off there is no ratio to it
    table[ratios] = table[ratios].where(np.isfinite(table[ratios]))
    return table.drop(columns=name) if key is None else table


def _means(losses: pd.DataFrame, base: pd.DataFrame, key: Ints, life: Ints) -> pd.DataFrame:
    """Means of the losses of each key, and their ratios to the straight line on what both answered."""
    answered = losses["crps"].notna()
    groups = losses.assign(family=key, life=life, answered=answered).groupby("family")
    means = groups[[*losses.columns, "answered"]].mean()
    for column in {"expected", "reached"} & set(means.columns):
        means[column] = groups[column].sum()
    both = answered & base["crps"].notna()
    shared = pd.DataFrame({"own": losses["crps"], "base": base["crps"], "pin": losses["pinball"]})
    shared = shared.assign(pin_base=base["pinball"])[both].groupby(key[both]).sum()
    means["pinball_ratio"] = shared["pin"] / shared["pin_base"]
    means["crps_ratio"] = shared["own"] / shared["base"]
    means.insert(0, "outcomes", groups.size())
    means.insert(1, "lives", groups["life"].nunique())
    return means.rename_axis("family").reset_index()


def _verdicts(scored: pd.DataFrame) -> NDArray[np.object_]:
    few = (scored["outcomes"] * scored["answered"] < FEWEST) | (scored["lives"] < FEWEST_LIVES)
    few |= scored["crps_ratio"].isna()
    cover = scored["cover_80"] if "cover_80" in scored else pd.Series(np.nan, index=scored.index)
    sure = proven_short(np.asarray(cover, dtype=float), np.asarray(scored["lives"], dtype=float))
    lost = scored["crps_ratio"].to_numpy(float) >= 1
    words = np.select([few.to_numpy(), lost, sure], [TOO_FEW, NO_BETTER, TOO_SURE], BEATS)
    return words.astype(object)


def pit_histogram(readings: Outcomes) -> pd.DataFrame:
    """Share of the readings by the probability at which the forecast had placed them."""
    rows = []
    for name, q in readings.quantiles.items():
        place = pit(q, READING_AT, readings.outcome)
        answered = ~np.isnan(place)
        bins = np.minimum((place[answered] * PIT_BINS).astype(int), PIT_BINS - 1)
        for family, index in ((readings.family[answered], bins), (np.full(answered.sum(), -1), bins)):
            counted = pd.DataFrame({"family": family, "bin": index}).value_counts().reset_index(name="count")
            rows.append(counted.assign(forecaster=name))
    table = pd.concat(rows, ignore_index=True).sort_values(["forecaster", "family", "bin"], ignore_index=True)
    table["share"] = table["count"] / table.groupby(["forecaster", "family"])["count"].transform("sum")
    return table[["family", "forecaster", "bin", "count", "share"]]


def recalibration(readings: Outcomes, own: str, quantity: Ints) -> pd.DataFrame:
    """Stretch of each family that the record asks for, and what its 80 % interval held without and with it.

    Parameters
    ----------
    quantity : shape (families,). Families of one quantity speak for each other where they are small.

    Returns
    -------
    family, lives, factor, cover_80_before (no stretch), cover_80_after (this very factor). Every life counts
    once, however many readings it has, as in the factor.
    """
    away = readings.away(own)
    factors = stretch_factors(away, readings.life, readings.family, quantity)
    known = ~np.isnan(away)
    family, life, away = readings.family[known], readings.life[known], away[known]
    rows = []
    for number in np.unique(family):
        mine = family == number
        weight = life_weights(life[mine])
        held = [float(weight[away[mine] <= width].sum()) for width in (1.0, factors[number])]
        rows.append((number, len(np.unique(life[mine])), factors[number], *held))
    columns = ["family", "lives", "factor", "cover_80_before", "cover_80_after"]
    return pd.DataFrame(rows, columns=columns)
