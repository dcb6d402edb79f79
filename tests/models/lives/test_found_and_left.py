"""As found is the last of the old life, as left the first of the new one, whatever their values are."""

import numpy as np

from models.lives.build import build_lives

LOG = ((0, 0), (1000, 10_000))


def lives_of(tables, marks):
    """A part that is renewed on day 500; two readings on that very day."""
    readings = [("A", 100, 0.5, 1000), ("A", 500, 0.9, 5000), ("A", 500, 0.8, 5000), ("A", 900, 1.2, 9000)]
    made = tables(readings, [("A", 500, "renewed", None, None)], log=LOG)
    made["readings"]["found_or_left"] = marks
    return build_lives(made, as_written=True).lives


def counts(lives):
    return np.isfinite(lives.wear).sum(axis=1).tolist()


def test_the_mark_decides_where_a_reading_of_the_day_belongs(tables):
    assert counts(lives_of(tables, ["", "found", "left", ""])) == [2, 2]
    assert counts(lives_of(tables, ["", "left", "left", ""])) == [1, 3]
    assert counts(lives_of(tables, ["", "found", "found", ""])) == [3, 1]


def test_an_as_left_reading_of_the_last_day_is_not_lost(tables):
    made = tables(
        [("A", 100, 0.5, 1000), ("A", 1000, 0.1, 10_000)], [("A", 1000, "renewed", None, None)], log=LOG
    )
    made["readings"]["found_or_left"] = ["", "left"]
    lives = build_lives(made, as_written=True).lives
    assert counts(lives) == [1, 1]
    assert lives.day[1, 0] - lives.day[0, 0] == 900


def test_a_cut_of_known_depth_lies_between_them(tables):
    readings = [("A", 100, 0.5, 1000), ("A", 500, 1.0, 5000), ("A", 500, 1.4, 5000)]
    made = tables(readings, [("A", 500, "cut", 1.0, 1.4)], log=LOG)
    made["readings"]["found_or_left"] = ["", "found", "left"]
    wear = build_lives(made, as_written=True).lives.wear[0]
    assert np.allclose(wear[np.isfinite(wear)], [0.5, 1.0, 1.0, 1.0, 1.0])  # without the metal cut off
