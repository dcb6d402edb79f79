"""The state of every life at its last reading: level and rate, under each node of its family's posterior."""

from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from models.laws.rate_law import RateLaw, parts_of
from models.wear.level_filter import Filtered
from models.wear.posterior import Posterior
from models.wear.relative import Relative, Straightened

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TOLD = 0.3
"""Variance of a rate from a life's own readings over that of the family's rates, up to which the law of these
hardly shows: worked out there too, fleets of many lives lose 0.5 % less and the mixture takes half as long
again."""


@dataclass(frozen=True)
class Nodes:
    """Chosen nodes of the posterior at each life, shape (g, n)."""

    q: Floats
    ra: Floats
    rb: Floats
    sigma2: Floats
    weight: Floats
    a0: Floats
    mu: Floats
    var_a0: Floats
    cov: Floats
    var_mu: Floats


def best_nodes(post: Posterior, rel: Relative, most: int, covers: float = 0.995) -> Nodes:
    """The heaviest nodes of each family that together cover the posterior, no more than ``most``, at each of
    its lives."""
    heavy = np.argsort(-post.weight, axis=0, kind="stable")[:most]
    weight = np.take_along_axis(post.weight, heavy, axis=0)
    needed = np.cumsum(weight, axis=0) - weight < covers
    rows = int(needed.any(axis=1).sum())
    heavy, weight = heavy[:rows], np.where(needed, weight, 0.0)[:rows]
    weight = weight / weight.sum(axis=0)

    def at_lives(x: Floats) -> Floats:
        return rel.per_life(np.take_along_axis(x, heavy, axis=0))

    q, ra, rb, sigma2 = (at_lives(x) for x in (post.q, post.ra, post.rb, post.sigma2))
    a0, mu = (at_lives(x) for x in post.mean)
    var_a0, cov, var_mu = (at_lives(x) for x in post.cov)
    return Nodes(q, ra, rb, sigma2, rel.per_life(weight), a0, mu, var_a0, cov, var_mu)


def mean_node(post: Posterior, rel: Relative) -> Nodes:
    """One node a family, at the posterior mean of the logs; shape (1, n)."""

    def middle(x: Floats) -> Floats:
        return rel.per_life(np.exp((post.weight * np.log(x)).sum(axis=0)))[None]

    a0, mu = (rel.per_life((post.weight * x).sum(axis=0))[None] for x in post.mean)
    whole, zero = np.ones_like(a0), np.zeros_like(a0)
    return Nodes(
        middle(post.q), middle(post.ra), middle(post.rb), middle(post.sigma2), whole, a0, mu, zero, zero, zero
    )


@dataclass(frozen=True)
class States:
    """Level x and rate b of each life at its last reading, on the straight scale; each of shape (g, n)."""

    x: Floats
    xx: Floats
    b: Floats
    bb: Floats
    xb: Floats


def life_states(stats: Filtered, nodes: Nodes, last_u: Floats) -> States:
    """Posterior of level and rate at the last reading.

    Parameters
    ----------
    stats : one filter pass with ``nodes.q``, arrays of shape (g, n).
    nodes : parameters at each life.
    last_u : shape (n,). Bent distance of the last reading; 0 for a life without one.

    Notes
    -----
    Start and rate given the readings: H (R c + mean), H = (I + R A)^-1; the doubt about the family's mean is
    carried through H. The level is then start + rate u + W, with W as the filter left it.
    """
    ra, rb, s2 = nodes.ra, nodes.rb, nodes.sigma2
    det = (1.0 + ra * stats.a00) * (1.0 + rb * stats.a11) - ra * rb * stats.a01**2
    h00, h01 = (1.0 + rb * stats.a11) / det, -ra * stats.a01 / det
    h10, h11 = -rb * stats.a01 / det, (1.0 + ra * stats.a00) / det
    start, rate = ra * stats.c0 + nodes.a0, rb * stats.c1 + nodes.mu
    a, b = h00 * start + h01 * rate, h10 * start + h11 * rate
    k00, k01, k11 = nodes.var_a0, nodes.cov, nodes.var_mu
    aa = s2 * h00 * ra + h00**2 * k00 + 2.0 * h00 * h01 * k01 + h01**2 * k11
    bb = s2 * h11 * rb + h10**2 * k00 + 2.0 * h10 * h11 * k01 + h11**2 * k11
    ab = s2 * h01 * rb + h00 * h10 * k00 + (h00 * h11 + h01 * h10) * k01 + h01 * h11 * k11
    g0, g1 = 1.0 - stats.w1, last_u - stats.wu
    x = stats.wy + g0 * a + g1 * b
    xx = s2 * stats.wv + g0**2 * aa + 2.0 * g0 * g1 * ab + g1**2 * bb
    return States(x, np.maximum(xx, 1e-18), b, np.maximum(bb, 1e-18), g0 * ab + g1 * bb)


def with_memory(nodes: Nodes, shift: Floats, keep: Floats) -> Nodes:
    """Nodes whose mean rate is shifted, in spreads of the rate, and whose rate is surer by a factor on its
    variance."""
    return replace(nodes, mu=nodes.mu + shift * np.sqrt(nodes.rb * nodes.sigma2), rb=nodes.rb * keep)


