"""What opening it up will show: defect shares of the next tear-down from what earlier ones found.

A tear-down's share of defective parts varies from one to the next, so the forecast is beta-binomial: each
tear-down draws its own share from a beta distribution whose mean and concentration the findings teach.
"""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import betaln, expit, logit

Floats = NDArray[np.float64]

MEANS: Floats = (np.arange(60) + 0.5) / 60
"""Grid of mean shares. [1]"""
CONCENTRATIONS: Floats = np.geomspace(1.0, 300.0, 24)
"""Grid of concentrations a + b, evenly spaced in the logarithm: the prior is flat there. [1]"""
PRIOR_WEIGHT = 2.0
"""Examined parts that the mean of all components counts for in the prior of one. Assumption, no source."""


def share_posterior(examined: Floats, defective: Floats, prior_mean: float) -> Floats:
    """Posterior of mean share and concentration of one component, on the grid.

    Parameters
    ----------
    examined, defective : shape (k,). One tear-down each, 0 <= defective <= examined.
    prior_mean : share over all components. [1], in (0, 1)

    Returns
    -------
    Probabilities, shape (len(MEANS), len(CONCENTRATIONS)), summing to 1.

    Notes
    -----
    Likelihood of a tear-down: beta-binomial with a = mean * concentration, b = (1 - mean) * concentration.
    Prior of the mean: beta with the weight of two examined parts (``PRIOR_WEIGHT``) at ``prior_mean``.
    """
    log = log_posterior(examined, defective, prior_mean)
    weight = np.exp(log - log.max())
    return np.asarray(weight / weight.sum(), dtype=np.float64)


def log_posterior(
    examined: Floats, defective: Floats, prior_mean: float, shift: Floats | float = 0.0
) -> Floats:
    """Logarithm of the posterior of :func:`share_posterior`, up to the constant of its prior.

    Parameters
    ----------
    shift : shape (k,). By how much the logit of the mean of each tear-down lies above that of the component.
    """
    shifted = expit(logit(MEANS)[:, None] + np.broadcast_to(shift, np.shape(examined)))
    mean, concentration = shifted[:, None, :], CONCENTRATIONS[None, :, None]
    a, b = mean * concentration, (1 - mean) * concentration
    bad = np.asarray(defective, float)
    sound = np.asarray(examined, float) - bad
    log = (betaln(a + bad, b + sound) - betaln(a, b)).sum(axis=2)
    # Half a part on each side keeps the prior proper where every part ever examined was sound (or none).
    log = log + (PRIOR_WEIGHT * prior_mean - 0.5) * np.log(MEANS)[:, None]
    log = log + (PRIOR_WEIGHT * (1 - prior_mean) - 0.5) * np.log1p(-MEANS)[:, None]
    return np.asarray(log, dtype=np.float64)


def defect_share_draws(
    findings: pd.DataFrame,
    components: Sequence[str],
    draws: int,
    seed: int,
    *,
    seen: Mapping[str, tuple[float, float]] = MappingProxyType({}),
) -> Floats:
    """Draws of the share that the next tear-down finds defective, by component.

    Parameters
    ----------
    findings : component, examined, defective; one row a tear-down.
    components : names, the order of the columns; one without findings gets the prior around all findings.
    draws, seed : number of draws; the same seed gives the same draws for a component, whatever the others.
    seen : of a tear-down that goes on, parts examined and found defective so far, by component: the draws
        are then those of the parts that are still to be examined in it. Its parts are not among ``findings``.

    Returns
    -------
    Shape (draws, len(components)). [1]

    Notes
    -----
    The parts of one tear-down share its own share, beta with a = mean * concentration and b: after k of n
    were defective it is beta with a + k, b + n - k (N. L. Johnson, A. W. Kemp & S. Kotz, Univariate
    Discrete Distributions, 3rd ed. 2005, on the beta-binomial as an urn). Mean and concentration learn
    from it too.
    """
    known = findings[findings["examined"] > 0]
    overall = (known["defective"].sum() + 0.5) / (known["examined"].sum() + 1.0)
    out = np.empty((draws, len(components)))
    for j, name in enumerate(components):
        teardowns = known[known["component"] == name]
        examined, defective = (teardowns[column].to_numpy(float) for column in ("examined", "defective"))
        now, bad = seen.get(name, (0.0, 0.0))
        if now > 0:
            examined, defective = np.append(examined, now), np.append(defective, bad)
        posterior = share_posterior(examined, defective, float(overall))
        rng = np.random.default_rng([seed, *name.encode()])
        cell = rng.choice(posterior.size, size=draws, p=posterior.ravel())
        mean, concentration = np.unravel_index(cell, posterior.shape)
        a = MEANS[mean] * CONCENTRATIONS[concentration]
        out[:, j] = rng.beta(a + bad, CONCENTRATIONS[concentration] - a + now - bad)
    return out
