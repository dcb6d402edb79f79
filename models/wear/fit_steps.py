"""The steps by which the pooled wear model is fitted: each takes the result of the step before.

1. :func:`scale_lives`: lives in relative units (:class:`models.wear.fitted.Scaled`).
2. :func:`assumed_priors`: what is assumed of every family before its readings (``Priors``).
3. :func:`screened_rates`: what the positions of a family have in common (:class:`Screened`).
4. :func:`fitted_shapes`: every family under every shape of wear, and the shapes' weights (:class:`Shaped`).
5. :func:`checked_readings`: each reading against the others; fitted anew without the wild ones
   (:class:`Checked`).
6. :func:`models.wear.heaviest.remembered_places`: what earlier parts at a place say of the rate
   (:class:`Remembered`).
7. :func:`mixture_of`: the forecast of every life as a mixture (a list of ``Component``).
"""

from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import logsumexp

from models.laws.rate_covariates import screen
from models.laws.rate_law import normal_law, usual_law
from models.lives.table import Lives
from models.threads import in_threads
from models.wear.departures import Departed, departures, left_for_good, own_components
from models.wear.doubted import Doubted, taken_both_ways, under_each_shape
from models.wear.family_fit import ROUNDS
from models.wear.fitted import Checked, Remembered, Scaled, Screened, Settings, Shaped
from models.wear.heaviest import each_against_others, life_rates, with_own_gauge
from models.wear.hyper import learn_priors, learn_start
from models.wear.level_filter import filter_lives
from models.wear.life_states import best_nodes, last_distance, life_evidence, mean_node, states_by_law
from models.wear.mixture import Component, component
from models.wear.posterior import take_families
from models.wear.priors import ALONE, Priors
from models.wear.relative import (
    Relative,
    keep_lives,
    lives_read,
    readings_alone,
    relative,
    straighten,
    take_lives,
)
from models.wear.shape_fits import (
    LOOK_CLOSER,
    SCREEN_LIVES,
    Fit,
    fit_one,
    fit_shapes,
    look_at_shapes,
    look_closer,
    refine,
)
from models.wear.shape_weights import shape_weights
from models.wear.shapes import FEW, SHAPES, STRAIGHT
from models.wear.shared_prior import with_others
from models.wear.wild import SAYS_NOTHING, believed_ends, chance_wild, first_look, noise_of_wild

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
OWN_SAY = 0.7
"""How much a shape's evidence with its own say on what is wild counts, beside that with the heaviest shape's.
With 1, what suits each shape is chosen for it: over the loss without either, straight families of four lives,
15 % wild, lost 4 % more, and 2 % less with 0.7; mixed shapes 8 and 4 % less. No source; chosen on six fleets
each."""
LEAST_SHARE = 0.005
"""A shape that counts for less in a family is left out there."""


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
    """Priors of all families: known beforehand, or learned from an even sample of the families.

    One life has nobody to learn from: from itself it would only grow too sure.
    """
    if settings.known is not None:
        return settings.known.priors
    alone = lives_read(rel).sum() <= 1
    assumed = settings.priors or (ALONE if alone else Priors())
    if alone or not settings.learn:
        return assumed
    sample = np.unique(np.linspace(0, len(rel.starts) - 1, HYPER_FAMILIES).round().astype(int))
    part = take_lives(rel, SCREEN_LIVES, sample)
    fits = fit_shapes(part, assumed, FEW if settings.shapes else (STRAIGHT,))
    weight, _ = shape_weights(
        np.stack([fit.evidence for fit in fits]),
        quantity[sample],
        tuple(fit.shape for fit in fits),
        lives_read(part),
    )
    points = [fit.posterior.points for fit in fits if fit.posterior.points is not None]
    learned = learn_priors(points, weight, part.gauge, assumed)
    straight = fits[0].posterior
    start = (straight.weight * straight.mean[0]).sum(axis=0)
    square = (straight.weight * (straight.mean[0] ** 2 + straight.cov[0])).sum(axis=0)
    return learn_start(start, square - start**2, weight[0], learned)


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
    weight, _ = settings.weights(rel, fits, quantity)
    fits = look_closer(rel, families, fits, weight, priors)
    weight, prior = settings.weights(rel, fits, quantity)
    fits = refine(rel, families, fits, weight, priors)
    return Shaped(fits, weight, prior, usual_law(len(rel.starts)))


