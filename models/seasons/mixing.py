"""The mixture of a forecast over the futures of its vehicle."""

import numpy as np
from numpy.typing import NDArray

from models.distribution import between_places, place_reached

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

AT_ONCE = 1_500_000
"""Numbers that are worked at once: 12 MB an array."""


def mixed(given: Floats, levels: Floats, probabilities: Floats) -> Floats:
    """Quantiles of the mixture, all futures being equally likely.

    Parameters
    ----------
    given : shape (n, K, p). Quantiles in each future at the probabilities ``levels``; +inf: never.
    levels : shape (p,), increasing. [1]
    probabilities : shape (r,), increasing. [1]

    Returns
    -------
    Shape (n, r), non-decreasing along the row.

    Notes
    -----
    Each quantile stands for the probability between the middles to its neighbours; all of them are put in
    order. Where all futures are alike the quantiles at ``levels`` come out as they went in.
    """
    n, k, p = given.shape
    edges = np.concatenate([[0.0], 0.5 * (levels[1:] + levels[:-1]), [1.0]])
    weight = np.broadcast_to(np.diff(edges) / k, (k, p)).reshape(-1)
    out = np.empty((n, len(probabilities)))
    step = max(AT_ONCE // (k * p), 1)
    for low in range(0, n, step):
        part = given[low : low + step].reshape(-1, k * p)
        order = np.argsort(part, axis=1, kind="stable")
        values, share = np.take_along_axis(part, order, axis=1), weight[order]
        reached = np.cumsum(share, axis=1) - 0.5 * share
        asked = np.broadcast_to(probabilities, (len(part), len(probabilities)))
        place = place_reached(reached, asked)
        finite = np.isfinite(values)
        found = between_places(reached, np.where(finite, values, 0.0), asked, place)
        never = np.take_along_axis(~finite, np.clip(place, 0, k * p - 1), axis=1)
        out[low : low + step] = np.where(never, np.inf, found)
    return np.asarray(np.maximum.accumulate(out, axis=1))
