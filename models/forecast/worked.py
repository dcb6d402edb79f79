"""The results of a forecast before they are put into tables and words."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.combined.combine import Combination, alone, combine
from models.combined.weights import GRID, Evidence
from models.distribution import PROBABILITIES
from models.forecast.explain import kind_weights_of
from models.forecast.from_renewals import with_renewals
from models.forecast.if_true import with_odd_last
from models.forecast.recalibrate import stretch_of, stretched_readings, stretched_remaining
from models.forecast.wear_now import WearNow, at_pace, wear_now
from models.futures.over_futures import LEVELS
from models.gauges.fit_alike import FittedAlike, fit_alike
from models.gauges.gauges_read import GaugesRead
from models.laws.rate_covariates import covariates_of_positions
from models.lifetimes.on_record import Renewals
from models.lives.materials import material_of_points
from models.lives.table import LifeTable, Lives
from models.lives.wear_scale import WearScale
from models.seasons.in_turn import fit_shared
from models.seasons.shared import Shared
from models.wear.fit_steps import NODES
from models.wear.fleet_pool import Sources
from models.wear.model import PooledWear
from models.wear.priors import Known, Learned
from models.wear.shared_prior import FromOthers, part_keys

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NOTHING = Evidence(0, np.ones(len(GRID)))
"""Of a quantity that the track record does not hold."""


@dataclass(frozen=True)
class Worked:
    """What the frames are made from: f wear points that can be forecast.

    Attributes
    ----------
    table : the lives of all wear points.
    shared : the wear model, fitted to them, and what the parts of each vehicle share.
    point, life : shape (f,). Row of the wear point, and of its life in service in ``table.lives``.
    remaining : shape (f, 33). Quantiles at ``models.distribution.PROBABILITIES``. [mi]
    beyond : shape (f,). Chance that the limit was reached before as-of. [1]
    kinds : shape (f, kinds). Weight of each kind of shape (``models.wear.shapes.KINDS``) in the family. [1]
    wear_now : wear at as-of.
    stretch : shape (f,). Factor on the intervals from the track record; 1: none.
    alike : what was found of the gauges.
    given : shape (f,). Remaining miles in each future of the vehicle, one after the other, at
        ``models.futures.over_futures.LEVELS``; empty where the parts of the vehicle share nothing. [mi]
    combination : the forecaster beside the wear model, and its weights.
    """

    table: LifeTable
    shared: Shared
    point: Ints
    life: Ints
    remaining: Floats
    beyond: Floats
    kinds: Floats
    wear_now: WearNow
    stretch: Floats
    alike: FittedAlike
    given: list[Floats]
    combination: Combination

    @property
    def model(self) -> PooledWear:
        """The wear model, on the effective miles of the vehicles' seasons."""
        return self.shared.model

    def quantile(self, probability: float) -> Floats:
        """Remaining miles at one of the stored probabilities, shape (f,). [mi]"""
        return np.asarray(self.remaining[:, int(np.flatnonzero(probability == PROBABILITIES)[0])])

    def alone(self) -> Floats:
        """Remaining miles by the wear model alone, without stretch and rival, (f, 33). [mi]"""
        said = self.model.remaining(PROBABILITIES, self.life)
        return self.shared.in_miles(self.life, *said)[0]

    def readings_ahead(self, miles: Floats, probabilities: Floats) -> Floats:
        """Quantiles of readings taken later, by the same forecast as the remaining miles, (f, q, p).

        Parameters
        ----------
        miles : shape (f, q). Miles since the life in service began. [mi] NaN: not asked
        probabilities : shape (p,), one half among them. [1]
        """
        said = self.wear_ahead(miles, probabilities, gauge=True)
        middle = said[..., int(np.flatnonzero(probabilities == 0.5)[0])]
        return stretched_readings(said, middle, np.broadcast_to(self.stretch[:, None], middle.shape))

    def wear_ahead(
        self, miles: Floats, probabilities: Floats, *, gauge: bool, nodes: int = NODES[1]
    ) -> Floats:
        """Quantiles of the wear at later miles, forecasters together, without stretch, (f, q, p).

        Parameters
        ----------
        miles, probabilities : as :meth:`readings_ahead` takes them.
        gauge : with the gauge's error.
        nodes : as :meth:`models.seasons.shared.Shared.wear_ahead` takes it.
        """
        every = np.arange(len(self.life))
        said = self.alone_ahead(miles, probabilities, every, gauge=gauge, nodes=nodes)
        rows = self.combination.asked
        if not len(rows):
            return said

        def wear(at: Floats, asked: Ints) -> Floats:
            return self.alone_ahead(miles[asked], at, asked, gauge=gauge, nodes=nodes)

        said[rows] = self.combination.wear_ahead(wear, miles, probabilities, gauge=gauge)
        return said

    def alone_ahead(
        self, miles: Floats, probabilities: Floats, rows: Ints, *, gauge: bool, nodes: int = NODES[1]
    ) -> Floats:
        """As :meth:`wear_ahead`, by the wear model alone, for some rows of the wear points."""
        out = np.full((*miles.shape, len(probabilities)), np.nan)
        some = np.isfinite(miles).any(axis=1)
        if some.any():
            life = self.life[rows[some]]
            out[some] = self.shared.wear_ahead(
                miles[some], probabilities, with_gauge=gauge, life=life, nodes=nodes
            )
        return out


