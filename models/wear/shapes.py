"""Shapes of wear: straight, running in, accelerating.

Each shape has one number. In time shapes the distance is bent, ``u = m^c``; in wear shapes the response is,
``g(w) = (1 - exp(-k w)) / (1 - exp(-k))``: on the bent scale the mean wear is straight again. Distance and
wear are relative (1: about a life of the family, 1: the wear allowance), so the numbers mean the same in any
unit. The Brownian part keeps its plain variance per mile: bending it along with the mean was tried and
forecast bent families worse.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Shape:
    """One shape of wear.

    Attributes
    ----------
    name : what people read.
    kind : straight, or which of the four ways of bending; shapes of one kind share their weight.
    power : c of the time scale; 1 is straight, above 1 the wear accelerates with distance.
    growth : k of the wear scale; 0 is straight, above 0 the rate grows with the wear.
    """

    name: str
    kind: str
    power: float = 1.0
    growth: float = 0.0

    def distance(self, m: Floats) -> Floats:
        """Bent distance of relative distance m >= 0; same shape, 1 at 1."""
        return m if self.power == 1.0 else np.power(np.maximum(m, 0.0), self.power)

    def straight_distance(self, u: Floats) -> Floats:
        """Relative distance of bent distance u >= 0: the inverse of :meth:`distance`."""
        return u if self.power == 1.0 else np.power(np.maximum(u, 0.0), 1.0 / self.power)

    def wear(self, w: Floats) -> Floats:
        """Bent wear of relative wear w; same shape, 0 at 0 and 1 at 1."""
        if self.growth == 0.0:
            return w
        return np.asarray(np.expm1(-self.growth * w) / np.expm1(-self.growth))

    def straight_wear(self, z: Floats) -> Floats:
        """Relative wear of bent wear z: the inverse of :meth:`wear`; +inf beyond its range."""
        if self.growth == 0.0:
            return z
        with np.errstate(divide="ignore"):
            return np.asarray(-np.log1p(np.maximum(z * np.expm1(-self.growth), -1.0)) / self.growth)

    def slope(self, w: Floats) -> Floats:
        """Derivative of :meth:`wear`; > 0."""
        if self.growth == 0.0:
            return np.ones_like(w)
        return np.asarray(-self.growth * np.exp(-self.growth * w) / np.expm1(-self.growth))

    def mean_square_slope(self, w0: Floats, w1: Floats) -> Floats:
        """Mean over the distance run of slope^2 on the way from wear w0 to w1: what a plain Brownian step
        becomes.

        The distance spent at a wear goes as the slope there, so the mean is the integral of slope^3 over
        that of slope.
        """
        a, b = self.slope(w0), self.slope(w1)
        # The slope falls exponentially, so both integrals are differences of its powers over k.
        return (a * a + a * b + b * b) / 3.0

    def clock(self, m: Floats, w: Floats) -> Floats:
        """Time of the Brownian part at each reading, shape (n, k), from relative distance and wear; NaN as
        they are."""
        if self.growth == 0.0:
            return m
        present = np.isfinite(m) & np.isfinite(w)
        distance, wear = np.where(present, m, 0.0), np.clip(np.where(present, w, 0.0), 0.0, 1.1)
        start = np.zeros((len(m), 1))
        before = np.concatenate([start, np.maximum.accumulate(distance, axis=1)[:, :-1]], axis=1)
        worn = np.concatenate([start, np.maximum.accumulate(wear, axis=1)[:, :-1]], axis=1)
        step = np.maximum(distance - before, 0.0) * self.mean_square_slope(worn, wear)
        return np.where(present, np.cumsum(np.where(present, step, 0.0), axis=1), np.nan)


STRAIGHT = Shape("straight", "straight")
SHAPES: tuple[Shape, ...] = (
    STRAIGHT,
    *(
        Shape(f"running in (miles to the power {c:g})", "slower with miles", power=c)
        for c in (0.5, 0.7, 0.85)
    ),
    *(
        Shape(f"accelerating (miles to the power {c:g})", "faster with miles", power=c)
        for c in (1.2, 1.5, 2.0, 2.7)
    ),
    *(Shape(f"slowing as it wears ({k:g})", "slower with wear", growth=k) for k in (-1.5, -0.7)),
    *(Shape(f"faster as it wears ({k:g})", "faster with wear", growth=k) for k in (0.7, 1.5, 3.0)),
)
"""The shapes that are tried and averaged; the first is straight."""
FEW: tuple[Shape, ...] = (STRAIGHT, SHAPES[2], SHAPES[5], SHAPES[8], SHAPES[11])
"""One shape of each kind, straight first: enough where only what the shapes have in common is asked for."""
KINDS: tuple[str, ...] = tuple(dict.fromkeys(shape.kind for shape in SHAPES))
"""Kinds of shape, straight first."""


def either_way(weight: Floats) -> Floats:
    """How open it is whether wear slows down or accelerates, shape (n,): 0 where one of the two is ruled out,
    1 where it does one or the other with even chances.

    Parameters
    ----------
    weight : shape (s, n). Weight of each of ``SHAPES``, or of the first of them.
    """
    slower, faster = (
        weight[[shape.kind.startswith(way) for shape in SHAPES[: len(weight)]]].sum(axis=0)
        for way in ("slower", "faster")
    )
    return np.asarray(4.0 * slower * faster)
