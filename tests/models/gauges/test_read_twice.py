"""How well a gauge repeats, from pairs that two people read blind."""

import numpy as np
import pandas as pd
import pytest

from models.gauges.read_twice import ENOUGH, FEWEST, repeatability, sd_used


def pairs(count, sd, gauge="G1", seed=3, stage=""):
    """Readings of `count` parts, each by two people on one day, with an error of that deviation."""
    rng = np.random.default_rng(seed)
    true = np.repeat(rng.uniform(10, 60, count), 2)
    return pd.DataFrame(
        {
            "point": np.repeat([f"{gauge}-{i}" for i in range(count)], 2),
            "date": pd.Timestamp("2026-05-01"),
            "value": true + rng.normal(0, sd, 2 * count),
            "gauge": gauge,
            "observer": ["A. Reader", "B. Reader"] * count,
            "found_or_left": stage,
            "odometer_read": np.nan,
            "changes": 0,
            "on_day_of_work": False,
        }
    )


def test_pairs_tell_the_deviation_of_one_reading():
    told = repeatability(pd.concat([pairs(400, 0.05), pairs(400, 0.2, "G2", seed=4)]))
    assert told["gauge"].tolist() == ["G1", "G2"]
    assert told["pairs"].tolist() == [400, 400]
    # The standard error of a deviation from 400 pairs is 1 / sqrt(800) of it, 3.5 %; three of them.
    assert told["sd"].to_numpy() == pytest.approx([0.05, 0.2], rel=0.11)


def test_two_values_by_hand():
    made = pairs(FEWEST, 1.0)
    made["value"] = [10.0, 10.2] * FEWEST
    # Of 10.0 and 10.2 the mean is 10.1, the squares 0.01 + 0.01, one degree of freedom: sd = sqrt(0.02).
    assert repeatability(made)["sd"].tolist() == pytest.approx([0.02**0.5])


@pytest.mark.parametrize(
    "changed",
    [
        {"observer": "A. Reader"},  # a second look knows the first
        {"found_or_left": ["found", "left"] * 40},  # another surface
        {"date": [pd.Timestamp("2026-05-01"), pd.Timestamp("2026-05-02")] * 40},  # it may have run between
        {"on_day_of_work": True},  # before the work, or after it
        {"changes": [0, 1] * 40},
    ],
    ids=["one person", "as found and left", "two days", "day of work", "work between"],
)
def test_what_is_no_pair_tells_nothing(changed):
    assert repeatability(pairs(40, 0.1).assign(**changed)).empty


def test_few_pairs_tell_nothing():
    assert repeatability(pairs(FEWEST - 1, 0.1)).empty
    assert len(repeatability(pairs(FEWEST, 0.1))) == 1


def test_before_and_after_an_engine_stood_is_a_pair_whoever_read():
    days = [pd.Timestamp("2025-11-20"), pd.Timestamp("2026-03-01")] * 40
    stood = pairs(40, 0.1).assign(date=days, observer="A. Reader", odometer_read=48_211.0)
    assert repeatability(stood)["pairs"].tolist() == [40]
    assert repeatability(stood.assign(changes=[0, 1] * 40)).empty  # the part was changed in the winter
    assert repeatability(stood.assign(odometer_read=[48_211.0, 48_900.0] * 40)).empty


def test_on_a_day_of_work_both_as_left_are_a_pair():
    assert len(repeatability(pairs(40, 0.1, stage="left").assign(on_day_of_work=True))) == 1


def test_a_worse_gauge_than_stated_counts_as_worse_at_once_and_a_better_one_only_when_it_is_shown():
    # Prior precision 1 / 0.35^2 = 8.163, evidence 2 x 10 = 20: log 2 drawn by 20 / 28.163.
    assert sd_used(1.0, 2.0, 10) == pytest.approx(np.exp(np.log(2.0) * 20 / 28.163265))
    # Half of the stated, 100 pairs: drawn to exp(log 0.5 x 200 / 208.163) = 0.5138, not excluded: 12 % more.
    assert sd_used(1.0, 0.5, 100) == pytest.approx(0.5138 * np.exp(1.644854 / 14.42786), rel=1e-3)
    assert sd_used(1.0, 0.5, ENOUGH - 1) == 1.0  # too few
    assert sd_used(1.0, 0.98, 100) == 1.0  # not shown


@pytest.mark.parametrize(("sd", "count"), [(0.0, 50), (np.nan, 50), (5.0, FEWEST - 1), (0.1, 0)])
def test_where_pairs_tell_nothing_the_stated_one_holds(sd, count):
    assert sd_used(1.0, sd, count) == 1.0


def test_what_is_learned_comes_near_a_known_gauge_and_a_thin_sample_makes_no_reading_surer():
    for count, least in ((5, 1.0), (20, 1.0), (300, 0.9)):
        as_stated = np.array([_of_simulated(count, 1.0, seed) for seed in range(100)])
        assert as_stated.min() >= least
        assert np.median(as_stated) == pytest.approx(1.0, abs=0.05)
    worse = np.array([_of_simulated(300, 2.0, seed) for seed in range(50)])
    better = np.array([_of_simulated(300, 0.5, seed) for seed in range(50)])
    assert worse.mean() == pytest.approx(2.0, rel=0.05)
    assert 0.5 < better.mean() < 0.57  # on the careful side of the truth


def _of_simulated(count, true, seed):
    told = repeatability(pairs(count, true, seed=seed))
    return float(sd_used(1.0, told["sd"].iloc[0], told["pairs"].iloc[0]))
