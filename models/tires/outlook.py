"""What the turnings of tires come to: turnings and miles left of every matched set, and the next set's life.

This is the one place that says it: plan, ``tires``, cost of a mile and brief all read these figures.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.distribution import NOW, PROBABILITIES, now_of
from models.futures.simulation import NEVER, quantile_matrix
from models.tires.states import TireStates, TurningAssumptions
from models.tires.turnings import CAUSES, POLICIES, Policy, TurningPaths, simulate_turnings

Floats = NDArray[np.float64]

MILES = {"miles_p05": 0.05, "miles_p10": 0.1, "miles_p50": 0.5, "miles_p90": 0.9, "miles_p95": 0.95}
"""Columns of miles and their probabilities."""
NEXT_LIFE = {"next_life_p10": 0.1, "next_life_p50": 0.5, "next_life_p90": 0.9}
PATHS = 10_000
"""Futures from which everybody reads the same figures."""
TOLD = {
    "turnings_left": "turnings_p50",
    "turnings_next": "next_turnings_p50",
    "turnings_next_mean": "next_turnings_mean",
}
"""Columns of wear points and the columns of the outlook that they bear."""
SCRAP_OF = "scrap_of"
"""Column of wear points: the set whose scrap ends their lives, before or at their own limit; else empty."""
STEP = 10.0
"""Miles to which what turnings leave is rounded. [mi] Draws in single precision differ by a thousandth of a
mile between processors, and ten thousand of them tell a quantile to some hundred miles."""


WORDS = ("vehicle", "matched_set", "component", "positions", "policy")
SET_COLUMNS = [
    *("vehicle", "matched_set", "component", "positions", "tires", "policy", *MILES),
    *(
        "turnings_p10",
        "turnings_p50",
        "turnings_p90",
        "next_turning_p10",
        "next_turning_p50",
        "out_of_season",
    ),
    *("chance_worn", "chance_too_thin", "chance_running"),
    *(*NEXT_LIFE, "next_turnings_p50", "next_turnings_mean"),
]
"""Columns of what turnings leave of a matched set.

