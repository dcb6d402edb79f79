"""What JSON cannot hold is null, wherever it stands."""

import json

import numpy as np
import pandas as pd

from dashboard.console.options import print_json
from dashboard.words.records import as_records


def test_missing_and_infinite_values_of_a_frame_are_none():
    frame = pd.DataFrame(
        {
            "ratio": [1.5, np.inf, np.nan],
            "date": pd.to_datetime(["2026-01-01", None, None]),
            "mixed": [-np.inf, "text", None],
            "quantiles": [[0.0, np.inf], [], [np.nan]],
        }
    )
    rows = as_records(frame)
    assert [row["ratio"] for row in rows] == [1.5, None, None]
    assert [row["mixed"] for row in rows] == [None, "text", None]
    assert [row["quantiles"] for row in rows] == [[0.0, None], [], [None]]
    json.dumps(rows, default=str, allow_nan=False)


def test_what_is_printed_is_json_whatever_is_in_it(capsys):
    print_json({"a": np.float64("inf"), "b": [{"c": float("nan")}, (1.0, -np.inf)], "d": pd.NaT})
    assert json.loads(capsys.readouterr().out) == {"a": None, "b": [{"c": None}, [1.0, None]], "d": "NaT"}
