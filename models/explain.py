"""What the fitted model says of families and lives, in words and in a table."""

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.shapes import KINDS

if TYPE_CHECKING:
    from models.wear_model import PooledWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def kind_weights(model: "PooledWear") -> Floats:
    """Weight of each kind of shape in each family, shape (kinds, f)."""
    out = np.zeros((len(KINDS), len(model.relative_.starts)))
    for fit, weight in zip(model.fits_, model.shape_weight_, strict=True):
        out[KINDS.index(fit.shape.kind)] += weight
    return out


def kind_weights_of(model: "PooledWear", life: Ints) -> Floats:
    """Weight of each kind of shape in the family of each life, shape (lives, kinds)."""
    return np.asarray(model.relative_.per_life(kind_weights(model))[:, model.row_of_[life]].T)


def method_of(model: "PooledWear", life: Ints) -> NDArray[np.object_]:
    """One line on how each life was forecast."""
    weights = kind_weights_of(model, life)
    best = weights.argmax(axis=1)
    share = np.round(100 * weights[np.arange(len(life)), best]).astype(int)
    words = np.array([f"pooled wear, {kind}" for kind in KINDS], dtype=object)[best]
    return np.array([f"{w} {s} %" for w, s in zip(words, share, strict=True)], dtype=object)


def family_frame(model: "PooledWear", names: NDArray[np.object_]) -> pd.DataFrame:
    """What each family has taught.

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
    """What makes rates differ within each family, in words; empty where nothing was kept."""
    words = [""] * n
    for effect in model.effects_:
        parts = (f"{level} {100 * (factor - 1):+.0f} %" for level, factor in effect.levels.items())
        words[effect.family] = f"{effect.covariate}: " + ", ".join(parts)
    return words


def _learned(model: "PooledWear", best: Ints) -> dict[str, Floats]:
    """Median, 10 and 90 % of each parameter, shape (3, f), under each family's heaviest shape."""
    rel = model.relative_
    f = len(rel.starts)
    out = {
        name: np.full((3, f), np.nan)
        for name in ("life_miles", "rate_per_1000_mi", "spread", "brownian", "gauge_error")
    }
    for i in np.unique(best):
        fit, here = model.fits_[i], best == i
        post = fit.posterior
        sigma, mu = np.sqrt(post.sigma2), np.maximum(post.mean[1], 0.02)
        shape = fit.shape
        life = shape.straight_distance(1.0 / mu) / fit.factor * rel.life
        values = {
            "life_miles": life,
            "rate_per_1000_mi": 1000.0 * rel.allowance / life,
            "spread": np.sqrt(post.rb) * sigma / mu,
            "brownian": np.sqrt(post.q / mu) * sigma,
            "gauge_error": sigma * rel.allowance,
        }
        for name, value in values.items():
            out[name][:, here] = _weighted_quantiles(value, post.weight)[:, here]
    return out


def _weighted_quantiles(values: Floats, weight: Floats) -> Floats:
    """Median, 10 and 90 % over the nodes (axis 0)."""
    order = np.argsort(values, axis=0)
    sorted_values = np.take_along_axis(values, order, axis=0)
    total = np.cumsum(np.take_along_axis(weight, order, axis=0), axis=0)
    rows = [np.minimum((total < p).sum(axis=0), len(values) - 1) for p in (0.5, 0.1, 0.9)]
    return np.stack([np.take_along_axis(sorted_values, row[None], axis=0)[0] for row in rows])
