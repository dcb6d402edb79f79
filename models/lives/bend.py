"""Where the readings of one life bend: from which of them on the wear runs at another rate."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def bends_at(miles: Floats, wear: Floats) -> int:
    """Column of the reading at which two lines that meet there fit a life's readings best.

    Parameters
    ----------
    miles, wear : shape (k,). Of one life, NaN after the last reading; four readings or more.
    """
    read = np.flatnonzero(np.isfinite(wear))
    m, w = miles[read], wear[read]

    def off(i: int) -> float:
        terms = np.stack([np.ones_like(m), m, np.maximum(m - m[i], 0.0)], axis=1)
        line = np.linalg.lstsq(terms, w, rcond=None)[0]
        return float(((w - terms @ line) ** 2).sum())

    return int(read[min(range(1, len(read) - 1), key=off)])
