"""Seasons on the odometer, and miles weighted by what they did."""

import numpy as np
import pandas as pd
import pytest

from models.lives.build import build_lives
from models.seasons.effective import effective_lives
from models.seasons.season_table import season_table

LOG = ((100, 0), (465, 3_650), (831, 7_310), (1000, 9_000))
"""Ten miles a day; day 366 is the first of 2001, day 731 that of 2002."""


@pytest.fixture
def record(tables):
    """One wear point, read twice in three years."""
    return tables([("A", 200, 0.5, 1_000), ("A", 900, 3.0, 8_000)], log=LOG)


@pytest.fixture
def two_readings(record):
    table = build_lives(record)
    return table, season_table(table, record["mileage"])


def test_a_season_is_a_calendar_year(two_readings):
    _, seasons = two_readings
    assert seasons.year.tolist() == [[2000, 2001, 2002]]
    assert seasons.edge.tolist() == [[2_660.0, 6_310.0]]
    assert seasons.as_of.tolist() == [9_000.0]
    assert seasons.usual.tolist() == [3_650.0], "of the one whole season"


def test_nothing_of_later_counts_on_an_earlier_day(record):
    day = pd.Timestamp("2001-06-01")
    table = build_lives(record, day)
    seasons = season_table(table, record["mileage"], day)
    assert seasons.year.tolist() == [[2000, 2001]]
    earlier = {**record, "mileage": record["mileage"][record["mileage"]["date"] <= day]}
    alone = season_table(build_lives(earlier, day), earlier["mileage"], day)
    np.testing.assert_array_equal(seasons.edge, alone.edge)


def test_miles_of_the_seasons_are_all_miles(two_readings):
    _, seasons = two_readings
    until = np.array([[1_000.0, 5_000.0, 8_500.0]])
    run = seasons.miles_in(np.array([0]), np.array([500.0]), until)
    np.testing.assert_allclose(run.sum(axis=2), until - 500.0)
    assert run[0, 2].tolist() == [2_160.0, 3_650.0, 2_190.0]


def test_effective_miles_weigh_each_season(two_readings):
    table, seasons = two_readings
    severity = np.log([[1.0, 2.0, 0.5]])
    lives = effective_lives(table, seasons, severity)
    assert lives.miles[0].tolist() == [1_000.0, 2_660.0 + 2 * 3_650.0 + 0.5 * 1_690.0]
    assert lives.as_of_miles[0] == 2_660.0 + 2 * 3_650.0 + 0.5 * 2_690.0
    assert effective_lives(table, seasons, np.zeros((1, 3))) is table.lives
