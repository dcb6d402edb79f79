"""Who is at the screen, and which forecast of which vehicle is looked at: the start of every page."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

import pandas as pd
import streamlit as st

from dashboard.screen import access, address, data, show
from dashboard.words.units_shown import Units
from dashboard.words.walking import with_place
from ingest.store.store import this_user

ALL = ""


@dataclass(frozen=True)
class InView:
    """What a page shows.

    Attributes
    ----------
    run_id : the forecast looked at.
    vehicle : the vehicle looked at; empty for all.
    forecast : its rows of that forecast, with ``state``, ``date_p05`` and ``place``.
    vehicles : the vehicles concerned.
    """

    run_id: str
    vehicle: str
    forecast: pd.DataFrame
    vehicles: pd.DataFrame
    units: Units

    @property
    def as_of(self) -> pd.Timestamp:
        """The last as-of date of the vehicle looked at, of all where none is."""
        own = self.forecast["vehicle"] == self.vehicle
        return pd.Timestamp(self.forecast.loc[own | (self.vehicle == ALL), "as_of"].max())


def person() -> access.Person:
    """Who is at the screen. Pages are reached only by those who may look, so this always answers."""
    roles = access.roles_in_use()
    if roles is None:
        return access.Person(this_user(), "all")
    found = roles.person(st.user.to_dict(), datetime.now(UTC))
    return found if isinstance(found, access.Person) else access.Person("donor", "")


def in_view() -> InView | None:
    """What the address asks for; None where there is no forecast yet."""
    run_id = run_in_view()
    if run_id is None:
        return None
    made = data.forecast(run_id)
    vehicles = data.table("vehicles", data.run_version(run_id))
    made = with_place(made)
    vehicle = address.chosen(address.VEHICLE)
    if vehicle in set(made["vehicle"]):
        made, vehicles = made[made["vehicle"] == vehicle], vehicles[vehicles["vehicle"] == vehicle]
    else:
        vehicle = ALL
    return InView(run_id, vehicle, made, vehicles, address.units())


def run_in_view() -> str | None:
    """The forecast chosen in the address, or the newest; None if there is none."""
    runs = data.runs("forecast") if data.exists() else pd.DataFrame()
    if runs.empty:
        return None
    wanted = address.chosen(address.RUN)
    return wanted if wanted in set(runs["run_id"]) else str(runs["run_id"].iloc[0])


def nothing_yet() -> None:
    """An empty store: what to do first, and the way there."""
    who = person()
    points = len(data.table("wear_points")) if data.exists() else 0
    if points and (who.may("plan") or who.may("add")):
        st.info(f"{points:,} wear points are on record, but no forecast has been made yet.")
        forecast_button("Make the first forecast")
        return
    st.info(
        "There are no wear points yet. Three things are needed first: the **vehicles**, their **wear "
        "points** with limits, and the **mileage** log. Then come **readings** and **work** done. "
        "CSV, XLSX or ODS, in any order, all at once."
    )
    if who.may("add"):
        st.page_link("views/batch.py", label="Add the first files", icon=":material/upload_file:")
    st.caption("To look around with an invented railway first, type *milesleft demo* in a terminal.")


def forecast_button(label: str, then: Callable[[], None] | None = None) -> None:
    """Make a forecast from the data as they are now, and look at it."""
    if st.button(label, type="primary"):
        from dashboard.services.forecasting import (
            run_forecast,  # the models take a second to import: only when asked
        )

        with st.spinner("Forecasting …"):
            run_forecast(data.store())
        address.choose(address.RUN, None)
        if then is not None:
            then()
        st.rerun()


def look_back() -> None:
    """A forecast as it would have been made on an earlier day, from what was measured until then."""
    runs = data.runs("forecast")
    if runs.empty or not (person().may("add") or person().may("plan")):
        return
    last = pd.to_datetime(runs["as_of"].iloc[0], errors="coerce")
    today = pd.Timestamp.now().normalize()
    shown = None if pd.isna(last) else min(last, today).date()  # a clock set back must close no page
    with st.popover("Look back in time", width="stretch"):
        day = st.date_input("As of", shown, key="look-back", max_value="today")
        if st.button("Forecast as of this day", disabled=day is None) and day is not None:
            from dashboard.services.forecasting import run_forecast

            with st.spinner("Forecasting …"):
                made = run_forecast(data.store(), pd.Timestamp(day))
            address.choose(address.RUN, made)
            st.rerun()


def heading(question: str, view: InView | None = None) -> None:
    """The question of the page, the vehicle and the day of the answer."""
    st.title(question)
    if view is None or pd.isna(view.as_of):
        return
    who = view.vehicle or "all vehicles"
    st.markdown(f"{show.plain(who)} · as of {view.as_of:%-d %B %Y}")
