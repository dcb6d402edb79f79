"""What remains unknown of a gauge makes the state of every life that it measured less sure."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.gauges.precision import Fitted, precision
from models.lives.table import LifeTable
from models.wear.mixture import Component
from models.wear.model import PooledWear
from models.wear.relative import known_or_zero

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def with_shared_doubt(model: PooledWear, table: LifeTable, fitted: Fitted, code: Ints, var: Floats) -> None:
    """Widen the states that a model forecasts from, in place.

    Parameters
    ----------
    fitted : the lives as the model sees them.
    code : shape (n, k). Gauge of each reading, -1 without one.
    var : shape (g,). Variance of what each gauge reads too high. [base unit squared]

    Notes
    -----
    State and readings are normal together: an error e of the readings moves the mean of the state by
    cov(state, readings) precision e. Errors of one gauge move all of its readings of a life alike.
    """
    unsure = (np.where(code >= 0, var[code], 0.0) > 0).any(axis=1)
    rows = np.flatnonzero(unsure & (table.in_service[table.point] == np.arange(len(code))))
    if not len(rows):
        return
    lives, own = fitted.take(rows), code[rows]
    pull_x, pull_b = _pulls(lives)
    error = np.where(own >= 0, np.sqrt(var)[own], 0.0) * lives.gain
    alike = own[:, :, None] == own[:, None, :]  # errors of one gauge come together, those of two do not
    x, b = pull_x * error, pull_b * error
    pairs = ((x, x), (x, b), (b, b))
    moves = np.stack([np.einsum("ni,nij,nj->n", left, alike, right) for left, right in pairs])
    every = np.zeros((3, len(model.row_of_)))
    every[:, model.row_of_[rows]] = moves
    best = model.relative_.per_life(model.shape_weight_.argmax(axis=0))
    scale = np.ones((2, len(best)))
    for i, c in _by_shape(model):
        first = np.flatnonzero(np.diff(c.life, prepend=-1))
        heaviest = first[best[c.life[first]] == i]
        scale[:, c.life[heaviest]] = _gains(c)[:, heaviest]
    model.components_ = [_widened(c, every, scale) for c in model.components_]


def _by_shape(model: PooledWear) -> list[tuple[int, Component]]:
    number = {fit.shape: i for i, fit in enumerate(model.fits_)}
    return [(number[c.shape], c) for c in model.components_]


def _pulls(lives: Fitted) -> tuple[Floats, Floats]:
    """How much the level at the last reading and the rate follow each reading, (n, k) each."""
    read = np.isfinite(lives.z)
    last = read.shape[1] - 1 - read[:, ::-1].argmax(axis=1)
    row = np.arange(len(read))
    time, u = np.where(read, lives.clock, 0.0), lives.u
    shared = lives.q[:, None] * np.minimum(time, time[row, last][:, None])
    shared += lives.ra[:, None] + lives.rb[:, None] * u * u[row, last][:, None]
    if lives.jump is not None:
        steps = np.cumsum(np.where(read, lives.jump, 0.0), axis=1)
        shared += np.minimum(steps, steps[row, last][:, None])
    inverse = precision(lives)
    scale = lives.sigma2[:, None] * read
    level = np.einsum("nk,nkj->nj", shared * scale, inverse)
    rate = np.einsum("nk,nkj->nj", lives.rb[:, None] * u * scale, inverse)
    return level, rate


def _gains(c: Component) -> Floats:
    """Bent wear per relative wear, and bent rate per relative rate, of each pair at its last reading; (2,
    pairs)."""
    slope = c.shape.slope(np.clip(c.shape.straight_wear(c.x), -0.5, 1.5))
    bent = np.where(c.m > 0, c.shape.power * c.u / np.where(c.m > 0, c.m, 1.0), 1.0)
    return np.stack([slope, slope / np.maximum(bent * c.factor, 1e-9)])


def _widened(c: Component, moves: Floats, scale: Floats) -> Component:
    """A shape's pairs with the moves, which are on the scale of the heaviest shape, on their own scale."""
    level, rate = known_or_zero(_gains(c) / scale[:, c.life])
    xx, xb, bb = moves[:, c.life]
    return replace(c, xx=c.xx + xx * level**2, xb=c.xb + xb * level * rate, bb=c.bb + bb * rate**2)
