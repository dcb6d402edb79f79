"""Wild readings: how likely each reading is off by far more than the gauge explains, and how much it then
counts."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import entr, ndtr

from models.lives.unrecorded import medians
from models.wear.level_filter import filter_lives, smoothed_disturbances
from models.wear.life_states import Nodes
from models.wear.priors import Priors
from models.wear.relative import PASSAGE_SD, USUAL_GAUGE, Relative, Straightened, keep_lives, straighten
from models.wear.shapes import STRAIGHT

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

WILD_VARIANCE = 64.0
"""A wild reading's variance over the gauge's before any is seen: eight standard deviations, with the weight
of ``VARIANCE_STRENGTH`` wild readings. Assumption, no source."""
VARIANCE_STRENGTH = 10.0
USUAL_SHARE = 0.01
"""Share of wild readings before any is seen, with the weight of ``SHARE_STRENGTH`` readings. Assumption, no
source."""
SHARE_STRENGTH = 50.0
SETTLED = 1e-4
"""Change of the share in a pass, over itself, below which it is taken to have come to rest."""
IN_A_ROW = 2
"""Last readings of a life beyond what is expected that are believed together."""
USUAL_EARLY = 0.25
"""Share of the parts renewed without a word that came off before they were worn, with the weight of
``EARLY_STRENGTH`` renewals. Assumption, no source."""
EARLY_STRENGTH = 20.0
SAYS_NOTHING = 1e4
"""Factor on the variance of a passage that was none."""


@dataclass(frozen=True)
class Deletion:
    """Each reading against all others of its life and family, straight scale; shape (n, k), NaN without
    reading.

    Attributes
    ----------
    miss : reading less what the others say.
    doubt : variance of what the others say.
    own : variance of the reading itself.
    level : the level there from all readings, and
    level_var : its variance.
    """

    miss: Floats
    doubt: Floats
    own: Floats
    level: Floats
    level_var: Floats

    def of(self, columns: slice | int) -> "Deletion":
        """Some of the columns."""
        return Deletion(**{name: values[:, columns] for name, values in vars(self).items()})


def deletion_residuals(data: Straightened, nodes: Nodes, base_noise: Floats) -> Deletion:
    """What the other readings say of each reading.

    Parameters
    ----------
    data : straightened lives, with the noise that they are fitted with.
    nodes : one node a life, shape (1, n).
    base_noise : shape (n, k). Variance of each reading if it is not wild, over the gauge's, straight scale.

    Notes
    -----
    With K the covariance of a life's readings, the deletion residual is (K^-1 (y - mean))_i / (K^-1)_ii and
    its variance 1 / (K^-1)_ii ([1]_, section 4.6.1; there for a state space model, here by the matrix
    inversion lemma).

    References
    ----------
    .. [1] A. C. Harvey, *Forecasting, Structural Time Series Models and the Kalman Filter*, 1989; J. Durbin,
    S. J. Koopman,
       2nd ed. 2012, section 7.5.
    """
    q, ra, rb, s2 = nodes.q[0], nodes.ra[0], nodes.rb[0], nodes.sigma2[0]
    smooth = smoothed_disturbances(data.u, data.z, data.noise, q, data.clock, data.jump)
    stats = filter_lives(data, q)
    det = (1.0 + ra * stats.a00) * (1.0 + rb * stats.a11) - ra * rb * stats.a01**2
    g00, g01, g11 = (
        ra * (1.0 + rb * stats.a11) / det,
        -ra * rb * stats.a01 / det,
        rb * (1.0 + ra * stats.a00) / det,
    )
    a0, mu = nodes.a0[0], nodes.mu[0]
    e0, e1 = stats.c0 - stats.a00 * a0 - stats.a01 * mu, stats.c1 - stats.a01 * a0 - stats.a11 * mu
    start, rate = a0 + g00 * e0 + g01 * e1, mu + g01 * e0 + g11 * e1
    pull = smooth.sy - smooth.s1 * start[:, None] - smooth.su * rate[:, None]
    diagonal = smooth.diagonal - (
        g00[:, None] * smooth.s1**2 + 2.0 * g01[:, None] * smooth.s1 * smooth.su + g11[:, None] * smooth.su**2
    )
    present = np.isfinite(data.z)
    diagonal = np.where(present, np.maximum(diagonal, 1e-300), np.nan)
    s2 = s2[:, None]
    level = data.z - data.noise * pull
    if data.offset is not None:
        level = level + data.offset[:, None] * data.u
    return Deletion(
        miss=pull / diagonal,
        doubt=s2 * np.maximum(1.0 / diagonal - data.noise, 0.0),
        own=s2 * base_noise,
        level=level,
        level_var=s2 * np.maximum(data.noise - data.noise**2 * diagonal, 0.0),
    )


def chance_wild(
    deletion: Deletion, known_share: float | None = None, worn: Floats | None = None
) -> tuple[Floats, float, float]:
    """Chance that each reading is wild, and what is learned of wild readings from all of them.

    Parameters
    ----------
    known_share : the share, where it was learned from other readings.
    worn : as in :class:`models.wear.relative.Relative`; given, the last column is the chance that a renewal
        was no passage, which is learned apart (:func:`chance_early`).

    Returns
    -------
    Chance, shape (n, k), 0 where there is no reading; share of wild readings [1]; their variance over the
    gauge's.
    """
    if worn is not None:
        chance, share, variance = chance_wild(deletion.of(slice(None, -1)), known_share)
        return np.column_stack([chance, chance_early(deletion.of(-1), worn)]), share, variance
    if known_share is not None:
        return chance_given(deletion, known_share, WILD_VARIANCE), known_share, WILD_VARIANCE
    present = np.isfinite(deletion.miss)
    beyond = np.maximum(deletion.miss[present] ** 2 - deletion.doubt[present], 0.0) / deletion.own[present]
    share, variance = USUAL_SHARE, WILD_VARIANCE
    chance = np.zeros(present.shape)
    for _ in range(30):
        chance = chance_given(deletion, share, variance)
        found, last = chance.sum(), share
        share = (found + USUAL_SHARE * SHARE_STRENGTH) / (present.sum() + SHARE_STRENGTH)
        most = WILD_VARIANCE * VARIANCE_STRENGTH + (chance[present] * beyond).sum()
        variance = max(most / (VARIANCE_STRENGTH + found), WILD_VARIANCE)
        if abs(share - last) < SETTLED * share:
            break
    return chance, float(share), float(variance)


def chance_given(deletion: Deletion, share: float, variance: float) -> Floats:
    """Chance that each reading is wild, shape (n, k), where their share and their variance over the gauge's
    are known; 0 where there is no reading."""
    present = np.isfinite(deletion.miss)
    doubt, own = np.where(present, deletion.doubt, 0.0), np.where(present, deletion.own, 1.0)
    square = np.where(present, deletion.miss, 0.0) ** 2
    good, bad = doubt + own, doubt + variance * own
    log_odds = 0.5 * square * (1.0 / good - 1.0 / bad) - 0.5 * np.log(bad / good)
    odds = np.exp(np.clip(log_odds, -500.0, 500.0))
    return np.where(present, share * odds / (share * odds + 1.0 - share), 0.0)


def log_price(chance: Floats, share: float, variance: float) -> Floats:
    """What the log evidence of readings with :func:`noise_of_wild` is off by for each reading, shape (n, k).

    A bound from below on the evidence over all that may be wild, by the chances as though they were
    independent (C. M. Bishop, *Pattern Recognition and Machine Learning*, 2006, section 10.1): it pays for
    each wild reading what it is worth to call it so.
    """
    noise = 0.5 * (np.log(noise_of_wild(chance, variance)) - chance * np.log(variance))
    return np.asarray(
        noise + entr(chance) + entr(1.0 - chance) + chance * np.log(share) + (1.0 - chance) * np.log1p(-share)
    )


def believed_ends(chance: Floats, deletion: Deletion, worn: Floats | None = None) -> Bools:
    """The last readings of a life, two or more in a row, that look wild and are more worn than expected,
    (n, k).

    Wear that runs faster is no error twice over, and to believe it is the careful way.

    Parameters
    ----------
    chance, worn : as :func:`chance_wild` gives and takes them.
    """
    read = np.isfinite(deletion.miss)
    if worn is not None:
        read[:, -1] = False
    beyond = (chance > SUSPECTED) & read & (np.where(read, deletion.miss, 0.0) > 0)
    at_end = np.cumprod((beyond | ~read)[:, ::-1], axis=1)[:, ::-1].astype(bool) & beyond
    return np.asarray(at_end & (at_end.sum(axis=1) >= IN_A_ROW)[:, None])


def chance_early(passage: Deletion, worn: Floats) -> Floats:
    """Chance that a part which was renewed without a measurement came off before it was worn, shape (n,).

    Parameters
    ----------
    passage : each life's limit, at the miles of its renewal, against what its readings and family expect
        there; arrays of shape (n,), NaN where there was no such renewal.
    worn : shape (n,). 1 where it is told that the part was worn.

    Notes
    -----
    Worn, its level then was at the limit, give or take ``PASSAGE_SD``; early, anywhere below, evenly. The
    share of early ones is learned from all that are not told.
    """
    asked = np.isfinite(passage.miss) & (worn != 1.0)
    miss, doubt, own = (np.where(asked, x, 1.0) for x in (passage.miss, passage.doubt, passage.own))
    var = doubt + own
    slope = np.sqrt(own) / PASSAGE_SD  # of bent wear over a share of the allowance
    at_limit = np.exp(-0.5 * miss**2 / var) / np.sqrt(2.0 * np.pi * var) * slope
    below = ndtr(miss / np.sqrt(np.maximum(doubt, 1e-300)))
    share, chance = USUAL_EARLY, np.zeros(len(miss))
    for _ in range(30):
        early = share * below + 1e-12
        chance = np.where(asked, early / (early + (1.0 - share) * at_limit), 0.0)
        share = (chance.sum() + USUAL_EARLY * EARLY_STRENGTH) / (asked.sum() + EARLY_STRENGTH)
    return chance


def noise_of_wild(chance: Floats, variance: float = WILD_VARIANCE, worn: Floats | None = None) -> Floats:
    """Factor on a reading's variance: it counts by the chance that it is sound; a passage (last column, where
    ``worn`` is given) by the chance that it was one. ``variance``: of wild readings, over the gauge's."""
    most = np.full(chance.shape[1], variance)
    if worn is not None:
        most[-1] = SAYS_NOTHING
    return np.asarray(1.0 / (1.0 - chance * (1.0 - 1.0 / most)))


