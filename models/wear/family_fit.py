"""What a family teaches: the posterior of its wear parameters, by quadrature on a grid that finds its own
place.

All in relative units: wear 1 is the allowance of the family, distance 1 about one life. The parameters are
the gauge error ``sigma``, the Brownian spread ``tau`` per root distance, the spread of rates ``s_b``, the
spread of starting levels ``s_a``, and the mean start and rate ``a0, mu``. Given the ratios ``tau/sigma``,
``s_a/sigma``, ``s_b/sigma`` and sigma, start and rate are integrated in closed form; sigma is a line of
quadrature points for each node of the ratios; the ratios are a small grid, moved and narrowed until it
covers the posterior. No optimiser, no derivative: it cannot blow up, and two runs give the same digits.

References
----------
.. [1] J. C. Pinheiro, D. M. Bates, *Mixed-Effects Models in S and S-PLUS*, 2000, section 2.2 (the marginal
likelihood).
.. [2] J. C. Naylor, A. F. M. Smith, "Applications of a method for the efficient computation of posterior
   distributions", Applied Statistics 31 (1982) 214-225 (grids that find their own centre and scale).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.laws.never_back import never_back
from models.threads import in_threads
from models.wear.family_sums import FamilySums, family_sums, sigma_centre
from models.wear.level_filter import Filtered, level_filter
from models.wear.posterior import Points, Posterior, arrays_of
from models.wear.priors import Priors as Priors
from models.wear.relative import Straightened

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


SIGMA_OFFSETS: Floats = np.linspace(-2.4, 2.4, 5)
"""Quadrature points of log sigma about its centre, in spreads: the trapezium rule, near exact for a
normal."""
FEW_OFFSETS: Floats = np.linspace(-1.5, 1.5, 3)
"""Those where the place of the grid is sought, or a shape only looked at."""


@dataclass(frozen=True)
class NodeFit:
    """At each sigma (s), node (g), family (f), all of shape (s, g, f).

    Attributes
    ----------
    logs : log sigma, log spread, log Brownian, log start.
    log_post : log posterior with the point's width.
    precision : of mean start and rate: p00, p01, p11 of the matrix.
    mean : of mean start and rate.
    """

    logs: tuple[Floats, ...]
    log_post: Floats
    precision: tuple[Floats, Floats, Floats]
    mean: tuple[Floats, Floats]

    def covariance(self) -> Floats:
        """Of mean start and rate: variance, covariance, variance; shape (3, s, g, f)."""
        p00, p01, p11 = self.precision
        return np.stack([p11, -p01, p00]) / (p00 * p11 - p01**2)


def fit_nodes(
    sums: FamilySums,
    log_ratios: tuple[Floats, Floats, Floats],
    n: Floats,
    prior: Priors,
    gauge: Floats,
    offsets: Floats = SIGMA_OFFSETS,
) -> NodeFit:
    """Posterior at each node, mean start and rate integrated in closed form.

    Parameters
    ----------
    sums : arrays of shape (g, f).
    log_ratios : log of q, ra, rb, each of shape (g, f).
    n : shape (f,). Readings of the family.
    prior : the priors, in relative units.
    gauge : shape (f,). Stated repeatability of the gauge in relative units; NaN where none is.
    offsets : shape (s,). Quadrature points of log sigma, evenly spaced.
    """
    centres, spreads = _prior_of_families(prior, gauge)
    mid, width = sigma_centre(sums, n, centres[0], spreads[0], prior.alone)
    log_sigma = mid + width * offsets[:, None, None]
    inverse = np.exp(-2.0 * log_sigma)
    prior0, prior1 = 1.0 / prior.start_sd**2, 1.0 / prior.rate_sd**2
    p00, p01, p11 = sums.info00 * inverse + prior0, sums.info01 * inverse, sums.info11 * inverse + prior1
    pulled0, pulled1 = (
        sums.cross0 * inverse + prior0 * prior.start,
        sums.cross1 * inverse + prior1 * prior.rate,
    )
    det = p00 * p11 - p01**2
    a0, mu = (p11 * pulled0 - p01 * pulled1) / det, (p00 * pulled1 - p01 * pulled0) / det
    quad = (
        sums.quad * inverse + (prior0 * prior.start**2 + prior1 * prior.rate**2) - a0 * pulled0 - mu * pulled1
    )
    log_like = -0.5 * (quad + np.log(det) + (2.0 * n) * log_sigma + sums.logdet)
    a0, mu, p11, log_chance = never_back((a0, mu), (p00, p01, p11))
    log_like += log_chance
    log_like += 0.5 * (np.log(prior0 * prior1) - n * np.log(2 * np.pi))
    log_mu = np.log(np.maximum(mu, 0.05))  # only to state the priors, which are relative to the rate
    log_q, log_ra, log_rb = (0.5 * ratio for ratio in log_ratios)
    logs = (log_sigma, log_sigma - log_mu + log_rb, log_sigma - 0.5 * log_mu + log_q, log_sigma + log_ra)
    log_prior = sum(log_normal(logs[i], centres[i], spreads[i]) for i in range(4))
    log_post = log_like + log_prior + np.log(width * (offsets[1] - offsets[0]))
    return NodeFit(logs, log_post, (p00, p01, p11), (a0, mu))


def log_normal(x: Floats, centre: Floats | float, spread: Floats | float) -> Floats:
    """Log density of a normal."""
    return np.asarray(-0.5 * ((x - centre) / spread) ** 2 - np.log(spread) - 0.5 * np.log(2 * np.pi))


def _prior_of_families(prior: Priors, gauge: Floats) -> tuple[list[Floats | float], list[Floats | float]]:
    """Centres and spreads of the four logs; that of sigma is the gauge's own where it is stated."""
    stated = np.isfinite(gauge)
    centre = np.where(stated, np.log(np.where(stated, gauge, 1.0)), prior.log_sigma)
    spread = np.where(stated, prior.log_sigma_sd_gauge, prior.log_sigma_sd)
    return [centre, *prior.centres()[1:]], [spread, *prior.spreads()[1:]]


