"""One wear point."""

import numpy as np
import pandas as pd
import streamlit as st

from dashboard import charts, data, show, state, wear_story
from dashboard.components import month
from dashboard.drawing import LOOKS
from dashboard.here import Here, heading, here
from models.distribution import PROBABILITIES

EVENTS = {
    "date": "Date",
    "odometer": "Odometer",
    "what": "What",
    "value": "Value",
    "expected": "Expected (8 in 10)",
    "verdict": "Remark",
}


def page() -> None:
    now = here()
    if now is None:
        heading("One wear point")
        return
    row = chosen_point(now)
    st.title(show.plain(f"{row.component} – {row.quantity}"))
    st.markdown(show.plain(f"{row.vehicle}, {row.position} · as of {row.as_of:%-d %B %Y}"))
    point = data.table("wear_points", data.run_version(now.run_id)).set_index("point").loc[row.point]
    answer(now, row)
    check = data.frame_of_point(now.run_id, "reading_check", row.point)
    work = data.work_of_point(row.point, data.run_version(now.run_id))
    path = data.frame_of_point(now.run_id, "path", row.point)
    left, right = st.columns([3, 2])
    with left:
        st.subheader("Readings and what they say")
        picture = wear_story.picture(point, path, check, work, now.units)
        show.chart(charts.wear(picture), f"wear-{row.point}", alt_text=said(row, now))
        st.caption(
            "Dots: readings; crosses: odd ones, which count less. Line: the fitted wear, dashed where it is carried "
            "on. Band: 8 of 10 cases. "
        )
    with right:
        st.subheader("Miles left")
        remaining(now, row)
    limit(now, point)
    st.subheader("Its lives and events")
    show.table(
        wear_story.events(check, work, row.unit, now.units),
        f"events-{row.point}",
        words=EVENTS,
        alt_text="Readings and work of this wear point, newest first",
    )


def chosen_point(now: Here) -> pd.Series:
    """The wear point in the address, or the first to reach its limit; one can be chosen here too."""
    order = now.forecast.sort_values("miles_p05").set_index("point", drop=False)
    wanted = state.chosen(state.POINT)
    names = {
        p: f"{v}, {pos} – {c}, {q}"
        for p, v, pos, c, q in order[["point", "vehicle", "position", "component", "quantity"]].itertuples(
            index=False
        )
    }
    picked = state.pick(
        st.selectbox,
        "Wear point",
        list(names),
        state.POINT,
        default=wanted if wanted in names else None,
        words=names.__getitem__,
    )
    return order.loc[picked]


def said(row: pd.Series, now: Here) -> str:
    """The picture in one sentence."""
    return (
        f"{row.readings_used} readings of {row.quantity}, the last {now.units.text(row.last_value, row.unit)}; "
        f"the condemning limit is {now.units.text(row.condemning_limit, row.unit)}."
    )


def answer(now: Here, row: pd.Series) -> None:
    """State, miles and dates at a glance."""
    if pd.isna(row.miles_p50):
        st.warning(f"How far it will run cannot be told: {show.plain(row['flags'])}.", icon=":material/help:")
        return
    if row.state == "past":
        st.error(
            "It has more likely than not passed its limit already. Measure again before the next run.",
            icon=":material/block:",
        )
    cells = st.columns(4)
    cells[0].metric(
        "Last reading",
        now.units.text(row.last_value, row.unit),
        f"{row.last_date:%-d %b %Y}",
        delta_color="off",
        delta_arrow="off",
    )
    cells[1].metric(
        "1 in 20 at the limit within",
        now.units.distance_text(row.miles_p05),
        month(row.date_p05) or None,
        delta_color="off",
        delta_arrow="off",
    )
    cells[2].metric(
        "Half at the limit within",
        now.units.distance_text(row.miles_p50),
        month(row.date_p50) or None,
        delta_color="off",
        delta_arrow="off",
    )
    cells[3].metric("How soon", LOOKS[row.state].word, None)
    if row["flags"]:
        st.info(show.plain(row["flags"]), icon=":material/info:")


def remaining(now: Here, row: pd.Series) -> None:
    """The distribution of the remaining miles, as cases out of a hundred."""
    stored = data.frame_of_point(now.run_id, "distribution", row.point)
    if stored.empty:
        st.markdown("Nothing can be told yet.")
        return
    quantiles = np.asarray(stored["remaining"].iloc[0], float)
    marks = pd.DataFrame(
        {
            "distance": [now.units.miles(row.miles_p05), now.units.miles(row.miles_p50)],
            "cases": [5.0, 50.0],
            "name": [
                f"5 of 100: {now.units.distance_text(row.miles_p05)}",
                f"50 of 100: {now.units.distance_text(row.miles_p50)}",
            ],
        }
    )
    shown = np.asarray(PROBABILITIES) <= 0.99
    title = f"{now.units.distance} from {now.units.odometer_text(row.as_of_odometer)} on the odometer"
    show.chart(
        charts.remaining(now.units.miles(quantiles)[shown], PROBABILITIES[shown], title, marks),
        f"miles-left-{row.point}",
        alt_text=f"5 of 100 such cases reach the limit within "
        f"{now.units.distance_text(row.miles_p05)}, 50 within {now.units.distance_text(row.miles_p50)}.",
    )


def limit(now: Here, point: pd.Series) -> None:
    """The limit, where it comes from, and what a new part measures."""
    own, per = str(point["unit"]), float(point["per_base"])
    parts = [
        f"**{word}** {show.plain(now.units.text(float(point[column]) * per, own))}"
        for column, word in (
            ("condemning_limit", "Condemning limit"),
            ("shop_limit", "shop limit"),
            ("new_value", "new part"),
        )
        if pd.notna(point[column])
    ]
    when = "may not run at this value" if point["condemned_when"] == "at" else "may not run beyond this value"
    source = show.plain(point["limit_source"] or "not stated: ask whoever set it")
    st.markdown(f"{' · '.join(parts)} ({when}). Source of the limit: {source}.")


page()
