"""The parts of the page that says what will stop us first."""

from functools import partial

import pandas as pd
import streamlit as st

from dashboard.pictures.drawing import Drawing, to_svg
from dashboard.pictures.places import drawings, miles_label
from dashboard.screen import address, data, show
from dashboard.screen.components import Picked, gear, month, past, ranked
from dashboard.screen.in_view import InView, forecast_button, person
from dashboard.sections import fit, wear_list
from dashboard.sections.alarms import alarm_table
from dashboard.services.kept_plans import first_lines
from dashboard.services.plan_state import run_in_force, with_state
from dashboard.words.checks_text import inspection_head, inspection_reasons
from dashboard.words.gear_places import place_from
from dashboard.words.records import as_records
from models.checks.findings_frame import OUT

FIRST_SHOWN = 12


def outdated(view: InView) -> None:
    """Whether the data have changed since the forecast that is looked at, and the way to a new one."""
    made_from, newest = data.run_version(view.run_id), data.version()
    if made_from >= newest or view.run_id != data.runs("forecast")["run_id"].iloc[0]:
        return
    since = f"it was made from batch {made_from}, now there is {newest}"
    st.info(f"The data have changed since this forecast: {since}.", icon=":material/update:")
    if person().may("add") or person().may("plan"):
        forecast_button("Forecast again")


def answer(view: InView, beyond: pd.DataFrame, ahead: pd.DataFrame) -> None:
    """The answer in one sentence."""
    if len(beyond):
        are = "wear points are past their" if len(beyond) > 1 else "wear point is past its"
        st.error(
            f"**{len(beyond)} {are} limit,** by the last reading or more likely than not by the forecast. "
            "Measure again before the vehicle runs.",
            icon=":material/block:",
        )
    if len(ahead):
        first = ahead.iloc[0]
        what, where, vehicle = (
            show.plain(text)
            for text in (f"{first['component']}, {first['quantity']}", first["position"], first["vehicle"])
        )
        st.markdown(
            f"Next comes **{what}** at **{where}** of {vehicle}: 1 time in 20 it is at its limit "
            f"{_soon(view, first['miles_p05'], first['date_p05'])}, 5 times in 10 "
            f"{_soon(view, first['miles_p50'], first['date_p50'])}."
        )


def alarms_of_view(view: InView) -> None:
    """What the forecast found wrong: gauges, changed rates, odd readings."""
    alarms = data.alarms(view.run_id)
    if view.vehicle and len(alarms):
        alarms = alarms[alarms["vehicle"] == view.vehicle]
    opened(alarm_table(alarms, view.units, "alarms"))


def _soon(view: InView, miles: float, date: pd.Timestamp) -> str:
    """``after 3,400 mi (May 2027)``, or ``now``."""
    if miles <= 0:
        return "**now**"
    return f"after **{view.units.distance_text(miles)}** ({month(date) or 'no date'})"


def first_of(points: pd.DataFrame, key: str, order: str) -> tuple[pd.DataFrame, str]:
    """The first of a list, all of it if wanted, and what that is."""
    everything = len(points) <= FIRST_SHOWN or st.toggle("Show all", key=f"all-{key}")
    shown = points if everything else points.head(FIRST_SHOWN)
    return shown, f"{len(shown)} of {len(points)} wear points, {order}."


def beyond_list(view: InView, points: pd.DataFrame, lines: pd.DataFrame | None) -> None:
    """What has passed its limit, most certain first; ``lines`` as :func:`plan_lines` gives them."""
    if points.empty:
        return
    st.subheader(f"Past the limit: {len(points)}")
    order = points.sort_values("p_beyond_now", ascending=False)
    shown, caption = first_of(order, "past", "most certain first")
    _follow(past(shown, view.units, caption=caption, key="past", planned=_plan_words(lines)), lines)
    wear_list.downloads(order, view.units, "past-the-limit")


def overdue(view: InView) -> None:
    """Inspections that are overdue, and since when."""
    if fit.too_many(view) and not view.vehicle:
        return
    due = fit.made(view, "due")
    late = due[due["overdue_since"].notna()]
    if late.empty:
        return
    count = "1 inspection is" if len(late) == 1 else f"{len(late)} inspections are"
    st.error(f"**{count} overdue.** The governing rules say what may run.", icon=":material/block:")
    lines = [fit.line(inspection_head(row, ""), inspection_reasons(row)) for row in as_records(late)]
    st.markdown("\n".join(lines))


