"""How hard each season was on each vehicle: shocks of single seasons, and changes that stay.

The log of a season's factor is a shock of that season plus what a change has left. A vehicle has shocks of
one of a few spreads, and no change or one, of a season and a size that are both unknown: a mixture of normal
distributions, each with its evidence in closed form. How common spreads and changes are is learned over all
vehicles, drawn toward "none" (``QUIET_VEHICLES``).

References
----------
.. [1] M. West, J. Harrison, *Bayesian Forecasting and Dynamic Models*, 2nd ed., 1997, chapter 12 (mixtures
   of models that differ in what changed, and when).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from models.seasons.sensitivity import Sensitivity

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SHOCKS: Floats = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.55, 0.75])
"""Standard deviations of the shocks that are tried; log of a factor on all rates."""
SIZES: Floats = np.array([0.2, 0.5])
"""Standard deviations of the changes that are tried: small and large ones, together heavy in the tails."""
PARTS_OF_SEASON: Floats = np.array([1.0, 0.6, 0.25])
"""Share of its first season in which a change is in force."""
QUIET_VEHICLES = 9.0
"""Vehicles without shocks, and without a change, that are counted beside those at hand. Assumption, no
source."""
RESTLESS_VEHICLES = 1.0
"""Vehicles with shocks, and with a change, that are counted beside those at hand. Assumption, no source."""
ROUNDS = 30
SAYS_NOTHING = 1e-3
"""Log evidence up to which a vehicle's readings say nothing of its seasons."""


@dataclass(frozen=True)
class Kinds:
    """The explanations that are tried, shape (e,) each.

    Attributes
    ----------
    shock : standard deviation of the shocks.
    size : standard deviation of the change; 0: none.
    began : season from which the change is in force, 1 .. s - 1; 0: none.
    part : share of that season in which it is.
    """

    shock: Floats
    size: Floats
    began: Ints
    part: Floats

    def pattern(self, seasons: int) -> Floats:
        """Share of each season in which the change is in force, shape (e, s)."""
        s = np.arange(seasons)
        later = (s > self.began[:, None]).astype(float)
        return np.where(self.size[:, None] > 0, later + self.part[:, None] * (s == self.began[:, None]), 0.0)


@dataclass(frozen=True)
class Explanations:
    """What may have happened to each vehicle: e explanations, v vehicles, s seasons.

    Attributes
    ----------
    kinds : the explanations.
    evidence : shape (v, e). Log evidence of each, over that of a vehicle whose parts share nothing.
    weight : shape (v, e), sums to 1.
    change, change_var : shape (v, e). Mean and variance of the change given the explanation.
    severity : shape (v, s). Mean of the log of each season's factor.
    """

    kinds: Kinds
    evidence: Floats
    weight: Floats
    change: Floats
    change_var: Floats
    severity: Floats

    @property
    def changed(self) -> Floats:
        """Chance that a change came, shape (v,)."""
        return np.asarray(self.weight @ (self.kinds.size > 0))

    @property
    def quiet(self) -> Floats:
        """Chance that nothing is shared: neither shocks nor a change, shape (v,)."""
        return np.asarray(self.weight @ ((self.kinds.size == 0) & (self.kinds.shock == 0)))

    @property
    def gain(self) -> Floats:
        """Log evidence of all explanations together, before anything was learned of how common they are,
        shape (v,)."""
        prior = _prior_weights(self.kinds, *_before_vehicles())
        return np.asarray(logsumexp(self.evidence + np.log(prior), axis=1))


def explain(sensed: Sensitivity) -> Explanations:
    """Weigh what may have happened to each vehicle."""
    pull = sensed.pull
    tried = _changes_tried(pull.shape[1])
    pattern, square = tried.pattern(pull.shape[1]), tried.size**2
    evidence, change, doubt = [], [], []
    for w in SHOCKS:
        left, pulled, base = _without_shocks(sensed.information, pull, w)
        known = ((pattern @ left) * pattern).sum(axis=2)
        var = square / (1.0 + known * square)
        mean = var * (pulled @ pattern.T)
        evidence.append(base[:, None] + 0.5 * mean * (pulled @ pattern.T) - 0.5 * np.log1p(known * square))
        change.append(mean)
        doubt.append(var)
    said = [np.concatenate(parts, axis=1) for parts in (evidence, change, doubt)]
    times = len(SHOCKS)
    shock = np.repeat(SHOCKS, len(square))
    kinds = Kinds(shock, np.tile(tried.size, times), np.tile(tried.began, times), np.tile(tried.part, times))
    return _weighed(kinds, said[0], said[1], said[2], sensed)


