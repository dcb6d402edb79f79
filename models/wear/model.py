"""The pooled wear model: families learned together, shapes averaged, every life forecast with its doubt.

Steps: scale (``relative``), learn the priors from the families (``hyper``), find wild readings (``wild``),
fit every family under every shape (``family_fit``), weigh the shapes (``shape_weights``), carry every life's
level and rate to its last reading (``life_states``), and mix (``mixture``).
"""

from dataclasses import replace
from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from models.lives.table import Lives
from models.wear.estimator import Forecaster
from models.wear.family_fit import ROUNDS
from models.wear.hyper import learn_priors
from models.wear.known import Known
from models.wear.level_filter import level_filter
from models.wear.life_states import Nodes, best_nodes, last_distance, life_states, mean_node, with_memory
from models.wear.mixture import (
    FEW_WEAR_POINTS,
    PAIRS_AT_ONCE,
    WEAR_POINTS,
    Component,
    component,
    crossing_quantiles,
    in_runs_of_lives,
    reading_quantiles,
)
from models.wear.place_memory import learn_memory, life_rates, remembered
from models.wear.posterior import put_families, take_families
from models.wear.priors import Priors
from models.wear.rate_covariates import Effect, screen
from models.wear.relative import (
    Relative,
    Straightened,
    fresh_lives,
    keep_lives,
    put_lives,
    relative,
    straighten,
    take_lives,
)
from models.wear.shape_fits import (
    SCREEN_LIVES,
    Fit,
    fit_one,
    fit_shapes,
    look_at_shapes,
    look_closer,
    refine,
)
from models.wear.shape_weights import shape_weights, weights_of
from models.wear.shapes import FEW, SHAPES, STRAIGHT
from models.wear.shared_prior import Summary, Told, before_readings, mixed_shapes, summarise, with_told
from models.wear.threads import in_threads
from models.wear.wild import chance_wild, deletion_residuals, noise_of_wild

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Memory = tuple[Floats, Floats]

HYPER_FAMILIES = 48
"""Families that the priors are learned from; more teach nothing new."""
PAIRS = 400_000
"""Pairs of a life and a node that a forecast may use in all: small stores keep every node, large ones the
heaviest."""
NODES = (4, 16)
"""Least and most nodes of a family's posterior, under each shape; 16 move the quantiles by 0.005 of the
interval from 10 to 90 % against 40."""
NOTICEABLE = 0.05
"""Change of a reading's chance to be wild that makes its family worth another fit."""
MANY_WILD = 0.02
"""Share of wild readings above which the priors, too, are learned anew without them."""
SPREAD, SPREAD_OF_WILD = 1.04, 2.0
"""Factor on the normal scores of the quantiles, and what each wild reading of all adds to it. The nodes do
not carry all doubt about the parameters, none about the model itself, and none about which readings are
wild: on simulated fleets of eight lives the 80 % interval covered 79 to 80 % without, 81 % with it; with one
reading of twenty wild 74 and 80 %."""
LEAST_SHARE = 0.005
"""A shape that counts for less in a family is left out there."""


