"""Tables written by hand, a few rows that can be followed by eye."""

import numpy as np
import pandas as pd
import pytest


def by_hand(readings, work=(), *, points=None, log=((0, 0), (1000, 10_000)), vehicles=()):
    """Point A: clearance, new 0, limit 4 mm.

    Readings are (point, day from 2000-01-01, value, odometer); work is (point, day, action, before, after).
    """
    day0 = pd.Timestamp("2000-01-01")
    points = points or [("A", 0.0, 4.0)]

    def dates(days):
        return pd.Series([day0 + pd.Timedelta(days=d) for d in days], dtype="datetime64[us]")

    return {
        "vehicles": pd.DataFrame(vehicles, columns=["vehicle", "class", "arrangement"], dtype="str"),
        "wear_points": pd.DataFrame(
            {
                "point": [p[0] for p in points],
                "vehicle": "V",
                "component": "bushing",
                "position": "",
                "quantity": "clearance",
                "unit": "mm",
                "new_value": [p[1] for p in points],
                "shop_limit": np.nan,
                "condemning_limit": [p[2] for p in points],
                "gauge_sd": np.nan,
                "base_unit": "mm",
                "per_base": 1.0,
            }
        ),
        "mileage": pd.DataFrame(
            {"vehicle": "V", "date": dates([d for d, _ in log]), "odometer": [float(m) for _, m in log]}
        ),
        "readings": pd.DataFrame(
            {
                "point": [r[0] for r in readings],
                "date": dates([r[1] for r in readings]),
                "value": [float(r[2]) for r in readings],
                "odometer": [float(r[3]) for r in readings],
                "odometer_sd": 0.0,
            }
        ),
        "work": pd.DataFrame(
            {
                "point": [w[0] for w in work],
                "date": dates([w[1] for w in work]),
                "action": [w[2] for w in work],
                "value_before": [np.nan if w[3] is None else float(w[3]) for w in work],
                "value_after": [np.nan if w[4] is None else float(w[4]) for w in work],
            }
        ),
        "usage": pd.DataFrame({"vehicle": [], "month": [], "miles_planned": [], "miles_sd": []}),
    }


@pytest.fixture(scope="session")
def tables():
    """Make the tables of a small record."""
    return by_hand
