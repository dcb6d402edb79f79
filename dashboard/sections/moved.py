"""What a forecast says otherwise than the one before it, wear point by wear point."""

import numpy as np
import pandas as pd

NOTICED = 0.10
"""A change of the middle figure by more than a tenth of it is worth a look. [1]"""


def moved(before: pd.DataFrame, after: pd.DataFrame) -> pd.DataFrame:
    """Change of the miles at even odds, the miles run in between taken off.

    Parameters
    ----------
    before, after : forecasts with the public columns.

    Returns
    -------
    point, vehicle, component, position, quantity, before, expected, after, change [mi], what (sooner, later,
    now told, no longer told, new), largest change first. ``expected`` is what was left of the earlier figure
    after the miles run since. Points of which nothing changed are left out.
    """
    names = ["vehicle", "component", "position", "quantity", "as_of_odometer", "miles_p50"]
    earlier = before.set_index("point")[["as_of_odometer", "miles_p50"]].add_suffix("_before")
    both = after.set_index("point")[names].join(earlier, how="left")
    run = (both["as_of_odometer"] - both["as_of_odometer_before"]).fillna(0.0)
    expected = (both["miles_p50_before"] - run).clip(lower=0.0)
    change = both["miles_p50"] - expected
    known = both.index.isin(before["point"])
    told, was_told = both["miles_p50"].notna(), both["miles_p50_before"].notna()
    noticed = change.abs() > NOTICED * np.maximum(expected, both["miles_p50"])
    what = np.select(
        [~known, told & ~was_told, ~told & was_told, noticed & (change < 0), noticed],
        ["new", "now told", "no longer told", "sooner", "later"],
        "",
    )
    out = pd.DataFrame(
        {
            "point": both.index,
            **{name: both[name].to_numpy() for name in names[:4]},
            "before": both["miles_p50_before"].to_numpy(),
            "expected": expected.to_numpy(),
            "after": both["miles_p50"].to_numpy(),
            "change": change.to_numpy(),
            "what": what,
        }
    )
    out = out[out["what"] != ""]
    # The most dangerous news first: what comes sooner than thought, by miles lost.
    return out.sort_values("change", na_position="first").reset_index(drop=True)
