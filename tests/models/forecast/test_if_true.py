"""A last reading that looks wild and lies toward the limit: it counts little, and is allowed for."""

import numpy as np
import pytest

from models.distribution import PROBABILITIES
from models.forecast import if_true
from models.forecast.if_true import TRUE, _either
from models.forecast.run import make_forecast

POINTS = [(name, 0.0, 4.0) for name in "ABC"]


def readings(last=None):
    rng = np.random.default_rng(2)
    rows = []
    for point, rate in (("A", 0.25), ("B", 0.3), ("C", 0.2)):
        for day in range(100, 1000, 100):
            value = max(rate * day / 100 + 0.03 * rng.standard_normal(), 0)
            rows.append((point, day, last if last and (point, day) == ("A", 900) else value, day * 10))
    return rows


def of_point_a(tables, rows):
    return make_forecast(tables(rows, points=POINTS)).frames["forecast"].set_index("point").loc["A"]


@pytest.fixture(scope="module")
def usual(tables):
    return of_point_a(tables, readings())


@pytest.mark.parametrize(("worn", "now"), [(3.0, 0.0), (3.5, 0.0), (4.6, TRUE)])
def test_a_reading_nearer_to_the_limit_makes_the_careful_figure_no_longer(tables, usual, worn, now):
    said = of_point_a(tables, readings(worn))
    assert "counts little, measure again" in said["flags"]
    assert said["miles_p50"] == pytest.approx(usual["miles_p50"], rel=0.15)  # it counts little
    # If it is true, what is left of the 4 mm, 1,000 miles after it, goes at the part's own rate.
    left = max((4.0 - worn) / said["rate_per_1000_mi"] - 1.0, 0.0) * 1000
    assert said["miles_p05"] == pytest.approx(left, rel=0.25, abs=1.0)
    assert said["miles_p05"] < 0.7 * usual["miles_p05"]
    assert said["p_beyond_now"] == pytest.approx(now, abs=0.01)


def test_a_reading_away_from_the_limit_makes_nothing_longer(tables, usual):
    said = of_point_a(tables, readings(0.4))
    assert "counts little, measure again" in said["flags"]
    assert said["miles_p05"] == pytest.approx(usual["miles_p05"], rel=0.1)


def test_one_that_a_later_reading_speaks_against_is_not_allowed_for(tables, monkeypatch):
    rows = [*readings(3.8), ("A", 950, 2.4, 9500)]
    said = of_point_a(tables, rows)
    assert "a later one is as expected" in said["flags"]
    monkeypatch.setattr(if_true, "TRUE", 0.0)
    assert of_point_a(tables, rows)["miles_p05"] == said["miles_p05"]
    # The same without the later reading is allowed for.
    plain = of_point_a(tables, rows[:-1])["miles_p05"]
    monkeypatch.undo()
    assert of_point_a(tables, rows[:-1])["miles_p05"] < plain


def test_either_is_the_mixture_that_is_drawn():
    """20,000 draws: quantiles between 0.02 and 0.98 are out by less than 0.01 in probability."""
    rng = np.random.default_rng(5)
    told = 10_000 * np.exp(0.2 * np.linspace(-3, 3, len(PROBABILITIES)))
    true, past = 0.1 * told, 0.3
    u = rng.uniform(size=20_000)
    one = np.where(rng.uniform(size=u.size) < past, 0.0, np.interp(u, PROBABILITIES, true))
    drawn = np.where(rng.uniform(size=u.size) < TRUE, one, np.interp(u, PROBABILITIES, told))
    said = _either(told, true, past)
    assert (np.diff(said) >= 0).all()
    for p, q in zip(PROBABILITIES, said, strict=True):
        if 0.04 < p < 0.98:
            assert (drawn <= q).mean() == pytest.approx(p, abs=0.01)
    assert said[PROBABILITIES == 0.02][0] == 0.0  # 3 times in 100 the limit is passed


def test_miles_without_an_end_stay_so_but_where_the_reading_tells_of_one():
    told = np.where(PROBABILITIES < 0.5, 10_000 * (1 + PROBABILITIES), np.inf)
    said = _either(told, np.zeros(told.size), 1.0)
    assert (said[PROBABILITIES < 0.5 * TRUE] == 0).all()
    assert np.isinf(said[PROBABILITIES > 0.6]).all()
    assert not np.isnan(said).any()
