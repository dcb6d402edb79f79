"""The parts of the page of parts: the spares rack, what is fitted where, and forms that tell what moved."""

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from dashboard.screen.in_view import person
from dashboard.sections import taking_in
from dashboard.services.kept_plans import runs_in_force
from dashboard.shop.parts_told import (
    Parts,
    fitted_at,
    fitting_rows,
    parts_on_record,
    places_of,
    swap_rows,
)
from dashboard.words.parts_text import CAUTION, UNKNOWN_BEFORE, WEIGHED, ran_words, stint_words
from dashboard.words.units_shown import Units
from ingest.catalogue import kind_of_part
from ingest.catalogue.belongs import kinds_with_places
from models.lives.parts_run import FITTED, NEVER, RACK

REPORT = "parts-report"
WHY = {"while open": "because it lay open", "worn": "worn", "age": "by age", "accident": "after an accident"}


@st.cache_data(show_spinner="Looking …", max_entries=8)
def _made(identity: tuple[str, int], version: int, run: str, plans: str) -> Parts:  # noqa: ARG001
    return parts_on_record(data.store())


def parts() -> Parts:
    """Parts as they are told now, beside the newest forecast."""
    runs = data.runs("forecast")
    plans = ",".join(runs_in_force(data.store()))
    return _made(data.identity(), data.version(), "" if runs.empty else str(runs["run_id"].iloc[0]), plans)


def rack(told: Parts, units: Units) -> None:
    """What is not fitted, with the miles left in it."""
    st.subheader("Spares rack")
    rows = told.now[told.now["where"].isin([RACK, NEVER])].merge(
        told.left, on="part_no", suffixes=("", "_at")
    )
    if rows.empty:
        st.markdown("It is empty, as far as fittings tell.")
        return
    _told(
        {
            "Part": rows["part_no"].tolist(),
            "What": rows["component"].tolist(),
            f"Run [{units.distance}]": [ran_words(row, units) for row in rows.to_dict("records")],
            f"1 in 20 [{units.distance}]": _miles(rows["miles_p05"], units),
            f"Half [{units.distance}]": _miles(rows["miles_p50"], units),
            "If fitted at": (rows["vehicle_at"] + " " + rows["position_at"]).str.strip().tolist(),
            "Last reading": [
                "" if pd.isna(value) else f"{quantity} {units.text(value, str(unit))}, {day:%-d %b %Y}"
                for value, quantity, unit, day in zip(
                    rows["last_value"], rows["quantity"], rows["unit"], rows["last_date"], strict=True
                )
            ],
            "Remark": rows["why"].tolist(),
            "Wheels do not agree at": rows["apart"].tolist(),
            "The plan fits it": rows["planned"].tolist(),
        },
        "spares-rack",
        alt_text="Parts that are not fitted",
    )
    st.caption(
        "1 in 20: of 20 such parts one is at its limit by then. Half: as many sooner as later. "
        f"{UNKNOWN_BEFORE} A part that has run nothing is told as new, at the place that ends first. "
        f"{WEIGHED} {CAUTION}"
    )


def _miles(miles: pd.Series, units: Units) -> list[str]:
    """Miles left in spares, to the hundred."""
    return ["" if pd.isna(each) else f"{each:,.0f}" for each in units.miles(miles).round(-2)]


def _told(columns: Mapping[str, Sequence[str]], name: str, *, alt_text: str) -> None:
    """A table of texts with its downloads; columns in which nothing stands are left out."""
    frame = pd.DataFrame(columns)
    frame = frame.loc[:, (frame != "").any()]
    show.words_table(
        [str(name) for name in frame], frame.to_numpy().tolist(), alt_text=alt_text, words=len(frame.columns)
    )
    show.downloads(frame, name)


def fitted(told: Parts, units: Units) -> None:
    """What is fitted where, and what each part ran."""
    rows = told.now[told.now["where"] == FITTED]
    if rows.empty:
        return
    st.subheader("Fitted")
    _told(
        {
            "Part": rows["part_no"].tolist(),
            "What": rows["component"].tolist(),
            "Vehicle": rows["vehicle"].tolist(),
            "Position": rows["position"].tolist(),
            "Since": ["" if pd.isna(day) else f"{day:%-d %b %Y}" for day in rows["since"]],
            f"Run [{units.distance}]": [ran_words(row, units) for row in rows.to_dict("records")],
            "Places so far": rows["places"].astype(str).tolist(),
        },
        "parts-fitted",
        alt_text="Parts that are fitted",
    )
    with st.expander("Where they were"):
        for part, own in told.stints.groupby("part_no", sort=True):
            lines = "\n".join(f"- {show.plain(stint_words(row, units))}" for row in own.to_dict("records"))
            st.markdown(f"**{show.plain(part)}**\n\n{lines}")


