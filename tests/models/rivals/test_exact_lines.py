"""Readings that lie on a line to the last digit: the line crosses where it does, at every chance."""

import numpy as np
import pytest

from models.lives.table import Lives
from models.rivals.least_squares import LeastSquares
from models.rivals.lines import Lines, crossing_quantiles

SCORES = np.array([-1.6, -0.7, 0.0, 0.7, 1.6])


@pytest.mark.parametrize(
    ("level", "rate", "limit", "at"), [(3.0, 0.1, 10.0, 70.0), (2.75, 0.00032, 9.0, 6.25 / 0.00032)]
)
def test_a_line_known_for_sure_crosses_at_one_place(level, rate, limit, at):
    """The chances other than one half were never reached: rounding took the root away."""
    one = np.ones(1)
    lines = Lines(level * one, rate * one, 0 * one, 0 * one, 0 * one, 0 * one, 0 * one)
    found = crossing_quantiles(lines, limit * one, 0 * one, SCORES)
    assert found == pytest.approx(np.full((1, 5), at))


def test_three_readings_on_a_line():
    miles = np.array([[5656.0, 6701.0, 8258.0]])
    lives = Lives(
        family=np.zeros(1, dtype=int),
        miles=miles,
        wear=0.47 + 0.00053 * miles,
        limit=np.array([9.0]),
        gauge_sd=np.full((1, 3), np.nan),
        as_of_miles=miles[:, -1],
        ended=np.zeros(1, dtype=bool),
        day=miles,
    )
    found = LeastSquares().fit(lives).predict_remaining([0.1, 0.5, 0.9])
    assert found == pytest.approx(np.full((1, 3), 8.53 / 0.00053 - 8258), rel=1e-4)
