"""The pooled wear model: families learned together, shapes averaged, every life forecast with its doubt.

How it is fitted, step by step, stands in :mod:`models.wear.fit_steps`; what it then says of a life is read
from a mixture (:mod:`models.wear.mixture`).
"""

from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from models.lives.table import Lives
from models.wear.estimator import Forecaster
from models.wear.fit_steps import (
    NODES,
    assumed_priors,
    checked_readings,
    mixture_of,
    scale_lives,
    screened_rates,
)
from models.wear.fitted import Remembered, Settings
from models.wear.heaviest import rates_of, remembered_places, with_rate_law
from models.wear.mixture import (
    FEW_WEAR_POINTS,
    FINE_POINTS,
    GRID_POINTS,
    PAIRS_AT_ONCE,
    WEAR_POINTS,
    Component,
    crossing_quantiles,
    for_runs_of_lives,
    reading_quantiles,
)
from models.wear.mixture_draws import draw_paths
from models.wear.priors import Known, Priors
from models.wear.relative import fresh_lives, readings_alone
from models.wear.shapes import either_way
from models.wear.shared_prior import FromOthers, Summary, before_readings, summarise

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FEW_LIVES = 4000
"""Lives of a store up to which the quantiles are computed at ``FINE_POINTS`` distances."""
SPREAD, SPREAD_OF_WILD = 1.04, 0.7
"""Factor on the normal scores of the quantiles, and what each wild reading of all adds to it. The nodes do
not carry all doubt about the parameters, none about the model itself, and little about what wild readings
make of a family. Chosen on the fleets of ``tests/fleets/simulate.py``; nothing derives it
(``models/wear/README.md``: what the intervals hold)."""
SPREAD_OF_BEND = 0.7
"""What is added where readings leave it open whether wear slows down or accelerates
(:func:`models.wear.shapes.either_way`): how many families do either is learned from few readings too.
Chosen on 24 fleets of mixed shapes, confirmed on 20 others (``models/wear/README.md``); nothing derives
it."""


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
    from_others : what other railways say of the families, by their number in the lives given.

    Attributes
    ----------
    relative_ : the lives in relative units, with the noise of wild readings.
    priors_ : the priors of the last fit.
    row_of_ : shape (n,). Row in ``relative_`` of each life as it was given.
    fits_ : one fit a shape.
    shape_weight_, shape_prior_ : shape (s, f). Weight of each shape after and before the readings.
    wild_ : shape (n, k), lives in the order of ``relative_``. Chance that a reading is wild.
    wild_share_ : share of wild readings learned.
    departed_ : shape (n,), lives in the order of ``relative_``. Chance that a life has left its family's way
        of wearing and wears faster and faster.
    own_shapes_ : shapes of lives that have, each with its weight in every life, shape (n,).
    effects_ : differences of the rate within families that were kept, families numbered as in ``relative_``.
    memory_share_ : share of the variance of rates that belongs to the position.
    deletion_ : each reading against the others.
    components_ : the mixture.

    Examples
    --------
    Three bearings of one family, wear in mm, to be renewed at 1 mm. The miles left with a chance of one in
    ten, one in two and nine in ten, and what the first will read 10,000 miles on:

    >>> import numpy as np
    >>> from models.lives.table import Lives
    >>> miles = np.array([[4000.0, 9000, 15_000], [5000.0, 11_000, 14_000], [3000.0, 8000, 16_000]])
    >>> wear = np.array([[0.11, 0.22, 0.39], [0.09, 0.23, 0.27], [0.09, 0.20, 0.42]])
    >>> lives = Lives(
    ...     family=np.zeros(3, dtype=int), miles=miles, wear=wear, limit=np.ones(3),
    ...     gauge_sd=np.full((3, 3), 0.01), as_of_miles=miles[:, -1], day=miles,
    ...     ended=np.zeros(3, dtype=bool),
    ... )
    >>> from models.wear.model import PooledWear
    >>> model = PooledWear().fit(lives)
    >>> model.predict_remaining([0.1, 0.5, 0.9]).round(-3)
    array([[18000., 24000., 31000.],
           [26000., 35000., 47000.],
           [17000., 23000., 29000.]])
    >>> model.predict_readings(miles[:, -1:] + 10_000, [0.1, 0.5, 0.9])[0].round(2)
    array([[0.58, 0.64, 0.72]])
    """

    def __init__(
        self,
        shapes: bool = True,
        wild_rounds: int = 2,
        learn: bool = True,
        priors: Priors | None = None,
        known: Known | None = None,
        from_others: FromOthers | None = None,
    ) -> None:
        self.shapes = shapes
        self.wild_rounds = wild_rounds
        self.learn = learn
        self.priors = priors
        self.known = known
        self.from_others = from_others

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
        covariates : a row a life, texts that may say something of its rate
            (:mod:`models.laws.rate_covariates`); none if not given.
        """
        super().fit(lives, quantity)
        settings = self._settings()
        scaled = scale_lives(lives, quantity, forecast)
        priors = assumed_priors(scaled.rel, scaled.quantity, settings)
        screened = screened_rates(scaled, priors, covariates)
        checked = checked_readings(screened, priors, scaled.quantity, settings)
        rates = rates_of(checked.rel, checked.shaped)
        memory = remembered_places(checked, rates, self.known)
        families = np.arange(len(checked.rel.starts))
        self.shaped_ = shaped = with_rate_law(checked.shaped, rates, checked.rel)
        self.components_ = mixture_of(
            shaped, checked.rel, families, scaled.asked, memory, self._most_nodes(), checked.departed,
            checked.doubted,
        )  # fmt: skip
        self.departed_ = checked.departed.chance
        self.own_shapes_ = checked.departed.shapes()
        self.relative_, self.row_of_ = readings_alone(checked.rel), scaled.row_of
        self.priors_, self.effects_, self.memory_share_ = checked.priors, screened.effects, memory.share
        read = slice(None, None if checked.rel.worn is None else -1)
        self.deletion_, self.wild_ = checked.deletion.of(read), checked.wild[:, read]
        self.wild_share_ = checked.wild_share
        self.fits_, self.shape_weight_, self.shape_prior_ = shaped.fits, shaped.weight, shaped.prior
        self.spread_ = checked.rel.per_life(self._spread(shaped.weight))
        return self

    def wear_paths(self, miles: Floats, draws: int, rng: np.random.Generator) -> Floats:
        """Paths drawn from the mixture; see :class:`models.wear.estimator.Forecaster`."""
        rel, row = self.relative_, self.row_of_
        distance = np.empty_like(miles)
        distance[row] = miles / rel.per_life(rel.life)[row][:, None]
        wear = draw_paths(self.components_, distance, draws, rng, self.spread_)
        return np.asarray(wear[:, row] * rel.per_life(rel.allowance)[row][:, None])

    def reading_sd(self) -> Floats:
        """Gauge error of each life, as learned; see :class:`models.wear.estimator.Forecaster`."""
        rel, row = self.relative_, self.row_of_
        variance = np.zeros(len(row))
        for c in self.components_:
            np.add.at(variance, c.life, c.weight * c.sigma2)
        return np.asarray((np.sqrt(variance) * rel.per_life(rel.allowance))[row])

    def predict_remaining(self, probabilities: ArrayLike) -> Floats:
        """Quantiles of remaining miles; see :class:`models.wear.estimator.Forecaster`."""
        return self.remaining(np.asarray(probabilities, float))[0]

    def remaining(self, probabilities: Floats, life: Ints | None = None) -> tuple[Floats, Floats]:
        """Remaining miles of lives (all if none are named): quantiles (n, p) [mi], chance that the limit was
        reached (n,)."""
        rel = self.relative_
        rows, back = self._rows(life)
        scores = self.spread_[rows][:, None] * ndtri(probabilities)
        quantiles, before = np.empty((len(rows), len(probabilities))), np.empty(len(rows))

        def run(components: list[Component], where: slice) -> None:
            quantiles[where], before[where] = crossing_quantiles(
                components, rel.as_of[rows[where]], scores[where], self._grid_points()
            )

        for_runs_of_lives(run, self.components_, rows)
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
        points = FEW_WEAR_POINTS if nodes < NODES[1] else WEAR_POINTS
        rows, back = self._rows(life)
        order = np.argsort(back, kind="stable")  # asked row of each sorted one
        asked = miles[order] / rel.per_life(rel.life)[rows][:, None]
        out = np.empty((*asked.shape, len(probabilities)))
        scores = self.spread_[rows][:, None] * ndtri(probabilities)

        def run(components: list[Component], where: slice) -> None:
            distance = np.nan_to_num(asked[where])
            out[where] = reading_quantiles(components, distance, scores[where], with_gauge, points)

        for_runs_of_lives(run, mixture, rows, PAIRS_AT_ONCE // 8)
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
        every_life = np.ones(len(number), dtype=bool)
        components = mixture_of(self.shaped_, fresh, chosen, every_life, Remembered(0.0), self._most_nodes())
        rows = np.arange(len(number))
        scores = self._spread(self.shape_weight_[:, number])[:, None] * ndtri(probabilities)
        out = np.empty((len(rows), len(probabilities)))

        def run(parts: list[Component], where: slice) -> None:
            out[where] = crossing_quantiles(parts, fresh.as_of[where], scores[where], self._grid_points())[0]

        for_runs_of_lives(run, components, rows)
        return np.asarray((out * rel.life[number][:, None])[back.ravel()])

    def summary(self) -> Summary:
        """What the readings say of every family, for other railways; families in the order of
        ``relative_``."""
        before = before_readings(self.priors_, self.relative_)
        return summarise(self.fits_, self.shape_weight_, self.relative_, before)

    def _spread(self, weight: Floats) -> Floats:
        """Factor on the normal scores, shape (n,), from the weights of the shapes (s, n)."""
        return SPREAD + SPREAD_OF_WILD * self.wild_share_ + SPREAD_OF_BEND * either_way(weight)

    def _grid_points(self) -> int:
        """Distances at which chances are computed: more where the lives are few."""
        few = self.known is None and len(self.row_of_) <= FEW_LIVES
        return FINE_POINTS if few else GRID_POINTS

    def _rows(self, life: Ints | None) -> tuple[Ints, Ints]:
        """Rows of the relative lives in increasing order, and the place of each asked life among them."""
        rows = self.row_of_ if life is None else self.row_of_[life]
        sorted_rows, back = np.unique(rows, return_inverse=True)
        return sorted_rows, back

    def _settings(self) -> Settings:
        return Settings(self.shapes, self.wild_rounds, self.learn, self.priors, self.known, self.from_others)

    def _most_nodes(self) -> int | None:
        return None if self.known is None else self.known.nodes