@dataclass(frozen=True)
class Given:
    """What every fit of the wear model to these wear points gets beside its lives.

    Attributes
    ----------
    known, from_others : as :class:`models.wear.model.PooledWear` takes them.
    quantity : shape (families,). What each family measures.
    places : a row a life, what its position says, and the material of the part.
    """

    known: Known | None
    from_others: FromOthers | None
    quantity: Ints
    places: pd.DataFrame

    def fit(self, lives: Lives, forecast: Ints) -> PooledWear:
        """The model of all lives, of which some will be asked about."""
        model = PooledWear(known=self.known, from_others=self.from_others)
        return model.fit(lives, self.quantity, forecast=forecast, covariates=self.places)

    def fit_then(self, lives: Lives, row: Ints) -> PooledWear:
        """The model of lives as they were, which are these rows of them all."""
        model = PooledWear(known=self.known, from_others=self.from_others)
        return model.fit(lives, self.quantity, covariates=self.places.iloc[row])


def work_out(
    table: LifeTable,
    tables: dict[str, pd.DataFrame],
    gauges: GaugesRead,
    renewals: Renewals | None = None,
    as_of: pd.Timestamp | None = None,
    *,
    learned: Learned | None = None,
    sources: Sources | None = None,
    stretch: pd.Series | None = None,
    record: dict[str, Evidence] | None = None,
) -> Worked | None:
    """Fit the wear model and ask it for the miles that are left, recalibrated by the track record; None where
    no wear point can be forecast.

    Parameters
    ----------
    table : lives of all wear points.
    gauges : the gauge of every reading of the lives.
    renewals : what the work tells of how far parts run.
    tables, as_of, learned, sources, stretch, record : as :func:`models.forecast.run.make_forecast` takes
        them.
    """
    point = np.flatnonzero(table.reason == "")
    if not len(point):
        return None
    life, scale = table.in_service[point], table.scale
    given = _given(table, tables, learned, sources, renewals, as_of)
    alike, shared = _fitted(given, table, tables, gauges, as_of, life)
    together = alone(life)
    if learned is None:  # one run of many is too large for rivals, which would depend on how runs are cut
        together = combine(alike.table.lives, scale.quantity, life, given.fit_then, _by_number(record, scale))
    factor = stretch_of(scale.family_name[scale.family[point]], stretch)
    effective, remaining, beyond = _remaining(shared, together, factor)
    wear = at_pace(wear_now(shared.model, life), *shared.pace(life))
    remaining, beyond = with_odd_last(remaining, beyond, shared.model, alike.table.lives, life, wear)
    return Worked(
        table=alike.table,
        shared=shared,
        point=point,
        life=life,
        remaining=remaining,
        beyond=beyond,
        kinds=kind_weights_of(shared.model, life),
        wear_now=wear,
        stretch=factor,
        alike=alike,
        given=_in_futures(shared, life, effective),
        combination=together,
    )


def _given(
    table: LifeTable,
    tables: dict[str, pd.DataFrame],
    learned: Learned | None,
    sources: Sources | None,
    renewals: Renewals | None,
    as_of: pd.Timestamp | None,
) -> Given:
    """What the fits get, from what a forecast is given."""
    scale = table.scale
    places = covariates_of_positions(tables["wear_points"]["position"])
    places = places.assign(material=material_of_points(tables, as_of))
    others = None if sources is None else sources.about(part_keys(scale.part))
    return Given(
        known=None if learned is None else learned.of(scale.quantity_name),
        from_others=with_renewals(table, renewals, others),
        quantity=scale.quantity,
        places=places.iloc[table.point],
    )


def _fitted(
    given: Given,
    table: LifeTable,
    tables: dict[str, pd.DataFrame],
    gauges: GaugesRead,
    as_of: pd.Timestamp | None,
    life: Ints,
) -> tuple[FittedAlike, Shared]:
    """The wear model fitted to gauges made alike, then to what the parts of each vehicle share."""
    alike = fit_alike(lambda lives: given.fit(lives, life), table, gauges, look=given.known is None)

    def fit_again(lives: Lives) -> PooledWear:
        return alike.in_doubt(given.fit(lives, life), lives)

    return alike, fit_shared(fit_again, alike.model, alike.table, tables["mileage"], as_of)


def _in_futures(shared: Shared, life: Ints, effective: Floats) -> list[Floats]:
    """Remaining miles of each life in each future of its vehicle by the wear model, from effective
    miles (f, 33).

    Where a rival counts too they still say which lives end together: draws take their order from here."""
    given = [np.empty(0)] * len(life)
    of = np.flatnonzero(shared.row_of(life) >= 0)
    if len(of):
        kept = effective[np.ix_(of, np.isin(PROBABILITIES, LEVELS))]
        for i, row in zip(of, shared.in_futures(life[of], kept), strict=True):
            given[i] = row.ravel()
    return given


def _remaining(shared: Shared, together: Combination, factor: Floats) -> tuple[Floats, Floats, Floats]:
    """Remaining effective miles of the wear model (f, 33), stretched; remaining miles (f, 33) and the chance
    that the limit was reached (f,): over the futures, with the rival where there is one, stretched."""
    life, half = together.lives_asked, PROBABILITIES == 0.5
    plain, reached = shared.model.remaining(PROBABILITIES, life)
    stretched = stretched_remaining(plain, plain[:, half][:, 0], factor)
    remaining, beyond = shared.in_miles(life, stretched, reached)
    rows = together.asked
    if len(rows):
        own = shared.in_miles(life[rows], plain[rows], reached[rows])
        both, beyond[rows] = together.remaining(*own, PROBABILITIES)
        remaining[rows] = stretched_remaining(both, both[:, half][:, 0], factor[rows])
    return stretched, remaining, beyond


def _by_number(record: dict[str, Evidence] | None, scale: WearScale) -> list[Evidence] | None:
    """What the record says of each quantity, by its number."""
    if record is None:
        return None
    _, first = np.unique(scale.quantity, return_index=True)
    return [record.get(str(name), NOTHING) for name in scale.quantity_name[first]]
