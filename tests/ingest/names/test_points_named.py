"""A wear point that is written, and the vehicle written beside it."""

import pandas as pd

from ingest.names.naming import name_points
from ingest.problems import Problems

POINTS = pd.DataFrame(
    [
        ("B-1", "Bramwick", "driver tire", "driver 2 left", "tread hollow"),
        ("P-1", "Plover", "driver tire", "driver 2 left", "tread hollow"),
    ],
    columns=["point", "vehicle", "component", "position", "quantity"],
)


def test_a_point_of_another_vehicle_than_the_row_names_is_held_back():
    written = [("B-1", "Bramwick"), ("b-1", "Plover"), ("B-1", "BRAMWICK"), ("B-1", "Plover"), ("B-1", ""),
               ("B-1", "the big one"), ("B-9", "Plover")]  # fmt: skip
    cells = pd.DataFrame(written, columns=["point", "vehicle"])
    problems = Problems()
    assert name_points(cells, POINTS, problems).tolist() == cells["point"].tolist()
    (found,) = problems.frame().to_dict("records")
    assert found["column"] == "vehicle"
    assert "B-1 is of Bramwick" in found["reason"]
