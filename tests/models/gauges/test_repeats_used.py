"""What pairs say of a gauge enters the forecast: readings count as they are, and the cover does not fall."""

import numpy as np
import pandas as pd
import pytest
from fleets.gauge_worlds import World, losses, simulated

from models.forecast.run import make_forecast
from models.gauges.gauges_read import gauges_read, with_gauges
from models.gauges.read_twice import repeatability, sd_used
from models.lives.build import build_lives

PAIRS = 60
NOISE = 0.03


def read_twice(world, tables, count, seed=5):
    """Pairs of readings of each gauge, by its true deviation, as two people typed them at the engine."""
    rng = np.random.default_rng(seed)
    allowance = tables["wear_points"].set_index("point").eval("new_value - condemning_limit")
    gauges = tables["readings"].drop_duplicates("gauge")
    frames = []
    for point, gauge in zip(gauges["point"], gauges["gauge"], strict=True):
        sd = world.noise * allowance[point]
        frames.append(
            pd.DataFrame(
                {
                    "point": point,
                    "date": np.repeat(pd.date_range("2022-01-01", periods=count), 2),
                    "value": np.repeat(rng.uniform(40, 90, count), 2) + sd * rng.standard_normal(2 * count),
                    "gauge": gauge,
                    "observer": ["A. Reader", "B. Reader"] * count,
                    "found_or_left": "",
                    "odometer_read": np.nan,
                    "changes": 0,
                    "on_day_of_work": False,
                }
            )
        )
    return repeatability(pd.concat(frames, ignore_index=True))


def both(world, count, seed=1):
    """Losses without what the pairs say, and with it."""
    made = simulated(world, seed)
    repeats = read_twice(world, made.tables, count)
    told = [make_forecast(made.tables, repeats=each).frames["forecast"] for each in (None, repeats)]
    return [losses(frame, made.truth) for frame in told]


@pytest.mark.parametrize("stated", [0.01, NOISE], ids=["stated too fine", "stated as it is"])
def test_the_deviation_of_each_reading_is_what_stated_and_pairs_say_together(stated):
    world = World(engines=12, noise=NOISE, gauge_sd=stated)
    tables = simulated(world, 1).tables
    repeats = read_twice(world, tables, PAIRS)
    table = build_lives(tables, None)
    read = gauges_read(table, tables["readings"], None, repeats)
    used = with_gauges(table, read).gauge_sd
    known = (read.code >= 0) & np.isfinite(used)
    allowance = np.broadcast_to(table.lives.limit[:, None], used.shape)[known]
    sd = repeats.set_index("gauge")["sd"].reindex(read.name[read.code[known]]).to_numpy(float)
    assert used[known] == pytest.approx(sd_used(stated * allowance, sd, np.float64(PAIRS)))
    # 60 pairs know a deviation to 9 %; drawn to a third of it by 8 of 128 parts of the weight, 7 % less.
    assert np.median(used[known] / allowance) == pytest.approx(NOISE, rel=0.12)
    assert (used[known] >= stated * allowance * 0.999).mean() > 0.9  # 5 in 100 pass for surer by chance


def test_a_gauge_of_which_nothing_is_stated_is_told_by_its_readings_unless_it_repeats_worse():
    world = World(engines=1, noise=0.002)
    tables = simulated(world, 1).tables
    table = build_lives(tables, None)
    for factor, told in ((1.0, False), (30.0, True)):
        repeats = read_twice(world, tables, PAIRS)
        read = gauges_read(table, tables["readings"], None, repeats.assign(sd=repeats["sd"] * factor))
        assert np.isfinite(with_gauges(table, read).gauge_sd[read.code >= 0]).any() == told


def test_a_gauge_that_repeats_worse_than_stated_makes_forecasts_as_sure_as_they_may_be():
    # Believed as stated, what the gauge does passes for wear by chance: 97 % in the interval of 80 %.
    without, with_pairs = both(World(engines=10, noise=NOISE, gauge_sd=0.006), PAIRS)
    assert with_pairs["held"].mean() >= 0.8  # of 240 parts one standard error is 0.026
    assert abs(with_pairs["held"].mean() - 0.8) <= abs(without["held"].mean() - 0.8)
    assert with_pairs["loss"].mean() <= 1.02 * without["loss"].mean()
    print(_words(without), "->", _words(with_pairs))


def test_a_thin_sample_of_a_gauge_that_is_as_stated_costs_nothing():
    without, with_pairs = both(World(engines=10, noise=0.015, gauge_sd=0.015), 6)
    assert with_pairs["held"].mean() >= without["held"].mean() - 0.01
    assert with_pairs["loss"].mean() <= 1.03 * without["loss"].mean()
    print(_words(without), "->", _words(with_pairs))


def _words(told):
    return f"loss {told['loss'].mean():.4f}, {100 * told['held'].mean():.0f} % held"
