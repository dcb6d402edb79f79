"""How much each gauge reads otherwise than those before it, from all lives that it measured.

Readings are level + offset of their gauge + noise, an offset normal about 0: the marginal likelihood is
quadratic in the offsets, whatever the lives' own levels and rates are, so that they have a closed form
(generalised least squares on the residuals' own covariance; J. C. Pinheiro, D. M. Bates, *Mixed-Effects
Models in S and S-PLUS*, 2000, section 2.2). The gauge that was used first is the measure of the others,
unless an accuracy is stated: the limit was kept with it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from models.gauges.gauges_read import GaugesRead
from models.gauges.precision import Fitted, precision, residuals
from models.lives.table import LifeTable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

USUAL_OFFSET = 0.04
"""Spread of the offsets of gauges of which no accuracy is stated, share of the allowance. Practice, no
source."""
READS_ALIKE = 0.8
"""Chance before any reading that a gauge without a stated accuracy reads as the first does. Practice, no
source."""
START_SD, RATE_SD = 0.03, 1.0
"""Doubt about a family's mean start and rate (``models.wear.priors.Priors``): what gauges and families
share is not put down to the gauges. [1]"""


@dataclass(frozen=True)
class Offsets:
    """What each gauge of :class:`models.gauges.gauges_read.GaugesRead` reads too high, shape (g,). [base
    unit]

    Attributes
    ----------
    mean, var : of the offset, the chance that there is none included.
    chance : that it reads otherwise than the first. [1]
    size : the offset if it does.
    first : entry of the gauge that it is held against.
    """

    mean: Floats
    var: Floats
    chance: Floats
    size: Floats
    first: Ints


def gauge_offsets(table: LifeTable, read: GaugesRead, fitted: Fitted, taken: Floats) -> Offsets:
    """Offsets of all gauges.

    Parameters
    ----------
    fitted : lives as the model sees them.
    taken : shape (g,). What was taken off each gauge's readings before the model was fitted. [base unit]
    """
    g = len(read.name)
    out = Offsets(np.zeros(g), np.zeros(g), np.zeros(g), np.zeros(g), np.arange(g))
    several = _families_of_several(table, read)
    if not len(several):
        return out
    found = [
        _of_family(table, read.code[rows], fitted.take(rows), rows)
        for rows in (np.flatnonzero(table.lives.family == family) for family in several)
    ]
    pairs = [(gauges[0], gauge) for gauges, _, _ in found for gauge in gauges]
    linked = coo_array((np.ones(len(pairs)), tuple(np.array(pairs).T)), shape=(g, g))
    _, group = connected_components(linked, directed=False)
    prior = USUAL_OFFSET * _allowances(table, read)
    day = _first_day(table, read)
    for number in np.unique([group[gauges[0]] for gauges, _, _ in found]):
        members = np.flatnonzero(group == number)
        info, score = np.zeros((len(members),) * 2), np.zeros(len(members))
        for gauges, own_info, own_score in found:
            if group[gauges[0]] == number:
                at = np.searchsorted(members, gauges)
                info[np.ix_(at, at)] += own_info
                score[at] += own_score + own_info @ taken[gauges]
        _solve(out, members, (info, score), prior, read, day[members])
    return out


def _families_of_several(table: LifeTable, read: GaugesRead) -> Ints:
    """Families whose lives were read with more than one gauge."""
    family = np.broadcast_to(table.lives.family[:, None], read.code.shape)
    known = read.code >= 0
    pairs = np.unique(np.stack([family[known], read.code[known]]), axis=1)
    families, count = np.unique(pairs[0], return_counts=True)
    return np.asarray(families[count > 1], dtype=np.int64)


def _of_family(table: LifeTable, code: Ints, lives: Fitted, rows: Ints) -> tuple[Ints, Floats, Floats]:
    """Information and score of the offsets of a family's gauges, its mean start and rate taken out."""
    gauges = np.unique(code[code >= 0])
    sign = table.scale.sign[table.point[rows]]
    columns = (code[:, :, None] == gauges) * (sign[:, None] * lives.gain)[:, :, None]
    read = np.isfinite(lives.z)
    means = np.stack([read.astype(float), np.where(read, lives.u, 0.0)], axis=2)
    every = np.concatenate([columns, means], axis=2)
    weighed = precision(lives) @ every
    whole = np.einsum("nki,nkj->ij", every, weighed)
    pull = np.einsum("nki,nk->i", weighed, residuals(lives))
    g = len(gauges)
    known = whole[g:, g:] + np.diag([1.0 / START_SD**2, 1.0 / RATE_SD**2])
    taken = whole[:g, g:] @ np.linalg.inv(known)
    return gauges, whole[:g, :g] - taken @ whole[g:, :g], pull[:g] - taken @ pull[g:]


def _first_day(table: LifeTable, read: GaugesRead) -> Floats:
    """First day of each gauge, shape (g,). [d]"""
    day = np.full(len(read.name), np.inf)
    known = read.code >= 0
    np.minimum.at(day, read.code[known], table.lives.day[known])
    return day


def _allowances(table: LifeTable, read: GaugesRead) -> Floats:
    """Mean allowance of the lives that each gauge measured, shape (g,). [base unit]"""
    known = read.code >= 0
    limit = np.broadcast_to(table.lives.limit[:, None], known.shape)[known]
    count = np.bincount(read.code[known], minlength=len(read.name))
    return np.bincount(read.code[known], limit, len(read.name)) / np.maximum(count, 1)


def _solve(
    out: Offsets, members: Ints, sums: tuple[Floats, Floats], usual: Floats, read: GaugesRead, day: Floats
) -> None:
    """Offsets of gauges that families link, put into ``out``."""
    info, score = sums
    stated = np.isfinite(read.accuracy[members])
    sd = np.where(stated, np.nan_to_num(read.accuracy[members]), usual[members])
    first = int(np.lexsort((members, day))[0])
    out.first[members] = members[first]
    free = np.ones(len(members), dtype=bool)
    free[first] = stated[first]
    index = np.flatnonzero(free & (sd > 0))
    if not len(index):
        return
    cov = np.linalg.inv(info[np.ix_(index, index)] + np.diag(1.0 / sd[index] ** 2))
    size, var = cov @ score[index], np.diag(cov)
    # Savage and Dickey's ratio: density at no offset after the readings, over that before them.
    log_bayes = 0.5 * np.log(var / sd[index] ** 2) + 0.5 * size**2 / var
    odds = np.exp(np.clip(log_bayes, -50.0, 50.0)) * (1.0 - READS_ALIKE) / READS_ALIKE
    chance = np.where(stated[index], 1.0, odds / (1.0 + odds))
    at = members[index]
    out.mean[at], out.size[at], out.chance[at] = chance * size, size, chance
    out.var[at] = chance * var + chance * (1.0 - chance) * size**2
