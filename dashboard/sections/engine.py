"""Taking a reading at the engine: pick a place, a wear point, type what the gauge shows."""

import pandas as pd
import streamlit as st

from dashboard.pictures.gear_places import place_from
from dashboard.pictures.places import drawings, miles_label
from dashboard.screen import data, show
from dashboard.screen.components import gear
from dashboard.screen.in_view import InView
from dashboard.screen.sitting import add_reading
from dashboard.sections import at_engine
from ingest.verdicts.remeasure import Z_90

SAYS = {
    "past": (st.error, "**Past the condemning limit.** It may not run."),
    "shop": (st.warning, "**Within the condemning limit, past the shop limit.**"),
    "within": (st.success, "**In limits.**"),
    "unknown": (st.info, "No limit is on record for this wear point."),
}


@st.fragment
def measuring(view: InView) -> None:
    """Pick a place, then a wear point, type what the gauge shows, and see at once what it means."""
    vehicle = _vehicle([str(name) for name in view.vehicles["vehicle"]])
    forecast = view.forecast[view.forecast["vehicle"] == vehicle]
    pictures = drawings(forecast, view.vehicles[view.vehicles["vehicle"] == vehicle], miles_label(view.units))
    picked = gear(pictures, key=f"engine-gear-{vehicle}")
    if picked is None:
        st.markdown("**1.** Pick the place on the drawing.")
        rows = forecast[forecast["place"] == ""]
        if rows.empty or not st.toggle("It is not on the drawing", key="engine-undrawn"):
            return
    else:
        rows = forecast[forecast["place"] == picked[1]]
        st.subheader(show.plain(f"{picked[0]}, {place_from(picked[1]).words}"))
    order = rows.sort_values("component").to_dict("records")
    names = {str(row["point"]): f"{row['component']}, {row['quantity']}" for row in order}
    chosen = st.selectbox(
        "What do you measure?", list(names), format_func=names.__getitem__, key="engine-point"
    )
    if chosen:
        reading(view, rows[rows["point"] == chosen].iloc[0])


def _vehicle(names: list[str]) -> str:
    """The engine stood at: a telephone shows one at a time."""
    if len(names) < 2:
        return names[0]
    picked = st.segmented_control(
        "Engine", names, default=names[0], required=True, key="engine-vehicle", format_func=show.plain
    )
    return picked or names[0]


def reading(view: InView, row: pd.Series) -> None:
    """One wear point: what is expected, what was read, what that means."""
    version = data.run_version(view.run_id)
    point = data.table("wear_points", version).set_index("point").loc[[row["point"]]].iloc[0]
    path = data.frame_of_point(view.run_id, "path", str(row["point"]))
    own = str(point["unit"])
    odometer = st.number_input(
        f"Odometer [{view.units.distance}]",
        value=None,
        min_value=0.0,
        step=1.0,
        key="engine-odometer",
        placeholder=f"{view.units.miles(row['as_of_odometer']):,.0f} at the end of the log",
    )
    if odometer is None and pd.Timestamp.now() > row["as_of"] + pd.Timedelta(days=1):
        st.caption(
            f"The mileage log ends on {row['as_of']:%-d %B %Y}. Without the odometer this reading is held "
            "back until the log goes further."
        )
    miles = float(row["as_of_odometer"]) if odometer is None else odometer / view.units.miles(1.0)
    expected = at_engine.expected_at(path, miles, point)
    if expected:
        figures = (row["last_value"], *(expected[0] + k * Z_90 * expected[1] for k in (-1, 1)))
        last, low, high = (show.plain(view.units.text(float(figure), own)) for figure in figures)
        st.markdown(f"Last {last}. Expected now: {low} to {high} in 8 of 10 cases.")
    text = st.text_input(
        f"Reading, as the gauge shows it [{view.units.unit(own)}]",
        key=f"engine-value-{row['point']}",
        placeholder="1 3/8, 88/64, 12 thou, 34.9 mm",
        autocomplete="off",
    )
    if text.strip():
        said(
            view,
            point,
            at_engine.judge(text, point, expected, unit=view.units.unit(own)),
            text,
            odometer,
            row,
        )


def said(
    view: InView,
    point: pd.Series,
    judged: at_engine.Judged,
    text: str,
    odometer: float | None,
    row: pd.Series,
) -> None:
    """The verdict, and the button that keeps the reading."""
    own = str(point["unit"])
    if judged.value is None:
        st.error(f"This cannot be read: {show.plain(judged.problem)}.")
        return
    show_as, words = SAYS[judged.limit]
    value, limit = (show.plain(view.units.text(v, own)) for v in (judged.value, row["condemning_limit"]))
    show_as(f"{value}: {words}" + ("" if pd.isna(row["condemning_limit"]) else f" The limit is {limit}."))
    if judged.again:
        st.warning(
            "**Measure again.** This is far from what was expected. Take it a second time; if both agree, "
            "keep both."
        )
    elif judged.expected:
        off = abs(judged.value - judged.expected[0]) > Z_90 * judged.expected[1]
        st.markdown("A little off what was expected." if off else "As expected.")
    if st.button("Keep this reading", type="primary", key="engine-keep"):
        add_reading(row, text, view.units.unit(own), odometer, view.units.distance)
        st.rerun()
