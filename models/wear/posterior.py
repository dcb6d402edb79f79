"""What the readings leave of a family's parameters: nodes with weights, put together and taken apart."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Posterior:
    """Quadrature nodes, g of them for each of f families.

    Attributes
    ----------
    q, ra, rb : variance ratios tau^2, s_a^2, s_b^2 over sigma^2; shape (g, f).
    sigma2 : mean of sigma^2 at the node, shape (g, f).
    weight : shape (g, f), sums to 1 over the nodes.
    mean : shape (2, g, f). Mean of a0 and mu at the node.
    cov : shape (3, g, f). Variance of a0, covariance, variance of mu.
    evidence : shape (f,). Log marginal likelihood of the straightened readings.
    centre, step : shape (3, f). Of the grid of log q, log ra, log rb: where another fit of the family may
        begin.
    points : what ``models.wear.hyper`` learns from; None unless asked for.
    """

    q: Floats
    ra: Floats
    rb: Floats
    sigma2: Floats
    weight: Floats
    mean: Floats
    cov: Floats
    evidence: Floats
    centre: Floats
    step: Floats
    points: "Points | None" = None


@dataclass(frozen=True)
class Points:
    """Every quadrature point: log sigma, log spread, log Brownian, log start (4, s, g, f) and its log
    posterior (s, g, f)."""

    logs: Floats
    log_post: Floats


def padded(posterior: Posterior, nodes: int) -> Posterior:
    """The same posterior with further nodes of no weight, copies of the last."""
    more = nodes - len(posterior.weight)
    if not more:
        return posterior
    arrays: dict[str, Any] = {name: getattr(posterior, name) for name in arrays_of(posterior)}
    for name in ("q", "ra", "rb", "sigma2", "mean", "cov", "weight"):
        width = [(0, 0)] * (arrays[name].ndim - 2) + [(0, more), (0, 0)]
        arrays[name] = np.pad(arrays[name], width, mode="constant" if name == "weight" else "edge")
    return Posterior(**arrays)


def put(values: Floats, new: Floats, families: Ints) -> Floats:
    """A copy of values (last axis: all families) with those of some families replaced."""
    out = values.copy()
    out[..., families] = new
    return out


def put_families(posterior: Posterior, new: Posterior, families: Ints) -> Posterior:
    """The posterior of all families with that of some replaced by a new fit of theirs; points are dropped.
    Where the one has fewer nodes than the other it is given more, of no weight."""
    nodes = max(len(posterior.weight), len(new.weight))
    posterior, new = padded(posterior, nodes), padded(new, nodes)
    arrays: dict[str, Any] = {
        name: put(getattr(posterior, name), getattr(new, name), families) for name in arrays_of(posterior)
    }
    return Posterior(**arrays)


def take_families(posterior: Posterior, families: Ints) -> Posterior:
    """The posterior of some families; points are dropped."""
    arrays: dict[str, Any] = {name: getattr(posterior, name)[..., families] for name in arrays_of(posterior)}
    return Posterior(**arrays)


def part_of(posterior: Posterior, families: slice) -> Posterior:
    """The posterior of families in a row, their points too."""
    arrays: dict[str, Any] = {name: getattr(posterior, name)[..., families] for name in arrays_of(posterior)}
    points = posterior.points
    own = None if points is None else Points(points.logs[..., families], points.log_post[..., families])
    return Posterior(**arrays, points=own)


def arrays_of(posterior: Posterior) -> list[str]:
    """Names of its arrays."""
    return [name for name in posterior.__dataclass_fields__ if name != "points"]
