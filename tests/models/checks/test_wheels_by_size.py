"""Limits that depend on the size of the wheels: those of an axle by its own wheels."""

import pandas as pd
import pytest

from ingest import catalogue
from models.checks.cross_checks import check_all, latest_readings


@pytest.mark.parametrize(
    ("carrying", "least", "verdicts"),
    [
        # EBO Anlage 6, SR: at least 1410 mm over the flanges of wheels over 840 mm, 1415 mm of smaller ones.
        ({}, 1415.0, ["condemned", "within"]),
        ({"carrying_wheel_mm": 1000.0}, 1410.0, ["within", "within"]),
    ],
)
def test_over_flanges_by_the_size_of_the_wheels_of_each_axle(carrying, least, verdicts):
    points = pd.DataFrame(
        {
            "point": ["carried", "driven"],
            "vehicle": "Alder",
            "component": "wheelset",
            "quantity": "over flanges",
            "position": ["trailing truck 1", "driver 1"],
            "new_value": 1420.0,
            "condemning_limit": float("nan"),
            "base_unit": "mm",
            "matched_set": "",
            "limit_source": "",
            "condemned_when": "beyond",
        }
    )
    facts = {"wheel_mm": 1500.0, "intermediate": "no", **carrying}
    limits = catalogue.difference_limits("de-ebo", facts)
    read = pd.DataFrame({"point": points["point"], "value": 1412.0, "date": pd.Timestamp("2026-01-01")})
    latest = latest_readings(read)
    found = check_all(catalogue.classify(points), latest, limits, None, None)
    found = found[(found["check"] == "over flanges") & (found["bound"] == "min")].set_index("points")
    assert found.loc["carried", "limit"] == least
    asked = "carrying wheel diameter not stated" in found.loc["carried", "source"]
    assert asked == (not carrying)
    assert "not stated" not in found.loc["driven", "source"]
    assert found.loc[["carried", "driven"], "verdict"].tolist() == verdicts
