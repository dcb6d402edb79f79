"""The precision matrix of a life's readings: what every question about single readings is answered with.

With a life's own start and rate integrated out, readings ``y`` are normal about ``a0 + mu u`` with the
covariance ``sigma^2 K``, ``K = noise + q min(clock) + steps + r_a + r_b u u'``. The filter never writes K
down, because a fit asks only for sums; here a few pages of 10 x 10 numbers a life answer what a gauge, a
day or a pair of readings does.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.wear.heaviest import under_heaviest
from models.wear.life_states import Nodes
from models.wear.model import PooledWear
from models.wear.relative import Straightened, known_or_zero

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Fitted:
    """Lives as the fitted model sees them, under the heaviest shape of each family, in the order of the
    table.

    Attributes
    ----------
    u, z : shape (n, k). Bent distance and wear; NaN in ``z`` where there is no reading.
    noise, clock, jump : shape (n, k). As in :class:`models.wear.relative.Straightened`, over the family's
        variance.
    gain : shape (n, k). Bent wear per unit of the readings: what an offset of a reading is worth.
    q, ra, rb, sigma2, a0, mu : shape (n,). Parameters of the family, as in
        :class:`models.wear.life_states.Nodes`.
    """

    u: Floats
    z: Floats
    noise: Floats
    clock: Floats
    jump: Floats | None
    gain: Floats
    q: Floats
    ra: Floats
    rb: Floats
    sigma2: Floats
    a0: Floats
    mu: Floats

    def take(self, rows: Ints) -> "Fitted":
        """Some of the lives."""
        taken: dict[str, Any] = {name: None if x is None else x[rows] for name, x in vars(self).items()}
        return Fitted(**taken)


def fitted_lives(model: PooledWear) -> Fitted:
    """The lives of a fitted model."""
    rel, row = model.relative_, model.row_of_
    data, nodes = under_heaviest(rel, model.shaped_)
    slope = np.sqrt(data.noise / rel.noise)
    gain = slope / rel.per_life(rel.allowance)[:, None]
    parts: tuple[Straightened, Nodes] = (data, nodes)
    return _joined(parts, gain).take(row)


def _joined(parts: tuple[Straightened, Nodes], gain: Floats) -> Fitted:
    data, nodes = parts
    offset = np.zeros(len(data.z)) if data.offset is None else data.offset
    return Fitted(
        u=known_or_zero(data.u),
        z=data.z + offset[:, None] * data.u,
        noise=data.noise,
        clock=known_or_zero(data.clock),
        jump=data.jump,
        gain=gain,
        q=nodes.q[0],
        ra=nodes.ra[0],
        rb=nodes.rb[0],
        sigma2=nodes.sigma2[0],
        a0=nodes.a0[0],
        mu=nodes.mu[0] + offset,
    )


def precision(lives: Fitted) -> Floats:
    """Inverse of the covariance of each life's readings, shape (n, k, k); rows and columns without a
    reading are 0.

    Over the square of the bent wear.
    """
    read = np.isfinite(lives.z)
    both = read[:, :, None] & read[:, None, :]
    time = np.where(read, lives.clock, 0.0)
    shared = lives.q[:, None, None] * np.minimum(time[:, :, None], time[:, None, :])
    shared += lives.ra[:, None, None] + lives.rb[:, None, None] * lives.u[:, :, None] * lives.u[:, None, :]
    if lives.jump is not None:
        steps = np.cumsum(np.where(read, lives.jump, 0.0), axis=1)
        shared += np.minimum(steps[:, :, None], steps[:, None, :])
    k = lives.z.shape[1]
    own = np.where(read, lives.noise, 1.0)[:, :, None] * np.eye(k)
    inverse = np.linalg.inv(np.where(both, shared, 0.0) + own)
    return np.asarray(np.where(both, inverse, 0.0) / lives.sigma2[:, None, None])


def residuals(lives: Fitted) -> Floats:
    """Readings less the mean of their family, shape (n, k); 0 where there is none."""
    mean = lives.a0[:, None] + lives.mu[:, None] * lives.u
    return np.where(np.isfinite(lives.z), known_or_zero(lives.z) - mean, 0.0)