WIDE: Floats = np.arange(-2.0, 3.0)
NARROW: Floats = np.arange(-1.0, 2.0)
Axes = tuple[Floats, Floats, Floats]
AXES: Axes = (WIDE, NARROW, WIDE)
"""Grid offsets of log q, log ra, log rb, in steps."""
MOVING: Axes = (WIDE, np.zeros(1), WIDE)
"""Those of the rounds that only find the place. The start's own ratio is held there, where the priors have
it: readings say little of it, and moved along it drew the grid to where strong Brownian wear was forecast
worse."""
LOOK: Axes = (NARROW, np.zeros(1), NARROW)
"""Those for a first look."""
LEAST_STEP, MOST_STEP = 0.2, 2.6
"""Bounds of the step of a log variance ratio, which is the prior's spread at first, then the posterior's; of
the start's ratio, at three offsets, one and a half times that."""
ROUNDS = 3
WHOLE, WHOLE_TO_LEARN = 1, 2
"""Last rounds of a fit on the whole grid; and where priors are learned from its points, which needs the
start's ratio to the point."""
PAIRS_AT_ONCE = 45_000
"""Pairs of a life and a node that are worked at once, so that what is computed stays in the processor's
cache."""


@dataclass(frozen=True)
class Families:
    """The straightened lives of f families, with what the fit needs beside them."""

    data: Straightened
    starts: Ints
    sizes: Ints
    gauge: Floats

    def chunks(self, most: int) -> Iterator[tuple["Families", slice]]:
        """Cut into runs of families with about ``most`` lives, which fit the processor's cache."""
        first = 0
        ends = np.cumsum(self.sizes)
        while first < len(self.starts):
            done = ends[first - 1] if first else 0
            last = max(int(np.searchsorted(ends, done + most, side="right")), first + 1)
            yield self._part(first, last), slice(first, last)
            first = last

    def _part(self, first: int, last: int) -> "Families":
        lives = slice(int(self.starts[first]), int(self.starts[last - 1] + self.sizes[last - 1]))
        d = self.data
        part = Straightened(
            u=d.u[lives],
            clock=d.clock[lives],
            z=d.z[lives],
            noise=d.noise[lives],
            jump=None if d.jump is None else d.jump[lives],
            log_jacobian=d.log_jacobian[first:last],
            factor=d.factor[first:last],
            limit=d.limit[lives],
        )
        sizes, gauge = self.sizes[first:last], self.gauge[first:last]
        return Families(part, self.starts[first:last] - lives.start, sizes, gauge)


