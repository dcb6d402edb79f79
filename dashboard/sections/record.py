"""The parts of the track record's page."""

import json

import pandas as pd
import streamlit as st

from dashboard.pictures import charts_record
from dashboard.screen import data, show
from dashboard.words.units_shown import Units, without_base

FAMILIES = {
    "family": "Family",
    "in_words": "Verdict",
    "crps_ratio": "Error, straight line = 1",
    "cover": "Of 100, in the range for 80",
    "outcomes": "Readings scored",
    "lives": "Lives",
}
WORSE = "no better than the straight line"
"""The verdict that people are warned of."""
QUANTITIES = {
    "quantity": "Quantity",
    "crps_ratio": "Error, straight line = 1",
    "cover_50": "Of 100, in the range for 50",
    "cover_80": "Of 100, in the range for 80",
    "cover_90": "Of 100, in the range for 90",
    "outcomes": "Readings scored",
    "lives": "Lives",
}
OPENED = {
    "opening": "Opening",
    "since": "First day",
    "point": "Wear point",
    "found": "Found",
    "p10": "Forecast, low",
    "p50": "Forecast, middle",
    "p90": "Forecast, high",
    "within": "In the range for 80",
}
TOGETHER = {
    "what": "Quantity",
    "forecaster": "Forecaster",
    "percent": "Counts for, %",
    "points": "Wear points",
}
VERDICTS = {
    "too sure: its ranges hold too little": "too sure",
    "beats the straight line": "better than ruler",
    WORSE: "no better than ruler",
    "too few to tell": "too few to tell",
}
STRETCHED = {
    "family": "Family",
    "lives": "Lives",
    "factor": "Widened by",
    "cover_80_before": "Of 100 before",
    "cover_80_after": "Of 100 after",
}


def own_rows(run_id: str, frame: str) -> pd.DataFrame:
    """Rows of our own forecaster on the next readings."""
    rows = data.frame(run_id, frame)
    return rows[(rows["forecaster"] == own_name(run_id)) & (rows["kind"] == "readings")]


def own_name(run_id: str) -> str:
    """What the score calls our own forecaster."""
    runs = data.runs("score")
    about = json.loads(runs.loc[runs["run_id"] == run_id, "about"].iloc[0])
    return str(about["own"])


def answer(run_id: str) -> None:
    """The record in two sentences."""
    row = own_rows(run_id, "overall").iloc[0]
    scored = round(row["outcomes"] * row["answered"])
    st.markdown(
        f"From past days, knowing only what was known then, **{scored:,} later readings** were forecast. "
        f"Of 100, **{100 * row['cover_80']:.0f}** fell into the range that was to hold 80. "
        f"The errors were **{row['crps_ratio']:.2f}** times those of a straight line through the readings."
    )
    families = own_rows(run_id, "by_family")
    counts = families["verdict"].value_counts()
    worse = int(counts.get(WORSE, 0))
    if worse:
        st.warning(
            f"In {worse} of {len(families)} families the forecast was no better than a straight line "
            "drawn with ruler and pencil. They are named below: trust it there no more than the ruler."
        )


def pictures(run_id: str) -> None:
    """Promises kept, rivals, and where the readings fell."""
    own = own_rows(run_id, "overall").iloc[0]
    left, right = st.columns(2)
    with left:
        st.subheader("Were the ranges honest?")
        cover = pd.DataFrame({"promised": [50, 80, 90]})
        cover["held"] = [100 * own[f"cover_{level}"] for level in cover["promised"]]
        said = "; ".join(f"{h:.0f} of 100 where {p} were promised" for p, h in cover.to_numpy())
        show.chart(show.drawn(charts_record.kept_promises, cover), "promises-kept", alt_text=said)
        st.caption("Mark: what was promised. Bar: what came.")
    with right:
        st.subheader("Better than ruler and pencil?")
        rows = data.frame(run_id, "overall").query("kind == 'readings'").dropna(subset=["crps_ratio"])
        ratios = pd.DataFrame({"forecaster": rows["forecaster"], "ratio": rows["crps_ratio"]})
        ratios["own"] = ratios["forecaster"].str.startswith(own_name(run_id))
        said = "; ".join(f"{row['forecaster']} {row['ratio']:.2f}" for row in ratios.to_dict("records"))
        show.chart(show.drawn(charts_record.against_the_line, ratios), "against-the-line", alt_text=said)
    st.subheader("Where in the range did the readings fall?")
    pit = data.frame(run_id, "pit")
    pit = pit[(pit["family"] == "all") & (pit["forecaster"] == own_name(run_id))]
    said = "; ".join(f"tenth {row['bin'] + 1}: {100 * row['share']:.0f}" for row in pit.to_dict("records"))
    show.chart(
        show.drawn(charts_record.where_they_fell, pit),
        "where-they-fell",
        alt_text=f"Readings of 100 by tenth: {said}",
    )
    st.caption("Level at ten: honest. Heaped at both ends: the ranges were too narrow. Leaning: biased.")