def first_look(rel: Relative) -> tuple[Floats, float, Bools]:
    """Chance that each reading is wild, shape (n, k), before anything was learned from them; the variance of
    wild ones over the gauge's; and which are believed all the same (:func:`believed_ends`).

    Where many readings are wild, a fit that believes all of them finds a poor gauge and none that is wild.
    Here straight wear of usual spread is laid through each life, and the gauge's error is the median of what
    is off it, which wild readings cannot move far (P. J. Rousseeuw, A. M. Leroy, *Robust Regression and
    Outlier Detection*, 1987, sections 1.2 and 5.1).
    """
    data = straighten(rel, STRAIGHT)
    if rel.worn is not None:
        data = replace(data, z=np.column_stack([data.z[:, :-1], np.full(len(data.z), np.nan)]))
    usual = np.where(np.isfinite(rel.gauge), rel.gauge, USUAL_GAUGE)
    believed, sigma = np.zeros(data.z.shape), usual
    for _ in range(ALL_BELIEVED):
        _, sigma = _looked(rel, data, (usual, sigma), data.noise)
    chance, _, variance = chance_wild(_looked(rel, data, (usual, sigma), data.noise)[0])
    suspected = np.maximum.reduceat(chance.max(axis=1), rel.starts) > SUSPECTED
    if not suspected.any():
        return believed, variance, np.zeros(believed.shape, dtype=bool)
    rows = np.repeat(suspected, rel.sizes)
    part, families = keep_lives(rel, rows)
    own = replace(straighten(part, STRAIGHT, data.factor[families]), z=data.z[rows])
    usual, sigma, found = usual[families], sigma[families], chance[rows]
    for _ in range(LOOKS):
        deletion, sigma = _looked(part, own, (usual, sigma), own.noise * noise_of_wild(found, variance))
        found, _, variance = chance_wild(deletion)
    ends = np.zeros(believed.shape, dtype=bool)
    ends[rows] = believed_ends(found, deletion)
    believed[rows] = found
    return np.where(ends, 0.0, believed), variance, ends


