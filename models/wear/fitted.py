"""What the steps of a fit hand on to each other (:mod:`models.wear.fit_steps`)."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from models.laws.rate_covariates import Effect
from models.laws.rate_law import RateLaw
from models.wear.doubted import Doubted
from models.wear.priors import Known, Priors
from models.wear.relative import Relative, lives_read
from models.wear.shape_fits import Fit
from models.wear.shape_weights import shape_weights, weights_of
from models.wear.shapes import SHAPES
from models.wear.shared_prior import FromOthers, mixed_shapes
from models.wear.wild import Deletion

if TYPE_CHECKING:
    from models.wear.departures import Departed

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Settings:
    """How a model is to be fitted; as the parameters of :class:`models.wear.model.PooledWear`."""

    shapes: bool
    wild_rounds: int
    learn: bool
    priors: Priors | None
    known: Known | None
    from_others: FromOthers | None

    def weights(self, rel: Relative, fits: list[Fit], quantity: Ints) -> tuple[Floats, Floats]:
        """Weight of each shape after and before the readings, shape (s, f)."""
        evidence = np.stack([fit.evidence for fit in fits])
        if self.known is not None:
            prior = self.known.shape_prior[:, rel.family]
            weight = weights_of(evidence, prior)
        else:
            weight, prior = shape_weights(evidence, quantity, SHAPES[: len(evidence)], lives_read(rel))
        if self.from_others is not None and self.shapes:
            others = self.from_others.take(rel.family)
            prior = mixed_shapes(prior, others)
            told = np.isfinite(others.shape).all(axis=0)  # of the others the weights are as they were
            weight = np.where(told, weights_of(evidence, prior), weight)
        return weight, prior


@dataclass(frozen=True)
class Scaled:
    """Lives in relative units.

    Attributes
    ----------
    rel : n lives of f families.
    quantity : shape (f,). Number of what each family measures.
    row_of : shape (n,). Row in ``rel`` of each life as it was given.
    asked : shape (n,), rows of ``rel``. The life will be asked about.
    """

    rel: Relative
    quantity: Ints
    row_of: Ints
    asked: Bools


@dataclass(frozen=True)
class Screened:
    """Lives with what their positions tell of their rate.

    Attributes
    ----------
    rel : with the lives' offsets, where an effect is kept.
    effects : what is kept.
    straight : the fit of straight wear where it still holds, because no effect is kept; else None.
    """

    rel: Relative
    effects: list[Effect]
    straight: Fit | None


@dataclass(frozen=True)
class Shaped:
    """Every family under every shape.

    Attributes
    ----------
    fits : one a shape, straight wear first.
    weight, prior : shape (s, f). Weight of each shape after and before the family's readings.
    law : shape (f,). Of the rates of the family's lives.
    """

    fits: list[Fit]
    weight: Floats
    prior: Floats
    law: RateLaw


@dataclass(frozen=True)
class Checked:
    """The last fit, and each reading held against it.

    Attributes
    ----------
    rel : with each reading's noise by its chance to be wild.
    priors : that the last fit was made with.
    shaped : the last fit.
    deletion : each reading against all others.
    wild : shape (n, k). Chance that the reading is wild.
    wild_share : share of wild readings. [1]
    departed : lives that may have left their family's way of wearing.
    doubted : what may be wild or not, and is taken both ways; None: nothing.
    """

    rel: Relative
    priors: Priors
    shaped: Shaped
    deletion: Deletion
    wild: Floats
    wild_share: float
    departed: "Departed"
    doubted: Doubted | None


@dataclass(frozen=True)
class Remembered:
    """What earlier and neighbouring parts at a place say of a life's rate.

    Attributes
    ----------
    share : of the variance of rates that belongs to the place. [1]
    shift, keep : shape (n,). Shift of the mean rate in spreads, factor on its variance; None: nothing said.
    """

    share: float
    shift: Floats | None = None
    keep: Floats | None = None

    def of(self, lives: Ints) -> tuple[Floats, Floats] | None:
        """Shift and factor of some lives; None: nothing said."""
        return None if self.shift is None or self.keep is None else (self.shift[lives], self.keep[lives])
