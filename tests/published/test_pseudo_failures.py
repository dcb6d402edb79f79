"""A straight line through each unit, carried on to its limit: the lasers' pseudo failure times.

Source
------
Meeker & Escobar (1998), Statistical Methods for Reliability Data, Wiley, Table C.17 (read) and Example 13.10
(answers from memory: all fifteen are reproduced, the reading at 0 h included and an intercept fitted).
"""

import numpy as np

from models.lives.table import Lives
from models.rivals.last_two import LastTwoReadings
from models.rivals.least_squares import LeastSquares

HOURS_TO_TEN_PERCENT = [
    3702,
    4194,
    5847,
    6172,
    5301,
    3592,
    6051,
    6538,
    5110,
    3306,
    5326,
    4995,
    4721,
    5689,
    6102,
]


def lasers(published):
    wide = published("gaas_laser").pivot_table(index="unit", columns="hours", values="increase")
    n, k = wide.shape
    hours = np.tile(np.array(wide.columns, dtype=float), (n, 1))
    return Lives(
        family=np.zeros(n, dtype=int),
        miles=hours,
        wear=wide.to_numpy(),
        limit=np.full(n, 10.0),
        gauge_sd=np.full((n, k), np.nan),
        as_of_miles=np.zeros(n),
        ended=np.zeros(n, dtype=bool),
        day=hours,
    )


def test_fifteen_pseudo_failure_times(published):
    median = LeastSquares().fit(lasers(published)).predict_remaining([0.5])[:, 0]
    np.testing.assert_array_equal(np.round(median), HOURS_TO_TEN_PERCENT)


def test_a_ruler_on_the_last_two_readings_is_hundreds_of_hours_off(published):
    """For scale: what two readings make of it."""
    ruler = LastTwoReadings().fit(lasers(published)).predict_remaining([0.5])[:, 0]
    off = np.abs(ruler - HOURS_TO_TEN_PERCENT)
    assert np.median(off) > 100
    assert off.max() > 500
