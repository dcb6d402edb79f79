"""The wear model and a mixed model together, weighed for each quantity by what came true in this store."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.combined.pool import pooled, pooled_miles
from models.combined.weights import (
    LEAST,
    Evidence,
    evidence_of,
    losses,
    posterior_mean,
    prior_mean,
)
from models.lives.past import cut_to
from models.lives.table import Lives
from models.rivals import STRAIGHT_LINE
from models.rivals.quick_mixed import FamilyLines
from models.wear.estimator import Forecaster

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

WEAR_MODEL, RIVAL = "wear model", "mixed model"
MOST_POINTS = 5_000
"""Wear points up to which a store's rivals are asked."""
SHARES = (0.5, 0.75)
"""Past days: those by which this share of the readings had been taken."""
READ_AT: Floats = (np.arange(21) + 0.5) / 21
"""Probabilities at which later readings are pooled and judged. [1]"""


@dataclass(frozen=True)
class Combination:
    """A rival beside the wear model, for f wear points that are forecast.

    Attributes
    ----------
    weight : shape (f,). Weight of the rival; 0 where it is not asked or has no answer. [1]
    lives_asked : shape (f,). Row of the life of each.
    place : shape (f,). Its row in the lives that the rival was fitted to; -1: none.
    rival : the rival, fitted; None where its weight is nowhere above ``LEAST``.
    """

    weight: Floats
    lives_asked: Ints
    place: Ints
    rival: FamilyLines | None

    @property
    def asked(self) -> Ints:
        """Which of the f wear points are combined."""
        return np.flatnonzero(self.weight > 0)

    @property
    def name(self) -> NDArray[np.object_]:
        """What the rival is of each wear point that is combined."""
        if self.rival is None:
            return np.empty(0, dtype=object)
        of_family = self.rival.from_family_[self.place[self.asked]]
        return np.where(of_family, RIVAL, STRAIGHT_LINE).astype(object)

    def remaining(self, quantiles: Floats, beyond: Floats, probabilities: Floats) -> tuple[Floats, Floats]:
        """Remaining miles (asked, p) and the chance that the limit was reached already (asked,), combined.

        Parameters
        ----------
        quantiles, beyond : of the wear model, for the wear points that are combined.
        """
        assert self.rival is not None
        place = self.place[self.asked]
        share = self.weight[self.asked]
        said = self.rival.predict_remaining(probabilities)[place]
        over = (1 - share) * beyond + share * self.rival.chance_beyond()[place]
        both, weight = np.stack([quantiles, said]), np.stack([1 - share, share])
        return pooled_miles(both, weight, over, probabilities), over

    def wear_ahead(
        self, wear: Callable[[Floats, Ints], Floats], miles: Floats, wanted: Floats, *, gauge: bool
    ) -> Floats:
        """Quantiles of the wear at later miles of the wear points that are combined, (asked, q, p).

        Parameters
        ----------
        wear : gives the wear model's at the probabilities and for the rows of wear points asked, (a, q, p).
        miles : shape (f, q). Miles since each life began. [mi] NaN: not asked
        wanted : shape (p,). Probabilities. [1]
        gauge : with the gauge's error.
        """
        assert self.rival is not None
        rows, q = self.asked, miles.shape[1]
        own = wear(READ_AT, rows)
        every = np.full((len(self.rival.lines_.level), q), np.nan)
        every[self.place[rows]] = miles[rows]
        ask = self.rival.predict_readings if gauge else self.rival.predict_wear
        said = ask(every, READ_AT)[self.place[rows]]
        flat = [np.nan_to_num(a.reshape(len(rows) * q, -1)) for a in (own, said)]
        share = np.repeat(self.weight[rows], q)
        mixed = pooled(np.stack(flat), np.stack([1 - share, share]), READ_AT)
        out = np.array([np.interp(wanted, READ_AT, row) for row in mixed]).reshape(len(rows), q, -1)
        return np.where(np.isfinite(miles[rows])[..., None], out, np.nan)


def alone(life: Ints) -> Combination:
    """The wear model alone, for these rows of the lives."""
    return Combination(np.zeros(len(life)), life, np.full(len(life), -1), None)


