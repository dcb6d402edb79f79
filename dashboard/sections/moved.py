"""What a forecast says otherwise than the one before it, wear point by wear point."""

import numpy as np
import pandas as pd
import streamlit as st

from dashboard.screen import address, data, show
from dashboard.screen.in_view import ALL

WORDS = {
    "what": "What",
    "vehicle": "Vehicle",
    "position": "Position",
    "component": "Component",
    "quantity": "Quantity",
    "before": "Half after, in the earlier one",
    "expected": "Of that left now",
    "after": "Half after, now",
    "change": "Change",
}
FIGURES = ("before", "expected", "after", "change")
"""Columns in miles."""

NOTICED = 0.10
"""A change of the middle figure by more than a tenth of it is worth a look. [1]"""


def changes_between(before: pd.DataFrame, after: pd.DataFrame) -> pd.DataFrame:
    """Change of the miles at even odds, the miles run in between taken off.

    Parameters
    ----------
    before, after : forecasts with the public columns.

    Returns
    -------
    point, vehicle, component, position, quantity, before, expected, after, change [mi], what (sooner, later,
    now told, no longer told, new), the most miles lost first. ``expected`` is what was left of the earlier
    figure after the miles run since. Points that did not change are left out.
    """
    names = ["vehicle", "component", "position", "quantity", "as_of_odometer", "miles_p50"]
    earlier = before.set_index("point")[["as_of_odometer", "miles_p50"]].add_suffix("_before")
    both = after.set_index("point")[names].join(earlier, how="left")
    run = (both["as_of_odometer"] - both["as_of_odometer_before"]).fillna(0.0)
    expected = (both["miles_p50_before"] - run).clip(lower=0.0)
    change = both["miles_p50"] - expected
    known = both.index.isin(before["point"])
    has_figure, had_figure = both["miles_p50"].notna(), both["miles_p50_before"].notna()
    noticed = change.abs() > NOTICED * np.maximum(expected, both["miles_p50"])
    what = np.select(
        [~known, has_figure & ~had_figure, ~has_figure & had_figure, noticed & (change < 0), noticed],
        ["new", "now forecast", "no longer forecast", "sooner", "later"],
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


def page() -> None:
    """What the newest forecast says otherwise than an earlier one."""
    runs = data.runs("forecast") if data.exists() else None
    if runs is None or len(runs) < 2:
        st.info(
            "There is only one forecast so far. Add a batch and forecast again: what moves is listed here."
        )
        return
    made = {
        str(row["run_id"]): f"made {row['made_at']:%-d %b %Y, %H:%M}, data version {row['data_version']}"
        for row in runs.to_dict("records")
    }
    ids = list(made)
    left, right = st.columns(2)
    with left:
        after = address.pick(st.selectbox, "This forecast", ids[:-1], "after", words=made.__getitem__)
    with right:
        earlier = ids[ids.index(after) + 1 :]
        before = address.pick(st.selectbox, "against this one", earlier, "before", words=made.__getitem__)
    changes = changes_between(data.forecast(before), data.forecast(after))
    vehicle = address.chosen(address.VEHICLE)
    changes = changes if vehicle == ALL else changes[changes["vehicle"] == vehicle]
    sooner, later = (changes["what"] == "sooner").sum(), (changes["what"] == "later").sum()
    if changes.empty:
        st.success("Nothing moved by more than a tenth.")
        return
    st.markdown(
        f"Sooner at the limit than thought: **{sooner}** wear points, later: **{later}**. The miles run "
        "in between are taken off."
    )
    units = address.units()
    shown = changes.assign(**{name: units.miles(changes[name]).round(-1) for name in FIGURES})
    heads = {name: f"{word} [{units.distance}]" if name in FIGURES else word for name, word in WORDS.items()}
    picked = show.table(
        shown,
        "what-moved",
        words=heads,
        alt_text="Wear points whose forecast moved, sooner first",
        pick="moved-table",
    )
    if picked is not None:
        address.go("views/point.py", point=str(changes["point"].iloc[picked]))