def tell_swap() -> None:
    """Two parts were exchanged, of one engine or of two: a form."""
    with st.expander("Two parts were exchanged"):
        points = data.table("wear_points")
        kinds = {kind: places_of(points, kind) for kind in kinds_with_places()}
        kinds = {kind: places for kind, places in kinds.items() if len(places) > 1}
        if not kinds:
            st.markdown("Nothing is measured here that goes with a part.")
            return
        kind = str(st.selectbox("What was exchanged", list(kinds), key="swap-kind"))
        vehicle = str(
            st.selectbox("Vehicle", list(dict.fromkeys(v for v, _ in kinds[kind])), key="swap-vehicle")
        )
        places = [place for name, place in kinds[kind] if name == vehicle]
        others = {place: (vehicle, place) for place in places}
        others |= {f"{name} {place}": (name, place) for name, place in kinds[kind] if name != vehicle}
        with st.form("swap"):
            one = st.selectbox("One place", places, key="swap-one")
            other = st.selectbox("The other place", list(others), index=1, key="swap-other")
            day = st.date_input("On", "today", key="swap-day", max_value="today")
            if st.form_submit_button("Save", type="primary") and isinstance(day, date):
                with show.problems():
                    store, on = data.store(), pd.Timestamp(day)
                    _take_in(swap_rows(store, kind, ((vehicle, str(one)), others[str(other)]), on))


def tell_fitting(told: Parts) -> None:
    """A spare was fitted: a form."""
    spares = told.now[told.now["where"].isin([RACK, NEVER])]
    if spares.empty:
        return
    with st.expander("A spare was fitted"):
        part = str(st.selectbox("Part", spares["part_no"].tolist(), key="fit-part"))
        kind = str(spares.set_index("part_no").loc[part, "component"])
        places = places_of(data.table("wear_points"), kind_of_part(kind)[0])
        if not places:
            st.markdown(show.plain(f"No wear point goes with a part called '{kind}'."))
            return
        with st.form("fit"):
            at = st.selectbox("Fitted at", places, format_func=" ".join, key="fit-at")
            day = st.date_input("On", "today", key="fit-day", max_value="today")
            why = st.selectbox("Why the one that was there came off", list(WHY), format_func=WHY.__getitem__)
            kept = st.checkbox("It lies on the spares rack now", value=True)
            if st.form_submit_button("Save", type="primary") and isinstance(day, date) and at:
                with show.problems():
                    on = pd.Timestamp(day)
                    _take_in(fitting_rows(data.store(), part, *at, on, why=str(why), kept=kept))


def _take_in(sheets: Mapping[str, pd.DataFrame]) -> None:
    """The rows go the way of every file."""
    moment = datetime.now(UTC)
    files = [
        taking_in.Made(f"{name}-{moment:%Y%m%d-%H%M%S}.csv", rows.to_csv(index=False).encode())
        for name, rows in sheets.items()
    ]
    st.session_state[REPORT] = taking_in.take_in(files, person().name)
    st.rerun()


def stints_of(point: pd.Series) -> pd.DataFrame:
    """Where the part that a wear point shows was, the newest first; nothing where no part is named."""
    if data.table("parts").empty:
        return pd.DataFrame()
    cells = (str(point[name]) for name in ("vehicle", "component", "position", "quantity"))
    return fitted_at(parts(), *cells)


def readings_elsewhere(point: pd.Series, check: pd.DataFrame, stored: pd.DataFrame) -> pd.DataFrame | None:
    """Readings of the part that a wear point shows, taken at the places where it was before; None where no
    part is named here.

    Parameters
    ----------
    check : of the forecast's reading_check, what it took for the readings of the part.
    stored : readings of the wear point itself.
    """
    if "row_id" not in check or stints_of(point).empty:
        return None
    missing = set(check["row_id"]) - set(stored["row_id"])
    every = data.table("readings")
    return every[every["row_id"].isin(missing)].reset_index(drop=True)


def of_point(point: pd.Series, units: Units) -> None:
    """Which part a wear point shows, and where it was before."""
    stints = stints_of(point)
    if stints.empty:
        return
    now, *before = stints.to_dict("records")
    since = "" if pd.isna(now["since"]) else f" since {now['since']:%-d %b %Y}"
    line = f"**Part {show.plain(now['part_no'])}** is fitted here{since}; its wear goes with it."
    if before:
        line += " Before: " + "; ".join(show.plain(stint_words(row, units)) for row in before) + "."
    st.markdown(line)
