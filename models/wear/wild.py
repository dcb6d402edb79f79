"""Wild readings: how likely each reading is off by far more than the gauge explains, and how much it then
counts."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.wear.level_filter import filter_lives, smoothed_disturbances
from models.wear.life_states import Nodes
from models.wear.relative import Straightened

Floats = NDArray[np.float64]

WILD_VARIANCE = 64.0
"""A wild reading's variance over the gauge's: eight standard deviations. Assumption, no source; any large
value does."""
USUAL_SHARE = 0.01
"""Share of wild readings before any is seen, with the weight of ``SHARE_STRENGTH`` readings. Assumption, no
source."""
SHARE_STRENGTH = 50.0


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


def chance_wild(deletion: Deletion, known_share: float | None = None) -> tuple[Floats, float]:
    """Chance that each reading is wild, and the share of wild readings learned from all of them.

    Parameters
    ----------
    known_share : the share, where it was learned from other readings.

    Returns
    -------
    Chance, shape (n, k), 0 where there is no reading; share [1].
    """
    present = np.isfinite(deletion.miss)
    good = np.where(present, deletion.doubt + deletion.own, 1.0)
    bad = np.where(present, deletion.doubt + WILD_VARIANCE * deletion.own, 1.0)
    square = np.where(present, deletion.miss, 0.0) ** 2
    odds = np.exp(np.clip(0.5 * square * (1.0 / good - 1.0 / bad) - 0.5 * np.log(bad / good), -500.0, 500.0))
    share = USUAL_SHARE if known_share is None else known_share
    chance = np.zeros(odds.shape)
    for _ in range(30):
        chance = np.where(present, share * odds / (share * odds + 1.0 - share), 0.0)
        if known_share is not None:
            break
        share = (chance.sum() + USUAL_SHARE * SHARE_STRENGTH) / (present.sum() + SHARE_STRENGTH)
    return chance, float(share)


def noise_of_wild(chance: Floats) -> Floats:
    """Factor on a reading's variance: it counts by the chance that it is sound."""
    return np.asarray(1.0 / (1.0 - chance * (1.0 - 1.0 / WILD_VARIANCE)))
