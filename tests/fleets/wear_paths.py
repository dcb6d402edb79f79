"""Wear along the miles with known truth: straight, accelerating and decelerating paths, and where they cross.

Several generators stand behind each bent shape, so that no forecaster can be tuned to the one that made
its test. Every path is scaled: wear as a share of the limit, distance in mean lives of the family; a life of
average speed and no Brownian part reaches 1 at 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STEPS = 400
"""Grid steps in one mean life."""
HORIZON = 10
"""Mean lives after which a path is no longer followed."""
RATE_HELD_BEYOND = 1.5
"""A rate that depends on the wear is held from this share of the limit on: beyond the limit nothing is
known of it, and exponential growth would leave the number range."""

# kind -> range of its one shape parameter
GENERATORS: dict[str, dict[str, tuple[float, float]]] = {
    "straight": {"straight": (1.0, 1.0)},
    "accelerating": {
        "power of mileage": (1.3, 2.5),
        "rate grows with mileage": (0.8, 2.5),
        "rate grows with wear": (0.8, 2.5),
        "crack growth": (1.0, 2.0),
    },
    "decelerating": {
        "power of mileage": (0.45, 0.8),
        "rate falls with mileage": (1.5, 6.0),
        "rate falls with wear": (-2.0, -0.6),
    },
}
"""Generators of each shape and the range that each family's shape parameter is drawn from."""

_FLOOR = 0.3  # rate that is left at last, of the first rate, where it falls with mileage
_CRACK = 0.25  # first crack, as a share of the limit, whose power the rate follows


@dataclass(frozen=True)
class PathLaw:
    """How fast one family wears: a generator by name and its parameter."""

    shape: str
    generator: str
    parameter: float


def draw_law(rng: np.random.Generator, shape: str) -> PathLaw:
    """Draw a generator and its parameter; ``mixed`` draws the shape first."""
    if shape == "mixed":
        shape = str(rng.choice(list(GENERATORS)))
    generator = str(rng.choice(list(GENERATORS[shape])))
    low, high = GENERATORS[shape][generator]
    return PathLaw(shape, generator, float(rng.uniform(low, high)))


def mean_of_mileage(law: PathLaw, distance: Floats) -> Floats | None:
    """Mean path at a distance in mean lives, or None where the rate depends on the wear itself."""
    c = law.parameter
    path: Floats | None = None
    match law.generator:
        case "straight":
            path = distance
        case "power of mileage":
            path = distance**c
        case "rate grows with mileage":
            path = np.expm1(c * distance) / np.expm1(c)
        case "rate falls with mileage":
            path = (1 - _FLOOR) * -np.expm1(-c * distance) / c + _FLOOR * distance
            path = path / ((1 - _FLOOR) * -np.expm1(-c) / c + _FLOOR)
    return path


def rate_at_wear(law: PathLaw, wear: Floats) -> Floats:
    """Rate at a wear (share of the limit), scaled so that wear 0 to 1 takes one mean life."""
    c, w = law.parameter, np.clip(wear, 0.0, RATE_HELD_BEYOND)
    rate: Floats = np.exp(c * w) * -np.expm1(-c) / c
    if law.generator == "crack growth":
        by_power = (_CRACK ** (1 - c) - (1 + _CRACK) ** (1 - c)) / (c - 1) if c != 1 else 0.0
        rate = (by_power or np.log((1 + _CRACK) / _CRACK)) * (_CRACK + w) ** c
    return rate


def simulate_paths(
    rng: np.random.Generator, laws: list[PathLaw], speed: Floats, brownian: Floats, start: Floats
) -> Floats:
    """Paths of n lives on the grid.

    Parameters
    ----------
    laws : n laws.
    speed : shape (n,). Rate of the life over the mean rate of its family.
    brownian : shape (n,). Standard deviation of the Brownian part over one mean life, share of the limit.
    start : shape (n,). Wear when new, share of the limit.

    Returns
    -------
    Wear, shape (n, HORIZON * STEPS + 1), share of the limit.
    """
    steps = HORIZON * STEPS
    noise = rng.standard_normal((len(laws), steps)) * (brownian / np.sqrt(STEPS))[:, None]
    distance = np.arange(steps + 1) / STEPS
    path = np.empty((len(laws), steps + 1))
    groups: dict[PathLaw, list[int]] = {}
    for i, law in enumerate(laws):
        groups.setdefault(law, []).append(i)
    depends = []
    for law, rows in groups.items():
        mean = mean_of_mileage(law, distance)
        if mean is None:
            depends.append((law, rows))
            continue
        path[rows] = start[rows, None] + speed[rows, None] * mean
        path[rows, 1:] += np.cumsum(noise[rows], axis=1)
    for law, rows in depends:
        path[rows] = _follow(law, start[rows], speed[rows], noise[rows])
    return path


def _follow(law: PathLaw, start: Floats, speed: Floats, noise: Floats) -> Floats:
    """Euler steps of a rate that depends on the wear."""
    path = np.empty((noise.shape[1] + 1, len(start)))
    path[0] = start
    for j in range(noise.shape[1]):
        path[j + 1] = path[j] + speed * rate_at_wear(law, path[j]) / STEPS + noise[:, j]
    return path.T


def first_crossing(rng: np.random.Generator, path: Floats, brownian: Floats) -> Floats:
    """Distance at which each path first reaches 1, in mean lives; +inf where it has not by the horizon.

    Between grid points the path is a Brownian bridge, which touches 1 with chance
    exp(-2 (1 - w0)(1 - w1) / variance of the step); without it every crossing would come late.
    """
    below, above = 1 - path[:, :-1], 1 - path[:, 1:]
    variance = np.maximum(brownian**2 / STEPS, 1e-300)[:, None]
    both = np.maximum(below, 0) * np.maximum(above, 0)
    touches = rng.random(below.shape) < np.exp(-2 * both / variance)
    crossed = touches | (above <= 0)
    first = crossed.argmax(axis=1)
    rows = np.arange(len(path))
    left, right = below[rows, first], above[rows, first]
    share = np.where(right <= 0, left / np.where(left > right, left - right, 1.0), 0.5)
    at = (first + np.clip(share, 0.0, 1.0)) / STEPS
    return np.where(crossed.any(axis=1), at, np.inf)
