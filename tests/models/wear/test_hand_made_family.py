"""A family of five bearings made by hand: what the model's doubts do to the numbers that people read."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from models.lives.table import Lives
from models.wear.model import PooledWear
from models.wear.shape_weights import shape_weights
from models.wear.shapes import SHAPES

RATE = np.array([0.9, 0.95, 1.0, 1.05, 1.1]) / 40_000  # share of the limit per mile
ERROR = 0.01 * np.array(
    [[1, -1, 0, 1, -1], [-1, 0, 1, -1, 1], [0, 1, -1, 1, 0], [1, 0, -1, 0, 1], [-1, 1, 1, -1, 0]]
)
P = np.array([0.1, 0.5, 0.9])


def bearings(**changed):
    miles = np.tile(np.linspace(4000.0, 20_000.0, 5), (5, 1))
    lives = Lives(
        family=np.zeros(5, dtype=int),
        miles=miles,
        wear=RATE[:, None] * miles + ERROR,
        limit=np.ones(5),
        gauge_sd=np.full(miles.shape, 0.01),
        as_of_miles=miles[:, -1],
        ended=np.zeros(5, dtype=bool),
        day=miles,
    )
    return replace(lives, **changed)


def with_off(size):
    wear = bearings().wear.copy()
    wear[0, 2] += size
    return bearings(wear=wear)


def interval(lives):
    """Miles from the careful to the hopeful figure, nine chances in ten each."""
    low, _, high = PooledWear().fit(lives).predict_remaining(P).T
    return high - low


def cut(unknown):
    """The first bearing was cut by an unmeasured 0.25 before its fourth reading."""
    wear, step = bearings().wear.copy(), np.zeros((5, 5), dtype=bool)
    wear[0, 3:] -= 0.25
    step[0, 3] = unknown
    return bearings(wear=wear, unknown_step=step)


def test_the_interval_of_sound_readings():
    # As it was when the cover of simulated fleets was measured (81 %); 1 % of it is
    # 50 miles in 20,000.
    assert_allclose(interval(bearings()), [4748, 3960, 3628, 3219, 2983], rtol=0.01)


def test_a_wild_reading_widens_the_interval_of_all_by_what_is_then_not_known():
    # One reading of 25 is off by twelve errors of the gauge. As it was when the cover of fleets with one
    # reading of twenty wild was measured (80 %).
    assert_allclose(interval(with_off(0.12)), [5013, 4196, 3827, 3399, 3146], rtol=0.02)


def test_a_reading_far_off_costs_no_more_than_the_doubt_about_one_reading():
    # Taken for only three times as uncertain as the others, it would widen the interval by half.
    widened = interval(with_off(0.12)) / interval(bearings())
    assert (widened < 1.35).all()


def test_after_a_cut_of_unknown_size_the_part_wears_on_at_its_own_rate():
    lives = cut(unknown=True)
    model = PooledWear().fit(lives)
    left = (1.0 - lives.wear[0, -1]) / RATE[0]
    # Rate known to some 5 % from five readings.
    assert_allclose(model.predict_remaining(P)[0, 1], left, rtol=0.06)
    assert (model.wild_[0] < 0.1).all()  # no reading about the cut is called wild


def test_a_gauge_that_is_stated_to_be_rough_makes_the_next_reading_less_sure():
    widths = []
    for gauge in (0.003, 0.01, 0.05):
        model = PooledWear().fit(bearings(gauge_sd=np.full((5, 5), gauge)))
        low, _, high = model.predict_readings(np.full((5, 1), 20_000.0), P)[0, 0]
        widths.append(high - low)
    # The readings scatter by 0.01; what is stated counts beside them.
    assert widths[0] < 0.6 * widths[1]
    assert widths[2] > 1.4 * widths[1]


def test_a_reading_with_a_rougher_gauge_counts_less():
    """The last reading of the first bearing is off by 0.04; once it is stated that its gauge was ten times as
    rough as the others."""
    wear = bearings().wear.copy()
    wear[0, 4] += 0.04
    rough = np.full((5, 5), 0.01)
    rough[0, 4] = 0.1
    sound, taken_whole, counted_less = (
        PooledWear(wild_rounds=0).fit(lives).predict_remaining(P)[0, 1]
        for lives in (bearings(), bearings(wear=wear), bearings(wear=wear, gauge_sd=rough))
    )
    assert taken_whole < counted_less < sound
    assert sound - counted_less < 0.7 * (sound - taken_whole)


def weight_of_bent(families, better):
    """Weight of the accelerating shape in a family that it explains better than straight wear by
    so many units of log evidence; all other families are straight."""
    evidence = np.full((len(SHAPES), families), -30.0)
    evidence[0] = 0.0
    evidence[5, 0] = better
    return shape_weights(evidence, np.zeros(families, dtype=int))[0][5, 0]


def test_a_family_alone_is_not_taken_for_bent_by_its_own_readings():
    # Alone, the evidence of many lives counts by a quarter: 1.5 instead of 6, odds of 4.5 times
    # those of one shape of twelve before.
    assert_allclose(weight_of_bent(1, 6.0), 0.291, atol=0.02)


def test_among_straight_families_a_bent_one_must_show_it_clearly():
    # Among many it counts by seven tenths, and 39 straight families speak against.
    assert_allclose(weight_of_bent(40, 6.0), 0.346, atol=0.02)


def test_families_that_say_little_leave_the_shares_of_the_shapes_near_what_they_are():
    """Three of ten families wear faster and faster; the odds of each are right, and small: normal, log odds
    of mean half their variance up or down. With a flattened likelihood straight wear took all."""
    bent, drawn = np.arange(400) < 120, np.random.default_rng(1).standard_normal(400)
    evidence = np.full((len(SHAPES), 400), -30.0)
    evidence[0], evidence[5] = 0.0, np.where(bent, 0.75, -0.75) + np.sqrt(1.5) * drawn
    _, prior = shape_weights(evidence, np.zeros(400, dtype=int))
    # What is assumed draws to straight wear; the standard error of such a share is 0.05.
    assert prior[5, 0] / (prior[0, 0] + prior[5, 0]) == pytest.approx(0.3, abs=0.12)


def test_a_part_read_at_its_limit_is_beyond_it_with_a_chance_of_one_half():
    """It was past its limit for certain as soon as the mean was."""
    chance = []
    for limit in (0.95, 1.0, 1.05):
        lives = bearings(limit=np.full(5, limit) * RATE[4] * 20_000)
        chance.append(PooledWear().fit(lives).remaining(P, np.array([4]))[1][0])
    assert chance[1] == pytest.approx(0.5, abs=0.2)
    assert chance[0] > 0.95
    assert chance[2] < 0.05