def life_evidence(stats: Filtered, nodes: Nodes, data: Straightened) -> Floats:
    """Log marginal likelihood of each life's readings at nodes, start and rate integrated out, shape (g, n).

    ``stats``, ``nodes`` : of shape (g, n).
    """
    ra, rb, a0, mu, s2 = nodes.ra, nodes.rb, nodes.a0, nodes.mu, nodes.sigma2
    det = (1.0 + ra * stats.a00) * (1.0 + rb * stats.a11) - ra * rb * stats.a01**2
    c0 = stats.c0 - stats.a00 * a0 - stats.a01 * mu
    c1 = stats.c1 - stats.a01 * a0 - stats.a11 * mu
    rest = stats.e - a0 * (stats.c0 + c0) - mu * (stats.c1 + c1)
    x0 = ((1.0 + rb * stats.a11) * c0 - rb * stats.a01 * c1) / det
    x1 = ((1.0 + ra * stats.a00) * c1 - ra * stats.a01 * c0) / det
    quad = rest - (ra * x0 * c0 + rb * x1 * c1)
    count = np.isfinite(data.z).sum(axis=1)
    log_like = -0.5 * (quad / s2 + stats.logdet + np.log(det) + count * np.log(2.0 * np.pi * s2))
    return np.asarray(log_like)


def own_rate(stats: Filtered, nodes: Nodes) -> tuple[Floats, Floats]:
    """What a life's own readings say of its rate, its start integrated out, and the variance of that; shape
    (g, n). The variance is inf where they say nothing."""
    pull = nodes.ra * stats.a01 / (1.0 + nodes.ra * stats.a00)
    information = stats.a11 - pull * stats.a01
    score = (stats.c1 - nodes.a0 * stats.a01) - pull * (stats.c0 - nodes.a0 * stats.a00)
    known = information > 1e-12
    safe = np.where(known, information, 1.0)
    return np.where(known, score / safe, nodes.mu), np.where(known, nodes.sigma2 / safe, np.inf)


_T = TypeVar("_T", Nodes, Filtered, States)


def states_by_law(
    stats: Filtered, nodes: Nodes, last_u: Floats, law: RateLaw, memory: tuple[Floats, Floats] | None
) -> tuple[Nodes, States]:
    """States at the last reading, by the law of the rates of its family.

    Parameters
    ----------
    stats, nodes, last_u : as :func:`life_states` takes them.
    law : shape (n,). Of the rates of each life's family.
    memory : shift and factor on the variance of the rate, each (n,), as for :func:`with_memory`; None:
        nothing said.

    Returns
    -------
    Nodes and states of shape (r, n): for a life whose rate its readings tell, the normal law, which is as
    good there; for any other the normals that the laws are sums of. Rows that do not count have no weight.
    """
    plain = nodes if memory is None else with_memory(nodes, *memory)
    sd = np.sqrt(nodes.rb * nodes.sigma2)
    rate, var = own_rate(stats, nodes)
    near = TOLD * (1.0 - law.two * (1.0 - law.within)) * sd**2
    told = (var + nodes.var_mu < near).all(axis=0) | (law.lognormal + law.two <= 0)
    rows = [(replace(plain, weight=np.where(told, nodes.weight, 0.0)), life_states(stats, plain, last_u))]
    untold = np.flatnonzero(~told)
    if not len(untold):
        return rows[0]
    some_nodes, some_sd = _of(nodes, untold), sd[:, untold]
    said, doubt = (
        (rate[:, untold] - some_nodes.mu) / some_sd,
        (var[:, untold] + some_nodes.var_mu) / some_sd**2,
    )
    parts = parts_of(some_sd / np.maximum(some_nodes.mu, 0.05), law.of(untold))
    if memory is not None:
        parts = parts.after(memory[0][untold], memory[1][untold])
    share = parts.shares(said, doubt)
    for weight, shift, keep in zip(share, parts.shift, parts.keep, strict=True):
        some = np.flatnonzero((weight > 0).any(axis=0))
        if len(some):
            which = untold[some]
            own = with_memory(_of(nodes, which), shift[:, some], keep[:, some])
            states = life_states(_of(stats, which), own, last_u[which])
            part = replace(nodes, weight=_among(weight[:, some] * own.weight, which, len(last_u)))
            rows.append((part, States(*(_among(x, which, len(last_u)) for x in vars(states).values()))))
    rows = rows[not told.any() and len(rows) > 1 :]
    return _stacked([nodes for nodes, _ in rows]), _stacked([states for _, states in rows])


def _of(arrays: _T, lives: Ints) -> _T:
    """Of some lives."""
    return replace(arrays, **{name: values[:, lives] for name, values in vars(arrays).items()})


def _among(values: Floats, lives: Ints, n: int) -> Floats:
    """Values of some lives in an array of all n; 0 for the others."""
    out = np.zeros((len(values), n))
    out[:, lives] = values
    return out


def _stacked(parts: list[_T]) -> _T:
    """One after the other along the first axis."""
    if len(parts) == 1:
        return parts[0]
    return replace(
        parts[0], **{name: np.concatenate([getattr(part, name) for part in parts]) for name in vars(parts[0])}
    )


def last_distance(data: Straightened) -> Floats:
    """Bent distance of each life's last reading, shape (n,); 0 without one."""
    return np.asarray(np.where(np.isfinite(data.z), data.u, 0.0).max(axis=1))
