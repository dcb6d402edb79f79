"""What was known on a past day: nothing later, and nothing lost."""

from dataclasses import replace

import numpy as np
import pytest
from fleets.simulate import FleetPlan, simulate_fleet

from models.lives.table import Lives
from models.score.track_record import Record, choose_origins, known_at

NAN = np.nan


def record_of(miles, wear, day, *, limit=10.0, as_of, ended, end_day, whole):
    miles, wear, day = (np.array(a, dtype=float) for a in (miles, wear, day))
    n = len(miles)
    lives = Lives(
        family=np.zeros(n, dtype=int),
        miles=miles,
        wear=wear,
        limit=np.full(n, limit),
        gauge_sd=np.full_like(miles, NAN),
        as_of_miles=np.array(as_of, dtype=float),
        ended=np.array(ended),
        day=day,
    )
    return Record(lives, np.array(end_day, dtype=float), np.array(whole, dtype=float))


@pytest.fixture
def record():
    """Ten miles a day: one life still running, one worn out and renewed on day 700, one taken out early."""
    return record_of(
        miles=[[1000, 3000, 5000, 7000], [2000, 6000, NAN, NAN], [1000, 2000, NAN, NAN]],
        wear=[[1.0, 3.0, 5.0, 7.0], [3.0, 8.9, NAN, NAN], [1.0, 2.0, NAN, NAN]],
        day=[[100, 300, 500, 700], [200, 600, NAN, NAN], [100, 200, NAN, NAN]],
        as_of=[8000, 7000, 4000],
        ended=[False, True, True],
        end_day=[800, 700, 400],
        whole=[8000, 8000, 8000],
    )


def test_only_what_was_read_by_that_day_is_known(record):
    then = known_at(record, 300)
    np.testing.assert_array_equal(then.lives.count, [2, 1, 2])
    np.testing.assert_array_equal(then.lives.as_of_miles, [3000, 3000, 3000])
    np.testing.assert_array_equal(then.in_service, [True, True, True])
    np.testing.assert_array_equal(then.later_wear, [[5, 7, NAN], [8.9, NAN, NAN], [NAN] * 3])
    assert not (then.lives.day > 300).any()
    after = known_at(record, 450)
    np.testing.assert_array_equal(after.in_service, [True, True, False])
    np.testing.assert_array_equal(after.lives.ended, [False, False, True])
    assert after.lives.as_of_miles[2] == 4000


def test_a_worn_out_part_reached_its_limit_and_one_taken_out_early_did_not(record):
    then = known_at(record, 300)
    # 8.9 at 6,000 carried on to the renewal at 7,000 is 10.4: worn out, 4,000 miles after day 300.
    np.testing.assert_array_equal(then.reached, [np.inf, 4000, np.inf])
    # The renewed one would have been seen for as long as the vehicle ran; the early one only until it went.
    np.testing.assert_array_equal(then.observed, [5000, 5000, 1000])


@pytest.mark.parametrize(("wear", "ends"), [(8.7, 1), (8.5, 0)])
def test_a_part_renewed_within_a_tenth_of_its_limit_was_worn_out(wear, ends):
    """Renewed at 7,000 miles; the last reading, carried on from 6,720, is 9.06 or 8.85 of 10."""
    record = record_of(
        miles=[[2000, 6720]],
        wear=[[3.0, wear]],
        day=[[200, 672]],
        as_of=[7000],
        ended=[True],
        end_day=[700],
        whole=[8000],
    )
    assert np.isfinite(known_at(record, 300).reached).sum() == ends


def test_the_limit_is_interpolated_between_the_readings_about_it():
    record = record_of(
        miles=[[1000, 4000, 6000, 8000]],
        wear=[[2.0, 8.0, 12.0, 13.0]],
        day=[[100, 400, 600, 800]],
        as_of=[9000],
        ended=[False],
        end_day=[900],
        whole=[9000],
    )
    assert known_at(record, 100).reached[0] == pytest.approx(4000)  # at 5,000 miles, from 1,000
    beyond = known_at(record, 700)
    assert beyond.observed[0] == 0  # last read beyond its limit: nothing left to forecast


def test_one_reading_beyond_the_limit_that_the_next_takes_back_does_not_count():
    record = record_of(
        miles=[[1000, 2000, 3000, 4000]],
        wear=[[2.0, 11.0, 5.0, 6.0]],
        day=[[100, 200, 300, 400]],
        as_of=[5000],
        ended=[False],
        end_day=[500],
        whole=[5000],
    )
    assert known_at(record, 100).reached[0] == np.inf


def test_a_reading_after_a_cut_that_nobody_measured_is_not_scored(record):
    step = np.zeros(record.lives.wear.shape, dtype=bool)
    step[0, 3] = True
    lives = replace(record.lives, unknown_step=step)
    then = known_at(replace(record, lives=lives), 300)
    np.testing.assert_array_equal(then.later_wear[0], [5, NAN, NAN])
    assert then.lives.unknown_step.dtype == bool
    np.testing.assert_array_equal(known_at(replace(record, lives=lives), 700).lives.unknown_step[0], step[0])


def test_lives_without_a_reading_by_then_are_left_out(record):
    then = known_at(record, 150)
    np.testing.assert_array_equal(then.row, [0, 2])


def test_changing_the_future_changes_nothing_that_was_known():
    fleet = simulate_fleet(np.random.default_rng(8), FleetPlan(n_families=6, stop=(1.0, 2.0)))
    lives = Lives(**fleet.arrays)
    record = Record(lives, fleet.end_day, fleet.whole_miles)
    day = choose_origins(lives, 3)[1]
    changed = {**fleet.arrays, "wear": np.where(lives.day > day, 99.0, lives.wear)}
    then, other = (
        known_at(record, day),
        known_at(Record(Lives(**changed), fleet.end_day, fleet.whole_miles), day),
    )
    for name, value in vars(then.lives).items():
        np.testing.assert_array_equal(value, getattr(other.lives, name))
    assert not np.array_equal(then.later_wear, other.later_wear, equal_nan=True)


def test_origins_lie_among_the_readings_and_there_are_none_without_any():
    fleet = simulate_fleet(np.random.default_rng(8), FleetPlan(n_families=6))
    lives = Lives(**fleet.arrays)
    days = choose_origins(lives, 5)
    assert len(days) == 5
    shares = [(lives.day[np.isfinite(lives.day)] <= d).mean() for d in days]
    assert shares[0] == pytest.approx(1 / 3, abs=0.02)
    assert shares[-1] == pytest.approx(0.9, abs=0.02)
    empty = Lives(**{**fleet.arrays, "wear": np.full_like(lives.wear, NAN)})
    assert len(choose_origins(empty, 5)) == 0
