"""Lives as they were: the first readings of each, as many as there were by then."""

from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from models.lives.table import Lives

Ints = NDArray[np.int64]


def cut_to(lives: Lives, row: Ints, count: Ints) -> Lives:
    """These rows, each with its first ``count`` readings."""
    width = int(count.max()) if len(row) else 0
    past = np.arange(width) < count[:, None]
    kept = {f.name: getattr(lives, f.name) for f in fields(lives) if getattr(lives, f.name) is not None}
    for name, values in kept.items():
        if values.ndim == 1:
            kept[name] = values[row]
        else:
            kept[name] = np.where(past, values[row, :width], False if values.dtype == bool else np.nan)
    return Lives(**kept)
