"""Least squares against certified and published regressions.

Sources
-------
NIST/ITL Statistical Reference Datasets, Linear Regression, Norris: certified values, read.
NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.2.3: R listing of the fit, read.
Natrella (1963), Experimental Statistics, NBS Handbook 91, p. 5-11 ff.: from memory, reproduced.
Montgomery, Peck & Vining, Introduction to Linear Regression Analysis, chapter 2: from memory, reproduced.
"""

import numpy as np
import pytest
from scipy import stats

from models.rivals.least_squares import fit_lines
from models.rivals.lines import reading_quantiles


def line_through(x, y):
    lines, freedom = fit_lines(np.array([x], dtype=float), np.array([y], dtype=float))
    return lines.moved_to(np.zeros(1)), float(freedom[0])


def test_norris(published):
    table = published("norris")
    line, freedom = line_through(table["x"], table["y"])
    assert freedom == 34
    # 15 digits are certified; centered sums in doubles keep 12 of them.
    assert line.level[0] == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.rate[0] == pytest.approx(1.00211681802045, rel=1e-13)
    assert np.sqrt(line.level_var[0]) == pytest.approx(0.232818234301152, rel=1e-11)
    assert np.sqrt(line.rate_var[0]) == pytest.approx(0.429796848199937e-03, rel=1e-11)
    assert np.sqrt(line.reading_var[0]) == pytest.approx(0.884796396144373, rel=1e-11)


def test_the_same_line_from_two_million_miles_on(published):
    """Big distances must not cost digits: the certified slope, with 2,000,000 added to every x."""
    table = published("norris")
    lines, _ = fit_lines(np.array([table["x"] + 2e6]), np.array([table["y"]]))
    assert lines.rate[0] == pytest.approx(1.00211681802045, rel=1e-9)
    assert np.sqrt(lines.rate_var[0]) == pytest.approx(0.429796848199937e-03, rel=1e-6)


def test_nist_8_4_2_3(published):
    table = published("nist_8423_degradation")
    y = np.log(30) - np.log(table["degradation"]) + np.log(table["hours"])
    x = 100_000 / (8.617 * (table["temp_c"] + 273.16))
    line, freedom = line_through(x, y)
    assert freedom == 43
    assert line.level[0] == pytest.approx(-18.94337, abs=5e-6)
    assert np.sqrt(line.level_var[0]) == pytest.approx(1.83343, abs=5e-6)
    assert line.rate[0] == pytest.approx(0.81877, abs=5e-6)
    assert np.sqrt(line.rate_var[0]) == pytest.approx(0.05641, abs=5e-6)
    assert np.sqrt(line.reading_var[0]) == pytest.approx(0.5611, abs=5e-5)


def test_natrella_511(published):
    table = published("natrella_511")
    line, _ = line_through(table["celsius"], table["modulus"])
    assert line.level[0] == pytest.approx(4654.9846, abs=5e-5)
    assert line.rate[0] == pytest.approx(-0.44985482, abs=5e-9)


def test_rocket_propellant(published):
    table = published("rocket_propellant")
    line, freedom = line_through(table["age_weeks"], table["shear_psi"])
    assert line.level[0] == pytest.approx(2627.82, abs=5e-3)
    assert line.rate[0] == pytest.approx(-37.15, abs=5e-3)
    assert np.sqrt(line.rate_var[0]) == pytest.approx(2.89, abs=5e-3)
    t = stats.t.ppf([0.025, 0.975], freedom)
    interval = line.rate[0] + t * np.sqrt(line.rate_var[0])
    np.testing.assert_allclose(interval, [-43.22, -31.08], atol=5e-3)
    prediction = reading_quantiles(line, np.array([[10.0]]), t)[0, 0]
    # The book rounds s before it goes on: 0.06 of 415 psi.
    np.testing.assert_allclose(prediction, [2048.32, 2464.32], atol=0.15)
