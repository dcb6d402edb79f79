"""Every life under the heaviest shape of its family: its readings against each other, and its own rate
with what place and law make of it."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.laws.place_memory import LifeRates, learn_memory, remembered
from models.laws.rate_law import law_of_rates
from models.wear.fitted import Checked, Remembered, Shaped
from models.wear.level_filter import Filtered, filter_lives
from models.wear.life_states import Nodes, mean_node, own_rate
from models.wear.posterior import put_families, take_families
from models.wear.priors import Known
from models.wear.relative import PASSAGE_SD, Relative, Straightened, keep_lives, put_lives, straighten
from models.wear.shapes import STRAIGHT
from models.wear.wild import Deletion, deletion_residuals

Floats = NDArray[np.float64]


def under_heaviest(rel: Relative, shaped: Shaped) -> tuple[Straightened, Nodes]:
    """All lives on the straight scale of their family's heaviest shape, with one node a life."""
    best = shaped.weight.argmax(axis=0)
    straight = shaped.fits[0]
    data, posterior = straighten(rel, STRAIGHT, straight.factor), straight.posterior
    for i in np.unique(best[best > 0]):
        fit, rows = shaped.fits[i], np.repeat(best == i, rel.sizes)
        part, families = keep_lives(rel, rows)
        data = put_lives(data, straighten(part, fit.shape, fit.factor[families]), rows, families)
        posterior = put_families(posterior, take_families(fit.posterior, families), families)
    return data, mean_node(posterior, rel)


def with_own_gauge(rel: Relative, shaped: Shaped, base: Floats) -> Floats:
    """Noise of the readings, that of passages over each family's gauge as it was learned."""
    if rel.worn is None:
        return base
    best = shaped.weight.argmax(axis=0)
    sigma2 = np.stack([(fit.posterior.weight * fit.posterior.sigma2).sum(axis=0) for fit in shaped.fits])
    out = base.copy()
    out[:, -1] = PASSAGE_SD**2 / rel.per_life(sigma2[best, np.arange(len(best))])
    return out


def each_against_others(rel: Relative, shaped: Shaped, base: Floats) -> Deletion:
    """Each reading against the others, under the heaviest shape of its family.

    ``base`` : shape (n, k). Noise of the readings if none is wild.
    """
    data, nodes = under_heaviest(rel, shaped)
    return deletion_residuals(data, nodes, base * (data.noise / rel.noise))


def rates_of(rel: Relative, shaped: Shaped) -> LifeRates:
    """What each life's own readings say of its rate, under the heaviest shape of its family."""
    data, nodes = under_heaviest(rel, shaped)
    return life_rates(filter_lives(data, nodes.q), nodes)


def life_rates(stats: Filtered, nodes: Nodes) -> LifeRates:
    """Rates of lives, their start integrated out.

    Parameters
    ----------
    stats : one filter pass with ``nodes.q``, arrays of shape (1, n).
    nodes : one node a life, shape (1, n).
    """
    rate, var = own_rate(stats, nodes)
    return LifeRates(
        rate=rate[0], var=var[0], mean=nodes.mu[0], spread=np.sqrt(nodes.rb[0] * nodes.sigma2[0])
    )


def with_rate_law(shaped: Shaped, rates: LifeRates, rel: Relative) -> Shaped:
    """The fit with the law that the rates of each family have, where it wears straight.

    Under a bent shape that is only nearly right, old and young lives have other rates, which look like a law
    of their own: used there, families of four lives and mixed shapes lost a tenth more, fleets of bent wear
    0.3 to 0.6 %.
    """
    cv = rates.spread / np.maximum(rates.mean, 0.05)
    said, var = (rates.rate - rates.mean) / rates.spread, rates.var / rates.spread**2
    return replace(shaped, law=law_of_rates(cv, said, var, rel.starts))


def remembered_places(checked: Checked, rates: LifeRates, known: Known | None) -> Remembered:
    """Step 6: what the other lives at its place say of each life's rate, under the heaviest shape of its
    family."""
    rel = checked.rel
    if rel.place is None or not (np.bincount(rel.place) > 1).any():
        return Remembered(0.0)
    share = learn_memory(rates, rel.place) if known is None else known.memory_share
    return Remembered(share, *remembered(rates, rel.place, share))
