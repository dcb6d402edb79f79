"""What the readings say of the seasons: the marginal likelihood of all lives, to second order in the logs of
the seasons' factors.

A life's readings are its start, plus its rate times the bent distance, plus a Brownian part and the gauge's
error. A season's factor stretches the distance, so that to first order a small change of its log adds
``rate x bent distance of that season`` to the readings after it: a further column beside ones and distance.
Start and rate of the life, and the mean rate of its family, are integrated out in closed form.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.lives.table import LifeTable
from models.seasons.season_table import SeasonTable
from models.wear.heaviest import under_heaviest
from models.wear.life_states import Nodes
from models.wear.model import PooledWear
from models.wear.relative import Straightened

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LIVES_AT_ONCE = 4_000
SLOWEST = 0.02
"""Rate of a life, in allowances a life, below which it says nothing of the seasons."""


@dataclass(frozen=True)
class Sensitivity:
    """To second order about the present factors; v vehicles, s seasons, n lives in the order given.

    Attributes
    ----------
    severity : shape (v, s). The present logs of the factors.
    information : shape (v, s, s). Negative second derivative of the log likelihood.
    score : shape (v, s). Its first derivative.
    of_rate : shape (n, s). Derivative of the log of each life's rate, as its readings then say it.
    """

    severity: Floats
    information: Floats
    score: Floats
    of_rate: Floats

    @property
    def pull(self) -> Floats:
        """First derivative of the log likelihood at factors of 1, shape (v, s)."""
        return np.asarray(self.score + (self.information @ self.severity[..., None])[..., 0])

    def raised(self, severity: Floats) -> Floats:
        """What the log likelihood is above that of factors of 1, shape (v,)."""
        curved = (self.information @ severity[..., None])[..., 0]
        return np.asarray(((self.pull - 0.5 * curved) * severity).sum(axis=1))


@dataclass(frozen=True)
class _Sums:
    """Products over the readings of each life, whitened; shape (n, ...)."""

    xx: Floats
    xd: Floats
    dd: Floats
    xe: Floats
    de: Floats


def sensitivity(
    model: PooledWear,
    table: LifeTable,
    seasons: SeasonTable,
    severity: Floats,
    straight: NDArray[np.bool_] | None = None,
) -> Sensitivity:
    """Second-order likelihood of the seasons of every vehicle.

    Parameters
    ----------
    model : fitted to the lives on effective miles of ``severity``.
    severity : shape (v, s). Log of each season's factor.
    straight : shape (f,). Families that are taken to wear straight; the others, and all if it is not given,
        by their heaviest shape.
    """
    rel = model.relative_
    data, nodes, power = _as_shaped(model, straight)
    rate = _rates(data, nodes)
    per_life = _PerLife(len(rel.order), severity.shape[1])
    for low in range(0, len(rel.order), LIVES_AT_ONCE):
        rows = slice(low, min(low + LIVES_AT_ONCE, len(rel.order)))
        slope = power[rows] * rate[rows]
        columns = _season_columns(table, seasons, severity, rel.order[rows], data.u[rows], slope)
        per_life.put(rows, _whitened_sums(data, nodes, rows, columns), nodes, slope)
    vehicle = table.scale.vehicle[table.point[rel.order]]
    prior = 1.0 / float(np.mean(model.priors_.rate_sd)) ** 2
    information, score, by = _by_vehicle(per_life, vehicle, rel.sizes, prior, len(severity))
    moved = per_life.rate_by_season - (per_life.rate_by_mean * nodes.mu[0])[:, None] * by
    of_rate = np.empty(moved.shape)
    of_rate[rel.order] = moved / np.maximum(rate, SLOWEST)[:, None]
    return Sensitivity(severity, information, score, of_rate)


def _as_shaped(model: PooledWear, straight: NDArray[np.bool_] | None) -> tuple[Straightened, Nodes, Floats]:
    """Lives on the scale on which they wear straight, one node a life, and the power of their distance."""
    rel, weight = model.relative_, model.shape_weight_
    if straight is not None:
        weight = np.where(straight, np.eye(len(weight))[:, :1], weight)
    data, nodes = under_heaviest(rel, replace(model.shaped_, weight=weight))
    best = weight.argmax(axis=0)
    return data, nodes, rel.per_life(np.array([model.fits_[i].shape.power for i in best]))


def _by_vehicle(
    per_life: "_PerLife", vehicle: Ints, sizes: Ints, prior: float, v: int
) -> tuple[Floats, Floats, Floats]:
    """Information (v, s, s) and score (v, s) of the vehicles, how fast the families wear integrated out; and
    what a season of its vehicle adds to the log of a family's rate, at each life (n, s)."""
    s, f = per_life.de.shape[1], len(sizes)
    family = np.repeat(np.arange(f), sizes)
    information, score = np.zeros((v, s, s)), np.zeros((v, s))
    np.add.at(information, vehicle, per_life.dd)
    np.add.at(score, vehicle, per_life.de)
    of_scale = per_life.dd.sum(axis=2)  # all seasons together are the family's rate
    precision = np.bincount(family, of_scale.sum(axis=1), f) + prior
    slope = np.bincount(family, per_life.de.sum(axis=1), f)
    pair, of_pair = np.unique(vehicle * f + family, return_inverse=True)
    cross = np.zeros((len(pair), s))
    np.add.at(cross, of_pair, of_scale)
    by = cross / precision[pair % f, None]
    np.add.at(information, pair // f, -cross[:, :, None] * by[:, None, :])
    np.add.at(score, pair // f, -by * slope[pair % f, None])
    return information, score, by[of_pair]


class _PerLife:
    """What each life says of the seasons, its own start and rate integrated out.

    Attributes
    ----------
    dd, de : shapes (n, s, s) and (n, s). Information and score.
    rate_by_season, rate_by_mean : shapes (n, s) and (n,). Derivative of the life's rate, as its readings say
        it, by the log of a season's factor and by the mean rate of its family.
    """

    def __init__(self, n: int, s: int) -> None:
        self.dd, self.de = np.zeros((n, s, s)), np.zeros((n, s))
        self.rate_by_season, self.rate_by_mean = np.zeros((n, s)), np.zeros(n)

    def put(self, rows: slice, sums: _Sums, nodes: Nodes, slope: Floats) -> None:
        """Integrate start and rate out of the sums of some lives."""
        ra, rb = nodes.ra[0][rows], nodes.rb[0][rows]
        a00, a01, a11 = sums.xx[:, 0, 0], sums.xx[:, 0, 1], sums.xx[:, 1, 1]
        det = (1.0 + ra * a00) * (1.0 + rb * a11) - ra * rb * a01**2
        g = np.empty((len(ra), 2, 2))  # covariance of start and rate given the readings
        g[:, 0, 0], g[:, 1, 1] = ra * (1.0 + rb * a11) / det, rb * (1.0 + ra * a00) / det
        g[:, 0, 1] = g[:, 1, 0] = -ra * rb * a01 / det
        gxd, gxe = g @ sums.xd, np.einsum("nab,nb->na", g, sums.xe)
        gxu = np.einsum("nab,nb->na", g, sums.xx[:, :, 1])
        s2 = nodes.sigma2[0][rows, None]
        self.dd[rows] = (sums.dd - np.einsum("nas,nat->nst", sums.xd, gxd)) / s2[..., None]
        # The spread of the rates, too, is stretched: half the trace of V^-1 dV.
        stretched = sums.xd[:, 1] - np.einsum("na,nas->ns", gxu, sums.xd)
        spread = (rb / np.maximum(slope, SLOWEST))[:, None]
        self.de[rows] = (sums.de - np.einsum("nas,na->ns", sums.xd, gxe)) / s2 - spread * stretched
        self.rate_by_season[rows] = -gxd[:, 1]
        self.rate_by_mean[rows] = 1.0 - gxu[:, 1]


def _rates(data: Straightened, nodes: Nodes) -> Floats:
    """Rate of each life from its readings, on the straight scale, never below zero."""
    n = len(data.u)
    sums = _whitened_sums(data, nodes, slice(0, n), np.zeros((n, data.u.shape[1], 0)))
    ra, rb = nodes.ra[0], nodes.rb[0]
    a00, a01, a11 = sums.xx[:, 0, 0], sums.xx[:, 0, 1], sums.xx[:, 1, 1]
    det = (1.0 + ra * a00) * (1.0 + rb * a11) - ra * rb * a01**2
    more = (-ra * rb * a01 * sums.xe[:, 0] + rb * (1.0 + ra * a00) * sums.xe[:, 1]) / det
    known = 0.0 if data.offset is None else data.offset
    return np.asarray(np.maximum(nodes.mu[0] + more + known, 0.0))


def _season_columns(
    table: LifeTable, seasons: SeasonTable, severity: Floats, life: Ints, u: Floats, rate: Floats
) -> Floats:
    """What a small change of the log of each season's factor adds to each reading, (n, k, s)."""
    vehicle = table.scale.vehicle[table.point[life]]
    began, miles = table.began_odometer[life], table.lives.miles[life][:, : u.shape[1]]
    run = seasons.miles_in(vehicle, began, began[:, None] + np.where(np.isfinite(miles), miles, 0.0))
    run *= np.exp(severity[vehicle])[:, None]
    total = run.sum(axis=2, keepdims=True)
    share = np.divide(run, total, out=np.zeros_like(run), where=total > 0)
    return np.asarray(share * (rate[:, None] * np.where(np.isfinite(u), u, 0.0))[:, :, None])


def _whitened_sums(data: Straightened, nodes: Nodes, rows: slice, columns: Floats) -> _Sums:
    """One pass of the level's filter over ones, distance, the seasons' columns and the residual."""
    u, z, noise, clock = data.u[rows], data.z[rows], data.noise[rows], data.clock[rows]
    q, a0, mu = nodes.q[0][rows], nodes.a0[0][rows], nodes.mu[0][rows]
    n, k = u.shape
    s = columns.shape[2]
    present = np.isfinite(z) & np.isfinite(noise)
    white = np.zeros((n, k, s + 3))
    level, var, before = np.zeros((n, s + 3)), np.zeros(n), np.zeros(n)
    for i in range(k):
        read = present[:, i]
        if not read.any():
            continue
        time = np.where(read, clock[:, i], before)
        var = var + q * (time - before)
        if data.jump is not None:
            var = var + np.where(read, data.jump[rows, i], 0.0)
        before, at = time, np.where(read, u[:, i], 0.0)
        residual = np.where(read, z[:, i], 0.0) - a0 - mu * at
        now = np.concatenate([np.ones((n, 1)), at[:, None], columns[:, i], residual[:, None]], axis=1) - level
        weight = read / (var + np.where(read, noise[:, i], 1.0))
        white[:, i] = now * np.sqrt(weight)[:, None]
        gain = var * weight
        level = level + gain[:, None] * now
        var = var - gain * var
    x, d, e = white[:, :, :2], white[:, :, 2 : 2 + s], white[:, :, -1:]
    xt, dt = x.transpose(0, 2, 1), d.transpose(0, 2, 1)
    return _Sums(xt @ x, xt @ d, dt @ d, (xt @ e)[..., 0], (dt @ e)[..., 0])
