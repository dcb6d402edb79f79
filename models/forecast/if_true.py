"""An odd last reading that may be true: until the part is read again the forecast allows for it.

The wear model takes a reading far from all others for wild, and it counts little: nearly always it was
misread. But a bearing may have run hot since the last round, and then the reading is all that tells of it.
Of a reading toward the limit that none after it speaks against, a share stays: the miles that would be left
if it were true.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from models.distribution import PROBABILITIES
from models.forecast.alarms import WILD
from models.forecast.wear_now import WearNow
from models.lives.table import Lives
from models.wear.model import PooledWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TRUE = 0.1
"""Chance that a last reading is true though it looks wild and lies toward the limit. Practice, no source:
more than the 1 in 20 of the careful figure, which it so decides."""


def with_odd_last(
    remaining: Floats, beyond: Floats, model: PooledWear, lives: Lives, life: Ints, wear: WearNow
) -> tuple[Floats, Floats]:
    """Remaining miles and the chance that the limit was reached, odd last readings allowed for.

    Parameters
    ----------
    remaining : shape (f, 33), at ``models.distribution.PROBABILITIES``. [mi] beyond : shape (f,). [1]
    model : fitted to ``lives``. life : shape (f,). Lives that are forecast. wear : theirs at as-of.

    Returns
    -------
    The same, shapes kept; rows without such a reading are as they were.
    """
    row = np.arange(len(life))
    last = lives.count[life] - 1
    odd = (last >= 0) & (model.wild_[model.row_of_[life]][row, np.maximum(last, 0)] >= WILD)
    if not odd.any():
        return remaining, beyond
    since = np.maximum(lives.as_of_miles[life] - lives.miles[life, last], 0.0)
    worn = (lives.wear[life, last] + np.maximum(wear.rate, 0.0) * since) / lives.limit[life]
    level = wear.level / lives.limit[life]
    sigma = wear.sigma / lives.limit[life]
    asked = np.flatnonzero(odd & (worn > level) & (level < 1.0))
    out, chance = remaining.copy(), beyond.copy()
    for i in asked:
        past = float(ndtr((worn[i] - 1.0) / max(sigma[i], 1e-9)))
        share = max(1.0 - worn[i], 0.0) / (1.0 - level[i])
        left = remaining[i] * share if share > 0 else np.zeros(remaining.shape[1])  # some may be endless
        out[i] = _either(remaining[i], left, past)
        chance[i] = (1.0 - TRUE) * beyond[i] + TRUE * past
    return out, chance


def _either(told: Floats, if_true: Floats, past: float) -> Floats:
    """Quantiles of miles that are, one time in ``1 / TRUE``, those of a true reading, else those told.

    ``past``: chance that the limit is passed if it is true.
    """
    at = np.unique(np.concatenate([[0.0], told, if_true]))
    at = at[np.isfinite(at)]
    known = np.isfinite(told)
    plain = np.interp(at, told[known], PROBABILITIES[known], left=0.0)
    known = np.isfinite(if_true)
    true = past + (1.0 - past) * np.interp(at, if_true[known], PROBABILITIES[known], left=0.0)
    mixed = np.maximum.accumulate((1.0 - TRUE) * plain + TRUE * true)
    said = np.interp(PROBABILITIES, mixed, at, left=0.0, right=np.inf)
    return np.asarray(np.minimum(said, told))