def checked_readings(screened: Screened, priors: Priors, quantity: Ints, settings: Settings) -> Checked:
    """Step 5: fit; look for wild readings; fit the families anew where some were found."""
    base = screened.rel.noise
    rel, priors, shaped, believed = _begun(screened, priors, quantity, settings)
    wild, wild_share, doubted = np.zeros(rel.w.shape), 0.0, None
    known_share = None if settings.known is None else settings.known.wild_share
    family = np.repeat(np.arange(len(rel.starts)), rel.sizes)
    base = with_own_gauge(rel, shaped, base)
    deletion = each_against_others(rel, shaped, base)
    for _ in range(settings.wild_rounds):
        before = wild
        wild, wild_share, variance = chance_wild(deletion, known_share, rel.worn)
        believed |= believed_ends(wild, deletion, rel.worn)
        wild = np.where(believed, 0.0, wild)
        changed = np.asarray((np.abs(wild - before) > NOTICEABLE).any(axis=1))
        if not changed.any():
            break
        rel = replace(rel, noise=base * noise_of_wild(wild, variance, rel.worn))
        if wild_share > MANY_WILD and settings.known is None:
            priors, changed[:] = assumed_priors(rel, quantity, settings), True
        shaped = fitted_shapes(rel, priors, quantity, settings, again=(shaped, np.unique(family[changed])))
        deletion = each_against_others(rel, shaped, base)
    if wild_share:
        sound = replace(rel, noise=base)
        shaped, doubted = _doubted(
            sound, (wild, believed, wild_share, variance), shaped, priors, quantity, settings
        )
    if doubted is not None:
        wild[doubted.rows] = doubted.under_heaviest(shaped.weight[:, doubted.families])
        rel = replace(rel, noise=base * noise_of_wild(wild, variance, rel.worn))
        deletion = each_against_others(rel, shaped, base)
    departed = departures(readings_alone(rel), shaped)
    gone = left_for_good(departed, rel)
    if gone.any():
        without = replace(rel, noise=np.where(gone[:, None], rel.noise * SAYS_NOTHING, rel.noise))
        again = shaped, np.unique(family[gone])
        shaped = fitted_shapes(without, priors, quantity, settings, again=again)
        departed = departures(readings_alone(rel), shaped)
    return Checked(rel, priors, shaped, deletion, wild, wild_share, departed, doubted)


def _doubted(
    sound: Relative,
    found: tuple[Floats, Bools, float, float],
    shaped: Shaped,
    priors: Priors,
    quantity: Ints,
    settings: Settings,
) -> tuple[Shaped, Doubted | None]:
    """Families with readings that look wild, fitted anew under each shape without what is wild under it.

    Parameters
    ----------
    sound : the lives with the noise of readings that are not wild.
    found : chance of each reading to be wild, which are believed all the same, the share and the variance of
        wild ones.
    """
    wild, believed, share, variance = found
    families = np.flatnonzero(np.add.reduceat(wild.sum(axis=1), sound.starts) > NOTICEABLE)
    if not len(families):
        return shaped, None
    rows = _lives_of(sound, families)
    part, _ = keep_lives(sound, rows)
    chance = np.repeat(wild[rows][None], len(shaped.fits), axis=0)
    doubted = Doubted(families, rows, part, chance, believed[rows], share, variance)
    begun = own = [fit.of(families) for fit in shaped.fits]
    for least, look in ((0.0, True), (LOOK_CLOSER, False)):
        weight = shaped.weight[:, families]
        own, doubted = under_each_shape(doubted, own, weight, priors.of(families), least, look=look)
        counted = [
            replace(new, evidence=old.evidence + OWN_SAY * (new.evidence - old.evidence))
            for old, new in zip(begun, own, strict=True)
        ]
        fits = [fit.with_families(new, families) for fit, new in zip(shaped.fits, counted, strict=True)]
        weight, prior = settings.weights(sound, fits, quantity)
        shaped = replace(shaped, fits=fits, weight=weight, prior=prior)
    return shaped, doubted


