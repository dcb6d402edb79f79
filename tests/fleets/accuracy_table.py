"""How far forecasts of remaining miles were from a known truth, forecasters side by side."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from fleets.simulate import Fleet
from numpy.typing import NDArray

from models.distribution import PROBABILITIES
from models.lives.table import Lives
from models.score.scoring_rules import covered, crps, pinball
from models.wear.estimator import Floats, Forecaster

PINBALL_AT: Floats = np.array([0.05, 0.1, 0.5, 0.9, 0.95])
"""Probabilities of the stated quantiles, over which the pinball loss is averaged. [1]"""

CAP = 3.0
"""Truth and quantiles count up to so many mean lives from now: a line that never crosses says +inf."""


@dataclass(frozen=True)
class KnownTruth:
    """Lives with the remaining miles that came true.

    Attributes
    ----------
    name : what kind of wear it is.
    lives : what is known.
    remaining : shape (n,). True miles from as-of to the limit; NaN where the life is not to be scored. [mi]
    scale : shape (n,). Mean life of the family: errors are counted as shares of it. [mi]
    """

    name: str
    lives: Lives
    remaining: Floats
    scale: Floats


def accuracy_table(
    forecasters: Mapping[str, Forecaster], cases: Iterable[KnownTruth], reference: str = "least squares"
) -> pd.DataFrame:
    """Score every forecaster on every case.

    Parameters
    ----------
    forecasters : by name; the one called as ``reference`` says which lives are scored (those that it has
        an answer for) and what the ratios relate to. Each is fitted anew for each case.

    Returns
    -------
    One row a case and forecaster: lives (scored), answered (share of these), pinball (five quantiles, share
    of a mean life), ratio (to the reference on the same lives), worst (largest ratio of any family),
    families_worse (families with a ratio above 1.1), crps, cover_50, cover_80, cover_90, seconds.
    """
    rows = []
    for case in cases:
        quantiles, seconds = {}, {}
        for name, forecaster in forecasters.items():
            start = time.perf_counter()
            quantiles[name] = forecaster.fit(case.lives).predict_remaining(PROBABILITIES)
            seconds[name] = time.perf_counter() - start
        scored = ~np.isnan(case.remaining) & ~np.isnan(quantiles[reference]).any(axis=1)
        base = _losses(case, quantiles[reference])[0]
        for name, q in quantiles.items():
            row = {"case": case.name, "forecaster": name} | _row(case, q, base, scored)
            rows.append(row | {"seconds": seconds[name]})
    return pd.DataFrame(rows)


def in_lives(quantiles: Floats, remaining: Floats, mean_life: Floats) -> tuple[Floats, Floats]:
    """Quantiles and truth as shares of the mean life, capped alike; shapes (n, p) and (n,)."""
    return np.minimum(quantiles / mean_life[:, None], CAP), np.minimum(remaining / mean_life, CAP)


def in_service(fleet: Fleet, quantiles: Floats) -> tuple[Floats, Floats]:
    """The same of the parts of a simulated fleet that are in service on the last day."""
    kept = ~np.isnan(fleet.remaining)
    return in_lives(quantiles[kept], fleet.remaining[kept], fleet.mean_life[kept])


def loss_of_fleet(fleet: Fleet, quantiles: Floats) -> float:
    """Mean pinball loss of those parts, in mean lives.

    Parameters
    ----------
    quantiles : shape (n, 5). Remaining miles at :data:`PINBALL_AT`. [mi]
    """
    said, came = in_service(fleet, quantiles)
    return float(pinball(said, PINBALL_AT, came).mean())


def _capped(case: KnownTruth, quantiles: Floats) -> tuple[Floats, Floats]:
    return in_lives(quantiles, case.remaining, case.scale)


def _losses(case: KnownTruth, quantiles: Floats) -> tuple[Floats, Floats]:
    """Pinball loss and CRPS of each life, as shares of the mean life."""
    q, truth = _capped(case, quantiles)
    at = np.abs(PROBABILITIES[:, None] - PINBALL_AT).argmin(axis=0)
    return pinball(q[:, at], PINBALL_AT, truth), crps(q, PROBABILITIES, truth)


def losses_by_family(case: KnownTruth, quantiles: Floats, reference: Floats) -> tuple[Floats, Floats]:
    """Sums of the pinball losses of each family's lives that both have an answer for, own and reference.

    Parameters
    ----------
    quantiles, reference : shape (n, p). Remaining miles at :data:`models.distribution.PROBABILITIES`. [mi]

    Returns
    -------
    Two arrays of shape (families,), as shares of the mean life.
    """
    own, other = _losses(case, quantiles)[0], _losses(case, reference)[0]
    both = ~np.isnan(case.remaining) & ~np.isnan(own) & ~np.isnan(other)
    return _sums(case, own, both), _sums(case, other, both)


def _sums(case: KnownTruth, loss: Floats, scored: NDArray[np.bool_]) -> Floats:
    """Loss of each family's lives that are scored, shape (families,)."""
    return np.bincount(case.lives.family[scored], loss[scored], case.lives.n_families).astype(float)


def _row(case: KnownTruth, q: Floats, base: Floats, scored: NDArray[np.bool_]) -> dict[str, float]:
    loss, score = _losses(case, q)
    both = scored & ~np.isnan(loss)
    by_family = np.full(case.lives.n_families, np.nan)
    own, other = _sums(case, loss, both), _sums(case, base, both)
    np.divide(own, other, out=by_family, where=other > 0)
    scaled, truth = _capped(case, q)
    cover = {
        f"cover_{level:.0%}".rstrip("%"): covered(scaled, PROBABILITIES, truth, level)[both].mean()
        for level in (0.5, 0.8, 0.9)
    }
    return {
        "lives": int(scored.sum()),
        "answered": both.sum() / max(scored.sum(), 1),
        "pinball": loss[both].mean(),
        "ratio": loss[both].mean() / base[both].mean(),
        "worst": np.nanmax(by_family, initial=0.0),
        "families_worse": int((by_family > 1.1).sum()),
        "crps": score[both].mean(),
    } | cover
