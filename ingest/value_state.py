"""What a value says of its wear point: the one place where a value is held against new part and limits.

Adding rows, readings at the engine, pages and drawings speak of the same state. What cannot be right is never
within a limit.
"""

import numpy as np
import pandas as pd

from ingest.figures import limit

IMPLAUSIBLE, PAST, SHOP, WITHIN, UNKNOWN = "implausible", "past", "shop", "within", "unknown"

LAST_READING = {
    PAST: "last reading is at its limit or past it",
    IMPLAUSIBLE: "last reading cannot be right: far outside new and limit, read again",
}
"""What is said of a wear point whose last reading has such a state."""

LAST_FIGURE = 1e-9
"""Of the way from new to the limit: below it a difference is arithmetic, not wear. [1]"""


def value_states(values: pd.Series, points: pd.DataFrame) -> pd.Series:
    """State of each value.

    Parameters
    ----------
    values : NaN where nothing was read.
    points : same index: new_value, condemning_limit, shop_limit in the unit of the values, condemned_when.

    Returns
    -------
    Texts with the index of ``values``: ``implausible`` (negative, or far outside new and limit), ``past`` the
    condemning limit, ``shop`` (past the shop limit only), ``within``, ``unknown`` (no value, limit or new
    value).
    """
    new, condemning, shop = (
        points[name].astype("float64") for name in ("new_value", "condemning_limit", "shop_limit")
    )
    slack = LAST_FIGURE * (condemning - new).abs()
    toward = np.sign(condemning - new)
    left = toward * (condemning - values)
    at_it = points["condemned_when"] != "beyond"
    past = (left < -slack) | ((left <= slack) & at_it)
    known = values.notna() & (condemning != new) & (condemning - new).notna()
    states = np.select(
        [
            is_negative(values, new, condemning) | is_far_outside(values, new, condemning),
            ~known,
            past,
            toward * (values - shop) > slack,
        ],
        [IMPLAUSIBLE, UNKNOWN, PAST, SHOP],
        WITHIN,
    )
    return pd.Series(states, index=values.index, dtype="str")


def is_negative(values: pd.Series, new: pd.Series, condemning: pd.Series) -> pd.Series:
    """Whether values lie below zero by more than a gauge scatters, where that is no measure of the point."""
    return values < not_below(new, condemning)


def not_below(new: pd.Series, condemning: pd.Series) -> pd.Series:
    """Values below this are negative, no measure of the point; NaN where it may have such values."""
    # A gauge scatters about the true value, so a part that is new at zero may read a little below it.
    slack = (limit("reading", "below_zero") * (condemning - new).abs()).where(new == 0, 0.0).fillna(0.0)
    return (-slack).mask(np.fmin(new, condemning) < 0)


def is_far_outside(values: pd.Series, new: pd.Series, condemning: pd.Series) -> pd.Series:
    """Whether values lie beyond new or limit by so much as no worn part does."""
    reach = furthest(new, condemning)
    outside: pd.Series = (values < reach["low"]) | (values > reach["high"])
    return outside


def furthest(new: pd.Series, condemning: pd.Series) -> pd.DataFrame:
    """Smallest and largest value (low, high) that a part with this new value and limit can have.

    Beyond the limit by ``reading.beyond_limit`` of the way from new to it, beyond new by ``beyond_new``; a
    dimension of the part itself (both above 0, and no less than half of that way) not less than
    ``least_ratio`` of the smaller one. NaN where new value and limit do not tell.
    """
    way = condemning - new
    span = way.abs()
    past, short = limit("reading", "beyond_limit") * span, limit("reading", "beyond_new") * span
    low = (new - short).where(way > 0, condemning - past)
    high = (condemning + past).where(way > 0, new + short)
    small = np.fmin(new, condemning)
    itself = (small > 0) & (small >= limit("reading", "itself") * span)
    low = low.mask(itself, np.fmax(low, limit("reading", "least_ratio") * small))
    return pd.DataFrame({"low": low.where(span > 0), "high": high.where(span > 0)}, index=new.index)
