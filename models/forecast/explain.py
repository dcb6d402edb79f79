"""What the fitted model has learned about families and lives, as a table for people."""

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri

from models.wear.shapes import KINDS

if TYPE_CHECKING:
    from models.wear.model import PooledWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PARAMETERS = ("life_miles", "rate_per_1000_mi", "spread", "brownian", "gauge_error")
Z_90 = float(ndtri(0.9))
"""Normal 90 % quantile."""


def kind_weights(model: "PooledWear") -> Floats:
    """Weight of each kind of shape in each family, shape (kinds, f)."""
    out = np.zeros((len(KINDS), len(model.relative_.starts)))
    for fit, weight in zip(model.fits_, model.shape_weight_, strict=True):
        out[KINDS.index(fit.shape.kind)] += weight
    return out


def kind_weights_of(model: "PooledWear", life: Ints) -> Floats:
    """Weight of each kind of shape by which each life is forecast, its family's or its own, shape (lives,
    kinds)."""
    rows = model.row_of_[life]
    of_family = model.relative_.per_life(kind_weights(model))[:, rows].T
    own = np.zeros(of_family.shape)
    for shape, weight in model.own_shapes_:
        own[:, KINDS.index(shape.kind)] += weight[rows]
    return np.asarray(of_family * (1.0 - own.sum(axis=1, keepdims=True)) + own)


def family_frame(model: "PooledWear", names: NDArray[np.object_]) -> pd.DataFrame:
    """What was learned about each family.

    Returns
    -------
    family, lives, readings, allowance [base unit], life_miles (of a part of the mean rate) [mi],
    rate_per_1000_mi [base unit], spread (of the lives' rates over their mean), brownian (spread of the wear
    at the end of a life, share of the allowance), gauge_error [base unit], each with its p10 and p90;
    differs_by; weight of each kind of shape; wild_readings.
    """
    rel = model.relative_
    best = model.shape_weight_.argmax(axis=0)
    rows = np.isfinite(rel.w)
    out = pd.DataFrame(
        {
            "family": names[rel.family],
            "lives": np.add.reduceat(rows.any(axis=1).astype(np.int64), rel.starts),
            "readings": np.add.reduceat(rows.sum(axis=1), rel.starts),
            "allowance": rel.allowance,
            "wild_readings": np.add.reduceat((model.wild_ >= 0.5).sum(axis=1), rel.starts),
        }
    )
    for name, values in _learned(model, best).items():
        for suffix, column in zip(("", "_p10", "_p90"), values, strict=True):
            out[name + suffix] = column
    out["differs_by"] = _differences(model, len(out))
    for kind, weight in zip(KINDS, kind_weights(model), strict=True):
        out[f"weight {kind}"] = weight
    return out


def _differences(model: "PooledWear", n: int) -> list[str]:
    """What makes rates differ within each family, in words; empty where nothing was found."""
    words = [""] * n
    for effect in model.effects_:
        parts = (f"{level} {100 * (factor - 1):+.0f} %" for level, factor in effect.levels.items())
        words[effect.family] = f"{effect.covariate}: " + ", ".join(parts)
    return words


def _learned(model: "PooledWear", best: Ints) -> dict[str, Floats]:
    """Median, 10 and 90 % of each parameter, shape (3, f), under each family's heaviest shape.

    The logarithm of a parameter is taken to be normal. Its variance is that between the nodes plus that
    within a node: of the mean rate as computed there, of log sigma about 1 / (2 (n - 2)).
    """
    rel = model.relative_
    readings = np.add.reduceat(np.isfinite(rel.w).sum(axis=1), rel.starts)
    of_sigma = 0.5 / np.maximum(readings - 2, 1)
    out = {name: np.full((3, len(rel.starts)), np.nan) for name in PARAMETERS}
    for i in np.unique(best):
        families = np.flatnonzero(best == i)
        fit = model.fits_[i]
        (gauge, spread, brownian, _, rate), weight, of_rate = fit.node_logs(families, rel)
        of_life = of_rate / fit.shape.power**2
        values = {
            "life_miles": (np.log(rel.allowance[families]) - rate, of_life),
            "rate_per_1000_mi": (np.log(1000.0) + rate, of_life),
            "spread": (spread, of_rate + of_sigma[families]),
            "brownian": (brownian, 0.25 * of_rate + of_sigma[families]),
            "gauge_error": (gauge, of_sigma[families]),
        }
        for name, (logs, within) in values.items():
            out[name][:, families] = _quantiles(logs, weight, within)
    return out


def _quantiles(logs: Floats, weight: Floats, within: Floats) -> Floats:
    """Median, 10 and 90 % of a parameter, from its logarithms at the nodes (axis 0) and variances within."""
    mean = (weight * logs).sum(axis=0)
    spread = np.sqrt((weight * ((logs - mean) ** 2 + within)).sum(axis=0))
    return np.asarray(np.exp(mean + np.array([0.0, -1.0, 1.0])[:, None] * Z_90 * spread))