def _looked(
    rel: Relative, data: Straightened, gauge: tuple[Floats, Floats], noise: Floats
) -> tuple[Deletion, Floats]:
    """One pass of a first look: each reading against the others, and the gauge's error of each family, (f,).

    Parameters
    ----------
    gauge : the usual error of each family's gauge, and that of the pass before.
    noise : of the readings, by their chances to be wild.
    """
    (usual, sigma), assumed = gauge, Priors()
    s = rel.per_life(sigma)
    zero, one = np.zeros((1, len(s))), np.ones((1, len(s)))
    spreads = (float(x) for x in (assumed.log_brownian, assumed.log_start, assumed.log_spread))
    q, ra, rb = (np.exp(2.0 * spread) / s[None] ** 2 for spread in spreads)
    nodes = Nodes(q, ra, rb, s[None] ** 2, one, zero, one, zero, zero, zero)
    jump = None if data.jump is None else data.jump * ((rel.per_life(usual) / s) ** 2)[:, None]
    deletion = deletion_residuals(replace(data, noise=noise, jump=jump), nodes, data.noise)
    read = np.isfinite(deletion.miss)
    family = np.broadcast_to(np.repeat(np.arange(len(rel.sizes)), rel.sizes)[:, None], read.shape)[read]
    off = np.abs(deletion.miss[read]) / np.sqrt(deletion.doubt[read] + deletion.own[read])
    found = sigma * medians(off, family, len(usual)) / 0.6745  # median of |normal| to its standard deviation
    return deletion, np.maximum(found, LEAST_GAUGE * usual)


ALL_BELIEVED, LOOKS = 2, 6
"""Passes of a first look that only seek the gauge's error, and passes that then look at suspected
families."""
SUSPECTED = 0.5
"""Chance of a reading from which its family is suspected of wild ones."""
LEAST_GAUGE = 0.3
"""Share of the usual gauge's error that a first look takes for the least."""