def fit_families(
    families: Families,
    prior: Priors,
    begin: tuple[Floats, Floats] | None = None,
    *,
    rounds: int = ROUNDS,
    keep_points: bool = False,
    axes: Axes = AXES,
) -> Posterior:
    """Posterior of every family.

    Parameters
    ----------
    families : straightened lives.
    prior : in relative units.
    begin : centre and step of the grid at first, from an earlier fit of the same families; fewer rounds will
        do.
    rounds : times that the grid is laid; all but the last move it.
    keep_points : keep every quadrature point.
    axes : offsets of the grid.

    Returns
    -------
    Posterior : with g = 75 nodes, or as many as the axes make.
    """

    def run(piece: tuple[Families, slice]) -> Posterior:
        chunk, where = piece
        start = None if begin is None else (begin[0][:, where], begin[1][:, where])
        own = prior.of(where)
        grid = (start or _first_grid(own, chunk.gauge), rounds, axes)
        return _fit_chunk(chunk, own, grid, keep_points)

    parts = in_threads(run, families.chunks(PAIRS_AT_ONCE // math.prod(len(axis) for axis in axes)))
    joined: dict[str, Any] = {
        name: np.concatenate([getattr(p, name) for p in parts], axis=-1) for name in arrays_of(parts[0])
    }
    points = None
    if keep_points:
        kept = [p.points for p in parts if p.points is not None]
        points = Points(
            np.concatenate([p.logs for p in kept], axis=-1),
            np.concatenate([p.log_post for p in kept], axis=-1),
        )
    return Posterior(**joined, points=points)


def _fit_chunk(
    families: Families, prior: Priors, begin: tuple[tuple[Floats, Floats], int, Axes], keep_points: bool
) -> Posterior:
    data = families.data
    readings = np.isfinite(data.z).sum(axis=1)
    n = np.add.reduceat(readings, families.starts).astype(float)
    (centre, step), rounds, final = begin
    whole = WHOLE_TO_LEARN if keep_points else WHOLE
    for left in range(rounds - 1, -1, -1):
        last, offsets = left == 0, final if left < whole else MOVING
        axes = [centre[i] + step[i] * axis[:, None] for i, axis in enumerate(offsets)]
        per_life = [np.repeat(np.exp(axis), families.sizes, axis=1) for axis in axes]
        stats = level_filter(data.u, data.z, data.noise, per_life[0], data.clock, data.jump)
        spread = Filtered(*(part[:, None, None, :] for part in vars(stats).values()))
        sums = family_sums(spread, per_life[1][None, :, None], per_life[2][None, None], families.starts)
        f = len(n)
        flat = FamilySums(*(part.reshape(-1, f) for part in vars(sums).values()))
        shape = (*(len(axis) for axis in offsets), f)
        grid = [
            np.broadcast_to(x, shape).reshape(-1, f)
            for x in (axes[0][:, None, None], axes[1][None, :, None], axes[2][None, None])
        ]
        sigmas = SIGMA_OFFSETS if offsets is AXES else FEW_OFFSETS
        nodes = fit_nodes(flat, (grid[0], grid[1], grid[2]), n, prior, families.gauge, sigmas)
        chance, log_total = _normalised(nodes.log_post)
        if last:
            break
        moved = _next_grid(chance.sum(axis=0), grid)
        known = np.array([len(axis) > 1 for axis in offsets])[:, None]
        centre, step = (np.where(known, new, old) for new, old in zip(moved, (centre, step), strict=True))
    evidence = log_total + np.log(step).sum(axis=0)
    return _posterior(nodes, chance, grid, (evidence, centre, step), keep_points)


def _first_grid(prior: Priors, gauge: Floats) -> tuple[Floats, Floats]:
    """Centre and step of the grid of log q, log ra, log rb that covers the priors; each (3, f)."""
    (sigma, spread, brownian, start), sds = _prior_of_families(prior, gauge)
    centre = 2.0 * np.stack([c - sigma for c in (brownian, start, spread)])
    sigma_sd, spread_sd, brownian_sd, start_sd = (np.broadcast_to(sd, gauge.shape) for sd in sds)
    step = 2.0 * np.stack([np.hypot(sigma_sd, brownian_sd), 1.5 * start_sd, np.hypot(sigma_sd, spread_sd)])
    return centre, np.clip(step, LEAST_STEP, MOST_STEP)


def _normalised(log_post: Floats) -> tuple[Floats, Floats]:
    """Chance of each point, and the log of their sum before."""
    top = log_post.max(axis=(0, 1))
    chance = np.exp(log_post - top)
    total = chance.sum(axis=(0, 1))
    return chance / total, top + np.log(total)


def _next_grid(weight: Floats, grid: list[Floats]) -> tuple[Floats, Floats]:
    """Centre and step from the posterior's mean and spread on the present grid."""
    mean = np.stack([(weight * x).sum(axis=0) for x in grid])
    spread = np.stack([np.sqrt((weight * (x - m) ** 2).sum(axis=0)) for x, m in zip(grid, mean, strict=True)])
    return mean, np.clip(spread, LEAST_STEP, MOST_STEP)


def _posterior(
    nodes: NodeFit,
    chance: Floats,
    grid: list[Floats],
    about: tuple[Floats, Floats, Floats],
    keep_points: bool,
) -> Posterior:
    weight = chance.sum(axis=0)
    share = chance / np.maximum(weight, 1e-300)
    means = np.stack(nodes.mean)
    mean = (share * means).sum(axis=1)
    away = means - mean[:, None]
    cov = (share * nodes.covariance()).sum(axis=1) + np.stack(
        [(share * away[i] * away[j]).sum(axis=0) for i, j in ((0, 0), (0, 1), (1, 1))]
    )
    q, ra, rb = (np.exp(x) for x in grid)
    return Posterior(
        q=q,
        ra=ra,
        rb=rb,
        sigma2=(share * np.exp(2.0 * nodes.logs[0])).sum(axis=0),
        weight=weight,
        mean=mean,
        cov=cov,
        evidence=about[0],
        centre=about[1],
        step=about[2],
        points=Points(np.stack(nodes.logs), nodes.log_post) if keep_points else None,
    )