def _begun(
    screened: Screened, priors: Priors, quantity: Ints, settings: Settings
) -> tuple[Relative, Priors, Shaped, Bools]:
    """The first fit: of the readings as they are, or without those that a first look takes for wild,
    whichever explains those of a family better; and the readings that are believed however wild they look.

    A first look knows straight wear only: what it sets aside of a bent life, bent shapes may explain. Where
    many are wild, families that seemed better explained with all of theirs are asked again with what is
    assumed of a gauge since the others are without them: with what all readings had taught, a gauge three
    times as poor as its sisters was no surprise, and twelve wild readings of 56 a bend.
    """
    rel = screened.rel
    shaped = fitted_shapes(rel, priors, quantity, settings, straight=screened.straight)
    believed = np.zeros(rel.w.shape, dtype=bool)
    if not settings.wild_rounds:
        return rel, priors, shaped, believed
    first, variance, believed = first_look(rel)
    found = np.add.reduceat(first.sum(axis=1), rel.starts)
    families = np.flatnonzero(found > NOTICEABLE)
    if not len(families):
        return rel, priors, shaped, believed
    share = float(found.sum() / np.isfinite(rel.w).sum())
    price = found * np.log(share / (1.0 - share))
    apart = replace(rel, noise=rel.noise * noise_of_wild(first, variance, rel.worn))
    learns = settings.known is None and share > MANY_WILD
    other = assumed_priors(apart, quantity, settings) if learns else priors
    without = _fitted_apart(apart, families, other, quantity, settings)  # far from where it stood
    gain = _explained(without) - _explained(shaped)[families] + price[families]
    better = np.flatnonzero(gain > 0)
    if not len(better):
        return rel, priors, shaped, believed
    pairs = zip(shaped.fits, without.fits, strict=True)
    fits = [old.with_families(new.of(better), families[better]) for old, new in pairs]
    weight, prior = settings.weights(rel, fits, quantity)
    begun = replace(shaped, fits=fits, weight=weight, prior=prior)
    chosen = _noise_of(apart, rel, families[better])
    if not learns or len(better) == len(families):
        return chosen, other, begun, believed
    left, other = np.delete(families, better), assumed_priors(chosen, quantity, settings)
    with_all, without = (
        replace(_fitted_apart(state, left, other, quantity, settings), prior=prior[:, left])
        for state in (rel, apart)
    )
    more = left[_explained(without) - _explained(with_all) + price[left] > 0]
    if len(more):
        chosen = _noise_of(apart, chosen, more)
        begun = fitted_shapes(chosen, other, quantity, settings)
    return chosen, other, begun, believed


def _fitted_apart(
    rel: Relative, families: Ints, priors: Priors, quantity: Ints, settings: Settings
) -> Shaped:
    """Some families fitted from the beginning."""
    part, _ = keep_lives(rel, _lives_of(rel, families))
    return fitted_shapes(part, priors.of(families), quantity[families], settings)


def _noise_of(apart: Relative, rel: Relative, families: Ints) -> Relative:
    """Lives with the noise that some families have ``apart``."""
    return replace(rel, noise=np.where(_lives_of(rel, families)[:, None], apart.noise, rel.noise))


def _lives_of(rel: Relative, families: Ints) -> Bools:
    """Which lives are of some families, numbered in their order; shape (n,)."""
    return np.repeat(np.isin(np.arange(len(rel.sizes)), families), rel.sizes)


def _explained(shaped: Shaped) -> Floats:
    """Log evidence of the readings of each family under all shapes, shape (f,)."""
    evidence = np.stack([fit.evidence for fit in shaped.fits])
    return np.asarray(logsumexp(evidence + np.log(np.maximum(shaped.prior, 1e-300)), axis=0))


def mixture_of(
    shaped: Shaped,
    rel: Relative,
    families: Ints,
    asked: Bools,
    memory: Remembered,
    most: int | None = None,
    departed: Departed | None = None,
    doubted: Doubted | None = None,
) -> list[Component]:
    """Step 7: the mixture of the lives asked for.

    Parameters
    ----------
    rel : lives of the families that ``families`` numbers, in that order.
    asked : shape (n,). Lives of ``rel`` that are wanted.
    most : nodes of a family's posterior under each shape; by the size of the store if not given.
    departed : lives that may have left their family; None: none.
    doubted : readings that are taken both ways; None: none.
    """
    part, kept = keep_lives(rel, asked)
    families, rows = families[kept], np.flatnonzero(asked)
    weight = shaped.weight[:, families]
    share = np.where(weight < LEAST_SHARE, 0.0, weight)
    share = part.per_life(share / share.sum(axis=0))
    own = [] if departed is None else own_components(departed, readings_alone(rel), asked)
    if own and departed is not None:
        share = share * (1.0 - departed.chance[rows])
    most = most or int(np.clip(PAIRS / max(int(np.count_nonzero(share)), 1), *NODES))

    def run(item: tuple[int, Fit, Floats]) -> Component | None:
        number, fit, share_of_shape = item
        wanted = share_of_shape > 0
        if not wanted.any():
            return None
        lives, numbers, row, ways = taken_both_ways(part, wanted, doubted, number, rows)
        data = straighten(lives, fit.shape, fit.factor[families[numbers]])
        nodes = best_nodes(take_families(fit.posterior, families[numbers]), lives, most)
        said = memory.of(rows[row])
        stats = filter_lives(data, nodes.q)
        if ways is not None:
            nodes = replace(nodes, weight=nodes.weight * ways.shares(life_evidence(stats, nodes, data)))
        of_life = np.repeat(families[numbers], lives.sizes)
        law = shaped.law.of(of_life) if fit.shape is STRAIGHT else normal_law(len(of_life))
        nodes, states = states_by_law(stats, nodes, last_distance(data), law, said)
        made = component(lives, fit.shape, data, nodes, states, share_of_shape[row])
        return replace(made, life=rows[row][made.life])

    made = in_threads(run, zip(range(len(share)), shaped.fits, share, strict=True))
    return [*(c for c in made if c is not None), *own]
