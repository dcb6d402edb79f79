"""Where a line crosses a value: Fieller's limits against published inverse regressions.

Sources
-------
Greenwell & Schubert Kabban (2014), investr: An R Package for Inverse Estimation, The R Journal 6(1):90-100:
    arsenic, crystal; read.
Graybill & Iyer (1994), Regression Analysis: Concepts and Applications, p. 431-434: thermostat, chamber,
    crystal; read in the tests of the R package investr 1.4.2.
Massart et al. (1997), Handbook of Chemometrics and Qualimetrics A, chapter 8, and DIN 32645 (1994): read in
    the tests of the R package chemCal 0.2.3.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from models.rivals.least_squares import fit_lines
from models.rivals.lines import crossing_quantiles

THERMOSTAT = (range(96, 111, 2), [95.71, 98.16, 99.52, 102.09, 103.79, 106.18, 108.14, 110.21])
CHAMBER = (
    range(0, 101, 10),
    [206.36, 225.52, 252.18, 289.33, 318.11, 349.49, 383.03, 410.70, 444.40, 469.14, 501.16],
)


def inverse(x, y, value, confidence, *, of_a_reading):
    """The x at which the line (or one more reading) has that value, its limits, its standard error."""
    lines, freedom = fit_lines(np.array([list(x)], dtype=float), np.array([list(y)], dtype=float))
    if of_a_reading:  # one more reading stands off the line by its own error
        lines = replace(lines, level_var=lines.level_var + lines.reading_var)
    p = np.array([0.5, (1 - confidence) / 2, (1 + confidence) / 2])
    at = np.array([-1e4])  # from far before the data: limits may lie anywhere
    crossing = crossing_quantiles(lines, np.array([value]), at, stats.t.ppf(p, freedom[:, None]))[0] + at
    there = lines.moved_to(crossing[:1])
    return crossing, np.sqrt(there.level_var[0]) / there.rate[0], float(freedom[0])


def test_arsenic(published):
    table = published("investr_arsenic")
    found, error, _ = inverse(table["actual"], table["measured"], 3.0, 0.90, of_a_reading=True)
    np.testing.assert_allclose(found, [2.9314, 2.6035, 3.2587], atol=5e-5)
    assert error == pytest.approx(0.1929, abs=5e-5)


def test_crystal_mean_of_8_grams(published):
    table = published("investr_crystal")
    found, _, _ = inverse(table["time"], table["weight"], 8.0, 0.95, of_a_reading=False)
    np.testing.assert_allclose(found, [15.8882, 14.6590, 17.1596], atol=5e-5)


def test_crystal_mean_of_5_grams_and_one_reading_of_5_grams(published):
    table = published("investr_crystal")
    found, mean_error, _ = inverse(table["time"], table["weight"], 5.0, 0.90, of_a_reading=False)
    np.testing.assert_allclose(found, [9.93, 8.65, 11.05], atol=5e-3)
    _, reading_error, _ = inverse(table["time"], table["weight"], 5.0, 0.90, of_a_reading=True)
    assert mean_error == pytest.approx(0.6658998, abs=5e-8)
    assert reading_error == pytest.approx(2.211698, abs=5e-7)


@pytest.mark.parametrize(
    ("data", "value", "confidence", "of_a_reading", "expected", "printed"),
    [
        (THERMOSTAT, 104.0, 0.95, True, [103.995, 103.4, 104.6], [5e-4, 0.05, 0.05]),
        (THERMOSTAT, 100.0, 0.90, True, [100.1, 99.63, 100.59], [0.05, 5e-3, 5e-3]),
        (CHAMBER, 400.0, 0.99, False, [66.5, 65.07, 68.03], [0.05, 5e-3, 5e-3]),
    ],
    ids=["thermostat at 104", "thermostat at 100", "chamber mean of 400"],
)
def test_graybill_and_iyer(data, value, confidence, of_a_reading, expected, printed):
    found, _, _ = inverse(*data, value, confidence, of_a_reading=of_a_reading)
    assert (np.abs(found - expected) <= printed).all(), found


@pytest.mark.parametrize(("y", "expected"), [(15.0, (6.09381, 1.767278)), (90.0, (43.93983, 1.767747))])
def test_massart(published, y, expected):
    table = published("chemcal_massart97ex1")
    found, error, freedom = inverse(table["x"], table["y"], y, 0.95, of_a_reading=True)
    assert found[0] == pytest.approx(expected[0], abs=5e-6)
    assert error == pytest.approx(expected[1], abs=5e-7)
    # Printed in the book as 6.1 +- 4.9 and 43.9 +- 4.9.
    assert error * stats.t.ppf(0.975, freedom) == pytest.approx(4.9, abs=0.05)


def test_din_32645(published):
    table = published("chemcal_din32645")
    _, error, freedom = inverse(table["x"], table["y"], 3500.0, 0.99, of_a_reading=True)
    assert error * stats.t.ppf(0.995, freedom) == pytest.approx(0.07434, abs=5e-6)


def test_no_bound_where_the_slope_is_not_significant():
    """Fieller's g >= 1: the set of values is a half-line or the whole line; its end has no number."""
    x, y = [0.0, 1.0, 2.0, 3.0, 4.0], [1.0, 0.6, 1.5, 0.7, 1.3]
    lines, freedom = fit_lines(np.array([x]), np.array([y]))
    t = stats.t.ppf([0.025, 0.975], freedom[0])
    assert abs(lines.rate[0]) < t[1] * np.sqrt(lines.rate_var[0])
    crossing = crossing_quantiles(lines, np.array([3.0]), np.array([4.0]), t)[0]
    assert np.isfinite(crossing[0])
    assert crossing[1] == np.inf