def _changes_tried(seasons: int) -> Kinds:
    """No change, and changes of every size, season and part of it; without shocks."""
    size, began, part = np.meshgrid(SIZES, np.arange(1, seasons), PARTS_OF_SEASON, indexing="ij")
    none = np.zeros(1)
    return Kinds(
        np.zeros(size.size + 1),
        np.append(none, size),
        np.append(np.zeros(1, dtype=np.int64), began),
        np.append(none, part),
    )


def _without_shocks(information: Floats, pull: Floats, w: float) -> tuple[Floats, Floats, Floats]:
    """Information (v, s, s) and pull (v, s) of the level, shocks of spread ``w`` integrated out, and the log
    evidence of a level of none (v,)."""
    inside = np.eye(pull.shape[1]) + w**2 * information
    solved = np.linalg.solve(inside, np.concatenate([information, pull[..., None]], axis=2))
    left, pulled = solved[..., :-1], solved[..., -1]
    base = 0.5 * w**2 * (pull * pulled).sum(axis=1) - 0.5 * np.linalg.slogdet(inside)[1]
    return left, pulled, base


def _before_vehicles() -> tuple[Floats, Floats]:
    """How common each spread of shocks is, and no change and a change, before a vehicle is seen."""
    shock = np.where(SHOCKS == 0, QUIET_VEHICLES, RESTLESS_VEHICLES / (len(SHOCKS) - 1))
    change = np.array([QUIET_VEHICLES, RESTLESS_VEHICLES])
    return shock / shock.sum(), change / change.sum()


def _prior_weights(kinds: Kinds, of_shock: Floats, of_change: Floats) -> Floats:
    """Weight of each explanation before the readings, (e,): every season of a change is equally likely."""
    changes = kinds.size > 0
    seasons = max(int((changes & (kinds.shock == 0)).sum()), 1)
    level = np.searchsorted(SHOCKS, kinds.shock)
    return np.asarray(of_shock[level] * np.where(changes, of_change[1] / seasons, of_change[0]))


def _weighed(
    kinds: Kinds, evidence: Floats, change: Floats, change_var: Floats, sensed: Sensitivity
) -> Explanations:
    """Weights of the explanations, and how common each kind of them is, in turn."""
    changes = kinds.size > 0
    level = np.searchsorted(SHOCKS, kinds.shock)
    of_shock, of_change = _before_vehicles()
    likelihood = np.exp(evidence - evidence.max(axis=1, keepdims=True))
    informed = np.abs(evidence).max(axis=1) > SAYS_NOTHING
    counted = QUIET_VEHICLES + RESTLESS_VEHICLES
    prior_shock, prior_change = counted * of_shock, counted * of_change
    for _ in range(ROUNDS):
        weight = likelihood * _prior_weights(kinds, of_shock, of_change)
        weight /= weight.sum(axis=1, keepdims=True)
        total = weight[informed].sum(axis=0)
        of_shock = np.bincount(level, total, len(SHOCKS)) + prior_shock
        of_change = np.array([total[~changes].sum(), total[changes].sum()]) + prior_change
        of_shock, of_change = of_shock / of_shock.sum(), of_change / of_change.sum()
    found = Explanations(kinds, evidence, weight, change, change_var, np.zeros(sensed.severity.shape))
    return replace(found, severity=_mean_severity(found, sensed))


def _mean_severity(found: Explanations, sensed: Sensitivity) -> Floats:
    """Mean of the log of each season's factor over the explanations, shape (v, s)."""
    s = sensed.severity.shape[1]
    pull, pattern = sensed.pull, found.kinds.pattern(s)
    out = np.zeros(sensed.severity.shape)
    for w in SHOCKS:
        of = found.kinds.shock == w
        change = (found.weight[:, of] * found.change[:, of]) @ pattern[of]
        out += change
        if w > 0:
            weight = found.weight[:, of].sum(axis=1)
            rest = weight[:, None] * pull - (sensed.information @ change[..., None])[..., 0]
            inside = np.eye(s) + w**2 * sensed.information
            out += w**2 * np.linalg.solve(inside, rest[..., None])[..., 0]
    return out
