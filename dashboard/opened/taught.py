"""What openings taught: forecasts against what was found, and how often hidden defects come."""

import numpy as np
import pandas as pd
import streamlit as st

from dashboard.opened import readings, scope
from dashboard.opened.choosing import Opening
from dashboard.screen import data, show
from models.frequency import times_in

OPENINGS = {
    "opening": "Opening",
    "measured": "Measured",
    "held": "As forecast, 8 times in 10",
    "share": "Share",
}
KINDS = {
    "kind": "What",
    "measured": "Measured",
    "held": "As forecast",
    "more": "More worn",
    "less": "Less worn",
}
WORDS = {
    "heat": "after a hot bearing",
    "lubricant": "after a change of lubricant",
    "years": "for each doubling of the years between openings",
}


def page(opening: Opening) -> None:
    """This opening by component, all that were scored, and what findings say of hidden defects."""
    _this_one(opening)
    _all_scored()
    _hidden(opening)


def _this_one(opening: Opening) -> None:
    rows = readings.found(opening)
    told = rows[rows["p50"].notna()]
    if told.empty:
        st.info("Nothing that was measured in this opening had been forecast.")
        return
    points = data.table("wear_points").set_index("point").loc[told["point"]]
    grows = np.sign((points["condemning_limit"] - points["new_value"]).to_numpy(float))
    outside = ~told["held"].astype(bool).to_numpy()
    worse = grows * (told["found"] - told["p50"]).to_numpy(float) > 0
    kinds = told.assign(
        kind=told["component"] + ", " + told["quantity"],
        inside=~outside,
        more=outside & worse,
        less=outside & ~worse,
    )
    listed = kinds.groupby("kind", sort=True).agg(
        measured=("inside", "size"), held=("inside", "sum"), more=("more", "sum"), less=("less", "sum")
    )
    st.subheader("Forecast against as found")
    st.caption("More worn, less worn: outside the range that was to hold 8 of 10, on that side.")
    show.table(listed.reset_index(), "taught", words=KINDS, alt_text="As found against forecast by dimension")


def _all_scored() -> None:
    """All openings of the newest track record."""
    runs = data.runs("score")
    rows = data.frame_if_any(str(runs["run_id"].iloc[0]), "openings") if len(runs) else pd.DataFrame()
    if rows.empty:
        st.caption("The track record (*How good were our forecasts?*) holds no opening yet: score again.")
        return
    listed = rows.groupby("opening", sort=False)["held"].agg(["size", "sum"])
    listed = listed.rename(columns={"size": "measured", "sum": "held"}).reset_index()
    share = listed["held"].astype(float) / listed["measured"]
    listed["share"] = [times_in(value) for value in share]
    st.subheader("All openings of the track record")
    show.table(listed, "taught-openings", words=OPENINGS, alt_text="Openings of the track record")


def _hidden(opening: Opening) -> None:
    """What the findings say of the odds of a hidden defect."""
    st.subheader("Hidden defects")
    with show.problems():
        effects = scope.now(opening).effects
        told = effects[effects["told"]]
        if told.empty:
            st.markdown(
                "Heat, lubrication and years between openings: the findings do not tell yet. Each needs "
                "tear-downs on both sides of it. Until then a component's own findings decide."
            )
        for row in told.to_dict("records"):
            st.markdown(
                f"- {WORDS[row['circumstance']]}: the odds of a defect times {row['odds']:.1f} "
                f"({row['low']:.1f} to {row['high']:.1f}, 8 times in 10)"
            )
        st.caption("The contingency of an opening is drawn with these odds, by what befell that engine.")
