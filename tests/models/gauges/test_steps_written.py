"""Values in thirty-seconds are no surer than thirty-seconds, whatever is stated of the gauge."""

import numpy as np
import pytest
from fleets.gauge_worlds import World, losses, simulated

from models.forecast.run import make_forecast
from models.gauges.steps_written import MM_PER_INCH, steps_of

RULE = {"noise": 0.008, "allowance": (0.3, 0.8), "grid": 1 / 32}


@pytest.mark.parametrize(
    ("step", "unit"),
    [(1 / 16, "in"), (1 / 32, "in"), (1 / 64, "in"), (0.05, "in"), (0.001, "in"), (0.5, "mm"), (0.1, "mm")],
)
def test_the_step_is_read_from_the_values(step, unit):
    mm = MM_PER_INCH if unit == "in" else 1.0
    values = np.round(np.random.default_rng(1).uniform(40, 80, 40) / step) * step * mm
    assert steps_of(values, [np.zeros(40, int)]) == pytest.approx(step * mm)


def test_thirty_seconds_written_with_three_decimals_are_thirty_seconds():
    values = np.round(np.arange(20) / 32, 3) * MM_PER_INCH
    assert steps_of(values, [np.zeros(20, int)]) == pytest.approx(MM_PER_INCH / 32)


def test_no_step_where_there_is_none_or_too_few_values():
    values = np.random.default_rng(1).uniform(40, 80, 40)
    assert (steps_of(values, [np.zeros(40, int)]) == 0).all()
    assert (steps_of(np.array([1.0, 2.0, 3.0]), [np.zeros(3, int)]) == 0).all()


def test_a_kind_with_few_values_takes_the_step_of_its_gauge():
    values = np.array([1.0, 1.5, *np.arange(10, 20, 0.5)])
    kind = np.array([0, 0, *[1] * 20])
    assert (steps_of(values, [kind, np.zeros(22, int)]) == 0.5).all()


def _loss(world):
    made = simulated(world, 1)
    return losses(make_forecast(made.tables).frames["forecast"], made.truth)


def test_an_error_stated_finer_than_the_rule_costs_nothing():
    # 0.0258 against 0.0176 of a life, and 97 % in the interval of 80 %, where the stated error was believed.
    stated = _loss(World(**RULE, engines=20, gauge_sd=0.004))
    unstated = _loss(World(**RULE, engines=20))
    assert stated["loss"].mean() < 1.06 * unstated["loss"].mean()
    assert 0.72 < stated["held"].mean() < 0.88  # of 480 parts: 4 standard errors either side