def combine(
    lives: Lives,
    quantity: Ints,
    life: Ints,
    refit: Callable[[Lives, Ints], Forecaster],
    record: list[Evidence] | None = None,
) -> Combination:
    """Learn the weight of the rival and fit it where it has one.

    Parameters
    ----------
    lives : all lives.
    quantity : shape (lives.n_families or more,). What each family measures.
    life : shape (f,). Rows of the lives that are forecast.
    refit : a wear model fitted to lives as they were, which are rows (second argument) of ``lives``.
    record : by quantity, what a track record holds; None: there is none.
    """
    none = alone(life)
    if len(life) > MOST_POINTS or not len(lives.family):
        return none
    kind = quantity[lives.family]
    count = np.bincount(kind[lives.count > 0], minlength=int(quantity.max()) + 1)
    known: list[list[Evidence]] = [[] for _ in count] if record is None else [[piece] for piece in record]
    prior = prior_mean(count)
    weight = np.array([posterior_mean(p, e) for p, e in zip(prior, known, strict=True)])
    weight = np.where((count > 0) & (weight > LEAST), weight, 0.0)
    if not weight.any():
        return none
    for number, pieces in enumerate(_own_past(lives, quantity, weight, refit)):
        if weight[number] > 0:
            weight[number] = posterior_mean(prior[number], [*known[number], *pieces])
    weight = np.where(weight > LEAST, weight, 0.0)
    chosen = np.flatnonzero(weight[kind] > 0)
    if not len(chosen):
        return none
    rival = _fitted(lives, chosen)
    place = np.full(len(kind), -1)
    place[chosen] = np.arange(len(chosen))
    share = np.where(place[life] >= 0, weight[kind[life]], 0.0)
    return Combination(_answered(rival, place[life], share), life, place[life], rival)


def _fitted(lives: Lives, rows: Ints) -> FamilyLines:
    """The rival, fitted to some of the lives."""
    some = lives.take(rows)
    numbered = np.unique(some.family, return_inverse=True)[1].astype(np.int64)
    return FamilyLines().fit(replace(some, family=numbered))


def _answered(rival: FamilyLines, place: Ints, share: Floats) -> Floats:
    """The weights, nought where the rival has no answer; a line against wear never meets a limit."""
    lines = rival.lines_
    whole = np.isfinite(lines.level + lines.rate + lines.level_var + lines.rate_var + lines.covariance)
    whole &= lines.rate > 0
    return np.where((place >= 0) & whole[np.maximum(place, 0)], share, 0.0)


def _own_past(
    lives: Lives, quantity: Ints, weight: Floats, refit: Callable[[Lives, Ints], Forecaster]
) -> list[list[Evidence]]:
    """What the store's own past says of each quantity that is looked at, day by day."""
    looked = weight[quantity[lives.family]] > LEAST
    days = lives.day[looked][np.isfinite(lives.wear[looked])]
    found: list[list[Evidence]] = [[] for _ in weight]
    chosen = np.unique(np.quantile(days, SHARES, method="lower")) if len(days) else days
    for day in chosen[chosen < days.max(initial=-np.inf)]:
        for number, piece in enumerate(_one_day(lives, quantity, looked, float(day), refit)):
            if piece.lives:
                found[number].append(replace(piece, lives=piece.lives / len(SHARES)))
    return found


def _one_day(
    lives: Lives, quantity: Ints, looked: Bools, day: float, refit: Callable[[Lives, Ints], Forecaster]
) -> list[Evidence]:
    """How the readings after a day were forecast on it, by quantity."""
    read = np.isfinite(lives.wear)
    known = read & (lives.day <= day)
    row = np.flatnonzero(known.any(axis=1))
    then = cut_to(lives, row, known[row].sum(axis=1))
    last = np.where(known[row], lives.miles[row], 0.0).max(axis=1, initial=0.0)
    then = replace(then, as_of_miles=last, ended=np.zeros(len(row), dtype=bool))
    if then.end_miles is not None:
        then = replace(then, end_miles=np.full(len(row), np.nan), end_worn=None)
    later = read[row] & ~known[row] & looked[row][:, None]
    if lives.unknown_step is not None:  # nobody foresees a cut
        later &= ~np.logical_or.accumulate(lives.unknown_step[row] & ~known[row], axis=1)
    asked = np.flatnonzero(later.any(axis=1))
    owner, column = np.nonzero(later)
    miles = np.where(later, lives.miles[row], np.nan)
    own = refit(then, row).predict_readings(miles, READ_AT)[owner, column]
    rival = _fitted(then, np.flatnonzero(looked[row]))
    place = np.cumsum(looked[row]) - 1
    some = np.full((len(rival.lines_.level), miles.shape[1]), np.nan)
    some[place[asked]] = miles[asked]
    said = rival.predict_readings(some, READ_AT)[place[owner], column]
    limit = lives.limit[row][owner][:, None]
    loss = losses(own / limit, said / limit, lives.wear[row][owner, column] / limit[:, 0])
    kind = quantity[lives.family[row][owner]]
    return evidence_of(loss, row[owner], kind, int(quantity.max()) + 1)