tires : how many. miles : until the first tire of the set is scrap; inf where it is still running. [mi]
turnings : until then. next_turning : to the first of them. [mi] out_of_season : mean number of turnings
between lay-ups. chance_worn, chance_too_thin, chance_running : what ends it. [1]
next_life : from a new set to its scrap. [mi] next_turnings : of a new set; p50 a plan keeps to, mean is what
the cost of a mile counts.
"""


@dataclass(frozen=True)
class Outlook:
    """What turnings leave of the matched sets, under one policy.

    Attributes
    ----------
    table : columns ``SET_COLUMNS``, one row a set.
    remaining, next_life : shape (sets, 33). The same miles as quantiles at ``PROBABILITIES``, ``NEVER`` where
        the set is still running. [mi]
    """

    table: pd.DataFrame
    remaining: Floats
    next_life: Floats


def turning_outlook(
    states: TireStates,
    assumptions: TurningAssumptions,
    lay_ups: Floats,
    distribution: pd.DataFrame,
    *,
    policy: Policy = "early at lay-ups",
    paths: int = PATHS,
) -> Outlook:
    """Turnings and miles left of every matched set, and the life of the set that follows it.

    Parameters
    ----------
    states, assumptions, lay_ups, policy, paths : as :func:`models.tires.turnings.simulate_turnings` takes
        them.
    distribution : frame of the forecast run: point, remaining, new_life (33 quantiles each), the thickness of
        the tires in it.

    Notes
    -----
    All tires of a set are renewed together, so one tire that is scrap ends the life of all: the figures are
    the set's. No probability is given more miles than the forecast of any one tire's thickness gives it: it
    knows more of how wear goes on than the simulation of turnings does. A new set begins at a lay-up and
    wears at its positions' own rates; it is turned no less often than the one in service. Miles are rounded
    to ``STEP``.
    """
    now = simulate_turnings(states, assumptions, lay_ups, policy=policy, paths=paths)
    ahead = lay_ups[1:] - lay_ups[0] if len(lay_ups) > 1 else lay_ups
    new = simulate_turnings(states.as_new(), assumptions, ahead, policy=policy, paths=paths)
    remaining = _least(now, states, distribution, "remaining")
    next_life = _least(new, states, distribution, "new_life")
    table = _set_rows(states, now)
    for columns, quantiles in ((MILES, remaining), (NEXT_LIFE, next_life)):
        shown = np.where(quantiles < NEVER, quantiles, np.inf)
        for name, probability in columns.items():
            table[name] = shown[:, int(np.flatnonzero(np.isclose(PROBABILITIES, probability))[0])]
    turned_anew = _quantiles(new.turnings.astype(float), [0.5])[0]
    table["next_turnings_p50"] = np.maximum(turned_anew, table["turnings_p50"])
    table["next_turnings_mean"] = np.maximum(new.turnings.mean(axis=0), now.turnings.mean(axis=0))
    return Outlook(table[SET_COLUMNS], remaining, next_life)


def no_sets() -> pd.DataFrame:
    """The table of no set at all, its columns of the types that it always has."""
    types = {
        name: object if name in WORDS else np.int64 if name == "tires" else float for name in SET_COLUMNS
    }
    return pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in types.items()})


def compare_policies(
    states: TireStates,
    assumptions: TurningAssumptions,
    lay_ups: Floats,
    distribution: pd.DataFrame,
    *,
    policies: Sequence[Policy] = POLICIES,
    paths: int = PATHS,
) -> pd.DataFrame:
    """The outlook under each policy, same futures for all: rows of ``Outlook.table`` with gain_p50, median
    miles more than under the first policy. [mi] Parameters as :func:`turning_outlook` takes them."""
    tables = [
        turning_outlook(states, assumptions, lay_ups, distribution, policy=policy, paths=paths).table
        for policy in policies
    ]
    with np.errstate(invalid="ignore"):  # still running under both: no gain can be told
        tables = [table.assign(gain_p50=table["miles_p50"] - tables[0]["miles_p50"]) for table in tables]
    return pd.concat(tables, ignore_index=True)


def with_turnings(distribution: pd.DataFrame, states: TireStates, outlook: Outlook) -> pd.DataFrame:
    """The forecast's distribution with the lives of tires that their turnings leave them.

    Parameters
    ----------
    distribution : point, remaining, new_life: quantiles of the forecast run.
    states, outlook : tires of the same run, and what their turnings leave.

    Returns
    -------
    The same rows. Remaining miles and next life of a tire's thickness are those of its matched set, and so is
    the chance that it is scrap already, where the frame has it. Tires that are not in the simulation keep
    their forecast.
    """
    of_tire = np.repeat(np.arange(len(states.sets)), np.diff(states.set_start))
    by_point = dict(zip(states.tires["metal"].astype(str), of_tire.tolist(), strict=True))
    remaining, new_life = list(distribution["remaining"]), list(distribution["new_life"])
    for row, name in enumerate(distribution["point"].astype(str)):
        if name in by_point:
            remaining[row] = outlook.remaining[by_point[name]]
            new_life[row] = outlook.next_life[by_point[name]]
    of_set = distribution["point"].astype(str).map(by_point)
    now = pd.Series(now_of(distribution), distribution.index)
    now = now.groupby(of_set).transform("max").fillna(now)
    return distribution.assign(remaining=remaining, new_life=new_life, **{NOW: now})


def with_turnings_left(points: pd.DataFrame, states: TireStates, outlook: Outlook) -> pd.DataFrame:
    """Wear points with how often their tires can be turned.

    Parameters
    ----------
    points : vehicle, position, role (``ingest.catalogue.classify``), turnings_left, turnings_next,
        turnings_next_mean, scrap_of.

    Returns
    -------
    The same rows; turnings_left and turnings_next of the points of tires and wheels in the simulation are the
    medians of the outlook of their set, for the tires in service and for the new ones after them: whole
    numbers, which a plan keeps to. turnings_next_mean is the mean for the new ones, which money rests on.
    scrap_of is the set of those whose miles :func:`with_turnings` takes from it.
    """
    of_tire = np.repeat(np.arange(len(states.sets)), np.diff(states.set_start))
    key = states.tires["vehicle"].astype(str) + " " + states.tires["position"].astype(str)
    by_tire = pd.Series(of_tire, index=key)
    row = (points["vehicle"].astype(str) + " " + points["position"].astype(str)).map(by_tire)
    row = row.where(points["role"].isin(["metal", "profile"]))
    known, out = row.notna(), points.copy()
    for column, name in TOLD.items():
        told = outlook.table[name].to_numpy(float)
        out.loc[known, column] = told[row[known].to_numpy(int)]
    names = outlook.table["matched_set"].astype(str).to_numpy()[of_tire]
    ends_with = dict(zip(states.tires["metal"].astype(str), names.tolist(), strict=True))
    own = out["point"].isin(ends_with)
    out.loc[own, SCRAP_OF] = out.loc[own, "point"].map(ends_with)
    return out


def _least(paths: TurningPaths, states: TireStates, distribution: pd.DataFrame, column: str) -> Floats:
    """Quantiles of the miles to scrap of each set, none above the forecast of a thickness in it."""
    scrap = np.quantile(paths.scrap_miles, PROBABILITIES, axis=0, method="inverted_cdf").T
    scrap = np.minimum(np.round(np.nan_to_num(scrap, posinf=NEVER) / STEP) * STEP, NEVER)
    known = distribution.drop_duplicates("point").set_index("point")[column]
    own = quantile_matrix(known.loc[states.tires["metal"]])
    return np.minimum(scrap, np.minimum.reduceat(own, states.set_start[:-1], axis=0))


def _set_rows(states: TireStates, paths: TurningPaths) -> pd.DataFrame:
    """What the simulated futures say of each set beside its miles."""
    first = states.set_start[:-1]
    positions = [
        ", ".join(states.tires["position"].iloc[a:b])
        for a, b in zip(first, states.set_start[1:], strict=True)
    ]
    turnings = _quantiles(paths.turnings.astype(float), [0.1, 0.5, 0.9])
    following = _quantiles(paths.first_turning, [0.1, 0.5])
    shares = [(paths.cause == index).mean(axis=0) for index in range(len(CAUSES))]
    return pd.DataFrame(
        {
            "vehicle": states.tires["vehicle"].iloc[first].to_numpy(),
            "matched_set": states.sets,
            "component": states.tires["component"].iloc[first].to_numpy(),
            "positions": positions,
            "tires": np.diff(states.set_start),
            "policy": paths.policy,
            **dict.fromkeys(MILES, np.nan),
            **dict(zip(["turnings_p10", "turnings_p50", "turnings_p90"], turnings, strict=True)),
            **dict(zip(["next_turning_p10", "next_turning_p50"], following, strict=True)),
            "out_of_season": paths.out_of_season.mean(axis=0),
            "chance_worn": shares[1],
            "chance_too_thin": shares[2],
            "chance_running": shares[0],
        }
    )


def _quantiles(values: Floats, probabilities: list[float]) -> Floats:
    """Quantiles of each column; a set still running counts as inf, so none is interpolated."""
    return np.asarray(np.quantile(values, probabilities, axis=0, method="inverted_cdf"), dtype=np.float64)
