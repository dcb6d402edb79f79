"""What is assumed of a family's wear before its readings, and what was learned from others beforehand.

A store of a million wear points is forecast in runs of families. What all families teach each other (priors,
weights of the shapes, how often readings are wild, how much a position remembers) is learned once, from a
sample of them, and is the same in every run, so that nothing depends on how the runs are cut or who works
them out.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.wear.shapes import Shape

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Priors:
    """Weak priors in relative units; a log parameter is normal with the centre and spread given.

    The centres are assumptions, no source; the spreads, a factor of two to three either way, let the
    readings of eight lives overrule them, and a store with many families learns its own
    (``models.wear.hyper``).
    Where other railways say something of a family (``models.wear.shared_prior``), the logs are arrays of
    shape (f,), and ``log_rate`` with its sd is what they say of the mean rate, over the pooled one of
    straight wear; NaN where they say nothing.
    """

    log_sigma: float | Floats = float(np.log(0.012))
    log_sigma_sd: float | Floats = 1.0
    log_spread: float | Floats = float(np.log(0.25))  # s_b / mu
    log_spread_sd: float | Floats = 0.6
    log_brownian: float | Floats = float(np.log(0.06))  # tau / sqrt(mu): sd of the wear at the end of a life
    log_brownian_sd: float | Floats = 0.8
    log_start: float | Floats = float(np.log(0.01))  # s_a
    log_start_sd: float | Floats = 0.8
    log_sigma_sd_gauge: float = 0.35  # about the gauge's stated repeatability
    start: float = 0.0
    start_sd: float = 0.03
    straight_start_sd: float = 0.03  # the same under straight wear, which a store of such families teaches
    rate: float | Floats = 1.0  # the pooled rate is the unit of rates, so this says only "of that order"
    rate_sd: float | Floats = 1.0
    log_rate: Floats | None = None
    log_rate_sd: Floats | None = None
    alone: bool = False

    def centres(self) -> Floats:
        """Centres of log sigma, log spread, log Brownian, log start; shape (4,) or (4, f)."""
        return np.array([self.log_sigma, self.log_spread, self.log_brownian, self.log_start])

    def spreads(self) -> Floats:
        """Their standard deviations, shape (4,) or (4, f)."""
        return np.array([self.log_sigma_sd, self.log_spread_sd, self.log_brownian_sd, self.log_start_sd])

    def of(self, families: Ints | slice) -> "Priors":
        """Of some of the families, where each has its own."""
        arrays: dict[str, Any] = {
            name: x[families] for name, x in vars(self).items() if isinstance(x, np.ndarray)
        }
        return replace(self, **arrays)

    def under(self, shape: Shape, factor: Floats) -> "Priors":
        """Under one shape: its spread of the mean start, and the mean rate on its straight scale,
        its distance ``factor`` (f,) times the common one.

        A life at the rate r lasts 1/r; on the bent scale its rate is one over its bent distance.
        """
        start_sd = self.straight_start_sd if shape.kind == "straight" else self.start_sd
        own = replace(self, start_sd=start_sd)
        if self.log_rate is None or self.log_rate_sd is None:
            return own
        known = np.isfinite(self.log_rate)
        lasts = np.exp(-np.where(known, self.log_rate, 0.0))
        mean = 1.0 / np.maximum(shape.distance(lasts * factor), 1e-6)
        spread = mean * shape.power * np.where(known, self.log_rate_sd, 1.0)
        return replace(
            own, rate=np.where(known, mean, self.rate), rate_sd=np.where(known, spread, self.rate_sd)
        )


ALONE = Priors(log_brownian=float(np.log(0.025)), log_brownian_sd=1.2, alone=True)
"""What is assumed of the only life that a store knows: a smaller Brownian part, and less sure. A family shows
it by how its lives differ; one life only by readings off its line, and with the centre of families what a
straight life is forecast to read was twice as uncertain as its readings bear out. No source; chosen with
``models.wear.shape_weights.STRAIGHT_ALONE``."""


@dataclass(frozen=True)
class Known:
    """Learned beforehand; nothing of it is learned anew.

    Attributes
    ----------
    priors : centres and spreads of the families' parameters, relative units.
    shape_prior : shape (s, f). Weight of each shape before the readings, by family as the lives number them.
    wild_share : share of wild readings. [1]
    memory_share : share of the variance of rates that belongs to the position. [1]
    nodes : most nodes of a family's posterior under each shape.
    """

    priors: Priors
    shape_prior: Floats
    wild_share: float
    memory_share: float
    nodes: int


@dataclass(frozen=True)
class Learned:
    """What a sample of a store's families taught, by the names of the quantities.

    Attributes
    ----------
    priors : relative units.
    shape_prior : quantity -> weight of each shape, shape (s,); of all quantities together under the key ''.
    wild_share, memory_share : as in :class:`Known`.
    nodes : as in :class:`Known`.
    """

    priors: Priors
    shape_prior: dict[str, Floats]
    wild_share: float
    memory_share: float
    nodes: int

    def of(self, quantities: NDArray[np.object_]) -> Known:
        """For families that measure the named quantities, shape (f,)."""
        every = self.shape_prior[""]
        prior = np.stack([self.shape_prior.get(str(name), every) for name in quantities], axis=1)
        return Known(self.priors, prior, self.wild_share, self.memory_share, self.nodes)


def joined_priors(parts: list[Priors], sizes: list[int]) -> Priors:
    """Priors of the families of all parts, one part after the other; ``sizes``: families of each part."""
    if len(parts) == 1:
        return parts[0]
    arrays: dict[str, Any] = {}
    for name in vars(parts[0]):
        values = [getattr(part, name) for part in parts]
        if any(isinstance(value, np.ndarray) for value in values):
            arrays[name] = np.concatenate(
                [np.broadcast_to(value, (n,)) for value, n in zip(values, sizes, strict=True)]
            )
    return replace(parts[0], **arrays)