class PooledWear(Forecaster):
    """The wear model behind the one interface.

    Parameters
    ----------
    shapes : average over the shapes of wear; False: straight wear only.
    wild_rounds : passes that look for wild readings; 0: every reading is believed.
    learn : learn the priors' centres and spreads from the families; False: as assumed.
    priors : the priors assumed; None: those of :class:`models.wear.family_fit.Priors`.
    known : what was learned beforehand from other families; it stands as it is, and nothing is learned across
        the families at hand.
    told : what other railways say of the families, by their number in the lives given.

    Attributes
    ----------
    relative_ : the lives in relative units, with the noise of wild readings.
    priors_, common_priors_ : the priors used, and those of families of which nobody told anything.
    fits_ : one fit a shape.
    evidence_, shape_weight_, shape_prior_ : shape (s, f).
    wild_ : shape (n, k), lives in the order of ``relative_``. Chance that a reading is wild.
    wild_share_ : share of wild readings learned.
    effects_ : differences of the rate within families that were kept, families numbered as in ``relative_``.
    memory_share_ : share of the variance of rates that belongs to the position.
    deletion_ : each reading against the others, or None.
    components_ : the mixture.
    """

    def __init__(
        self,
        shapes: bool = True,
        wild_rounds: int = 2,
        learn: bool = True,
        priors: Priors | None = None,
        known: Known | None = None,
        told: Told | None = None,
    ) -> None:
        self.shapes = shapes
        self.wild_rounds = wild_rounds
        self.learn = learn
        self.priors = priors
        self.known = known
        self.told = told

    def fit(
        self,
        lives: Lives,
        quantity: Ints | None = None,
        forecast: Ints | None = None,
        covariates: pd.DataFrame | None = None,
    ) -> Self:
        """Learn from the lives.

        Parameters
        ----------
        lives : n lives of one or more families.
        quantity : shape (lives.n_families,), optional. Families of one number measure one quantity and learn
            the shape of wear from each other first; all are one quantity if not given.
        forecast : rows of the lives that will be asked about; all if not given.
        covariates : a row a life, texts that may tell its rate (:mod:`models.wear.rate_covariates`); none if
            not
            given.
        """
        rel = relative(lives)
        self.quantity_ = (
            np.zeros(len(rel.starts), dtype=np.int64) if quantity is None else quantity[rel.family]
        )
        self.wild_, self.wild_share_ = np.zeros(rel.w.shape), 0.0
        self.row_of_ = np.empty(len(rel.order), dtype=np.int64)
        self.row_of_[rel.order] = np.arange(len(rel.order))
        if covariates is not None:
            covariates = covariates.iloc[rel.order].reset_index(drop=True)
        rel = self._fit_and_look(rel, covariates)
        self.relative_ = rel
        asked = np.ones(len(rel.order), dtype=bool)
        if forecast is not None:
            asked[:] = False
            asked[self.row_of_[forecast]] = True
        self.memory_share_, memory = self._remember(rel)
        self.components_ = self._components(rel, np.arange(len(rel.starts)), asked, memory)
        return self

    def predict_remaining(self, probabilities: ArrayLike) -> Floats:
        """Quantiles of remaining miles; see :class:`models.wear.estimator.Forecaster`."""
        return self.remaining(np.asarray(probabilities, float))[0]

    def remaining(self, probabilities: Floats, life: Ints | None = None) -> tuple[Floats, Floats]:
        """Remaining miles of lives (all if none are named): quantiles (n, p) [mi], chance that the limit was
        reached (n,)."""
        rel = self.relative_
        rows, back = self._rows(life)
        scores = self._scores(probabilities)
        quantiles, before = np.empty((len(rows), len(probabilities))), np.empty(len(rows))

        def run(part: tuple[list[Component], slice]) -> None:
            components, where = part
            quantiles[where], before[where] = crossing_quantiles(components, rel.as_of[rows[where]], scores)

        in_threads(run, in_runs_of_lives(self.components_, rows))
        return (quantiles * rel.per_life(rel.life)[rows][:, None])[back], before[back]

    def predict_readings(self, miles: ArrayLike, probabilities: ArrayLike) -> Floats:
        """Quantiles of later readings; see :class:`models.wear.estimator.Forecaster`."""
        return self.wear_ahead(np.asarray(miles, float), np.asarray(probabilities, float), with_gauge=True)

    def wear_ahead(
        self,
        miles: Floats,
        probabilities: Floats,
        *,
        with_gauge: bool,
        life: Ints | None = None,
        nodes: int = NODES[1],
    ) -> Floats:
        """Quantiles of the wear of lives at later miles, (n, q, p), with or without the gauge's error.

        ``nodes`` : most nodes under each shape; a picture needs fewer.
        """
        rel = self.relative_
        mixture = [c.heaviest(nodes) for c in self.components_] if nodes < NODES[1] else self.components_
        scores = self._scores(probabilities)
        points = FEW_WEAR_POINTS if nodes < NODES[1] else WEAR_POINTS
        rows, back = self._rows(life)
        order = np.argsort(back, kind="stable")  # asked row of each sorted one
        asked = miles[order] / rel.per_life(rel.life)[rows][:, None]
        out = np.empty((*asked.shape, len(probabilities)))

        def run(part: tuple[list[Component], slice]) -> None:
            components, where = part
            here = np.nan_to_num(asked[where])
            out[where] = reading_quantiles(components, here, scores, with_gauge, points)

        in_threads(run, in_runs_of_lives(mixture, rows, PAIRS_AT_ONCE // 8))
        out *= rel.per_life(rel.allowance)[rows][:, None, None]
        return np.asarray(np.where(np.isfinite(asked)[..., None], out, np.nan)[back])

    def new_lives(self, family: Ints, limit: Floats, probabilities: Floats) -> Floats:
        """Miles from new to the limit of the next part, (n, p), by family and limit as the lives gave them.
        [mi]"""
        pairs, back = np.unique(np.stack([family, limit]), axis=1, return_inverse=True)
        rel = self.relative_
        number = np.searchsorted(rel.family, pairs[0].astype(np.int64))
        chosen, starts = np.unique(number, return_index=True)
        fresh = fresh_lives(
            rel, chosen, np.diff(np.append(starts, len(number))), pairs[1] / rel.allowance[number]
        )
        components = self._components(fresh, chosen, np.ones(len(number), dtype=bool))
        rows, scores = np.arange(len(number)), self._scores(probabilities)
        out = np.empty((len(rows), len(probabilities)))

        def run(part: tuple[list[Component], slice]) -> None:
            parts, where = part
            out[where] = crossing_quantiles(parts, fresh.as_of[where], scores)[0]

        in_threads(run, in_runs_of_lives(components, rows))
        return np.asarray((out * rel.life[number][:, None])[back.ravel()])

    def summary(self) -> Summary:
        """What the readings say of every family, to be told to others; families in the order of
        ``relative_``."""
        fits = [(fit.shape, fit.factor, fit.posterior) for fit in self.fits_]
        before = before_readings(self.priors_, self.relative_)
        return summarise(fits, self.shape_weight_, self.relative_, before)

    def _scores(self, probabilities: Floats) -> Floats:
        """Normal scores of the quantiles, spread for what the mixture does not carry."""
        return np.asarray((SPREAD + SPREAD_OF_WILD * self.wild_share_) * ndtri(probabilities))

    def _rows(self, life: Ints | None) -> tuple[Ints, Ints]:
        """Rows of the relative lives in increasing order, and the place of each asked life among them."""
        rows = self.row_of_ if life is None else self.row_of_[life]
        sorted_rows, back = np.unique(rows, return_inverse=True)
        return sorted_rows, back

    def _fit_and_look(self, rel: Relative, covariates: pd.DataFrame | None) -> Relative:
        """Fit; look for wild readings; fit anew where some were found. The relative lives with their final
        noise."""
        base = rel.noise
        every = np.arange(len(rel.starts))
        self.priors_ = self._priors_of_families(rel)
        self.effects_: list[Effect] = []
        self._straight: Fit | None = None
        if covariates is not None:
            rel = replace(rel, offset=self._screen(rel, covariates))
        self.fits_: list[Fit] = []
        self._fit_shapes(rel, every)
        for _ in range(self.wild_rounds):
            before = self.wild_
            self._check_readings(rel, base)
            self.wild_, self.wild_share_ = chance_wild(
                self.deletion_, None if self.known is None else self.known.wild_share
            )
            changed = np.asarray((np.abs(self.wild_ - before) > NOTICEABLE).any(axis=1))
            if not changed.any():
                return rel
            rel = replace(rel, noise=base * noise_of_wild(self.wild_))
            if self.wild_share_ > MANY_WILD and self.known is None:
                self.priors_, changed[:] = self._priors_of_families(rel), True
            self._fit_shapes(rel, np.unique(np.repeat(every, rel.sizes)[changed]))
        self._check_readings(rel, base)
        return rel

    def _priors_of_families(self, rel: Relative) -> Priors:
        """What is assumed of each family before its readings; the same of all unless others told of it."""
        self.common_priors_ = self._learn_priors(rel)
        if self.told is None:
            return self.common_priors_
        return with_told(self.common_priors_, self.told.take(rel.family), rel)

    def _learn_priors(self, rel: Relative) -> Priors:
        if self.known is not None:
            return self.known.priors
        assumed = self.priors or Priors()
        if not self.learn:
            return assumed
        some = np.unique(np.linspace(0, len(rel.starts) - 1, HYPER_FAMILIES).round().astype(int))
        part = take_lives(rel, SCREEN_LIVES, some)
        fits = fit_shapes(part, assumed, FEW if self.shapes else (STRAIGHT,))
        weight, _ = shape_weights(
            np.stack([f.evidence for f in fits]), self.quantity_[some], tuple(f.shape for f in fits)
        )
        points = [f.posterior.points for f in fits if f.posterior.points is not None]
        return learn_priors(points, weight, part.gauge, assumed)

    def _fit_shapes(self, rel: Relative, families: Ints) -> None:
        """Fit the named families anew, under every shape, and weigh the shapes."""
        part = take_lives(rel, SCREEN_LIVES, families)
        begin = [(f.posterior.centre[:, families], f.posterior.step[:, families]) for f in self.fits_]
        shapes = SHAPES if self.shapes else (STRAIGHT,)
        known = None if begin else self._straight
        fits = look_at_shapes(part, self.priors_.of(families), shapes, begin, known)
        if len(families) < len(rel.starts):
            fits = [old.with_families(new, families) for old, new in zip(self.fits_, fits, strict=True)]
        self.evidence_ = np.stack([f.evidence for f in fits])
        fits = look_closer(rel, families, fits, self._weigh_shapes(rel)[0], self.priors_)
        self.evidence_ = np.stack([f.evidence for f in fits])
        self.fits_ = fits
        self.shape_weight_, self.shape_prior_ = self._weigh_shapes(rel)
        self.fits_ = refine(rel, families, self.fits_, self.shape_weight_, self.priors_)

    def _weigh_shapes(self, rel: Relative) -> tuple[Floats, Floats]:
        used = SHAPES[: len(self.evidence_)]
        if self.known is not None:
            prior = self.known.shape_prior[:, rel.family]
            weight = weights_of(self.evidence_, prior)
        else:
            weight, prior = shape_weights(self.evidence_, self.quantity_, used)
        if self.told is not None and self.shapes:
            prior = mixed_shapes(prior, self.told.take(rel.family))
            weight = weights_of(self.evidence_, prior)
        return weight, prior

    def _check_readings(self, rel: Relative, base: Floats) -> None:
        """Each reading against the others, under the heaviest shape of its family."""
        data, nodes = self._under_heaviest(rel)
        self.deletion_ = deletion_residuals(data, nodes, base * (data.noise / rel.noise))

    def _under_heaviest(self, rel: Relative) -> tuple[Straightened, Nodes]:
        """All lives on the straight scale of their family's heaviest shape, with one node a life."""
        best = self.shape_weight_.argmax(axis=0)
        straight = self.fits_[0]
        data, posterior = straighten(rel, STRAIGHT, straight.factor), straight.posterior
        for i in np.unique(best[best > 0]):
            fit, rows = self.fits_[i], np.repeat(best == i, rel.sizes)
            part, some = keep_lives(rel, rows)
            data = put_lives(data, straighten(part, fit.shape, fit.factor[some]), rows, some)
            posterior = put_families(posterior, take_families(fit.posterior, some), some)
        return data, mean_node(posterior, rel)

    def _screen(self, rel: Relative, covariates: pd.DataFrame) -> Floats | None:
        """Offsets of the lives' rates by what their positions have in common; None where nothing pays."""
        found = fit_one(take_lives(rel, SCREEN_LIVES), STRAIGHT, self.priors_, None, ROUNDS)
        every = straighten(rel, STRAIGHT, found.factor)
        nodes = mean_node(found.posterior, rel)
        rates = life_rates(
            level_filter(every.u, every.z, every.noise, nodes.q, every.clock, every.jump), nodes
        )
        number = np.repeat(np.arange(len(rel.starts)), rel.sizes)
        offset, self.effects_ = screen(rates, number, covariates)
        if self.effects_:
            return offset
        self._straight = found  # nothing changes: this is the fit of straight wear
        return None

    def _remember(self, rel: Relative) -> tuple[float, Memory | None]:
        """What the other lives at its place say of each life's rate; under the heaviest shape of its
        family."""
        if rel.place is None or not (np.bincount(rel.place) > 1).any():
            return 0.0, None
        data, nodes = self._under_heaviest(rel)
        stats = level_filter(data.u, data.z, data.noise, nodes.q, data.clock, data.jump)
        rates = life_rates(stats, nodes)
        share = learn_memory(rates, rel.place) if self.known is None else self.known.memory_share
        return share, remembered(rates, rel.place, share)

    def _components(
        self, rel: Relative, families: Ints, asked: Bools, memory: Memory | None = None
    ) -> list[Component]:
        """The mixture of the lives asked for; ``rel`` holds lives of the named families."""
        part, kept = keep_lives(rel, asked)
        families = families[kept]
        weight = self.shape_weight_[:, families]
        share = np.where(weight < LEAST_SHARE, 0.0, weight)
        share = part.per_life(share / share.sum(axis=0))
        few = np.clip(PAIRS / max(int(np.count_nonzero(share)), 1), *NODES)
        most = int(few) if self.known is None else self.known.nodes
        rows = np.flatnonzero(asked)

        def run(item: tuple[Fit, Floats]) -> Component | None:
            fit, wanted = item
            here = wanted > 0
            if not here.any():
                return None
            own, some = keep_lives(part, here)
            data = straighten(own, fit.shape, fit.factor[families[some]])
            nodes = best_nodes(take_families(fit.posterior, families[some]), own, most)
            if memory is not None:
                nodes = with_memory(nodes, *(x[rows[here]] for x in memory))
            stats = level_filter(data.u, data.z, data.noise, nodes.q, data.clock, data.jump)
            states = life_states(stats, nodes, last_distance(data))
            found = component(own, fit.shape, data, nodes, states, wanted[here])
            return replace(found, life=rows[here][found.life])

        found = in_threads(run, zip(self.fits_, share, strict=True))
        return [c for c in found if c is not None]
