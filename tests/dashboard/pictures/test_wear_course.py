"""The wear beside a line of a plan: without the work it goes on, with it the part begins anew."""

import numpy as np
import pandas as pd

from dashboard.pictures.wear_course import courses, end_words
from models.distribution import PROBABILITIES


def frames(renewed_at):
    points = pd.DataFrame({"point": "P", "miles": renewed_at, "new_value": 2.0, "condemning_limit": 6.0})
    path = pd.DataFrame(
        {
            "point": "P",
            "odometer": [900.0, 1000.0, 3000.0],
            "p50": [3.8, 4.0, 5.0],
            "kind": ["fitted", "ahead", "ahead"],
        }
    )
    forecast = pd.DataFrame({"point": ["P"], "as_of_odometer": [1000.0]})
    lives = np.where(PROBABILITIES < 0.5, 4000.0, np.where(PROBABILITIES > 0.5, 16_000.0, 8000.0))
    return points, path, forecast, pd.DataFrame({"point": ["P"], "new_life": [lives]})


def test_strokes_of_a_part_renewed_once():
    course = courses(*frames([5000.0]))["P"]
    last = 5400.0  # a little beyond the last window
    without, planned = (np.array(course[name]) for name in ("without", "with"))
    assert without[0].tolist() == [0.0, 0.5]  # 4 of the way from 2 to 6
    worn = 0.5 + 0.25 * without[:, 0] * last / 2000.0  # beyond the path as straight as it ends
    assert np.allclose(without[:, 1], worn, atol=1e-3)
    at = np.isclose(planned[:, 0], 5000.0 / last, atol=1e-4)
    assert planned[at, 1].tolist() == [1.125, 0.0]  # past the limit by then, then new
    assert np.isclose(planned[-1, 1], 400.0 / 8000.0, atol=1e-4)  # half of its lives end at 8,000 mi
    assert end_words(course) == (
        "Without the work the middle of its wear reaches the limit, with the work it reaches it."
    )


def test_what_cannot_be_drawn_is_left_out():
    points, path, forecast, lives = frames([5000.0])
    assert courses(points.assign(condemning_limit=2.0), path, forecast, lives) == {}
    assert courses(points, path.iloc[:2], forecast, lives) == {}
    assert courses(points.iloc[:0], path, forecast, lives) == {}