def quantities(run_id: str) -> None:
    """How often the ranges held what was read, by what is measured."""
    rows = data.frame_if_any(run_id, "by_quantity")
    if rows.empty:
        return
    st.subheader("By what is measured")
    rows = rows[(rows["forecaster"] == own_name(run_id)) & (rows["kind"] == "readings")]
    for name in ("cover_50", "cover_80", "cover_90"):
        rows = rows.assign(**{name: (100 * rows[name]).round()})
    rows = rows.assign(crps_ratio=rows["crps_ratio"].round(2)).sort_values("cover_80")
    rows["quantity"] = rows["quantity"].map(without_base)
    show.table(
        rows,
        "record-by-quantity",
        words=QUANTITIES,
        alt_text="How often the ranges held what was read, by what is measured, the least first",
        formats={QUANTITIES["crps_ratio"]: st.column_config.NumberColumn(format="%.2f")},
    )


def together(forecast_run: str) -> None:
    """Which forecasters make today's forecast, and how much each counts."""
    st.subheader("Who makes the forecast")
    rows = data.frame_if_any(forecast_run, "combined")
    if rows.empty:
        st.markdown(
            "The wear model alone: it has enough lives to learn from, and no record speaks against it."
        )
        return
    points = data.forecast(forecast_run)[["point", "component", "quantity"]]
    rows = rows.merge(points, on="point")
    rows = rows.assign(percent=(100 * rows["weight"]).round(), what=rows["quantity"])
    rows = rows.groupby(["what", "forecaster", "percent"], as_index=False).agg(points=("point", "size"))
    st.markdown(
        "Where few lives are known, another forecaster counts beside the wear model. How much, the past "
        "readings of this store decide. Everywhere else the wear model counts alone."
    )
    show.table(rows, "who-counts", words=TOGETHER, alt_text="How much each forecaster counts")


def opened(run_id: str, units: Units) -> None:
    """As found at the last openings, against the forecast of the day before."""
    rows = data.frame_if_any(run_id, "openings")
    if rows.empty:
        return
    st.subheader("As found when opened")
    held = int(rows["held"].sum())
    st.markdown(
        f"Of {len(rows)} measurements at openings, **{held}** lay in the range that was to hold 80 of 100."
    )
    rows = rows.assign(within=rows["held"].map({True: "yes", False: "no"}))
    own = [str(unit) for unit in rows["unit"]]
    for name in ("found", "p10", "p50", "p90"):
        rows[name] = [units.text(value, unit) for value, unit in zip(rows[name], own, strict=True)]
    show.table(
        rows, "as-found", words=OPENED, alt_text="As found against forecast, by opening and wear point"
    )


def families(run_id: str) -> None:
    """Family by family, worst first, and whose ranges the record widens."""
    st.subheader("Family by family")
    rows = own_rows(run_id, "by_family")
    rows = rows.assign(cover=(100 * rows["cover_80"]).round(), in_words=rows["verdict"].replace(VERDICTS))
    rows = rows.assign(crps_ratio=rows["crps_ratio"].round(2)).sort_values("crps_ratio", ascending=False)
    show.table(
        rows,
        "record-by-family",
        words=FAMILIES,
        alt_text="Track record of each family, worst first",
        formats={FAMILIES["crps_ratio"]: st.column_config.NumberColumn(format="%.2f")},
    )
    factors = data.frame(run_id, "recalibration")
    proven = factors[factors["factor"] != 1.0]
    if proven.empty:
        st.markdown("No family's range is proven to be off, so none is widened.")
        return
    st.subheader("Ranges widened by what the record taught")
    for name in ("cover_80_before", "cover_80_after"):
        proven = proven.assign(**{name: (100 * proven[name]).round()})
    proven = proven.assign(factor=proven["factor"].round(2))
    show.table(proven, "stretched", words=STRETCHED, alt_text="Families whose ranges are widened")