def past_by_checks(view: InView, points: pd.DataFrame) -> None:
    """What checks across wear points find past a limit, beside the wear points that are named as past it."""
    if fit.too_many(view) and not view.vehicle:
        return
    findings = fit.made(view, "findings")
    findings = findings[findings["verdict"].isin(OUT)]
    named = set(points["point"])
    more = findings[[not set(str(text).split(", ")) <= named for text in findings["points"]]]
    if more.empty:
        return
    st.subheader(f"Past a limit by the checks: {len(more)}")
    st.markdown("\n".join(fit.finding_line(row, fit.usual(view)) for row in as_records(more)))
    st.page_link(
        "views/fit.py", label="All checks", icon=":material/join_inner:", query_params=address.link()
    )


def ahead_list(view: InView, points: pd.DataFrame, lines: pd.DataFrame | None) -> None:
    """What comes next, soonest first; ``lines`` as :func:`plan_lines` gives them."""
    st.subheader("Next to reach their limit")
    shown, caption = first_of(points, "next", "soonest first")
    picked = ranked(
        shown, view.units, caption=caption, key="next", with_vehicle=True, planned=_plan_words(lines)
    )
    _follow(picked, lines)
    wear_list.downloads(points, view.units, "next-to-the-limit")


def _svg_bytes(drawn: Drawing) -> bytes:
    return to_svg(drawn).encode()


@st.fragment
def running_gear(view: InView) -> None:
    """The drawing, and the wear points of the place that was picked on it."""
    pictures = drawings(view.forecast, view.vehicles, miles_label(view.units))
    if not pictures:
        return
    picked = gear(pictures, key="gear")
    with st.container(horizontal=True, gap="small"):
        for name, drawn in pictures.items():
            stem = "-".join(filter(None, ("running-gear", *name))).replace("/", "-")
            word = f"SVG of {show.plain(', '.join(filter(None, name)))}"
            show.download(word, partial(_svg_bytes, drawn), f"{stem}.svg", "image/svg+xml")
    st.caption(
        "Miles until 1 in 20 reach the limit, for the first wear point at each place. "
        "Pick a place to see all of them."
    )
    if picked is None:
        return
    vehicle, place = picked
    rows = view.forecast[(view.forecast["vehicle"] == vehicle) & (view.forecast["place"] == place)]
    rows = rows.sort_values("miles_p05", na_position="first")
    st.subheader(show.plain(f"{vehicle}, {place_from(place).words}"))
    caption = f"{len(rows)} wear points at this place."
    opened(ranked(rows, view.units, caption=caption, key="at-place").opened)
    wear_list.downloads(rows, view.units, f"{vehicle}-{place}".replace("/", "-"))


def without_forecast(view: InView) -> None:
    """What cannot be told, and why."""
    untold = view.forecast[view.forecast["miles_p50"].isna()]
    if untold.empty:
        return
    st.subheader(f"Cannot be told: {len(untold)}")
    reasons = untold.groupby("flags", dropna=False).size().sort_values(ascending=False)
    for reason, count in reasons.items():
        st.markdown(f"- {count}: {show.plain(reason)}")
    words = {
        "vehicle": "Vehicle",
        "component": "Component",
        "position": "Position",
        "quantity": "Quantity",
        "flags": "Why",
    }
    if st.toggle("Which they are", key="untold-table"):
        show.table(untold, "cannot-be-told", words=words, alt_text="Wear points without a forecast")


def plan_lines(view: InView) -> pd.DataFrame | None:
    """The first line for each wear point in the plan that holds for its vehicle; None where none does."""
    states = with_state(data.runs("plan"), data.decisions("plan"))
    lines = []
    for vehicle in view.forecast["vehicle"].unique():
        run = run_in_force(states, str(vehicle))
        if run is not None:
            first = first_lines(data.frame(run, "scope")).assign(plan=run)
            lines.append(first[first["vehicle"] == vehicle])
    return pd.concat(lines) if lines else None


def _plan_words(lines: pd.DataFrame | None) -> dict[str, str] | None:
    """``Nov 2026: renewed``, by wear point."""
    if lines is None:
        return None
    return dict(zip(lines.index, lines["label"] + ": " + lines["action"], strict=True))


def _follow(picked: Picked, lines: pd.DataFrame | None) -> None:
    """Go where was chosen: to the wear point, or to the window of its line in the plan."""
    opened(picked.opened)
    if picked.planned and lines is not None and picked.planned in lines.index:
        line = lines.loc[picked.planned]
        chosen = {"plan": line["plan"], "engine": line["vehicle"], "window": line["window"]}
        address.go("views/window.py", **{name: str(value) for name, value in chosen.items()})


def opened(point: str | None) -> None:
    if point:
        address.go("views/point.py", point=point)
