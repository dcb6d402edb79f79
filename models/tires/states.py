"""What the turning of tires starts from: filtered wear of every tire, and the assumptions of the shop.

Tires of one matched set are turned together. A tire has up to four wear points: tread hollow, flange
thickness and flange height call for a turning; the thickness pays for it.
"""

from dataclasses import dataclass, fields, replace
from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.errors import NotPossible
from models.assumed import assumed_values

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MEASURES = ("tread hollow", "flange thickness", "flange height", "thickness")
"""Columns of every array: the first three are renewed by a turning, the last is spent by it."""
HOLLOW, FLANGE, HEIGHT, THICKNESS = range(4)
_STATE = ("level", "level_var", "rate", "rate_var", "level_rate_cov", "tau", "limit")


@dataclass(frozen=True)
class TurningAssumptions:
    """What the simulation of turnings takes as given; the catalogue holds the values and their sources.

    Attributes
    ----------
    clean_up : taken off the tread to clean the whole profile. [mm]
    hollow_share : share of the hollow that a turning takes off the thickness. [1] 0 where thickness is
        measured at the lowest point of the tread.
    flange_slope : tread metal that restores one unit of flange thickness. [1]
    flange_restored : share of the lost flange thickness that a turning restores. [1]
    least_run : thickness above its limit that a turned tire must have to be put back. [mm]
    early_share : share of a wear limit above which a tire is turned early at a lay-up. [1]
    lag : diameter by which one axle may stay behind the others of its set. [mm]
    rate_memory : share of its rate of wear that a position keeps after a turning. [1]
    """

    clean_up: float
    hollow_share: float
    flange_slope: float
    flange_restored: float
    least_run: float
    early_share: float
    lag: float
    rate_memory: float

    @classmethod
    def of(cls, table: pd.DataFrame) -> Self:
        """From rows assumption, value, unit (in, mm or 1) of the topic ``turning``.

        Raises
        ------
        NotPossible : an assumption is missing.
        """
        names = [field.name for field in fields(cls)]
        return cls(**assumed_values(table, names, "turning of tires"))


@dataclass(frozen=True)
class TireStates:
    """Filtered states of n tires, sorted by matched set; arrays of shape (n, 4) in the order of ``MEASURES``.

    Attributes
    ----------
    tires : vehicle, component, position, matched_set, axle (words), metal (the wear point of its thickness),
        one row a tire.
    set_start : first tire of each set; the last entry is n.
    level, level_var : wear since new or since the last turning, and its variance. [mm], [mm2]
    rate, rate_var : wear per mile and its variance. [mm/mi]
    level_rate_cov : covariance of the two. [mm2/mi]
    tau : Brownian part of the wear. [mm/mi^0.5]
    limit : wear at the condemning limit. [mm]; NaN in all arrays where a tire has no such wear point.
    new_rate, new_rate_sd : rate that the family teaches for the next profile; NaN: the position's own is
        kept.
    """

    tires: pd.DataFrame
    set_start: Ints
    level: Floats
    level_var: Floats
    rate: Floats
    rate_var: Floats
    level_rate_cov: Floats
    tau: Floats
    limit: Floats
    new_rate: Floats
    new_rate_sd: Floats

    def as_new(self) -> Self:
        """The same places with new tires: no wear yet, each at its position's own rate."""
        known = np.isfinite(self.rate)
        none = np.where(known, 0.0, np.nan)
        return replace(self, level=none, level_var=none, level_rate_cov=none)

    @property
    def sets(self) -> list[str]:
        """Names of the matched sets in order."""
        return self.tires["matched_set"].iloc[self.set_start[:-1]].astype(str).tolist()


def tire_states(
    wear_points: pd.DataFrame, state: pd.DataFrame, family: pd.DataFrame | None = None
) -> TireStates:
    """Tires of a forecast run.

    Parameters
    ----------
    wear_points : point, vehicle, component, position, matched_set and, from ``ingest.catalogue.classify``,
        part, measure, role, group, axle. Tires and wheels of one piece are taken alike: what has the role
        ``metal`` is their thickness.
    state : frame ``state`` of the run, in base unit: point, level, level_var, rate, rate_var, level_rate_cov,
        tau, limit, and family where ``family`` is given.
    family : frame with family, mean_rate, rate_sd [mm/mi]; None: each position keeps its own rate.

    Returns
    -------
    Tires that have a thickness and at least one wear point that calls for a turning; a tire without a matched
    set is a set of its own.

    Raises
    ------
    NotPossible : no tire has both.
    """
    points = _tire_points(wear_points, state)
    tires = points.drop_duplicates("tire").sort_values(["matched_set", "tire"], kind="stable")
    tires = tires.set_index("tire")
    arrays = {name: _spread(points, name, tires.index) for name in _STATE}
    has_rate = np.isfinite(arrays["rate"])
    usable = has_rate[:, THICKNESS] & has_rate[:, :THICKNESS].any(axis=1)
    if not usable.any():
        raise NotPossible(
            "turning of tires: no tire has both a thickness and a hollow, flange thickness or flange height "
            "that can be forecast. Measure both on at least one tire, with new value and condemning limit."
        )
    tires, arrays = tires[usable], {name: values[usable] for name, values in arrays.items()}
    table = tires[["vehicle", "component", "position", "matched_set"]].astype(str)
    metal = points[points["measure"] == MEASURES[THICKNESS]].drop_duplicates("tire").set_index("tire")
    axle = tires["group"].astype(str) + " " + tires["axle"].astype(str)
    table = table.assign(axle=axle, metal=metal["point"].reindex(tires.index)).reset_index(drop=True)
    change = table["matched_set"].ne(table["matched_set"].shift())
    new_rate, new_sd = _family_rates(points, family, tires.index)
    return TireStates(
        tires=table,
        set_start=np.append(np.flatnonzero(change), len(table)).astype(np.int64),
        new_rate=new_rate,
        new_rate_sd=new_sd,
        **arrays,
    )


def _tire_points(wear_points: pd.DataFrame, state: pd.DataFrame) -> pd.DataFrame:
    """Wear points of tires with their state; ``tire`` names the tire, a set of its own where it has none."""
    points = wear_points[wear_points["part"].isin(["tire", "wheel"])].copy()
    points["measure"] = points["measure"].mask(points["role"] == "metal", MEASURES[THICKNESS])
    points = points[points["measure"].isin(MEASURES)].merge(
        state, on="point", how="inner", suffixes=("", "_state")
    )
    points["tire"] = points["vehicle"].astype(str) + " " + points["position"].astype(str)
    matched_set = points["matched_set"].fillna("")
    points["matched_set"] = matched_set.where(matched_set != "", points["tire"])
    return points


def _spread(points: pd.DataFrame, column: str, tires: pd.Index) -> Floats:
    """One column of the state as (tires, measures)."""
    table = points.pivot_table(index="tire", columns="measure", values=column, aggfunc="first", dropna=False)
    return np.array(table.reindex(index=tires, columns=list(MEASURES)), dtype=float)


def _family_rates(
    points: pd.DataFrame, family: pd.DataFrame | None, tires: pd.Index
) -> tuple[Floats, Floats]:
    empty = np.full((len(tires), len(MEASURES)), np.nan)
    if family is None:
        return empty, empty.copy()
    known = points.merge(family[["family", "mean_rate", "rate_sd"]], on="family", how="left")
    return _spread(known, "mean_rate", tires), _spread(known, "rate_sd", tires)
