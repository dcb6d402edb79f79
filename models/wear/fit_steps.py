"""The steps by which the pooled wear model is fitted: each takes the result of the step before.

1. :func:`scale_lives`: lives in relative units (:class:`Scaled`).
2. :func:`assumed_priors`: what is assumed of every family before its readings (``Priors``).
3. :func:`screened_rates`: what the positions of a family have in common (:class:`Screened`).
4. :func:`fitted_shapes`: every family under every shape of wear, and the shapes' weights (:class:`Shaped`).
5. :func:`checked_readings`: each reading against the others; fitted anew without the wild ones
   (:class:`Checked`).
6. :func:`remembered_places`: what earlier parts at a place say of the rate (:class:`Remembered`).
7. :func:`mixture_of`: the forecast of every life as a mixture (a list of ``Component``).
"""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.lives.table import Lives
from models.wear.family_fit import ROUNDS
from models.wear.hyper import learn_priors
from models.wear.known import Known
from models.wear.level_filter import filter_lives
from models.wear.life_states import (
    Nodes,
    best_nodes,
    last_distance,
    life_states,
    mean_node,
    with_memory,
)
from models.wear.mixture import Component, component
from models.wear.place_memory import learn_memory, life_rates, remembered
from models.wear.posterior import put_families, take_families
from models.wear.priors import Priors
from models.wear.rate_covariates import Effect, screen
from models.wear.relative import (
    Relative,
    Straightened,
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
from models.wear.shared_prior import FromOthers, mixed_shapes, with_others
from models.wear.threads import in_threads
from models.wear.wild import Deletion, chance_wild, deletion_residuals, noise_of_wild

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

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
LEAST_SHARE = 0.005
"""A shape that counts for less in a family is left out there."""


@dataclass(frozen=True)
class Settings:
    """How a model is to be fitted; as the parameters of :class:`models.wear.model.PooledWear`."""

    shapes: bool
    wild_rounds: int
    learn: bool
    priors: Priors | None
    known: Known | None
    from_others: FromOthers | None


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
    """

    fits: list[Fit]
    weight: Floats
    prior: Floats


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
    """

    rel: Relative
    priors: Priors
    shaped: Shaped
    deletion: Deletion
    wild: Floats
    wild_share: float


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


def scale_lives(lives: Lives, quantity: Ints | None, forecast: Ints | None) -> Scaled:
    """Step 1: wear as a share of the allowance, distance in lives of the family.

    Parameters
    ----------
    quantity : shape (lives.n_families,). All families measure one quantity if it is not given.
    forecast : rows of the lives that will be asked about; all if not given.
    """
    rel = relative(lives)
    n = len(rel.order)
    row_of = np.empty(n, dtype=np.int64)
    row_of[rel.order] = np.arange(n)
    asked = np.full(n, forecast is None)
    if forecast is not None:
        asked[row_of[forecast]] = True
    of_family = np.zeros(len(rel.starts), dtype=np.int64) if quantity is None else quantity[rel.family]
    return Scaled(rel, of_family, row_of, asked)


def assumed_priors(rel: Relative, quantity: Ints, settings: Settings) -> Priors:
    """Step 2: what is assumed of each family before its readings; the same of all unless other railways say
    something of it."""
    common = _common_priors(rel, quantity, settings)
    if settings.from_others is None:
        return common
    return with_others(common, settings.from_others.take(rel.family), rel)


def _common_priors(rel: Relative, quantity: Ints, settings: Settings) -> Priors:
    """Priors of all families: known beforehand, or learned from an even sample of the families."""
    if settings.known is not None:
        return settings.known.priors
    assumed = settings.priors or Priors()
    if not settings.learn:
        return assumed
    sample = np.unique(np.linspace(0, len(rel.starts) - 1, HYPER_FAMILIES).round().astype(int))
    part = take_lives(rel, SCREEN_LIVES, sample)
    fits = fit_shapes(part, assumed, FEW if settings.shapes else (STRAIGHT,))
    weight, _ = shape_weights(
        np.stack([fit.evidence for fit in fits]), quantity[sample], tuple(fit.shape for fit in fits)
    )
    points = [fit.posterior.points for fit in fits if fit.posterior.points is not None]
    return learn_priors(points, weight, part.gauge, assumed)


def screened_rates(scaled: Scaled, priors: Priors, covariates: pd.DataFrame | None) -> Screened:
    """Step 3: offsets of the lives' rates by what their positions have in common, where that pays.

    Parameters
    ----------
    covariates : a row a life, as the lives were given; None: nothing is looked for.
    """
    rel = scaled.rel
    if covariates is None:
        return Screened(rel, [], None)
    straight = fit_one(take_lives(rel, SCREEN_LIVES), STRAIGHT, priors, None, ROUNDS)
    nodes = mean_node(straight.posterior, rel)
    rates = life_rates(filter_lives(straighten(rel, STRAIGHT, straight.factor), nodes.q), nodes)
    number = np.repeat(np.arange(len(rel.starts)), rel.sizes)
    offset, effects = screen(rates, number, covariates.iloc[rel.order].reset_index(drop=True))
    if not effects:
        return Screened(rel, [], straight)
    return Screened(replace(rel, offset=offset), effects, None)


def fitted_shapes(
    rel: Relative,
    priors: Priors,
    quantity: Ints,
    settings: Settings,
    *,
    straight: Fit | None = None,
    again: tuple[Shaped, Ints] | None = None,
) -> Shaped:
    """Step 4: families under every shape of wear, and the weights of the shapes.

    Parameters
    ----------
    straight : the fit of straight wear, where it is known already.
    again : an earlier fit, and the numbers of the families that are fitted anew; None: all are fitted.
    """
    before, families = again or (None, np.arange(len(rel.starts)))
    old = before.fits if before else []
    begin = [(fit.posterior.centre[:, families], fit.posterior.step[:, families]) for fit in old]
    shapes = SHAPES if settings.shapes else (STRAIGHT,)
    part = take_lives(rel, SCREEN_LIVES, families)
    fits = look_at_shapes(part, priors.of(families), shapes, begin, straight)
    if len(families) < len(rel.starts):
        fits = [fit.with_families(new, families) for fit, new in zip(old, fits, strict=True)]
    weight, _ = _weights(rel, fits, quantity, settings)
    fits = look_closer(rel, families, fits, weight, priors)
    weight, prior = _weights(rel, fits, quantity, settings)
    return Shaped(refine(rel, families, fits, weight, priors), weight, prior)


def _weights(rel: Relative, fits: list[Fit], quantity: Ints, settings: Settings) -> tuple[Floats, Floats]:
    """Weight of each shape after and before the readings, shape (s, f)."""
    evidence = np.stack([fit.evidence for fit in fits])
    if settings.known is not None:
        prior = settings.known.shape_prior[:, rel.family]
        weight = weights_of(evidence, prior)
    else:
        weight, prior = shape_weights(evidence, quantity, SHAPES[: len(evidence)])
    if settings.from_others is not None and settings.shapes:
        prior = mixed_shapes(prior, settings.from_others.take(rel.family))
        weight = weights_of(evidence, prior)
    return weight, prior


def checked_readings(screened: Screened, priors: Priors, quantity: Ints, settings: Settings) -> Checked:
    """Step 5: fit; look for wild readings; fit the families anew where some were found."""
    rel, base = screened.rel, screened.rel.noise
    shaped = fitted_shapes(rel, priors, quantity, settings, straight=screened.straight)
    wild, wild_share = np.zeros(rel.w.shape), 0.0
    known_share = None if settings.known is None else settings.known.wild_share
    family = np.repeat(np.arange(len(rel.starts)), rel.sizes)
    deletion = _each_against_others(rel, shaped, base)
    for _ in range(settings.wild_rounds):
        before = wild
        wild, wild_share = chance_wild(deletion, known_share)
        changed = np.asarray((np.abs(wild - before) > NOTICEABLE).any(axis=1))
        if not changed.any():
            break
        rel = replace(rel, noise=base * noise_of_wild(wild))
        if wild_share > MANY_WILD and settings.known is None:
            priors, changed[:] = assumed_priors(rel, quantity, settings), True
        shaped = fitted_shapes(rel, priors, quantity, settings, again=(shaped, np.unique(family[changed])))
        deletion = _each_against_others(rel, shaped, base)
    return Checked(rel, priors, shaped, deletion, wild, wild_share)


def _each_against_others(rel: Relative, shaped: Shaped, base: Floats) -> Deletion:
    """Each reading against the others, under the heaviest shape of its family.

    ``base`` : shape (n, k). Noise of the readings if none is wild.
    """
    data, nodes = under_heaviest(rel, shaped)
    return deletion_residuals(data, nodes, base * (data.noise / rel.noise))


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


def remembered_places(checked: Checked, known: Known | None) -> Remembered:
    """Step 6: what the other lives at its place say of each life's rate, under the heaviest shape of its
    family."""
    rel = checked.rel
    if rel.place is None or not (np.bincount(rel.place) > 1).any():
        return Remembered(0.0)
    data, nodes = under_heaviest(rel, checked.shaped)
    rates = life_rates(filter_lives(data, nodes.q), nodes)
    share = learn_memory(rates, rel.place) if known is None else known.memory_share
    return Remembered(share, *remembered(rates, rel.place, share))


def mixture_of(
    shaped: Shaped, rel: Relative, families: Ints, asked: Bools, memory: Remembered, most: int | None = None
) -> list[Component]:
    """Step 7: the mixture of the lives asked for.

    Parameters
    ----------
    rel : lives of the families that ``families`` numbers, in that order.
    asked : shape (n,). Lives of ``rel`` that are wanted.
    most : nodes of a family's posterior under each shape; by the size of the store if not given.
    """
    part, kept = keep_lives(rel, asked)
    families, rows = families[kept], np.flatnonzero(asked)
    weight = shaped.weight[:, families]
    share = np.where(weight < LEAST_SHARE, 0.0, weight)
    share = part.per_life(share / share.sum(axis=0))
    if most is None:
        most = int(np.clip(PAIRS / max(int(np.count_nonzero(share)), 1), *NODES))

    def run(item: tuple[Fit, Floats]) -> Component | None:
        fit, share_of_shape = item
        wanted = share_of_shape > 0
        if not wanted.any():
            return None
        lives, numbers = keep_lives(part, wanted)
        data = straighten(lives, fit.shape, fit.factor[families[numbers]])
        nodes = best_nodes(take_families(fit.posterior, families[numbers]), lives, most)
        if memory.shift is not None and memory.keep is not None:
            nodes = with_memory(nodes, memory.shift[rows[wanted]], memory.keep[rows[wanted]])
        states = life_states(filter_lives(data, nodes.q), nodes, last_distance(data))
        made = component(lives, fit.shape, data, nodes, states, share_of_shape[wanted])
        return replace(made, life=rows[wanted][made.life])

    made = in_threads(run, zip(shaped.fits, share, strict=True))
    return [c for c in made if c is not None]
