"""From tables to lives, each rule on a few rows that can be followed by eye."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from models.lives.build import build_lives


def row(values):
    return values[np.isfinite(values)]


def test_a_renewal_ends_a_life_and_begins_the_next(tables):
    table = build_lives(
        tables(
            [("A", 100, 1, 1000), ("A", 300, 3, 3000), ("A", 600, 1, 6000)],
            [("A", 400, "renewed", None, None)],
        )
    )
    assert table.number.tolist() == [1, 2]
    assert_allclose(table.began_odometer, [0, 4000])
    assert_allclose(row(table.lives.miles[0]), [1000, 3000])
    assert_allclose(row(table.lives.miles[1]), [2000])
    assert table.lives.ended.tolist() == [True, False]
    assert table.in_service.tolist() == [1]
    assert table.lives.as_of_miles[1] == 6000


def test_values_measured_at_the_renewal_are_readings_of_old_and_new(tables):
    table = build_lives(tables([("A", 100, 1, 1000)], [("A", 400, "renewed", 3.5, 0.2)]))
    assert_allclose(row(table.lives.wear[0]), [1, 3.5])
    assert_allclose(row(table.lives.miles[0]), [1000, 4000])
    assert_allclose(row(table.lives.wear[1]), [0.2])
    assert_allclose(row(table.lives.miles[1]), [0])


@pytest.mark.parametrize(("value", "of_old"), [(3.1, True), (0.1, False)])
def test_a_reading_on_the_day_of_renewal_goes_where_it_fits(value, of_old, tables):
    readings = [("A", 100, 1, 1000), ("A", 300, 3, 3000), ("A", 400, value, 4000)]
    table = build_lives(tables(readings, [("A", 400, "renewed", None, None)]))
    assert (table.lives.count == ([3, 0] if of_old else [2, 1])).all()


def test_a_shrinking_quantity_wears_toward_its_limit(tables):
    table = build_lives(tables([("A", 100, 97, 1000)], points=[("A", 100.0, 90.0)]))
    assert table.scale.sign.tolist() == [-1]
    assert_allclose(table.lives.limit, [10])
    assert_allclose(row(table.lives.wear[0]), [3])


def test_a_measured_cut_is_no_wear_and_leaves_less_to_wear(tables):
    # Thickness 100 to 90: worn 2.5, cut by 3, worn 0.5 more: 3 worn in all, of the 7 that the cut left.
    readings = [("A", 100, 98, 1000), ("A", 600, 94, 6000)]
    table = build_lives(tables(readings, [("A", 300, "cut", 97.5, 94.5)], points=[("A", 100.0, 90.0)]))
    assert len(table.number) == 1
    assert_allclose(row(table.lives.wear[0]), [2, 2.5, 2.5, 3])
    assert_allclose(row(table.cut[0]), [0, 0, 3, 3])
    assert_allclose(table.lives.limit, [7])
    assert_allclose(table.cut_now, [3])
    assert not table.lives.unknown_step.any()


@pytest.mark.parametrize(("value", "wear"), [(97.4, 2.6), (94.6, 2.4)])
def test_a_reading_on_the_day_of_a_cut_goes_where_it_fits(tables, value, wear):
    readings = [("A", 100, 98, 1000), ("A", 300, value, 3000)]
    table = build_lives(tables(readings, [("A", 300, "cut", 97.5, 94.5)], points=[("A", 100.0, 90.0)]))
    assert wear in row(table.lives.wear[0]).round(9)


def test_a_cut_after_the_last_reading_counts(tables):
    table = build_lives(
        tables([("A", 100, 98, 1000)], [("A", 300, "cut", 97.5, 94.5)], points=[("A", 100.0, 90.0)])
    )
    assert_allclose(table.lives.limit, [7])


def test_a_cut_belongs_to_the_life_in_which_it_was_made(tables):
    work = [("A", 300, "cut", 97.5, 94.5), ("A", 500, "renewed", None, None)]
    table = build_lives(
        tables([("A", 100, 98, 1000), ("A", 600, 99, 6000)], work, points=[("A", 100.0, 90.0)])
    )
    assert_allclose(table.lives.limit, [7, 10])


def test_a_cut_of_unknown_depth_leaves_the_level_free(tables):
    readings = [("A", 100, 98, 1000), ("A", 600, 94, 6000)]
    table = build_lives(tables(readings, [("A", 300, "cut", None, None)], points=[("A", 100.0, 90.0)]))
    assert_allclose(row(table.lives.wear[0]), [2, 6])
    assert table.lives.unknown_step[0].tolist() == [False, True]


def test_a_cut_that_restores_begins_a_new_life(tables):
    table = build_lives(tables([("A", 100, 3, 1000), ("A", 600, 1, 6000)], [("A", 300, "cut", 3.2, 0.0)]))
    assert table.number.tolist() == [1, 2]


def test_a_part_older_than_the_record_has_a_free_first_level(tables):
    old = build_lives(tables([("A", 100, 2, 51_000)], log=((0, 50_000), (1000, 60_000))))
    new = build_lives(tables([("A", 100, 2, 1000)]))
    assert old.lives.unknown_step[0].tolist() == [True]
    assert new.lives.unknown_step[0].tolist() == [False]


def test_as_of_hides_what_came_later(tables):
    full = tables([("A", 100, 1, 1000), ("A", 300, 3, 3000)], [("A", 400, "renewed", None, None)])
    table = build_lives(full, pd.Timestamp("2000-01-01") + pd.Timedelta(days=200))
    assert table.lives.count.tolist() == [1]
    assert_allclose(table.as_of_odometer, [2000])


def test_after_the_log_the_last_reading_is_as_of_and_the_last_entry_tells_the_miles(tables):
    table = build_lives(tables([("A", 900, 1.0, 9000), ("A", 1100, 1.5, 10_000)]))
    assert (table.as_of_day - np.datetime64("2000-01-01", "D").astype(int)).tolist() == [1100]
    assert table.as_of_odometer.tolist() == [10_000]
    assert table.lives.count.tolist() == [2]
    further = build_lives(tables([("A", 900, 1.0, 9000), ("A", 1100, 1.5, 10_400), ("A", 1090, 1.4, 10_000)]))
    assert further.as_of_odometer.tolist() == [10_400]


def test_work_after_the_last_entry_and_the_last_reading_has_been_done(tables):
    renewed = build_lives(tables([("A", 900, 3.0, 9000)], [("A", 1100, "renewed", np.nan, 0.0)]))
    life = renewed.in_service[0]
    assert (renewed.number[life], renewed.lives.as_of_miles[life]) == (2, 0.0)
    cut = build_lives(tables([("A", 900, 1.0, 9000)], [("A", 1100, "cut", 1.0, 2.5)]))
    assert cut.cut_now[cut.in_service[0]] == 1.5
    before = build_lives(
        tables([("A", 900, 1.0, 9000)], [("A", 1100, "cut", 1.0, 2.5)]), pd.Timestamp("2002-09-27")
    )
    assert before.cut_now[before.in_service[0]] == 0.0


def test_without_a_log_the_last_reading_is_as_of(tables):
    table = build_lives(tables([("A", 100, 1, 1000), ("A", 300, 3, 3000)], log=()))
    assert_allclose(table.as_of_odometer, [3000])
    assert_allclose(table.lives.as_of_miles, [2000])


@pytest.mark.parametrize(
    ("new", "limit", "reason"),
    [
        (0.0, np.nan, "no condemning limit is stated"),
        (np.nan, 4.0, "no value of the new part is stated"),
        (4.0, 4.0, "new value and condemning limit are equal"),
    ],
)
def test_a_point_that_cannot_be_forecast_says_why(new, limit, reason, tables):
    table = build_lives(tables([("A", 100, 1, 1000)], points=[("A", new, limit), ("B", 0.0, 4.0)]))
    assert table.reason[0] == reason
    assert table.in_service[0] == -1


def unrecorded(values, tables):
    readings = [("A", 100 * (i + 1), v, 1000 * (i + 1)) for i, v in enumerate(values)]
    return build_lives(tables(readings))


def test_a_drop_that_lasts_is_a_renewal_nobody_wrote_down(tables):
    table = unrecorded([1.0, 2.0, 3.0, 0.3, 1.2, 2.1], tables)
    assert table.suspected.day_before.tolist() == [10957 + 300]
    assert table.suspected.day_after.tolist() == [10957 + 400]
    assert table.lives.count.tolist() == [3, 3]
    assert table.lives.ended.tolist() == [True, False]
    assert table.in_service.tolist() == [1]
    assert_allclose(table.began_odometer, [0, 3500])
    assert table.lives.unknown_step[1, 0]
    assert table.lives.as_of_miles[1] == 6500


@pytest.mark.parametrize(
    "values",
    [
        [1.0, 2.0, 0.3, 3.0, 3.9],  # one low reading among high ones
        [1.0, 2.0, 3.0, 3.9, 0.3],  # a low reading with nothing after it
        [0.3, 0.6, 3.9, 0.9, 1.2],  # one high reading among low ones
        [1.0, 1.2, 1.1, 1.3, 1.25],  # scatter
    ],
)
def test_a_reading_that_stands_alone_proves_no_renewal(values, tables):
    table = unrecorded(values, tables)
    assert len(table.suspected.point) == 0
    assert table.lives.count.tolist() == [5]


def test_two_renewals_in_one_life_are_both_found(tables):
    table = unrecorded([1.0, 2.0, 3.0, 0.3, 1.2, 2.1, 3.2, 0.2, 1.0], tables)
    assert len(table.suspected.point) == 2
    assert sorted(table.lives.count.tolist()) == [2, 3, 4]
    assert table.lives.count[table.in_service[0]] == 2
