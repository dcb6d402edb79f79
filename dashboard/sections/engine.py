"""Taking a reading at the engine: pick a place, a wear point, type what the gauge shows."""

from datetime import UTC, datetime

import pandas as pd
import streamlit as st

from dashboard.pictures.gear_places import place_from
from dashboard.pictures.places import drawings, miles_label
from dashboard.screen import address, data, show
from dashboard.screen.components import gear
from dashboard.screen.in_view import InView
from dashboard.screen.sitting import add_reading
from dashboard.sections import at_engine
from dashboard.sections.odometer import Instrument, instrument_of
from ingest.verdicts.remeasure import Z_90

KEEP = "engine-keep"
SAYS = {
    "implausible": (
        st.error,
        "**This cannot be right.** It is far outside what this point can be: is it the right place, unit and "
        "decimal point? Saved, it is held back.",
    ),
    "past": (st.error, "**Past the condemning limit.** It may not run."),
    "shop": (st.warning, "**Within the condemning limit, past the shop limit.**"),
    "within": (st.success, "**In limits.**"),
    "unknown": (st.info, "No limit is on record for this wear point."),
}


ENGINE_AT, WIDGET = "engine-at", "engine-vehicle"
"""Where the engine that people stand at is kept while they look at other pages, and its widget."""


def engine_at(view: InView) -> str:
    """The engine that people stand at, in large type. It stays: in the address, and for the session.

    Readings are typed for what stands here, so it is never changed but by whoever picks another.
    """
    names = [str(name) for name in view.vehicles["vehicle"]]
    asked = address.chosen(address.ENGINE) or str(st.session_state.get(ENGINE_AT, ""))
    vehicle = asked if asked in names else names[0]
    _stay_at(vehicle)
    if len(names) > 1:
        st.session_state[WIDGET] = vehicle
        st.segmented_control(
            "Engine",
            names,
            required=True,
            key=WIDGET,
            format_func=show.plain,
            on_change=lambda: _stay_at(str(st.session_state[WIDGET])),
        )
    st.header(show.plain(f"Readings of {vehicle}"))
    return vehicle


def _stay_at(vehicle: str) -> None:
    st.session_state[ENGINE_AT] = vehicle
    address.choose(address.ENGINE, vehicle)


@st.fragment
def measuring(view: InView, vehicle: str) -> None:
    """Pick a place, then a wear point, type what the gauge shows, and see at once what it means."""
    forecast = view.forecast[view.forecast["vehicle"] == vehicle]
    pictures = drawings(forecast, view.vehicles[view.vehicles["vehicle"] == vehicle], miles_label(view.units))
    picked = gear(pictures, key=f"engine-gear-{vehicle}")
    if picked is None:
        st.markdown("**1.** Pick the place on the drawing.")
        rows = forecast[forecast["place"] == ""]
        if rows.empty or not st.toggle("It is not on the drawing", key="engine-undrawn"):
            return
        st.subheader(show.plain(vehicle))
    else:
        rows = forecast[forecast["place"] == picked[1]]
        st.subheader(show.plain(f"{vehicle}: {place_from(picked[1]).words}"))
    order = rows.sort_values("component").to_dict("records")
    names = {str(row["point"]): f"{row['component']}, {row['quantity']}" for row in order}
    chosen = st.selectbox(
        "What do you measure?", list(names), format_func=names.__getitem__, key=f"engine-point-{vehicle}"
    )
    if chosen:
        reading(view, rows[rows["point"] == chosen].iloc[0])


def reading(view: InView, row: pd.Series) -> None:
    """One wear point: what is expected, what was read, what that means."""
    version = data.run_version(view.run_id)
    point = data.table("wear_points", version).set_index("point").loc[[row["point"]]].iloc[0]
    path = data.frame_of_point(view.run_id, "path", str(row["point"]))
    own, vehicle = str(point["unit"]), str(row["vehicle"])
    its = instrument_of(vehicle, datetime.now(UTC).date())
    figure = st.number_input(
        its.label, value=None, min_value=0.0, step=1.0, key=f"engine-odometer-{vehicle}", placeholder=its.last
    )
    _about_odometer(its, figure)
    miles = its.miles(figure)
    expected = at_engine.expected_at(path, float(row["as_of_odometer"]) if pd.isna(miles) else miles, point)
    if expected:
        figures = (row["last_value"], *(expected[0] + k * Z_90 * expected[1] for k in (-1, 1)))
        last, low, high = (show.plain(view.units.text(float(value), own)) for value in figures)
        st.markdown(f"Last {last}. Expected now: {low} to {high} 8 times in 10.")
    unit = view.units.unit(own)
    text = st.text_input(
        f"Reading, as the gauge shows it [{unit}]",
        key=f"engine-value-{row['point']}",
        placeholder="1 3/8, 88/64, 12 thou, 34.9 mm",
        autocomplete="off",
    )
    if text.strip():
        said(view, row, at_engine.judge(text, point, expected, unit=unit))
        if st.session_state.get(KEEP):
            add_reading(row, text, unit, figure, its.unit)
            st.rerun()


def _about_odometer(its: Instrument, figure: float | None) -> None:
    """The last entry of the instrument, what is taken without a figure, and what speaks against one."""
    st.caption(f"Its last entry in the log: {show.plain(its.last)}.")
    doubt = its.doubt(figure)
    if doubt:
        st.warning(f"This will be held back: {show.plain(doubt)}.")
    elif figure is None and its.is_after_the_log:
        st.caption(
            "Left empty, the reading has the odometer of the last entry, the engine having stood since."
        )


def said(view: InView, row: pd.Series, judged: at_engine.Judged) -> None:
    """The verdict, and the button that keeps the reading."""
    own = str(row["unit"])
    if judged.value is None:
        st.error(f"This cannot be read: {show.plain(judged.problem)}.")
        return
    show_as, words = SAYS[judged.limit]
    if judged.again and judged.limit == "within":
        show_as = st.info  # what nobody expected is not told in green
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
    st.button("Keep this reading", type="primary", key=KEEP)
