"""Random numbers that belong to a name, so that adding a wear point leaves all others as they were."""

from hashlib import blake2b
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SEED = 1865
_NORMAL = NormalDist()


def _bits(name: tuple[object, ...]) -> int:
    text = "|".join(map(str, (SEED, *name)))
    return int.from_bytes(blake2b(text.encode(), digest_size=8).digest(), "big")


def stream(*name: object) -> np.random.RandomState:
    """Return the generator that belongs to a name.

    ``RandomState`` is frozen: numpy promises the same numbers in every release, which the byte-for-byte
    rewriting of the files needs; the streams of ``default_rng`` may change.
    """
    return np.random.RandomState(_bits(name) >> 32)


def uniform(*name: object) -> float:
    """Return one uniform number in (0, 1)."""
    return ((_bits(name) >> 12) + 0.5) / 2**52


def normal(*name: object) -> float:
    """Return one standard normal number."""
    return _NORMAL.inv_cdf(uniform(*name))


def pick(options: list[str], *name: object) -> str:
    """Return one of the options, all equally likely."""
    return options[int(uniform(*name) * len(options))]


def normals(points: list[str], columns: int, *name: object) -> Floats:
    """Return standard normal numbers, one row a point. [1], shape (n, columns)"""
    return np.array([stream(point, *name).standard_normal(columns) for point in points])
