"""Steps to which chances, miles, money and days are rounded before anything is chosen by them.

Processors of different make give sums, powers and logarithms that differ in their last digits. A search in
which two choices cost nearly the same may then end elsewhere. Rounded to steps that are far coarser than such
differences and far finer than anything known of wear or prices, the search starts from the same numbers
everywhere.
"""

import numpy as np
from numpy.typing import ArrayLike

from models.plan.problem import Floats

CHANCE_DIGITS = 6
"""Decimals of a chance. The forecast's quantiles carry three; decimals, so that an accepted risk of 5 % stays
the chance that it is compared with."""
MILES_DIGITS = 2
"""Decimals of miles: a log is kept to a tenth."""
MONEY_STEP = 1 / 128
"""About a hundredth of a currency's unit. [money] A power of two: sums of such amounts are exact, so they do
not depend on the order in which a processor adds."""
DAY_STEP = 1 / 65536
"""A good second. [d] A power of two for the same reason; with ``MONEY_STEP`` the price of lost days is exact
too, up to a thousand million."""


def chances(values: ArrayLike) -> Floats:
    """Chances to the sixth decimal. [1]"""
    return np.asarray(np.round(np.asarray(values, dtype=np.float64), CHANCE_DIGITS))


def miles(values: ArrayLike) -> Floats:
    """Miles to the second decimal. [mi]"""
    return np.asarray(np.round(np.asarray(values, dtype=np.float64), MILES_DIGITS))


def money(values: ArrayLike) -> Floats:
    """Amounts to the next ``MONEY_STEP``. [money]"""
    return np.asarray(np.round(np.asarray(values, dtype=np.float64) / MONEY_STEP) * MONEY_STEP)


def days(values: ArrayLike) -> Floats:
    """Days to the next ``DAY_STEP``. [d]"""
    return np.asarray(np.round(np.asarray(values, dtype=np.float64) / DAY_STEP) * DAY_STEP)
