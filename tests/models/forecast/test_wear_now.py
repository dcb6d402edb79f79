"""The present rate: what it is where wear is beyond the limit, or just begun."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from models.forecast.run import make_forecast
from models.forecast.wear_now import _medians

LIFE, LIMIT, GROWTH = 30_000.0, 4.0, 3.0


def family(tables, wear, *, log, work=()):
    """Eight parts read every 1,500 mi for 24,000 mi; lives of 26,000 to 34,000 mi."""
    rng, readings = np.random.default_rng(4), []
    lives = rng.uniform(26_000, 34_000, 8)
    for point, life in zip("ABCDEFGH", lives, strict=True):
        for day in range(150, 2401, 150):
            value = LIMIT * wear(10 * day / life) + 0.03 * rng.standard_normal()
            readings.append((point, day, max(value, 0.0), 10 * day))
    made = tables(readings, work, points=[(point, 0.0, LIMIT) for point in "ABCDEFGH"], log=log)
    return make_forecast(made).frames["forecast"].set_index("point")


def test_parts_long_past_their_limit_wear_as_at_the_limit(tables):
    """Wear that grows with the wear, and a log that goes on for a life after the last reading."""
    table = family(
        tables,
        lambda share: -np.log1p(-share * -np.expm1(-GROWTH)) / GROWTH,
        log=((0, 0), (5400, 54_000)),
    )
    assert (table["p_beyond_now"] > 0.6).all()
    at_limit = LIMIT / LIFE * np.expm1(GROWTH) / GROWTH * 1000  # dw/du at w = 1
    assert (table["rate_per_1000_mi"] < 1.3 * at_limit).all()
    assert (table["rate_per_1000_mi"] > 0.5 * LIMIT / LIFE * 1000).all()


def test_a_part_renewed_yesterday_wears_fast_but_not_beyond_all_measure(tables):
    """Wear as the root of the miles, whose rate at the first mile has no bound."""
    table = family(
        tables, np.sqrt, log=((0, 0), (2401, 24_010)), work=[("A", 2400, "renewed", LIMIT * 0.9, 0.0)]
    )
    after_a_twentieth = LIMIT / LIFE * 0.5 / np.sqrt(0.05) * 1000
    assert table.loc["A", "rate_per_1000_mi"] == pytest.approx(after_a_twentieth, rel=0.3)


def test_median_of_a_mixture_is_where_half_of_it_lies():
    means, sds, weights = np.array([0.2, 1.0, 5.0]), np.array([0.1, 0.4, 3.0]), np.array([0.3, 0.5, 0.2])
    zeros = np.zeros(3, dtype=np.int64)
    found = _medians([(zeros, weights, means, sds), (zeros + 1, weights, means + 1, sds)], 2)
    exact = brentq(lambda x: weights @ norm.cdf((x - means) / sds) - 0.5, 0, 5)
    assert found == pytest.approx([exact, exact + 1], abs=1e-5)
    assert exact < 0.95 * weights @ means  # of skew mixtures the mean is another
